"""The office book: one office's own prices, minutes, materials, rates, and its dated legal settings.

Nothing here is a clinical fact and nothing is a national code: services carry the office's own short codes. The
computation asks for a *service* by a plain key (``"build-up"``, ``"wax-up"``); the price list says what the office
calls it, how its fee is shaped and what it costs. A price list is a version with an effective date and is never edited
once it is in force.

A price, rate or pack price that nobody has typed yet is ``None``, never zero: nothing can be estimated with it, and the
refusal says which one is missing. So a new office can start from a book without prices and cannot hand one out by
mistake.

:func:`planner.rules.bookfile.load_book` reads a book written as TOML or JSON. Dates may be written as
offsets from a day zero (``d-120``, ``d+31``), which is how an example office stays young.
"""

import re
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    model_validator,
)

from planner.rules.settings import CountedIn
from planner.rules.units import Cents, Tenths

_OFFSET = re.compile(r"d([+-]\d{1,5})")

Shape = Literal[
    "per tooth",
    "per surface",
    "per unit",
    "per arch",
    "per patient",
    "per contact",
    "first and further",
    "per visit",
    "per time",
    "pass-through",
    "course",
    "included",
]
TaxClass = Literal["looks only", "reconstructive", "by line"]
"""``by line``: the class is set by a person on the line, because the same service may be either."""
TaxBase = Literal["after discounts", "before discounts"]
DiscountKind = Literal["courtesy", "staff or family", "goodwill", "payer share"]
"""Kinds that a person gives. A package is no such kind: it follows from the set by itself."""


def _read_day(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) or not (offset := _OFFSET.fullmatch(value.strip())):
        return value
    day_zero = (info.context or {}).get("day_zero")
    if day_zero is None:
        raise ValueError(f'"{value}" counts from a day zero that was not given; write the date, such as 2026-03-02')
    return day_zero + timedelta(days=int(offset[1]))


def _not_negative(cents: int) -> int:
    if cents < 0:
        raise ValueError("an amount below zero is not a price; write it without the minus")
    return cents


Day = Annotated[date, BeforeValidator(_read_day)]
"""A date, or an offset from the day zero that :func:`load_book` was given."""
Price = Annotated[Cents, AfterValidator(_not_negative)]
"""An amount of nothing or more, kept as whole cents."""
Share = Annotated[Decimal, Field(ge=0, le=100)]
"""A percentage from 0 to 100."""
Payee = Literal["dentist", "hygiene", "assistant"]
"""Who holds the chair. The three have rates of their own; they are never averaged."""


