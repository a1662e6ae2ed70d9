"""Amounts of material. Packs and prices are invented; the geometry is checked by hand and against recalled amounts."""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.book import MaterialUse, OfficeBook
from planner.rules.cents import half_up
from planner.rules.courses import Work
from planner.rules.materials import (
    Built,
    Lot,
    Need,
    check_stock,
    flat_material_cost,
    forecast,
    material_cost,
    together,
)
from planner.rules.settings import read_settings
from tests.rules.books import DAY_ZERO, teeth, tern_row

BOOK = tern_row()
LATERAL, CENTRAL = teeth("22", "11")
BONDING = ("composite-dentine", "composite-enamel", "flowable", "etch-gel", "index-putty", "dam-non-latex")


def day(offset: int) -> date:
    return DAY_ZERO + timedelta(days=offset)


def test_the_flat_value_prices_and_the_geometry_forecasts() -> None:
    # 3 × 22 + 18, and 8 % of it
    assert half_up(flat_material_cost(BOOK, 3, 1)) == 9072
    with pytest.raises(LookupError, match="not both been typed"):
        flat_material_cost(BOOK.model_copy(update={"material_cents_per_visit": None}), 3, 1)


def test_what_a_small_lateral_takes_by_hand() -> None:
    # 0.7 + 0.9 wider over 9.6 and 6.0 deep, and 1.3 longer over 7.1 and 2.5 deep, of which 0.6 is filled
    built = Built.of(Work("bonding", LATERAL, 2, mesial=7, distal=9, lengthening=13), 55, 83)
    cubic_millimetres = Fraction("0.6") * (
        Fraction("1.6") * Fraction("9.6") * 6 + Fraction("1.3") * Fraction("7.1") * Fraction("2.5")
    )
    assert built.cubic_tenths / 1000 == cubic_millimetres
    assert float(cubic_millimetres) == pytest.approx(69.14, abs=0.01)
    # A peg lateral is said to take 40 to 140 mm³, 75 usually: an estimate of the trade, no source
    assert 40 <= cubic_millimetres <= 140
    # 0.2 g is about 100 mm³ at 2 g/cm³, from memory
    assert built.grams / cubic_millimetres * 100 == pytest.approx(Fraction("0.2"), rel=0.03)
    with pytest.raises(ValueError, match="no tooth"):
        Built.of(Work("whitening"), 55, 83)


@given(*(st.integers(0, 25) for _ in range(3)), st.booleans())
def test_more_added_takes_more_and_nothing_takes_nothing(mesial: int, distal: int, longer: int, face: bool) -> None:
    some = Built(CENTRAL, 83, 105, mesial, distal, longer, face)
    more = Built(CENTRAL, 83, 105, mesial + 1, distal, longer, face)
    assert some.cubic_tenths < more.cubic_tenths
    assert (some.cubic_tenths == 0) == (not any((mesial, distal, longer, face)))
    assert some.cubic_tenths == Built(CENTRAL, 83, 105, distal, mesial, longer, face).cubic_tenths


def test_composites_share_the_geometry_as_the_office_uses_them() -> None:
    built = [Built(LATERAL, 55, 83, 7, 9, 13)]
    needs = {need.material: need for need in forecast(BOOK, "bonding", BONDING, built, arches=1)}
    composites = [needs[key].amount for key in BONDING[:3]]
    with_waste = built[0].grams * Fraction("1.35")
    assert sum(composites) == pytest.approx(Decimal(float(with_waste)), abs=Decimal("0.015"))
    assert composites[0] / composites[1] == pytest.approx(Decimal("1.2"), abs=Decimal("0.1"))
    assert (needs["etch-gel"].amount, needs["index-putty"].amount) == (
        Decimal("0.14"),
        Decimal("18.90"),
    )  # 0.135 half-up
    assert needs["dam-non-latex"].amount == 1
    assert (needs["dam-non-latex"].unit, needs["dam-non-latex"].cents) == ("sheet", 205)
    assert "waste" in needs["etch-gel"].how


def test_without_measurements_the_offices_amounts_are_taken() -> None:
    needs = {need.material: need.amount for need in forecast(BOOK, "bonding", BONDING, teeth=2, visits=1, arches=1)}
    assert needs["composite-dentine"] == Decimal("0.32")  # 2 × 0.12 + 35 % = 0.324
    assert needs["dam-non-latex"] == 1
    assert forecast(BOOK, "bonding", (), teeth=2) == ()


def test_latex_is_used_only_after_a_plain_no() -> None:
    # An office that keeps both dams and uses latex ones for bonding
    latex = next(row for row in BOOK.materials if row.key == "dam-latex").model_copy(
        update={"treatments": ("bonding",), "per_visit": Decimal(1)}
    )
    book = BOOK.model_copy(update={"materials": (*(row for row in BOOK.materials if row.key != "dam-latex"), latex)})

    def dams(latex: bool | None, book: OfficeBook = book) -> list[str]:
        found = forecast(book, "bonding", BONDING, teeth=1, latex=latex)
        return [need.material for need in found if need.material.startswith("dam")]

    assert (dams(True), dams(None), dams(False)) == (["dam-non-latex"], ["dam-non-latex"], ["dam-latex"])
    only = book.model_copy(update={"materials": (latex,)})
    assert (dams(None, only), dams(False, only)) == ([], ["dam-latex"])
    assert dams(False, BOOK) == ["dam-non-latex"]


