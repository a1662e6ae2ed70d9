"""Pages of what visits really took: seconds of steps, amounts of materials, and taking a proposal into the book."""

from dataclasses import dataclass, replace
from fractions import Fraction

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import act_on, last_words
from planner.practice.catalogue import in_force
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of, posted
from planner.practice.stock import shown
from planner.rules.cents import half_up
from planner.visits.amounts import OwnUse, adopt_use, own_steps, own_uses


class AdoptUseForm(PlainForm):
    """Why the proposed amounts are taken into the book."""

    seen = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=300)


@dataclass(frozen=True, slots=True)
class ShownUse:
    """One material as its line says it."""

    key: str
    words: str
    unit: str
    count: int
    planned: str
    used: str
    own: str
    proposed: str
    says: str
    adopts: bool


def took(request: HttpRequest) -> HttpResponse:
    """What steps took and what of materials was used, beside what was planned."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.TIMINGS)
    book = books.read_book(books.latest_version(actor.office).data)
    context = {
        "uses": [_shown(one) for one in own_uses(actor.office, book)],
        "steps": [(_treatment(one.step), one) for one in own_steps(actor.office, now)],
        "may_adopt": may(actor, Act.EDIT, Thing.BOOK),
    }
    return render(request, "visits/took.html", context)


def adopt(request: HttpRequest, key: str) -> HttpResponse:
    """Take what is proposed for one material into the office book."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.EDIT, Thing.BOOK)
    last = books.latest_version(actor.office)
    found = own_uses(actor.office, books.read_book(last.data))
    use = next((one for one in found if one.material.key == key and one.may_be_adopted), None)
    if use is None and request.method == "POST":
        messages.error(request, _("What was used stands in the book already. %(who)s") % {"who": last_words(last)})
        return redirect("visits:took")
    if use is None:
        raise Http404
    form = AdoptUseForm(posted(request), initial={"seen": last.number})
    effective = max(books.today(actor.office, now), last.effective)
    outcome = act_on(form, lambda data: adopt_use(use=use, effective=effective, actor=actor, now=now, **data))
    if outcome.done:
        said = {"number": outcome.made.number}
        messages.success(request, _("The amounts stand in version %(number)s of the office book.") % said)
        return redirect("visits:took")
    if outcome.changed:
        outcome = replace(outcome, by=last_words(books.latest_version(actor.office)))
    row = use.material
    rows = zip(
        (_("a tooth"), _("a visit"), _("an arch")), (row.per_tooth, row.per_visit, row.per_arch), use.next, strict=True
    )
    context = {"one": _shown(use), "form": form, "outcome": outcome, "amounts": [each for each in rows if each[1]]}
    return render(request, "visits/took_adopt.html", context)


def _treatment(step: str) -> str:
    """The name of the treatment that a step belongs to."""
    key = step.partition(".")[0]
    part = in_force().catalogue.treatments.get(key)
    return key if part is None else part.name


def _shown(use: OwnUse) -> ShownUse:
    found, row = use.proposal, use.material
    return ShownUse(
        row.key,
        row.words,
        row.unit,
        found.count if found is not None else 0,
        shown(use.planned),
        shown(use.used),
        _times(found.own) if found is not None else "",
        _times(found.proposed) if found is not None else "",
        _says(use),
        use.may_be_adopted,
    )


def _times(exact: Fraction) -> str:
    """A ratio with two decimals, half-up."""
    whole, rest = divmod(half_up(exact * 100), 100)
    return f"{whole}.{rest:02d}"


def _says(use: OwnUse) -> str:
    found = use.proposal
    if found is None:
        return _("%(n)d in the book already") % {"n": use.in_book} if use.in_book else _("no visit counts yet")
    parts = []
    if use.material.by_geometry:
        parts.append(_("follows from millimetres: change the allowance for waste instead"))
    elif not use.may_be_adopted:
        parts.append(_("too small a change to write down"))
    if found.capped:
        parts.append(_("%(n)d counted as twice the forecast") % {"n": found.capped})
    if found.disturbed:
        parts.append(_("%(n)d disturbed, kept and not used") % {"n": found.disturbed})
    if use.in_book:
        parts.append(_("%(n)d in the book already") % {"n": use.in_book})
    return "; ".join(parts)
