"""What a third party may pay toward an estimate: a guess, line by line, with the test that decided each.

The order of tests never changes; each may end at nothing:

1. covered on the day of service  2. waiting period  3. age  4. not paid for, or for looks only
5. the tooth was missing before cover began  6. so many times in so many months  7. a written answer wanted first
8. allowed fee: the plan's, at most the office's  9. the cheaper adequate service instead
10. yearly deductible, once  11. percentage of the class  12. what is left of the yearly maximum
13. what is left of the lifetime maximum  14. what other payers pay before  15. cents, half up

The order of its pieces is that of public plan glossaries; the chain as a whole is common practice, no source. Lines are
taken in the order of their days and carry deductible and maximums on; other accepted plans of the same person, still
open, are counted first. A question nobody has answered pays nothing *as told* and marks how far the *likely* range
reaches. Nothing here changes a price: whoever signs owes the whole of it, and that is the third figure.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final, get_args

from planner.rules.benefit_plans import (
    HeldPlan,
    Told,
    Work,
    faults_of_plans,
    in_order,
    order_questions,
)
from planner.rules.benefit_tests import Account, Dates, Tests
from planner.rules.cents import half_up, percent_of

YEAR_END_DAYS: Final = 45
"""So near the end of a benefit year the guess is also made for the next one. Common practice, no source."""
WEAKEST: Final[tuple[Told, ...]] = tuple(reversed(get_args(Told)))
"""What a figure may rest on, weakest first."""


class BenefitError(ValueError):
    """Plans or work that no guess can be made from; :attr:`faults` says everything that is wrong."""

    def __init__(self, faults: Iterable[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))


@dataclass(frozen=True, slots=True)
class LineGuess:
    """What may be paid toward one piece of work, in cents."""

    service: str
    words: str
    tooth_words: str
    fee_cents: int
    told_cents: int
    best_cents: int
    """If every open question is answered in the patient's favour."""
    given_up_cents: int
    """What the office gives up by its agreement with a payer."""
    trail: tuple[str, ...]
    questions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of a plan's year once all of it is done, in cents, as told; None where there is no maximum."""

    plan: str
    year_begins: date
    maximum_cents: int | None
    deductible_cents: int


@dataclass(frozen=True, slots=True)
class DatedFigure:
    """What would be paid if the last of the work were done on another day, in cents."""

    on: date
    told_cents: int
    best_cents: int


@dataclass(frozen=True, slots=True)
class BenefitGuess:
    """The guess for one set of work. All amounts in cents."""

    lines: tuple[LineGuess, ...]
    others: tuple[LineGuess, ...]
    """Other open accepted work of the same person, which is counted first."""
    told_cents: int
    """As told: what the plans pay by what somebody answered; an open question pays nothing."""
    likely_low_cents: int
    likely_high_cents: int
    given_up_cents: int
    rests_on: Told
    """The weakest of what was told."""
    off_percent: int
    """How far guesses on such a basis have been too high here."""
    basis: tuple[str, ...]
    questions: tuple[str, ...]
    left: tuple[Left, ...]
    other_days: tuple[DatedFigure, ...] = ()
    """Only where another day would change what is paid."""


@dataclass(frozen=True, slots=True)
class PatientPart:
    """The three figures beside a whole price, in cents: they change nothing in it."""

    whole_cents: int
    as_told_cents: int
    likely_low_cents: int
    likely_high_cents: int
    if_nothing_cents: int


def patient_part(guess: BenefitGuess, total_cents: int) -> PatientPart:
    """What would be left of a whole price of ``total_cents``, taxes included. If nothing is paid, all of it."""
    after = total_cents - guess.given_up_cents
    return PatientPart(
        whole_cents=total_cents,
        as_told_cents=after - guess.told_cents,
        likely_low_cents=after - guess.likely_high_cents,
        likely_high_cents=after - guess.likely_low_cents,
        if_nothing_cents=total_cents,
    )


