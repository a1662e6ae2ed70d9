"""Forms of the practice: signing in, people, and opening the office. They parse and convert, and never save."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, cast

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.practice.fields import DayField, PlainForm
from planner.practice.models import plain_username
from planner.practice.opening import NewPerson
from planner.practice.roles import Role

LANGUAGES = [("en", _("English")), ("es", _("Spanish"))]


def no_blanks(name: str) -> None:
    """Raise ValidationError for a sign-in name with a blank inside."""
    if any(sign.isspace() for sign in name.strip()):
        raise forms.ValidationError(
            _now("“%(name)s” has a blank inside: write a sign-in name in one piece, such as m.keller.") % {"name": name}
        )


class SignInForm(AuthenticationForm):
    """Name and password."""

    use_required_attribute = False
    error_messages = {
        "invalid_login": _(
            "This name and this password do not belong together, or the access has ended. "
            "Capitals matter in the password."
        ),
        "inactive": _("This access has ended. The office manager can say why."),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = _("Sign-in name")
        self.fields["password"].label = _("Password")


class CodeForm(PlainForm):
    """A one-time code, or one of the sheet."""

    wrong = _(
        "This code does not fit now, or was used already. Type the six digits that the app shows at this moment; "
        "after a code was taken, wait for the next."
    )
    code = forms.CharField(
        label=_("One-time code"),
        max_length=40,
        widget=forms.TextInput(
            attrs={"data-size": "mid", "autocomplete": "one-time-code", "autofocus": True, "spellcheck": "false"}
        ),
    )


class FirstPasswordForm(PlainForm):
    """A new password of one's own."""

    password = forms.CharField(
        label=_("New password"),
        strip=False,
        help_text=_("At least 12 signs, at most 200. A sentence is good; pasting from a password manager works."),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=_("New password once more"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean(self) -> dict[str, Any]:
        """The two new ones must be the same."""
        return same_twice(self, super().clean() or {})


class PasswordForm(FirstPasswordForm):
    """A new password of one's own, with the one in use."""

    field_order = ("current", "password", "again")
    current = forms.CharField(
        label=_("Password in use"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


def same_twice(form: PlainForm, data: dict[str, Any]) -> dict[str, Any]:
    """Add a fault when the password typed twice differs."""
    if data.get("password") and data.get("again") and data["password"] != data["again"]:
        form.add_error("again", _("The two new passwords differ: type the same one twice."))
    return data


# People


class PersonForm(PlainForm):
    """Somebody who works in the office."""

    full_name = forms.CharField(label=_("Full name"), max_length=200, help_text=_("As it is to be printed on papers."))
    username = forms.CharField(
        label=_("Sign-in name"),
        max_length=60,
        validators=[no_blanks],
        widget=forms.TextInput(attrs={"data-size": "mid", "autocomplete": "off"}),
    )
    roles = forms.MultipleChoiceField(label=_("Roles"), widget=forms.CheckboxSelectMultiple, choices=Role.choices)
    language = forms.ChoiceField(label=_("Language of the pages"), choices=LANGUAGES, widget=forms.RadioSelect)
    access_until = DayField(
        label=_("Last day of access"),
        required=False,
        help_text=_("An outside checker always has one; for others it may stay empty."),
    )


class RolesForm(PlainForm):
    """Which roles somebody has from now on, and why."""

    roles = forms.MultipleChoiceField(label=_("Roles"), widget=forms.CheckboxSelectMultiple, choices=Role.choices)
    access_until = DayField(
        label=_("Last day of access"),
        required=False,
        help_text=_("An outside checker always has one; for others it may stay empty."),
    )
    reason = forms.CharField(label=_("Reason"), max_length=500, help_text=_("It stays in the record."))
    seen = forms.IntegerField(widget=forms.HiddenInput)


class ReasonForm(PlainForm):
    """Why."""

    reason = forms.CharField(label=_("Reason"), max_length=500, help_text=_("It stays in the record."))
    seen = forms.IntegerField(widget=forms.HiddenInput)


# First run


class OwnerForm(PlainForm):
    """The owner dentist, who opens the office."""

    full_name = forms.CharField(
        label=_("Your full name"),
        max_length=200,
        help_text=_("As it is to be printed on papers, with your title."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    username = forms.CharField(
        label=_("Sign-in name"),
        max_length=60,
        validators=[no_blanks],
        help_text=_("Without blanks. You choose your password in the last step."),
        widget=forms.TextInput(attrs={"data-size": "mid", "autocomplete": "username"}),
    )
    language = forms.ChoiceField(
        label=_("Language of the pages"), choices=LANGUAGES, widget=forms.RadioSelect, initial="en"
    )
    also_manager = forms.BooleanField(label=_("I am the office manager as well"), required=False)

    def person(self) -> NewPerson:
        """The owner as typed."""
        data = self.cleaned_data
        roles = (Role.OWNER, Role.MANAGER) if data["also_manager"] else (Role.OWNER,)
        return NewPerson(data["full_name"], data["username"], roles, data["language"])


class StaffRowForm(PlainForm):
    """One line of the list of people; a line left empty is nobody."""

    full_name = forms.CharField(label=_("Full name"), max_length=200, required=False)
    username = forms.CharField(label=_("Sign-in name"), max_length=60, required=False, validators=[no_blanks])
    roles = forms.MultipleChoiceField(
        label=_("Roles"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        choices=[(role.value, role.label) for role in Role if role is not Role.CHECKER],
    )
    language = forms.ChoiceField(label=_("Language"), choices=LANGUAGES, initial="en", required=False)

    def clean(self) -> dict[str, Any]:
        """A line is complete or empty."""
        data = super().clean() or {}
        if self.is_nobody():
            return data
        for name, sentence in (
            ("full_name", _("Who is this? Write the full name, or leave the whole line empty.")),
            ("username", _("Write a sign-in name, or leave the whole line empty.")),
            ("roles", _("Choose at least one role, or leave the whole line empty.")),
        ):
            if not data.get(name) and name not in self.errors:
                self.add_error(name, sentence)
        return data

    def is_nobody(self) -> bool:
        """Whether nothing was written on this line."""
        return not any(self.cleaned_data.get(name) for name in ("full_name", "username", "roles"))

    def person(self) -> NewPerson:
        """The person as typed."""
        data = self.cleaned_data
        roles = tuple(Role(role) for role in data["roles"])
        return NewPerson(data["full_name"], data["username"], roles, data["language"] or "en")


if TYPE_CHECKING:
    _StaffRows = forms.BaseFormSet[StaffRowForm]
else:  # the class itself takes no type at run time
    _StaffRows = forms.BaseFormSet


class PeopleFormSet(_StaffRows):
    """Everybody else who works in the new office; ``owner`` is the sign-in name that is taken already."""

    def __init__(self, *args: Any, owner: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.owner = owner

    def clean(self) -> None:
        """Every sign-in name is there once."""
        taken = {plain_username(self.owner)}
        for form in self.forms:
            name = plain_username(form.cleaned_data.get("username") or "") if hasattr(form, "cleaned_data") else ""
            if name and name in taken:
                form.add_error("username", _now("“%(name)s” is taken already: choose another.") % {"name": name})
            taken.add(name)

    def people(self) -> list[NewPerson]:
        """The people as typed."""
        return [form.person() for form in self.forms if not form.is_nobody()]


def people_form_set(data: Any, *, most: int, owner: str) -> PeopleFormSet:
    """The list of people with four lines to begin with."""
    made = forms.formset_factory(StaffRowForm, formset=PeopleFormSet, extra=4, max_num=most, absolute_max=most)
    return cast(type[PeopleFormSet], made)(data, owner=owner)


class OpenOfficeForm(PlainForm):
    """The owner's password, and the word that the office is to be opened."""

    password = forms.CharField(
        label=_("Your password"),
        strip=False,
        help_text=_("At least 12 signs, at most 200. A sentence is good; pasting from a password manager works."),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=_("Your password once more"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean(self) -> dict[str, Any]:
        """The two must be the same."""
        return same_twice(self, super().clean() or {})


def errors_of(*forms_: forms.BaseForm) -> Iterable[str]:
    """Every sentence of several forms, for the list at the top of a page that has no single form."""
    for form in forms_:
        for name, faults in form.errors.items():
            label = "" if name == "__all__" else f"{form[name].label}: "
            yield from (f"{label}{fault}" for fault in faults)
