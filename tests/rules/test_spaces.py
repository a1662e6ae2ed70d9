"""Sharing space: the worked cases, the questions asked first, and what every plan must show.

The figures of the worked cases were computed with a general mixed-integer solver from the same model; the shares are
given where that optimum is the only one or the tie rule decides. The rules are common practice, no source.
"""

from dataclasses import replace

import pytest

from planner.rules.space_limits import default_limits, settings, with_limits
from planner.rules.space_model import Film, Kind, Locks, Role, Segment, SpaceError
from planner.rules.space_remeasure import remeasure
from planner.rules.space_results import Goal, Remeasure, Rule, SpacePlan, SpaceResult, SpaceVerdict, Word
from planner.rules.spaces import plans_differ, share_space
from tests.rules.space_cases import CASE_2, CASE_3, CASE_4, DEMO_4, DEMO_12, lead, tooth

FEWEST, BEST, SMALLEST = Goal.FEWEST_TEETH, Goal.BEST_PROPORTION, Goal.SMALLEST_SHARES


def shares(plan: SpacePlan) -> dict[str, tuple[int, int, int, int]]:
    """Touched teeth only: patient's-right share, patient's-left share, lengthening, shortening."""
    return {
        change.key: (change.share_right, change.share_left, change.lengthening, change.shortening)
        for change in plan.changes
        if change.touched
    }


def figures(plan: SpacePlan) -> tuple[int, int, int]:
    return plan.misfit, plan.touching, plan.material


class TestOracles:
    """Computed with a general mixed-integer solver from this model."""

    def test_lead(self) -> None:
        result = share_space(lead())
        assert result.verdict is SpaceVerdict.FITS
        first, last = result.plans
        assert first.goals == (FEWEST, BEST)
        assert shares(first) == {"13": (0, 0, 0, 5), "11": (3, 3, 0, 0), "21": (5, 0, 0, 0), "22": (7, 9, 10, 0)}
        assert first.gaps_left == (5, 0, 0, 0, 0)
        assert figures(first) == (340, 12, 37)
        assert last.goals == (SMALLEST,)
        assert shares(last) == {
            "13": (0, 0, 0, 5),
            "11": (3, 4, 0, 0),
            "21": (4, 3, 0, 0),
            "22": (4, 5, 10, 0),
            "23": (4, 0, 0, 0),
        }
        assert last.gaps_left == (5, 0, 0, 0, 0)
        assert (last.largest_share, last.touching) == (5, 15)
        assert not last.offered
        assert last.misfit - first.misfit > 100
        assert result.offered == (first,)

    def test_lead_with_the_primary_tooth_free(self) -> None:
        result = share_space(lead(primary_locked=False))
        best = result.plan(BEST)
        assert best.goals == (BEST,)
        assert shares(best)["53"] == (0, 5, 0, 0)
        assert best.gaps_left == (0, 0, 0, 0, 0)
        assert figures(best) == (315, 17, 42)
        assert shares(result.plan(FEWEST)) == shares(share_space(lead()).plan(FEWEST))
        assert figures(result.plan(FEWEST)) == (340, 12, 37)

    @pytest.mark.parametrize("narrow", [{"gap_13_11": 2}, {"gap_13_11": 1}, {"gap_53_13": 2}])
    def test_lead_with_a_narrow_gap_asks_and_does_not_fit_without_a_film(self, narrow: dict[str, int]) -> None:
        asked = share_space(lead(**narrow))
        assert asked.verdict is SpaceVerdict.ASK_FILM
        assert asked.ask_gaps == (1 if "gap_13_11" in narrow else 0,)
        assert asked.plans == ()
        refused = share_space(lead(**narrow, film=Film.REFUSED))
        assert refused.plans == ()
        assert refused.conflicts == ()
        assert refused.verdict is SpaceVerdict.MEASURE_AGAIN
        assert share_space(lead(**narrow, film=Film.ALLOWED)).verdict is SpaceVerdict.FITS

    def test_case_2(self) -> None:
        result = share_space(CASE_2)
        fewest, best = result.plan(FEWEST), result.plan(BEST)
        assert shares(fewest) == {"11": (3, 8, 6, 0), "21": (9, 0, 0, 0)}
        assert figures(fewest) == (228, 6, 26)
        assert best.goals == (BEST, SMALLEST)
        assert shares(best) == {"12": (0, 3, 5, 0), "11": (0, 9, 5, 0), "21": (8, 0, 0, 0)}
        assert figures(best) == (130, 9, 30)

    def test_case_3(self) -> None:
        result = share_space(CASE_3)
        assert result.verdict is SpaceVerdict.TEETH_FIRST
        assert result.part_closing is not None
        assert result.part_closing.gaps_left == (0, 27, 0)
        assert {conflict.rules for conflict in result.conflicts} == {
            (Rule.SHARE_CAP, Rule.SHAPE, Rule.PROPORTION),
            (Rule.SHARE_CAP, Rule.LENGTHEN_CAP, Rule.PROPORTION),
        }
        assert result.movement is not None
        assert [(move.between, move.by) for move in result.movement.moves] == [(("11", "21"), -27)]
        assert "orthodontics first: close at least 2.7 mm between 11 and 21" in result.sentence
        assert "closing only a part would leave 2.7 mm at 11·21" in result.sentence

    def test_case_4(self) -> None:
        result = share_space(CASE_4)
        assert result.verdict is SpaceVerdict.TEETH_FIRST
        assert result.part_closing is None
        assert [(conflict.rules, conflict.locks) for conflict in result.conflicts] == [((Rule.PROPORTION,), ())]
        assert result.movement is not None
        assert [(move.between, move.by) for move in result.movement.moves] == [(("22", "23"), 8)]
        assert "open at least 0.8 mm between 22 and 23 or elsewhere" in result.sentence

    def test_demo_4(self) -> None:
        result = share_space(DEMO_4)
        fewest, best = result.plan(FEWEST), result.plan(BEST)
        assert shares(fewest) == {"22": (8, 9, 11, 0)}
        assert figures(fewest) == (83, 3, 28)
        assert shares(best) == {"22": (8, 6, 11, 0), "23": (3, 0, 0, 0)}
        assert figures(best) == (33, 6, 28)

    def test_demo_12_by_the_tie_rule(self) -> None:
        best = share_space(DEMO_12).plan(BEST)
        assert shares(best) == {"12": (0, 5, 0, 0), "11": (0, 5, 0, 0), "21": (4, 0, 0, 0), "22": (6, 0, 0, 0)}
        assert figures(best) == (100, 12, 20)

    def test_demo_12_the_plan_that_ties(self) -> None:
        """The other optimum has the same figures once the tie rule's winner is locked out."""
        teeth = list(DEMO_12.teeth)
        teeth[3] = replace(teeth[3], locks=Locks(share_right=3))
        best = share_space(replace(DEMO_12, teeth=tuple(teeth))).plan(BEST)
        assert shares(best) == {"12": (0, 5, 0, 0), "11": (0, 6, 0, 0), "21": (3, 3, 0, 0), "22": (3, 0, 0, 0)}
        assert figures(best) == (100, 12, 20)