class Book(BaseModel):
    """Base of the office's settings: frozen, and a setting nobody knows is a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


class Service(Book):
    """One line of the price list."""

    key: str
    """What the computation asks for, such as ``build-up``."""
    code: Annotated[str, Field(max_length=12)]
    words: Annotated[str, Field(max_length=120)]
    """What is printed on the estimate (English)."""
    words_es: Annotated[str, Field(max_length=120)] = ""
    shape: Shape
    cents: Price | None = None
    """Per unit of the shape: for ``first and further`` the first, for ``per surface`` one surface, for ``per time`` an
    hour, for ``pass-through`` what the bill is expected to be. None until the office has typed it."""
    further_cents: Price | None = None
    """Second and later (``first and further``), or two surfaces and more (``per surface``)."""
    further_code: Annotated[str, Field(max_length=12)] = ""
    lab_cents: Price = 0
    """Laboratory cost inside the line, per unit."""
    tax_class: TaxClass = "by line"
    least: Annotated[int, Field(ge=1)] = 1
    """Fewest units that can be ordered; a bridge has three."""
    step_minutes: Annotated[int, Field(ge=1, le=60)] = 5
    """``per time``: begun steps of this length are charged."""
    cap_cents: Price | None = None
    """``per time``: never more than this; printed with the line."""
    handling_percent: Annotated[Decimal, Field(ge=0, le=10)] = Decimal(0)
    """``pass-through``: added to the bill received."""
    outside_code: Annotated[str, Field(max_length=40)] = ""
    """The office may type a code of its own licence here; none is shipped."""

    @model_validator(mode="after")
    def _price_fits_shape(self) -> Self:
        if self.shape == "included":
            if self.cents not in (None, 0):
                raise ValueError(f'"{self.key}" is included in another fee, so its price is 0.00 or left out')
        elif self.cents == 0:
            raise ValueError(
                f'"{self.key}" has a price of zero, which looks like a price and is none: '
                'type the price, leave it out, or give it the shape "included"'
            )
        if self.shape in ("first and further", "per surface"):
            if self.cents is not None and self.further_cents is None:
                raise ValueError(f'"{self.key}" is priced "{self.shape}" and needs further_cents')
        elif self.further_cents is not None or self.further_code:
            raise ValueError(f'"{self.key}" is priced "{self.shape}", which has no further price; leave it out')
        if self.cap_cents is not None and self.shape != "per time":
            raise ValueError(f'"{self.key}" has a cap, which only a price "per time" can have')
        if self.handling_percent and self.shape != "pass-through":
            raise ValueError(f'"{self.key}" has a handling share, which only a "pass-through" price can have')
        return self

    @property
    def price(self) -> int:
        """The price in cents. Raises LookupError when the office has not typed it yet."""
        if self.shape == "included":
            return 0
        if self.cents is None:
            raise LookupError(f'"{self.words}" ({self.code}) has no price yet: type it in the price list')
        return self.cents


class PackageRule(Book):
    """A discount that follows from the set: it appears and unwinds by itself."""

    code: str
    words: str
    words_es: str = ""
    service: str
    """The service whose lines count and are discounted."""
    at_least: Annotated[int, Field(ge=2)]
    percent: Share


class PriceList(Book):
    """One version of the price list, whole."""

    version: Annotated[int, Field(ge=1)]
    effective: Day
    services: tuple[Service, ...]
    packages: tuple[PackageRule, ...] = ()
    round_lines_to_cents: Annotated[Price, Field(ge=1)] = 1
    """Every line is rounded half-up to a multiple of this; bills passed through are left as they are."""

    def service(self, key: str) -> Service:
        """The service called ``key``. Raises LookupError with a sentence when this list has none."""
        for service in self.services:
            if service.key == key:
                return service
        raise LookupError(f'price list {self.version} has no service "{key}"')


class DiscountLimit(Book):
    """Who may allow how much of one kind of discount. A discount that fits no limit is not allowed to anybody."""

    kind: DiscountKind
    most_percent: Share
    most_cents: Price | None = None
    """Or up to this much, where that is more than the percentage comes to."""
    asked_by: tuple[str, ...] = ()
    """Roles that may ask. Where any is named, somebody else than who asks has to allow it."""
    allowed_by: tuple[str, ...] = ()
    """Roles that may allow it; none means it is forbidden."""
    why: str = ""
    """Printed with a refusal."""


class EarningStage(Book):
    """A stage of work made outside the mouth, and the share of the fee that is earned with it."""

    stage: str
    percent: Share


class TaxRate(Book):
    tax_class: Literal["looks only", "reconstructive"]
    percent: Share
    effective: Day
    reason: str
    set_by: str


class BlockMinutes(Book):
    """Minutes of one block of work: fast, usual, slow."""

    treatment: str
    block: Literal["set-up", "per tooth", "finish"]
    visit: str
    """Key of the visit, as the treatment's own file calls it."""
    fast: Annotated[int, Field(ge=0)]
    usual: Annotated[int, Field(ge=0)]
    slow: Annotated[int, Field(ge=0)]
    source: str

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.fast <= self.usual <= self.slow:
            raise ValueError(
                f"{self.fast}, {self.usual}, {self.slow} minutes are not in order: fast, then usual, then slow"
            )
        return self


class MaterialUse(Book):
    """One material: what a pack holds and costs, and what a tooth or a visit uses of it."""

    key: str
    words: str
    unit: str
    pack_amount: Annotated[Decimal, Field(gt=0)]
    """How many units a pack holds."""
    pack_cents: Price | None = None
    per_tooth: Annotated[Decimal, Field(ge=0)] = Decimal(0)
    per_visit: Annotated[Decimal, Field(ge=0)] = Decimal(0)
    per_arch: Annotated[Decimal, Field(ge=0)] = Decimal(0)
    by_geometry: bool = False
    """The amount follows from what is added to the tooth; ``per_tooth`` then only says how the materials share it."""
    whole: bool = False
    """Counted in whole pieces, of which nothing is wasted."""
    reorder_at: Annotated[int, Field(ge=0)] = 0
    """Packs, or pieces where it is counted whole."""
    treatments: tuple[str, ...] = ()
    """Treatments that use it in this office, beyond those that name it in their own file."""


class LegalSetting(Book):
    """A dated setting with legal weight, and the person who set it. Never a constant in code."""

    key: str
    value: str
    effective: Day
    set_by: str
    reason: str


class OpenHours(Book):
    """When the office is open on one weekday, in its own time zone; a weekday may have several lines."""

    weekday: Annotated[int, Field(ge=0, le=6)]
    """Monday = 0."""
    opens: time
    closes: time

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.opens >= self.closes:
            raise ValueError(f"it closes at {self.closes} and opens at {self.opens}: closing comes after opening")
        return self


