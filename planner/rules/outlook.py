"""What an option may come to: good sides, risks, how long it lasts, what the years ask for; each number by its source.

Everything here is said to the patient. Published shares are printed as they are published; nothing beyond the last
published year is.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from planner.rules.book import OfficeBook, PriceList
from planner.rules.charging import arches_of
from planner.rules.courses import Course
from planner.rules.evidence import Evidence, Line, whole
from planner.rules.gate_engine import gate_book
from planner.rules.gate_facts import guard_worn
from planner.rules.mouth import CaseFacts, Grinding
from planner.rules.results import Chance, CountedShape, CurvePoint, UpkeepShape, UpkeepSoFar
from planner.rules.settings import CountedIn
from planner.rules.survival import CurveYear, all_without_event, curve_by_year, row_year, survival_at
from planner.rules.teeth import Tooth
from planner.rules.treatment_parts import Benefit, Curve, Risk, RiskWhen
from planner.rules.treatments import Combination, Treatment
from planner.rules.units import format_cents
from planner.rules.upkeep import Counts, Demand, cost_over_years, demands

UPKEEP_YEARS = 10
"""The one horizon that options are compared over."""
CURVE_YEARS = (1, 2, 5, UPKEEP_YEARS)
"""Years at which published curves are read for print, as far as they reach."""

KeysOf = tuple[str, tuple[str, ...]]
"""A field of the option and the evidence keys behind its words."""


# ---------------------------------------------------------------- whose figures hold


@dataclass(frozen=True, slots=True)
class Figures:
    """Whose figures a mouth is reckoned with."""

    counted_in: CountedIn = "general practice"
    worn_curves: bool = False
    """Curves are read as counted in worn mouths."""
    worn_events: bool = False
    """Repairs and renewals are counted as in worn mouths."""
    grinding: bool = False
    """Ground for certain, and no guard is worn."""

    @property
    def said(self) -> str:
        """Whose figures these are, as a sentence."""
        where = {"general practice": "general practices", "university clinics": "university clinics"}[self.counted_in]
        worn = "of worn mouths where there are any, else " if self.worn_events else ""
        return f"Figures {worn}of {where}; a treatment with figures of one kind only keeps those."


def figures_for(facts: CaseFacts, counted_in: CountedIn = "general practice", worn: bool | None = None) -> Figures:
    """The figures that hold for this mouth; ``worn`` where the dentist says so or not, None for what was found.

    Found worn: dentine shows on some tooth. Somebody who grinds for certain is shown the curves of worn mouths too, and
    is reckoned with their events unless a guard is worn.
    """
    settings = gate_book().settings
    bite = facts.examination.bite
    shows = any(each.wear is not None and each.wear >= settings["worn_grade"] for each in facts.examination.teeth)
    confirmed = bite.grinding is Grinding.CONFIRMED
    unguarded = confirmed and guard_worn(bite, settings["guard_nights"]) is not True
    if worn is not None:
        return Figures(counted_in, worn, worn, unguarded)
    return Figures(counted_in, shows or confirmed, shows, unguarded)


def figures_of(facts: CaseFacts, book: OfficeBook) -> Figures:
    """The figures of a case: what is usual in the office and was found, unless the dentist decided otherwise."""
    choice = facts.choices.figures
    if choice is None:
        return figures_for(facts, book.figures_counted_in)
    return figures_for(facts, choice.counted_in or book.figures_counted_in, choice.worn)


# ---------------------------------------------------------------- good sides and risks


def good_sides(parts: tuple[Treatment, ...], combination: Combination | None) -> tuple[Line, ...]:
    """What the course does, then its other good sides; those of a part alone need not hold for the whole."""
    own = combination.benefits if combination else ()
    return (
        *(line for part in parts for line in part.does),
        *(own or (benefit for part in parts for benefit in part.benefits)),
    )


def benefits(good: Iterable[Line]) -> tuple[Chance, ...]:
    """The good sides, each once."""
    found = (
        Chance(
            "benefit",
            each.words,
            evidence=_keys(each, each.evidence if isinstance(each, Benefit) else ()),
            words_es=each.words_es,
        )
        for each in good
    )
    return tuple(dict.fromkeys(found))


def bad_sides(course: Course, parts: tuple[Treatment, ...], facts: CaseFacts) -> tuple[Risk, ...]:
    """Every risk of every part that this mouth and this work can have."""
    return tuple(risk for part in parts for risk in part.risks if _applies(risk.when, course, facts))


def risks(bad: Iterable[Risk]) -> tuple[Chance, ...]:
    """The bad sides, each once."""
    found: dict[str, Chance] = {}
    for risk in bad:
        share = risk.of_100
        chance = Chance(
            kind=risk.frequency,
            words=risk.words,
            of_100_low=share[0].quantize(Decimal("0.1")) if share else None,
            of_100_high=share[1].quantize(Decimal("0.1")) if share else None,
            period=risk.period,
            group=risk.of,
            evidence=_keys(risk, risk.evidence),
            certainty=", ".join(dict.fromkeys(row.certainty for row in risk.evidence)),
            serious=risk.serious,
            words_es=risk.words_es,
            period_es=risk.period_es,
            group_es=risk.of_es,
        )
        found.setdefault(risk.words, chance)
    return tuple(found.values())


def _keys(line: Line, rows: Iterable[Evidence] = ()) -> str:
    """The evidence keys of a benefit or risk: of its share and of the numbers in its words."""
    return ", ".join(dict.fromkeys([*(row.key for row in rows), *line.keys]))


def _applies(when: RiskWhen, course: Course, facts: CaseFacts) -> bool:
    """Whether a risk is to be told: only a finding that is recorded as absent keeps it back."""
    teeth = facts.examination.teeth
    match when:
        case "worn mouth":
            return any(tooth.wear != 0 for tooth in teeth)
        case "sides narrowed":
            return any(work.narrower for work in course.work)
        case "dead nerve":
            return any(tooth.root_treated is not False or tooth.nerve == "negative" for tooth in teeth)
        case "primary tooth":
            return any(tooth.tooth.is_primary for tooth in teeth)
        case "always":
            return True


# ---------------------------------------------------------------- how long it lasts


@dataclass(frozen=True, slots=True)
class Lasting:
    """How long a course lasts, in words, with the evidence keys behind the numbers."""

    words: str
    words_es: str
    keys: tuple[str, ...]
    counted: tuple[CountedShape, ...]
    """The sentences among the words that count how many of 100."""


def counted_in(lines: Iterable[Line]) -> tuple[CountedShape, ...]:
    """The sentences of ``lines`` that count how many of 100, each once."""
    found = (CountedShape(one.words, one.words_es, one.of_100) for line in lines for one in line.counting)
    return tuple(dict.fromkeys(found))


def lasting(course: Course, parts: tuple[Treatment, ...], figures: Figures) -> Lasting:
    """What each part says, and for several teeth what that means for one person with all of them."""
    words, words_es = [part.life.words for part in parts], [part.life.words_es for part in parts]
    keys = [key for part in parts for key in part.life.keys]
    counted = [*counted_in(part.life for part in parts)]
    for part in parts:
        teeth = len(course.teeth(part.key))
        curve = part.upkeep.curve_in("never touched", figures.counted_in, figures.worn_curves)
        if curve is None or teeth < 2:
            continue
        years = curve.last_year
        point = survival_at(curve, years)
        # Three teeth at 79 of 100 each: 49 people without anything on any of them, 51 with something.
        none = whole(all_without_event(point.share, teeth))
        when = format(years.normalize(), "f")
        both = CountedShape(
            f"Of 100 people with {teeth} such teeth, about {none} need nothing done to any of them in {when} years, "
            f"and {100 - none} need something done to at least one.",
            f"De 100 personas con {teeth} dientes así, más o menos {none} no necesitan nada en ninguno en {when} "
            f"años, y {100 - none} necesitan algo en al menos uno.",
            of_100=(),
        )
        counted.append(both)
        words += [both.words, "This is reckoned as if each tooth fared by itself."]
        words_es += [both.words_es, "Se calcula como si cada diente fuera por su cuenta."]
        keys += [row.key for row in point.source]
    return Lasting(" ".join(words), " ".join(words_es), tuple(dict.fromkeys(keys)), tuple(counted))


# ---------------------------------------------------------------- what the years ask for


class Counted(Protocol):
    """A piece of work as it is counted: of a course, or of an option."""

    @property
    def treatment(self) -> str: ...
    @property
    def tooth(self) -> Tooth | None: ...
    @property
    def fills_place(self) -> bool: ...


def asked_for(parts: Iterable[Treatment], work: Iterable[Counted], figures: Figures) -> tuple[Demand, ...]:
    """What the years ask for after ``work``, made of the treatments ``parts``."""
    done = tuple(work)
    counted = []
    for part in parts:
        own = [each for each in done if each.treatment == part.key]
        if part.fills_place and not any(each.fills_place for each in own):
            continue  # no place to fill: nothing is made, and the years ask for nothing
        teeth = len({each.tooth for each in own if each.tooth is not None and not each.fills_place})
        counted.append((part, Counts(teeth, sum(each.fills_place for each in own), arches_of(part))))
    return demands(counted, figures.grinding, figures.counted_in, figures.worn_events)


def upkeep(course: Course, parts: tuple[Treatment, ...], figures: Figures, prices: PriceList) -> UpkeepShape:
    """Checks, repairs and renewals over ten years at today's prices, and the published curves behind them."""
    asked = asked_for(parts, course.work, figures)
    try:
        found = cost_over_years(asked, UPKEEP_YEARS, lambda key: prices.service(key).price)
    except LookupError as error:
        return UpkeepShape(UPKEEP_YEARS, 0, 0, 0, (), (), (), f"Not computed: {error}.")
    kept, untouched = curves_of(parts, figures)
    words, words_es = _settings(kept, untouched)
    far = found.extrapolated_from
    return UpkeepShape(
        years=UPKEEP_YEARS,
        total_cents=found.total_cents,
        low_cents=found.low_cents,
        high_cents=found.high_cents,
        by_service=tuple((item.words, item.number.quantize(Decimal("0.01")), item.cents) for item in found.services),
        curve=tuple(_points(kept, untouched)),
        sources=tuple(dict.fromkeys(row.key for row in (*found.rows, *_rows(kept), *_rows(untouched)))),
        words=f"From year {far} on the rates are carried beyond what was published." if far else "",
        words_es=f"Desde el año {far} las tasas se alargan más allá de lo publicado." if far else "",
        curve_words=words,
        curve_words_es=words_es,
        so_far=tuple(
            UpkeepSoFar(each.year, each.so_far_cents, each.low_cents, each.high_cents, each.extrapolated)
            for each in found.years
        ),
        how=(
            figures.said,
            *(
                f"{item.words} {item.number.quantize(Decimal('0.01'))} times in {UPKEEP_YEARS} years: "
                f"{format_cents(item.cents)}"
                for item in found.services
            ),
            f"In 8 of 10 such courses between {format_cents(found.low_cents)} and {format_cents(found.high_cents)}.",
        ),
    )


