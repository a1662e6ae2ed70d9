"""Arrangements to pay in parts: sums, refusals, rates with their law, and what to ask local counsel."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy_financial
import pytest
from babel.numbers import format_currency
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.arrangement import EU_RATE, US_RATE, ArrangementError, Asked, arrange
from planner.rules.units import format_cents

YES = date(2026, 3, 2)
ASKED = Asked(
    total_cents=118120,
    deposit_cents=30000,
    count=6,
    first_due=date(2026, 4, 2),
    agreed_on=YES,
    accepted_on=YES,
    currency="CAD",
    office_currency="CAD",
    law="other",
    at_most=6,
)


def fault(**changed: object) -> tuple[tuple[str, str], ...]:
    with pytest.raises(ArrangementError) as refused:
        arrange(replace(ASKED, **changed))  # type: ignore[arg-type]
    return refused.value.faults


def test_six_parts_without_interest() -> None:
    # 1,181.20 less a deposit of 300.00, in six: common practice, no source
    made = arrange(ASKED)
    assert [due.cents for due in made.dues] == [14687] * 5 + [14685]
    assert (made.financed_cents, made.charge_cents, made.price_cents) == (88120, 0, 118120)
    assert made.dues[-1].left_cents == 0
    assert [rate.percent for rate in made.rates] == [0, 0]
    assert made.how == (
        "1181.20 − deposit 300.00 = 881.20",
        "no interest: 5 × 146.87 + last 146.85 = 881.20; the last one takes the remainder",
    )


def test_day_31_moves_and_comes_back() -> None:
    made = arrange(replace(ASKED, first_due=date(2027, 1, 31), count=4))
    assert [due.on.day for due in made.dues] == [31, 28, 31, 30]


def test_interest_by_the_schedule_of_numpy_financials_documentation() -> None:
    # 2,500 at 8.24 % over 12 months: interest 112.98 in all
    made = arrange(
        replace(ASKED, total_cents=250000, deposit_cents=0, count=12, at_most=12, yearly_percent=Decimal("8.24"))
    )
    assert abs(made.charge_cents - 11298) <= 1
    assert made.paid_cents == 250000 + made.charge_cents
    outside = numpy_financial.rate(12, -float(made.dues[0].cents) / 100, 2500.0, 0.0) * 1200
    us, eu = made.rates
    assert (us.label, eu.label) == (US_RATE, EU_RATE)
    assert abs(us.percent - Decimal(outside)) < Decimal("0.01")
    assert eu.percent == Decimal(100 * ((1 + outside / 1200) ** 12 - 1)).quantize(Decimal("0.1"))


def test_each_law_prints_its_own_rate() -> None:
    with_interest = replace(ASKED, yearly_percent=Decimal(12), count=4)
    assert [rate.label for rate in arrange(replace(with_interest, law="us")).rates] == [US_RATE]
    assert [rate.label for rate in arrange(replace(with_interest, law="eu")).rates] == [EU_RATE]
    late = arrange(replace(with_interest, law="us", first_due=date(2026, 5, 20)))
    assert late.rates[0].percent < 12, "a longer way to the first instalment costs the patient nothing more"


def test_when_lending_law_may_come_in() -> None:
    assert arrange(replace(ASKED, law="us", count=4)).questions == ()
    (more_than_four,) = arrange(replace(ASKED, law="us", count=5)).questions
    assert more_than_four.startswith("More than 4 instalments")
    assert len(arrange(replace(ASKED, law="us", count=4, yearly_percent=Decimal(1))).questions) == 1
    # Directive (EU) 2023/2225, article 2 (2)(h): within 50 days outside, 180 days within, from 20 November 2026
    day = date(2026, 12, 1)
    in_time = replace(ASKED, law="eu", agreed_on=day, accepted_on=day, count=1, first_due=date(2027, 1, 20))
    assert arrange(in_time).questions == ()
    assert len(arrange(replace(in_time, first_due=date(2027, 5, 30))).questions) == 1


def test_payments_end_by_the_fit_of_laboratory_work() -> None:
    assert arrange(replace(ASKED, fitted_on=date(2026, 9, 2))).warnings == ()
    (late,) = arrange(replace(ASKED, fitted_on=date(2026, 9, 1))).warnings
    assert "5 of 6 do" in late


def test_refusals_name_their_field_and_say_what_would_be_right() -> None:
    assert fault(count=0) == (("count", "0 instalments are none: write 1 or more."),)
    assert fault(count=7) == (("count", "7 instalments are too many: this office agrees to 6 at most."),)
    assert fault(deposit_cents=-1)[0][0] == "deposit"
    assert fault(deposit_cents=118120)[0][0] == "deposit"
    assert fault(yearly_percent=Decimal(-1))[0][0] == "rate"
    assert fault(yearly_percent=Decimal(100))[0][0] == "rate"
    ((field, words),) = fault(first_due=date(2026, 3, 1))
    assert field == "first_due"
    assert "before the yes of 2026-03-02" in words
    ((_field, words),) = fault(accepted_on=None, first_due=date(2026, 3, 1))
    assert "before the agreement" in words
    ((_field, words),) = fault(office_currency="USD")
    assert "The estimate is in CAD and this office now takes USD" in words
    assert fault(total_cents=0, deposit_cents=0)[0] == (
        "",
        "Nothing is to be paid here, so there is nothing to arrange.",
    )
    assert fault(total_cents=3, deposit_cents=0)[0][0] == "count"
    tiny = fault(total_cents=100, deposit_cents=0, count=21, at_most=24, yearly_percent=Decimal("0.01"))
    assert tiny == (("count", "1.00 cannot be paid in 21 parts of a cent or more."),)
    assert len(fault(count=0, deposit_cents=-5, yearly_percent=Decimal(200))) == 3, "all faults at once"


@settings(max_examples=15, deadline=None)
@given(
    st.integers(10_000, 2_000_000), st.integers(0, 90), st.integers(1, 24), st.decimals("0", "30", places=2),
    st.dates(date(2026, 3, 2), date(2026, 6, 30)),
)  # fmt: skip
def test_sums_hold_and_the_same_is_the_same(total: int, share: int, count: int, rate: Decimal, first: date) -> None:
    asked = replace(
        ASKED,
        total_cents=total,
        deposit_cents=total * share // 100,
        count=count,
        at_most=24,
        yearly_percent=rate,
        first_due=first,
    )
    made = arrange(asked)
    assert made.price_cents == total + made.charge_cents
    assert sum(due.cents for due in made.dues) == made.paid_cents
    assert made.dues[-1].left_cents == 0
    assert min(due.cents for due in made.dues) > 0
    assert arrange(asked) == made


@settings(max_examples=25, deadline=None)
@given(st.integers(-(10**9), 10**9))
def test_amounts_print_as_the_common_locale_data_prints_them(cents: int) -> None:
    # Unicode CLDR, by Babel: the amount of the general currency pattern
    outside = format_currency(Decimal(cents) / 100, "CAD", format="0.00", locale="en")
    assert str(format_cents(cents)) == outside