def benefit_guess(
    lines: Sequence[Work],
    held: Sequence[HeldPlan],
    dates: Dates,
    *,
    currency: str,
    other_open: Sequence[Work] = (),
    child: bool = False,
    off_percent: Mapping[Told, int] | None = None,
) -> BenefitGuess:
    """The guess for ``lines`` under the plans somebody holds, the first payer found by rule.

    ``other_open`` is work of the same person that is accepted and not done: it uses maximums first. ``off_percent``
    says how far guesses on each basis have been too high (:func:`too_high`); the likely range reaches down by it.
    Raises BenefitError with every fault of the plans.
    """
    if faults := faults_of_plans(held, currency):
        raise BenefitError(faults)
    ordered = in_order(held, child=child)
    works = sorted(lines, key=lambda work: (work.finishes, work.starts))
    told = _run(works, other_open, ordered, dates, best=False)
    best = _run(works, other_open, ordered, dates, best=True)
    rests_on, basis = _basis(ordered)
    off = (off_percent or {}).get(rests_on, 0)
    sums = sorted((told.cents, best.cents))
    questions = dict.fromkeys(
        (*order_questions(held, child=child), *(q for line in told.lines for q in line.questions))
    )
    return BenefitGuess(
        lines=tuple(
            replace(line, best_cents=max(line.told_cents, other.told_cents))
            for line, other in zip(told.lines, best.lines, strict=True)
        ),
        others=told.others,
        told_cents=told.cents,
        likely_low_cents=half_up(percent_of(sums[0], 100 - off)),
        likely_high_cents=sums[1],
        given_up_cents=sum(line.given_up_cents for line in told.lines),
        rests_on=rests_on,
        off_percent=off,
        basis=basis,
        questions=tuple(questions),
        left=told.left,
        other_days=tuple(
            one
            for one in _other_days(works, other_open, ordered, dates)
            if (one.told_cents, one.best_cents) != (told.cents, sums[1])
        ),
    )


@dataclass(frozen=True, slots=True)
class _Run:
    lines: tuple[LineGuess, ...]
    others: tuple[LineGuess, ...]
    left: tuple[Left, ...]

    @property
    def cents(self) -> int:
        return sum(line.told_cents for line in self.lines)


def _run(
    works: Sequence[Work], other_open: Sequence[Work], ordered: Sequence[HeldPlan], dates: Dates, *, best: bool
) -> _Run:
    accounts = [Account(one, dates.today, best) for one in ordered]
    first = sorted(other_open, key=lambda work: (work.finishes, work.starts))
    others = tuple(_line(work, accounts, dates) for work in first)
    lines = tuple(_line(work, accounts, dates) for work in works)
    left = tuple(
        Left(account.held.plan.words, year, account.maximum[year], account.deductible[year])
        for account in accounts
        for year in sorted(account.maximum)
    )
    return _Run(lines, others, left)


def _line(work: Work, accounts: Sequence[Account], dates: Dates) -> LineGuess:
    paid, given_up, trail, questions = 0, 0, [], []
    for account in accounts:
        tests = Tests(work, account, dates)
        own = tests.run()
        if own is not None:
            if account.held.plan.fees_agreed and not paid and not given_up:
                given_up = tests.given_up()
            pays = tests.pay(replace(own, fee_cents=work.fee_cents - given_up), paid)
            paid += pays
        trail += [f"{account.held.plan.words}: {said}" for said in tests.said]
        questions += tests.questions
    return LineGuess(
        service=work.service,
        words=work.words,
        tooth_words=work.tooth_words,
        fee_cents=work.fee_cents,
        told_cents=paid,
        best_cents=paid,
        given_up_cents=given_up,
        trail=tuple(trail),
        questions=tuple(questions),
    )


def _basis(ordered: Sequence[HeldPlan]) -> tuple[Told, tuple[str, ...]]:
    """The weakest of what was told, and all of it in words."""
    found: list[tuple[Told, str]] = []
    for one in ordered:
        found.append((one.plan.basis.told, f"{one.plan.words}: {one.plan.basis.words}"))
        found.append((one.cover.basis.told, f"{one.plan.words}, cover: {one.cover.basis.words}"))
        if newest := one.newest_used():
            found.append((newest.basis.told, f"{one.plan.words}, what is used: {newest.basis.words}"))
    weakest: Told = min((told for told, _words in found), key=WEAKEST.index, default=WEAKEST[0])
    return weakest, tuple(dict.fromkeys(words for _told, words in found))


def _other_days(
    works: Sequence[Work], other_open: Sequence[Work], ordered: Sequence[HeldPlan], dates: Dates
) -> tuple[DatedFigure, ...]:
    """The same work with its last day on the first day of the next benefit year, where that is near."""
    if not works or not ordered:
        return ()
    last = max(work.finishes for work in works)
    days = sorted({one.plan.next_year(last) for one in ordered})
    figures = []
    for day in days:
        if day - last > timedelta(days=YEAR_END_DAYS):
            continue
        later = [
            replace(work, starts=work.starts + (day - last), finishes=work.finishes + (day - last)) for work in works
        ]
        told = _run(later, other_open, ordered, dates, best=False).cents
        best = _run(later, other_open, ordered, dates, best=True).cents
        figures.append(DatedFigure(day, min(told, best), max(told, best)))
    return tuple(figures)