class TestEveryFigureOpens:
    @pytest.mark.parametrize("segment", [lead(), lead(primary_locked=False), CASE_2, DEMO_4, DEMO_12])
    def test_the_bands_add_up(self, segment: Segment) -> None:
        for plan in share_space(segment).plans:
            assert sum(item.points for item in plan.items) == plan.misfit
            assert all(item.words and item.teeth and item.points > 0 for item in plan.items)
            assert plan.material == sum(c.share_right + c.share_left + c.lengthening for c in plan.changes)
            for gap, width in enumerate(segment.gaps):
                right, left = plan.changes[gap], plan.changes[gap + 1]
                assert right.share_left + left.share_right + plan.gaps_left[gap] == width

    def test_lead_misfit_by_hand(self) -> None:
        """Worked by hand from the bands: 8.9/10.5 and 8.9/10.6 centrals, 13 at 7.8/9.6, 22 at 7.1/9.3."""
        items = {(item.band, item.teeth): item.points for item in share_space(lead()).plan(BEST).items}
        assert items == {
            ("band_central_length", ("11", "21")): 30,
            ("band_lateral_width", ("13", "22")): 5 * 20,
            ("band_canine_width", ("53", "23")): 10 * 5,
            ("band_ratio", ("13", "11")): 10 * 10,
            ("band_ratio", ("22", "21")): 3 * 10,
            ("band_lengthening", ("22",)): 10 * 3,
        }

    def test_words_and_care(self) -> None:
        plan = share_space(lead()).plan(BEST)
        assert plan.change("13").word is Word.LIMIT
        assert any("0.876" in reason for reason in plan.change("13").reasons)
        assert plan.change("11").word is Word.ACCEPTABLE
        assert plan.cares == ()
        assert plan.change("11").shape_thousandths == 848
        assert (plan.change("22").share_mesial, plan.change("22").share_distal) == (7, 9)
        assert (plan.change("11").share_mesial, plan.change("11").share_distal) == (3, 3)

    def test_a_tooth_outside_no_band_is_good(self) -> None:
        even = Segment(
            (tooth("12", 65, 90), tooth("11", 82, 104), tooth("21", 82, 104), tooth("22", 65, 90)), (0, 6, 0)
        )
        plan = share_space(even).plan(BEST)
        assert shares(plan) == {"11": (0, 3, 0, 0), "21": (3, 0, 0, 0)}
        assert [change.word for change in plan.changes] == [Word.GOOD] * 4
        assert plan.misfit == 0

    def test_removal_by_lock_is_told_apart(self) -> None:
        plan = share_space(lead()).plan(BEST)
        assert (plan.removed, plan.removed_by_locks, plan.removed_beyond_locks) == (5, 5, 0)

    def test_the_answer_is_the_same_every_time(self) -> None:
        assert share_space(lead()) == share_space(lead())


