"""The minutes of one option visit by visit and step by step, what the chair costs meanwhile, and where work may stop.

The minutes of a block are the office's; the steps share them in proportion to their own starting minutes, so that the
steps of a visit add up to what is booked for it and nothing is counted twice. A step done only under a finding stands
beside them with its starting minutes and is in no sum. Waits between visits are those of the calendar.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Final

from planner.rules.book import OfficeBook, Payee
from planner.rules.cents import half_up, spread
from planner.rules.clock import NOTHING, Blocks, Span, VisitTime, WrongSums, share_block, visit_time, wrong_sums
from planner.rules.course_days import ANSWER
from planner.rules.courses import Course, Work
from planner.rules.duration import block_minutes
from planner.rules.fees import Cost, cost
from planner.rules.mouth import CaseFacts
from planner.rules.results import GapShape
from planner.rules.series import SeriesStep, series_of
from planner.rules.settings import read_settings
from planner.rules.step_order import steps_of_visit
from planner.rules.stopping import StopPoint, best_order, stopping_points
from planner.rules.teeth import Tooth
from planner.rules.treatment_parts import Step, Visit
from planner.rules.treatments import Combination, Treatment

PAYEES: Final[tuple[Payee, ...]] = ("dentist", "hygiene", "assistant")
PAID_AS: Final[Mapping[str, Payee]] = {"assistant": "assistant", "dentist": "dentist", "both": "dentist"}
"""Whose rate a step is reckoned at: where both work, the dentist's, which the assistant's pay is already part of."""


@dataclass(frozen=True, slots=True)
class StepTime:
    """One step in its place, for all teeth and surfaces of the visit."""

    id: str
    of: str
    """Key of the treatment it belongs to."""
    treatment: str
    """Its name."""
    words: str
    block: str
    who: str
    times: int
    """How often: once, or for each tooth or surface."""
    span: Span
    """All of them together, minutes."""
    certainty: str
    only_if: str
    """The finding under which it is done; such a step is in no sum."""
    cures: int
    """How often the light is used in it, all together."""

    @property
    def minutes(self) -> tuple[int, int, int]:
        """Fast, usual and slow, each half-up to whole minutes for print."""
        return half_up(self.span.fast), half_up(self.span.usual), half_up(self.span.slow)


@dataclass(frozen=True, slots=True)
class BlockRow:
    """Minutes of one block of a visit and where they come from."""

    words: str
    times: int
    span: Span
    source: str
    """The office's own source, or empty for a starting value of the treatment."""
    certainty: str


@dataclass(frozen=True, slots=True)
class VisitMinutes:
    """One visit with its blocks, steps, cures and stopping points."""

    key: str
    words: str
    kind: str
    teeth: tuple[Tooth, ...]
    time: VisitTime
    blocks: tuple[BlockRow, ...]
    steps: tuple[StepTime, ...]
    wait_days: int
    """Calendar days since the visit before, at the least."""
    waits_for: str
    """The words of what it waits for."""
    cures: int
    light_seconds: int
    """Of all cures at the shortest, whatever the lamp gives; inside the minutes, not beside them."""
    paid: tuple[tuple[Payee, int], ...]
    """Usual minutes by whose rate they cost."""
    stops: tuple[StopPoint, ...]
    """After each tooth in the best order; nothing for fewer than two teeth."""
    wrong: WrongSums
    """What two wrong ways of adding up would say."""


@dataclass(frozen=True, slots=True)
class OptionMinutes:
    """The minutes of a whole option."""

    visits: tuple[VisitMinutes, ...]
    paid: tuple[tuple[Payee, int], ...]
    """Usual minutes of treatment by whose rate they cost, reviews counted."""
    cost: Cost | None
    """What the chair costs meanwhile; None while a rate is missing."""
    rates: tuple[tuple[Payee, int | None], ...]
    """Cents of a chair hour with each of the three; None where the office has not typed one."""
    why_no_cost: str = ""
    split: bool = False
    """One visit was too long for the office and became several."""


