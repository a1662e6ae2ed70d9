"""One course made into an option: everything that is said about it, computed once.

:func:`option_of` is a long list of small answers on purpose: each figure of an option has one function that reaches it
and says how.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from planner.rules import outlook
from planner.rules.book import OfficeBook, PriceList
from planner.rules.charging import charges_of
from planner.rules.choices import Override, OwnOption
from planner.rules.compose import PART_CLOSING
from planner.rules.courses import Course, Work
from planner.rules.discounts import Discount, given_on
from planner.rules.duration import Duration, duration_of
from planner.rules.evidence import Language, Line
from planner.rules.gates import after_overrides, judge
from planner.rules.if_then import pieces_for, range_of
from planner.rules.material_needs import treatment_needs
from planner.rules.money import Charge, Estimate, EstimateError, estimate
from planner.rules.money import Line as PricedLine
from planner.rules.mouth import CaseFacts
from planner.rules.own_courses import joined
from planner.rules.ranking import Burden, burden
from planner.rules.results import (
    EstimateShape,
    OptionShape,
    OverrideShape,
    OwnShape,
    PriceLine,
    RangeShape,
    Rank,
    WorkLine,
)
from planner.rules.settling import deposit
from planner.rules.space_told import PLAN_WORDS
from planner.rules.treatments import Combination, Treatment
from planner.rules.units import format_cents
from planner.rules.verdicts import Reason, Verdict, worst
from planner.rules.wishes import answers
from planner.rules.words import either, mm, told

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
        if course.key in self.combinations:
            return self.combinations[course.key]
        if len(course.treatments) < 2:
            return None
        of_these = (each for each in self.combinations.values() if each.treatments == course.treatments)
        known = next((each for each in of_these if not each.later), None)
        return known or joined(self.parts(course), self.combinations)

    def own(self, course: Course) -> OwnOption | None:
        """What a dentist put together and this course carries out, if it is one of those."""
        return next((own for own in self.facts.choices.own_options if own.key == course.key), None)


@dataclass(frozen=True, slots=True)
class Judged:
    """Whether a course may be offered, and what that rests on beside the facts: its time and its fee."""

    time: Duration
    money: EstimateShape
    reasons: tuple[Reason, ...]
    """The most severe first."""
    verdict: Verdict
    """Once the dentist's overrides are weighed."""
    overridden: tuple[tuple[Reason, Override], ...]


def judged(course: Course, desk: Desk, spaces: Iterable[Reason] = ()) -> Judged:
    """The verdict on ``course``; ``spaces`` are the reasons that sharing the space gives for or against it."""
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
            longest_visit=time.longest_visit,
            money_cents=money.compared_cents,
            earliest_finish=time.earliest_finish,
        ),
    )
    reasons = tuple(sorted(reasons, key=lambda reason: -reason.verdict.severity))
    verdict, used = after_overrides(reasons, desk.facts.choices.overrides, course.key, desk.today)
    return Judged(time, money, reasons, verdict, used)


def option_of(course: Course, desk: Desk, spaces: Iterable[Reason] = ()) -> tuple[OptionShape, Burden]:
    """The option of ``course``, not yet ranked, and the burden it is ranked by.

    ``spaces`` are the reasons that sharing the space gives for or against this course.
    """
    parts, combination = desk.parts(course), desk.combination(course)
    answer = judged(course, desk, spaces)
    time, money, reasons, verdict, used = (
        answer.time,
        answer.money,
        answer.reasons,
        answer.verdict,
        answer.overridden,
    )
    struck = next((item.reason for item in desk.facts.choices.struck if item.option == course.key), "")
    undo, undo_words = _undo(course, parts, desk)
    does_not = combination.does_not if combination else parts[0].does_not
    removal = _removal_words(course, parts, desk)
    catalogued = removal if isinstance(removal, Line) else None
    figures = outlook.figures_of(desk.facts, desk.book)
    lasting = outlook.lasting(course, parts, figures)
    weight = burden(course, parts, undo=undo, months=time.months_high, visits=time.visits)
    name, name_es = (combination.name, combination.name_es) if combination else (parts[0].name, parts[0].name_es)
    if course.key == PART_CLOSING or (course.space_plan and course.key.endswith(course.space_plan)):
        which, which_es = PLAN_WORDS[course.space_plan]
        name, name_es = f"{name}: {which}", f"{name_es}: {which_es}"
    own = desk.own(course)
    if own is not None:
        name, name_es = f"{name}: own option {own.number}", f"{name_es}: opción propia {own.number}"
    plain = combination.plain if combination else parts[0].plain
    must = tuple(line for part in parts for line in part.you_must)
    good, bad = outlook.good_sides(parts, combination), outlook.bad_sides(course, parts, desk.facts)
    later = tuple(line for part in parts for line in part.later)
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
        own=OwnShape(own.by, own.on, own.reason, own.changed_from) if own else None,
        work=tuple(_work_line(work, desk) for work in course.work),
        teeth_touched=course.teeth(),
        removal_tenths=max(course.removal().values(), default=0),
        removal_words=removal.words if isinstance(removal, Line) else removal,
        removal_words_es=catalogued.words_es if catalogued else "",
        teeth_reduced=len(course.reduced()),
        undo=undo,
        undo_words=undo_words.words,
        undo_words_es=undo_words.words_es,
        visits=time.visits,
        months_low=time.months_low,
        months_high=time.months_high,
        time_words=time.words,
        minutes=time.minutes,
        estimate=money,
        upkeep=outlook.upkeep(course, parts, figures, desk.prices),
        benefits=outlook.benefits(good),
        risks=outlook.risks(bad),
        wishes=answers(course, desk.facts, desk.treatments),
        rank=_UNRANKED,
        you_must=_said(must),
        you_must_es=_said(must, "es"),
        later=_said(later),
        later_es=_said(later, "es"),
        does_not=_said(does_not),
        does_not_es=_said(does_not, "es"),
        lasts_words=lasting.words,
        lasts_words_es=lasting.words_es,
        materials=tuple(_materials(course, desk)),
        steps=tuple((step.id, step.words) for part in parts for step in part.steps_in_order()),
        space_plan=course.space_plan,
        earliest_finish=time.earliest_finish,
        calendar=time.calendar,
        how=time.how,
        word_sources=(
            *outlook.word_sources(
                plain=plain.keys,
                removal_words=catalogued.keys if catalogued else (),
                undo_words=undo_words.keys,
                does_not=(key for line in does_not for key in line.keys),
                lasts_words=lasting.keys,
                you_must=(key for line in must for key in line.keys),
                later=(key for line in later for key in line.keys),
            ),
            *outlook.figure_sources(course, parts, combination),
        ),
        counted=tuple(
            dict.fromkeys(
                (
                    *lasting.counted,
                    *outlook.counted_in(
                        (
                            plain,
                            *must,
                            *later,
                            *does_not,
                            *good,
                            *bad,
                            undo_words,
                            *([catalogued] if catalogued else ()),
                        )
                    ),
                )
            )
        ),
    )
    return option, weight


