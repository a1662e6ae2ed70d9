"""Options a dentist puts together: what contradicts itself, what is joined, and that the gates hold for them too."""

from datetime import date
from functools import cache
from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.casefile import case_data, validate_case
from planner.rules.choices import Choices, OwnOption, OwnWork, Striking
from planner.rules.duration import duration_of
from planner.rules.mouth import CaseFacts
from planner.rules.own_courses import as_locks, calendar_order, joined, own_course, own_courses, own_faults, own_notes
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan
from planner.rules.treatments import all_combinations, all_treatments
from planner.rules.verdicts import Verdict
from tests.rules.books import tern_row
from tests.rules.cases import iso
from tests.rules.test_casefile import TODAY, lead

LEAD = validate_case(lead(), TODAY)
BOOK = tern_row(TODAY)


def work(treatment: str, tooth: str = "", **amounts: object) -> OwnWork:
    return OwnWork(treatment=treatment, tooth=iso(tooth) if tooth else None, **amounts)


def own(*works: OwnWork, key: str = "own-1", **more: object) -> OwnOption:
    return OwnOption(key=key, work=works, reason="Talked over.", by="Dr Own", on=TODAY, **more)


def with_own(*options: OwnOption, facts: CaseFacts = LEAD) -> CaseFacts:
    choices = facts.choices.model_copy(update={"own_options": options})
    return facts.model_copy(update={"choices": choices})


def faults(*works: OwnWork, facts: CaseFacts = LEAD) -> str:
    return " ".join(own_faults(own(*works), facts, all_treatments(), all_combinations()))


@cache
def shipped() -> CasePlan:
    """The plan without any own option."""
    return plan_case(LEAD, BOOK, TODAY)


def planned(*options: OwnOption, facts: CaseFacts = LEAD) -> CasePlan:
    return plan_case(with_own(*options, facts=facts), BOOK, TODAY)


# What contradicts itself


@pytest.mark.parametrize(
    ("works", "words"),
    [
        ([work("gilding", "22")], '"gilding" is no treatment'),
        ([work("none")], '"none" is no treatment'),
        ([work("bonding", "22"), work("ceramic-veneer", "22")], "cannot stand on the same tooth"),
        ([work("ceramic-veneer", "22"), work("bonding", "22")], "cannot stand on the same tooth"),
        ([work("bonding", "22"), work("bonding", "22")], "stands twice"),
        ([work("bonding", "17")], "not among the recorded teeth"),
        ([work("implant-crown", "24")], "No tooth is recorded as missing"),
        ([work("implant-crown", "12")], "must be moved first"),
        ([work("wing-bridge", "12"), work("braces")], "needs a neighbour to carry it: choose it for that tooth"),
        ([work("reshaping", "13")], "how much comes off"),
        ([work("ceramic-veneer", "22", removal="0.5")], "the catalogue says it"),
        ([work("bonding")], "say which one"),
        ([work("whitening", "22")], "done to the whole mouth"),
        ([work("gum-line", "22")], "never by itself"),
        ([work("bridge", "12"), work("bridge", "11"), work("braces")], "a neighbour on either side"),
        (
            [work("implant-crown", "12"), work("wing-bridge", "12"), work("wing-bridge", "11"), work("braces")],
            "one final",
        ),
        (
            [work("bonding", "21", distal="0.5"), work("bonding", "22", mesial="0.3")],
            "0.8 mm is added",
        ),
    ],
)
def test_what_contradicts_itself_is_refused_with_a_sentence(works, words):
    assert words in faults(*works)


@pytest.mark.parametrize(
    "works",
    [
        [work("bonding", "22", mesial="0.7")],
        [work("bonding", "21", distal="0.3"), work("bonding", "22", mesial="0.4")],
        [work("bonding", "11", mesial="0.4"), work("bonding", "21", mesial="0.4")],
        [work("braces"), work("wing-bridge", "12"), work("wing-bridge", "11")],
        [work("braces"), work("implant-crown", "12")],
        [work("whitening"), work("reshaping", "13", removal="0.5")],
    ],
)
def test_what_can_stand_is_let_through(works):
    assert faults(*works) == ""