def option_minutes(
    course: Course,
    parts: tuple[Treatment, ...],
    combination: Combination | None,
    facts: CaseFacts,
    book: OfficeBook,
    today: date,
    *,
    gaps: Sequence[GapShape] = (),
    gap_left_min: int = 0,
) -> OptionMinutes:
    """Every visit of ``course`` with its minutes; ``gaps`` and ``gap_left_min`` say where work may stop.

    ``gap_left_min`` in tenths of a millimetre.
    """
    steps = series_of(course, parts, combination, facts, book, today)
    by_key = {part.key: part for part in parts}
    words = {ANSWER: "the letter signed"} | {step.key: step.words for step in steps}
    visits = tuple(
        _visit(step, by_key, course, book, words, gaps, gap_left_min) for step in steps if step.time is not None
    )
    paid = _added(visit.paid for visit in visits)
    rates = tuple((payee, _rate(book, payee)) for payee in PAYEES)
    split = len({visit.key.partition("#")[0] for visit in visits if visit.teeth}) < sum(
        1 for visit in visits if visit.teeth
    )
    try:
        return OptionMinutes(visits, paid, cost(book, paid), rates, split=split)
    except LookupError as missing:
        return OptionMinutes(visits, paid, None, rates, str(missing.args[0]), split)


def _rate(book: OfficeBook, payee: Payee) -> int | None:
    try:
        return book.chair_rate(payee)
    except LookupError:
        return None


def _visit(
    step: SeriesStep,
    parts: Mapping[str, Treatment],
    course: Course,
    book: OfficeBook,
    words: Mapping[str, str],
    gaps: Sequence[GapShape],
    gap_left_min: int,
) -> VisitMinutes:
    assert step.time is not None
    done = tuple(_done_here(step, parts, course, book))
    steps = steps_of_visit([(part, visit.key) for part, visit, *_rest in done])
    by_key = {
        (each.of, each.id): each
        for part, visit, teeth, blocks in done
        for each in _steps(part, [one for owner, one in steps if owner.key == part.key], teeth, blocks, course)
    }
    timed = tuple(by_key[part.key, one.id] for part, one in steps)
    wait = max(step.after, key=lambda pair: pair[1], default=("", 0))
    stops: tuple[StopPoint, ...] = ()
    fixed, own = [blocks for *_rest, blocks in done[:-1]], done[-1][-1]
    if len(step.teeth) > 1 and own.per_tooth != NOTHING:
        order = best_order(step.teeth, gaps, gap_left_min)

        def time_of(some: tuple[Tooth, ...]) -> VisitTime:
            return visit_time([*fixed, replace(own, teeth=len(some))], book.tooth_correlation, book.slot_minutes)

        stops = stopping_points(order, gaps, time_of, gap_left_min)
    cures = [(by_key[part.key, one.id].cures, _shortest(one)) for part, one in steps]
    return VisitMinutes(
        step.key,
        step.words,
        step.kind,
        step.teeth,
        step.time,
        tuple(row for part, visit, _teeth, blocks in done for row in _blocks(part, visit, blocks, book)),
        timed,
        wait[1],
        words.get(wait[0], ""),
        sum(count for count, _seconds in cures),
        sum(count * seconds for count, seconds in cures),
        _paid(step.time, timed),
        stops,
        wrong_sums([blocks for _part, _visit, _teeth, blocks in done], book.slot_minutes),
    )


Done = tuple[Treatment, Visit, tuple[Tooth, ...], Blocks]


def _done_here(step: SeriesStep, parts: Mapping[str, Treatment], course: Course, book: OfficeBook) -> Iterator[Done]:
    """The treatments done at a visit, each with its own visit, teeth and minutes; the visit's own comes last."""
    own, key = step.key.partition("#")[0].split(".", 1)
    for brought in step.treatments[1:]:
        part = parts[brought]
        for visit in part.visits:
            if visit.kind == "work" and not visit.optional:
                teeth = course.teeth(brought)
                yield part, visit, teeth, block_minutes(part.key, visit, len(teeth), book)
    visit = parts[own].visit(key)
    yield parts[own], visit, step.teeth, block_minutes(own, visit, len(step.teeth), book)