class OfficeBook(Book):
    """Everything the office sets."""

    format: Literal["leastways-book"] = "leastways-book"
    version: Literal[1] = 1
    office: str
    place: str
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    numbering: Literal["iso", "universal", "palmer"] = "iso"
    time_zone: str
    figures_counted_in: CountedIn = "general practice"
    """Whose figures of how long things last are taken, where sources differ by that."""
    slot_minutes: Annotated[int, Field(ge=1, le=60)] = 5
    visit_limit_minutes: Annotated[int, Field(ge=30, le=480)] = 240
    estimate_days: Annotated[int, Field(ge=1, le=730)] = 90
    price_held_days: Annotated[int, Field(ge=1, le=730)] = 183
    consent_days: Annotated[int, Field(ge=1, le=730)] = 180
    reflection_hours_subtractive: Annotated[int, Field(ge=0)] = 24
    open_weekdays: tuple[Annotated[int, Field(ge=0, le=6)], ...] = (0, 1, 2, 3)
    """Monday = 0."""
    closed_days: tuple[Day, ...] = ()
    hours: tuple[OpenHours, ...] = ()
    chairs: tuple[Annotated[str, Field(min_length=1, max_length=40)], ...] = ()
    late_cancel_hours: Annotated[int, Field(ge=0, le=336)] = 48
    """Cancelling a long visit with less time left than this is late; 0 where no cancelling ever is."""
    late_cancel_from_minutes: Annotated[int, Field(ge=1, le=480)] = 120
    """How long a visit is at least that can be cancelled late."""
    laboratory_days: Annotated[int, Field(ge=0, le=120)] = 10
    tooth_correlation: Annotated[Decimal, Field(ge=0, le=1)] = Decimal("0.6")
    """How far the teeth of one visit go well or badly together."""
    operating_cents_per_hour: Price | None = None
    """Running costs of one chair hour without laboratory, materials and pay of who treats."""
    dentist_cents_per_hour: Price | None = None
    hygiene_cents_per_hour: Price | None = None
    assistant_cents_per_hour: Price | None = None
    chair_rate_round_cents: Annotated[Price, Field(ge=1)] = 100
    """A chair rate is rounded up to a multiple of this."""
    margin_percent: Annotated[Decimal, Field(ge=0, lt=100)] = Decimal(22)
    """On the fee, not on the cost."""
    fee_round_cents: Annotated[Price, Field(ge=1)] = 500
    """A fee reckoned from its cost is rounded up to a multiple of this."""
    material_cents_per_tooth: Price | None = None
    material_cents_per_visit: Price | None = None
    material_waste_percent: Annotated[Decimal, Field(ge=0)] = Decimal(8)
    stock_waste_percent: Annotated[Decimal, Field(ge=0)] = Decimal(35)
    deposit_percent: Share = Decimal(20)
    deposit_round_cents: Annotated[Price, Field(ge=1)] = 1000
    deposit_most_percent: Share = Decimal(50)
    deposit_none_below_cents: Price = 30000
    deposit_in_full: tuple[str, ...] = ("wax-up", "index", "try-on")
    """Services whose lines go into the deposit in full."""
    deposit_laboratory_in_full: bool = True
    """Whether the laboratory cost inside the other lines does too."""
    earning_stages: tuple[EarningStage, ...] = ()
    """How the fee of work made outside the mouth is earned; the shares come to 100."""
    discount_limits: tuple[DiscountLimit, ...] = ()
    tax_rounding: Literal["per line", "per class"] = "per line"
    tax_base: TaxBase = "after discounts"
    """Whether tax is on a line after discounts that persons gave, or before them; packages come first either way."""
    amendment_most_percent: Share = Decimal(10)
    amendment_most_cents: Price = 15000
    """A change of more than the larger of the two needs a new signature."""
    instalments_at_most: Annotated[int, Field(ge=1, le=36)] = 6
    price_lists: Annotated[tuple[PriceList, ...], Field(min_length=1)]
    tax_rates: tuple[TaxRate, ...] = ()
    minutes: tuple[BlockMinutes, ...] = ()
    materials: tuple[MaterialUse, ...] = ()
    legal: tuple[LegalSetting, ...] = ()
    office_limits: dict[str, Tenths] = {}
    """Space-sharing limits the office set otherwise than the shipped defaults, by their name there."""

    def price_list_on(self, day: date) -> PriceList:
        """The price list in force on ``day``. Raises LookupError when none is yet."""
        known = [prices for prices in self.price_lists if prices.effective <= day]
        if not known:
            first = min(prices.effective for prices in self.price_lists)
            raise LookupError(
                f"no price list is in force on {day.isoformat()}: the first one starts on {first.isoformat()}"
            )
        return max(known, key=lambda prices: (prices.effective, prices.version))

    def legal_on(self, key: str, day: date) -> LegalSetting | None:
        """The legal setting in force on ``day``, or None when nobody has set it."""
        known = [setting for setting in self.legal if setting.key == key and setting.effective <= day]
        return max(known, key=lambda setting: setting.effective) if known else None

    def chair_rate(self, payee: Payee = "dentist") -> int:
        """Cents of one chair hour with ``payee`` working, rounded up to the office's step.

        Raises LookupError when the office has not typed a rate it is made of.
        """
        pay = {
            "dentist": self.dentist_cents_per_hour,
            "hygiene": self.hygiene_cents_per_hour,
            "assistant": self.assistant_cents_per_hour,
        }[payee]
        if self.operating_cents_per_hour is None or pay is None:
            missing = "operating_cents_per_hour" if self.operating_cents_per_hour is None else f"{payee}_cents_per_hour"
            raise LookupError(f"{missing} has not been typed yet: without it an hour has no cost")
        step = self.chair_rate_round_cents
        return -(-(self.operating_cents_per_hour + pay) // step) * step