def test_every_pair_the_catalogue_excludes_is_refused_in_both_orders():
    excluded = [
        (one.key, two) for one in all_treatments().values() for two in one.not_on_same_tooth if two in all_treatments()
    ]
    assert excluded
    for one, two in excluded:
        first, second = (work(key, "22", **({"removal": "0.3"} if key == "reshaping" else {})) for key in (one, two))
        assert "cannot stand on the same tooth" in faults(first, second), (one, two)
        assert "cannot stand on the same tooth" in faults(second, first), (one, two)


def test_a_refused_option_is_left_out_and_the_plan_says_why():
    facts = with_own(own(work("bonding", "22"), work("ceramic-veneer", "22")))
    assert own_courses(facts, all_treatments(), all_combinations()) == ()
    (note,) = own_notes(facts, all_treatments(), all_combinations())
    assert note.startswith("The option put together by Dr Own (own-1) is left out: ")
    assert "cannot stand on the same tooth" in note


# Judged and priced like any


def test_it_is_priced_judged_by_the_same_gates_and_held_against_the_sharing_of_space():
    """Fees: one build-up or one small addition, wax for one tooth, one index: the invented office's list 7."""
    plan = planned(
        own(work("bonding", "22", mesial="0.7", distal="0.4"), key="own-1"),
        own(work("bonding", "22", mesial="0.7", surfaces=1), key="own-2"),
        own(work("ceramic-veneer", "22"), key="own-3"),
        own(work("bonding", "22", mesial="0.7", distal="0.9", lengthening="1.0"), key="own-4"),
        own(work("bonding", "22"), key="own-5"),
        own(work("bonding", "22"), work("ceramic-veneer", "22"), key="own-6"),
    )
    lines = [{line.service: line.net_cents for line in plan.option(key).estimate.lines} for key in ("own-1", "own-2")]
    assert lines[0] | {"wire-retainer": 0} == {"build-up": 445_00, "wax-up": 55_00, "index": 70_00, "wire-retainer": 0}
    assert lines[0]["build-up"] - lines[1]["small-addition"] == 445_00 - 265_00
    assert plan.option("own-1").verdict is Verdict.OFFER
    # A face takes 1.5 mm, and his own limit is 0.5.
    faces = plan.option("own-3")
    assert faces.verdict is Verdict.NO
    assert any(reason.patient_limit and reason.gate == "G11" for reason in faces.reasons)
    # 0.7 + 0.9 make the lateral wider than 0.82 of its central.
    (reason,) = [each for each in plan.option("own-4").reasons if each.verdict is Verdict.NO]
    assert reason.gate == "spaces"
    assert "how wide a side tooth may be" in reason.words
    unsaid = plan.option("own-5")
    assert unsaid.verdict is Verdict.ASK
    assert "How much is added" in unsaid.reasons[0].words
    assert [note for note in plan.notes if "own-6" in note]
    # And nothing else of the plan has changed.
    theirs = [option for option in plan.options if option.own is None]
    assert [option.key for option in theirs] == [option.key for option in shipped().options]
    for option in theirs:
        before = shipped().option(option.key)
        assert (option.verdict, option.estimate, option.reasons) == (before.verdict, before.estimate, before.reasons)


def test_what_is_not_known_is_asked_of_an_own_option_too():
    unasked = LEAD.model_copy(update={"history": type(LEAD.history)()})
    plan = planned(own(work("bonding", "22", mesial="0.7", distal="0.4")), facts=unasked)
    assert plan.option("own-1").verdict is Verdict.ASK


def test_the_plan_the_model_found_passes_as_an_own_option_too():
    found = shipped().option("reshape-bond")
    works = (
        OwnWork.model_construct(
            treatment=line.treatment,
            tooth=line.tooth,
            mesial=line.mesial_tenths,
            distal=line.distal_tenths,
            lengthening=line.lengthening_tenths,
            removal=line.removal_tenths,
            surfaces=line.surfaces or None,
        )
        for line in found.work
    )
    option = planned(own(*works, changed_from="reshape-bond")).option("own-1")
    assert (option.verdict, option.estimate.compared_cents) == (found.verdict, found.estimate.compared_cents)
    assert (option.visits, option.removal_tenths) == (found.visits, found.removal_tenths)
    assert [(one.rank, one.met) for one in option.wishes] == [(one.rank, one.met) for one in found.wishes]
    assert option.own is not None
    assert (option.own.by, option.own.changed_from) == ("Dr Own", "reshape-bond")


