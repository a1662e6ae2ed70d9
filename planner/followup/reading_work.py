"""What became of the office's own work, tooth by tooth: from items that are done, repairs and reviews."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from django.db.models import Max, Q, QuerySet

from planner.followup.review_models import Review, ReviewTooth
from planner.plans.accepted_models import AcceptedPlan, Follows, Item
from planner.plans.models import FrozenPlan
from planner.practice.books import latest_version, read_book
from planner.practice.models import Office, Staff
from planner.rules.item_states import ItemState
from planner.rules.own_work import OwnTooth
from planner.rules.promise import Condition
from planner.rules.visit_states import VisitState
from planner.visits.models import Visit

_Key = tuple[int, str]
"""A plan and the key of a tooth."""


@dataclass
class _Found:
    """What was found of one tooth of one plan."""

    chipped: set[date] = field(default_factory=set)
    mended: set[date] = field(default_factory=set)
    lost: set[date] = field(default_factory=set)


def own_teeth(
    office: Office, day: date, only: Staff | None = None, *, with_edges: bool = False
) -> tuple[OwnTooth, ...]:
    """Every tooth that was worked on, until ``day``; of ``only`` what that person checked or treated.

    How much edges were to be lengthened is read from the frozen plans where ``with_edges`` asks for it. Nine queries
    at most, however many there are.
    """
    plans = _plans(office, only)
    done, services = _done(office, plans, day)
    found: dict[_Key, _Found] = {}
    _repairs(office, done, services, found, day)
    _reviews(office, found, day)
    seen = _seen(office, day)
    lengthened = _lengthened(plans) if with_edges else {}
    teeth = [
        _tooth(key, on, patient, treatment, found.get(key, _Found()), seen, lengthened)
        for key, (on, patient, treatment) in done.items()
    ]
    return _until_the_next(teeth)


def _plans(office: Office, only: Staff | None) -> dict[int, str]:
    """Plans that are no repairs, with the public id of their patient."""
    rows: QuerySet[AcceptedPlan] = AcceptedPlan.objects.filter(office=office).exclude(follows_as=Follows.REPAIR)
    if only is not None:
        rows = rows.filter(Q(estimate__checked_by=only) | Q(visits__clinician=only)).distinct()
    return dict(rows.values_list("pk", "patient__public_id"))


def _done(
    office: Office, plans: Mapping[int, str], day: date
) -> tuple[dict[_Key, tuple[date, str, str]], dict[_Key, set[str]]]:
    """For each tooth the day on which the last of it was done, its patient and treatment; and the services done."""
    before = set(read_book(latest_version(office).data).deposit_in_full)
    rows = Item.objects.filter(office=office, state=ItemState.DONE.value, done_on__lte=day).exclude(treatment="")
    rows = rows.exclude(plan__follows_as=Follows.REPAIR).order_by("done_on", "pk")
    done: dict[_Key, tuple[date, str, str]] = {}
    services: dict[_Key, set[str]] = {}
    for plan, teeth, treatment, service, on in rows.values_list("plan", "teeth", "treatment", "service", "done_on"):
        if plan not in plans or on is None or service in before:
            continue
        for tooth in teeth:
            done[plan, tooth] = (on, plans[plan], treatment)
            services.setdefault((plan, tooth), set()).add(service)
    return done, services


def _repairs(
    office: Office,
    done: Mapping[_Key, tuple[date, str, str]],
    services: Mapping[_Key, set[str]],
    found: dict[_Key, _Found],
    day: date,
) -> None:
    """Repairs count at the work they go back to. Where the same is done again, or taken off, the work was lost."""
    rows = AcceptedPlan.objects.filter(office=office, follows_as=Follows.REPAIR)
    back = dict(rows.values_list("pk", "follows"))
    items = Item.objects.filter(plan__in=rows, office=office).exclude(state=ItemState.DROPPED.value)
    for plan, teeth, service, on, said_on in items.values_list(
        "plan", "teeth", "service", "done_on", "plan__accepted_on"
    ):
        root: int = plan
        while (before := back.get(root)) is not None:
            root = before
        when = on or said_on
        for tooth in teeth:
            key = (root, tooth)
            if key in done and when <= day:
                kept = found.setdefault(key, _Found())
                again = service == "take-off" or service in services.get(key, ())
                (kept.lost if again else kept.mended).add(when)


def _reviews(office: Office, found: dict[_Key, _Found], day: date) -> None:
    rows = ReviewTooth.objects.filter(office=office, review__corrected_by=None, review__on__lte=day)
    for plan, tooth, condition, on in rows.values_list("review__plan", "tooth", "condition", "review__on"):
        if condition == Condition.WHOLE:
            continue
        kept = found.setdefault((plan, tooth), _Found())
        {Condition.CHIPPED: kept.chipped, Condition.MENDED: kept.mended, Condition.LOST: kept.lost}[
            Condition(condition)
        ].add(on)


def _seen(office: Office, day: date) -> dict[str, date]:
    """The day on which each patient was last seen: a visit that was kept, or a review. Two queries."""
    visits = Visit.objects.filter(office=office, state=VisitState.KEPT.value).values_list("patient__public_id")
    seen = {who: at.astimezone(office.zone).date() for who, at in visits.annotate(last=Max("starts"))}
    reviews = Review.objects.filter(office=office, on__lte=day, corrected_by=None)
    for who, on in reviews.values_list("plan__patient__public_id").annotate(last=Max("on")):
        seen[who] = max(on, seen.get(who, on))
    return {who: min(on, day) for who, on in seen.items()}


def _lengthened(plans: Iterable[int]) -> dict[_Key, int]:
    """How much longer each edge was to become, tenths of a millimetre. Two queries."""
    rows = AcceptedPlan.objects.filter(pk__in=list(plans)).values_list("pk", "option_key", "frozen__sha256")
    wanted = [(plan, option, sha256) for plan, option, sha256 in rows if (sha256, option) not in _EDGES]
    frozen = FrozenPlan.objects.filter(sha256__in={sha256 for _plan, _option, sha256 in wanted})
    if len(_EDGES) > _MOST_EDGES:
        _EDGES.clear()
    for sha256, content in frozen.values_list("sha256", "content").iterator():
        for option, edges in _edges(bytes(content)).items():
            _EDGES[sha256, option] = edges
    return {
        (plan, tooth): tenths
        for plan, option, sha256 in rows
        for tooth, tenths in _EDGES.get((sha256, option), {}).items()
    }


_MOST_EDGES = 50_000
_EDGES: dict[tuple[str, str], dict[str, int]] = {}
"""By hash and option, what frozen plans say of edges: they never change, so each is read once."""


def _edges(content: bytes) -> dict[str, dict[str, int]]:
    found: dict[str, dict[str, int]] = {}
    for option in json.loads(content).get("options", ()):
        teeth = found.setdefault(option["key"], {})
        for line in option["work"]:
            if line["tooth"] and line["lengthening_tenths"]:
                teeth[line["tooth"]] = teeth.get(line["tooth"], 0) + line["lengthening_tenths"]
    return found


def _tooth(
    key: _Key,
    done_on: date,
    patient: str,
    treatment: str,
    found: _Found,
    seen: Mapping[str, date],
    lengthened: Mapping[_Key, int],
) -> OwnTooth:
    # Somebody who came to have something mended was seen that day.
    days = [done_on, *found.chipped, *found.mended, *found.lost]
    last = max(*days, seen.get(patient, done_on))
    after = [on for on in found.lost if on >= done_on]
    return OwnTooth(
        patient,
        treatment,
        key[1],
        done_on,
        last,
        lengthened.get(key, 0),
        tuple(sorted(found.chipped)),
        tuple(sorted(found.mended)),
        min(after, default=None),
    )


def _until_the_next(teeth: Iterable[OwnTooth]) -> tuple[OwnTooth, ...]:
    """Each tooth until other work took the place of this one."""
    found: list[OwnTooth] = []
    last: dict[tuple[str, str], int] = {}
    for one in sorted(teeth, key=lambda each: (each.done_on, each.patient, each.tooth)):
        key = (one.patient, one.tooth)
        if key in last:
            before = found[last[key]]
            found[last[key]] = replace(before, seen_on=min(before.seen_on, one.done_on))
        last[key] = len(found)
        found.append(one)
    return tuple(found)
