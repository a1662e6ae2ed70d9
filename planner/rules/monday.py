"""The Monday page: what was accepted and not booked, what is owed, what runs out; ten blocks on one screen.

Each line names what it is about and the act that settles it. Everything is reckoned from plain rows and the day.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from planner.rules.figure_rows import CallRow, Ending, ItemRow, Owed, PlanRow, Repaired, ReviewDue, VisitAhead
from planner.rules.figure_words import NO_DATE, STUCK_DAYS
from planner.rules.figures import Figure, is_stuck
from planner.rules.item_states import BOOKABLE_WITHIN_DAYS, ItemState, bookable
from planner.rules.plan_states import OPEN_PLAN, PlanState
from planner.rules.units import format_cents, many

WEEK_DAYS: Final = 7
BUCKETS: Final = ((0, 7), (8, 14), (15, 30), (31, 60), (61, 90), (91, None))
"""Ages in days of what has no date, each with its first and last day."""
DEPOSIT_DAYS: Final = 7
"""A deposit is due this many days after the yes; once a visit is booked, by that visit. Common practice, no source."""
ENDS_WITHIN: Final = {
    "estimate": 14,
    "prices": 30,
    "consent": 30,
    "comes of age": 60,
    "benefit year": 45,
}
"""How many days ahead an end is told, by its kind."""

TITLES: Final = (
    ("breaking", "Breaking this week"),
    ("no-date", "Yes, but no date"),
    ("resting", "Resting too long, and stuck"),
    ("calls", "Calls and reviews due"),
    ("ending", "Running out"),
    ("deposits", "Deposits and refunds"),
    ("acceptance", "Acceptance"),
    ("value", "Value under way"),
    ("truth", "What was planned, and what came of it"),
    ("repairs", "Repairs in the year of promise"),
)
"""The ten blocks in the order of the page."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a block: about whom, what, how much, since when, and what settles it."""

    about: str
    """Key of what the act is done to: a plan, a visit, an estimate."""
    act: str
    """What settles it, by its key; the page knows the way there."""
    patient: str
    words: str
    cents: int | None = None
    days: int | None = None
    """Age, days over or days left, as ``words`` says."""
    on: date | None = None


@dataclass(frozen=True, slots=True)
class Bucket:
    """What has no date, of one span of ages."""

    words: str
    plans: int
    cents: int


@dataclass(frozen=True, slots=True)
class Block:
    """One of the ten blocks."""

    key: str
    title: str
    rows: tuple[Row, ...] = ()
    figures: tuple[Figure, ...] = ()
    buckets: tuple[Bucket, ...] = ()
    sums: tuple[tuple[str, int], ...] = ()
    """Sums in cents, each with its words."""
    notes: tuple[str, ...] = field(default=())


def _block(key: str, **content: tuple[object, ...]) -> Block:
    return Block(key, dict(TITLES)[key], **content)  # type: ignore[arg-type]


def breaking(visits: Iterable[VisitAhead], on: date) -> Block:
    """Visits of the next seven days that lack something."""
    last = on + timedelta(days=WEEK_DAYS)
    rows = [
        Row(one.key, "visit", one.patient, " ".join(one.lacks), days=(one.on - on).days, on=one.on)
        for one in sorted(visits, key=lambda one: (one.on, one.patient))
        if one.lacks and on <= one.on <= last
    ]
    return _block("breaking", rows=tuple(rows))


def bookable_since(item: ItemRow, plan: PlanRow) -> date:
    """The later of the yes and the day from which the item could be given a visit."""
    since = [plan.accepted_on]
    if item.earliest is not None:
        since.append(item.earliest - timedelta(days=BOOKABLE_WITHIN_DAYS))
    since += [day for day in (item.added_on, plan.bookable_again_on) if day is not None]
    return max(since)


def is_without_date(item: ItemRow, plan: PlanRow, on: date) -> bool:
    """Whether the item was said yes to, could be given a visit today, and has none."""
    if plan.state not in OPEN_PLAN or item.stands_still:
        return False
    if item.state == ItemState.WAITING:
        return item.earliest is not None and bookable(item.earliest, on)
    return item.state == ItemState.TO_DO and bookable(item.earliest, on)


def without_date(plans: Iterable[PlanRow], items: Iterable[ItemRow], on: date) -> Block:
    """Accepted work that could be booked today and is not: by plan the oldest first, and by age."""
    known = {plan.key: plan for plan in plans}
    open_items: dict[str, list[ItemRow]] = {}
    for item in items:
        if item.plan in known and is_without_date(item, known[item.plan], on):
            open_items.setdefault(item.plan, []).append(item)
    rows = []
    for key, found in open_items.items():
        plan = known[key]
        age = max((on - bookable_since(item, plan)).days for item in found)
        words = f"{plan.option}: {many(len(found), 'item')}"
        rows.append(Row(key, "book", plan.patient, words, sum(item.cents for item in found), age))
    rows.sort(key=lambda row: (-(row.days or 0), row.patient))
    value = sum(row.cents or 0 for row in rows)
    return _block(
        "no-date",
        rows=tuple(rows),
        buckets=tuple(_bucket(first, last, rows) for first, last in BUCKETS),
        figures=(Figure(NO_DATE, value, None, len(rows)),),
    )


def _bucket(first: int, last: int | None, rows: Sequence[Row]) -> Bucket:
    within = [row for row in rows if (row.days or 0) >= first and (last is None or (row.days or 0) <= last)]
    words = f"{first}–{last}" if last is not None else f"> {first - 1}"
    return Bucket(words, len(within), sum(row.cents or 0 for row in within))


