"""The general gates, one fact at a time: each flips its verdict both ways.

What each gate must answer comes from the working rules of the trade ("common practice, no source") unless a line says
otherwise.
"""

from typing import Any

import pytest

from planner.rules.courses import Course, Work
from planner.rules.gate_engine import gate_book
from planner.rules.gates import swaps
from planner.rules.verdicts import Verdict, worst
from tests.rules.cases import COURSES, day, found, iso, lead_facts, office, reasons, the

CARE, WAIT, ASK, NO = Verdict.CARE, Verdict.WAIT, Verdict.ASK, Verdict.NO
WOMAN = {"patient.sex": "woman"}
OFF = {"examination.orthodontics.state": "finished"}

# gate, course, changes with which it passes, changes that flip it, verdict
FLIPS: list[tuple[str, str, dict[str, Any], dict[str, Any], Verdict]] = [
    ("G1", "bonding", {}, {"history.urgent_problem": True}, WAIT),
    ("G2.plan", "bonding", {}, {"tooth.22.decay": True}, WAIT),
    ("G2.plan", "reshaping", {}, {"tooth.11.decay": True}, WAIT),
    ("G2.leaking", "none", {}, {"examination.decay.leaking_fillings": True}, CARE),
    ("G2.elsewhere", "whitening", {}, {"examination.decay.open_lesions": 1}, WAIT),
    ("G2.elsewhere", "ceramic-veneer", {}, {"examination.decay.open_lesions": 1}, WAIT),
    ("G2.elsewhere", "bonding", {}, {"examination.decay.open_lesions": 1}, WAIT),
    (
        "G2.elsewhere",
        "bonding",
        {},
        {"examination.decay.open_lesions": 1, "examination.decay.filling_booked_on": str(day(4))},
        CARE,
    ),
    ("G3", "bonding", {}, {"tooth.21.pocket": 5, "tooth.21.pocket_bleeds": True}, WAIT),
    ("G3", "bonding", {}, {"tooth.21.pocket": 5, "tooth.21.pocket_bleeds": False}, CARE),
    ("G3", "bonding", {"tooth.21.pocket": 4}, {"tooth.21.pocket": 4, "tooth.21.pocket_bleeds": True}, CARE),
    ("G4", "braces-then-bonding", {"examination.gums.deepest_pocket": 5}, {"examination.gums.deepest_pocket": 6}, WAIT),
    ("G4", "ceramic-veneer", {"examination.gums.deepest_pocket": 5}, {"examination.gums.deepest_pocket": 6}, WAIT),
    ("G4", "bonding", {"examination.gums.deepest_pocket": 5}, {"examination.gums.deepest_pocket": 6}, CARE),
    ("G4-5", "bonding", {}, {"examination.gums.probed_whole_mouth": False}, ASK),
    ("G5", "bonding", {"examination.gums.bleeding_percent": 9}, {"examination.gums.bleeding_percent": 10}, CARE),
    ("G5", "bonding", {}, {"examination.gums.bleeding_percent": 30}, CARE),
    ("G5", "bonding", {}, {"examination.gums.bleeding_percent": 31}, WAIT),
    (
        "G5",
        "bonding",
        {},
        {"examination.gums.bleeding_percent": 21, "examination.gums.ever_treated_for_gum_disease": True},
        WAIT,
    ),
    ("G6", "bonding", {"examination.gums.plaque_percent": 25}, {"examination.gums.plaque_percent": 26}, CARE),
    ("G6", "bonding", {}, {"examination.gums.plaque_percent": 41}, WAIT),
    (
        "G6",
        "braces-then-bonding",
        {"examination.gums.plaque_percent": 20},
        {"examination.gums.plaque_percent": 21},
        WAIT,
    ),
    ("G7", "bonding", {}, {"tooth.22.papilla_bleeds": True}, WAIT),
    ("G8", "bonding", {}, {"history.signed_on": None}, ASK),
    ("G9", "bonding", {}, {"pictures": []}, ASK),
    ("G10.nerve", "bonding", {}, {"tooth.22.nerve": "negative"}, ASK),
    ("G10.nerve", "bonding", {}, {"tooth.22.nerve": "unclear"}, ASK),
    ("G10.nerve", "bonding", {}, {"tooth.22.nerve": "negative", "tooth.22.root_treated": True}, CARE),
    ("G10.dark", "whitening", {}, {"tooth.21.dark": True}, ASK),
    ("G10.lump", "bonding", {}, {"tooth.21.gum_lump": True}, ASK),
    ("G10.trauma", "bonding", {}, {"tooth.21.trauma": True}, CARE),
    ("G10.trauma", "bonding", {}, {"tooth.21.trauma": True, "pictures": []}, ASK),
    ("G12.worry", "whitening", {}, {"history.looks_worry": True}, WAIT),
    (
        "G12.disliked",
        "bonding",
        {"history.smile_treatments_disliked": 1},
        {"history.smile_treatments_disliked": 2},
        WAIT,
    ),
    ("G13", "whitening", WOMAN, WOMAN | {"history.pregnant": True}, WAIT),
    ("G13", "ceramic-veneer", WOMAN, WOMAN | {"history.pregnant": True}, WAIT),
    ("G13", "braces-then-bonding", WOMAN, WOMAN | {"history.pregnant": True}, WAIT),
    ("G13", "bonding", WOMAN, WOMAN | {"history.pregnant": True}, CARE),
    ("G13.passed", "bonding", WOMAN, WOMAN | {"history.pregnant": True, "history.due_on": str(day(-1))}, ASK),
    ("G13.feeding", "whitening", WOMAN, WOMAN | {"history.breast_feeding": True}, WAIT),
    ("G14", "bonding", {}, {"history.methacrylate": "positive"}, NO),
    ("G14", "braces-then-wing-bridge", {}, {"history.methacrylate": "positive"}, NO),
    ("G14", "reshaping", {}, {"history.methacrylate": "positive"}, CARE),
    ("G14", "bonding", {}, {"history.methacrylate": "suspected"}, ASK),
    ("G15.latex", "reshaping", {}, {"history.latex": True}, CARE),
    ("G15.nickel", "braces-then-bonding", {}, {"history.nickel": True}, CARE),
    ("G15.peroxide", "whitening", {}, {"history.peroxide": True}, NO),
    ("G15.peroxide", "bonding", {}, {"history.peroxide": True}, CARE),
    ("G15.chlorhexidine", "bonding", {}, {"history.chlorhexidine": True}, CARE),
    ("G15.sulphite", "bonding", {}, {"history.sulphite": True}, CARE),
    ("G15.antibiotics", "braces-then-implant-crown", {}, {"history.antibiotics": True}, CARE),
    ("G16.drug", "braces-then-implant-crown", {}, {"history.bone_drug": "cancer dose"}, NO),
    ("G16.drug", "braces-then-implant-crown", {}, {"history.bone_drug": "osteoporosis dose"}, CARE),
    ("G16.drug", "braces-then-implant-crown", {}, {"history.bone_drug": "other"}, CARE),
    ("G16.jaw", "braces-then-implant-crown", {}, {"history.earlier_jaw_death": True}, NO),
    ("G16.radiation", "braces-then-implant-crown", {}, {"history.jaw_radiation": "50 Gy or more"}, NO),
    ("G16.radiation", "braces-then-implant-crown", {}, {"history.jaw_radiation": "dose unknown"}, NO),
    (
        "G17",
        "braces-then-implant-crown",
        {"history.diabetes": True, "history.hba1c_tenths": 69, "history.hba1c_on": str(day(-30))},
        {"history.diabetes": True, "history.hba1c_tenths": 81, "history.hba1c_on": str(day(-30))},
        WAIT,
    ),
    (
        "G17",
        "braces-then-implant-crown",
        {"history.diabetes": True, "history.hba1c_tenths": 69, "history.hba1c_on": str(day(-30))},
        {"history.diabetes": True, "history.hba1c_tenths": 80, "history.hba1c_on": str(day(-30))},
        CARE,
    ),
    ("G17", "braces-then-implant-crown", {}, {"history.diabetes": True}, ASK),
    (
        "shelf.hba1c",
        "braces-then-implant-crown",
        {"history.diabetes": True, "history.hba1c_tenths": 65, "history.hba1c_on": "2025-12-02"},
        {"history.diabetes": True, "history.hba1c_tenths": 65, "history.hba1c_on": "2025-12-01"},
        ASK,
    ),
    ("G18", "bonding", {}, {"patient.can_decide_alone": False}, WAIT),
    ("G18", "bonding", {}, {"patient.can_decide_alone": None}, ASK),
    ("G20.growing", "bonding", {}, {"gap.21-22.new_or_growing": True}, ASK),
    ("G20.midline", "bonding", {}, {"examination.bite.frenum_checked": False}, ASK),
    ("G20.midline", "bonding", {"gap.11-21.width": "0.0"}, {"examination.bite.extra_tooth_checked": None}, ASK),
    ("G21.heart", "bonding", {}, {"history.highest_risk_heart": True}, ASK),
    ("G21.bleeding", "bonding", {}, {"history.bleeding_or_thinner": True}, CARE),
    ("G21.immunity", "braces-then-implant-crown", {}, {"history.steroid_or_low_immunity": True}, CARE),
    ("G21.asthma", "bonding", {}, {"history.asthma": True}, CARE),
    ("film-factor", "bonding", {}, {"examination.instrument": "film"}, ASK),
    ("G10.arch", "whitening", {"tooth.23.nerve": None}, {"tooth.23.nerve": "negative"}, ASK),
    ("G10.arch", "whitening", {}, {"tooth.23.nerve": "negative", "tooth.23.root_treated": True}, CARE),
    ("G10.trauma-braces", "braces-then-bonding", {"tooth.23.trauma": None}, {"tooth.23.trauma": True}, CARE),
    ("G10.trauma-braces", "braces-then-bonding", {}, {"tooth.23.trauma": True, "pictures": []}, ASK),
    ("film-measured", "bonding", {"examination.instrument": "scan"}, {"examination.instrument": "film"}, ASK),
    ("dry", "bonding", {}, {"examination.bite.can_be_kept_dry": False}, NO),
    ("dry", "ceramic-veneer", {}, {"examination.bite.can_be_kept_dry": False}, NO),
    ("dry", "braces-then-wing-bridge", {}, {"examination.bite.can_be_kept_dry": False}, NO),
    ("extra-tooth", "bonding", {"tooth.extra beside 26": {}}, {"tooth.extra beside 21": {}}, ASK),
    ("extra-tooth", "braces-then-bonding", {}, {"tooth.extra beside 22, distal": {}}, ASK),
    ("canine-as-lateral", "bonding", {"tooth.13.width": "7.2"}, {"tooth.13.width": "7.3"}, CARE),
    ("dark-triangle", "bonding", {"gap.21-22.contact_to_bone": "5.0"}, {"gap.21-22.contact_to_bone": "5.1"}, CARE),
    ("wear-cause", "bonding", {"tooth.21.wear": 2, "tooth.21.wear_cause": "acid"}, {"tooth.21.wear": 2}, ASK),
    ("jaw", "bonding", {}, {"history.jaw_pain": True}, CARE),
    ("anxious", "bonding", {}, {"history.anxious": True}, CARE),
    (
        "clock.whitening",
        "bonding",
        {"examination.colour.last_whitening_night": str(day(-14))},
        {"examination.colour.last_whitening_night": str(day(-13))},
        WAIT,
    ),
    ("clock.braces-on", "bonding", {}, {"examination.orthodontics.state": "in treatment"}, WAIT),
    (
        "clock.braces-off",
        "bonding",
        OFF | {"examination.orthodontics.removed_on": str(day(-28))},
        OFF | {"examination.orthodontics.removed_on": str(day(-27))},
        CARE,
    ),
    (
        "clock.braces-off",
        "bonding",
        OFF | {"examination.orthodontics.removed_on": str(day(-28))},
        OFF | {"examination.orthodontics.removed_on": str(day(-13))},
        WAIT,
    ),
    ("clock.braces-off", "bonding", {}, OFF, ASK),
    ("place.occupied", "braces-then-wing-bridge", {}, {"tooth.12": {"width": "6.0"}}, NO),
]


