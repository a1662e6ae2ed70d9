"""The guess that stands beside an estimate, frozen: for every option the whole price and the three figures under it.

Made from the frozen price lines only, so that it can never say another price than the estimate does.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from pydantic import TypeAdapter, ValidationError

from planner.rules.benefit_plans import HeldPlan, Missing, Told, Work
from planner.rules.benefit_tests import Dates
from planner.rules.benefits import BenefitGuess, PatientPart, benefit_guess, patient_part
from planner.rules.book import Book, Day
from planner.rules.cents import spread
from planner.rules.facts import ToothRef
from planner.rules.mouth import AbsentTooth, CaseFacts
from planner.rules.results import CasePlan, OptionShape, PriceLine, stable_json
from planner.rules.teeth import Numbering, Tooth

FORMAT: Final = "leastways-payer-guess"
VERSION: Final = 1
SAID: Final = (
    "A guess, not a promise. You owe the whole price, whatever a payer adds. "
    "Never put off work that your dentist says cannot wait."
)
SAID_ES: Final = (
    "Es una estimación, no una promesa. Usted debe el precio completo, pague lo que pague un tercero. "
    "No aplace nunca un trabajo que según su dentista no puede esperar."
)


class Claim(Book):
    """What the desk knows about the work that a payer would be asked about."""

    starts: Day | None = None
    """None: the day of the plan."""
    finishes: Day | None = None
    """None: each option's own earliest finish."""
    looks_only: tuple[ToothRef, ...] = ()
    """Teeth on which the payer would call the work looks only, though it is taxed as reconstructive."""


@dataclass(frozen=True, slots=True)
class OptionGuess:
    """The guess for one option."""

    option: str
    name: str
    name_es: str
    starts: date
    finishes: date
    part: PatientPart
    guess: BenefitGuess


@dataclass(frozen=True, slots=True)
class GuessSheet:
    """Everything that is said about payers beside one estimate."""

    made_on: date
    plan_sha256: str
    currency: str
    payers: tuple[str, ...]
    """In the order in which they pay."""
    options: tuple[OptionGuess, ...]
    format: str = FORMAT
    version: int = VERSION

    def of(self, key: str) -> OptionGuess | None:
        """The guess for the option called ``key``, if it has one."""
        return next((one for one in self.options if one.option == key), None)

    def to_json(self) -> bytes:
        """UTF-8 JSON with sorted keys: the same input gives the same bytes."""
        return stable_json(self)


_ADAPTER: Final = TypeAdapter(GuessSheet)


def thaw_guess(content: bytes) -> GuessSheet:
    """The sheet that :meth:`GuessSheet.to_json` wrote. Raises ValueError for anything else."""
    try:
        sheet = _ADAPTER.validate_json(content)
    except ValidationError as error:
        raise ValueError(f"this is no frozen guess: {error.errors()[0]['msg']}") from None
    if (sheet.format, sheet.version) != (FORMAT, VERSION):
        raise ValueError(f"this is {sheet.format} version {sheet.version}; only {FORMAT} version {VERSION} is read")
    return sheet


def guess_sheet(
    plan: CasePlan,
    plan_sha256: str,
    options: Sequence[str],
    held: Sequence[HeldPlan],
    today: date,
    *,
    claim: Claim | None = None,
    other_open: Sequence[Work] = (),
    child: bool = False,
    off_percent: Mapping[Told, int] | None = None,
) -> GuessSheet:
    """The guess for the ``options`` of a plan that cost something.

    Raises BenefitError with every fault of the payers' plans, ValueError for a finish before the start.
    """
    dates = Dates(today, plan.patient_birth_date)
    asked = claim or Claim()
    found, payers = [], [one.plan.words for one in held]
    for option in plan.options:
        if option.key not in options or not option.estimate.lines:
            continue
        starts = asked.starts or plan.planned_on
        finishes = asked.finishes or max(option.earliest_finish or starts, starts)
        guess = benefit_guess(
            works_of(plan, option, starts, finishes, asked.looks_only),
            held,
            dates,
            currency=plan.currency,
            other_open=other_open,
            child=child,
            off_percent=off_percent,
        )
        part = patient_part(guess, option.estimate.total_cents)
        found.append(OptionGuess(option.key, option.name, option.name_es, starts, finishes, part, guess))
    return GuessSheet(today, plan_sha256, plan.currency, tuple(payers), tuple(found))


def works_of(
    plan: CasePlan, option: OptionShape, starts: date, finishes: date, looks_only: Sequence[Tooth] = ()
) -> tuple[Work, ...]:
    """The price lines of an option as a payer looks at them: tooth by tooth where a line counts teeth."""
    absent = missing_teeth(plan)
    return tuple(
        Work(
            service=line.service,
            words=line.words,
            teeth=tuple(tooth.key for tooth in teeth),
            quantity=quantity,
            fee_cents=cents,
            starts=starts,
            finishes=finishes,
            looks_only=_looks(line.tax_class, teeth, looks_only),
            missing_since=next((absent[tooth.key] for tooth in teeth if tooth.key in absent), None),
            tooth_words=", ".join(tooth.written(Numbering(plan.numbering)) for tooth in teeth),
        )
        for line in option.estimate.lines
        for teeth, quantity, cents in _pieces(line)
    )


def missing_teeth(plan: CasePlan) -> dict[str, Missing]:
    """Since when each absent tooth of the case has been missing, by the tooth's key."""
    numbering = Numbering(plan.facts.get("numbering", Numbering.ISO))
    facts = CaseFacts.model_validate(plan.facts, context={"numbering": numbering})
    return {one.tooth.key: _since(one) for one in facts.examination.absent}


def _pieces(line: PriceLine) -> tuple[tuple[tuple[Tooth, ...], int, int], ...]:
    """Teeth, number and cents of each piece; discounts are spread over them to the cent."""
    if len(line.teeth) > 1 and line.quantity == len(line.teeth):
        cents = spread(line.net_cents, (1,) * line.quantity)
        return tuple(((tooth,), 1, part) for tooth, part in zip(line.teeth, cents, strict=True))
    return ((line.teeth, line.quantity, line.net_cents),)


def _looks(tax_class: str, teeth: Sequence[Tooth], looks_only: Sequence[Tooth]) -> bool:
    return tax_class == "looks only" or any(tooth in looks_only for tooth in teeth)


def _since(absent: AbsentTooth) -> Missing:
    if absent.cause == "never formed":
        return "always"
    return absent.lost_on if absent.cause == "lost" and absent.lost_on else "not known"
