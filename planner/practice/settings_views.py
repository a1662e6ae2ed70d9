"""Pages of the settings: each with value, unit, source, who set it and from when; their history; what costs come to."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.practice import drafts, proposals
from planner.practice.access import Act, Thing, load, may, require
from planner.practice.book_forms import LEGAL_KEYS, TAX_KEYS, LegalForm, WhenAndWhyForm
from planner.practice.changing import Part, base_of, change
from planner.practice.fields import AmountField, PlainForm, day_words
from planner.practice.histories import Held, histories
from planner.practice.models import LegalProposal
from planner.practice.part_forms import LimitForm, ValuesForm, number_field, whole_field
from planner.practice.requests import actor_of, posted
from planner.rules.book import OfficeBook
from planner.rules.cents import half_up
from planner.rules.fee_sheet import FeeSheet, fee_sheet, usual_minutes
from planner.rules.fees import operating_cost_per_hour
from planner.rules.office_law import TEXT_SETTINGS
from planner.rules.office_settings import GROUPS, office_settings, space_limits, value_words
from planner.trail.errors import Refused

GROUP_WORDS = {
    "money": _("Estimates, deposit and instalments"),
    "rates": _("What an hour and a tooth cost"),
    "time": _("Time"),
    "consent": _("Consent, figures and numbering"),
}


@dataclass(frozen=True, slots=True)
class Shown:
    """One setting as the page shows it."""

    name: str
    means: str
    part: str
    value: str
    unit: str
    source: str
    certainty: str
    held: Held | None
    """Who set it when; None where it is as it came."""
    versions: int


def settings(request: HttpRequest) -> HttpResponse:
    """Every setting: those of one value, those with legal weight, and the limits of sharing the space."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.BOOK)
    _last, book, day = base_of(actor)
    limits = [limit.name for limit in space_limits()]
    names = [*office_settings(), *(f"office_limits.{name}" for name in limits)]
    held = histories(actor.office, names)
    context = {
        "groups": [
            (group, words, [_value(name, book, held) for name in GROUPS[group]]) for group, words in GROUP_WORDS.items()
        ],
        "limits": [_limit(limit, book, held) for limit in space_limits()],
        "legal": [(label, rows, _UNSET.get(key, "")) for key, label, rows in _dated(book)],
        "day": day,
        "proposals": [(_legal_words().get(one.key, one.key), one) for one in proposals.open_proposals(actor.office)],
        "may_edit": may(actor, Act.EDIT, Thing.BOOK),
        "may_set": may(actor, Act.APPROVE, Thing.LEGAL) and may(actor, Act.EDIT, Thing.BOOK),
        "may_propose": may(actor, Act.CREATE, Thing.LEGAL) and not may(actor, Act.APPROVE, Thing.LEGAL),
        "may_limit": may(actor, Act.APPROVE, Thing.LOCKS) and may(actor, Act.EDIT, Thing.BOOK),
    }
    return render(request, "practice/settings.html", context)


def _value(name: str, book: OfficeBook, held: dict[str, tuple[Held, ...]]) -> Shown:
    setting, value = office_settings()[name], getattr(book, name)
    own = value != OfficeBook.model_fields[name].default
    unit = (
        book.currency
        if setting.unit == "money"
        else ""
        if setting.unit in ("choice", "services", "yes or no", "count")
        else setting.unit
    )
    return Shown(
        name,
        setting.means,
        "",
        value_words(name, value),
        unit,
        _now("the office's own") if own else setting.source,
        "office" if own else setting.certainty,
        held[name][-1] if held[name] else None,
        len(held[name]),
    )


def _limit(limit: Any, book: OfficeBook, held: dict[str, tuple[Held, ...]]) -> Shown:
    own = book.office_limits.get(limit.name)
    past = held[f"office_limits.{limit.name}"]
    return Shown(
        limit.name,
        limit.means,
        limit.part,
        limit.words(limit.shipped if own is None else own),
        limit.unit_words,
        limit.source
        if own is None
        else _now("the office's own; it comes as %(value)s") % {"value": limit.words(limit.shipped)},
        limit.certainty if own is None else "office",
        past[-1] if own is not None or len(past) > 1 else None,
        len(past),
    )


def _legal_words() -> dict[str, Any]:
    """What settings with legal weight and taxes are called, by their key."""
    texts = {one.key: _(one.label) for one in TEXT_SETTINGS}
    return {key: label for key, label, _hint in LEGAL_KEYS} | texts | TAX_KEYS


