"""What holds for every verdict, whatever the facts: worse never helps, a blank never offers, nothing excludes itself.

The order of the verdicts and what counts as worse are the trade's working rules ("common practice, no source").
"""

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules import plan
from planner.rules.options import Judged
from planner.rules.treatments import all_treatments
from planner.rules.verdicts import Reason, Verdict, worst
from tests.rules.books import tern_row
from tests.rules.stories import PLANNED, facts_of, planned_on, told, verdicts_of, written

WORSE: dict[str, tuple[Any, ...]] = {
    # From best to worst; a fact that moves to the right never opens what was shut.
    "history.urgent_problem": (False, True),
    "history.methacrylate": ("no", "suspected", "positive"),
    "history.latex": (False, True),
    "history.nickel": (False, True),
    "history.chlorhexidine": (False, True),
    "history.bone_drug": ("none", "osteoporosis dose", "cancer dose"),
    "history.jaw_radiation": ("none", "under 50 Gy", "50 Gy or more"),
    "history.earlier_jaw_death": (False, True),
    "history.nicotine_per_day": (0, 5, 15, 25),
    "history.looks_worry": (False, True),
    "history.smile_treatments_disliked": (0, 1, 2),
    "history.highest_risk_heart": (False, True),
    "history.bleeding_or_thinner": (False, True),
    "history.steroid_or_low_immunity": (False, True),
    "history.asthma": (False, True),
    "history.untreated_reflux": (False, True),
    "history.jaw_pain": (False, True),
    "history.anxious": (False, True),
    "examination.gums.bleeding_percent": (5, 10, 25, 35),
    "examination.gums.plaque_percent": (10, 24, 30, 45),
    "examination.gums.deepest_pocket": (3, 5, 6),
    "examination.gums.probed_whole_mouth": (True, False),
    "examination.decay.open_lesions": (0, 1, 3),
    "examination.decay.risk": ("low", "medium", "high"),
    "examination.decay.leaking_fillings": (False, True),
    "examination.bite.overjet": ("2.5", "0.5"),
    "examination.bite.mouth_opening": (45, 25),
    "examination.bite.can_be_kept_dry": (True, False),
    "examination.bite.crossbite": (False, True),
    "examination.bite.long_face": (False, True),
    "examination.colour.cracks": (False, True),
    "examination.colour.grey_bands": (False, True),
    "limits.removal": ("9.0", "0.5", "0.0"),
    "limits.teeth_reduced": (9, 1, 0),
    "limits.visits": (90, 3, 1),
    "limits.months": (90, 9, 0),
    "limits.money": ("90000.00", "2000.00", "1.00"),
    "examination.teeth[0].mobility": (0, 1, 2),
    "examination.teeth[2].sensitivity": (0, 2, 6),
    "examination.teeth[2].nerve": ("responds", "negative"),
    "examination.teeth[2].dark": (False, True),
    "examination.teeth[2].gum_lump": (False, True),
    "examination.teeth[2].pocket": (3, 5),
    "examination.teeth[2].papilla_bleeds": (False, True),
    "examination.teeth[2].dentine_visible": (False, True),
    "examination.teeth[2].enamel_percent": (100, 50, 0),
    "examination.teeth[2].root_short": (False, True),
    "examination.teeth[2].exposed_neck": ("0.0", "3.0"),
}
NAMES = st.sampled_from(sorted(PLANNED))


def _grows(before: dict[str, Judged], after: dict[str, Judged], what: str) -> None:
    for option in before.keys() & after.keys():
        was, now = before[option].verdict, after[option].verdict
        assert not (was is Verdict.NO and now is Verdict.OFFER), f"{option}: {what} turned no into offer"
        assert now.severity >= Verdict.CARE.severity or was is Verdict.OFFER, f"{option}: {what} opened {was}"