@pytest.mark.parametrize(("gate", "course", "before", "after", "verdict"), FLIPS)
def test_gate_flips_when_the_deciding_fact_changes(
    gate: str, course: str, before: dict[str, Any], after: dict[str, Any], verdict: Verdict
) -> None:
    assert found(gate, reasons(course, before, longest_visit=194)) is None
    reason = the(gate, reasons(course, after, longest_visit=194))
    assert reason.verdict is verdict
    assert reason.datum
    assert reason.source
    assert reason.certainty
    assert reason.words[0].isupper()
    assert reason.words.endswith(".")
    assert worst(reasons(course, after, longest_visit=194)).severity >= verdict.severity


def test_fear_matters_only_for_a_long_visit() -> None:
    assert found("anxious", reasons("bonding", {"history.anxious": True}, longest_visit=150)) is None
    assert found("anxious", reasons("bonding", {"history.anxious": True}, longest_visit=151)) is not None
    assert the("anxious", reasons("bonding", {"history.anxious": None}, longest_visit=151)).verdict is ASK


def test_every_general_gate_is_flipped_here() -> None:
    tried = {gate for gate, *_ in FLIPS} | {"place.none"}
    assert {gate.id for gate in gate_book().gates} <= tried


def test_an_absent_tooth_is_not_an_empty_place() -> None:
    bridge = the("place.none", reasons("wing-bridge"))
    assert bridge.verdict is NO
    assert found("place.occupied", reasons("braces-then-wing-bridge")) is None
    without_braces = Course(
        "wing-bridge", ("wing-bridge",), COURSES["braces-then-wing-bridge"].work[2:], places_filled=(iso("12"),)
    )
    occupied = the("place.occupied", reasons(without_braces))
    assert occupied.verdict is NO
    assert "upper right lateral incisor (12, Universal 7)" in occupied.words


