"""What ``plan_case`` answers: the case plan, ready to be shown, frozen and printed.

Everything a person reads on a page or paper is in here, computed once. Lengths end in ``_tenths`` (of a millimetre),
money in ``_cents``, shares in ``_percent``; teeth are keys that :attr:`CasePlan.teeth` explains. Every figure that a
reader may doubt carries ``how``: the steps by which it was reached, one plain sentence each.
"""

import dataclasses
import hashlib
import json
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any, Literal

from pydantic import BaseModel

from planner.rules.book import TaxBase
from planner.rules.teeth import Tooth
from planner.rules.verdicts import Reason, Verdict

FORMAT = "leastways-plan"
VERSION = 1

How = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToothWords:
    """How one tooth is written, wherever it is mentioned."""

    name: str
    iso: str
    universal: str
    palmer: str
    label: str
    """Name and both numbers, the office's numbering first."""


@dataclass(frozen=True, slots=True)
class ToothShape:
    """One tooth of a space plan, before and after."""

    tooth: Tooth
    role: str
    width_tenths: int
    length_tenths: int
    mesial_tenths: int
    distal_tenths: int
    right_tenths: int
    """Share on the side toward the patient's right."""
    left_tenths: int
    lengthening_tenths: int
    shortening_tenths: int
    width_after_tenths: int
    length_after_tenths: int
    ratio_percent: Decimal
    ratio_after_percent: Decimal
    word: str
    """``good``, ``acceptable`` or ``limit``; empty for a tooth that is not touched."""
    word_reason: str = ""


@dataclass(frozen=True, slots=True)
class GapShape:
    right_tooth: Tooth
    left_tooth: Tooth
    width_tenths: int
    to_right_tooth_tenths: int
    to_left_tooth_tenths: int
    left_open_tenths: int


@dataclass(frozen=True, slots=True)
class SpacePlanShape:
    """One way of sharing the gaps."""

    key: str
    names: tuple[str, ...]
    """Which goals it is best at: ``fewest teeth``, ``best proportion``, ``smallest shares``, ``closing a part``."""
    offered: bool
    teeth: tuple[ToothShape, ...]
    gaps: tuple[GapShape, ...]
    removed_tenths: int
    comfort: int
    misfit: int
    touching: int
    material_tenths: int
    largest_share_tenths: int
    misfit_parts: tuple[tuple[str, int], ...]
    """Each band that is left, in words, with its weight."""
    not_offered_because: str = ""
    """Why a plan that was computed is not offered, in words; empty where it is."""


@dataclass(frozen=True, slots=True)
class SpaceShape:
    """What sharing the spaces came to."""

    verdict: str
    """``shared``, ``film question``, ``measure first``, ``measure again``, ``orthodontics first``, ``impossible`` or
    ``nothing to share``."""
    sentence: str
    plans: tuple[SpacePlanShape, ...] = ()
    chosen: str = ""
    """Key of the plan that the bonding options carry out."""
    conflicts: tuple[tuple[str, ...], ...] = ()
    movement: tuple[tuple[Tooth, Tooth, int], ...] = ()
    """Smallest movement that makes it fit: gap and tenths, minus = close."""
    comfortable_movement: tuple[tuple[Tooth, Tooth, int], ...] = ()
    questions: tuple[str, ...] = ()
    remeasure: tuple[str, ...] = ()
    request: tuple[str, ...] = ()
    """What an orthodontist is asked for, sentence by sentence; empty where no movement is asked for."""
    how: How = ()


@dataclass(frozen=True, slots=True)
class WorkLine:
    """What is done to one tooth, place, arch or the mouth, in words and numbers."""

    treatment: str
    tooth: Tooth | None
    words: str
    mesial_tenths: int = 0
    distal_tenths: int = 0
    lengthening_tenths: int = 0
    removal_tenths: int = 0
    crown_percent_low: int = 0
    crown_percent_high: int = 0
    surfaces: int = 0
    irreversible: bool = False
    extracted: bool = False
    """The tooth is taken out."""
    fills_place: bool = False
    """A false tooth or implant crown comes to stand here."""
    narrower: bool = False
    """What is removed comes off a side, not off the edge."""


@dataclass(frozen=True, slots=True)
class MinutesShape:
    mean: int
    eight_in_ten: int
    nine_in_ten: int
    booked: int
    visits: int
    """Visits of treatment, the review not counted."""
    how: How = ()