class TestSentences:
    def test_fits(self) -> None:
        words = "The space can be shared without moving teeth by adding to 11, 21 and 22 and shortening 13."
        assert share_space(lead()).sentence == words

    def test_nothing_to_do(self) -> None:
        closed = replace(CASE_2, gaps=(0, 0, 0))
        result = share_space(closed)
        assert result.verdict is SpaceVerdict.FITS
        assert result.plan(FEWEST).touched == ()
        assert result.sentence.startswith("Nothing needs to be added")

    def test_measure_again_is_not_orthodontics(self) -> None:
        result = share_space(lead(gap_13_11=2, film=Film.REFUSED))
        assert result.movement is not None
        assert result.movement.total == 1
        assert "measure this gap again (13·11)" in result.sentence
        assert "orthodontics" not in result.sentence

    def test_film_question(self) -> None:
        words = "Ask first about 13·11 (0.2 mm): is it tight to a 0.05 mm strip, or may a film of resin close it?"
        assert share_space(lead(gap_13_11=2)).sentence == words

    def test_gap_shut_in(self) -> None:
        shut = Segment((tooth("21", 85, 105, untouchable=True), tooth("22", 66, 90, untouchable=True)), (4,))
        result = share_space(shut)
        assert result.shut_in_gaps == (0,)
        assert result.conflicts == ()
        assert "21·22 lies between teeth that are not to be touched" in result.sentence


class TestTooWide:
    def test_no_limit_is_named_where_a_whole_tooth_is_missing(self) -> None:
        result = share_space(replace(CASE_2, gaps=(3, 75, 0)))
        assert result.verdict is SpaceVerdict.TEETH_FIRST
        assert result.movement is not None
        assert result.movement.total > 40
        assert result.conflicts == ()
        assert "in the way" not in result.sentence

    def test_an_empty_place_stays_as_it_is_and_is_not_called_a_gap_left(self) -> None:
        place = replace(CASE_2, gaps=(3, 17, 70), gap_is_place=(False, False, True))
        result = share_space(place)
        assert all(plan.gaps_left[2] == 70 for plan in result.plans)
        assert all(plan.change("22").share_mesial == 0 for plan in result.plans)
        assert place.mirrored().places == (True, False, False)
        assert place.mirrored().mirrored() == place


class TestFilm:
    def test_tight_counts_as_a_contact(self) -> None:
        tight = replace(CASE_2, gaps=(3, 17, 2), film=(Film.TIGHT,) * 3)
        assert shares(share_space(tight).plan(BEST)) == shares(share_space(CASE_2).plan(BEST))

    def test_film_shares_are_small_sum_to_the_gap_and_count_as_touching(self) -> None:
        result = share_space(lead(gap_13_11=2, film=Film.ALLOWED))
        for plan in result.plans:
            sides = plan.change("13").share_left, plan.change("11").share_right
            assert sum(sides) == 2
            assert {"13", "11"} & set(plan.touched)
            assert any("film" in care for care in plan.cares)

    def test_a_film_gap_between_two_untouchable_teeth_stays(self) -> None:
        pair = Segment(
            (tooth("21", 85, 105, untouchable=True), tooth("22", 66, 90, untouchable=True)),
            (2,),
            film=(Film.ALLOWED,),
        )
        plan = share_space(pair).plan(BEST)
        assert plan.touched == ()
        assert plan.gaps_left == (2,)

    def test_a_film_is_no_build_up(self) -> None:
        pair = Segment(
            (tooth("21", 85, 105), tooth("22", 62, 90, locks=Locks(build_up=True))), (2,), film=(Film.ALLOWED,)
        )
        assert share_space(pair).plans == ()


