"""One course made into an option: everything that is said about it, computed once.

:func:`option_of` is a long list of small answers on purpose: each figure of an option has one function that reaches it
and says how.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from planner.rules.book import OfficeBook, PriceList
from planner.rules.charging import charges_of
from planner.rules.compose import PART_CLOSING
from planner.rules.courses import Course, Work
from planner.rules.duration import duration_of
from planner.rules.evidence import Evidence, Line
from planner.rules.evidence import whole as whole_of_100
from planner.rules.gates import after_overrides, judge
from planner.rules.materials import Built, forecast
from planner.rules.money import Charge, Estimate, EstimateError, estimate
from planner.rules.money import Line as PricedLine
from planner.rules.mouth import CaseFacts, Grinding
from planner.rules.ranking import Burden, burden
from planner.rules.results import (
    Chance,
    CurvePoint,
    EstimateShape,
    OptionShape,
    OverrideShape,
    PriceLine,
    Rank,
    UpkeepShape,
    WorkLine,
)
from planner.rules.settling import deposit
from planner.rules.survival import survival_at
from planner.rules.treatment_parts import RiskWhen
from planner.rules.treatments import Combination, Treatment
from planner.rules.units import format_cents, format_mm
from planner.rules.upkeep import Counts, cost_over_years, demands
from planner.rules.verdicts import Reason, Verdict, worst
from planner.rules.wishes import answers

UPKEEP_YEARS = 10
CURVE_YEARS = (1, 2, 5, 10)
_UNRANKED = Rank(0, 0, 0, Decimal(0), 0, 0, 0, 0, 0, "")


@dataclass(frozen=True, slots=True)
class Desk:
    """What every option of one case is computed from."""

    facts: CaseFacts
    book: OfficeBook
    today: date
    prices: PriceList
    treatments: Mapping[str, Treatment]
    combinations: Mapping[str, Combination]

    def parts(self, course: Course) -> tuple[Treatment, ...]:
        """The treatments of a course, in calendar order."""
        return tuple(self.treatments[key] for key in course.treatments)

    def combination(self, course: Course) -> Combination | None:
        """The combination a course is made of, if it is made of several treatments."""
        return next((each for each in self.combinations.values() if each.treatments == course.treatments), None)


def option_of(course: Course, desk: Desk, spaces: Iterable[Reason] = ()) -> tuple[OptionShape, Burden]:
    """The option of ``course``, not yet ranked, and the burden it is ranked by.

    ``spaces`` are the reasons that sharing the space gives for or against this course.
    """
    parts, combination = desk.parts(course), desk.combination(course)
    time = duration_of(course, parts, combination, desk.facts, desk.book, desk.today)
    money, unpriced = _estimate(course, desk, combination)
    reasons = (
        *spaces,
        *unpriced,
        *judge(
            course,
            desk.facts,
            desk.book,
            desk.today,
            desk.treatments,
            visits=time.visits,
            months=time.months_high,
            money_cents=money.compared_cents,
            earliest_finish=time.earliest_finish,
        ),
    )
    reasons = tuple(sorted(reasons, key=lambda reason: -reason.verdict.severity))
    verdict, used = after_overrides(reasons, desk.facts.choices.overrides, course.key, desk.today)
    struck = next((item.reason for item in desk.facts.choices.struck if item.option == course.key), "")
    undo = max((part.undo for part in parts), default=0)
    undo_words = next(part.undo_words for part in parts if part.undo == undo)
    does_not = combination.does_not if combination else parts[0].does_not
    removal = _removal(course)
    weight = burden(course, parts, undo=undo, months=time.months_high, visits=time.visits)
    first = parts[0] if combination is None else None
    name, name_es = (combination.name, combination.name_es) if combination else (parts[0].name, parts[0].name_es)
    if course.space_plan and course.key.endswith(course.space_plan):
        name, name_es = f"{name}: {course.space_plan.replace('-', ' ')}", name_es
    if course.key == PART_CLOSING:
        name, name_es = f"{name}: closing a part", f"{name_es}: cerrar una parte"
    plain = combination.plain if combination else parts[0].plain
    option = OptionShape(
        key=course.key,
        name=name,
        name_es=name_es,
        plain=plain.words,
        plain_es=plain.words_es,
        treatments=course.treatments,
        verdict=Verdict.NO if struck else verdict,
        computed_verdict=worst(reasons),
        reasons=reasons,
        overrides=tuple(OverrideShape(reason.gate, made.reason, made.by, made.on) for reason, made in used),
        struck=struck,
        work=tuple(_work_line(work, desk) for work in course.work),
        teeth_touched=course.teeth(),
        removal_tenths=removal,
        removal_words=_removal_words(course, parts, desk) if first is None or removal else parts[0].removal_words.words,
        teeth_reduced=sum(work.irreversible for work in course.work),
        undo=undo,
        undo_words=undo_words.words,
        visits=time.visits,
        months_low=time.months_low,
        months_high=time.months_high,
        time_words=time.words,
        minutes=time.minutes,
        estimate=money,
        upkeep=_upkeep(course, parts, desk),
        benefits=tuple(_benefits(parts, combination)),
        risks=tuple(_risks(parts, desk.facts)),
        wishes=answers(course, desk.facts, desk.treatments),
        rank=_UNRANKED,
        you_must=_lines(line.words for part in parts for line in part.you_must),
        later=_lines(line.words for part in parts for line in part.later),
        does_not=_lines(line.words for line in does_not),
        lasts_words=" ".join(part.life.words for part in parts),
        materials=tuple(_materials(course, desk)),
        steps=tuple((step.id, step.words) for part in parts for step in part.steps_in_order()),
        space_plan=course.space_plan,
        earliest_finish=time.earliest_finish,
        how=time.how,
        word_sources=tuple(
            _word_sources(
                plain=(plain,),
                removal_words=() if removal else (parts[-1].removal_words,),
                undo_words=(undo_words,),
                does_not=does_not,
                lasts_words=tuple(part.life for part in parts),
                you_must=tuple(line for part in parts for line in part.you_must),
                later=tuple(line for part in parts for line in part.later),
            )
        )
        + tuple(_figure_sources(course, parts, combination)),
    )
    return option, weight


def _word_sources(**fields: Iterable[Line]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """The evidence keys behind each field's words, for the fields whose words carry a number from a row."""
    for name, lines in fields.items():
        keys = dict.fromkeys(key for line in lines for key in line.keys)
        if keys:
            yield name, tuple(keys)


