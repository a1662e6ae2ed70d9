"""The office book: one office's own prices, minutes, materials, rates, and its dated legal settings.

Nothing here is a clinical fact and nothing is a national code: services carry the office's own short codes. The
computation asks for a *service* by a plain key (``"build-up"``, ``"wax-up"``); the price list says what the office calls
it, how its fee is shaped and what it costs. A price list is a version with an effective date and is never edited once
it is in force.
"""

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from planner.rules.units import Cents, Tenths

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
    cents: Cents
    """Per unit of the shape; for ``first and further`` the first, for ``per surface`` the first surface."""
    further_cents: Cents | None = None
    """Second and later (``first and further``), or two surfaces and more (``per surface``)."""
    lab_cents: Cents = 0
    """Laboratory cost inside the line, per unit."""
    tax_class: TaxClass = "by line"
    outside_code: Annotated[str, Field(max_length=40)] = ""
    """The office may type a code of its own licence here; none is shipped."""


class PackageRule(Book):
    """A discount that follows from the set: it appears and unwinds by itself."""

    code: str
    words: str
    words_es: str = ""
    service: str
    """The service whose lines count and are discounted."""
    at_least: Annotated[int, Field(ge=2)]
    percent: Decimal


class PriceList(Book):
    version: Annotated[int, Field(ge=1)]
    effective: date
    services: tuple[Service, ...]
    packages: tuple[PackageRule, ...] = ()


class TaxRate(Book):
    tax_class: Literal["looks only", "reconstructive"]
    percent: Decimal
    effective: date
    reason: str
    set_by: str


class BlockMinutes(Book):
    """Minutes of one block of work: fast, usual, slow."""

    treatment: str
    block: Literal["set-up", "per tooth", "finish", "visit"]
    visit: str = ""
    """Which visit of the treatment, where there is more than one."""
    fast: Annotated[int, Field(ge=0)]
    usual: Annotated[int, Field(ge=0)]
    slow: Annotated[int, Field(ge=0)]
    source: str


class MaterialUse(Book):
    """One material: what a pack holds and costs, and what a tooth or a visit uses of it."""

    key: str
    words: str
    unit: str
    pack_amount: Decimal
    pack_cents: Cents
    per_tooth: Decimal = Decimal(0)
    per_visit: Decimal = Decimal(0)
    reorder_at: Annotated[int, Field(ge=0)] = 0
    treatments: tuple[str, ...] = ()


class LegalSetting(Book):
    """A dated setting with legal weight, and the person who set it. Never a constant in code."""

    key: str
    value: str
    effective: date
    set_by: str
    reason: str


class OfficeBook(Book):
    """Everything the office sets."""

    format: Literal["leastways-book"] = "leastways-book"
    version: Literal[1] = 1
    office: str
    place: str
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    numbering: Literal["iso", "universal", "palmer"] = "iso"
    time_zone: str
    slot_minutes: Annotated[int, Field(ge=1, le=60)] = 5
    visit_limit_minutes: Annotated[int, Field(ge=30, le=480)] = 240
    estimate_days: Annotated[int, Field(ge=1, le=730)] = 90
    price_held_days: Annotated[int, Field(ge=1, le=730)] = 183
    consent_days: Annotated[int, Field(ge=1, le=730)] = 180
    reflection_hours_subtractive: Annotated[int, Field(ge=0)] = 24
    open_weekdays: tuple[Annotated[int, Field(ge=0, le=6)], ...] = (0, 1, 2, 3)
    """Monday = 0."""
    closed_days: tuple[date, ...] = ()
    laboratory_days: Annotated[int, Field(ge=0, le=120)] = 10
    tooth_correlation: Decimal = Decimal("0.6")
    """How far the teeth of one visit go well or badly together."""
    operating_cents_per_hour: Cents
    dentist_cents_per_hour: Cents
    margin_percent: Decimal = Decimal(22)
    material_cents_per_tooth: Cents
    material_cents_per_visit: Cents
    material_waste_percent: Decimal = Decimal(8)
    stock_waste_percent: Decimal = Decimal(35)
    deposit_percent: Decimal = Decimal(20)
    deposit_round_cents: Cents = 1000
    deposit_most_percent: Decimal = Decimal(50)
    deposit_none_below_cents: Cents = 30000
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
