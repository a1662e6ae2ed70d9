"""What a third party promised to pay toward, as somebody told it: a payer's plan, one person's cover, what is used.

A plan names the office's own services; no licensed code set is needed. A clause nobody asked about is ``None`` and
never reads as fine: the guess then asks. Nothing here is netted into a price.

The order of payers follows the usual rules (NAIC model regulation 120, section 6, and the ADA's guidance on
coordination, both from their public summaries): a court's order first, then the plan somebody holds as a member before
one they hold as a dependant, one in force through work before a continued one, for a child the plan of the parent whose
birthday comes first in the year, and last the one that has covered longest.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from planner.rules.book import Book, Day, Price, Share
from planner.rules.facts import ToothRef
from planner.rules.units import format_cents

Told = Literal["written answer", "phone", "own guess"]
"""On what a figure rests."""
Coordination = Literal["standard", "maintenance", "non-duplication", "carve-out", "unknown"]
"""How a plan counts what another has paid before it; see :mod:`planner.rules.coordination`."""
Missing = date | Literal["always", "not known"]
"""Since when a tooth is missing; ``always`` for one that never formed."""
Months = Annotated[int, Field(ge=0, le=600)]
Age = Annotated[int, Field(ge=0, le=130)]
Words = Annotated[str, Field(max_length=300)]

PRIVATE = ("eating disorder", "anorexi", "bulimi", "pregnan", "hba1c", "trastorno alimentari", "embaraz")
"""Never told to a payer."""


class Basis(Book):
    """Who said so, how, and on which day."""

    told: Told
    by: Annotated[str, Field(min_length=1, max_length=200)]
    """The payer's clerk, the letter, or who of the office guessed."""
    on: Day

    @property
    def words(self) -> str:
        """``phone, Ms Hale, 2026-03-02``."""
        return f"{self.told}, {self.by}, {self.on.isoformat()}"


class BenefitClass(Book):
    """A class of services, and what the plan pays toward it."""

    key: Annotated[str, Field(min_length=1, max_length=40)]
    percent: Share
    deductible: bool = True
    """Whether the yearly deductible is taken off first."""
    waiting_months: Months = 0
    youngest: Age | None = None
    oldest: Age | None = None
    """Last age, in whole years, at which it pays."""
    to_yearly_maximum: bool = True
    to_lifetime_maximum: bool = False


class Limit(Book):
    """So many times in so many months."""

    times: Annotated[int, Field(ge=1, le=99)]
    months: Annotated[int, Field(ge=1, le=600)]
    same_tooth: bool = False
    """Counted tooth by tooth; otherwise whatever the tooth."""


class Covered(Book):
    """What the plan says of one service of the office's price list."""

    service: Annotated[str, Field(min_length=1, max_length=60)]
    benefit_class: str = ""
    """Key of a class; empty: the plan pays nothing toward it."""
    fee_cents: Price | None = None
    """The plan's own fee for one unit; None: it takes the office's fee."""
    swap: str = ""
    """The cheaper service it pays for instead; the plan's fee for that one counts."""
    limit: Limit | None = None
    prior_answer: bool = False
    """Whether a written answer is wanted before the work."""