# ---------------------------------------------------------------- no treatment


@pytest.mark.parametrize(
    ("gate", "changes"),
    [
        ("G1", {"history.urgent_problem": True}),
        ("G2.plan", {"tooth.23.decay": True}),
        ("G2.elsewhere", {"examination.decay.open_lesions": 2}),
        ("G3", {"tooth.21.pocket": 5, "tooth.21.pocket_bleeds": True}),
        ("G4", {"examination.gums.deepest_pocket": 6}),
        ("G9", {"pictures": []}),
        ("G10.nerve", {"tooth.22.nerve": "negative"}),
        ("G10.dark", {"tooth.22.dark": True}),
        ("G10.lump", {"tooth.22.gum_lump": True}),
    ],
)
def test_no_treatment_is_care_when_something_needs_care(gate: str, changes: dict[str, Any]) -> None:
    assert reasons("none") == ()
    against = reasons("none", changes)
    assert worst(against) is CARE
    reason = the(gate, against)
    assert reason.words.startswith("No cosmetic treatment is a fair choice. This finding still needs care: ")


def test_nothing_else_ever_blocks_no_treatment() -> None:
    everything: dict[str, Any] = {
        "patient.can_decide_alone": None,
        "patient.birth_date": "2012-01-01",
        "history": {},
        "limits": {"visits": 1, "money": "0"},
        "examination": {"on": "2019-01-01", "by": "x"},
        "pictures": [],
    }
    assert reasons("none", everything, book=office({}), visits=9, money_cents=900) == ()