@dataclass(frozen=True, slots=True)
class PriceLine:
    service: str
    code: str
    words: str
    teeth: tuple[Tooth, ...]
    quantity: int
    unit_cents: int
    gross_cents: int
    discount_cents: int
    net_cents: int
    tax_class: str
    tax_percent: Decimal
    tax_cents: int
    total_cents: int
    note: str = ""
    words_es: str = ""
    tax_reason: str = ""
    percent: int = 100
    """Part of the fee that is asked for."""
    how: How = ()
    """How it was worked out, step by step."""
    taxed_cents: int | None = None
    """What the tax is on; None as frozen before it was kept, and then it is what is left."""

    @property
    def tax_base_cents(self) -> int:
        """What the tax is on."""
        return self.net_cents if self.taxed_cents is None else self.taxed_cents


@dataclass(frozen=True, slots=True)
class FoundShape:
    """A piece of work agreed beforehand in case it is needed."""

    words: str
    """The agreed sentence."""
    service: str
    code: str
    service_words: str
    service_words_es: str
    teeth: tuple[Tooth, ...]
    quantity: int
    """At most so many, over all of these teeth."""
    tax_class: str
    tax_reason: str = ""
    alone_cents: int = 0
    """What the whole comes to if this is needed, all of it, and nothing else is."""


@dataclass(frozen=True, slots=True)
class RangeShape:
    """What a price may come to, in cents: a span because of pieces that are not known yet, never of slow hands."""

    low_cents: int
    planned_cents: int
    high_cents: int
    """Not more than this without a new signature."""
    found: tuple[FoundShape, ...]
    how: How = ()


@dataclass(frozen=True, slots=True)
class EstimateShape:
    price_list_version: int
    lines: tuple[PriceLine, ...]
    gross_cents: int
    discount_cents: int
    discount_words: tuple[str, ...]
    tax_cents: int
    total_cents: int
    beside: tuple[PriceLine, ...]
    """Lines that belong to the option's compared total but are shown apart, such as a night guard."""
    compared_cents: int
    """Total with the lines beside it."""
    deposit_cents: int
    not_included: tuple[str, ...]
    how: How = ()
    not_included_es: tuple[str, ...] = ()
    later_cents: int = 0
    """What follows years later would cost today; in no total of this."""
    tax_base: TaxBase = "after discounts"
    """Whether tax was taken after the discounts that persons gave, or before them."""
    span: RangeShape | None = None
    """None where nothing was agreed beforehand with its price: then the total is the most."""

    @property
    def most_cents(self) -> int:
        """What it comes to at most without a new signature."""
        return self.span.high_cents if self.span is not None else self.total_cents


@dataclass(frozen=True, slots=True)
class CurvePoint:
    years: int
    still_in_place_of_100: int | None
    untouched_of_100: int | None
    extrapolated: bool
    still_in_place_range: tuple[int, int] | None = None
    """Lowest and highest by the source's own interval, or its best and worst; None where it prints neither."""
    untouched_range: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class UpkeepSoFar:
    """What upkeep has come to by the end of a year, and the band in which 8 of 10 such courses lie."""

    year: int
    cents: int
    low_cents: int
    high_cents: int
    extrapolated: bool


@dataclass(frozen=True, slots=True)
class UpkeepShape:
    years: int
    total_cents: int
    low_cents: int
    high_cents: int
    by_service: tuple[tuple[str, Decimal, int], ...]
    """Service, expected number over the years, expected cents."""
    curve: tuple[CurvePoint, ...]
    sources: tuple[str, ...]
    """Evidence keys."""
    words: str = ""
    how: How = ()
    words_es: str = ""
    curve_words: str = ""
    """Where the curve's two columns were counted; they may come from different settings."""
    curve_words_es: str = ""
    so_far: tuple[UpkeepSoFar, ...] = ()
    """By year, from the first; empty where upkeep was not computed."""


@dataclass(frozen=True, slots=True)
class Chance:
    """A benefit or risk with its number, where there is one."""

    kind: str
    """``benefit``, ``common`` (10 of 100 or more), ``sometimes`` (1 or more), ``rare`` or ``not known``."""
    words: str
    of_100_low: Decimal | None = None
    of_100_high: Decimal | None = None
    period: str = ""
    group: str = ""
    """Of what: ``teeth``, ``people``, ``bridges`` ..."""
    evidence: str = ""
    """Evidence keys, with commas between them."""
    certainty: str = ""
    serious: bool = False
    words_es: str = ""
    period_es: str = ""
    group_es: str = ""