def _figure_sources(
    course: Course, parts: tuple[Treatment, ...], combination: Combination | None
) -> Iterator[tuple[str, tuple[str, ...]]]:
    """The evidence keys behind what is taken off a tooth and how long it takes, where the catalogue says so."""
    cut = {work.treatment for work in course.work if work.removal or work.crown_percent[1]}
    rows = (
        row
        for part in parts
        if part.key in cut
        for row in (part.removal.thickness, part.removal.edge, part.removal.crown)
        if row is not None
    )
    if keys := tuple(dict.fromkeys(row.key for row in rows)):
        yield "removal_tenths", keys
    months = [combination.months] if combination and combination.months else [part.months for part in parts]
    if keys := tuple(dict.fromkeys(found.evidence.key for found in months if found is not None)):
        yield "time_words", keys


def _lines(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))


def _removal(course: Course) -> int:
    """Most that is taken off any one tooth, tenths of a millimetre."""
    total: dict[object, int] = {}
    for work in course.work:
        if work.tooth is not None and not work.fills_place:
            total[work.tooth] = total.get(work.tooth, 0) + work.removal
    return max(total.values(), default=0)


def _removal_words(course: Course, parts: tuple[Treatment, ...], desk: Desk) -> str:
    numbering = desk.facts.numbering
    taken = [
        f"{format_mm(work.removal)} mm off the {work.tooth.label(numbering)}"
        for work in course.work
        if work.removal and work.tooth is not None and not work.fills_place
    ]
    lost = [f"the {work.tooth.label(numbering)} is taken out" for work in course.work if work.extracted and work.tooth]
    if not taken and not lost:
        return parts[-1].removal_words.words
    text = "; ".join([*(f"up to {item}" for item in taken), *lost])
    return f"{text[0].upper()}{text[1:]}."