def _undo(course: Course, parts: tuple[Treatment, ...], desk: Desk) -> tuple[int, Line]:
    """Whether the course can be undone, and what is said of it.

    An edge that is shortened under an addition does not grow back, whatever else the addition is.
    """
    cut = any(work.irreversible and work.removal and not work.extracted for work in course.work)
    edges = [each for each in desk.treatments.values() if each.works_on == "edges"]
    least = max(parts, key=lambda part: part.undo)
    said = edges[0] if cut and edges and edges[0].undo > least.undo else least
    return said.undo, said.undo_words


def _said(lines: Iterable[Line], language: Language = "en") -> tuple[str, ...]:
    """Each line once, in the order first met."""
    return tuple(dict.fromkeys(line.said(language) for line in lines))


def _removal_words(course: Course, parts: tuple[Treatment, ...], desk: Desk) -> Line | str:
    """What comes off which tooth; where nothing does, what the catalogue says."""
    numbering = desk.facts.numbering
    taken = [
        told("up to {mm} mm off the {tooth}", mm=mm(work.removal), tooth=work.tooth.label(numbering))
        for work in course.work
        if work.removal and work.tooth is not None and not work.fills_place
    ]
    lost = [
        told("the {tooth} is taken out", tooth=work.tooth.label(numbering))
        for work in course.work
        if work.extracted and work.tooth
    ]
    if not taken and not lost:
        return parts[-1].removal_words
    text = "; ".join([*taken, *lost])
    return f"{text[0].upper()}{text[1:]}."


def _work_line(work: Work, desk: Desk) -> WorkLine:
    treatment = desk.treatments[work.treatment]
    name = either(treatment.name, treatment.name_es)
    label = work.tooth.label(desk.facts.numbering) if work.tooth else ""
    if work.extracted:
        words = told("The {tooth} is taken out", tooth=label)
    elif work.fills_place:
        words = told("{treatment} in the place of the {tooth}", treatment=name, tooth=label)
    elif work.treatment == "bonding":
        parts = [
            told(where, mm=mm(amount))
            for amount, where in (
                (work.mesial, "{mm} mm toward the middle"),
                (work.distal, "{mm} mm away from it" if work.mesial else "{mm} mm away from the middle"),
                (work.lengthening, "{mm} mm at the edge"),
            )
            if amount
        ]
        words = told("Resin on the {tooth}", tooth=label) + (f": {', '.join(parts)}" if parts else "")
    elif work.treatment == "reshaping":
        template = (
            "Side of the {tooth} made {mm} mm narrower" if work.narrower else "Edge of the {tooth} made {mm} mm shorter"
        )
        words = told(template, tooth=label, mm=mm(work.removal))
    elif label:
        words = told("{treatment} on the {tooth}", treatment=name, tooth=label)
    else:
        words = name
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
        work.fills_place,
        work.narrower,
    )


NOT_INCLUDED = (
    "Care of disease that is found later, such as a filling.",
    "Anything that is not listed; it is never done without your new signature.",
    "What a benefit plan may pay: ask your plan in writing.",
)
NOT_INCLUDED_ES = (
    "Tratar una enfermedad que se encuentre después, como un empaste.",
    "Lo que no figura en la lista; nunca se hace sin su nueva firma.",
    "Lo que pueda pagar un seguro: pregunte a su seguro por escrito.",
)