@dataclass(frozen=True, slots=True)
class CountedShape:
    """A sentence of the option's words that says of how many of 100 something holds."""

    words: str
    words_es: str
    of_100: tuple[tuple[int, int], ...]
    """Lowest and highest of each share it says, in order; empty where the sentence itself says the others too."""


@dataclass(frozen=True, slots=True)
class WishAnswer:
    rank: int
    words: str
    met: bool | None
    """None when the wish has no targets, so that it cannot be computed."""
    why: str


@dataclass(frozen=True, slots=True)
class Rank:
    """Where the option stands among the gentlest, and what decided."""

    place: int
    surgery: int
    teeth_reduced: int
    lasting_harm_of_100: Decimal
    removed_beyond_tenths: int
    teeth_touched: int
    """As the option's; so whitening alone counts none, which is what makes it gentle."""
    undo: int
    months: int
    visits: int
    decided_by: str
    """Why it stands behind the one before it, in words."""
    beaten_by: tuple[str, ...] = ()
    """Options that are better or equal on every count and better on one."""


@dataclass(frozen=True, slots=True)
class OverrideShape:
    gate: str
    reason: str
    by: str
    on: date


@dataclass(frozen=True, slots=True)
class CalendarRow:
    """One step of a course: when it can be at the earliest, and must be at the latest for the day that is wished."""

    key: str
    words: str
    words_es: str
    earliest: date
    latest: date | None
    """None where no day is wished for, as with the slack."""
    slack_days: int | None
    """Calendar days between the two; below zero it cannot be."""


@dataclass(frozen=True, slots=True)
class CalendarShape:
    """The steps of a course in working order, reckoned forward from today and back from the day that is wished for."""

    rows: tuple[CalendarRow, ...]
    finish: date
    """The last review included, when everything goes on the shortest waits."""
    wish_by: date | None
    possible: bool | None
    """Whether all can be done by the wished-for day; None without one."""
    sentence: str
    notes: tuple[str, ...] = ()


Standing = Literal["well", "between", "least well", "alike", "not known"]


@dataclass(frozen=True, slots=True)
class MatterShape:
    """How an option stands on one thing that matters to the patient, among all that may still come to be done."""

    key: str
    weight: str
    """``a lot`` or ``a little``."""
    standing: Standing
    words: str
    words_es: str


@dataclass(frozen=True, slots=True)
class OwnShape:
    """By whom an option was put together, when and why."""

    by: str
    on: date
    reason: str
    changed_from: str = ""
    """Key of the option it was changed from."""


@dataclass(frozen=True, slots=True)
class OptionShape:
    """One course of treatment with everything that is said about it."""

    key: str
    name: str
    name_es: str
    plain: str
    plain_es: str
    treatments: tuple[str, ...]
    verdict: Verdict
    computed_verdict: Verdict
    """Before overrides and strikings."""
    reasons: tuple[Reason, ...]
    overrides: tuple[OverrideShape, ...]
    struck: str
    work: tuple[WorkLine, ...]
    teeth_touched: tuple[Tooth, ...]
    """The teeth that are cut, added to or taken out; whitening and braces by themselves touch none."""
    removal_tenths: int
    """Most on any one tooth."""
    removal_words: str
    teeth_reduced: int
    undo: int
    undo_words: str
    visits: int
    months_low: int
    months_high: int
    time_words: str
    minutes: MinutesShape
    estimate: EstimateShape
    upkeep: UpkeepShape
    benefits: tuple[Chance, ...]
    risks: tuple[Chance, ...]
    wishes: tuple[WishAnswer, ...]
    rank: Rank
    you_must: tuple[str, ...]
    later: tuple[str, ...]
    does_not: tuple[str, ...]
    lasts_words: str
    materials: tuple[tuple[str, Decimal, str], ...]
    """Material, amount, unit."""
    steps: tuple[tuple[str, str], ...]
    """Step id and words in the order of work."""
    space_plan: str = ""
    earliest_finish: date | None = None
    calendar: CalendarShape | None = None
    """None where nothing is done."""
    how: How = ()
    word_sources: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Evidence keys behind the numbers that stand in the words of a field, by the field's name."""
    removal_words_es: str = ""
    """Empty where the words name teeth of this mouth: those are put together in English only."""
    undo_words_es: str = ""
    you_must_es: tuple[str, ...] = ()
    later_es: tuple[str, ...] = ()
    does_not_es: tuple[str, ...] = ()
    lasts_words_es: str = ""
    own: OwnShape | None = None
    """Only where a dentist put it together."""
    counted: tuple[CountedShape, ...] = ()
    """The sentences of its words that count, each once: a paper that says them says how many of 100 it is not, too."""

    @property
    def only_own_limit(self) -> bool:
        """Whether nothing but limits of the patient's own rules it out: those may be changed."""
        refusals = [reason for reason in self.reasons if reason.verdict is Verdict.NO]
        return not self.struck and bool(refusals) and all(reason.patient_limit for reason in refusals)

    @property
    def may_still_be(self) -> bool:
        """Whether it may still come to be done: not refused, or refused by the patient's own limits only."""
        return (not self.struck and self.verdict is not Verdict.NO) or self.only_own_limit

    matters: tuple[MatterShape, ...] = ()
    """Only what was answered with "a lot" or "a little"; it has no say in the order."""


