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
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction
from typing import Final, get_args

from planner.rules.benefit_plans import (
    BenefitClass,
    Covered,
    HeldPlan,
    Told,
    Work,
    faults_of_plans,
    in_order,
    order_questions,
)
from planner.rules.cents import half_up, percent_of
from planner.rules.coordination import Own, coordinated
from planner.rules.instalments import add_months
from planner.rules.units import format_cents

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
class Dates:
    """Days the guess rests on."""

    today: date
    born: date | None
    """Of the patient; None: not known, and an age limit is then a question."""


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


@dataclass(slots=True)
class _Account:
    """What is left of one plan while lines are carried through it."""

    held: HeldPlan
    today: date
    best: bool
    maximum: dict[date, int | None] = field(default_factory=dict)
    deductible: dict[date, int] = field(default_factory=dict)
    lifetime: int | None = None
    paid: list[tuple[str, tuple[str, ...], date]] = field(default_factory=list)
    asked: dict[date, list[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        most = self.held.plan.lifetime_maximum_cents
        newest = self.held.newest_used()
        gone = newest.lifetime_cents if newest else None
        if most is not None:
            self.lifetime = most - gone if gone is not None else most if self.best else 0

    def open_year(self, year: date) -> None:
        """Look up what is used of a benefit year, once; a year that has not begun is unused."""
        if year in self.maximum:
            return
        plan, used = self.held.plan, self.held.used_in(year)
        self.asked[year] = []
        fresh = year > self.today
        gone = used.maximum_cents if used else None
        self.maximum[year] = most = plan.yearly_maximum_cents
        if most is not None and (gone is not None or not fresh):
            self.maximum[year] = most - gone if gone is not None else most if self.best else 0
            if gone is None:
                self._ask(year, f"how much of the yearly maximum of {format_cents(most)} is used")
        spent = used.deductible_cents if used else None
        self.deductible[year] = plan.deductible_cents - (spent or 0)
        if plan.deductible_cents and spent is None and not fresh:
            self.deductible[year] = 0 if self.best else plan.deductible_cents
            self._ask(year, f"how much of the deductible of {format_cents(plan.deductible_cents)} is used")

    def _ask(self, year: date, what: str) -> None:
        self.asked[year].append(f"{self.held.plan.words}: ask {what} in the year from {year.isoformat()}.")


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
    accounts = [_Account(one, dates.today, best) for one in ordered]
    first = sorted(other_open, key=lambda work: (work.finishes, work.starts))
    others = tuple(_line(work, accounts, dates) for work in first)
    lines = tuple(_line(work, accounts, dates) for work in works)
    left = tuple(
        Left(account.held.plan.words, year, account.maximum[year], account.deductible[year])
        for account in accounts
        for year in sorted(account.maximum)
    )
    return _Run(lines, others, left)


def _line(work: Work, accounts: Sequence[_Account], dates: Dates) -> LineGuess:
    paid, given_up, trail, questions = 0, 0, [], []
    for account in accounts:
        tests = _Tests(work, account, dates)
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


class _Tests:
    """The tests of one piece of work against one plan, in order."""

    def __init__(self, work: Work, account: _Account, dates: Dates) -> None:
        self.work, self.account, self.dates = work, account, dates
        self.plan, self.cover, self.best = account.held.plan, account.held.cover, account.best
        self.day = work.starts if self.plan.day_counts == "start" else work.finishes
        self.year = self.plan.year_of(self.day)
        self.said: list[str] = []
        self.questions: list[str] = []
        self.rule: Covered | None = None
        self.group: BenefitClass | None = None

    def run(self) -> Own | None:
        """What the plan would do by itself after tests 1 to 13; None where one of them ends at nothing."""
        tests = (self._covered, self._listed, self._waiting, self._age, self._looks, self._missing, self._often)
        if not all(test() for test in (*tests, self._prior)):
            return None
        return self._own()

    def _no(self, number: int, words: str) -> bool:
        self.said.append(f"test {number}: {words}; pays nothing")
        return False

    def _ask(self, number: int, words: str) -> bool:
        """An open question: nothing as told, and no obstacle where it is answered in the patient's favour."""
        self.said.append(f"test {number}: nobody has said {words}; nothing is counted until it is answered")
        self.questions.append(f"{self.plan.words}: ask {words}.")
        return self.best

    def _covered(self) -> bool:
        if self.cover.holds(self.day):
            return True
        ends = f" to {self.cover.ends.isoformat()}" if self.cover.ends else " on"
        said = f"the day of service is {self.day.isoformat()} and cover is from {self.cover.begins.isoformat()}{ends}"
        return self._no(1, said)

    def _listed(self) -> bool:
        self.rule = self.plan.covered(self.work.service)
        if self.rule is None:
            self._ask(4, f'whether it pays toward "{self.work.words}"')
            return False
        if not self.rule.benefit_class:
            return self._no(4, "the plan does not pay toward this service")
        self.group = self.plan.class_of(self.rule.benefit_class)
        return True

    def _waiting(self) -> bool:
        assert self.group is not None
        free = add_months(self.cover.begins, self.group.waiting_months)
        if self.day >= free:
            return True
        return self._no(2, f"a wait of {self.group.waiting_months} months ends on {free.isoformat()}")

    def _age(self) -> bool:
        assert self.group is not None
        least, most = self.group.youngest, self.group.oldest
        if least is None and most is None:
            return True
        if self.dates.born is None:
            return self._ask(3, "the birth date, and the plan has an age limit")
        age = self.day.year - self.dates.born.year
        age -= (self.day.month, self.day.day) < (self.dates.born.month, self.dates.born.day)
        if (least is None or age >= least) and (most is None or age <= most):
            return True
        limits = " ".join(
            words
            for words, there in ((f"from {least}", least is not None), (f"through {most}", most is not None))
            if there
        )
        return self._no(3, f"{age} years old on the day of service; it pays {limits}")

    def _looks(self) -> bool:
        if self.work.looks_only is False or self.plan.looks_only_excluded is False:
            return True
        if self.work.looks_only is None:
            return self._ask(4, "whether this work is for looks only")
        if self.plan.looks_only_excluded is None:
            return self._ask(4, "whether it pays toward work that is for looks only")
        return self._no(4, "for looks only, which the plan leaves out")

    def _missing(self) -> bool:
        since = self.work.missing_since
        if since is None or self.plan.missing_before_excluded is False:
            return True
        if isinstance(since, date) and since >= self.cover.begins:
            return True
        if self.plan.missing_before_excluded is None:
            return self._ask(5, "whether it pays to replace a tooth that was missing before cover began")
        if since == "not known":
            return self._ask(5, "since when the tooth has been missing")
        said = "never formed" if since == "always" else f"missing since {since}"
        return self._no(5, f"{said}, before cover began on {self.cover.begins.isoformat()}")

    def _often(self) -> bool:
        assert self.rule is not None
        limit = self.rule.limit
        if limit is None:
            return True
        before = self.cover.done_before
        if before is None and not self._ask(6, f"how often it has paid toward this in {limit.months} months"):
            return False
        known = [(one.service, (one.tooth.key,) if one.tooth else (), one.on) for one in before or ()]
        count = sum(
            service == self.work.service
            and on <= self.day < add_months(on, limit.months)
            and (not limit.same_tooth or bool(set(teeth) & set(self.work.teeth)))
            for service, teeth, on in (*known, *self.account.paid)
        )
        where = "on this tooth " if limit.same_tooth else ""
        rule = f"{limit.times} in {limit.months} months {where}".strip()
        if count >= limit.times:
            return self._no(6, f"it pays {rule} and has paid {count}")
        return True

    def _prior(self) -> bool:
        assert self.rule is not None
        if not self.rule.prior_answer:
            return True
        holding = [
            one
            for one in self.cover.answers
            if one.service == self.work.service and (one.through is None or self.day <= one.through)
        ]
        if not holding:
            return self._ask(7, f'in writing whether it pays toward "{self.work.words}", as the plan wants first')
        newest = max(holding, key=lambda one: one.on)
        if not newest.pays:
            return self._no(7, f"the payer's answer of {newest.on.isoformat()} says no")
        self.said.append(f"test 7: the payer's answer of {newest.on.isoformat()} says yes")
        return True

    def _own(self) -> Own:
        assert self.group is not None
        account, fee = self.account, self.work.fee_cents
        account.open_year(self.year)
        self.questions += account.asked[self.year]
        allowed = self._allowed(fee)
        deductible = min(account.deductible[self.year], allowed) if self.group.deductible else 0
        if self.plan.deductible_cents:
            left = format_cents(account.deductible[self.year])
            taken = f"deductible {format_cents(deductible)} taken off, {left} was left"
            if not self.group.deductible:
                taken = "no deductible in this class"
            elif not account.deductible[self.year]:
                taken = "the deductible is met"
            self.said.append(f"test 10: {taken}")
        percent = Fraction(self.group.percent)
        exact = format_cents(half_up(percent_of(allowed - deductible, percent)))
        self.said.append(
            f"test 11: {self.group.percent:f} % of {format_cents(allowed - deductible)} = {exact} "
            f"(class {self.group.key})"
        )
        return Own(fee, allowed, deductible, percent, self._most())

    def _allowed(self, fee: int) -> int:
        assert self.rule is not None
        number = self.work.quantity
        own = self.rule.fee_cents
        allowed = fee if own is None else min(fee, own * number)
        if own is None:
            self.said.append(
                f"test 8: allowed {format_cents(allowed)} = the office's fee; the plan has none of its own"
            )
        elif allowed < fee:
            self.said.append(
                f"test 8: allowed {format_cents(allowed)} = the plan's fee, less than the office's {format_cents(fee)}"
            )
        else:
            self.said.append(f"test 8: allowed {format_cents(allowed)} = the office's fee, within the plan's")
        if self.rule.swap:
            cheaper = self.plan.fee_of(self.rule.swap)
            assert cheaper is not None  # the plan holds together
            allowed = min(allowed, cheaper * number)
            self.said.append(f'test 9: the fee of "{self.rule.swap}" counts instead: allowed {format_cents(allowed)}')
        return allowed

    def _most(self) -> int | None:
        assert self.group is not None
        found = []
        if self.group.to_yearly_maximum and (yearly := self.account.maximum[self.year]) is not None:
            self.said.append(f"test 12: {format_cents(yearly)} left of the year from {self.year.isoformat()}")
            found.append(yearly)
        if self.group.to_lifetime_maximum and (lifetime := self.account.lifetime) is not None:
            self.said.append(f"test 13: {format_cents(lifetime)} left of the lifetime maximum")
            newest = self.account.held.newest_used()
            if newest is None or newest.lifetime_cents is None:
                self.questions.append(f"{self.plan.words}: ask how much of the lifetime maximum is used.")
            found.append(lifetime)
        return min(found, default=None)

    def given_up(self) -> int:
        """What the office gives up of its fee by agreement, in cents."""
        assert self.rule is not None
        own = self.rule.fee_cents
        return 0 if own is None else max(self.work.fee_cents - own * self.work.quantity, 0)

    def pay(self, own: Own, before: int) -> int:
        """What it pays after ``before`` cents of others (tests 14 and 15); carried on in the account."""
        assert self.group is not None
        least, most, how = coordinated(self.plan.coordination, own, before)
        pays = most if self.best else least
        if before:
            self.said.append(f"test 14: {how}")
            if self.plan.coordination == "unknown":
                self.questions.append(f"{self.plan.words}: ask how it counts what another payer has paid.")
        self.said.append(f"test 15: pays {format_cents(pays)}")
        account = self.account
        account.deductible[self.year] -= own.deductible_cents
        yearly = account.maximum[self.year]
        if self.group.to_yearly_maximum and yearly is not None:
            account.maximum[self.year] = yearly - pays
        if self.group.to_lifetime_maximum and account.lifetime is not None:
            account.lifetime -= pays
        if pays:
            account.paid.append((self.work.service, self.work.teeth, self.day))
        return pays


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


# ---------------------------------------------------------------- once it was paid


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What is paid less than was guessed, in cents, and what follows."""

    short_cents: int
    to_patient_cents: int
    office_bears_cents: int
    off_percent: int
    statement_due: date | None
    words: str


STATEMENT_DAYS: Final = 30
"""Common practice, no source."""


def paid_less(guessed_cents: int, paid_cents: int, *, signed_if_nothing: bool, reason: str, on: date) -> Shortfall:
    """What follows when the payer paid ``paid_cents`` of ``guessed_cents`` guessed, after the work was done.

    The difference goes to the patient only where the figure "if they pay nothing" was signed; otherwise the office
    bears it. Raises ValueError for an amount below zero or a shortfall without the payer's reason.
    """
    if min(guessed_cents, paid_cents) < 0:
        raise ValueError("guessed and paid are amounts of nothing or more")
    short = max(guessed_cents - paid_cents, 0)
    if short and not reason.strip():
        raise ValueError("the payer's reason is missing: the patient gets it with the statement and may appeal")
    if not short:
        return Shortfall(0, 0, 0, 0, None, f"{format_cents(paid_cents)} paid; nothing moves to the patient.")
    off = half_up(Fraction(100 * short, guessed_cents))
    due = on + timedelta(days=STATEMENT_DAYS) if signed_if_nothing else None
    words = f"{format_cents(guessed_cents)} guessed, {format_cents(paid_cents)} paid ({reason.strip()}): " + (
        f"{format_cents(short)} moves to the patient, who signed the whole price; send a statement with the payer's "
        f"reason, {STATEMENT_DAYS} days to pay, and offer help with an appeal."
        if signed_if_nothing
        else f"the whole price was not signed, so the office bears {format_cents(short)}."
    )
    return Shortfall(short, short if signed_if_nothing else 0, 0 if signed_if_nothing else short, off, due, words)


def too_high(outcomes: Iterable[tuple[Told, int, int]]) -> dict[Told, int]:
    """For each basis, by how many percent guesses were too high: the middle one of (basis, guessed, paid) in cents.

    Only final answers belong here; a guess of nothing tells nothing. Never below 0: a payer who paid more than guessed
    does not make the next guess higher.
    """
    found: dict[Told, list[Fraction]] = {}
    for told, guessed, paid in outcomes:
        if guessed > 0:
            found.setdefault(told, []).append(Fraction(100 * (guessed - paid), guessed))
    return {told: max(half_up(_middle(sorted(values))), 0) for told, values in found.items()}


def _middle(values: Sequence[Fraction]) -> Fraction:
    half = len(values) // 2
    return values[half] if len(values) % 2 else (values[half - 1] + values[half]) / 2
