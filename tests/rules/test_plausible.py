"""Questions about measurements that look like a slip. Bands: common practice, no source, unless named."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.plausible import closure_question, pair_question, questions, width_band
from planner.rules.teeth import EXTRA, NORMAL, Tooth

CENTRAL = Tooth.from_iso("11")


def asked(iso, **measured):
    return [question.words for question in questions(Tooth.from_iso(iso), **measured)]


@pytest.mark.parametrize(
    ("iso", "low", "high"), [("11", 70, 105), ("22", 30, 85), ("13", 60, 95), ("24", 55, 85), ("15", 55, 85)]
)
def test_width_bands_at_their_ends(iso, low, high):
    for fine in (low, high):
        assert asked(iso, width=fine) == []
    for odd in (low - 1, high + 1):
        (words,) = asked(iso, width=odd)
        assert "please look again, or confirm it" in words


def test_swapped_width_and_length():
    """Edge case: a central typed as 11.2 wide and 8.2 long."""
    words = asked("11", width=112, length=82)
    assert len(words) == 2
    assert words[1].endswith("are width and length swapped?")
    assert asked("11", width=82, length=112) == []
    assert asked("11", width=90, length=90) == []


def test_ten_times_too_large():
    """Edge case: 85 mm typed for 8.5."""
    assert asked("11", width=850) != []
    assert asked("11", length=1050) != []


@pytest.mark.parametrize(("length", "count"), [(39, 1), (40, 0), (140, 0), (141, 1)])
def test_length_band(length, count):
    assert len(asked("22", length=length)) == count


def test_a_double_tooth_may_be_as_wide_as_two():
    assert asked("11", width=140, length=100, double=True) == []
    assert len(asked("11", width=141, double=True)) == 1
    assert len(asked("11", width=140)) == 1


def test_molars_and_baby_teeth_are_wider_than_long():
    assert asked("16", width=104, length=75) == []
    assert asked("53", width=70, length=65) == []


def test_pair_of_centrals():
    assert pair_question(CENTRAL, 85, 95) is None
    question = pair_question(CENTRAL, 85, 96)
    assert "upper right central incisor is 8.5 mm wide and the upper left central incisor 9.6 mm" in question.words
    assert pair_question(Tooth.from_iso("12"), 50, 70) is None


@pytest.mark.parametrize("tooth", NORMAL, ids=lambda tooth: tooth.iso)
def test_every_tooth_has_a_band(tooth):
    low, high = width_band(tooth)
    assert 20 <= low < high <= 130


TEXTBOOK = (
    "11 85, 12 65, 13 75, 14 70, 16 100, 17 90, 31 50, 32 55, 33 70, 36 110, 51 65, 53 70, 55 82, 73 50, 74 77, 85 99"
)


@pytest.mark.parametrize("mean", TEXTBOOK.split(", "))
def test_textbook_means_raise_no_question(mean):
    """Mean widths (0.1 mm) of Wheeler's Dental Anatomy, Physiology and Occlusion (several recalled)."""
    iso, width = mean.split()
    assert asked(iso, width=int(width)) == []


@given(st.sampled_from(EXTRA), st.integers(1, 140))
def test_an_extra_tooth_may_have_any_width(tooth, width):
    assert questions(tooth, width=width) == ()


@given(st.sampled_from(NORMAL))
def test_not_measured_is_not_asked_about(tooth):
    assert questions(tooth) == ()


class TestClosure:
    """The arch in one go against the sum of the single readings. Common practice, no source: 0.3 mm times the root of
    the number of readings, which gives 0.9 mm for four teeth and five gaps.
    """

    WIDTHS, GAPS = (78, 83, 84, 55), (5, 3, 8, 7, 9)
    SUM = 332

    @pytest.mark.parametrize("off", [0, 9, -9])
    def test_within_the_error_of_nine_readings_nothing_is_asked(self, off):
        assert closure_question(self.SUM + off, self.WIDTHS, self.GAPS) == ""

    @pytest.mark.parametrize("off", [10, -10])
    def test_beyond_it_one_reading_is_asked_about(self, off):
        words = closure_question(self.SUM + off, self.WIDTHS, self.GAPS)
        assert "probably misread" in words
        assert "33.2 mm" in words

    @given(st.lists(st.integers(30, 100), min_size=0, max_size=6), st.integers(0, 50), st.integers(-30, 30))
    def test_it_asks_exactly_beyond_the_root(self, widths, gap, off):
        gaps = [gap] * (len(widths) + 1)
        asked = closure_question(sum(widths) + sum(gaps) + off, widths, gaps) != ""
        assert asked == (abs(off) > 3 * (len(widths) + len(gaps)) ** 0.5)