@dataclass(frozen=True, slots=True)
class EvidenceLine:
    key: str
    words: str
    value: str
    unit: str
    low: str
    high: str
    n: str
    years: str
    citation: str
    doi: str
    certainty: str
    words_es: str = ""


@dataclass(frozen=True, slots=True)
class OtherWords:
    """The plan's texts in another language, and who answers for them."""

    language: str
    translator: str
    reviewer: str
    """Empty until a person read the translation through."""
    words: dict[str, str]
    """Every text that is said otherwise, by its place in the plan: ``options.2.reasons.0.words``."""
    untranslated: tuple[str, ...] = ()
    """What has no translation and is said in English."""


@dataclass(frozen=True, slots=True)
class CasePlan:
    """The answer to one case on one day with one office book."""

    case: str
    planned_on: date
    numbering: str
    office: str
    office_place: str
    currency: str
    price_list_version: int
    estimate_days: int
    patient_name: str
    patient_birth_date: date
    patient_age: int
    language: str
    print_points: int
    teeth: dict[str, ToothWords]
    spaces: SpaceShape
    options: tuple[OptionShape, ...]
    """Gentlest first; doing nothing stands first."""
    recommended: str
    """Key of the recommended option, or empty."""
    recommended_why: str
    swaps: tuple[str, ...]
    evidence: tuple[EvidenceLine, ...]
    """Every clinical number that was printed, once."""
    facts: dict[str, Any]
    """The case file this was computed from."""
    facts_sha256: str
    rules_sha256: str
    book_sha256: str
    format: str = FORMAT
    version: int = VERSION
    notes: tuple[str, ...] = ()
    """Decisions of the dentist that this plan could not follow, and why."""
    other_words: tuple[OtherWords, ...] = ()
    """The same texts in the patient's language, where that is another than English."""

    def option(self, key: str) -> OptionShape:
        """The option with ``key``. Raises KeyError when the plan has none."""
        for option in self.options:
            if option.key == key:
                return option
        raise KeyError(key)

    def to_json(self) -> bytes:
        """The whole plan as UTF-8 JSON with sorted keys: two runs on the same input are byte-equal."""
        return stable_json(self)


def plain(value: object) -> Any:
    """``value`` as JSON types: teeth become keys, dates ISO text, decimals text, enums their value."""
    if isinstance(value, Tooth):
        return value.key
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, BaseModel):
        return value.model_dump(mode="json")
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(plain(key)): plain(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [plain(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    if value is None or isinstance(value, (str, int, bool)):
        return value
    raise TypeError(f"{type(value).__name__} has no place in a frozen plan")


def stable_json(value: object) -> bytes:
    """UTF-8 JSON, keys sorted, no insignificant blanks but one line break at the end."""
    text = json.dumps(plain(value), sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.encode() + b"\n"


def sha256(content: bytes) -> str:
    """The SHA-256 of ``content`` in lower-case hexadecimal."""
    return hashlib.sha256(content).hexdigest()
