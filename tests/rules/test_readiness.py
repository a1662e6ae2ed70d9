"""Is a visit ready: common practice, no source; each row is flipped by the one fact that decides it."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.readiness import ReadyFacts, days_before, lacks, readiness, whitening_gap
from planner.rules.visit_states import LaboratoryState

ON = date(2026, 3, 12)
READY = ReadyFacts(
    on=ON,
    laboratory=True,
    laboratory_state=LaboratoryState.CHECKED,
    after_whitening=True,
    last_night=ON - timedelta(days=14),
    history_signed_on=date(2025, 3, 12),
)


def test_a_visit_that_has_everything_is_ready_row_by_row() -> None:
    assert [row.key for row in readiness(READY)] == [
        "consent", "deposit", "laboratory", "whitening", "history", "materials",
    ]  # fmt: skip
    assert lacks(READY) == ()
    assert (days_before(), whitening_gap()) == (7, 14)


@pytest.mark.parametrize(
    ("change", "key", "said", "where"),
    [
        ({"consent": ("The consent letter is not signed yet.",)}, "consent", "not signed yet", "letter"),
        ({"deposit_due_cents": 95000}, "deposit", "950.00", "account"),
        ({"laboratory_state": None}, "laboratory", "not ordered", "laboratory"),
        ({"laboratory_state": LaboratoryState.RECEIVED}, "laboratory", "nobody has read its label", "laboratory"),
        (
            {"laboratory_state": LaboratoryState.SENT, "laboratory_due": ON + timedelta(days=1)},
            "laboratory",
            "after the visit on 2026-03-12",
            "laboratory",
        ),
        ({"laboratory_state": LaboratoryState.ORDERED}, "laboratory", "no day is said", "laboratory"),
        ({"last_night": ON - timedelta(days=13)}, "whitening", "from 2026-03-13 on", "case"),
        ({"last_night": None}, "whitening", "ask the patient", "case"),
        ({"history_signed_on": date(2025, 3, 11)}, "history", "holds through 2026-03-11", "history"),
        ({"history_signed_on": None}, "history", "No signed history", "history"),
        ({"too_early": (("Build-up", ON, "whitening"),)}, "waiting", "Build-up: not before 2026-03-12", "visit"),
        ({"short": ("Etch gel 37 %",)}, "materials", "Etch gel 37 %", "shelf"),
    ],
)
def test_one_fact_flips_one_row_and_says_where_it_is_settled(
    change: dict[str, Any], key: str, said: str, where: str
) -> None:
    (row,) = [row for row in readiness(replace(READY, **change)) if row.lack]
    assert (row.key, row.where) == (key, where)
    assert said in row.lack


def test_what_does_not_apply_is_not_asked() -> None:
    plain = replace(READY, laboratory=False, after_whitening=False, laboratory_state=None, last_night=None)
    assert [row.key for row in readiness(plain)] == ["consent", "deposit", "history", "materials"]
    assert lacks(plain) == ()


@given(days=st.integers(0, 40))
def test_the_whitening_gap_is_fourteen_days_and_not_one_less(days: int) -> None:
    """Savian TG and others. Oper Dent 2021: no loss of bond seen two weeks after whitening (summary read)."""
    found = lacks(replace(READY, last_night=ON - timedelta(days=days)))
    assert bool(found) == (days < 14)
