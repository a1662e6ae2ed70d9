"""Pages to act on: booking from an accepted plan, moving, cancelling, and what became of a visit."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.letters.consent_standing import stands_against
from planner.patients.services import viewed
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepted_shown import item_words
from planner.practice.access import Act, Thing, may
from planner.practice.acting import act_on, last_words
from planner.practice.fields import PlainForm
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.rules.item_states import ItemState
from planner.rules.plan_states import OPEN_PLAN, PlanState
from planner.rules.teeth import Numbering
from planner.rules.units import format_cents
from planner.trail.errors import Refused, StaleEdit
from planner.visits import services
from planner.visits.access import load_plan, load_visit
from planner.visits.asking import booking_of
from planner.visits.forms import BookForm, CancelForm, MoveForm, SeenForm
from planner.visits.models import Visit
from planner.visits.progress import begin_work
from planner.visits.reading import PlanVisits, clinicians, plan_visits
from planner.visits.views import visit_frame


def plan(request: HttpRequest, public_id: str) -> HttpResponse:
    """The visits of an accepted plan: what is booked, and what is proposed for the rest, with the reasons for waits."""
    actor, now = actor_of(request), timezone.now()
    shown = load_plan(actor=actor, public_id=public_id, now=now)
    people = clinicians(shown.office)
    chosen = _chosen(request, people, actor)
    known = plan_visits(shown, chosen, now)
    context = {
        "plan": shown,
        "patient": shown.patient,
        "zone": shown.office.time_zone,
        "people": people,
        "chosen": chosen,
        "proposed": [(each, known.case_for(each.step.key)) for each in known.proposed],
        "visits": known.visits,
        "cases": known.cases,
        "wish_by": known.wish_by,
        "finish": max((each.slots[0].ends for each in known.proposed if each.slots), default=None),
        "may_book": may(actor, Act.CREATE, Thing.VISIT) and not shown.patient.stop_all,
        "may_order": may(actor, Act.CREATE, Thing.LABORATORY),
    } | _beginning(shown, actor, now)
    answer = render(request, "visits/plan.html", context)
    viewed(patient=shown.patient, actor=actor, now=now, reason=f"visits of plan {shown.name}")
    return answer


def _beginning(shown: AcceptedPlan, actor: Staff, now: datetime) -> dict[str, Any]:
    """What the page says about beginning: what is wanting of a consent, and whether it may be begun."""
    return {
        "consent_wanting": stands_against(shown, now) if shown.state in OPEN_PLAN else (),
        "may_begin": shown.state == PlanState.BOOKED and may(actor, Act.EDIT, Thing.ITEM),
    }


def begin(request: HttpRequest, public_id: str) -> HttpResponse:
    """Treatment begins: with a consent that holds today, and the history asked again today."""
    actor, now = actor_of(request), timezone.now()
    shown = load_plan(actor=actor, public_id=public_id, now=now)
    form = SeenForm(posted(request))
    if form.is_valid():
        try:
            begin_work(plan=shown, seen=form.cleaned_data["seen"], actor=actor, now=now)
        except Refused as refusal:
            late = isinstance(refusal, StaleEdit) or shown.version != form.cleaned_data["seen"]
            messages.error(request, f"{refusal.sentence} {last_words(shown) if late else ''}".strip())
        else:
            messages.success(request, _("Treatment has begun."))
    return redirect("visits:plan", shown.public_id)


def book(request: HttpRequest, public_id: str) -> HttpResponse:
    """Book one visit of an accepted plan."""
    actor, now = actor_of(request), timezone.now()
    shown = load_plan(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    known = plan_visits(shown, None, now)
    people = clinicians(shown.office)
    first = _first(request, known, _chosen(request, people, actor))
    form = BookForm(
        posted(request), clinicians=people, chairs=known.diary.chairs, items=_open(shown, known, None), initial=first
    )
    if form.is_valid():
        try:
            booking = booking_of(form.cleaned_data, shown, known)
            made = services.book_visit(plan=shown, booking=booking, actor=actor, now=now)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            _say_booked(request, made)
            return redirect("visits:plan", shown.public_id)
    context = {"plan": shown, "patient": shown.patient, "form": form, "waits": known.step(str(first["visit"]))}
    return render(request, "visits/book.html", context)


def move(request: HttpRequest, public_id: str) -> HttpResponse:
    """Move a visit to another time; the old one stays readable."""
    actor, now = actor_of(request), timezone.now()
    shown = load_visit(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    known, people = plan_visits(shown.plan, None, now), clinicians(shown.office)
    form = MoveForm(
        posted(request),
        clinicians=people,
        chairs=known.diary.chairs,
        items=_open(shown.plan, known, shown),
        initial=_as_booked(shown),
    )

    def save(data: dict[str, Any]) -> None:
        booking = booking_of(data, shown.plan, known, besides=shown)
        made = services.reschedule_visit(
            visit=shown,
            seen=data["seen"],
            booking=booking,
            reason=data["reason"],
            caused_by=data["caused_by"],
            actor=actor,
            now=now,
        )
        _say_booked(request, made)

    words = {"heading": _("Move this visit"), "button": _("Move it")}
    return _act(request, shown, form, save, words, now)


def cancel(request: HttpRequest, public_id: str) -> HttpResponse:
    """Cancel a visit; where that is late, say whether the office's fee is asked for."""
    actor, now = actor_of(request), timezone.now()
    shown = load_visit(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    offer = services.late_offer(shown, now)
    fee = f"{offer.words}: {format_cents(offer.cents)}" if offer else ""
    form = CancelForm(posted(request), fee=fee, initial={"seen": shown.version, "caused_by": "patient"})

    def save(data: dict[str, Any]) -> None:
        services.cancel_visit(visit=shown, actor=actor, now=now, **data)
        messages.success(request, _("The visit is cancelled; what was to be done then is to do again."))

    words = {"heading": _("Cancel this visit"), "button": _("Cancel it")}
    return _act(request, shown, form, save, words, now)


def kept(request: HttpRequest, public_id: str) -> HttpResponse:
    """The patient came."""
    words = {"heading": _("The patient came"), "button": _("Record it"), "said": _("It is recorded.")}
    return _ended(request, public_id, services.mark_kept, words)


def no_show(request: HttpRequest, public_id: str) -> HttpResponse:
    """Nobody came."""
    words = {"heading": _("Nobody came"), "button": _("Record it"), "said": _("It is recorded.")}
    return _ended(request, public_id, services.mark_no_show, words)


def _ended(request: HttpRequest, public_id: str, act: Callable[..., Visit], words: dict[str, str]) -> HttpResponse:
    actor, now = actor_of(request), timezone.now()
    shown = load_visit(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    form = SeenForm(posted(request), initial={"seen": shown.version})

    def save(data: dict[str, Any]) -> None:
        act(visit=shown, seen=data["seen"], actor=actor, now=now)
        messages.success(request, words["said"])

    return _act(request, shown, form, save, words, now)


def _act(
    request: HttpRequest, shown: Visit, form: PlainForm, save: Any, words: dict[str, str], now: Any
) -> HttpResponse:
    """Do what a valid form asks and go back to the plan's visits, or show the form with what is wrong."""
    context: dict[str, Any] = visit_frame(shown) | {"form": form} | words
    outcome = act_on(form, save, row=shown, also=lambda: list(Visit.objects.filter(follows=shown)))
    if outcome.done:
        return redirect("visits:plan", shown.plan.public_id)
    return render(request, "visits/act.html", context | {"outcome": outcome})


def _chosen(request: HttpRequest, people: tuple[Staff, ...], actor: Staff) -> Staff | None:
    """Who treats: as the address says, else whoever is signed in and treats, else the first by name."""
    asked = request.GET.get("clinician", "")
    by_id = {each.public_id: each for each in people}
    return by_id.get(asked) or by_id.get(actor.public_id) or (people[0] if people else None)


def _first(request: HttpRequest, known: PlanVisits, chosen: Staff | None) -> dict[str, Any]:
    """What the form begins with: the visit and the free time that were picked on the page before."""
    step = known.step(request.GET.get("visit", "") or request.POST.get("visit", ""))
    return {
        "visit": step.key if step else "",
        "words": step.words if step else "",
        "kind": step.kind if step else "work",
        "items": [item.public_id for item in known.items_of(step)],
        "clinician": chosen.public_id if chosen else "",
        "chair": request.GET.get("chair", "")[:40],
        "day": request.GET.get("day", "")[:20],
        "hour": request.GET.get("hour", "")[:5],
        "minutes": step.time.booked if step and step.time else "",
    }


def _as_booked(shown: Visit) -> dict[str, Any]:
    local = shown.starts.astimezone(shown.office.zone)
    return {
        "visit": shown.key,
        "words": shown.words,
        "kind": shown.kind,
        "items": [line.item.public_id for line in shown.visit_items.select_related("item")],
        "clinician": shown.clinician.public_id,
        "chair": shown.chair.name,
        "day": local.date(),
        "hour": local.time(),
        "minutes": shown.minutes,
        "seen": shown.version,
        "caused_by": "patient",
    }


def _open(plan: AcceptedPlan, known: PlanVisits, shown: Visit | None) -> list[tuple[str, str]]:
    """Items that can be given a visit, with their teeth: those to do or waiting, and those of the visit moved."""
    own = {line.item_id for line in shown.visit_items.all()} if shown else set()
    numbering = Numbering(plan.case.numbering)
    return [
        (item.public_id, item_words(item, numbering))
        for item in known.items
        if item.state in (ItemState.TO_DO, ItemState.WAITING) or item.pk in own
    ]


def _say_booked(request: HttpRequest, made: services.Booked) -> None:
    office = made.visit.office
    when = made.visit.starts.astimezone(office.zone)
    said = _("Booked for %(day)s, %(hour)s.") % {
        "day": when.strftime("%Y-%m-%d"),
        "hour": f"{when.hour}:{when.minute:02d}",
    }
    if made.plan_stays:
        said += " " + _("The plan stays accepted: %(why)s") % {"why": made.plan_stays}
    messages.success(request, said)
    if made.consent_wanting:
        words = " ".join(made.consent_wanting)
        messages.warning(request, _("Before anything is begun on that day: %(why)s") % {"why": words})