@settings(max_examples=25, deadline=None)
@given(NAMES, st.sampled_from(sorted(WORSE)), st.data())
def test_a_worse_fact_never_opens_what_was_shut(who: str, path: str, data: st.DataObject) -> None:
    steps = WORSE[path]
    first = data.draw(st.integers(0, len(steps) - 2))
    second = data.draw(st.integers(first + 1, len(steps) - 1))
    before, after = (verdicts_of(who, {path: steps[place]}) for place in (first, second))
    _grows(before, after, f"{path} from {steps[first]} to {steps[second]}")


def _leaves(data: Any, path: str) -> list[str]:
    if isinstance(data, dict):
        return [leaf for key, value in data.items() for leaf in _leaves(value, f"{path}.{key}" if path else key)]
    if isinstance(data, list) and data and isinstance(data[0], dict):
        return [leaf for place, value in enumerate(data) for leaf in _leaves(value, f"{path}[{place}]")]
    return [path]


NEEDED = {"tooth", "between", "place", "width", "on", "by", "kind", "reader", "cause", "may_stay"}
"""What says which thing is meant, or is not optional; a dentist's choices and a wish, as which gap may stay, are no
facts."""


def _facts(who: str) -> list[str]:
    data = written(who)
    whole = _leaves({key: data[key] for key in ("history", "examination", "pictures")}, "")
    return [path for path in whole if path.rpartition(".")[2] not in NEEDED and "instrument" not in path]


@settings(max_examples=25, deadline=None)
@given(NAMES, st.data())
def test_a_blank_never_makes_an_offer(who: str, data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(_facts(who)))
    before, after = told(who), verdicts_of(who, {path: None})
    # Leaving the teeth as they are waits for no datum; what is done to them asks for its own.
    for option in before.keys() & after.keys() - {"none"}:
        if after[option].verdict is Verdict.OFFER:
            assert before[option].verdict is Verdict.OFFER, f"{option}: without {path} it would be offered"


def test_a_face_waits_where_a_blank_hides_how_many_teeth_it_would_take() -> None:
    """Without the length of one tooth the spaces cannot be shared: what is seen then is one small tooth of four."""
    after = verdicts_of("lead", {"examination.teeth[4].length": None})
    assert {after[key].verdict for key in ("lab-face", "direct-face", "bonding")} == {Verdict.ASK}
    (reason,) = [one for one in after["lab-face"].reasons if one.gate == "spaces"]
    assert "Not everything is measured yet." in reason.words


@pytest.mark.parametrize("who", PLANNED)
def test_no_option_does_to_one_tooth_what_excludes_itself(who: str) -> None:
    """A tooth gets one of resin, face, crown or false tooth, and a place is filled once."""
    found = plan.plan_case(facts_of(who), tern_row(), planned_on(who))
    catalogue = all_treatments()
    for option in found.options:
        done: dict[Any, set[str]] = {}
        for line in option.work:
            if line.tooth is not None:
                done.setdefault((line.tooth, line.fills_place), set()).add(line.treatment)
        for (tooth, _), treatments in done.items():
            for key in treatments:
                clash = treatments & set(catalogue[key].not_on_same_tooth)
                assert not clash, f"{option.key}: {key} and {clash} on {tooth}"
    # The order is one, gentlest first.
    assert len({option.key for option in found.options}) == len(found.options)
    burdens = [(option.rank.surgery, option.rank.teeth_reduced) for option in found.options]
    shown = [(option.verdict is Verdict.NO, burden) for option, burden in zip(found.options, burdens, strict=True)]
    offered = [burden for shut, burden in shown if not shut]
    assert all(gentler <= harsher for gentler, harsher in pairwise(offered))


@given(st.lists(st.sampled_from(Verdict), max_size=6))
def test_the_worst_reason_decides_whatever_the_order(verdicts: list[Verdict]) -> None:
    reasons = [Reason("g", verdict, "Words.") for verdict in verdicts]
    decided = worst(reasons)
    assert decided is worst(reversed(reasons))
    assert decided.severity == max((verdict.severity for verdict in verdicts), default=0)
