"""The priced options of an estimate, line by line as frozen; only tax is summed up here, class by class."""

from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from planner.letters.if_then_said import pieces_said, span_said
from planner.letters.issue import Issue
from planner.letters.options import decided
from planner.letters.payers_said import PayersView, guess_of, payers_view
from planner.letters.sheet import Sheet
from planner.letters.wording import amount, money, percent
from planner.rules.results import CasePlan, OptionShape, PriceLine
from planner.rules.strip import Words
from planner.rules.verdicts import Verdict


@dataclass(frozen=True, slots=True)
class LineView:
    code: str
    words: str
    teeth: str
    quantity: str
    unit: str
    gross: str
    discount: str
    tax_class: str
    total: str


@dataclass(frozen=True, slots=True)
class TaxView:
    tax_class: str
    rate: str
    base: str
    tax: str


@dataclass(frozen=True, slots=True)
class PricedView:
    key: str
    name: str
    lines: tuple[LineView, ...]
    has_discount: bool
    gross: str
    discount: str
    discount_words: tuple[str, ...]
    taxes: tuple[TaxView, ...]
    tax: str
    total: str
    beside: tuple[LineView, ...]
    compared: str
    deposit: str
    not_included: tuple[str, ...]
    decided: tuple[str, ...]
    """What a dentist decided about it."""
    price_list: int
    span: str = ""
    """Between what it lies where work is agreed beforehand; empty where the total is the most."""
    pieces: tuple[str, ...] = ()
    """The work agreed beforehand, a sentence each."""
    payers: PayersView | None = None
    """What payers may add; it is in none of the sums above."""


def priced_options(plan: CasePlan, issue: Issue) -> tuple[OptionShape, ...]:
    """The options that an estimate prices: those named, else all that may be offered and cost something."""
    if issue.priced:
        return tuple(option for option in plan.options if option.key in issue.priced)
    return tuple(
        option
        for option in plan.options
        if option.verdict in (Verdict.OFFER, Verdict.CARE) and not option.struck and option.estimate.lines
    )


def not_included_anywhere(options: tuple[OptionShape, ...]) -> tuple[str, ...]:
    """What none of the options' prices covers: said once for all of them."""
    first, *others = [option.estimate.not_included for option in options] or [()]
    return tuple(line for line in first if all(line in other for other in others))


def tax_reasons(options: tuple[OptionShape, ...]) -> tuple[str, ...]:
    """Why lines are taxed as they are: each class with each reason once and the codes of its lines, in their order."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for option in options:
        for line in (*option.estimate.lines, *option.estimate.beside):
            if reason := line.tax_reason.strip().rstrip("."):
                found.setdefault((line.tax_class, reason), {})[line.code] = None
    return tuple(f"{_class(of)} ({', '.join(codes)}): {reason}" for (of, reason), codes in found.items())


def priced(
    plan: CasePlan, option: OptionShape, words: Words, language: str, *, said: tuple[str, ...] = ()
) -> PricedView:
    """One option's price as it was frozen; what it does not cover is left to those who ``said`` it already."""
    estimate = option.estimate
    return PricedView(
        key=option.key,
        name=option.name_es if language == "es" and option.name_es else option.name,
        lines=tuple(_line(line, words, language) for line in estimate.lines),
        has_discount=bool(estimate.discount_cents),
        gross=amount(estimate.gross_cents, language),
        discount=f"−{amount(estimate.discount_cents, language)}" if estimate.discount_cents else "",
        discount_words=estimate.discount_words,
        taxes=_taxes(estimate.lines, language),
        tax=amount(estimate.tax_cents, language),
        total=money(estimate.total_cents, plan.currency, language),
        beside=tuple(_line(line, words, language) for line in estimate.beside),
        compared=money(estimate.compared_cents, plan.currency, language),
        deposit=money(estimate.deposit_cents, plan.currency, language) if estimate.deposit_cents else "",
        not_included=tuple(line for line in estimate.not_included if line not in said),
        decided=decided(option, language),
        price_list=estimate.price_list_version,
        span=span_said(option, plan.currency, language),
        pieces=pieces_said(option, words, plan.currency, language),
    )


def priced_with_payers(sheet: Sheet, options: tuple[OptionShape, ...], said: tuple[str, ...]) -> tuple[PricedView, ...]:
    """The price of each of ``options``, with what payers may add where the paper carries a guess."""
    plan, found = sheet.plan, []
    guess = guess_of(sheet.issue.payer_guess, plan)
    for option in options:
        price = priced(plan, option, sheet.words, sheet.language, said=said)
        guessed = guess.of(option.key) if guess is not None else None
        if guessed is not None:
            price = replace(price, payers=payers_view(guessed, plan.currency, sheet.language))
        found.append(price)
    return tuple(found)


def _line(line: PriceLine, words: Words, language: str) -> LineView:
    return LineView(
        code=line.code,
        words=line.words if line.percent == 100 else _part_of_fee(line),
        teeth="; ".join(words.label(tooth) for tooth in line.teeth),
        quantity=str(line.quantity),
        unit=amount(line.unit_cents, language),
        gross=amount(line.gross_cents, language),
        discount=f"−{amount(line.discount_cents, language)}" if line.discount_cents else "",
        tax_class=_class(line.tax_class),
        total=amount(line.net_cents, language),
    )


def _part_of_fee(line: PriceLine) -> str:
    return _("%(words)s, at %(percent)d %% of the fee") % {"words": line.words, "percent": line.percent}


def _class(tax_class: str) -> str:
    return {"looks only": _("looks only"), "reconstructive": _("reconstructive")}.get(tax_class, tax_class)


def _taxes(lines: tuple[PriceLine, ...], language: str) -> tuple[TaxView, ...]:
    classes = dict.fromkeys((line.tax_class, line.tax_percent) for line in lines)
    return tuple(
        TaxView(
            _class(tax_class),
            percent(rate),
            amount(
                sum(line.tax_base_cents for line in lines if (line.tax_class, line.tax_percent) == (tax_class, rate)),
                language,
            ),
            amount(
                sum(line.tax_cents for line in lines if (line.tax_class, line.tax_percent) == (tax_class, rate)),
                language,
            ),
        )
        for tax_class, rate in classes
    )
