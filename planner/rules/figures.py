"""Every figure of the Monday page: a definition that is printed is the one that is computed.

A figure has a sentence of its own, a count and what it is counted among. Below ten among them only counts are said:
a share of so few is an accident. No figure here ranks people by money.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from statistics import median

from planner.rules.cents import half_up
from planner.rules.figure_rows import (
    NO_TREATMENT,
    YES,
    Answered,
    CallMade,
    Followed,
    Guessed,
    PlanRow,
    Shown,
    Timed,
    VisitKept,
)
from planner.rules.figure_words import (
    ACCEPTANCE,
    ADVICE_FROM,
    ANSWER_DAYS,
    BOOKED_DAYS,
    BOOKED_SOON,
    BY_OPTION,
    BY_PERSON,
    COVER,
    DAYS_TO_YES,
    DECISION,
    EARNED,
    FEW,
    FULL,
    FULL_ANY,
    GENTLE,
    GROSS,
    IN_BAND,
    KEPT,
    KEPT_VISITS,
    LABORATORY,
    MINUTES,
    ON_TIME,
    PAYER,
    PAYER_CLOSE,
    REPAIRS,
    SMALL_CENTS,
    STUCK,
    STUCK_DAYS,
    TO_EARN,
    Definition,
)
from planner.rules.plan_states import PlanState
from planner.rules.units import format_cents


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure as it came out."""

    definition: Definition
    n: int
    """What is counted: people, cents, days, thousandths of a ratio ..."""
    of: int | None
    """What it is counted among, in the same unit; None where it is no share."""
    among: int
    """How many people, plans, visits or calls stand behind it: below ten no share is said."""
    part: str = ""
    """Of what it is a part: an option, a person's name, a basis."""
    beside: str = ""
    """What else has to be known to read it."""

    @property
    def share(self) -> Fraction | None:
        """The exact share; None where it is none, or among nothing. For printing use :attr:`said`."""
        return Fraction(self.n, self.of) if self.of else None

    @property
    def percent(self) -> str:
        """The share in percent with one decimal, half-up, however few stand behind it."""
        return "" if self.share is None else _decimal(half_up(self.share * 1000), 10)

    @property
    def is_few(self) -> bool:
        """Whether too few stand behind it for a share or a middle value to mean anything."""
        return self.among < FEW

    @property
    def said(self) -> str:
        """The figure as it is printed: a share only where at least ten stand behind it."""
        money = self.definition.unit == "money"
        count = format_cents(self.n) if money else str(self.n)
        if self.of is not None:
            whole = format_cents(self.of) if money else str(self.of)
            counts = f"{count} of {whole}"
            return counts if self.is_few or self.share is None else f"{self.percent} % ({counts})"
        if self.definition.unit in ("ratio", "days") and not self.among:
            return "nothing yet"
        if self.definition.unit == "ratio":
            return f"{_decimal(self.n, 1000)} ({self.among})"
        if self.definition.unit == "days":
            return f"{_decimal(self.n, 10)} days ({self.among})"
        return count


def _decimal(scaled: int, by: int) -> str:
    whole, rest = divmod(scaled, by)
    places = len(str(by)) - 1
    return f"{whole}.{rest:0{places}d}"


# ------------------------------------------------------------------------------------------------------- cohort


@dataclass(frozen=True, slots=True)
class Person:
    """One patient of a cohort: the first showing, everything shown in time, and the answer that counts."""

    first: Shown
    shown: tuple[Shown, ...]
    answers: tuple[Answered, ...]
    """Within 90 days of the first showing, in order of days."""

    @property
    def yes(self) -> Answered | None:
        """The first yes in time; what it came to is added up from all of them."""
        return next((one for one in self.answers if one.kind in YES), None)

    @property
    def accepted(self) -> tuple[Answered, ...]:
        return tuple(one for one in self.answers if one.kind in YES)

    @property
    def was_recommended(self) -> bool:
        """Whether a priced option was recommended at the first showing."""
        return self.first.recommended_cents > 0


@dataclass(frozen=True, slots=True)
class Cohort:
    """The patients first shown something in a span of days, looked at on a day."""

    first: date
    last: date
    on: date
    people: tuple[Person, ...]

    @property
    def mature(self) -> bool:
        """Whether everybody has had the 90 days to answer, the last day of the span included."""
        return self.last + timedelta(days=ANSWER_DAYS) <= self.on


