"""Real seconds and amounts beside what was planned: what is learnt from, what is kept and not used."""

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from planner.rules.own_use import MOST, WEIGHT, StepTimed, Used, propose_use, scaled, step_truths


def test_the_office_formula_for_amounts():
    """(10 × forecast + n × own) ÷ (10 + n), as for minutes; three visits at 1.5, 1.2 and 0.9 of it, by hand."""
    found = propose_use([Used(100, 150, "a"), Used(100, 120, "a"), Used(200, 180, "a")], "a")
    assert (found.count, found.own, found.proposed) == (3, Fraction(12, 10), Fraction(136, 130))


def test_disturbed_and_older_visits_are_kept_and_not_used():
    rows = [Used(100, 110, "a"), Used(100, 900, "a", disturbed=True), Used(100, 300, "b"), Used(100, 500, "a")]
    found = propose_use(rows, "a")
    assert (found.count, found.disturbed, found.capped) == (2, 1, 1)
    assert found.own == (Fraction(11, 10) + MOST) / 2
    assert propose_use(rows[1:2], "a") is None
    assert propose_use([], "a") is None


def test_an_amount_never_becomes_nothing():
    assert scaled(Decimal("0.10"), Fraction(13, 10)) == Decimal("0.13")
    assert scaled(Decimal("0.01"), Fraction(1, 10)) == Decimal("0.01")
    assert scaled(Decimal(0), Fraction(2)) == 0


def test_steps_have_the_middle_of_what_nothing_disturbed():
    rows = [StepTimed("b.A1", "Etch", "dentist", 60, real) for real in (50, 70, 65)]
    rows.append(StepTimed("b.A1", "Etch", "dentist", 60, 900, disturbed=True))
    (found,) = step_truths([*rows])
    assert (found.count, found.disturbed, found.planned, found.real) == (3, 1, 60, 65)
    assert step_truths(rows[3:])[0].real == 0


amounts = st.builds(Used, st.integers(0, 500), st.integers(0, 2000), st.sampled_from("ab"), st.booleans())


@given(st.lists(amounts, max_size=20))
def test_laws_of_shrinkage(rows):
    found = propose_use(rows, "a")
    if found is None:
        return
    assert 0 <= found.own <= MOST
    # The proposal lies between the forecast and what was used, the nearer to it the more visits there are.
    assert min(found.own, 1) <= found.proposed <= max(found.own, 1)
    assert found.proposed - 1 == (found.own - 1) * Fraction(found.count, WEIGHT + found.count)
    assert (
        propose_use([*rows, Used(100, 700, "a", disturbed=True), Used(100, 700, "b")], "a").proposed == found.proposed
    )