class TestLocks:
    def test_locks_are_named_in_conflict_sets(self) -> None:
        segment = replace(DEMO_4, gap_locks=(None, None, None, 9))
        segment = replace(segment, teeth=(*segment.teeth[:3], _wide(segment), segment.teeth[4]))
        result = share_space(segment)
        assert result.plans == ()
        assert ("lock on 22: width 7.0 mm",) in [c.locks for c in result.conflicts if not c.rules]

    def test_two_locked_shortenings_are_impossible_and_either_lock_frees(self) -> None:
        teeth = [replace(tooth_, locks=Locks(shortening=3)) for tooth_ in CASE_2.teeth[1:3]]
        segment = replace(CASE_2, teeth=(CASE_2.teeth[0], *teeth, CASE_2.teeth[3]))
        result = share_space(segment)
        assert result.verdict is SpaceVerdict.IMPOSSIBLE
        assert "11 and 21 are to be shortened, but one tooth at most may be" in result.sentence
        assert all(conflict.locks for conflict in result.conflicts)

    def test_a_lock_never_raises_a_cap(self) -> None:
        segment = replace(CASE_2, teeth=(*CASE_2.teeth[:1], _locked(CASE_2, 1, share_left=13), *CASE_2.teeth[2:]))
        assert share_space(segment).plans == ()

    def test_a_locked_share_below_the_smallest_addition_never_fits(self) -> None:
        segment = replace(CASE_2, teeth=(*CASE_2.teeth[:1], _locked(CASE_2, 1, share_left=2), *CASE_2.teeth[2:]))
        result = share_space(segment)
        assert result.plans == ()
        assert [conflict.locks for conflict in result.conflicts] == [
            ("lock on 11: share on the patient's left 0.2 mm",)
        ]

    def test_a_gap_may_be_locked_open(self) -> None:
        segment = replace(DEMO_12, gap_locks=(5, None, None))
        for plan in share_space(segment).plans:
            assert plan.gaps_left[0] == 5

    def test_nothing_is_shortened_unless_named(self) -> None:
        named = replace(CASE_2, teeth=tuple(replace(t, shorten_named=True) for t in CASE_2.teeth))
        assert all(plan.removed == 0 for plan in share_space(named).plans)

    def test_lifetime_limit_of_shortening(self) -> None:
        """0.4 mm taken off before leaves 0.1 of the lifetime's 0.5; the wish for 0.5 cannot be met."""
        teeth = list(lead().teeth)
        teeth[1] = replace(teeth[1], removed_before=4)
        assert share_space(replace(lead(), teeth=tuple(teeth))).plans == ()
        teeth[1] = replace(teeth[1], lifetime_limit=9)
        assert share_space(replace(lead(), teeth=tuple(teeth))).plans


class TestOtherPlayers:
    def test_premolar_in_the_canines_place(self) -> None:
        segment = Segment(
            (tooth("11", 84, 105), tooth("21", 84, 105), tooth("22", 64, 92), tooth("24", 68, 86, role=Role.CANINE)),
            (0, 0, 6),
        )
        plan = share_space(segment).plan(BEST)
        assert shares(plan) == {"24": (6, 0, 5, 0)}  # 7.4 wide is within 0.1 of 7.5 and 0.5 more than the lateral
        assert [item.band for item in plan.items if item.teeth[0] == "24"] == ["band_lengthening"]
        closed = share_space(replace(segment, gaps=(0, 0, 0))).plan(FEWEST)
        assert {item.band: item.points for item in closed.items if item.teeth[0] == "24"} == {
            "band_player_width": 6 * 10,
            "band_player_lateral": 1 * 10,
        }

    def test_primary_tooth_has_no_shape_and_no_lengthening(self) -> None:
        segment = Segment((tooth("53", 64, 63, role=Role.CANINE), tooth("12", 64, 90), tooth("11", 84, 105)), (7, 0))
        plan = share_space(segment).plan(FEWEST)
        assert all(change.lengthening == 0 for change in plan.changes if change.tooth.kind is Kind.PRIMARY)

    @pytest.mark.parametrize("numbers", [("13", "11", "21"), ("22", "23"), ("12", "22"), ("14", "15")])
    def test_segments_without_a_lateral_or_a_central(self, numbers: tuple[str, ...]) -> None:
        segment = Segment(tuple(tooth(number, 75, 95) for number in numbers), (0,) * (len(numbers) - 2) + (3,))
        assert isinstance(share_space(segment), SpaceResult)


