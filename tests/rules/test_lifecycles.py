"""The four lifecycles: every move and its guards, and that no walk of allowed moves comes to a state it must not."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from planner.rules.consent_states import CONSENT, ConsentFacts, ConsentState, consent_lapsed
from planner.rules.estimate_states import ESTIMATE, EstimateFacts, EstimateState, expired
from planner.rules.item_states import ITEM, ItemFacts, ItemState, bookable
from planner.rules.lifecycles import MACHINES
from planner.rules.moves import Machine, field_at_fault, may_move
from planner.rules.plan_states import OPEN_PLAN, PLAN, PlanFacts, PlanState, price_hold_lapsed

DAY = date(2026, 3, 2)
GOOD: dict[str, Any] = {
    "estimate": EstimateFacts(
        day=DAY,
        valid_through=DAY,
        facts_changed=False,
        shown_to="A. B.",
        channel="in person",
        contradictions=(),
        answered_by="A. B.",
        is_yes=True,
        option_named=True,
        next_issue_checked=True,
    ),
    "accepted plan": PlanFacts(
        day=DAY,
        items=1,
        price_frozen=True,
        right_person="",
        estimate_in_date=True,
        first_item_has_visit=True,
        deposit_paid_or_waived=True,
        consent="",
        history_asked_on=DAY,
        review_done=True,
        reason="travels",
        look_again_on=DAY + timedelta(days=90),
        stale=(),
        price_held=True,
        balance_sheet=True,
        teeth_altered=True,
        make_safe="polished",
        replaced_by="another",
    ),
    "item": ItemFacts(
        day=DAY,
        plan_state=PlanState.UNDER_WAY,
        earliest=DAY,
        waiting_for="laboratory",
        visit_on=DAY,
        done_on=DAY,
        agreed=True,
        dropped_because="patient",
    ),
    "consent": ConsentFacts(
        letter_sha256="a",
        signed_sha256="a",
        open_questions=0,
        signer_entitled="",
        reflection_over=True,
        contradictions=(),
        too_hard="",
        estimate_in_date=True,
        newest=True,
        withdrawn_words="stop",
        withdrawn_scope="all",
        next_letter_handed=True,
    ),
}
NOTHING_KNOWN: dict[str, Any] = {
    "estimate": EstimateFacts(),
    "accepted plan": PlanFacts(),
    "item": ItemFacts(),
    "consent": ConsentFacts(),
}


def good(machine: Machine[Any], before: str, after: str) -> Any:
    """Facts with which every guard of the move is met."""
    facts = GOOD[machine.name]
    if machine is PLAN and before == PlanState.RESTING:
        return replace(facts, rested_from=after, to=after)
    if machine is PLAN and (before, after) == (PlanState.BOOKED, PlanState.ACCEPTED):
        return replace(facts, first_item_has_visit=False)
    return facts


@pytest.mark.parametrize("machine", MACHINES, ids=lambda machine: machine.name)
class TestEveryTable:
    def test_every_move_that_is_listed_can_happen_and_no_other(self, machine: Machine[Any]) -> None:
        listed = {(move.before, move.after) for move in machine.moves}
        for before in ("", *machine.states):
            for after in machine.states:
                refused = may_move(machine, before, after, good(machine, before, after))
                assert (refused == ()) == ((before, after) in listed), (before, after, refused)

    def test_nothing_that_is_not_known_reads_as_fine(self, machine: Machine[Any]) -> None:
        for move in machine.moves:
            for guard in move.guards:
                words = guard.refuses(NOTHING_KNOWN[machine.name])
                assert words == "" or words.endswith((".", ":")), (move, words)
            if move.guards and move.before:
                asks = [guard.refuses(NOTHING_KNOWN[machine.name]) for guard in move.guards]
                assert any(asks), move

    def test_every_state_can_be_reached_and_no_move_stands_twice(self, machine: Machine[Any]) -> None:
        reached = {""}
        for _ in machine.states:
            reached |= {move.after for move in machine.moves if move.before in reached}
        assert reached - {""} == set(machine.states)
        pairs = [(move.before, move.after) for move in machine.moves]
        assert len(pairs) == len(set(pairs))

    def test_a_state_it_does_not_have_is_a_fault(self, machine: Machine[Any]) -> None:
        with pytest.raises(ValueError, match="no state"):
            may_move(machine, "lost", machine.states[0], GOOD[machine.name])


ONE_WRONG: list[tuple[Machine[Any], str, str, dict[str, Any], str]] = [
    (ESTIMATE, "checked", "shown", {"day": DAY + timedelta(1)}, "was valid through 2026-03-02"),
    (ESTIMATE, "checked", "shown", {"facts_changed": True}, "have changed since"),
    (ESTIMATE, "checked", "shown", {"shown_to": " "}, "to whom"),
    (ESTIMATE, "checked", "shown", {"channel": ""}, "in which way"),
    (ESTIMATE, "shown", "answered", {"answered_by": ""}, "who answered"),
    (ESTIMATE, "shown", "answered", {"option_named": False}, "say which one"),
    (ESTIMATE, "shown", "replaced", {"next_issue_checked": None}, "not checked yet"),
    (PLAN, "", "accepted", {"items": 0}, "Nothing was chosen"),
    (PLAN, "", "accepted", {"price_frozen": None}, "price list"),
    (PLAN, "", "accepted", {"right_person": None}, "Nobody asked"),
    (PLAN, "", "accepted", {"right_person": "The mother decides."}, "The mother decides"),
    (PLAN, "", "accepted", {"estimate_in_date": False}, "not in date"),
    (PLAN, "", "accepted", {"clashes": ("A crown and a face on one tooth.",)}, "A crown"),
    (PLAN, "accepted", "booked", {"first_item_has_visit": None}, "has a visit"),
    (PLAN, "accepted", "booked", {"deposit_paid_or_waived": False}, "neither paid nor waived"),
    (PLAN, "booked", "under way", {"consent": None}, "not known whether a consent"),
    (PLAN, "booked", "under way", {"consent": "The letter has changed."}, "has changed"),
    (PLAN, "booked", "under way", {"history_asked_on": DAY - timedelta(1)}, "asked again today"),
    (PLAN, "under way", "finished", {"open_items": ("retainer",)}, "retainer"),
    (PLAN, "under way", "finished", {"review_done": False}, "review"),
    (PLAN, "accepted", "resting", {"reason": ""}, "reason"),
    (PLAN, "accepted", "resting", {"look_again_on": DAY}, "not a day to look again"),
    (PLAN, "accepted", "resting", {"look_again_on": DAY + timedelta(91)}, "at most 90 days"),
    (PLAN, "accepted", "stopped early", {"balance_sheet": False}, "side by side"),
    (PLAN, "accepted", "stopped early", {"make_safe": ""}, "made safe"),
    (PLAN, "accepted", "stopped early", {"teeth_altered": None}, "have been altered"),
    (PLAN, "accepted", "changed", {"replaced_by": ""}, "takes its place"),
    (ITEM, "to do", "booked", {"visit_on": DAY - timedelta(1)}, "cannot be done before"),
    (ITEM, "to do", "booked", {"plan_state": PlanState.RESTING}, "work goes on only"),
    (ITEM, "booked", "done", {"tooth_gone_since": DAY}, "gone since"),
    (ITEM, "booked", "done", {"consent_withdrawn": True}, "withdrawn"),
    (ITEM, "booked", "done", {"agreed": None}, "not agreed"),
    (ITEM, "booked", "done", {"done_on": DAY + timedelta(1)}, "future"),
    (ITEM, "booked", "done", {"plan_state": PlanState.BOOKED}, "has not begun"),
    (ITEM, "to do", "waiting for", {"waiting_for": ""}, "waiting for"),
    (ITEM, "to do", "dropped", {"dropped_because": ""}, "dropped it"),
    (CONSENT, "letter handed", "signed", {"signed_sha256": "b"}, "has changed since it was opened"),
    (CONSENT, "letter handed", "signed", {"open_questions": 2}, "open: 2"),
    (CONSENT, "letter handed", "signed", {"signer_entitled": "Not of age that day."}, "Not of age"),
    (CONSENT, "letter handed", "signed", {"reflection_over": False}, "think it over"),
    (CONSENT, "letter handed", "signed", {"contradictions": ("The index lists 23.",)}, "lists 23"),
    (CONSENT, "letter handed", "signed", {"contradictions": None}, "Nobody has compared"),
    (CONSENT, "letter handed", "signed", {"too_hard": "Too hard to read."}, "Too hard"),
    (CONSENT, "letter handed", "signed", {"estimate_in_date": False}, "not in date"),
    (CONSENT, "letter handed", "signed", {"newest": False}, "newer letter"),
    (CONSENT, "signed", "signed", {"withdrawn_words": " "}, "words used"),
    (CONSENT, "signed", "withdrawn", {"withdrawn_scope": ""}, "what they cover"),
]


@pytest.mark.parametrize(("machine", "before", "after", "wrong", "words"), ONE_WRONG)
def test_one_wrong_fact_refuses_by_its_sentence_alone(
    machine: Machine[Any], before: str, after: str, wrong: dict[str, Any], words: str
) -> None:
    facts = good(machine, before, after)
    assert may_move(machine, before, after, facts) == ()
    refused = may_move(machine, before, after, replace(facts, **wrong))
    assert len(refused) == 1
    assert words in refused[0]


def test_what_is_made_beforehand_need_not_wait_for_the_first_visit() -> None:
    facts = replace(GOOD["item"], plan_state=PlanState.ACCEPTED)
    assert may_move(ITEM, "to do", "done", facts)
    assert may_move(ITEM, "to do", "done", replace(facts, in_mouth=False)) == ()


def test_a_no_is_heard_whatever_the_date() -> None:
    facts = EstimateFacts(answered_by="A. B.", is_yes=False)
    assert may_move(ESTIMATE, "shown", "answered", facts) == ()
    assert field_at_fault(ESTIMATE, "shown", "answered", replace(facts, answered_by="")) == "by"


@given(days=st.integers(-400, 400))
@settings(max_examples=60)
def test_expired_and_lapsed_follow_from_dates(days: int) -> None:
    day = DAY + timedelta(days=days)
    assert expired(EstimateState.SHOWN, DAY, day) == (days > 0)
    assert not expired(EstimateState.ANSWERED, DAY, day)
    assert consent_lapsed(DAY, day, 180, started=False, facts_changed=False) == (days > 180)
    assert not consent_lapsed(DAY, day, 180, started=True, facts_changed=False)
    assert consent_lapsed(DAY, day, 180, started=True, facts_changed=True)
    assert price_hold_lapsed(DAY, None, False, day) == (days > 0)
    assert price_hold_lapsed(DAY, DAY + timedelta(20), False, day) == (days > 20)
    assert not price_hold_lapsed(DAY, None, True, day)
    assert bookable(day, DAY) == (days <= 14)


class PlanWalk(RuleBasedStateMachine):
    """Any walk of allowed moves of a plan and its items; what must hold wherever it comes to."""

    def __init__(self) -> None:
        super().__init__()
        self.plan = str(PlanState.ACCEPTED)
        self.rested_from = ""
        self.began = False
        self.items = ["to do", "to do"]
        self.done_before_begin = False
        self.seen: list[str] = [self.plan]

    @rule(to=st.sampled_from(list(PlanState)), signed=st.booleans(), paid=st.booleans(), still=st.booleans())
    def move_plan(self, to: PlanState, signed: bool, paid: bool, still: bool) -> None:
        facts = replace(
            GOOD["accepted plan"],
            first_item_has_visit="booked" in self.items,
            deposit_paid_or_waived=paid,
            consent="" if signed else "Not signed.",
            open_items=tuple(one for one in self.items if one not in ("done", "dropped")),
            rested_from=self.rested_from,
            to=str(to),
            stale=() if still else ("A picture is too old.",),
        )
        if may_move(PLAN, self.plan, to, facts):
            return
        if to == PlanState.UNDER_WAY and self.plan == PlanState.BOOKED:
            assert signed
            self.began = True
        self.rested_from = self.plan if to == PlanState.RESTING else ""
        self.plan = str(to)
        self.seen.append(self.plan)

    @rule(which=st.integers(0, 1), to=st.sampled_from(list(ItemState)), earlier=st.booleans())
    def move_item(self, which: int, to: ItemState, earlier: bool) -> None:
        facts = replace(GOOD["item"], plan_state=self.plan, visit_on=DAY - timedelta(1) if earlier else DAY)
        if may_move(ITEM, self.items[which], to, facts):
            return
        assert not (earlier and to == ItemState.BOOKED)
        self.items[which] = str(to)

    @precondition(lambda self: self.plan not in OPEN_PLAN)
    @rule(which=st.integers(0, 1))
    def nothing_is_done_in_a_plan_that_does_not_go_on(self, which: int) -> None:
        facts = replace(GOOD["item"], plan_state=self.plan)
        assert may_move(ITEM, self.items[which], ItemState.DONE, facts)
        assert may_move(ITEM, self.items[which], ItemState.BOOKED, facts)

    @invariant()
    def work_in_the_mouth_only_after_a_signed_consent(self) -> None:
        if "done" in self.items:
            assert self.began

    @invariant()
    def an_end_is_an_end(self) -> None:
        ends = {PlanState.FINISHED, PlanState.STOPPED, PlanState.CHANGED}
        assert not any(state in ends for state in self.seen[:-1])

    @invariant()
    def finished_has_nothing_open_and_was_under_way(self) -> None:
        if self.plan == PlanState.FINISHED:
            assert set(self.items) <= {"done", "dropped"}
            assert self.began


TestPlanWalk = PlanWalk.TestCase
TestPlanWalk.settings = settings(max_examples=40, stateful_step_count=25, deadline=None)


class ConsentWalk(RuleBasedStateMachine):
    """Nobody comes to a signature past an open question or with another letter than the one that was handed."""

    def __init__(self) -> None:
        super().__init__()
        self.state = str(ConsentState.NONE)
        self.open = 0

    @rule()
    def ask(self) -> None:
        if not may_move(CONSENT, self.state, ConsentState.QUESTIONS, GOOD["consent"]):
            self.state, self.open = str(ConsentState.QUESTIONS), self.open + 1

    @rule()
    def answer(self) -> None:
        self.open = max(self.open - 1, 0)

    @rule(to=st.sampled_from([one for one in ConsentState if one != ConsentState.QUESTIONS]), same=st.booleans())
    def move(self, to: ConsentState, same: bool) -> None:
        facts = replace(GOOD["consent"], open_questions=self.open, signed_sha256="a" if same else "b")
        if may_move(CONSENT, self.state, to, facts):
            return
        # From signed to signed is a part taken back: that takes no letter.
        if to == ConsentState.SIGNED and self.state != ConsentState.SIGNED:
            assert same
            assert self.open == 0
        assert self.state not in (ConsentState.WITHDRAWN, ConsentState.REPLACED)
        self.state = str(to)


TestConsentWalk = ConsentWalk.TestCase
TestConsentWalk.settings = settings(max_examples=40, stateful_step_count=20, deadline=None)
