"""The invented office's book, and charges as the tests write them. Every price in it is made up."""

from datetime import date
from functools import cache
from pathlib import Path

from planner.rules.book import OfficeBook
from planner.rules.bookfile import load_book
from planner.rules.fees import Charge, LineTaxClass
from planner.rules.money import Estimate, estimate
from planner.rules.teeth import Tooth

BOOKS = Path(__file__).parents[2] / "fixtures" / "books"
DAY_ZERO = date(2026, 3, 2)
"""A Monday."""
SERVICE_KEYS = [
    "examination",
    "small-film",
    "panoramic",
    "small-3d",
    "photo-set",
    "scan",
    "wax-up",
    "index",
    "try-on",
    "cleaning",
    "whitening-both",
    "whitening-one",
    "whitening-refill",
    "reshape",
    "slenderise",
    "small-addition",
    "build-up",
    "direct-face",
    "lab-face",
    "ceramic-face",
    "crown",
    "wing-bridge",
    "bridge",
    "aligners-one",
    "aligners-both",
    "clear-retainer",
    "wire-retainer",
    "implant-placing",
    "implant-temporary",
    "implant-crown",
    "ridge-build-up",
    "removable-tooth",
    "night-guard",
    "gum-line",
    "yearly-check",
    "small-repair",
    "take-off",
    "remove-primary",
    "late-cancel",
]
"""The plain keys that every office book carries, in the order of its price list."""


@cache
def tern_row(day_zero: date = DAY_ZERO) -> OfficeBook:
    return load_book((BOOKS / "tern_row.toml").read_text(encoding="utf-8"), day_zero)


def teeth(*iso: str) -> tuple[Tooth, ...]:
    return tuple(Tooth.from_iso(number) for number in iso)


def charge(
    service: str,
    quantity: int = 1,
    *iso: str,
    tax_class: LineTaxClass | None = "reconstructive",
    visit: int = 0,
    surfaces: int = 0,
    minutes: int = 0,
    bill_cents: int | None = None,
) -> Charge:
    """A charge whose class a person set; services that have a class of their own take that."""
    return Charge(
        service,
        quantity,
        teeth(*iso),
        tax_class if by_line(service) else None,
        "as the test says" if by_line(service) else "",
        surfaces=surfaces,
        minutes=minutes,
        bill_cents=bill_cents,
        visit=visit,
    )


def by_line(service: str) -> bool:
    return any(s.key == service and s.tax_class == "by line" for s in tern_row().price_lists[0].services)


def priced(*charges: Charge, on: date = DAY_ZERO, **more: object) -> Estimate:
    book = tern_row()
    return estimate(
        charges,
        book.price_list_on(on),
        book.tax_rates,
        on,
        limits=book.discount_limits,
        **more,  # type: ignore[arg-type]
    )


def lead() -> tuple[Charge, ...]:
    """The lead case: three teeth built up, the canine's cusp softened."""
    return (
        charge("build-up", 3, "11", "21", "22"),
        charge("wax-up", 4, "13", "11", "21", "22"),
        charge("index"),
        charge("reshape", 1, "13"),
    )
