"""The parts a treatment is described by: visits, steps, charges, risks, curves, upkeep.

They are the tables of ``data/treatments/*.toml``; :mod:`planner.rules.treatments` puts them together.
"""

from decimal import Decimal
from functools import cached_property
from typing import Annotated, Literal, NamedTuple, Self, TypeVar

from pydantic import AfterValidator, Field, model_validator

from planner.rules.evidence import Evidence, EvidenceRef, Key, Knowledge, Line, Prose
from planner.rules.settings import Certainty, CountedIn

Flag = Literal[
    "resin",
    "peroxide",
    "acrylic",
    "metal",
    "surgery",
    "ceramic",
    "cuts sound tooth",
    "braces",
    "films",
]
"""What a treatment brings into the mouth or does: the allergy, medicine and consent gates go by these."""

Counted = Literal[
    "teeth",
    "teeth with one surface",
    "teeth with two surfaces or more",
    "teeth worked",
    "arches",
    "patient",
    "places",
    "units",
    "visits",
]
"""What the quantity of a charge is. ``teeth`` are those of this treatment, ``teeth worked`` those bonded or reshaped in
the whole course, ``places`` those filled, ``units`` both together: the carriers and the false teeth of a bridge. A
service whose fee has a first and a further price is counted once, as a whole: its fee shape tells first from
further."""

When = Literal[
    "always", "primary tooth removed", "ridge too thin", "gum disease treated", "shape planned", "resin tolerated"
]
"""Under which finding a charge applies. ``shape planned`` is everything but a broken part made whole by eye."""

AfterWhen = Literal["always", "grinding", "retainer worn"]
"""Under which finding an after-care item applies."""


class Minutes(NamedTuple):
    """Minutes of one block of work: fast, usual, slow."""

    fast: int
    usual: int
    slow: int


class StepMinutes(NamedTuple):
    """Minutes of one step: fast, usual, slow; an office's block minutes scale them."""

    fast: Decimal
    usual: Decimal
    slow: Decimal


_M = TypeVar("_M", Minutes, StepMinutes)


def _ordered(minutes: _M) -> _M:
    if not 0 <= minutes.fast <= minutes.usual <= minutes.slow:
        raise ValueError(f"minutes stand as fast, usual, slow, not as {', '.join(map(str, minutes))}")
    return minutes