# ---------------------------------------------------------------- absent teeth


CANINE_GONE: dict[str, Any] = {
    "tooth.13": None,
    "gap.13-11": None,
    "examination.absent": [
        {"tooth": "12", "cause": "never formed"},
        {"tooth": "13", "cause": "presumed", "palpation_note": "Nothing felt.", "felt": False},
    ],
    "pictures": [
        {
            "kind": "panoramic",
            "on": str(day(-20)),
            "reader": "S",
            "absent": ["12", "13"],
            "roots_of": ["53", "11", "21", "22", "23"],
        }
    ],
}
ON_53 = Course("bonding", ("bonding",), (Work("bonding", iso("53"), mesial=3),))


def test_upper_canine_needs_a_picture_and_a_hand() -> None:
    assert found("G9", reasons(ON_53, CANINE_GONE)) is None
    absent = CANINE_GONE["examination.absent"]
    for missing in ({"palpation_note": ""}, {"felt": None}, {"felt": True}):
        changed = CANINE_GONE | {"examination.absent": [absent[0], absent[1] | missing]}
        reason = the("G9", reasons(ON_53, changed))
        assert reason.verdict is ASK
        assert "upper right canine (13, Universal 6)" in reason.words


def test_one_small_film_does_not_find_a_canine_that_was_not_felt() -> None:
    """A buried canine lies in the palate more often than anywhere else (common practice, no source)."""
    absent = CANINE_GONE["examination.absent"]

    def filmed(*kinds: str, **more: Any) -> dict[str, Any]:
        pictures = [CANINE_GONE["pictures"][0] | {"kind": kind} for kind in kinds]
        return CANINE_GONE | {"pictures": pictures, "examination.absent": [absent[0], absent[1] | more]}

    assert "small film" in the("G9", reasons(ON_53, filmed("small film"))).words
    for enough in (filmed("small film", "small film"), filmed("small 3-D"), filmed("small film", localised=True)):
        assert found("G9", reasons(ON_53, enough)) is None