def curves_of(parts: tuple[Treatment, ...], figures: Figures) -> tuple[Curve | None, Curve | None]:
    """The curves "still in place" and "never touched" of the last part that has any."""
    for part in reversed(parts):
        kept, untouched = (
            part.upkeep.curve_in(kind, figures.counted_in, figures.worn_curves)
            for kind in ("still in place", "never touched")
        )
        if kept or untouched:
            return kept, untouched
    return None, None


def _points(kept: Curve | None, untouched: Curve | None) -> Iterator[CurvePoint]:
    """Of 100, how many are still in place and how many were never touched, as far as was published."""
    by_year = [curve_by_year(curve, UPKEEP_YEARS) if curve else () for curve in (kept, untouched)]
    for years in CURVE_YEARS:
        known = [each[years] if each and not each[years].extrapolated else None for each in by_year]
        if known != [None, None]:
            shares = [None if each is None else whole(each.share) for each in known]
            yield CurvePoint(years, shares[0], shares[1], False, _ends(known[0]), _ends(known[1]))


def _ends(each: CurveYear | None) -> tuple[int, int] | None:
    if each is None or each.low is None or each.high is None:
        return None
    return whole(each.low), whole(each.high)


def _settings(kept: Curve | None, untouched: Curve | None) -> tuple[str, str]:
    """Where the curves were counted and on how many, in both languages: two settings are never passed off as one."""
    one = kept or untouched
    if one is None:
        return "", ""
    if kept is None or untouched is None or kept.setting == untouched.setting:
        return f"Counted in: {_where(one)}.", f"Contado en: {_where(one, 'es')}."
    return (
        f"Still in place was counted in: {_where(kept)}. Never touched was counted in: {_where(untouched)}.",
        f"Los que siguen en su sitio, contados en: {_where(kept, 'es')}. "
        f"Los nunca tocados, en: {_where(untouched, 'es')}.",
    )