def _estimate(course: Course, desk: Desk, combination: Combination | None) -> tuple[EstimateShape, tuple[Reason, ...]]:
    """The estimate of the course; where a price is not typed yet, an empty one and the reason ``ask``."""
    try:
        asked = charges_of(course, desk.facts, desk.prices, desk.treatments, combination)
        services = tuple(charge.service for charge in asked.lines)
        discounts = given_on(course.key, desk.facts.choices.discounts, services)
        main = _priced(asked.lines, desk, discounts)
        span = _span(course, desk, asked.lines)
        beside = _priced(asked.beside if asked.lines else (), desk)
    except (EstimateError, LookupError) as error:
        faults = error.faults if isinstance(error, EstimateError) else (str(error),)
        empty = EstimateShape(
            desk.prices.version, (), 0, 0, (), 0, 0, (), 0, 0, NOT_INCLUDED, faults, not_included_es=NOT_INCLUDED_ES
        )
        # Nobody can set this aside: a course without a fee would stand there for nothing. Lines that lack the
        # same thing say it once.
        words = told("No fee yet: {faults}.", faults="; ".join(dict.fromkeys(faults)))
        return empty, (Reason("price", Verdict.ASK, words, "price list", never_overridable=True),)
    owed = deposit(main, desk.book)
    later, later_words = _later(course, desk, combination)
    return (
        EstimateShape(
            price_list_version=main.price_list_version,
            lines=tuple(price_line(line) for line in main.lines),
            gross_cents=main.gross_cents,
            discount_cents=main.taken_off_cents,
            discount_words=main.taken_off_words,
            tax_cents=main.tax_cents,
            total_cents=main.total_cents,
            beside=tuple(price_line(line) for line in beside.lines),
            compared_cents=main.total_cents + beside.total_cents,
            deposit_cents=owed.cents,
            not_included=(*later_words[:1], *NOT_INCLUDED),
            not_included_es=(*later_words[1:], *NOT_INCLUDED_ES),
            later_cents=later,
            how=(*main.how, *(told("Deposit: {step}", step=step) for step in owed.how)),
            span=span,
            tax_base=desk.book.tax_base,
        ),
        (),
    )


def _later(course: Course, desk: Desk, combination: Combination | None) -> tuple[int, tuple[str, ...]]:
    """What follows years later would cost today, in cents with tax, and that it is no part of this: English, Spanish.

    Raises EstimateError or LookupError where it cannot be priced.
    """
    keys = combination.later if combination else ()
    if not keys:
        return 0, ()
    work = tuple(Work(key, place, fills_place=True) for key in keys for place in course.places_filled)
    after = Course("-then-".join(keys), keys, work, places_filled=course.places_filled)
    asked = charges_of(after, desk.facts, desk.prices, desk.treatments, None)
    cents = _priced(asked.lines, desk).total_cents
    price = f"{desk.book.currency} {format_cents(cents)}"
    names = ", ".join(desk.treatments[key].name for key in keys)
    names_es = ", ".join(desk.treatments[key].name_es for key in keys)
    return cents, (
        f"What comes later: {names}. At today's prices that is {price} more, and it is judged and priced anew then.",
        f"Lo que viene después: {names_es}. A precios de hoy son {price} más; entonces se valora y calcula de nuevo.",
    )


def _span(course: Course, desk: Desk, charges: tuple[Charge, ...]) -> RangeShape | None:
    """The range of the price by what is agreed beforehand; None where nothing is, or nothing is charged.

    Raises EstimateError or LookupError where it cannot be priced.
    """
    pieces = pieces_for(course.key, desk.facts, desk.prices) if charges else ()
    if not pieces:
        return None

    def priced(asked: Sequence[Charge]) -> Estimate:
        given = given_on(course.key, desk.facts.choices.discounts, tuple(charge.service for charge in asked))
        return _priced(tuple(asked), desk, given)

    return range_of(charges, pieces, desk.prices, priced)


def _priced(charges: tuple[Charge, ...], desk: Desk, discounts: tuple[Discount, ...] = ()) -> Estimate:
    return estimate(
        charges,
        desk.prices,
        desk.book.tax_rates,
        desk.today,
        discounts,
        limits=desk.book.discount_limits,
        tax_rounding=desk.book.tax_rounding,
        tax_base=desk.book.tax_base,
    )


def price_line(line: PricedLine) -> PriceLine:
    """A computed line as it is shown and frozen."""
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
        taxed_cents=line.taxed_cents,
        tax_cents=line.tax_cents,
        total_cents=line.total_cents,
        note=line.note,
        words_es=line.words_es,
        tax_reason=line.tax_reason,
        percent=line.percent,
        how=line.how,
    )


def _materials(course: Course, desk: Desk) -> Iterable[tuple[str, Decimal, str]]:
    for part in desk.parts(course):
        for need in treatment_needs(part, course.work, desk.facts, desk.book):
            yield need.words, need.amount, need.unit