def test_absence_blocks_the_place_and_its_neighbours_only() -> None:
    no_picture: dict[str, Any] = {"pictures": []}
    far = Course("reshaping", ("reshaping",), (Work("reshaping", iso("22"), removal=3),))
    near = Course("reshaping", ("reshaping",), (Work("reshaping", iso("11"), removal=3),))
    standing_in_it = Course("reshaping", ("reshaping",), (Work("reshaping", iso("13"), removal=3),))
    assert found("G9", reasons(far, no_picture)) is None
    assert found("G9", reasons("whitening", no_picture)) is None
    for course in (near, standing_in_it, "braces-then-bonding"):
        reason = the("G9", reasons(course, no_picture))
        assert reason.verdict is ASK


def test_proof_of_absence_does_not_expire_once_grown() -> None:
    def pictured(on: str, born: str) -> dict[str, Any]:
        film = {"kind": "panoramic", "on": on, "reader": "S", "absent": ["12"]}
        return {"pictures": [film], "patient.birth_date": born, "patient.decision_maker": "M"}

    near = COURSES["reshaping"]
    assert found("G9", reasons(near, pictured("1990-05-01", "1978-10-20"))) is None  # taken at 11, now 47
    early = found("G9", reasons(near, pictured("1987-05-01", "1978-10-20")))  # taken at 8
    assert early is not None
    assert "proves nothing" in early.words
    growing = the("G9", reasons(near, pictured("2025-03-01", "2010-05-01")))
    assert "2026-03-01" in growing.words
    assert found("G9", reasons(near, pictured("2025-03-02", "2010-05-01"))) is None


def test_a_photo_proves_no_absence_and_a_loss_with_a_date_needs_none() -> None:
    photo = {"pictures": [{"kind": "photo", "on": str(day(-20)), "reader": "S", "absent": ["12"]}]}
    assert found("G9", reasons("reshaping", photo)) is not None
    lost = {"pictures": [], "examination.absent": [{"tooth": "12", "cause": "lost", "lost_on": "2001-01-01"}]}
    assert found("G9", reasons("reshaping", lost)) is None
    lost["examination.absent"] = [{"tooth": "12", "cause": "lost"}]
    assert found("G9", reasons("reshaping", lost)) is not None