def test_materials_of_an_option_cost_by_their_packs_beside_the_flat_value() -> None:
    needs = forecast(BOOK, "bonding", BONDING, [Built(LATERAL, 55, 83, 7, 9, 13)], arches=1)
    found = material_cost(needs)
    assert (found.cents, found.unpriced) == (sum(need.cents or 0 for need in needs), ())
    bare = BOOK.model_copy(
        update={"materials": tuple(row.model_copy(update={"pack_cents": None}) for row in BOOK.materials)}
    )
    unpriced = material_cost(forecast(bare, "bonding", ("etch-gel",), teeth=1))
    assert (unpriced.cents, unpriced.unpriced) == (0, ("Etch gel 37 %",))
    twice = together([*needs, *needs])
    assert [need.amount for need in twice] == [2 * need.amount for need in needs]
    assert material_cost(twice).cents == 2 * found.cents


def test_an_office_may_add_a_material_of_its_own_that_has_no_price_yet() -> None:
    own = MaterialUse(
        key="music", words="Music", unit="song", pack_amount=Decimal(1), per_visit=Decimal(2), treatments=("bonding",)
    )
    book = BOOK.model_copy(update={"materials": (own,)})
    (need,) = forecast(book, "bonding", BONDING, teeth=1)
    assert (need.amount, need.cents) == (Decimal("2.70"), None)


def test_every_amount_says_where_it_comes_from() -> None:
    assert set(read_settings("materials.toml")) >= {"taper", "depth_tenths", "density"}


# ---------------------------------------------------------------- stock


def needs(material: str, amount: str) -> tuple[Need, ...]:
    return (Need(material, material, "g", Decimal(amount), None, ""),)


def test_a_lot_that_expires_before_two_booked_visits_is_warned_of() -> None:
    # The demonstration's lot of the medium enamel shade, which expires in nine days
    lot = Lot("composite-enamel", "EM-1", Decimal("2.00"), day(9))
    visits = [(day(offset), needs("composite-enamel", "0.20")) for offset in (3, 10, 13)]
    found = check_stock(BOOK, visits, [lot], DAY_ZERO)
    assert [(item.on, item.missing) for item in found.shortages] == [
        (day(10), Decimal("0.20")),
        (day(13), Decimal("0.20")),
    ]
    assert [(old.left, old.visits_after) for old in found.runs_old] == [(Decimal("1.80"), 2)]
    order = next(item for item in found.orders if item.material == "composite-enamel")
    assert order.packs == 2  # 0.40 missing and one pack of 4 g as the mark
    assert "missing for booked visits" in order.why
    assert (order.words, order.unit, order.cents) == ("Composite, enamel shades light, medium, clear", "g", 19200)


def test_what_expires_first_is_used_first_and_expired_lots_are_not_counted() -> None:
    lots = [
        Lot("etch-gel", "new", Decimal(12), day(400)),
        Lot("etch-gel", "old", Decimal("0.30"), day(20)),
        Lot("etch-gel", "gone", Decimal(12), day(-1)),
    ]
    found = check_stock(BOOK, [(day(5), needs("etch-gel", "0.50"))], lots, DAY_ZERO)
    assert [(lot, amount) for _, _, lot, amount in found.used_from] == [
        ("old", Decimal("0.30")),
        ("new", Decimal("0.20")),
    ]
    assert found.shortages == ()
    (order,) = (item for item in found.orders if item.material == "etch-gel")
    assert order.packs == 1  # 11.80 left, the mark is one pack of 12


def test_pieces_are_reordered_by_the_piece() -> None:
    found = check_stock(BOOK, [], [Lot("guard-blank", "G", Decimal(3))], DAY_ZERO)
    assert "guard-blank" not in {item.material for item in found.orders}
    found = check_stock(BOOK, [], [Lot("guard-blank", "G", Decimal(2))], DAY_ZERO)
    assert next(item.packs for item in found.orders if item.material == "guard-blank") == 1


@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(1, 50)), max_size=8),
    st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), max_size=5),
)
def test_what_is_used_and_what_is_missing_make_up_what_is_needed(
    visits: list[tuple[int, int]], stock: list[tuple[int, int]]
) -> None:
    lots = [Lot("etch-gel", str(place), Decimal(amount), day(until)) for place, (until, amount) in enumerate(stock)]
    booked = [(day(offset), needs("etch-gel", str(amount))) for offset, amount in visits]
    found = check_stock(BOOK, booked, lots, DAY_ZERO)
    used = sum(amount for *_, amount in found.used_from)
    assert used + sum(item.missing for item in found.shortages) == sum(amount for _, amount in visits)
    expires = {lot.code: lot.expires for lot in lots}
    assert all(on <= (expires[code] or on) for on, _, code, _ in found.used_from)
    for lot in lots:
        assert sum(amount for *_, code, amount in found.used_from if code == lot.code) <= lot.amount
    # Whole packs are never short of what is missing, and never a pack more than it and the mark ask for
    missing = sum(item.missing for item in found.shortages)
    order = next((item for item in found.orders if item.material == "etch-gel"), None)
    assert order is not None or not missing
    if order is not None:
        assert order.packs * order.pack_amount >= missing
        assert (order.packs - 1) * order.pack_amount < missing + 12


@given(st.integers(0, 6), st.integers(0, 3), st.integers(0, 2), st.booleans())
def test_amounts_are_never_negative_and_pieces_are_whole(teeth: int, visits: int, arches: int, latex: bool) -> None:
    keys = [row.key for row in BOOK.materials]
    for need in forecast(BOOK, "bonding", keys, teeth=teeth, visits=visits, arches=arches, latex=latex):
        row = next(row for row in BOOK.materials if row.key == need.material)
        assert need.amount > 0
        assert not row.whole or need.amount == need.amount.to_integral_value()
