"""The account of tooth over a lifetime."""

from decimal import Decimal
from random import Random

import pytest

from planner.rules.mouth import CaseFacts
from planner.rules.structure import StructureAccount, edge_limit, expected, structure_account
from planner.rules.treatments import all_treatments, treatment
from planner.rules.upkeep import Counts, demands
from tests.rules.test_outlook import LEAD, plan_facts


def account(key: str, teeth: int, age: int = 47, facts: CaseFacts | None = None) -> StructureAccount:
    """The account of the lead case's option ``key`` for somebody of that age."""
    option = LEAD.option(key)
    parts = [treatment(each) for each in option.treatments]
    asked = demands([(part, Counts(teeth=teeth)) for part in parts])
    return structure_account(option, asked, all_treatments().values(), facts or plan_facts(), age)


def test_four_faces_from_47_to_70_against_bonding() -> None:
    """The worked example (common practice, no source): 4 faces, 23 years, 1.5 % a year: 1.4 renewals; 10 of 100 step up
    to a crown: 0.14 teeth. What bonding steps up to is a face, so to a crown it is none."""
    number, crowns = expected([Decimal("0.015")] * 23, 4, Decimal(10))
    assert number == Decimal("1.380")
    assert round(number, 1) == Decimal("1.4")
    assert round(crowns, 2) == Decimal("0.14")
    assert treatment("ceramic-veneer").renewal.next_larger == "a crown"  # type: ignore[union-attr]
    bonded = account("reshape-bond", 3).at[-1]
    assert all(each.next_larger == "a face" for each in bonded.renewals)
    assert sum(each.step_ups for each in bonded.renewals if each.next_larger == "a crown") == 0


def test_the_same_chance_of_stepping_up_holds_for_every_option() -> None:
    shares = {each.renewal.step_up.key for each in all_treatments().values() if each.renewal is not None}
    assert shares == {"renewal-step-up"}


def test_renewals_of_a_steady_rate_are_teeth_times_years_times_rate() -> None:
    """The mean of a binomial count, n h t, and a seeded simulation of it."""
    number, _ = expected([Decimal("0.04")] * 30, 3, Decimal(10))
    assert number == 3 * 30 * Decimal("0.04")
    dice = Random(7)
    drawn = [sum(dice.random() < 0.04 for _ in range(90)) for _ in range(4000)]
    assert abs(sum(drawn) / 4000 - float(number)) < 0.1


def test_renewed_faces_cost_tooth_and_a_renewed_addition_almost_none() -> None:
    faces, bonded = account("ceramic-veneer", 4), account("reshape-bond", 3)
    (at_50, at_70), (_, bonded_70) = faces.at, bonded.at
    assert (at_50.age, at_50.years, at_70.age, at_70.years) == (50, 3, 70, 23)
    assert 0 < at_50.number < at_70.number
    assert at_70.mm == (at_70.number * Decimal("0.1"), at_70.number * Decimal("0.2"))
    assert bonded_70.mm == (0, bonded_70.number * Decimal("0.05"))
    assert at_70.step_ups == at_70.number / 10
    assert at_70.renewals[0].extrapolated
    assert not at_50.renewals[0].extrapolated


@pytest.mark.parametrize(("age", "ages"), [(18, [30, 50, 70]), (30, [50, 70]), (47, [50, 70]), (70, []), (83, [])])
def test_only_ages_that_lie_ahead(age: int, ages: list[int]) -> None:
    assert [at.age for at in account("reshape-bond", 3, age).at] == ages


def test_what_was_taken_before_stands_in_the_ledger() -> None:
    facts = plan_facts()
    teeth = tuple(
        each.model_copy(update={"edge_removed_before": 3}) if each.tooth.iso == "13" else each
        for each in facts.examination.teeth
    )
    before = facts.model_copy(update={"examination": facts.examination.model_copy(update={"teeth": teeth})})
    ledger = {row.tooth.iso: row for row in account("reshape-bond", 3, facts=before).teeth}
    assert (ledger["13"].edge_before, ledger["13"].edge_now, ledger["13"].edge_in_all) == (3, 5, 8)
    assert ledger["13"].edge_in_all > edge_limit() == 5
    assert ledger["22"].edge_in_all == ledger["22"].face_now == 0
    assert [row.tooth.iso for row in account("none", 0, facts=before).teeth] == ["13"]


def test_a_treatment_without_renewals_takes_nothing_more() -> None:
    assert account("whitening", 6).at[-1].number == 0