def resting(plans: Iterable[PlanRow], on: date) -> Block:
    """Plans that rest beyond the day they were to be looked at again, and plans in which nothing happens."""
    rows = []
    for plan in plans:
        if plan.state == PlanState.RESTING and plan.look_again_on is not None and plan.look_again_on < on:
            over = (on - plan.look_again_on).days
            words = f"{plan.option}: was to be looked at again on {plan.look_again_on.isoformat()}"
            rows.append(Row(plan.key, "resume", plan.patient, words, plan.to_earn_cents, over, plan.look_again_on))
        elif is_stuck(plan, on):
            still = (on - (plan.last_event_on or plan.accepted_on)).days
            words = f"{plan.option}: {plan.state}, nothing happened for {STUCK_DAYS} days or more, no visit to come"
            rows.append(Row(plan.key, "book", plan.patient, words, plan.to_earn_cents, still))
    rows.sort(key=lambda row: (-(row.days or 0), row.patient))
    return _block("resting", rows=tuple(rows))


def calls(found: Iterable[CallRow], on: date, reviews: Iterable[ReviewDue] = ()) -> Block:
    """Calls, and reviews of finished work, that are due today or were due before."""
    rows = [
        Row(
            one.estimate,
            "call",
            one.patient,
            ("call on the day the patient named" if one.agreed else f"call {one.number} of 3")
            + (f": {one.who}" if one.who else ""),
            days=(on - one.due).days,
            on=one.due,
        )
        for one in found
        if one.due <= on
    ]
    rows += [
        Row(one.plan, "review", one.patient, f"review {one.moment}: {one.option}", days=(on - one.due).days, on=one.due)
        for one in reviews
        if one.due <= on
    ]
    rows.sort(key=lambda row: (row.on or on, row.patient))
    return _block("calls", rows=tuple(rows))


_ENDING_ACTS: Final = {
    "estimate": "estimate",
    "prices": "hold",
    "consent": "papers",
    "comes of age": "patient",
    "benefit year": "covers",
}


def ending(found: Iterable[Ending], on: date) -> Block:
    """What holds today and not much longer, the soonest first."""
    rows = []
    for one in sorted(found, key=lambda one: (one.through, one.patient)):
        if on <= one.through <= on + timedelta(days=ENDS_WITHIN[one.kind]):
            left = (one.through - on).days
            rows.append(Row(one.key, _ENDING_ACTS[one.kind], one.patient, one.words, one.cents, left, one.through))
    return _block("ending", rows=tuple(rows))


def deposit_due_on(plan: PlanRow) -> date:
    """The day by which a deposit is due: by the next visit once one is booked, else a week after the yes."""
    return plan.next_visit_on or plan.accepted_on + timedelta(days=DEPOSIT_DAYS)


def deposits(plans: Iterable[PlanRow], owed: Iterable[Owed], on: date) -> Block:
    """Deposits that are due and not paid, what is held and not earned, and refunds that are owed."""
    rows, held, due, back = [], 0, 0, 0
    for plan in plans:
        held += plan.held_cents
        if plan.deposit_due_cents and plan.state != PlanState.RESTING:
            due += plan.deposit_due_cents
            by = deposit_due_on(plan)
            late = (on - by).days
            words = f"deposit was due on {by.isoformat()}" if late > 0 else f"deposit is due by {by.isoformat()}"
            rows.append(Row(plan.key, "pay", plan.patient, words, plan.deposit_due_cents, max(late, 0), by))
    rows.sort(key=lambda row: (-(row.days or 0), row.on or on, row.patient))
    for one in sorted(owed, key=lambda one: (one.since, one.patient)):
        back += one.cents
        words = f"refund owed; {one.asked}" if one.asked else "refund owed, not asked for yet"
        rows.append(Row(one.key, "refund", one.patient, words, one.cents, (on - one.since).days, one.since))
    sums = (("due, not paid", due), ("held, not earned: owed to patients", held), ("refunds owed", back))
    return _block("deposits", rows=tuple(rows), sums=sums)


def value(plans: Sequence[PlanRow], figures: Iterable[Figure]) -> Block:
    """What is under way: agreed, earned, to earn."""
    agreed = sum(plan.agreed_cents for plan in plans)
    return _block("value", sums=(("accepted and changed since", agreed),), figures=tuple(figures))


def repairs(found: Iterable[Repaired], figures: Iterable[Figure]) -> Block:
    """Repairs of the last twelve months that came within a year of the work."""
    rows = [
        Row(one.key, "plan", one.patient, one.words, one.cents, one.days_after, one.on)
        for one in sorted(found, key=lambda one: (one.on, one.patient))
        if one.days_after <= 365
    ]
    return _block("repairs", rows=tuple(rows), figures=tuple(figures))


def acceptance(figures: Iterable[Figure], *, mature: bool, said: str) -> Block:
    """The figures of a cohort; ``said`` names it."""
    notes = [said] if mature else [said, "Not everybody has had the 90 days to answer: these figures will still grow."]
    return _block("acceptance", figures=tuple(figures), notes=tuple(notes))


def truth(figures: Iterable[Figure], notes: Iterable[str] = ()) -> Block:
    """Real minutes, visits, payers and laboratory beside what was planned."""
    return _block("truth", figures=tuple(figures), notes=tuple(notes))


def in_words(row: Row) -> str:
    """A line as one sentence, for plain text and files."""
    money = "" if row.cents is None else f", {format_cents(row.cents)}"
    return f"{row.patient}: {row.words}{money}"