def _work_line(work: Work, desk: Desk) -> WorkLine:
    treatment = desk.treatments[work.treatment]
    label = work.tooth.label(desk.facts.numbering) if work.tooth else ""
    if work.extracted:
        words = f"The {label} is taken out"
    elif work.fills_place:
        words = f"{treatment.name} in the place of the {label}"
    elif work.treatment == "bonding":
        parts = [
            f"{format_mm(amount)} mm {where}"
            for amount, where in (
                (work.mesial, "on the side toward the middle"),
                (work.distal, "on the side away from the middle"),
                (work.lengthening, "at the edge"),
            )
            if amount
        ]
        words = f"Resin on the {label}" + (f": {', '.join(parts)}" if parts else "")
    elif work.treatment == "reshaping":
        words = f"Edge of the {label} made {format_mm(work.removal)} mm shorter"
    elif label:
        words = f"{treatment.name} on the {label}"
    else:
        words = treatment.name
    return WorkLine(
        work.treatment,
        work.tooth,
        words,
        work.mesial,
        work.distal,
        work.lengthening,
        work.removal,
        work.crown_percent[0],
        work.crown_percent[1],
        work.surfaces,
        work.irreversible,
        work.extracted,
    )


NOT_INCLUDED = (
    "Care of disease that is found later, such as a filling.",
    "Anything that is not listed; it is never done without your new signature.",
    "What a benefit plan may pay: ask your plan in writing.",
)


def _estimate(course: Course, desk: Desk, combination: Combination | None) -> tuple[EstimateShape, tuple[Reason, ...]]:
    """The estimate of the course; where a price is not typed yet, an empty one and the reason ``ask``."""
    try:
        asked = charges_of(course, desk.facts, desk.prices, desk.treatments, combination)
        main = _priced(asked.lines, desk)
        beside = _priced(asked.beside if asked.lines else (), desk)
    except (EstimateError, LookupError) as error:
        faults = error.faults if isinstance(error, EstimateError) else (str(error),)
        empty = EstimateShape(desk.prices.version, (), 0, 0, (), 0, 0, (), 0, 0, NOT_INCLUDED, faults)
        # Nobody can set this aside: a course without a fee would stand there for nothing.
        words = f"No fee yet: {'; '.join(faults)}."
        return empty, (Reason("price", Verdict.ASK, words, "price list", never_overridable=True),)
    owed = deposit(main, desk.book)
    return (
        EstimateShape(
            price_list_version=main.price_list_version,
            lines=tuple(_price_line(line) for line in main.lines),
            gross_cents=main.gross_cents,
            discount_cents=main.taken_off_cents,
            discount_words=main.taken_off_words,
            tax_cents=main.tax_cents,
            total_cents=main.total_cents,
            beside=tuple(_price_line(line) for line in beside.lines),
            compared_cents=main.total_cents + beside.total_cents,
            deposit_cents=owed.cents,
            not_included=NOT_INCLUDED,
            how=(*main.how, *(f"Deposit: {step}" for step in owed.how)),
        ),
        (),
    )


def _priced(charges: tuple[Charge, ...], desk: Desk) -> Estimate:
    return estimate(charges, desk.prices, desk.book.tax_rates, desk.today)


def _price_line(line: PricedLine) -> PriceLine:
    return PriceLine(
        service=line.service,
        code=line.code,
        words=line.words,
        teeth=line.teeth,
        quantity=line.quantity,
        unit_cents=line.unit_cents,
        gross_cents=line.gross_cents,
        discount_cents=line.taken_off_cents,
        net_cents=line.net_cents,
        tax_class=line.tax_class,
        tax_percent=line.tax_percent,
        tax_cents=line.tax_cents,
        total_cents=line.total_cents,
        note=line.note,
    )


