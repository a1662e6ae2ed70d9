"""The tests of one piece of work against one plan, in their order, and what is left of the plan while they are made.

The list of the tests stands in :mod:`planner.rules.benefits`, which asks them plan by plan and line by line.
"""

from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from planner.rules.benefit_plans import (
    BenefitClass,
    Covered,
    HeldPlan,
    Work,
)
from planner.rules.cents import half_up, percent_of
from planner.rules.coordination import Own, coordinated
from planner.rules.instalments import add_months
from planner.rules.units import format_cents


@dataclass(frozen=True, slots=True)
class Dates:
    """Days the guess rests on."""

    today: date
    born: date | None
    """Of the patient; None: not known, and an age limit is then a question."""


@dataclass(slots=True)
class Account:
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


class Tests:
    """The tests of one piece of work against one plan, in order."""

    def __init__(self, work: Work, account: Account, dates: Dates) -> None:
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