@pytest.fixture(scope="module")
def found() -> tuple[Remeasure, ...]:
    """What decides the lead case."""
    return remeasure(lead())


class TestRemeasure:
    def test_lead(self, found: tuple[Remeasure, ...]) -> None:
        """Where the verdict flips within 0.3 mm is known from the same solver: only at these two gaps."""
        assert {item.what for item in found if item.flips_verdict} == {"gap 53·13", "gap 13·11"}
        assert found[0].flips_verdict
        by_what = {item.what: item for item in found}
        assert by_what["gap 13·11"].flips_verdict == (-2, -1)
        assert by_what["gap 53·13"].flips_verdict == (-3,)
        assert by_what["gap 13·11"].smallest == 1

    def test_lengths_of_untouched_teeth_do_not_matter(self, found: tuple[Remeasure, ...]) -> None:
        assert not {"length of 53", "length of 23"} & {item.what for item in found}


class TestSettings:
    def test_every_setting_has_a_source(self) -> None:
        assert len(settings()) > 30
        assert all(setting.source and setting.means and setting.unit for setting in settings().values())

    def test_an_office_may_set_one_otherwise(self) -> None:
        limits = with_limits(default_limits(), {"share_cap_mesial.central": 17, "proportion_floor": 65})
        assert limits.share_cap_mesial.central == 17
        assert limits.share_cap_distal == default_limits().share_cap_distal
        assert share_space(CASE_4, limits).verdict is SpaceVerdict.TEETH_FIRST
        assert share_space(CASE_4, with_limits(limits, {"proportion_floor": 55})).verdict is SpaceVerdict.FITS

    @pytest.mark.parametrize("name", ["share_cap", "share_cap_mesial", "share_cap_mesial.molar", "share_min.central"])
    def test_unknown_names_are_refused(self, name: str) -> None:
        with pytest.raises(ValueError, match="no setting of the space model"):
            with_limits(default_limits(), {name: 3})

    def test_emergence_in_tenths(self) -> None:
        """Worked values of k times the tangent: 4.0 mm gives 2.31 and 1.46, 3.5 gives 2.02 and 1.27, 5.0 gives 2.89."""
        limits = default_limits()
        assert [limits.emergence_limit(height) for height in (40, 35, 50)] == [23, 20, 28]
        assert [limits.comfort_limit(height) for height in (40, 35, 50)] == [14, 12, 15]


class TestFaults:
    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"gaps": (3,)}, "gaps: 1 given for 4 teeth"),
            ({"gaps": (3, -1, 0)}, "gap 11·21: -1 is below 0"),
            ({"gap_locks": (0, None)}, "gap_locks: 2 given"),
            ({"teeth": CASE_2.teeth[:1]}, "at least two neighbours"),
            ({"teeth": CASE_2.teeth[::-1]}, "from right to left"),
            ({"teeth": (CASE_2.teeth[1], CASE_2.teeth[0], *CASE_2.teeth[2:])}, "cannot stand outside"),
            ({"teeth": (CASE_2.teeth[0],) * 4}, "names a tooth twice"),
        ],
    )
    def test_a_segment_that_contradicts_itself(self, changes: dict[str, object], words: str) -> None:
        with pytest.raises(SpaceError, match=words):
            replace(CASE_2, **changes)  # type: ignore[arg-type]

    def test_only_a_lateral_is_undersized(self) -> None:
        with pytest.raises(SpaceError, match="undersized is a finding of a lateral"):
            Segment((tooth("11", 84, 105, undersized=True), tooth("21", 84, 105)), (0,))


def test_plans_that_do_not_differ_are_one() -> None:
    """Every pair of plans that is shown apart differs in a tooth, by 0.3 at a contact or by 0.5 in a lengthening."""
    limits = default_limits()
    for segment in (lead(), CASE_2, DEMO_4, DEMO_12):
        plans = share_space(segment).plans
        assert sorted(goal for plan in plans for goal in plan.goals) == sorted(Goal)
        for index, plan in enumerate(plans):
            assert all(plans_differ(plan, other, limits) for other in plans[:index])


def _locked(segment: Segment, index: int, **locks: int) -> object:
    return replace(segment.teeth[index], locks=Locks(**locks))


def _wide(segment: Segment) -> object:
    return replace(segment.teeth[3], locks=Locks(width=70))
