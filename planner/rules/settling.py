"""What follows from an estimate's total: how long it holds, the deposit, what is earned, refunds, amendments.

A deposit is held as credit and is no income until a stage of the work has earned it.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction
from math import lcm
from zoneinfo import ZoneInfo

from planner.rules.book import EarningStage, OfficeBook
from planner.rules.cents import half_up, percent_of, spread
from planner.rules.money import Estimate, Line
from planner.rules.teeth import Tooth
from planner.rules.units import format_cents
from planner.rules.words import in_cents, told


def valid_through(shown_on: date, days: int) -> date:
    """The last day, to its end in the office's time zone, on which an estimate shown on ``shown_on`` holds.

    Raises ValueError for fewer than one day.
    """
    if days < 1:
        raise ValueError(f"an estimate that holds {days} days holds not at all; write 1 or more")
    return shown_on + timedelta(days=days)


def holds_at(last_day: date, instant: datetime, time_zone: str) -> bool:
    """Whether ``instant`` lies before the end of ``last_day`` as the office's own clock tells it.

    Raises ValueError for an instant without a time zone of its own.
    """
    if instant.tzinfo is None:
        raise ValueError(f"{instant.isoformat()} does not say in which time zone it is")
    return instant.astimezone(ZoneInfo(time_zone)).date() <= last_day


@dataclass(frozen=True, slots=True)
class Deposit:
    cents: int
    how: tuple[str, ...]


def deposit(estimate: Estimate, book: OfficeBook) -> Deposit:
    """The deposit before work begins, in cents, by the office's rule; taxes are left out of it.

    Lines that cost the office money at once (wax-up, index, try-on) and the laboratory cost inside other lines in full,
    a share of the rest, rounded half-up to the office's step, at most a share of the whole; none for small estimates.
    """
    whole = estimate.net_cents
    if whole < book.deposit_none_below_cents:
        return Deposit(0, (told("no deposit below {amount}", amount=in_cents(book.deposit_none_below_cents)),))
    at_once = sum(line.net_cents for line in estimate.lines if line.service in book.deposit_in_full)
    lab = 0
    if book.deposit_laboratory_in_full:
        others = (line for line in estimate.lines if line.service not in book.deposit_in_full)
        lab = sum(min(line.lab_cents, line.net_cents) for line in others)
    rest = whole - at_once - lab
    exact = at_once + lab + percent_of(rest, book.deposit_percent)
    rounded = half_up(exact, book.deposit_round_cents)
    most = percent_of(whole, book.deposit_most_percent)
    how = [
        told(
            "made or ordered at once {at_once} + laboratory inside other lines {lab}",
            at_once=in_cents(at_once),
            lab=in_cents(lab),
        ),
        told(
            "+ {percent} % of the rest {rest} = {amount}",
            percent=book.deposit_percent,
            rest=in_cents(rest),
            amount=in_cents(half_up(exact)),
        ),
        told("to the nearest {step} = {amount}", step=in_cents(book.deposit_round_cents), amount=in_cents(rounded)),
    ]
    if rounded > most:
        rounded = int(most // book.deposit_round_cents) * book.deposit_round_cents
        how.append(
            told(
                "at most {percent} % of {whole}: {amount}",
                percent=book.deposit_most_percent,
                whole=in_cents(whole),
                amount=in_cents(rounded),
            )
        )
    return Deposit(rounded, tuple(how))


def earned_by_stages(net_cents: int, stages: Sequence[EarningStage], reached: Sequence[str]) -> int:
    """Cents earned of a line made outside the mouth once the stages ``reached`` are done.

    The stages share the line by largest remainder, so that all of them together earn it exactly. Raises ValueError for
    a stage the office has not named, or shares that do not come to 100.
    """
    if sum(stage.percent for stage in stages) != 100:
        raise ValueError("the shares of the stages must come to 100 percent")
    unknown = sorted(set(reached) - {stage.stage for stage in stages})
    if unknown:
        known = ", ".join(stage.stage for stage in stages)
        raise ValueError(f'"{unknown[0]}" is no stage here; there are: {known}')
    scale = lcm(*(Fraction(stage.percent).denominator for stage in stages))
    weights = [int(Fraction(stage.percent) * scale) for stage in stages]
    parts = zip(stages, spread(net_cents, weights), strict=True)
    return sum(part for stage, part in parts if stage.stage in reached)


def earned_by_teeth(net_cents: int, teeth: int, finished: int) -> int:
    """Cents earned of a line of direct work with ``finished`` of its ``teeth`` finished.

    Raises ValueError when more are finished than the line has.
    """
    return _earned_in_parts(net_cents, teeth, finished, "teeth")


def earned_by_months(net_cents: int, months: int, passed: int) -> int:
    """Cents earned of a course after ``passed`` of its ``months``, in equal parts over the whole plan.

    Months beyond the plan earn nothing more. Raises ValueError for negative months or a course without any.
    """
    return _earned_in_parts(net_cents, months, min(passed, months), "months")


def _earned_in_parts(net_cents: int, parts: int, done: int, what: str) -> int:
    if parts < 1 or not 0 <= done <= parts:
        raise ValueError(f"{done} of {parts} {what} cannot be done")
    return sum(spread(net_cents, (1,) * parts)[:done])


@dataclass(frozen=True, slots=True)
class Settlement:
    """How paid and earned stand against each other, in cents. At most one of refund and balance is above zero."""

    refund_cents: int
    balance_due_cents: int
    how: str

    @property
    def ask_first(self) -> bool:
        """A balance due is never demanded automatically: the office manager speaks with the patient first."""
        return self.balance_due_cents > 0


def settle(paid_cents: int, earned_cents: int, bills_owed_cents: int = 0, charged_cents: int = 0) -> Settlement:
    """Refund = paid − earned − bills passed on that are owed already − charges beside; below zero it is a balance due.

    Raises ValueError for an amount below zero.
    """
    if min(paid_cents, earned_cents, bills_owed_cents, charged_cents) < 0:
        raise ValueError("paid, earned and owed are amounts of nothing or more")
    left = paid_cents - earned_cents - bills_owed_cents - charged_cents
    beside = f" − charged beside {format_cents(charged_cents)}" if charged_cents else ""
    how = (
        f"paid {format_cents(paid_cents)} − earned {format_cents(earned_cents)} − bills owed "
        f"{format_cents(bills_owed_cents)}{beside} = {format_cents(left)}"
    )
    return Settlement(max(left, 0), max(-left, 0), how)


def drawn(cents: int, left: Sequence[int]) -> tuple[int, ...]:
    """How much of each of ``left`` goes when ``cents`` are drawn from them in their order, the first one first.

    Raises ValueError for amounts below zero, or for more than there is.
    """
    if cents < 0 or any(one < 0 for one in left):
        raise ValueError("amounts drawn from are of nothing or more")
    if cents > sum(left):
        raise ValueError(f"{format_cents(cents)} cannot be drawn from {format_cents(sum(left))}")
    parts = []
    for one in left:
        parts.append(min(one, cents))
        cents -= parts[-1]
    return tuple(parts)


@dataclass(frozen=True, slots=True)
class Account:
    """How an accepted plan stands: agreed, paid, earned. All in cents, taxes included."""

    agreed_cents: int
    """What is to be done or done, at its price now; a bill passed on at what was billed."""
    paid_cents: int
    earned_cents: int
    bills_cents: int
    """Bills passed on that have come."""
    deposit_cents: int
    deposit_waived: bool
    charged_cents: int = 0
    """Charged beside the work and not waived, such as a fee for cancelling late: owed at once."""

    def __post_init__(self) -> None:
        amounts = (self.agreed_cents, self.paid_cents, self.earned_cents, self.bills_cents, self.deposit_cents)
        if min(*amounts, self.charged_cents) < 0:
            raise ValueError("agreed, paid, earned, billed, charged and deposit are amounts of nothing or more")
        if self.earned_cents + self.bills_cents > self.agreed_cents:
            raise ValueError("more is earned than was agreed")

    @property
    def to_earn_cents(self) -> int:
        return self.agreed_cents - self.earned_cents - self.bills_cents

    @property
    def held_cents(self) -> int:
        """Paid and not earned yet: a debt to the patient."""
        return self.settlement.refund_cents

    @property
    def owed_cents(self) -> int:
        """Earned or charged beside, and not paid yet."""
        return self.settlement.balance_due_cents

    @property
    def deposit_due_cents(self) -> int:
        """What is wanting of the deposit; nothing once it is paid or waived."""
        return 0 if self.deposit_waived else max(self.deposit_cents - self.paid_cents, 0)

    @property
    def settlement(self) -> Settlement:
        """What would be owed to whom if the plan ended now."""
        return settle(self.paid_cents, self.earned_cents, self.bills_cents, self.charged_cents)


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of work: a service on one tooth, or once without a tooth."""

    service: str
    tooth: Tooth | None

    def words(self, lines: Sequence[Line]) -> str:
        """The unit in the words of the first of ``lines`` that has it."""
        words = next((line.words for line in lines if line.service == self.service), self.service)
        return words if self.tooth is None else f"{words}, {self.tooth.name}"


