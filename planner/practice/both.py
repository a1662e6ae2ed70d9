"""Two editors: whoever saves second sees theirs beside yours beside what it was, and goes on with yours.

One way for every form that edits something: nothing is merged, nothing that was typed is lost, and a second press of
the button decides knowingly, against the version that is saved now.
"""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.practice.fields import PlainForm, shown_words
from planner.trail.errors import StaleEdit


def lay_side_by_side(
    form: PlainForm, theirs: PlainForm, refusal: StaleEdit, was: PlainForm | None = None
) -> dict[str, Any]:
    """What ``practice/part_both.html`` needs: rows of (field, what it was, theirs, yours) where the last two differ.

    ``theirs`` holds what is saved now, ``was`` what stood there when yours was opened, where the record still tells.
    ``form`` is made to go on from the version that is saved now.
    """
    go_on(form, refusal.version)
    names = [name for name in {**theirs.fields, **form.fields} if name != "seen" and name in theirs.fields]
    rows = [
        (
            form[name] if name in form.fields else theirs[name],
            "" if was is None else words_of(was, name),
            words_of(theirs, name),
            words_of(form, name),
        )
        for name in names
    ]
    return {
        "stale": refusal.sentence,
        "rows": [row for row in rows if row[2] != row[3]],
        "was_known": was is not None,
    }


def go_on(form: PlainForm, seen: int | str, field: str = "seen") -> None:
    """Let ``form`` go on from what its hidden ``field`` says was ``seen``, a version or whose it is, with everything
    that was typed.
    """
    data = form.data.copy()  # type: ignore[attr-defined]
    data[form.add_prefix(field)] = str(seen)
    form.data = data


def words_of(form: PlainForm, name: str) -> str:
    """What a field of ``form`` holds, in words; a dash for a field it does not have."""
    if name not in form.fields:
        return "–"
    field = form[name]
    if isinstance(field.field, forms.BooleanField):
        return str(_("yes") if field.value() else _("no"))
    return shown_words(field)
