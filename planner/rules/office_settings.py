"""The settings of the office book that are one value each, in the groups in which people look for them.

What a setting means, its unit and where its starting value comes from stand in ``data/office_settings.toml``; what an
office may write is held by :class:`~planner.rules.book.OfficeBook`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any, get_args

from planner.rules.book import OfficeBook
from planner.rules.settings import Setting, read_settings
from planner.rules.space_limits import settings as space_settings
from planner.rules.units import format_cents

GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "money": (
            "estimate_days",
            "price_held_days",
            "deposit_percent",
            "deposit_round_cents",
            "deposit_most_percent",
            "deposit_none_below_cents",
            "deposit_in_full",
            "deposit_laboratory_in_full",
            "instalments_at_most",
            "amendment_most_percent",
            "amendment_most_cents",
            "tax_rounding",
            "tax_base",
        ),
        "rates": (
            "operating_cents_per_hour",
            "dentist_cents_per_hour",
            "hygiene_cents_per_hour",
            "assistant_cents_per_hour",
            "chair_rate_round_cents",
            "margin_percent",
            "fee_round_cents",
            "material_cents_per_tooth",
            "material_cents_per_visit",
            "material_waste_percent",
            "stock_waste_percent",
        ),
        "time": (
            "slot_minutes",
            "visit_limit_minutes",
            "laboratory_days",
            "tooth_correlation",
            "late_cancel_hours",
            "late_cancel_from_minutes",
        ),
        "consent": ("consent_days", "reflection_hours_subtractive", "figures_counted_in", "numbering"),
    }
)
"""Names of settings by group, in the order in which they are shown."""


def office_settings() -> Mapping[str, Setting]:
    """Every setting of one value by name, with its unit and source."""
    return read_settings("office_settings.toml")


def choices_of(name: str) -> tuple[str, ...]:
    """What a setting with the unit ``choice`` may be."""
    return tuple(str(choice) for choice in get_args(OfficeBook.model_fields[name].annotation))


def value_words(name: str, value: Any) -> str:
    """A value as the book holds it, as text: money with two decimals, yes or no, several with a semicolon between."""
    if value is None or value == ():
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "; ".join(str(part) for part in value)
    if office_settings()[name].unit == "money":
        return format_cents(value)
    return format(value, "f") if isinstance(value, Decimal) else str(value)


@dataclass(frozen=True, slots=True)
class SpaceLimit:
    """One limit of sharing the space, or one part of it, such as that for one kind of tooth."""

    name: str
    """As the book names it where the office sets it otherwise: ``share_cap_mesial.central``."""
    part: str
    means: str
    unit: str
    shipped: int
    source: str
    certainty: str

    def words(self, value: int) -> str:
        """A value in the unit people read: millimetres for tenths, else the number as it is."""
        return f"{value // 10}.{value % 10}" if self.in_tenths else str(value)

    @property
    def in_tenths(self) -> bool:
        """Whether the value is a length in tenths of a millimetre."""
        return self.unit == "0.1 mm" and self.part not in ("weight", "target")

    @property
    def unit_words(self) -> str:
        """The unit as :meth:`words` writes it."""
        return "mm" if self.in_tenths else "points" if self.part == "weight" else self.unit


def space_limits() -> Iterator[SpaceLimit]:
    """Every limit of sharing the space, part by part, with its shipped value."""
    for name, setting in space_settings().items():
        parts = setting.value if isinstance(setting.value, Mapping) else {"": setting.value}
        for part, value in parts.items():
            yield SpaceLimit(
                f"{name}.{part}" if part else name,
                part,
                setting.means,
                setting.unit,
                value,
                setting.source,
                setting.certainty,
            )