def cohort(shown: Iterable[Shown], answered: Iterable[Answered], first: date, last: date, on: date) -> Cohort:
    """Those whose first showing of all lies in the span; rows of others, and answers after ``on``, are left out."""
    by_patient: dict[str, list[Shown]] = {}
    for row in shown:
        if row.on <= on:
            by_patient.setdefault(row.patient, []).append(row)
    said: dict[str, list[Answered]] = {}
    for answer in answered:
        said.setdefault(answer.patient, []).append(answer)
    people = []
    for patient, rows in sorted(by_patient.items()):
        rows.sort(key=lambda row: row.on)
        begun = rows[0].on
        if first <= begun <= last:
            until = min(begun + timedelta(days=ANSWER_DAYS), on)
            in_time = sorted((one for one in said.get(patient, ()) if begun <= one.on <= until), key=lambda one: one.on)
            people.append(Person(rows[0], tuple(row for row in rows if row.on <= until), tuple(in_time)))
    return Cohort(first, last, on, tuple(people))


def _share(of: Definition, among: Sequence[Person], counts: Callable[[Person], bool], **more: str) -> Figure:
    return Figure(of, sum(map(counts, among)), len(among), len(among), **more)


def _whole(person: Person, key: str | None) -> bool:
    return any(one.kind == "all of an option" and key in (None, one.option) for one in person.accepted)


def _gentle(person: Person) -> bool:
    if any(one.kind == NO_TREATMENT for one in person.answers) and person.yes is None:
        return True
    return any(one.option == person.first.gentlest and one.option for one in person.accepted)


def cohort_figures(found: Cohort) -> tuple[Figure, ...]:
    """Everything about deciding, of one cohort: decision, acceptance by people and by money, gentleness, days."""
    people = found.people
    asked = [one for one in people if one.was_recommended]
    gross = sum(answer.cents for one in asked for answer in one.accepted)
    kept = sum(answer.cents for one in asked for answer in one.accepted if not answer.stopped_before_start)
    worth = sum(one.first.recommended_cents for one in asked)
    answered = [one for one in people if one.answers]
    yeses = [one for one in people if one.yes]
    days = [(one.yes.on - one.first.on).days for one in yeses if one.yes]
    open_still = len(people) - len(answered)
    bookable = [one.yes for one in yeses if one.yes and one.yes.bookable_at_once]
    soon = sum(one.booked_on is not None and one.booked_on <= one.on + timedelta(days=BOOKED_DAYS) for one in bookable)
    return (
        _share(DECISION, people, lambda one: bool(one.answers)),
        _share(ACCEPTANCE, asked, lambda one: one.yes is not None),
        _share(FULL, asked, lambda one: _whole(one, one.first.recommended)),
        _share(FULL_ANY, asked, lambda one: _whole(one, None)),
        Figure(GROSS, gross, worth, len(asked)),
        Figure(KEPT, kept, worth, len(asked)),
        _share(GENTLE, answered, _gentle),
        Figure(DAYS_TO_YES, _middle(days, 10), None, len(days), beside=f"{open_still} without an answer"),
        Figure(BOOKED_SOON, soon, len(bookable), len(bookable)),
    )