_UNSET = {one.key: one.unset for one in TEXT_SETTINGS}
"""What holds where a setting is not set, by its key."""


def _dated(book: OfficeBook) -> list[tuple[str, Any, list[Any]]]:
    """Settings with legal weight and taxes, each with all its values, the newest first."""

    def of(key: str) -> list[Any]:
        rows: list[Any] = [one for one in book.legal if one.key == key]
        rows += [one for one in book.tax_rates if one.tax_class == key]
        return sorted(rows, key=lambda one: one.effective, reverse=True)

    return [(key, label, of(key)) for key, label in _legal_words().items()]


def history(request: HttpRequest, name: str) -> HttpResponse:
    """Every value one setting has had."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.BOOK)
    limit = next((limit for limit in space_limits() if limit.name == name), None)
    if limit is None and name not in office_settings():
        raise Http404
    full = name if limit is None else f"office_limits.{name}"
    context = {
        "means": office_settings()[name].means if limit is None else limit.means,
        "part": "" if limit is None else limit.part,
        "held": [(held, _stored_words(held.value)) for held in reversed(histories(actor.office, [full])[full])],
    }
    return render(request, "practice/history.html", context)


def _stored_words(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "; ".join(value) if isinstance(value, list) else "" if value is None else str(value)


def values(request: HttpRequest, group: str) -> HttpResponse:
    """Change the settings of one group."""
    actor = actor_of(request)
    require(actor, Act.EDIT, Thing.BOOK)
    if group not in GROUPS:
        raise Http404
    last, book, day = base_of(actor)
    form = ValuesForm(posted(request), names=GROUPS[group], book=book)
    earliest = max(day, last.effective)
    part = Part(
        template="practice/values.html",
        form=form,
        build=lambda _effective, _reason: drafts.checked(book, **form.values()),
        changes=lambda new: drafts.value_changes(GROUPS[group], book, new),
        begins=lambda effective: effective,
        earliest=earliest,
        hint=_now("Today or later; the earliest day is %(day)s.") % {"day": day_words(earliest)},
        done=_now("The settings are stored."),
        after="practice:settings",
    )
    return change(request, actor, last, part, title=GROUP_WORDS[group], lead="")


def limit(request: HttpRequest) -> HttpResponse:
    """Set one limit of sharing the space otherwise than it comes, or give it back; ``?name=`` chooses it."""
    actor = actor_of(request)
    require(actor, Act.EDIT, Thing.BOOK)
    require(actor, Act.APPROVE, Thing.LOCKS)
    last, book, day = base_of(actor)
    form = LimitForm(posted(request), initial={"name": request.GET.get("name", "")})
    earliest = max(day, last.effective)
    part = Part(
        template="practice/values.html",
        form=form,
        build=lambda _effective, _reason: drafts.checked(book, office_limits=form.changed(book.office_limits)),
        changes=lambda new: drafts.limit_changes(book, new),
        begins=lambda effective: effective,
        earliest=earliest,
        hint=_now("Today or later; the earliest day is %(day)s.") % {"day": day_words(earliest)},
        done=_now("The limit is stored."),
        after="practice:settings",
    )
    lead = _now(
        "Limits decide what is drawn and offered, never what is right for a mouth: loosen one only on good ground."
    )
    return change(request, actor, last, part, title=_now("A limit of sharing the space"), lead=lead)


def propose(request: HttpRequest) -> HttpResponse:
    """Ask the owner dentist to set something with legal weight."""
    actor = actor_of(request)
    require(actor, Act.CREATE, Thing.LEGAL)
    last, _book, day = base_of(actor)
    form = LegalForm(posted(request))
    when = WhenAndWhyForm(posted(request), earliest=day, initial={"effective": day, "seen": last.number})
    if request.method == "POST" and all([form.is_valid(), when.is_valid()]):
        data = form.cleaned_data | when.cleaned_data
        try:
            proposals.propose(
                key=data["key"],
                value=data["value"].strip(),
                effective=data["effective"],
                reason=data["reason"],
                actor=actor,
                now=timezone.now(),
            )
            return redirect("practice:settings")
        except Refused as refusal:
            when.refuse(refusal.field, refusal.sentence)
    return render(request, "practice/propose.html", {"form": form, "when": when})


class AnswerForm(PlainForm):
    """Why a proposal is declined, or what is to be said of it."""

    reason = forms.CharField(label=_("Reason"), max_length=500, required=False, help_text=_("Needed to decline."))


def proposal(request: HttpRequest, public_id: str) -> HttpResponse:
    """Set or decline what was proposed."""
    actor, now = actor_of(request), timezone.now()
    rows = LegalProposal.objects.select_related("asked_by")
    asked = load(rows, public_id, actor=actor, act=Act.APPROVE, thing=Thing.LEGAL, now=now)
    form = AnswerForm(posted(request))
    if request.method == "POST" and form.is_valid():
        agrees = request.POST.get("action") == "set"
        try:
            proposals.answer(proposal=asked, agrees=agrees, reason=form.cleaned_data["reason"], actor=actor, now=now)
            return redirect("practice:settings")
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
    _last, book, _day = base_of(actor)
    before = book.legal_on(asked.key, asked.effective)
    context = {"asked": asked, "form": form, "label": _legal_words().get(asked.key, asked.key), "before": before}
    return render(request, "practice/proposal.html", context)


# ---------------------------------------------------------------- from cost to fee


class HourForm(PlainForm):
    """What a chair hour costs to run, from a year's figures."""

    yearly = AmountField(
        label=_("Running costs of a year"), help_text=_("Without laboratory, materials and pay of who treats.")
    )
    chairs = whole_field(label=_("Chairs"), min_value=1)
    weeks = whole_field(label=_("Weeks"), min_value=1)
    hours = whole_field(label=_("Hours a week, each chair"), min_value=1)
    used = number_field(label=_("Of these worked, percent"), min_value=1)

    def cents(self) -> int:
        """Cents of one productive chair hour."""
        data = self.cleaned_data
        return half_up(
            operating_cost_per_hour(data["yearly"], data["chairs"], data["weeks"], data["hours"], data["used"])
        )


