"""A figure that a dentist meets in two data files is the same figure in both."""

from decimal import Decimal

import pytest

from planner.rules.evidence import evidence
from planner.rules.gate_engine import gate_book
from planner.rules.gate_rules import Gate
from planner.rules.gates import own_gates
from planner.rules.settings import read_settings
from planner.rules.space_limits import default_limits
from planner.rules.treatments import all_combinations, all_treatments

EVERY: dict[str, Gate] = {gate.id: gate for gate in gate_book().gates} | {
    gate.id: gate for key, treatment in all_treatments().items() for gate in own_gates(key, treatment)
}


def limits(gate: str) -> list[Decimal]:
    """The limits of a gate's levels, in order."""
    return [level.bound for level in EVERY[gate].levels if level.bound is not None]


def tenths(value: int) -> Decimal:
    return Decimal(value) / 10


@pytest.mark.parametrize("gate", ["implant-crown.crowns", "implant-crown.roots"])
def test_how_far_short_an_implants_room_may_be(gate: str) -> None:
    assert tenths(read_settings("proportions.toml")["implant_short_care"].value) in limits(gate)


def test_half_a_millimetre_of_edge_in_a_lifetime() -> None:
    model = default_limits()
    assert {tenths(model.shorten_cap), tenths(model.shorten_lifetime), *limits("reshaping.limit")} == {Decimal("0.5")}
    assert evidence("reshaping-removal").value == Decimal("0.5")
    assert tenths(read_settings("ranking.toml")["spared"].value) == Decimal("0.5")


def test_how_wide_a_canine_may_be_in_the_laterals_place() -> None:
    assert limits("canine-as-lateral") == [Decimal(default_limits().proportion_ceiling) / 100]


def test_large_shares_and_long_edges() -> None:
    model = default_limits()
    assert limits("bonding.share") == [tenths(model.share_comfort)]
    assert tenths(model.lengthen_comfort) in limits("bonding.lengthening")
    assert tenths(model.lengthen_cap_canine_checked) in limits("bonding.lengthening")


def test_waits_of_gates_and_calendar() -> None:
    assert limits("clock.whitening") == [evidence("whitening-bond-wait").value]
    braces = evidence("braces-bond-wait")
    assert limits("clock.braces-off") == [braces.low, braces.high]
    [hold] = [wait.days for wait in all_combinations()["braces-then-wing-bridge"].waits]
    assert 0 <= limits("wing-bridge.hold")[0] - hold.value <= 1  # three months, as days
    review = all_treatments()["whitening"].visit("review")
    assert review.wait is not None
    assert review.min_days == review.wait.value


def test_taken_off_behind_for_a_wing_and_in_front_for_a_face() -> None:
    assert all_treatments()["ceramic-veneer"].removal.tenths[1] > limits("ceramic-veneer.deep")[0] * 10
    assert evidence("veneer-face-removal").high == limits("ceramic-veneer.deep")[0]


def test_room_of_an_implant_is_reckoned_once() -> None:
    settings = read_settings("proportions.toml")
    assert gate_book().settings["implant_narrowest"] in settings["implant_diameters"].value