class BenefitPlan(Book):
    """A payer's plan as the office was told it."""

    payer: Annotated[str, Field(min_length=1, max_length=120)]
    name: Annotated[str, Field(min_length=1, max_length=120)]
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    day_counts: Literal["start", "finish"] = "finish"
    """Which day is the day of service."""
    year_begins: Annotated[str, Field(pattern=r"^(0[1-9]|1[0-2])-(0[1-9]|1\d|2[0-8])$")] = "01-01"
    """Month and day on which the benefit year begins."""
    yearly_maximum_cents: Price | None = None
    """None: there is none."""
    lifetime_maximum_cents: Price | None = None
    """For the classes that count toward it; None: there is none."""
    deductible_cents: Price = 0
    looks_only_excluded: bool | None = None
    missing_before_excluded: bool | None = None
    """Whether nothing is paid to replace a tooth that was missing before cover began."""
    coordination: Coordination = "unknown"
    fees_agreed: bool = False
    """Whether the office has agreed with the payer to take the plan's fees as its own for covered work."""
    classes: tuple[BenefitClass, ...] = ()
    services: tuple[Covered, ...] = ()
    basis: Basis

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        keys = [one.key for one in self.classes]
        services = [one.service for one in self.services]
        for what, names in (("class", keys), ("service", services)):
            if twice := sorted({name for name in names if names.count(name) > 1}):
                raise ValueError(f'the {what} "{twice[0]}" is there twice; keep one')
        for one in self.services:
            if one.benefit_class and one.benefit_class not in keys:
                known = ", ".join(keys) or "none yet"
                raise ValueError(f'"{one.service}" is in class "{one.benefit_class}", which the plan has not: {known}')
            if one.swap and (one.swap == one.service or self.fee_of(one.swap) is None):
                raise ValueError(
                    f'"{one.service}" is swapped for "{one.swap}": name another service, with the plan\'s fee for it'
                )
        for group in self.classes:
            if group.youngest is not None and group.oldest is not None and group.youngest > group.oldest:
                raise ValueError(f'class "{group.key}" pays from {group.youngest} to {group.oldest}: ages are reversed')
        return self

    @property
    def words(self) -> str:
        """Payer and plan."""
        return f"{self.payer}, {self.name}"

    def covered(self, service: str) -> Covered | None:
        """What it says of ``service``; None where nobody was told."""
        return next((one for one in self.services if one.service == service), None)

    def fee_of(self, service: str) -> int | None:
        """The plan's own fee for one unit of ``service``, if it has one."""
        found = self.covered(service)
        return found.fee_cents if found else None

    def class_of(self, key: str) -> BenefitClass:
        """The class called ``key``."""
        return next(one for one in self.classes if one.key == key)

    def year_of(self, day: date) -> date:
        """First day of the benefit year that ``day`` lies in."""
        month, of_month = (int(part) for part in self.year_begins.split("-"))
        begins = date(day.year, month, of_month)
        return begins if begins <= day else begins.replace(year=day.year - 1)

    def next_year(self, day: date) -> date:
        """First day of the benefit year after the one that ``day`` lies in."""
        begins = self.year_of(day)
        return begins.replace(year=begins.year + 1)


class Answered(Book):
    """A payer's answer about one service, asked before the work."""

    service: str
    pays: bool
    on: Day
    through: Day | None = None
    """Last day on which it holds; None: not limited."""


class DoneBefore(Book):
    """A service that this plan has paid toward before."""

    service: str
    tooth: ToothRef | None = None
    on: Day


class Cover(Book):
    """One person's cover under a plan."""

    begins: Day
    ends: Day | None = None
    """Last day of cover; None: no end is known."""
    held_as: Literal["member", "dependant"] = "member"
    continued: bool = False
    """Continued after work has ended."""
    holder_birthday: Day | None = None
    """Of the parent who holds it, for a child's cover; only month and day count."""
    court_says_first: bool = False
    answers: tuple[Answered, ...] = ()
    done_before: tuple[DoneBefore, ...] | None = None
    """None: nobody asked what the plan has paid toward before."""
    basis: Basis

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.ends is not None and self.ends < self.begins:
            raise ValueError(
                f"cover begins {self.begins.isoformat()} and ends {self.ends.isoformat()}: the end comes after"
            )
        return self

    def holds(self, day: date) -> bool:
        """Whether the person is covered on ``day``."""
        return self.begins <= day and (self.ends is None or day <= self.ends)


class Used(Book):
    """What is used up of one benefit year, as somebody told it."""

    year_begins: Day
    """First day of the benefit year it is about."""
    maximum_cents: Price | None = None
    deductible_cents: Price | None = None
    lifetime_cents: Price | None = None
    """All years together. None in any of the three: not told."""
    basis: Basis


class HeldPlan(Book):
    """A person's plan with everything that is known about it."""

    plan: BenefitPlan
    cover: Cover
    used: tuple[Used, ...] = ()

    def used_in(self, year: date) -> Used | None:
        """The newest of what was told about the benefit year that begins on ``year``."""
        told = [one for one in self.used if one.year_begins == year]
        return max(told, key=lambda one: one.basis.on) if told else None

    def newest_used(self) -> Used | None:
        """The newest of everything told."""
        return max(self.used, key=lambda one: one.basis.on, default=None)


