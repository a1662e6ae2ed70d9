"""Bad input to sharing space, all in one table: each is answered with a sentence, none with a traceback or a guess.

What is bad is common practice, no source, but for the bands, which carry theirs in ``data/``.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.contradictions import doubts
from planner.rules.mouth import CaseFacts
from planner.rules.segments import MeasureFirst, segment_of
from planner.rules.space_model import Film, Locks, Role, Segment, SpaceError
from planner.rules.space_results import SpaceVerdict
from planner.rules.spaces import share_space
from tests.rules.space_cases import CASE_2, DEMO_12, tooth

TODAY = date(2026, 3, 2)
LEAD = Path(__file__).resolve().parents[2] / "fixtures/cases/lead.json"


def case(change: Callable[[dict[str, Any]], None]) -> CaseFacts:
    """The lead case with its examination changed; nothing is decided yet."""
    data: Any = resolve_days(parse_case(LEAD.read_bytes()), TODAY)
    change(data["examination"])
    data["choices"] = {}
    return validate_case(data, TODAY)


def locked(segment: Segment, key: str, **locks: Any) -> Segment:
    teeth = tuple(replace(each, locks=Locks(**locks)) if each.key == key else each for each in segment.teeth)
    return replace(segment, teeth=teeth)


def segment_told(make: Callable[[], Segment]) -> str:
    """What a segment that cannot be read is told."""
    with pytest.raises(SpaceError) as refused:
        make()
    return str(refused.value)


# ------------------------------------------------------------------------------- measurements: a question, by path


def _set(examination: dict[str, Any], number: int, **values: str) -> None:
    examination["teeth"][number] |= values


QUESTIONED: dict[str, tuple[Callable[[dict[str, Any]], None], str, str]] = {
    "closure 1.0 mm off": (
        lambda found: found.update(strip_length="34.2"),
        "examination.strip_length",
        "one of them is probably misread",
    ),
    "wider than long": (
        lambda found: _set(found, 3, width="10.4", length="8.4"),
        "examination.teeth[3].width",
        "are width and length swapped?",
    ),
    "centrals more than 1.0 mm apart": (
        lambda found: _set(found, 3, width="9.6"),
        "examination.teeth[2].width",
        "more than 1.0 mm apart: is one of them misread, or are the sides swapped?",
    ),
}


@pytest.mark.parametrize("name", QUESTIONED)
def test_a_doubtful_measurement_is_asked_about(name: str) -> None:
    change, path, words = QUESTIONED[name]
    found = dict(doubts(case(change).examination))
    assert words in found[path]


def test_an_empty_arch_asks_for_measurements() -> None:
    def emptied(found: dict[str, Any]) -> None:
        found.update(teeth=[], gaps=[], absent=[], empty_places=[])

    with pytest.raises(MeasureFirst) as asked:
        segment_of(case(emptied))
    assert any(
        "At least two neighbouring upper front teeth must be measured" in words for words in asked.value.questions
    )


# ------------------------------------------------------------------------------- a segment that cannot be read

REFUSED: dict[str, tuple[Callable[[], Segment], str]] = {
    "no tooth": (lambda: Segment((), ()), "teeth: 0 given, but a gap lies between two teeth"),
    "one tooth": (lambda: Segment(CASE_2.teeth[:1], ()), "teeth: 1 given, but a gap lies between two teeth"),
    "more than 16 teeth": (
        lambda: Segment(tuple(replace(CASE_2.teeth[0], key=str(n)) for n in range(17)), (0,) * 16),
        "teeth: 17 given, but an arch holds at most 16",
    ),
    "a gap below 0": (lambda: replace(CASE_2, gaps=(3, -1, 0)), "gap 11·21: -1 is below 0"),
    "a lock below 0": (lambda: locked(CASE_2, "11", width=-5), "lock on 11, width: -5 is below 0"),
    "more taken off than there is": (
        lambda: locked(CASE_2, "11", slender_left=90),
        "lock on 11: 90 off its sides leaves nothing of its 81",
    ),
    "a lateral outside a canine": (
        lambda: Segment((tooth("21", 85, 105), tooth("23", 78, 100), tooth("24", 70, 88, role=Role.LATERAL)), (0, 0)),
        "role of 24: lateral cannot stand outside the canine role of 23",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_segment_that_cannot_be_read_is_refused(name: str) -> None:
    make, words = REFUSED[name]
    assert words in segment_told(make)


# ------------------------------------------------------------------------------- locks

PLACE = replace(CASE_2, gaps=(3, 17, 70), gap_is_place=(False, False, True))
OWN_LIMIT: dict[str, tuple[Segment, str]] = {
    "share above the cap": (
        locked(CASE_2, "11", share_left=13),
        "lock on 11: share on the patient's left 1.3 mm, but at most 1.2 mm may be added there",
    ),
    "share far above every cap": (
        locked(CASE_2, "11", share_left=140),
        "lock on 11: share on the patient's left 14.0 mm, but at most 1.2 mm may be added there",
    ),
    "share thinner than any addition": (
        locked(CASE_2, "11", share_left=2),
        "lock on 11: share on the patient's left 0.2 mm, but nothing thinner than 0.3 mm is added",
    ),
    "share at the end of the segment": (
        locked(CASE_2, "12", share_right=4),
        "lock on 12: share on the patient's right 0.4 mm, but nothing is done at the end of the segment",
    ),
    "share beside an empty place": (
        locked(PLACE, "21", share_left=4),
        "lock on 21: share on the patient's left 0.4 mm, but nothing is done beside an empty place",
    ),
    "width that no share reaches": (
        locked(CASE_2, "21", width=130),
        "lock on 21: width 13.0 mm, but it may be made at most 10.2 mm wide",
    ),
    "width below today's": (
        locked(CASE_2, "21", width=70),
        "lock on 21: width 7.0 mm, but it is 8.2 mm wide and nothing makes it narrower",
    ),
    "length above the cap": (
        locked(CASE_2, "11", length=130),
        "lock on 11: length 13.0 mm, but it may get at most 1.0 mm longer",
    ),
    "shortening above the cap": (
        locked(CASE_2, "21", shortening=9),
        "lock on 21: shortening 0.9 mm, but at most 0.5 mm may still be taken off its edge",
    ),
    "enamel off a side above the limit": (
        locked(CASE_2, "21", slender_right=4),
        "lock on 21: enamel off the patient's right side 0.4 mm, "
        "but at most 0.2 mm may still be taken off a side of it",
    ),
    "shortening where nothing may be taken off": (
        replace(locked(CASE_2, "21", shortening=3), additive_only=True),
        "lock on 21: shortening 0.3 mm, but nothing is to be taken off any tooth",
    ),
    "a gap left too narrow": (
        replace(DEMO_12, gap_locks=(3, None, None)),
        "lock on 12·11: gap left of 0.3 mm, but a gap is left at 0.5 mm or more, or closed",
    ),
}


@pytest.mark.parametrize("name", OWN_LIMIT)
def test_a_lock_outside_its_own_limit_is_told_with_the_limit(name: str) -> None:
    segment, words = OWN_LIMIT[name]
    result = share_space(segment)
    assert result.verdict is SpaceVerdict.IMPOSSIBLE
    assert result.plans == ()
    assert result.lock_faults == (words,)
    assert words in result.sentence


def test_a_tooth_that_is_not_to_be_touched_and_is_to_be_built_up() -> None:
    segment = replace(CASE_2, teeth=(replace(CASE_2.teeth[0], untouchable=True), *CASE_2.teeth[1:]))
    result = share_space(locked(segment, "12", build_up=True))
    assert result.lock_faults == ("wish that 12 is built up, but 12 is not to be touched",)


def test_a_lock_that_makes_it_impossible_is_named() -> None:
    """21 at today's width leaves the whole midline gap to 11, which cannot take it."""
    result = share_space(locked(CASE_2, "21", width=82))
    assert result.plans == ()
    assert not result.lock_faults
    assert "lock on 21: width 8.2 mm" in result.sentence
    assert result.movement is not None


# ------------------------------------------------------------------------------- gaps


def test_a_gap_next_to_an_empty_place_is_shared_and_the_place_left_as_it_is() -> None:
    result = share_space(PLACE)
    assert result.verdict is SpaceVerdict.FITS
    assert all(plan.gaps_left == (0, 0, 70) for plan in result.plans)


def test_a_narrow_gap_is_asked_about_first() -> None:
    narrow = replace(CASE_2, gaps=(2, 17, 0))
    assert share_space(narrow).verdict is SpaceVerdict.ASK_FILM
    assert "0.05 mm strip" in share_space(narrow).sentence
    assert share_space(replace(narrow, film=(Film.ALLOWED,) * 3)).verdict is SpaceVerdict.FITS