def test_a_buried_tooth_is_found_and_its_neighbours_roots_read() -> None:
    buried = {"tooth": "12", "cause": "not erupted", "localised": False}
    assert worst(reasons("reshaping", {"examination.absent": [buried]})) is ASK
    located = {"examination.absent": [buried | {"localised": True}]}
    reason = the("G9", reasons("reshaping", located))
    assert reason.verdict is CARE
    unread = the("G9", reasons("reshaping", located | {"pictures": []}))
    assert unread.verdict is ASK


def test_a_tooth_in_no_record_is_asked_about() -> None:
    reason = the("G9", reasons("bonding", {"tooth.21": None, "gap.11-21": None, "gap.21-22": None}))
    assert "recorded neither as present nor as absent" in reason.words


# ---------------------------------------------------------------- own limits and dates


def test_own_limits_are_the_patients_to_raise() -> None:
    against = reasons("ceramic-veneer")
    own = [reason for reason in against if reason.gate == "G11"]
    assert [reason.datum for reason in own] == ["limits.teeth_reduced = 1"]
    assert own[0].verdict is NO
    assert own[0].patient_limit
    assert "outside your own limit" in own[0].words
    assert worst(against) is NO
    assert not [r for r in reasons("ceramic-veneer", {"limits.teeth_reduced": 4}) if r.gate == "G11"]
    removal = the("G11", reasons("ceramic-veneer", {"limits": {"removal": "0.4"}}))
    assert "0.5 mm" in removal.words


@pytest.mark.parametrize(
    ("limit", "more", "fits"),
    [
        ({"limits.visits": 1}, {"visits": 3}, {"visits": 1}),
        ({"limits.months": 6}, {"months": 7}, {"months": 6}),
        ({"limits.money": "1600"}, {"money_cents": 161825}, {"money_cents": 160000}),
    ],
)
def test_own_limits_on_visits_months_and_money(
    limit: dict[str, Any], more: dict[str, int], fits: dict[str, int]
) -> None:
    reason = the("G11", reasons("bonding", limit, **more))
    assert reason.verdict is NO
    assert reason.patient_limit
    assert " 1 visits" not in reason.words
    assert found("G11", reasons("bonding", limit, **fits)) is None
    assert found("G11", reasons("bonding", limit)) is None


def test_one_tooth_is_one_tooth() -> None:
    reason = the("G11", reasons("reshaping", {"limits": {"teeth_reduced": 0}}))
    assert "limit of no teeth: 1 tooth is reduced for good" in reason.words


def test_a_baby_tooth_that_makes_way_is_not_a_reduced_tooth() -> None:
    assert found("G11", reasons("braces-then-wing-bridge")) is None


def test_a_firm_day_is_the_patients_own_limit_and_a_hoped_one_is_none() -> None:
    assert found("G19", reasons("bonding", earliest_finish=day(110))) is None
    late = the("G19", reasons("bonding", earliest_finish=day(113)))
    assert late.verdict is NO
    assert late.patient_limit
    assert "your own limit" in late.words
    hoped = reasons("bonding", {"limits.wish_by_firm": False}, earliest_finish=day(113))
    assert found("G19", hoped) is None
    assert str(day(110)) in late.words
    assert str(day(113)) in late.words
    assert "3 days" in late.words


# ---------------------------------------------------------------- swaps


def test_swaps_for_the_step_sheet() -> None:
    assert swaps(lead_facts()) == ()
    found_swaps = swaps(lead_facts({"history.latex": True, "history.chlorhexidine": True, "history.nickel": True}))
    assert len(found_swaps) == 3
    assert "non-latex dam" in found_swaps[0]
    assert "resin cement" in swaps(lead_facts({"history.methacrylate": "positive"}))[0]
    assert swaps(lead_facts({"history.latex": None})) == ()
