"""The step sheet of the lead case's bonding visit, held to facts of the trade.

The facts about order and seconds are common practice, no source, unless a line says otherwise: what a dentist teaches
an assistant. Sums and shares are checked by hand.
"""

import json
from collections.abc import Sequence
from itertools import pairwise
from math import atan, degrees

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.catalogue import shipped
from planner.rules.clock import StepOrderError
from planner.rules.courses import Course, Work
from planner.rules.evidence import DATA
from planner.rules.legible import points_at, sheet_points
from planner.rules.material_needs import treatment_needs
from planner.rules.materials import together
from planner.rules.mouth import Allergy, CaseFacts
from planner.rules.results import stable_json
from planner.rules.step_order import steps_of_visit
from planner.rules.step_sheet import StepSheet, cautions, forbidden, runs, sheet_of, step_sheet
from planner.rules.treatment_parts import Step
from tests.rules.cases import lead_facts
from tests.rules.test_visit_minutes import ADDED, BOOK, EDGE, GAPS, T11, T13, T21, T22, minutes_of


def sheet_for(facts: CaseFacts, *work: Work, key: str = "reshape-bond") -> StepSheet:
    visit = minutes_of(facts, *work, key=key).visits[0]
    parts = shipped().treatments
    keys = tuple(dict.fromkeys(line.treatment for line in work))
    course = Course(key, keys, work)
    needs = together([need for one in keys for need in treatment_needs(parts[one], work, facts, BOOK)])
    return step_sheet(visit, course, parts, facts, needs, GAPS)


@pytest.fixture(scope="module")
def sheet() -> StepSheet:
    return sheet_for(lead_facts(), EDGE, *ADDED)


def ids(sheet: StepSheet) -> list[str]:
    return [step.key.partition(".")[2] for step in sheet.steps]


def before(order: Sequence[str], *chain: str) -> bool:
    return all(order.index(one) < order.index(two) for one, two in pairwise(chain))


# ------------------------------------------------------------- facts of the trade: common practice, no source


def test_surfaces_are_cleaned_with_pumice_before_shade_and_before_anything_else_touches_them(sheet: StepSheet) -> None:
    order = ids(sheet)
    clean = sheet.steps[order.index("A03")]
    assert "pumice" in clean.words
    assert "free of oil" in clean.words
    assert set(order[: order.index("A03")]) == {"A01", "A02"}, "only asking and photographing come first"


def test_the_shade_is_taken_before_isolation_and_before_an_edge_is_dried_by_polishing(sheet: StepSheet) -> None:
    # That an isolated tooth looks lighter from 10 minutes on is in trials; see data/evidence/work.toml, shade-drift.
    assert before(ids(sheet), "A03", "A04", "A07")
    assert before(ids(sheet), "A04", "S04")


def test_the_index_is_tried_in_before_isolation_and_trimmed_until_it_seats_over_the_dam(sheet: StepSheet) -> None:
    order = ids(sheet)
    assert before(order, "A05", "A07", "A09", "A12", "A14")
    over = sheet.steps[order.index("A09")]
    assert "trim it until it seats fully" in over.words
    assert over.checks == ("index seats fully with the dam on",)


def test_a_long_edge_is_shortened_by_half_a_millimetre_at_most_before_index_dam_and_acid(sheet: StepSheet) -> None:
    order = ids(sheet)
    shorten = sheet.steps[order.index("S04")]
    assert "at most 0.5 mm" in shorten.words
    assert "keeps the index from seating" in shorten.why
    assert before(order, "S03", "S04", "A05", "A07", "A12", "A14"), "in front of the patient, so before the dam"
    assert shorten.source == "common practice, no source"


def test_acid_strength_time_reach_and_shielded_neighbours(sheet: StepSheet) -> None:
    acid = sheet.steps[ids(sheet).index("A12")]
    assert "Phosphoric acid 37 % on enamel 20–30 s" in acid.words
    assert "at least 2 mm beyond the planned outline" in acid.words
    assert "neighbours behind a clear strip or tape" in acid.checks
    assert acid.timers[:2] == ("enamel 20–30 s", "dentine at most 15 s")
    assert before(ids(sheet), "A08", "A12"), "the neighbours are shielded first"


def test_adhesive_reaches_past_the_outline_is_thinned_dry_and_cured_ten_seconds(sheet: StepSheet) -> None:
    adhesive = sheet.steps[ids(sheet).index("A13")]
    assert "a little beyond the planned resin outline" in adhesive.words
    assert "until the solvent is gone" in adhesive.words
    assert adhesive.timers == ("rub 20 s", "air 5–10 s", "cure 10 s or more")