class Removal(Knowledge):
    """What is taken off a tooth, at most at one point and as a share of the crown. Both may be absent: nothing."""

    thickness: EvidenceRef | None = None
    """Millimetres, with low and high."""
    edge: EvidenceRef | None = None
    """Millimetres off the edge, where more is taken there."""
    crown: EvidenceRef | None = None
    """Percent of the crown, with low and high."""
    per: Literal["tooth", "carrier", "place"] = "tooth"
    planned: Literal["most", "least"] = "most"
    """Which end a plan goes by. ``least`` only where the least is nothing and a dentist lists every exception."""

    @property
    def planned_tenths(self) -> int:
        """What a plan says comes off at one point, tenths of a millimetre."""
        least, most = self.tenths
        return most if self.planned == "most" else least

    @property
    def tenths(self) -> tuple[int, int]:
        """Least and most at one point in tenths of a millimetre, the high end rounded up to a whole tenth."""
        bounds = [_bounds(row) for row in (self.thickness, self.edge) if row is not None]
        if not bounds:
            return (0, 0)
        return (int(min(low for low, _ in bounds) * 10), -int(-max(high for _, high in bounds) * 10 // 1))

    @property
    def crown_percent(self) -> tuple[int, int]:
        """Low and high share of the crown, percent."""
        if self.crown is None:
            return (0, 0)
        low, high = _bounds(self.crown)
        return (int(low), int(high))


def _bounds(row: Evidence) -> tuple[Decimal, Decimal]:
    return (row.value if row.low is None else row.low, row.value if row.high is None else row.high)


class Visit(Knowledge):
    """One visit, days after the one before it (or after ``counted_from``), and its minutes by block."""

    key: Key
    words: str
    words_es: str
    kind: Literal["work", "review"] = "work"
    """Reviews are not counted among an option's visits of treatment."""
    ends: bool = False
    """The treatment itself goes on up to this review (nights with gel), so that the waits after it count from here."""
    counted_from: str = ""
    """Key of the visit the days are counted from; empty for the one before."""
    min_days: Annotated[int, Field(ge=0)] = 0
    typical_days: Annotated[int, Field(ge=0)] = 0
    wait: EvidenceRef | None = None
    """The row behind ``min_days``, where there is one."""
    laboratory: bool = False
    """Laboratory work must arrive before it."""
    optional: bool = False
    times: EvidenceRef | None = None
    """How often it is repeated (braces); once where it is left out."""
    set_up: Annotated[Minutes, AfterValidator(_ordered)] = Minutes(0, 0, 0)
    per_tooth: Annotated[Minutes, AfterValidator(_ordered)] = Minutes(0, 0, 0)
    """Per tooth, or per place filled."""
    finish: Annotated[Minutes, AfterValidator(_ordered)] = Minutes(0, 0, 0)
    certainty: Certainty
    source: str = ""

    @model_validator(mode="after")
    def _days(self) -> Self:
        if self.typical_days < self.min_days:
            raise ValueError(f"typically {self.typical_days} days is less than the least, {self.min_days}")
        return self


class Timer(Knowledge):
    """Seconds that are watched during a step."""

    what: str
    seconds: EvidenceRef
    least: bool = False
    """At least so long; the maker's time, where it is longer, goes first."""
    most: bool = False
    """Never longer."""

    @property
    def said(self) -> str:
        """``enamel 20–30 s``, ``cure 10 s or more``, ``dentine at most 15 s``."""
        low, high = self.seconds.low, self.seconds.high
        if self.least or self.most:
            return (
                f"{self.what} {'at most ' if self.most else ''}{self.seconds.value} s{' or more' if self.least else ''}"
            )
        if low is None or high is None or low == high:
            return f"{self.what} {self.seconds.value} s"
        return f"{self.what} {low}–{high} s"


class Step(Knowledge):
    """One step of a visit. The steps of a treatment form a graph: ``after`` names what must be finished first."""

    id: Annotated[str, Field(pattern=r"^[A-Z]\d{2}[a-z]?$")]
    words: Prose
    short: Prose = ""
    """In so few words that they are read at arm's length; left out, the words themselves."""
    visit: str
    after: tuple[str, ...] = ()
    others_first: tuple[str, ...] = ()
    """Steps of other treatments, as ``bonding.A04``, that come before it where they are done at the same visit."""
    others_then: tuple[str, ...] = ()
    """Steps of other treatments that come after it where they are done at the same visit."""
    once: str = ""
    """Of steps with the same word here one is done at a visit, whichever treatments ask for it."""
    tooth_by_tooth: bool = False
    """Such steps in a row are done for one tooth from first to last, then for the next."""
    source: str = ""
    """Where the order, or what is done, is known from."""
    uses: tuple[Key, ...] = ()
    """Materials of the office book that are used in it."""
    timers: tuple[Timer, ...] = ()
    block: Literal["set-up", "per tooth", "per surface", "finish"]
    """Which block of minutes the step belongs to; ``per surface`` steps lie inside the per-tooth block."""
    minutes: Annotated[StepMinutes, AfterValidator(_ordered)]
    certainty: Certainty
    """Of the minutes: ``office`` is an estimate to be replaced by the office's own stop-watch."""
    why: Prose = ""
    """Why it stands where it stands."""
    who: Literal["assistant", "dentist", "both", "laboratory", "patient"] = "both"
    record: str = ""
    """What is written down at this step."""
    checks: tuple[str, ...] = ()
    """Ticked one by one on the step sheet."""
    wait_days: Annotated[int, Field(ge=0)] = 0
    """Calendar days that must pass after this step before the next."""
    only_if: str = ""
    """The finding under which the step is done; empty for always."""
    cures: Annotated[int, Field(ge=0, le=20)] = 0
    """How often the light is used, each time the step is done; counted from its words."""
    cures_of: Literal["resin", "adhesive"] = "resin"
    """What is cured, which sets the shortest time."""


class Charge(Knowledge):
    """One line of the estimate that this treatment asks for."""

    service: Key
    """Plain key into the office's price list."""
    counted: Counted
    when: When = "always"
    one_arch: str = ""
    """The service charged instead when only one arch is treated."""
    not_with: tuple[Key, ...] = ()
    """Left out when the course also holds one of these treatments."""
    counted_of: Key | Literal[""] = ""
    """On a combination: whose teeth are counted; empty for those of its last treatment."""
    percent: Annotated[int, Field(gt=0, le=100)] = 100
    """Part of the fee that is asked for, such as half of it for finishing what was built before."""


RiskWhen = Literal["always", "worn mouth", "primary tooth", "dead nerve", "sides narrowed"]
"""Under which finding or work a risk is told: one of a worn mouth, or of enamel off the sides, is left out without."""


class Benefit(Line):
    """Something the treatment does for the person, with a number where a study has one."""

    evidence: tuple[EvidenceRef, ...] = ()


class Risk(Line):
    """Something that may happen, with its number out of 100 where a study has one.

    Without a number it is never called rare: it is printed under "how often is not known".
    """

    evidence: tuple[EvidenceRef, ...] = ()
    of: str = ""
    of_es: str = ""
    """Of whom or what the 100 are: people, teeth, bridges."""
    period: str = ""
    period_es: str = ""
    at_years: Annotated[Decimal, Field(gt=0)] | None = None
    """Another year than the row's own at which its rate is read."""
    serious: bool = False
    when: RiskWhen = "always"

    @model_validator(mode="after")
    def _reference_class(self) -> Self:
        if self._shares() and not (self.of and self.of_es and self.period and self.period_es):
            raise ValueError("a number needs to say of whom or what (of, of_es) and over what time (period, period_es)")
        return self

    def _shares(self) -> tuple[Evidence, ...]:
        return tuple(row for row in self.evidence if row.measure != "amount")

    @property
    def of_100(self) -> tuple[Decimal, Decimal] | None:
        """Lowest and highest of the sources, of 100 who have it happen, unrounded; None when no number is known."""
        happened = [100 - row.kept(self.at_years) for row in self._shares()]
        return (min(happened), max(happened)) if happened else None

    @property
    def frequency(self) -> Literal["common", "sometimes", "rare", "not known"]:
        """``common`` from 10 of 100, ``sometimes`` from 1, ``rare`` below, ``not known`` without a number."""
        if self.of_100 is None:
            return "not known"
        highest = self.of_100[1]
        return "common" if highest >= 10 else "sometimes" if highest >= 1 else "rare"


class Harm(Knowledge):
    """Lasting harm that the ranking of gentleness counts: nerve, root, gum, new decay marks."""

    kind: Literal["nerve", "root", "gum", "decay marks"]
    evidence: EvidenceRef
    per: Literal["tooth", "person", "place"]

    @property
    def of_100(self) -> Decimal:
        """Of 100 teeth, people or places, how many come to this harm, percent."""
        return 100 - self.evidence.kept()


class Curve(Knowledge):
    """Published points of one survival curve, in one setting."""

    key: Key
    kind: Literal["still in place", "never touched", "part"]
    """``part`` is a curve of a single part or event, such as a screw that never came loose."""
    setting: str
    setting_es: str
    counted_in: CountedIn | None = None
    """None where studies of both kinds, or of one that does not say, are taken together."""
    points: Annotated[tuple[EvidenceRef, ...], Field(min_length=1)]
    """Rows read as shares still standing at their year."""
    spread: tuple[EvidenceRef, EvidenceRef] | None = None
    """Yearly rates of the best and the worst dentists or series; the band then takes this instead of the interval."""
    shown: bool = True
    """Printed for the patient."""
    worn: bool = False
    """Counted in worn mouths: printed for those, instead of the others."""

    @model_validator(mode="after")
    def _falling(self) -> Self:
        years = [point.years for point in self.points]
        if None in years or len(set(years)) != len(years):
            raise ValueError(f'the points of the curve "{self.key}" need one year each, all different')
        shares = [share for _, share in self.years_and_shares]
        if sorted(shares, reverse=True) != shares:
            raise ValueError(f'the curve "{self.key}" rises: its points cannot come from one series')
        return self

    @cached_property
    def years_and_shares(self) -> tuple[tuple[Decimal, Decimal], ...]:
        """Year and percent still standing, by year."""
        return tuple(sorted((point.years or Decimal(0), point.kept()) for point in self.points))

    @property
    def last_year(self) -> Decimal:
        """The last year that is published; a letter stops here."""
        return self.years_and_shares[-1][0]

    def said(self, language: str = "en") -> str:
        """The setting in words."""
        return self.setting_es if language == "es" else self.setting


class UpkeepLine(Line):
    """One service that the years will ask for, and how often.

    Exactly one of: ``every_months`` (an interval), ``follows`` (losses on a curve, less those on another, or a share
    of them) or ``over_years`` (a share of 100 whose source names no time, spread evenly over so many years).
    """

    service: Key
    counted: Literal["teeth", "places", "arches", "patient"]
    every_months: EvidenceRef | None = None
    follows: str = ""
    less: str = ""
    share: EvidenceRef | None = None
    """Share of the events on the curve, of 100."""
    rest: bool = False
    """Take what ``share`` leaves."""
    happens: EvidenceRef | None = None
    over_years: Annotated[int, Field(gt=0)] | None = None
    not_with: tuple[Key, ...] = ()
    """Left out when the course also holds one of these treatments."""
    pieces: Annotated[int, Field(ge=1)] = 1
    """How many units of the service one event asks for, such as the three of a bridge."""
    only_in: CountedIn | Literal["worn mouths"] | None = None
    """Taken only where figures are wanted as counted there; None for always."""

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if sum((self.every_months is not None, bool(self.follows), self.over_years is not None)) != 1:
            raise ValueError("an upkeep line has an interval, a curve it follows, or years to spread over: one of them")
        if (self.happens is None) != (self.over_years is None):
            raise ValueError("over_years and happens belong together")
        return self


class Upkeep(Knowledge):
    """What a treatment asks for over the years."""

    curves: tuple[Curve, ...] = ()
    lines: tuple[UpkeepLine, ...] = ()
    grinding_factor: EvidenceRef | None = None
    """How many times as often the curves' events come in somebody who grinds and wears no guard."""

    @model_validator(mode="after")
    def _curves_known(self) -> Self:
        known = [curve.key for curve in self.curves]
        if len(set(known)) != len(known):
            raise ValueError("two curves have the same key")
        for line in self.lines:
            for name in (line.follows, line.less):
                if name and name not in known:
                    raise ValueError(f'the upkeep line "{line.service}" follows the curve "{name}", which is not there')
        return self

    def curve(self, key: str) -> Curve:
        """The curve called ``key``. Raises LookupError when there is none."""
        for curve in self.curves:
            if curve.key == key:
                return curve
        raise LookupError(f'no curve is called "{key}"')

    def lines_in(self, counted_in: CountedIn, worn: bool) -> tuple[UpkeepLine, ...]:
        """The lines for figures as counted there; in worn mouths those of worn mouths, where there are any."""
        where = "worn mouths" if worn and any(line.only_in == "worn mouths" for line in self.lines) else counted_in
        return tuple(line for line in self.lines if line.only_in in (None, where))

    def curve_in(self, kind: str, counted_in: CountedIn, worn: bool) -> Curve | None:
        """The printed curve of ``kind`` that comes nearest: counted there, else of many studies, else elsewhere.

        In a worn mouth it is one counted in worn mouths, where the treatment has any such curve, or none.
        """
        shown = [curve for curve in self.curves if curve.shown]
        of_worn = [curve for curve in shown if curve.worn] if worn else []
        found = [curve for curve in of_worn or shown if curve.kind == kind and curve.worn == bool(of_worn)]
        order: dict[CountedIn | None, int] = {counted_in: 0, None: 1}
        return min(found, key=lambda curve: order.get(curve.counted_in, 2), default=None)


class AfterCare(Line):
    """What must be done after. Its service, where it has one, is charged beside the option, in the compared total."""

    service: str = ""
    counted: Counted = "patient"
    when: AfterWhen = "always"


class CareLine(Knowledge):
    """One line of what the patient takes home after a visit."""

    when: Literal["today", "soon", "later", "ring", "at once"]
    """Today, the next days, from now on, ring us when, and what does not wait for us."""
    words: Annotated[Prose, Field(min_length=1)]
    words_es: Prose = ""
    """Left out until it is translated: then the English line stands, and the sheet says so."""
    visits: tuple[Key, ...] = ()
    """After which visits of the treatment; left out, after each."""


class Renewal(Knowledge):
    """What one renewal costs in tooth, for the account of tooth over a lifetime."""

    follows: str
    """The curve whose losses are the renewals."""
    removal: EvidenceRef
    """Millimetres lost with each renewal, low and high."""
    step_up: EvidenceRef
    """Of 100 renewals, how many lead to the next larger treatment."""
    next_larger: str = "a larger treatment"
    next_larger_es: str = "un tratamiento mayor"
    """What that treatment is, in words."""


class Months(Knowledge):
    """How long it takes, where it takes months."""

    evidence: EvidenceRef

    @property
    def range(self) -> tuple[int, int, int]:
        """Low, usual, high in whole months."""
        low, high = _bounds(self.evidence)
        return (int(low), int(self.evidence.value), int(high))