def _where(curve: Curve, language: str = "en") -> str:
    number = max(curve.points, key=row_year).n
    return curve.said(language) if number is None else f"{curve.said(language)} (n = {_grouped(number, language)})"


def _grouped(number: int, language: str) -> str:
    return f"{number:,}".replace(",", ".") if language == "es" else f"{number:,}"


def _rows(curve: Curve | None) -> tuple[Evidence, ...]:
    return curve.points if curve else ()


# ---------------------------------------------------------------- where the numbers in words come from


def word_sources(**fields: Iterable[str]) -> Iterator[KeysOf]:
    """The evidence keys behind each field's words, for the fields whose words carry a number from a row."""
    for name, keys in fields.items():
        if known := tuple(dict.fromkeys(keys)):
            yield name, known


def figure_sources(course: Course, parts: tuple[Treatment, ...], combination: Combination | None) -> Iterator[KeysOf]:
    """The evidence keys behind what is taken off a tooth and how long it takes, where the catalogue says so."""
    cut = {work.treatment for work in course.work if work.removal or work.crown_percent[1]}
    rows = (
        row
        for part in parts
        if part.key in cut
        for row in (part.removal.thickness, part.removal.edge, part.removal.crown)
        if row is not None
    )
    months = [combination.months] if combination and combination.months else [part.months for part in parts]
    yield from word_sources(
        removal_tenths=(row.key for row in rows),
        time_words=(found.evidence.key for found in months if found is not None),
    )