def by_option(found: Cohort) -> tuple[Figure, ...]:
    """Acceptance of each option that was shown as one that may be had and has a price, most shown first."""
    keys: dict[str, list[Person]] = {}
    for person in found.people:
        for key in {one.key for row in person.shown for one in row.options if one.may_be_had and one.cents}:
            keys.setdefault(key, []).append(person)
    rows = sorted(keys.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    return tuple(_share(BY_OPTION, among, _took(key), part=key) for key, among in rows)


def _took(key: str) -> Callable[[Person], bool]:
    return lambda person: any(yes.option == key for yes in person.accepted)


def by_person(found: Cohort) -> tuple[Figure, ...]:
    """Acceptance by who showed first, by name; never by money."""
    names: dict[str, list[Person]] = {}
    for person in found.people:
        if person.was_recommended:
            names.setdefault(person.first.by, []).append(person)
    return tuple(
        _share(
            BY_PERSON,
            among,
            lambda one: one.yes is not None,
            part=name,
            beside=f"{small or 'none'} of them for 500 or less",
        )
        for name, among in sorted(names.items())
        for small in [sum(one.first.recommended_cents <= SMALL_CENTS for one in among)]
    )


# ------------------------------------------------------------------------------------------------- what is running


def running_figures(plans: Sequence[PlanRow], on: date) -> tuple[Figure, ...]:
    """Stuck plans, earned and to earn, and how far what has not begun is covered by what is held."""
    going = [plan for plan in plans if plan.state in (PlanState.BOOKED, PlanState.UNDER_WAY)]
    waiting = [plan for plan in plans if not plan.started]
    return (
        Figure(STUCK, sum(is_stuck(plan, on) for plan in going), len(going), len(going)),
        Figure(EARNED, sum(plan.earned_cents for plan in plans), None, len(plans)),
        Figure(TO_EARN, sum(plan.to_earn_cents for plan in plans), None, len(plans)),
        Figure(
            COVER,
            sum(plan.held_cents for plan in waiting),
            sum(plan.agreed_cents for plan in waiting),
            len(waiting),
        ),
    )


def is_stuck(plan: PlanRow, on: date) -> bool:
    """Whether a plan that is booked or under way has no visit to come and had no event for 30 days."""
    if plan.state not in (PlanState.BOOKED, PlanState.UNDER_WAY):
        return False
    last = plan.last_event_on or plan.accepted_on
    return plan.next_visit_on is None and (on - last).days >= STUCK_DAYS


# ------------------------------------------------------------------------------------------- truth of what was said


def visit_figure(visits: Iterable[VisitKept]) -> Figure:
    """How many visits were kept, among those that reached their hour and were not let go a day before."""
    counted = [
        one
        for one in visits
        if one.state in ("kept", "no-show")
        or (one.cancelled_hours_before is not None and one.cancelled_hours_before < 24)
    ]
    return Figure(KEPT_VISITS, sum(one.state == "kept" for one in counted), len(counted), len(counted))


def minutes_figures(timed: Iterable[Timed]) -> tuple[Figure, ...]:
    """For each option: the middle ratio of real to planned minutes, and how many lay within the 10 to 90 band."""
    options: dict[str, list[Timed]] = {}
    for one in timed:
        if not one.disturbed:
            options.setdefault(one.option, []).append(one)
    found = []
    for option, rows in sorted(options.items()):
        ratios = [Fraction(one.minutes, one.planned_minutes) for one in rows if one.planned_minutes]
        inside = sum(one.low_minutes <= one.minutes <= one.high_minutes for one in rows)
        advice = "" if len(rows) >= ADVICE_FROM else f"too few to advise on: {len(rows)} of {ADVICE_FROM}"
        found.append(Figure(MINUTES, _middle(ratios, 1000), None, len(ratios), option, advice))
        found.append(Figure(IN_BAND, inside, len(rows), len(rows), option))
    return tuple(found)


def payer_figures(guessed: Iterable[Guessed]) -> tuple[Figure, ...]:
    """By what a guess rested on: the middle of paid against guessed, and how many were within a tenth."""
    bases: dict[str, list[Guessed]] = {}
    for one in guessed:
        bases.setdefault(one.basis, []).append(one)
    found = []
    for basis, rows in sorted(bases.items()):
        ratios = [Fraction(one.paid_cents, one.guessed_cents) for one in rows if one.guessed_cents]
        close = sum(abs(one.guessed_cents - one.paid_cents) * 10 <= one.paid_cents for one in rows)
        found.append(Figure(PAYER, _middle(ratios, 1000), None, len(ratios), basis))
        found.append(Figure(PAYER_CLOSE, close, len(rows), len(rows), basis))
    return tuple(found)


def laboratory_figure(due_and_back: Iterable[tuple[date, date]]) -> Figure:
    """How many pieces came back by the day on which they were due."""
    rows = list(due_and_back)
    return Figure(LABORATORY, sum(back <= due for due, back in rows), len(rows), len(rows))


def repair_figure(teeth: Iterable[Followed]) -> Figure:
    """Repairs among the tooth-years followed, in whole hundredths of a tooth-year."""
    rows = list(teeth)
    days = sum(max((one.seen_on - one.done_on).days, 0) for one in rows)
    years = half_up(Fraction(days * 100, 365))
    said = f"{_decimal(years, 100)} tooth-years, {len(rows)} teeth"
    return Figure(REPAIRS, sum(one.repairs for one in rows), None, len(rows), beside=said)


def calls_figure(calls: Iterable[CallMade]) -> Figure:
    """How many calls were made by the last day that is in time."""
    rows = list(calls)
    in_time = sum(one.made is not None and one.made <= one.latest for one in rows)
    return Figure(ON_TIME, in_time, len(rows), len(rows))


def _middle(values: Sequence[int] | Sequence[Fraction], scale: int) -> int:
    """The median times ``scale``, half-up; 0 of nothing."""
    return half_up(Fraction(median(map(Fraction, values))) * scale) if values else 0