def _upkeep(course: Course, parts: tuple[Treatment, ...], desk: Desk) -> UpkeepShape:
    counted = [
        (
            part,
            Counts(
                teeth=len(course.teeth(part.key)),
                places=sum(work.fills_place and work.treatment == part.key for work in course.work),
                arches=2,
            ),
        )
        for part in parts
    ]
    grinding = desk.facts.examination.bite.grinding is Grinding.CONFIRMED
    asked = demands(counted, grinding)
    try:
        found = cost_over_years(asked, UPKEEP_YEARS, lambda key: desk.prices.service(key).price)
    except LookupError as error:
        return UpkeepShape(UPKEEP_YEARS, 0, 0, 0, (), (), (), f"Not computed: {error}.")
    curve = tuple(_curve(parts))
    far = (
        f"From year {found.extrapolated_from} on the rates are carried beyond what was published."
        if found.extrapolated_from
        else ""
    )
    return UpkeepShape(
        years=UPKEEP_YEARS,
        total_cents=found.total_cents,
        low_cents=found.low_cents,
        high_cents=found.high_cents,
        by_service=tuple((item.words, item.number.quantize(Decimal("0.01")), item.cents) for item in found.services),
        curve=curve,
        sources=tuple(row.key for row in found.rows),
        words=far,
        how=(
            *(
                f"{item.words} {item.number.quantize(Decimal('0.01'))} times in {UPKEEP_YEARS} years: "
                f"{format_cents(item.cents)}"
                for item in found.services
            ),
            f"In 8 of 10 such courses between {format_cents(found.low_cents)} and {format_cents(found.high_cents)}.",
        ),
    )


def _curve(parts: tuple[Treatment, ...]) -> Iterable[CurvePoint]:
    """Of 100, how many are still in place and how many were never touched, for the last part that has such curves."""
    shown = [part for part in parts if any(curve.shown for curve in part.upkeep.curves)]
    if not shown:
        return
    curves = [curve for curve in shown[-1].upkeep.curves if curve.shown]
    kept = next((curve for curve in curves if curve.kind == "still in place"), None)
    untouched = next((curve for curve in curves if curve.kind == "never touched"), None)
    for years in CURVE_YEARS:
        values = [survival_at(curve, years) if curve else None for curve in (kept, untouched)]
        if any(value and not value.extrapolated for value in values):
            whole = [None if value is None or value.extrapolated else whole_of_100(value.share) for value in values]
            yield CurvePoint(years, whole[0], whole[1], extrapolated=False)


def _benefits(parts: tuple[Treatment, ...], combination: Combination | None) -> Iterable[Chance]:
    """What the course does, then its other good sides; those of a part alone need not hold for the whole."""
    for line in dict.fromkeys(line for part in parts for line in part.does):
        yield Chance("benefit", line.words, evidence=", ".join(line.keys))
    own = combination.benefits if combination else ()
    for benefit in own or dict.fromkeys(benefit for part in parts for benefit in part.benefits):
        yield Chance("benefit", benefit.words, evidence=_keys(benefit, benefit.evidence))


def _risks(parts: tuple[Treatment, ...], facts: CaseFacts) -> Iterable[Chance]:
    for part in parts:
        for risk in part.risks:
            if not _applies(risk.when, facts):
                continue
            share = risk.of_100
            yield Chance(
                kind=risk.frequency,
                words=risk.words,
                of_100_low=share[0].quantize(Decimal("0.1")) if share else None,
                of_100_high=share[1].quantize(Decimal("0.1")) if share else None,
                period=risk.period,
                group=risk.of,
                evidence=_keys(risk, risk.evidence),
                certainty=", ".join(dict.fromkeys(row.certainty for row in risk.evidence)),
            )


def _keys(line: Line, rows: Iterable[Evidence]) -> str:
    """The evidence keys of a benefit or risk: of its share and of the numbers in its words."""
    return ", ".join(dict.fromkeys([*(row.key for row in rows), *line.keys]))


def _applies(when: RiskWhen, facts: CaseFacts) -> bool:
    """Whether a risk is to be told: only a finding that is recorded as absent keeps it back."""
    teeth = facts.examination.teeth
    match when:
        case "worn mouth":
            return any(tooth.wear != 0 for tooth in teeth)
        case "primary tooth":
            return any(tooth.tooth.is_primary for tooth in teeth)
        case "always":
            return True


def _materials(course: Course, desk: Desk) -> Iterable[tuple[str, Decimal, str]]:
    for key in course.treatments:
        built: list[Built] = []
        if key == "bonding":
            for work in course.work:
                found = desk.facts.tooth(work.tooth) if work.treatment == key and work.tooth else None
                if (
                    found is not None
                    and found.width
                    and found.length
                    and (work.mesial or work.distal or work.lengthening)
                ):
                    built.append(Built.of(work, found.width, found.length))
        teeth = len(course.teeth(key))
        arches = 2 if key in ("whitening", "braces") else 1
        for need in forecast(desk.book, key, desk.treatments[key].materials, built, teeth=teeth, arches=arches):
            yield need.words, need.amount, need.unit