def test_every_portion_is_cured_twenty_seconds_and_contours_stay_slightly_full(sheet: StepSheet) -> None:
    by_id = dict(zip(ids(sheet), sheet.steps, strict=True))
    for each in ("A14", "A15", "A16", "A17", "A18"):
        assert any("20 s or more" in timer for timer in by_id[each].timers), each
    assert "contours left slightly full" in by_id["A17"].words


def test_finishing_goes_thin_blade_discs_bite_gloss_floss(sheet: StepSheet) -> None:
    order = ids(sheet)
    assert before(order, "A19", "A21", "A21a", "A22", "A23", "A23a", "A24")
    finish = sheet.steps[order.index("A21a")]
    assert "thin blade" in finish.words
    assert "coarse to fine" in finish.words
    assert "Floss through every contact" in sheet.steps[order.index("A23a")].words
    assert all(step.tooth_by_tooth for step in sheet.steps[order.index("A12") : order.index("A20") + 1])


def test_faces_made_in_the_mouth_follow_the_same_facts() -> None:
    faces = sheet_for(lead_facts(), Work("direct-face", T11, 3), Work("direct-face", T21, 3), key="direct-face")
    order = ids(faces)
    assert before(order, "D03", "D04", "D07", "D08a", "D09", "D10", "D11", "D18", "D18a", "D19", "D20", "D20a")
    assert before(order, "D05", "D07")


# -------------------------------------------------------------------------------------------- what the sheet holds


def test_shares_tape_and_stops_stand_tooth_by_tooth(sheet: StepSheet) -> None:
    rows = {row.tooth: row for row in sheet.teeth}
    assert [row.tooth for row in sheet.teeth if row.built] == [T22, T11, T21]
    # 5.5 + 0.7 + 0.9 = 7.1 mm wide; 8.3 mm long and 1.3 more; the lead case
    assert (rows[T22].mesial, rows[T22].distal, rows[T22].edge) == (7, 9, 13)
    assert (rows[T22].width, rows[T22].width_after, rows[T22].length_after) == (55, 71, 96)
    assert rows[T22].tape == (T21, T22.from_iso("23"))
    assert (rows[T13].edge, rows[T13].length, rows[T13].length_after, rows[T13].built) == (-5, 101, 96, False)
    assert [row.may_stop for row in sheet.teeth if row.built] == [True, False, True]


def test_materials_stand_at_their_step_with_the_amount_of_the_visit_once(sheet: StepSheet) -> None:
    uses = [(step.key, use.material, use.amount) for step in sheet.steps for use in step.uses]
    amounts = {material: amount for _key, material, amount in uses if amount}
    # Etch gel 0.10 ml for each of three teeth, adhesive 0.05 ml, one dam; 8 % waste but on whole pieces
    assert amounts["etch-gel"].endswith(" ml")
    assert amounts["dam-non-latex"].startswith("1 ")
    assert sum(material == "composite-enamel" and bool(amount) for _key, material, amount in uses) == 1
    assert ("bonding.A13", "adhesive", amounts["adhesive"]) in uses


def test_ticking_goes_tooth_by_tooth_and_its_seconds_make_up_the_visit(sheet: StepSheet) -> None:
    found = runs(sheet)
    assert len({run.key for run in found}) == len(found)
    keys = [run.key for run in found]
    first, second = f"bonding.A20@{T22.key}", f"bonding.A12@{[r.tooth for r in sheet.teeth][1].key}"
    assert keys.index(first) + 1 == keys.index(second), "one tooth is finished before the next is etched"
    counted = sum(run.seconds for run in found if not run.step.only_if)
    assert abs(counted - 185 * 60) <= len(sheet.steps), "usual minutes of the visit, rounded to a second a step"
    assert [run.stop_after.may_stop for run in found if run.stop_after] == [True, False, True]


def test_what_is_frozen_reads_back_as_it_was(sheet: StepSheet) -> None:
    data = stable_json(sheet)
    assert sheet_of(json.loads(data)) == sheet
    assert data == stable_json(sheet_for(lead_facts(), EDGE, *ADDED)), "the same facts give the same bytes"


# ---------------------------------------------------------------------------------------------------- what forbids it


