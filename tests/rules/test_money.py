"""Estimates, checked against sums worked out by hand. The prices are invented; the rules of money are the office's own.

Order of calculation, packages, discounts, deposit and stages are common practice, no source. Largest remainder is the
method of Hamilton and Hare, known from sharing seats, from memory.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.book import EarningStage, PackageRule, PriceList, Service, TaxRate
from planner.rules.cents import half_up, percent_of, spread, up_to_next
from planner.rules.discounts import Discount
from planner.rules.fees import Charge, FeeError, cost, fee, operating_cost_per_hour
from planner.rules.money import Estimate, EstimateError, SumError, estimate
from planner.rules.settling import (
    amendment,
    deposit,
    drawn,
    earned_by_months,
    earned_by_stages,
    earned_by_teeth,
    holds_at,
    settle,
    valid_through,
)
from tests.rules.books import DAY_ZERO, charge, lead, priced, teeth, tern_row

BOOK = tern_row()
MANAGER = {"allowed_by": "Oona Castellane", "allowed_role": "office manager", "asked_by": "Dr Imke Sorrel"}
ASKED = {**MANAGER, "asked_role": "dentist"}


def courtesy(*, percent: Decimal | None = None, cents: int | None = None, line: int | None = None) -> Discount:
    return Discount(kind="courtesy", reason="long wait", percent=percent, cents=cents, line=line, **ASKED)


# ---------------------------------------------------------------- rounding and spreading


def test_half_up_rounds_a_half_away_from_zero_and_nothing_else() -> None:
    assert [half_up(Decimal(text)) for text in ("0.49", "0.5", "1.5", "2.5", "-0.5", "-0.49")] == [0, 1, 2, 3, -1, 0]
    assert [half_up(cents, 1000) for cents in (55499, 55500, 55565)] == [55000, 56000, 56000]
    assert [up_to_next(cents, 100) for cents in (46280, 46300, 46301)] == [46300, 46300, 46400]
    with pytest.raises(ValueError, match="no step to round to"):
        half_up(1, 0)


@given(st.integers(-(10**9), 10**9), st.lists(st.integers(0, 10**7), min_size=1, max_size=20).filter(any))
def test_spreading_adds_up_and_stays_within_a_cent(total: int, weights: list[int]) -> None:
    parts = spread(total, weights)
    assert sum(parts) == total
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part - Fraction(total * weight, sum(weights))) < 1


@given(st.integers(0, 10**6), st.lists(st.integers(0, 10**6), min_size=1, max_size=9).filter(any), st.integers(1, 9))
def test_spreading_depends_on_proportions_only_and_mirrors_with_the_sign(
    total: int, weights: list[int], times: int
) -> None:
    assert spread(total, weights) == spread(total, [weight * times for weight in weights])
    assert spread(-total, weights) == tuple(-part for part in spread(total, weights))


def test_a_cent_left_over_goes_to_the_earlier_of_equal_parts() -> None:
    assert spread(100, (1, 1, 1)) == (34, 33, 33)
    # 100.00 over 445, 445, 445 and 165: plain rounding would come to 100.01
    assert spread(10000, (44500, 44500, 44500, 16500)) == (2967, 2967, 2966, 1100)
    assert spread(0, ()) == ()
    with pytest.raises(ValueError, match="come to nothing"):
        spread(1, (0, 0))
    with pytest.raises(ValueError, match="must not be negative"):
        spread(1, (2, -1))


# ---------------------------------------------------------------- the demonstration's estimates, by hand


def test_the_lead_case_comes_to_1618_25_with_every_step_shown() -> None:
    found = priced(*lead())
    assert [line.gross_cents for line in found.lines] == [133500, 22000, 7000, 6000]
    assert [line.package_cents for line in found.lines] == [6675, 0, 0, 0]
    assert (found.gross_cents, found.taken_off_cents, found.tax_cents) == (168500, 6675, 0)
    assert found.total_cents == 161825
    assert found.lines[0].how == ("3 × 445.00 = 1335.00", "− 66.75 package PKG = 1268.25")
    assert found.how == (
        "1–2 fees: 1335.00 + 220.00 + 70.00 + 60.00 = 1685.00",
        "3 package PKG: 3 or more build-ups in one plan, −5 % of 1335.00 = −66.75",
        "7 total: 1618.25 + tax 0.00 = 1618.25",
    )


def test_the_leads_deposit_is_560() -> None:
    # 290.00 for wax-up and index in full; 20 % of 1,328.25 = 265.65; 555.65 to the nearest ten
    found = deposit(priced(*lead()), BOOK)
    assert found.cents == 56000
    assert "555.65" in found.how[1]


@pytest.mark.parametrize(
    ("name", "charges", "total"),
    [
        (
            "ceramic on four",
            (charge("ceramic-face", 4, "13", "11", "21", "22"), charge("wax-up", 4), charge("try-on")),
            630000,
        ),
        ("whitening", (charge("whitening-both"),), 44070),
        ("whitening first, then the lead's bonding", (charge("whitening-both"), *lead()), 205895),
        (
            "braces, then bonding",
            (
                charge("aligners-both"),
                charge("clear-retainer", 2),
                charge("wire-retainer"),
                charge("build-up", 1, "22"),
                charge("wax-up", 1, "22"),
                charge("index"),
            ),
            789000,
        ),
        (
            "two",
            (
                charge("whitening-both"),
                charge("build-up", 2, "11", "21", tax_class="looks only"),
                charge("small-addition", 1, "12", tax_class="looks only"),
                charge("wax-up", 3, tax_class="looks only"),
                charge("index", tax_class="looks only"),
            ),
            201140,
        ),
        ("four", (charge("build-up", 1, "22"), charge("wax-up", 1, "22"), charge("index")), 57000),
        (
            "twelve",
            (
                charge("small-addition", 3, "12", "11", "22"),
                charge("build-up", 1, "21"),
                charge("wax-up", 4),
                charge("index"),
                charge("wire-retainer"),
            ),
            181000,
        ),
        (
            "six",
            (charge("whitening-both"), charge("crown", 2, "11", "21"), charge("wax-up", 2), charge("try-on")),
            395070,
        ),
        (
            "eleven",
            (charge("aligners-both"), charge("clear-retainer", 2), charge("wire-retainer")),
            732000,
        ),
    ],
)
def test_estimates_of_the_demonstration(name: str, charges: tuple[Charge, ...], total: int) -> None:
    assert priced(*charges).total_cents == total, name


@pytest.mark.parametrize(
    ("charges", "expected"),
    [
        # two: wax-up 165, index 70 and 60 of laboratory inside whitening, + 20 % of 1,485 = 592
        (
            (
                charge("whitening-both"),
                charge("build-up", 2),
                charge("small-addition"),
                charge("wax-up", 3),
                charge("index"),
            ),
            59000,
        ),
        # three: 2 × 520 of laboratory + 20 % of 4,260 = 1,892
        ((charge("wing-bridge", 2),), 189000),
        # four: 125 + 20 % of 445 = 214
        ((charge("build-up"), charge("wax-up"), charge("index")), 21000),
        # seven: 400 + 140 + 20 % of 3,780 = 1,296
        ((charge("direct-face", 6), charge("wax-up", 6), charge("index"), charge("night-guard")), 130000),
        # nine: 520 + 20 % of 2,130 = 946
        ((charge("wing-bridge"),), 95000),
        # at most half: wax-up and try-on alone would be taken whole
        ((charge("wax-up", 4), charge("try-on")), 19000),
        # nothing below 300: 165 + 70 + 60 = 295
        ((charge("wax-up", 3), charge("index"), charge("reshape")), 0),
    ],
)
def test_deposits(charges: tuple[Charge, ...], expected: int) -> None:
    assert deposit(priced(*charges), BOOK).cents == expected


# ---------------------------------------------------------------- packages


def test_a_package_unwinds_when_the_set_shrinks() -> None:
    # Half accepted, with the quantity of wax fixed at 3: half of the plan costs 72 % of it, not two thirds
    rest = (charge("index"), charge("reshape", 1, "11"))
    whole = priced(charge("build-up", 3, "12", "22", "14"), charge("wax-up", 3), *rest)
    half = priced(charge("build-up", 2, "12", "22"), charge("wax-up", 2), *rest)
    assert (whole.gross_cents, whole.total_cents, half.total_cents) == (163000, 156325, 113000)
    assert half.packages == ()
    assert half_up(Fraction(half.total_cents * 100, whole.total_cents)) == 72


def test_a_package_counts_the_whole_plan_however_the_lines_are_cut() -> None:
    apart = priced(*(charge("build-up", 1, tooth) for tooth in ("11", "21", "22")))
    assert apart.total_cents == priced(charge("build-up", 3, "11", "21", "22")).total_cents == 133500 - 6675
    assert [line.package_cents for line in apart.lines] == [2225, 2225, 2225]


def test_found_under_the_dam() -> None:
    # The office drops a tooth, so the patient keeps the package; a new filling on a new tooth needs a signature
    before = priced(
        charge("build-up", 3, "12", "22", "14"), charge("wax-up", 3), charge("index"), charge("reshape", 1, "11")
    )
    after = priced(
        charge("build-up", 2, "12", "22"),
        charge("wax-up", 3),
        charge("index"),
        charge("reshape", 1, "11"),
        charge("small-addition", 1, "21"),
        kept_packages=("PKG",),
    )
    assert after.total_cents == 140550
    assert after.packages[0].kept
    changed = amendment(before, after, BOOK)
    assert changed.difference_cents == -15775
    assert [unit.tooth for unit in changed.dropped] == list(teeth("14"))
    assert any("upper left central" in reason for reason in changed.new_signature)


def test_dropping_a_line_alone_needs_no_signature_until_the_money_is_large() -> None:
    before = priced(charge("build-up", 2, "11", "21"), charge("reshape", 1, "13"))
    small = amendment(before, priced(charge("build-up", 2, "11", "21")), BOOK)
    assert (small.difference_cents, small.new_signature) == (-6000, ())
    large = amendment(before, priced(charge("build-up", 1, "11"), charge("reshape", 1, "13")), BOOK)
    assert len(large.new_signature) == 1
    assert "445.00" in large.new_signature[0]
    assert amendment(before, before, BOOK, more_removal=True).new_signature


def test_a_package_nobody_has_cannot_be_kept() -> None:
    with pytest.raises(EstimateError, match='no package "OLD"'):
        priced(charge("index"), kept_packages=("OLD",))


# ---------------------------------------------------------------- discounts and tax


class TestTheOrderOfTaxAndDiscount:
    """100 off whitening 390 (13 %), bonding 890 and wax-up 180 (both without tax), worked out by hand."""

    PRICES = PriceList(
        version=1,
        effective=DAY_ZERO,
        services=tuple(
            Service(key=key, code=key, words=key, shape="per unit", cents=cents, tax_class=tax_class)  # type: ignore[arg-type]
            for key, cents, tax_class in (
                ("whitening", "390", "looks only"),
                ("bonding", "890", "reconstructive"),
                ("wax", "180", "reconstructive"),
            )
        ),
    )

    def priced(self, base: str, *discounts: Discount, **more: object) -> Estimate:
        return estimate(
            [Charge("whitening"), Charge("bonding"), Charge("wax")],
            self.PRICES,
            BOOK.tax_rates,
            DAY_ZERO,
            discounts,
            limits=BOOK.discount_limits,
            tax_base=base,  # type: ignore[arg-type]
            **more,  # type: ignore[arg-type]
        )

    def test_after_the_discount_the_tax_is_47_23(self) -> None:
        found = self.priced("after discounts", courtesy(cents=10000))
        assert (found.tax_cents, found.total_cents) == (4723, 136000 + 4723)
        assert found.lines[0].taxed_cents == 39000 - 2671
        assert found.how[-2] == "6 tax 13 % of 363.29 = 47.23"
        assert found.how[-3].startswith("5 ")

    def test_before_the_discount_the_tax_is_50_70(self) -> None:
        found = self.priced("before discounts", courtesy(cents=10000))
        assert (found.tax_cents, found.total_cents) == (5070, 136000 + 5070)
        assert [line.share_cents for line in found.lines] == [2671, 6096, 1233]
        assert found.lines[0].taxed_cents == 39000
        assert found.how[-3] == "4 tax 13 % of 390.00 = 50.70"
        assert found.how[-2].startswith("6 ")

    def test_a_discount_on_the_taxed_line_alone_makes_37_70_after_it_and_nothing_before_it(self) -> None:
        assert self.priced("after discounts", courtesy(cents=10000, line=0)).tax_cents == 3770
        assert self.priced("before discounts", courtesy(cents=10000, line=0)).tax_cents == 5070

    def test_a_line_given_for_nothing_keeps_its_tax_where_that_comes_first(self) -> None:
        """The tax then is more than what is left of the line, and that is no fault in the sums."""
        free = replace(courtesy(percent=Decimal(100), line=0), kind="goodwill")
        found = self.priced("before discounts", free)
        assert (found.lines[0].net_cents, found.lines[0].tax_cents, found.lines[0].total_cents) == (0, 5070, 5070)
        assert self.priced("after discounts", free).lines[0].total_cents == 0

    def test_a_package_lowers_the_tax_in_either_order(self) -> None:
        taxed = [charge("build-up", 3, "11", "21", "22", tax_class="looks only")]
        for base in ("after discounts", "before discounts"):
            found = priced(*taxed, tax_base=base)
            assert (found.lines[0].taxed_cents, found.tax_cents) == (126825, 16487)

    def test_a_tax_above_what_it_is_on_refuses_to_exist(self) -> None:
        line = self.priced("before discounts", courtesy(cents=10000)).lines[0]
        for wrong in (
            {"tax_cents": 39001, "total_cents": line.net_cents + 39001},
            {"taxed_cents": line.net_cents + 1},
            {"taxed_cents": 0},
        ):
            with pytest.raises(SumError):
                replace(line, **wrong)  # type: ignore[arg-type]


def test_tax_per_class_is_rounded_once_and_still_stands_on_the_lines() -> None:
    services = tuple(
        Service(key=key, code=key, words=key, shape="per unit", cents="0.12", tax_class="looks only")  # type: ignore[arg-type]
        for key in "abc"
    )
    prices = PriceList(version=1, effective=DAY_ZERO, services=services)
    charges = [Charge(key) for key in "abc"]
    per_line = estimate(charges, prices, BOOK.tax_rates, DAY_ZERO)
    per_class = estimate(charges, prices, BOOK.tax_rates, DAY_ZERO, tax_rounding="per class")
    assert (per_line.tax_cents, per_class.tax_cents) == (6, 5)  # 3 × 1.56 → 2 each; 4.68 → 5
    assert [line.tax_cents for line in per_class.lines] == [2, 2, 1]


def test_who_may_give_which_discount() -> None:
    charges = (charge("build-up", 2), charge("index"))  # 960.00

    def give(role: str, **more: object) -> Estimate:
        details: dict[str, object] = {
            "kind": "courtesy",
            "reason": "long wait",
            "allowed_by": "A",
            "allowed_role": role,
        }
        return priced(*charges, discounts=(Discount(**{**details, **more}),))  # type: ignore[arg-type]

    assert give("desk lead", percent=Decimal(5)).total_cents == 91200
    assert give("desk lead", cents=5000, line=1).total_cents == 91000  # more than 5 % of the line, but 50 at most
    asked = {"asked_by": "B", "asked_role": "dentist"}
    assert give("office manager", percent=Decimal(15), **asked).total_cents == 81600
    for role, more, why in (
        ("front desk", {"percent": Decimal(5)}, "front desk may not allow"),
        ("desk lead", {"percent": Decimal(6)}, "desk lead may not allow"),
        ("dentist", {"percent": Decimal(15)}, "dentist may not allow"),
        ("office manager", {"percent": Decimal(15)}, "somebody else has to ask"),
        ("office manager", {"percent": Decimal(15), "asked_by": "A", "asked_role": "dentist"}, "somebody else"),
        ("owner dentist", {"kind": "payer share", "percent": Decimal(1)}, "forbidden"),
        ("desk lead", {"percent": Decimal(5), "reason": " "}, "needs a reason"),
        ("desk lead", {"percent": Decimal(5), "cents": 5}, "either a percentage or an amount"),
        ("desk lead", {"percent": Decimal(5), "line": 2}, "no line 3"),
        ("office manager", {"percent": Decimal(101), **asked}, "above 0 and at most at 100"),
        ("office manager", {"cents": 96001, **asked}, "more than"),
        (
            "office manager",
            {"kind": "staff or family", "percent": Decimal(20), "own_family": True, "second_person": "A", **asked},
            "second person",
        ),
    ):
        with pytest.raises(EstimateError, match=why):
            give(role, **more)


def test_a_large_discount_cannot_be_given_in_small_pieces() -> None:
    lead_desk = {"kind": "courtesy", "reason": "long wait", "allowed_by": "D", "allowed_role": "desk lead"}
    pieces = tuple(Discount(cents=5000, line=place, **lead_desk) for place in (0, 1, 2))  # type: ignore[arg-type]
    charges = (charge("build-up", 1, "11"), charge("build-up", 1, "21"), charge("direct-face", 1, "22"))  # 1,450.00
    assert priced(*charges, discounts=pieces[:1]).taken_off_cents == 5000
    with pytest.raises(EstimateError, match=r"150\.00 on 1450\.00"):
        priced(*charges, discounts=pieces)


def test_a_bill_passed_on_is_not_discounted_unless_ticked() -> None:
    charges = (charge("small-3d", bill_cents=26500), charge("index"))
    found = priced(*charges, discounts=(courtesy(cents=700),))
    assert [line.share_cents for line in found.lines] == [0, 700]
    with pytest.raises(EstimateError, match="tick it"):
        priced(*charges, discounts=(courtesy(cents=700, line=0),))
    ticked = replace(courtesy(cents=700, line=0), pass_through=True)
    assert priced(*charges, discounts=(ticked,)).lines[0].net_cents == 25800


def test_without_limits_nobody_may_give_anything() -> None:
    prices = BOOK.price_list_on(DAY_ZERO)
    with pytest.raises(EstimateError, match="no limit of this office"):
        estimate([charge("index")], prices, BOOK.tax_rates, DAY_ZERO, (courtesy(cents=100),))


def test_tax_needs_a_class_a_reason_and_a_rate_in_force() -> None:
    with pytest.raises(EstimateError) as refused:
        priced(
            Charge("index"),
            Charge("build-up", 1, (), "looks only", ""),
            Charge("whitening-both", 1, (), "reconstructive"),
        )
    assert len(refused.value.faults) == 3
    prices = BOOK.price_list_on(DAY_ZERO)
    with pytest.raises(EstimateError, match='no tax rate for "reconstructive"'):
        estimate([charge("index")], prices, (), DAY_ZERO)
    rates = (
        TaxRate(tax_class="reconstructive", percent=Decimal(0), effective=date(2026, 1, 1), reason="r", set_by="s"),
        TaxRate(tax_class="reconstructive", percent=Decimal(5), effective=date(2026, 4, 1), reason="r", set_by="s"),
    )
    taxes = [estimate([charge("index")], prices, rates, day).tax_cents for day in (date(2026, 3, 31), date(2026, 4, 1))]
    assert taxes == [0, 350]


_services = st.sampled_from(("build-up", "small-addition", "index", "wax-up", "whitening-both", "reshape", "small-3d"))


@st.composite
def _cases(draw: st.DrawFn) -> tuple[tuple[Charge, ...], tuple[Discount, ...]]:
    charges = []
    for service in draw(st.lists(_services, min_size=1, max_size=6)):
        quantity = 1 if service == "whitening-both" else draw(st.integers(1, 2))
        charges.append(charge(service, quantity, tax_class=draw(st.sampled_from(("looks only", "reconstructive")))))
    discounts = tuple(
        Discount(
            kind=draw(st.sampled_from(("courtesy", "goodwill"))),
            reason="any",
            percent=draw(st.decimals("0.01", "100", places=2)),
            line=draw(st.none() | st.integers(0, len(charges) - 1)),
            pass_through=True,
            **ASKED,
        )
        for _ in range(draw(st.integers(0, 3)))
    )
    return tuple(charges), discounts


@settings(max_examples=60, deadline=None)
@given(_cases(), st.sampled_from(("per line", "per class")), st.sampled_from(("after discounts", "before discounts")))
def test_estimates_add_up_and_no_line_falls_below_zero(
    case: tuple[tuple[Charge, ...], tuple[Discount, ...]], rounding: str, base: str
) -> None:
    charges, discounts = case
    found = priced(*charges, discounts=discounts, tax_rounding=rounding, tax_base=base)
    assert found.total_cents == sum(line.total_cents for line in found.lines)
    assert found.total_cents == found.gross_cents - found.taken_off_cents + found.tax_cents
    assert all(
        0 <= line.net_cents <= line.gross_cents and 0 <= line.tax_cents <= line.taxed_cents for line in found.lines
    )
    if base == "before discounts":
        undiscounted = priced(*charges, tax_rounding=rounding)
        assert [line.tax_cents for line in found.lines] == [line.tax_cents for line in undiscounted.lines]
    assert 0 <= deposit(found, BOOK).cents <= percent_of(found.net_cents, BOOK.deposit_most_percent)


def test_lines_and_estimates_that_do_not_add_up_refuse_to_exist() -> None:
    found = priced(*lead())
    line = found.lines[0]
    for wrong in ({"net_cents": line.net_cents + 1}, {"total_cents": 0}, {"package_cents": -1}, {"tax_cents": 1}):
        with pytest.raises(SumError):
            replace(line, **wrong)
    for wrong in ("gross_cents", "taken_off_cents", "net_cents", "tax_cents", "total_cents"):
        with pytest.raises(SumError):
            replace(found, **{wrong: getattr(found, wrong) + 1})
    with pytest.raises(SumError, match="packages"):
        replace(found, packages=())


# ---------------------------------------------------------------- the twelve shapes of a fee


def service(shape: str, cents: str | None = "100", **more: object) -> Service:
    return Service.model_validate({"key": "a", "code": "A", "words": "a", "shape": shape, "cents": cents, **more})


@pytest.mark.parametrize(
    ("of", "asked", "gross"),
    [
        (service("per tooth"), Charge("a", 3), 30000),
        (service("per tooth"), Charge("a", 2, teeth("11", "11")), 20000),  # two restorations on one tooth
        (service("per surface", further_cents="160"), Charge("a", 2, surfaces=1), 20000),
        (service("per surface", further_cents="160"), Charge("a", 2, surfaces=4), 32000),
        (service("per unit", least=3), Charge("a", 3), 30000),
        (service("per arch"), Charge("a", 2), 20000),
        (service("per patient"), Charge("a"), 10000),
        (service("per contact"), Charge("a", 4), 40000),
        (service("first and further", further_cents="25"), Charge("a", 3), 15000),
        (service("per visit"), Charge("a", 2), 20000),
        (service("per time", "325"), Charge("a", minutes=31), 18958),  # 35 begun minutes: 189.583
        (service("per time", "325", cap_cents="150"), Charge("a", minutes=31), 15000),
        (service("pass-through", handling_percent="7.5"), Charge("a", bill_cents=12345), 13271),  # 132.70875
        (service("pass-through"), Charge("a"), 10000),
        (service("course", "6400"), Charge("a"), 640000),
        (service("included", None), Charge("a"), 0),
    ],
)
def test_every_shape_of_a_fee(of: Service, asked: Charge, gross: int) -> None:
    found = fee(asked, of)
    assert found.gross_cents == gross
    assert found.how


def test_a_first_tooth_is_first_again_at_another_visit() -> None:
    together = priced(charge("reshape", 2, "13", "23"))
    apart = priced(charge("reshape", 1, "13", visit=1), charge("reshape", 1, "23", visit=2))
    assert (together.total_cents, apart.total_cents) == (8500, 12000)


def test_included_lines_stand_on_the_estimate_with_nothing() -> None:
    review = Service(
        key="review", code="R14", words="review after 14 days", shape="included", tax_class="reconstructive"
    )
    prices = BOOK.price_list_on(DAY_ZERO)
    prices = prices.model_copy(update={"services": (*prices.services, review)})
    found = estimate([*lead(), Charge("review")], prices, BOOK.tax_rates, DAY_ZERO)
    assert (found.lines[-1].total_cents, found.total_cents) == (0, 161825)


@pytest.mark.parametrize(
    ("of", "asked", "why"),
    [
        (service("per tooth"), Charge("a", 0), "no line"),
        (service("per tooth"), Charge("a", -1), "a quantity of -1 is no line"),
        (service("per tooth"), Charge("a", 10**12), "a zero too many; a line has 200 at most"),
        (service("per tooth"), Charge("a", 2, teeth("11")), "2 charged and 1 tooth named"),
        (service("per unit", least=3), Charge("a", 2), "3 or more"),
        (service("per patient"), Charge("a", 2), "stand once"),
        (service("course"), Charge("a", 2), "stand once"),
        (service("per arch"), Charge("a", 3), "a mouth has two"),
        (service("per surface", further_cents="1"), Charge("a"), "how many surfaces"),
        (service("per time"), Charge("a"), "how many minutes"),
        (service("per tooth"), Charge("a", bill_cents=5), "passed through"),
        (service("pass-through"), Charge("a", bill_cents=-5), "passed through"),
    ],
)
def test_charges_that_do_not_fit_their_shape(of: Service, asked: Charge, why: str) -> None:
    with pytest.raises(FeeError, match=why):
        fee(asked, of)


def test_a_price_nobody_typed_is_asked_for_by_name() -> None:
    with pytest.raises(LookupError, match=r'"a" \(A\) has no price yet'):
        fee(Charge("a"), service("per tooth", None))
    with pytest.raises(EstimateError) as refused:
        priced(charge("index"), Charge("gold-tooth"), charge("build-up", 0))
    assert len(refused.value.faults) == 2


def test_lines_are_rounded_by_the_price_lists_rule_before_anything_else() -> None:
    prices = BOOK.price_list_on(DAY_ZERO).model_copy(update={"round_lines_to_cents": 500})
    found = estimate([charge("small-addition"), charge("examination")], prices, BOOK.tax_rates, DAY_ZERO)
    assert found.total_cents == 41000
    hourly = service("per time", "325", tax_class="reconstructive")
    found = estimate(
        [Charge("a", minutes=31)],
        prices.model_copy(update={"services": (hourly,), "packages": ()}),
        BOOK.tax_rates,
        DAY_ZERO,
    )
    assert found.lines[0].gross_cents == 19000
    assert found.lines[0].how[-1] == "rounded to 190.00"


# ---------------------------------------------------------------- from cost to fee


def test_margin_is_on_the_fee_and_not_a_mark_up() -> None:
    # 402,000 a year; 185 minutes, three teeth, one visit, 165.00 of laboratory; a mark-up of 22 % falls 78.05 short
    hourly = operating_cost_per_hour(40200000, chairs=2, weeks=45, hours=32, used_percent=Decimal(80))
    assert half_up(hourly) == 17448
    assert BOOK.chair_rate("dentist") == 32500
    assert BOOK.chair_rate("hygiene") == 23700
    found = cost(BOOK, [("dentist", 185)], teeth=3, visits=1, lab_cents=16500)
    assert [half_up(part) for part in (found.chair, found.materials, found.total)] == [100208, 9072, 125780]
    by_margin, by_mark_up = found.fee_for_margin(Decimal(22)), found.fee_for_mark_up(Decimal(22))
    assert (half_up(by_margin), half_up(by_mark_up), half_up(by_margin - by_mark_up)) == (161257, 153452, 7805)
    fees = (up_to_next(by_margin, BOOK.fee_round_cents), up_to_next(by_mark_up, BOOK.fee_round_cents), 157000)
    assert fees == (161500, 153500, 157000)
    assert [half_up(found.margin_percent(each) * 10) for each in fees] == [221, 181, 199]
    with pytest.raises(ValueError, match="below 100"):
        found.fee_for_margin(Decimal(100))


def test_minutes_of_other_people_have_their_own_rate() -> None:
    mixed = cost(BOOK, [("dentist", 60), ("hygiene", 60), ("assistant", 60)])
    assert mixed.total == 32500 + 23700 + 20900
    unset = BOOK.model_copy(update={"hygiene_cents_per_hour": None})
    with pytest.raises(LookupError, match="hygiene_cents_per_hour"):
        cost(unset, [("hygiene", 15)])


# ---------------------------------------------------------------- validity, earning, refunds


def test_a_price_rises_after_it_was_shown() -> None:
    # Shown on 3 February for 90 days; a build-up goes from 445 to 463 on 1 March: three cost 54.00 more from 5 May
    shown = date(2026, 2, 3)
    last = valid_through(shown, 90)
    assert last == date(2026, 5, 4)
    old = BOOK.price_list_on(DAY_ZERO)
    build_up = old.service("build-up").model_copy(update={"cents": 46300})
    dearer = old.model_copy(
        update={"version": 9, "effective": date(2026, 3, 1), "services": (build_up,), "packages": ()}
    )
    cheap = old.model_copy(update={"effective": date(2026, 1, 1), "packages": ()})
    book = BOOK.model_copy(update={"price_lists": (cheap, dearer)})
    assert [book.price_list_on(day).version for day in (shown, date(2026, 3, 1), date(2026, 5, 5))] == [7, 9, 9]
    totals = [
        estimate([charge("build-up", 3)], book.price_list_on(day), BOOK.tax_rates, day).total_cents
        for day in (shown, date(2026, 5, 5))
    ]
    assert totals == [3 * 44500, 3 * 46300]
    assert totals[1] - totals[0] == 5400
    evening = datetime(2026, 5, 5, 3, 40, tzinfo=UTC)  # 4 May 23:40 in the office
    assert holds_at(last, evening, "America/Toronto")
    assert not holds_at(last, evening + timedelta(minutes=20), "America/Toronto")
    assert not holds_at(last, evening, "Europe/Madrid")
    with pytest.raises(ValueError, match="time zone"):
        holds_at(last, datetime(2026, 5, 4, 12), "America/Toronto")  # noqa: DTZ001
    with pytest.raises(ValueError, match="1 or more"):
        valid_through(shown, 0)


def test_withdrawing_before_and_after_the_teeth_are_cut() -> None:
    # Four ceramic faces, 5,920; the office's rule in this case is a plain 40 %
    plain = BOOK.model_copy(
        update={
            "deposit_percent": Decimal(40),
            "deposit_round_cents": 1,
            "deposit_in_full": (),
            "deposit_laboratory_in_full": False,
        }
    )
    faces = priced(charge("ceramic-face", 4, "13", "11", "21", "22"))
    paid = deposit(faces, plain).cents
    assert paid == 236800
    early = settle(paid, 38000)  # wax-up 220 and try-on 160
    assert (early.refund_cents, early.balance_due_cents, early.ask_first) == (198800, 0, False)
    reached = ("records", "preparation", "laboratory work sent")
    earned = earned_by_stages(faces.net_cents, BOOK.earning_stages, reached)
    assert earned == 414400
    late = settle(paid, earned)
    assert (late.refund_cents, late.balance_due_cents, late.ask_first) == (0, 177600, True)


def test_consent_withdrawn_half_way_refunds_990() -> None:
    # twelve: 11 and 21 mesial were done as small additions, wax-up and index were made
    accepted = priced(
        charge("small-addition", 3, "12", "11", "22"),
        charge("build-up", 1, "21"),
        charge("wax-up", 4),
        charge("index"),
        charge("wire-retainer"),
    )
    done = priced(charge("small-addition", 2, "11", "21"), charge("wax-up", 4), charge("index"))
    assert settle(accepted.total_cents, done.total_cents).refund_cents == 99000
    with pytest.raises(ValueError, match="nothing or more"):
        settle(1, -1)


@given(st.lists(st.integers(0, 10**12), max_size=6), st.data())
def test_what_is_drawn_is_drawn_whole_and_from_the_first(left: list[int], data: st.DataObject) -> None:
    cents = data.draw(st.integers(0, sum(left)))
    parts = drawn(cents, left)
    assert sum(parts) == cents
    assert all(0 <= part <= there for part, there in zip(parts, left, strict=True))
    begun = [place for place, part in enumerate(parts) if part]
    # Everything before the last that is touched is drawn to its end.
    assert all(parts[place] == left[place] for place in range(max(begun, default=0)))
    with pytest.raises(ValueError, match="cannot be drawn"):
        drawn(sum(left) + 1, left)


def test_courses_are_earned_by_the_month() -> None:
    assert earned_by_months(732000, 20, 11) == 402600  # 55 %
    assert earned_by_months(732000, 20, 25) == 732000
    with pytest.raises(ValueError, match="cannot be done"):
        earned_by_months(732000, 20, -1)


def test_a_course_earns_over_its_own_months_and_what_stands_beside_it_when_it_is_given() -> None:
    """Aligners of 18 months, retainers and a wire in one accepted plan, six months in; common practice, no source.

    A share of everything accepted, such as 55 % of 7,320, would count retainers and a wire that nobody has got: whoever
    moved away then would get too little back.
    """
    aligners, beside = 640000, 2 * 32000 + 28000
    assert aligners + beside == 732000
    assert earned_by_months(aligners, 18, 6) == 213336  # a third, the odd cents first: 6 x 355.56
    assert earned_by_months(aligners, 18, 18) == aligners


@given(st.integers(0, 10**7), st.integers(1, 40), st.data())
def test_everything_earned_in_parts_is_the_whole(net: int, parts: int, data: st.DataObject) -> None:
    done = data.draw(st.integers(0, parts))
    assert earned_by_teeth(net, parts, parts) == net
    assert 0 <= earned_by_teeth(net, parts, done) <= net
    assert abs(earned_by_teeth(net, parts, done) - Fraction(net * done, parts)) < parts


@given(st.integers(0, 10**7), st.lists(st.decimals("0.1", "30", places=1), min_size=1, max_size=3))
def test_stages_earn_the_line_exactly(net: int, shares: list[Decimal]) -> None:
    stages = [EarningStage(stage=str(place), percent=share) for place, share in enumerate(shares)]
    stages.append(EarningStage(stage="rest", percent=100 - sum(shares)))
    assert earned_by_stages(net, stages, [stage.stage for stage in stages]) == net
    assert earned_by_stages(net, stages, ()) == 0
    with pytest.raises(ValueError, match="no stage here"):
        earned_by_stages(net, stages, ("polish",))
    with pytest.raises(ValueError, match="come to 100"):
        earned_by_stages(net, stages[:-1], ())


def test_a_package_rule_of_another_office() -> None:
    prices = BOOK.price_list_on(DAY_ZERO)
    ten = PackageRule(code="WX4", words="four wax-ups", service="wax-up", at_least=4, percent=Decimal(10))
    prices = prices.model_copy(update={"packages": (*prices.packages, ten)})
    found = estimate(lead(), prices, BOOK.tax_rates, DAY_ZERO)
    assert found.total_cents == 161825 - 2200
    assert len(found.taken_off_words) == 2