@pytest.mark.parametrize("what", ["struck", "recommended"])
def test_strikings_and_recommendations_reach_it(what):
    facts = with_own(own(work("bonding", "22", mesial="0.7", distal="0.4")))
    said = Striking(option="own-1", reason="Not today.", by="Dr Own")
    choices = Choices.model_validate({**dict(facts.choices), what: (said,) if what == "struck" else said})
    plan = plan_case(facts.model_copy(update={"choices": choices}), BOOK, TODAY)
    option = plan.option("own-1")
    if what == "struck":
        assert (option.verdict, option.struck) == (Verdict.NO, "Not today.")
    else:
        assert (plan.recommended, plan.recommended_why) == ("own-1", "Recommended by Dr Own: Not today.")


def test_it_goes_through_a_case_file_and_comes_back():
    facts = with_own(own(work("bonding", "22", mesial="0.7"), work("whitening"), changed_from="whitening"))
    assert validate_case(case_data(facts), TODAY) == facts


# Put together from parts that nothing shipped joins


def test_calendar_order_is_that_of_the_shipped_combinations():
    """Where the same treatments are shipped in two orders, the one in which they were chosen holds."""
    shipped = {combination.treatments for combination in all_combinations().values()}
    for treatments in shipped:
        same = {each for each in shipped if set(each) == set(treatments)}
        for shuffled in permutations(treatments):
            order = calendar_order(shuffled, all_treatments(), all_combinations())
            assert order == shuffled if shuffled in same else order in same


@settings(max_examples=30, deadline=None)
@given(st.sets(st.sampled_from(sorted(set(all_treatments()) - {"none"})), min_size=2, max_size=4))
def test_any_parts_are_put_in_one_order_with_waits_and_words(keys):
    order = calendar_order(sorted(keys), all_treatments(), all_combinations())
    assert set(order) == keys
    parts = tuple(all_treatments()[key] for key in order)
    found = joined(parts, all_combinations())
    assert found.treatments == order
    for part in parts:
        assert part.plain.words in found.plain.words
        assert part.plain.words_es in found.plain.words_es
        assert set(part.plain.keys) <= set(found.plain.keys)
    shipped = {wait.after for each in all_combinations().values() for wait in each.waits}
    for one, two in pairwise(order):
        together = any((one, two) in each.same_visit for each in all_combinations().values())
        if one in shipped and not together:
            assert any(wait.after == one and wait.before == two for wait in found.waits), (one, two)


def test_whitening_before_a_face_on_moved_teeth_waits_for_both():
    option = own(work("ceramic-veneer", "22"), work("whitening"), work("braces"))
    course = own_course(option, LEAD, all_treatments(), all_combinations())
    assert course.treatments == ("braces", "whitening", "ceramic-veneer")
    parts = tuple(all_treatments()[key] for key in course.treatments)
    together = joined(parts, all_combinations())
    time = duration_of(course, parts, together, LEAD, BOOK, TODAY)
    least = sum(
        int(wait.days.value) for wait in together.waits if (wait.after, wait.before) != ("braces", parts[-1].key)
    )
    assert least >= 90 + 14
    assert isinstance(time.earliest_finish, date)
    assert (time.earliest_finish - TODAY).days > least


def test_amounts_become_locks_and_the_rest_stays_untouched():
    option = own(work("bonding", "22", mesial="0.7"), work("reshaping", "13", removal="0.5"))
    fixed = as_locks(option, LEAD, all_treatments())
    said = {(lock.tooth.iso if lock.tooth else "", lock.what): lock.value for lock in fixed.choices.locks}
    assert said["22", "mesial share"] == 7
    assert said["22", "distal share"] == 0
    assert said["13", "shorten"] == 5
    assert ("11", "untouched") in said
    assert ("22", "untouched") not in said