@pytest.mark.parametrize(
    ("allergy", "said"),
    [(Allergy.NO, ""), (None, ""), (Allergy.SUSPECTED, "patch test"), (Allergy.POSITIVE, "on record")],
)
def test_an_allergy_to_resin_forbids_the_sheet_and_says_what_settles_it(allergy: Allergy | None, said: str) -> None:
    history = lead_facts().history.model_copy(update={"methacrylate": allergy})
    known = shipped().treatments
    found = " ".join(part for pair in forbidden(history, [known["bonding"]]) for part in pair)
    assert bool(found) == bool(said)
    assert said in found
    assert forbidden(history, [known["reshaping"]]) == (), "nothing is brought into the mouth"


def test_peroxide_forbids_whitening_alone() -> None:
    history = lead_facts().history.model_copy(update={"peroxide": True})
    known = shipped().treatments
    assert "peroxide" in forbidden(history, [known["whitening"]])[0][0]
    assert forbidden(history, [known["bonding"]]) == ()


def test_allergies_and_what_nobody_asked_are_told_at_the_chair() -> None:
    history = lead_facts().history.model_copy(update={"latex": True, "nickel": None, "chlorhexidine": None})
    found = cautions(history)
    assert found[0].startswith("LATEX ALLERGY")
    assert any("Chlorhexidine: not asked" in words for words in found)
    nothing = {"latex": False, "chlorhexidine": False, "nickel": False, "peroxide": False}
    assert cautions(history.model_copy(update=nothing | {"sulphite": False, "antibiotics": False})) == ()


# --------------------------------------------------------------------------------------------------------- properties


def _step(ident: str, **more: object) -> Step:
    fields = {"words": "w", "visit": "v", "block": "finish", "minutes": [1, 1, 1], "certainty": "office"}
    return Step.model_validate({"id": ident, **fields, **more})


@settings(max_examples=60, deadline=None)
@given(data=st.data(), count=st.integers(2, 7))
def test_two_graphs_joined_keep_every_order_of_both(data: st.DataObject, count: int) -> None:
    """Any two graphs without circles, with links from one to the other that all point forwards."""
    base = shipped().treatments["none"]
    names = [f"{letter}{number:02d}" for number in range(count) for letter in "XY"]
    steps: dict[str, list[Step]] = {"X": [], "Y": []}
    links: list[tuple[str, str]] = []
    for place, name in enumerate(names):
        earlier = data.draw(st.lists(st.sampled_from(names[:place]), unique=True, max_size=3)) if place else []
        links += [(one, name) for one in earlier]
        own = [one for one in earlier if one[0] == name[0]]
        others = [f"{'one' if one[0] == 'X' else 'two'}.{one}" for one in earlier if one[0] != name[0]]
        steps[name[0]].append(_step(name, after=own, others_first=others))
    parts = [
        base.model_copy(update={"key": key, "steps": tuple(steps[letter])})
        for key, letter in (("one", "X"), ("two", "Y"))
    ]
    order = [step.id for _part, step in steps_of_visit([(part, "v") for part in parts])]
    assert sorted(order) == sorted(names)
    assert all(order.index(one) < order.index(two) for one, two in links)


def test_steps_of_two_treatments_that_wait_for_each_other_are_named() -> None:
    base = shipped().treatments["none"]
    one = base.model_copy(update={"key": "one", "steps": (_step("X01", others_first=["two.Y01"]),)})
    two = base.model_copy(update={"key": "two", "steps": (_step("Y01", others_first=["one.X01"]),)})
    with pytest.raises(StepOrderError, match="circle"):
        steps_of_visit([(one, "v"), (two, "v")])


# --------------------------------------------------------------------------------------------------- how large type is


def test_capitals_are_seen_under_twenty_minutes_of_arc_at_seventy_centimetres() -> None:
    """ISO 9241-303 wants 16 at the least and 20 to 22 by preference (recalled, not read again)."""
    size = sheet_points()
    font = TTFont(DATA.parents[2] / "static" / "fonts" / "atkinson-hyperlegible-next-400.woff2")
    share = font["OS/2"].sCapHeight / font["head"].unitsPerEm
    seen = 2 * degrees(atan(size / 72 * 25.4 * share / 2 / 700)) * 60
    assert 20 <= seen < 21
    assert size == 17.5


def test_twice_as_far_is_twice_as_large() -> None:
    assert points_at(1400, 20, 668) == pytest.approx(2 * points_at(700, 20, 668), abs=0.5)
    with pytest.raises(ValueError, match="above 0"):
        points_at(0, 20, 668)
