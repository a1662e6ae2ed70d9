"""The curing light: dose, and how long one layer is cured. Numbers: data/proportions.toml."""

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Any

from planner.rules.settings import read_settings


def _value(name: str) -> Any:
    return read_settings("proportions.toml")[name].value


def light_dose(output: int, seconds: int) -> Decimal:
    """Radiant exposure in J/cm2 of a lamp of ``output`` mW/cm2 over ``seconds``: output times seconds over 1000."""
    if output <= 0 or seconds < 0:
        raise ValueError(f"lamp output is {output} mW/cm2 for {seconds} s: output must be above 0, time not below 0")
    return Decimal(output) * seconds / 1000


def light_seconds(
    output: int, *, dose: Decimal | int | None = None, barrier: bool = False, distance_percent: int = 100
) -> int:
    """Whole seconds, rounded up, that a lamp of ``output`` mW/cm2 needs for ``dose`` J/cm2 (by default the set dose).

    ``barrier``: through a sleeve. ``distance_percent``: what of the output is left at the working distance, measured
    by the office. Raises ValueError for an output, a dose or a percentage outside what is possible.
    """
    wanted = Decimal(_value("light_dose") if dose is None else dose)
    if output <= 0 or wanted <= 0 or not 0 < distance_percent <= 100:
        raise ValueError(
            f"lamp output is {output} mW/cm2, dose {wanted} J/cm2, light left at the distance {distance_percent} %: "
            "output and dose must be above 0, the percentage 1 to 100"
        )
    reaching = Decimal(output) * distance_percent * (_value("light_barrier_percent") if barrier else 100) / 10000
    return int((1000 * wanted / reaching).to_integral_value(ROUND_CEILING))


@dataclass(frozen=True, slots=True)
class CureTime:
    """How long to cure one layer."""

    seconds: int | None
    """None when the lamp must be measured first."""
    decided_by: str
    """``maker``, ``shortest cure``, ``light dose`` or ``measure lamp``."""
    air_and_pauses: bool = False


def cure_time(
    output: int | None,
    *,
    maker_seconds: int | None = None,
    maker_dose: Decimal | int | None = None,
    adhesive: bool = False,
    barrier: bool = False,
    distance_percent: int = 100,
) -> CureTime:
    """The longest of the maker's time, the shortest cure for the material, and the time for the dose.

    The dose is the set one, or the maker's (J/cm2) where that is higher. ``output`` is the lamp's measured output in
    mW/cm2, None without a dated reading: then there is no time, only "measure lamp". A very strong lamp asks for air
    and pauses; its time is not cut below the shortest cure.
    """
    if output is None:
        return CureTime(None, "measure lamp")
    dose = max(Decimal(_value("light_dose")), Decimal(maker_dose or 0))
    times = {
        "light dose": light_seconds(output, dose=dose, barrier=barrier, distance_percent=distance_percent),
        "shortest cure": _value("light_least_seconds")["adhesive" if adhesive else "resin"],
        "maker": maker_seconds or 0,
    }
    decided_by = max(times, key=lambda name: times[name])
    return CureTime(times[decided_by], decided_by, output > _value("light_hot_above"))
