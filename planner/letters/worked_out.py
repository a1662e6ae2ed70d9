"""How each total of an estimate was worked out, step by step, as it was frozen: nothing is reckoned here."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from planner.letters.options import name_of
from planner.letters.wording import as_on_paper, money
from planner.rules.results import CasePlan, EstimateShape, OptionShape, PriceLine


def order_said(option: OptionShape) -> str:
    """In which order the total of ``option`` was worked out: tax after the discounts or before them, as frozen."""
    if option.estimate.tax_base == "before discounts":
        return _(
            "1 number × fee, 2 rounding of the line, 3 package, 4 tax on what is left of each line then, 5 discount on "
            "a line, 6 discount on the whole, spread over the lines, 7 total, 8 what it may come to if work agreed "
            "beforehand is needed. The office takes tax before discounts."
        )
    return _(
        "1 number × fee, 2 rounding of the line, 3 package, 4 discount on a line, 5 discount on the whole, spread over "
        "the lines, 6 tax on what is left of each line, 7 total, 8 what it may come to if work agreed beforehand is "
        "needed. The office takes tax after discounts."
    )


@dataclass(frozen=True, slots=True)
class LineSteps:
    """One line and the steps that led to its amount."""

    name: str
    steps: str


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """One option: its lines, and how they come to the total."""

    name: str
    lines: tuple[LineSteps, ...]
    steps: tuple[str, ...]
    total: str


def worked_out(plan: CasePlan, option: OptionShape, language: str) -> WorkedOut:
    """The steps of ``option``'s total, amounts grouped by thousands as everywhere on paper."""
    estimate = option.estimate
    return WorkedOut(
        name=name_of(option, language),
        lines=tuple(_line(line, language) for line in (*estimate.lines, *estimate.beside)),
        steps=tuple(as_on_paper(step, language) for step in (*estimate.how, *_span(estimate))),
        total=money(estimate.total_cents, plan.currency, language),
    )


def _span(estimate: EstimateShape) -> tuple[str, ...]:
    return (f"8 {'; '.join(estimate.span.how)}",) if estimate.span is not None else ()


def _line(line: PriceLine, language: str) -> LineSteps:
    return LineSteps(f"{line.words} ({line.code})", as_on_paper("; ".join(line.how), language))