def in_order(held: Sequence[HeldPlan], *, child: bool = False) -> tuple[HeldPlan, ...]:
    """The payers in the order in which they pay; see the top of this file. ``child``: the birthday rule decides."""

    def place(one: HeldPlan) -> tuple[bool, bool, bool, tuple[int, int], date]:
        birthday = one.cover.holder_birthday if child else None
        month_and_day = (birthday.month, birthday.day) if birthday else (13, 1) if child else (0, 0)
        return (
            not one.cover.court_says_first,
            one.cover.held_as == "dependant",
            one.cover.continued,
            month_and_day,
            one.cover.begins,
        )

    return tuple(sorted(held, key=place))


def order_questions(held: Sequence[HeldPlan], *, child: bool = False) -> tuple[str, ...]:
    """What has to be asked before the order of the payers is certain."""
    if not child or len(held) < 2 or any(one.cover.court_says_first for one in held):
        return ()
    return tuple(
        f"{one.plan.words}: when is the birthday of the parent who holds it? It decides who pays first."
        for one in held
        if one.cover.held_as == "dependant" and one.cover.holder_birthday is None
    )


def faults_of_plans(held: Sequence[HeldPlan], currency: str) -> tuple[str, ...]:
    """What cannot be, one sentence each: another currency, more used than there is, one plan twice on one day."""
    return (*_each(held, currency), *_overlaps(held))


def _each(held: Iterable[HeldPlan], currency: str) -> Iterator[str]:
    for one in held:
        plan = one.plan
        if plan.currency != currency:
            yield f"{plan.words} counts in {plan.currency} and the office in {currency}: two currencies are not added."
        for used in one.used:
            when = f"{plan.words}, year from {used.year_begins.isoformat()}"
            if plan.year_of(used.year_begins) != used.year_begins:
                yield f"{when}: the plan's year begins on {plan.year_begins}; say what is used from that day on."
            told = (
                ("yearly maximum", plan.yearly_maximum_cents, used.maximum_cents),
                ("deductible", plan.deductible_cents, used.deductible_cents),
                ("lifetime maximum", plan.lifetime_maximum_cents, used.lifetime_cents),
            )
            for what, most, gone in told:
                if most is not None and gone is not None and gone > most:
                    yield (
                        f"{when}: {format_cents(gone)} of the {what} is used and it is {format_cents(most)}: "
                        "one of the two is a slip."
                    )


def _overlaps(held: Sequence[HeldPlan]) -> Iterator[str]:
    for one, other in combinations(held, 2):
        if one.plan.words != other.plan.words:
            continue
        first, second = sorted((one.cover, other.cover), key=lambda cover: cover.begins)
        if first.ends is None or first.ends >= second.begins:
            yield (
                f"{one.plan.words} is there twice from {second.begins.isoformat()} on: one cover ends before the "
                "other begins."
            )
    if sum(one.cover.court_says_first for one in held) > 1:
        yield "A court can name only one plan that pays first, and it is ticked for two."


def private_words(text: str) -> str:
    """The first thing in ``text`` that a payer is never told; empty for none."""
    low = text.casefold()
    return next((word for word in PRIVATE if word in low), "")


@dataclass(frozen=True, slots=True)
class Work:
    """One piece of work that a payer is asked about: a service on one tooth, on several at once, or on none."""

    service: str
    words: str
    teeth: tuple[str, ...]
    """Keys of the teeth."""
    quantity: int
    fee_cents: int
    """What the office charges for it, after discounts and before tax."""
    starts: date
    finishes: date
    looks_only: bool | None
    """None: nobody has said."""
    missing_since: Missing | None = None
    """Only where it replaces a tooth."""
    tooth_words: str = ""

    def __post_init__(self) -> None:
        if self.finishes < self.starts:
            raise ValueError(
                f"{self.words}: it finishes on {self.finishes.isoformat()} and starts on {self.starts.isoformat()}: "
                "the finish comes after the start"
            )
        if self.fee_cents < 0 or self.quantity < 1:
            raise ValueError(f"{self.words}: a fee below zero or less than one piece cannot be asked about")