class WorkForm(PlainForm):
    """Some work, to be reckoned from its cost."""

    dentist = whole_field(label=_("Minutes of the dentist"), min_value=0)
    hygiene = whole_field(label=_("Minutes of hygiene"), min_value=0, required=False)
    assistant = whole_field(label=_("Minutes of an assistant alone"), min_value=0, required=False)
    teeth = whole_field(label=_("Teeth"), min_value=0)
    visits = whole_field(label=_("Visits"), min_value=0)
    lab = AmountField(label=_("Laboratory"), required=False)
    listed = AmountField(label=_("What the price list says"), required=False)

    def sheet(self, book: OfficeBook) -> FeeSheet:
        """The fee sheet. Raises LookupError or ValueError with a sentence."""
        data = self.cleaned_data
        return fee_sheet(
            book,
            (("dentist", data["dentist"]), ("hygiene", data["hygiene"] or 0), ("assistant", data["assistant"] or 0)),
            teeth=data["teeth"],
            visits=data["visits"],
            lab_cents=data["lab"] or 0,
            list_cents=data["listed"],
        )


def costs(request: HttpRequest) -> HttpResponse:
    """From cost to fee: chair rates, cost, margin on the fee beside mark-up, and what the list fee leaves."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.BOOK)
    _last, book, day = base_of(actor)
    asked = request.GET
    hour = HourForm(asked if "yearly" in asked else None)
    work = WorkForm(asked if "dentist" in asked else None, initial=_three_teeth(book, day))
    context: dict[str, Any] = {"book": book, "hour": hour, "work": work, "rates": _rates(book), "fault": ""}
    if hour.is_bound and hour.is_valid():
        context["hour_cents"] = hour.cents()
    if work.is_bound and work.is_valid():
        try:
            context["sheet"] = work.sheet(book)
        except (LookupError, ValueError) as error:
            context["fault"] = str(error.args[0])
    return render(request, "practice/costs.html", context)


def _three_teeth(book: OfficeBook, day: date) -> dict[str, Any]:
    """An example to begin with: three bonded teeth by the office's own minutes."""
    return {"dentist": usual_minutes(book, 3) or None, "teeth": 3, "visits": 1}


def _rates(book: OfficeBook) -> list[tuple[Any, int | None]]:
    found: list[tuple[Any, int | None]] = []
    for payee, words in (("dentist", _("Dentist")), ("hygiene", _("Hygiene")), ("assistant", _("Assistant alone"))):
        try:
            found.append((words, book.chair_rate(payee)))  # type: ignore[arg-type]
        except LookupError:
            found.append((words, None))
    return found
