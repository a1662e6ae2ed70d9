"""Statements of account: lines in the order of days, and balances that end where the sums do."""

from datetime import date, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.rules.settling import settle
from planner.rules.statement import Entry, balances, by_day, sums

AMOUNTS = st.integers(-(10**9), 10**9)
ENTRIES = st.lists(
    st.builds(
        Entry,
        st.integers(0, 2000).map(lambda n: date(2020, 1, 1) + timedelta(days=n)),
        AMOUNTS,
        AMOUNTS,
        st.integers(0, 10**9),
        AMOUNTS,
    ),
    max_size=12,
)


@given(ENTRIES)
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_the_last_balance_is_what_the_sums_come_to(entries: list[Entry]) -> None:
    ordered = [entries[place] for place in by_day(entries)]
    assert [one.on for one in ordered] == sorted(one.on for one in entries)
    whole = sums(entries)
    assert whole == sums(ordered)
    assert (balances(ordered) or (0,))[-1] == whole.balance_cents
    assert (whole.held_cents == 0) or (whole.owed_cents == 0)
    paid = whole.came_in_cents - whole.went_out_cents
    if min(paid, whole.earned_cents, whole.charged_cents) >= 0:
        # The same as what ends a plan (planner.rules.settling).
        ended = settle(paid, whole.earned_cents, whole.bills_cents, whole.charged_cents)
        assert (whole.held_cents, whole.owed_cents) == (ended.refund_cents, ended.balance_due_cents)


def test_a_statement_by_hand() -> None:
    """560 paid, 220 earned, a bill of 265, 422.75 earned, 450 paid, 150 gone back."""
    day = date(2026, 3, 3)
    amounts = [(56000, 0, 0), (0, 22000, 0), (0, 0, 26500), (0, 42275, 0), (45000, 0, 0), (-15000, 0, 0)]
    entries = [Entry(day + timedelta(days=place), *one) for place, one in enumerate(amounts)]
    assert balances(entries) == (56000, 34000, 7500, -34775, 10225, -4775)
    whole = sums(entries)
    assert (whole.came_in_cents, whole.went_out_cents, whole.earned_cents) == (101000, 15000, 64275)
    assert (whole.held_cents, whole.owed_cents) == (0, 4775)