def _steps(
    part: Treatment, steps: Sequence[Step], teeth: Sequence[Tooth], blocks: Blocks, course: Course
) -> Iterator[StepTime]:
    """The steps of one treatment at one visit, with the minutes of their blocks shared out."""
    surfaces = _surfaces(part.key, teeth, course)
    shares: dict[str, Span] = {}
    for name, block, times in (
        ("set-up", blocks.set_up, 1),
        ("per tooth", blocks.per_tooth, blocks.teeth),
        ("finish", blocks.finish, 1),
    ):
        own = [step for step in steps if _block_of(step) == name and not step.only_if]
        weights = [_weight(step, blocks.teeth, surfaces) for step in own]
        if block == NOTHING or not any(weight.usual for weight in weights):
            continue
        whole = Span(block.fast * times, block.usual * times, block.slow * times)
        shares |= dict(zip((step.id for step in own), share_block(whole, weights), strict=True))
    for step in steps:
        times = _times(step, blocks.teeth, surfaces)
        span = shares.get(step.id) or _weight(step, blocks.teeth, surfaces)
        yield StepTime(
            step.id,
            part.key,
            part.name,
            step.words,
            step.block,
            step.who,
            times,
            span,
            step.certainty,
            step.only_if,
            step.cures * times,
        )


def _block_of(step: Step) -> str:
    """Steps counted for each surface lie inside the minutes of the tooth."""
    return "per tooth" if step.block == "per surface" else step.block


def _times(step: Step, teeth: int, surfaces: int) -> int:
    return {"per tooth": teeth, "per surface": surfaces}.get(step.block, 1)


def _weight(step: Step, teeth: int, surfaces: int) -> Span:
    fast, usual, slow = (Fraction(minutes) * _times(step, teeth, surfaces) for minutes in step.minutes)
    return Span(fast, usual, slow)


def _surfaces(treatment: str, teeth: Sequence[Tooth], course: Course) -> int:
    """Surfaces worked on; one for a tooth of which nobody said how many."""
    lines: dict[Tooth, Work] = {
        line.tooth: line for line in course.work if line.treatment == treatment and line.tooth is not None
    }
    return sum(max(1, lines[tooth].surfaces) if tooth in lines else 1 for tooth in teeth)


def _blocks(part: Treatment, visit: Visit, blocks: Blocks, book: OfficeBook) -> Iterator[BlockRow]:
    own: dict[str, str] = {
        row.block: row.source for row in book.minutes if (row.treatment, row.visit) == (part.key, visit.key)
    }
    for name, span, times in (
        ("set-up", blocks.set_up, 1),
        ("per tooth", blocks.per_tooth, blocks.teeth),
        ("finish", blocks.finish, 1),
    ):
        if span != NOTHING and times:
            yield BlockRow(
                f"{part.name}: {name}", times, span, own.get(name, ""), "office" if name in own else visit.certainty
            )


def _shortest(step: Step) -> int:
    seconds: int = read_settings("proportions.toml")["light_least_seconds"].value[step.cures_of]
    return seconds


def _paid(time: VisitTime, steps: Sequence[StepTime]) -> tuple[tuple[Payee, int], ...]:
    """The usual minutes of a visit by whose rate they cost; without steps the dentist's."""
    whole = half_up(time.usual)
    weights: dict[Payee, Fraction] = {}
    for step in steps:
        if not step.only_if and step.who in PAID_AS:
            payee = PAID_AS[step.who]
            weights[payee] = weights.get(payee, Fraction(0)) + Fraction(step.span.usual)
    known = sum(weights.values(), Fraction(0))
    # Minutes that no step accounts for are the dentist's: nothing is made cheaper by not being written down.
    weights["dentist"] = weights.get("dentist", Fraction(0)) + max(Fraction(0), Fraction(time.usual) - known)
    payees = [payee for payee, minutes in weights.items() if minutes]
    shares = spread(whole, [half_up(weights[payee] * 1000) for payee in payees]) if payees else ()
    return tuple(zip(payees, shares, strict=True))


def _added(each: Iterator[tuple[tuple[Payee, int], ...]]) -> tuple[tuple[Payee, int], ...]:
    found: dict[Payee, int] = {}
    for rows in each:
        for payee, minutes in rows:
            found[payee] = found.get(payee, 0) + minutes
    return tuple(found.items())