MORE_REMOVED = "more is removed from a tooth than was agreed"
NEW_RISK = "a material brings a risk that was not spoken of"


@dataclass(frozen=True, slots=True)
class Amendment:
    """How an accepted estimate changed."""

    difference_cents: int
    """New total less old total."""
    added: tuple[Unit, ...]
    dropped: tuple[Unit, ...]
    new_signature: tuple[str, ...]
    """Why a new signature is wanted, one sentence each; empty when none is."""


def amendment(
    before: Estimate,
    after: Estimate,
    book: OfficeBook,
    *,
    more_removal: bool = False,
    new_material_risk: bool = False,
) -> Amendment:
    """What changed between two estimates of one plan, and whether the patient has to sign again.

    New work on another tooth needs a signature even when the price falls; so does a change of money, up or down, of
    more than the office's limit. Whether more is removed or a material brings a new risk is the dentist's to say.
    """
    old, new = Counter(_units(before.lines)), Counter(_units(after.lines))
    added, dropped = tuple((new - old).elements()), tuple((old - new).elements())
    known_teeth = {unit.tooth for unit in old}
    known_work = {unit.service for unit in old}
    reasons = [f"new tooth: {unit.tooth.name}" for unit in added if unit.tooth and unit.tooth not in known_teeth]
    reasons += [f"new kind of work: {unit.words(after.lines)}" for unit in added if unit.service not in known_work]
    if more_removal:
        reasons.append(MORE_REMOVED)
    if new_material_risk:
        reasons.append(NEW_RISK)
    difference = after.total_cents - before.total_cents
    most = max(percent_of(before.total_cents, book.amendment_most_percent), Fraction(book.amendment_most_cents))
    if abs(difference) > most:
        reasons.append(f"the price changes by {format_cents(difference)}, more than {format_cents(half_up(most))}")
    return Amendment(difference, added, dropped, tuple(dict.fromkeys(reasons)))


def _units(lines: Sequence[Line]) -> Iterator[Unit]:
    for line in lines:
        yield from (Unit(line.service, tooth) for tooth in (line.teeth or (None,) * line.quantity))
