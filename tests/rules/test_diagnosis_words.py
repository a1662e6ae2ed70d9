"""The words of diagnosis in the example cases and gates against their published definitions.

Sterrett JD et al. J Clin Periodontol 1999;26:153-157 (mean crown widths of men and women); Keene HJ. Angle Orthod
1963;33:260-266 (a midline diastema is wider than 0.5 mm); ICD-10-CM, K00.0 (a tooth that never formed) and K08.1
(a tooth lost by accident, extraction or gum disease), which exclude each other. Citations from memory where a volume is
given; the definitions were read.
"""

import pytest

from planner.rules.teeth import Kind, Tooth
from planner.rules.verdicts import Verdict
from tests.rules.cases import found, reasons, the
from tests.rules.stories import PLANNED, facts_of

LATERAL_MEAN = {"man": 66, "woman": 61}
"""Mean width of an upper lateral in tenths, Sterrett 1999: 6.59 mm in men, 6.13 in women."""


@pytest.mark.parametrize("who", PLANNED)
def test_undersized_is_said_of_laterals_below_the_published_mean_and_of_no_other(who: str) -> None:
    facts = facts_of(who)
    mean = LATERAL_MEAN[facts.patient.sex.value if facts.patient.sex else "woman"]
    for tooth in facts.examination.teeth:
        if tooth.tooth.kind is not Kind.LATERAL:
            assert not tooth.undersized
            continue
        assert tooth.width is not None
        assert tooth.undersized is not None
        assert tooth.undersized == (tooth.width < mean - 8)
        # Laterals of ordinary size lie about the mean.
        assert tooth.undersized or abs(tooth.width - mean) <= 6


def test_a_midline_diastema_by_definition_is_always_asked_about() -> None:
    """Wider than half a millimetre by the definition; the gate asks at any open midline gap, which is more cautious."""
    unchecked = {"examination.bite.frenum_checked": False}
    for width, asked in (("0.0", False), ("0.3", True), ("0.6", True), ("1.7", True)):
        against = reasons("bonding", unchecked | {"gap.11-21.width": width})
        assert (found("G20.midline", against) is not None) is asked
    assert the("G20.midline", reasons("bonding", unchecked)).verdict is Verdict.ASK


@pytest.mark.parametrize("who", PLANNED)
def test_never_formed_and_lost_exclude_each_other(who: str) -> None:
    for absent in facts_of(who).examination.absent:
        assert absent.cause in ("never formed", "lost")
        assert (absent.cause == "lost") is (absent.lost_on is not None)


def test_a_baby_canine_may_stand_where_its_successor_stands_elsewhere() -> None:
    """A kept baby tooth is no absent successor: tooth, place and role are three facts."""
    facts = facts_of("lead")
    kept = facts.tooth(Tooth.from_iso("53"))
    canine = facts.tooth(Tooth.from_iso("13"))
    assert kept is not None
    assert canine is not None
    assert kept.place == Tooth.from_iso("13")
    assert canine.place == Tooth.from_iso("12")
    assert [absent.tooth.iso for absent in facts.examination.absent] == ["12"]
