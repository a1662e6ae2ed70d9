"""Estimates: the four steps and their guards, what is frozen, and what the database itself keeps."""

import json
from collections.abc import Callable
from datetime import timedelta
from hashlib import sha256
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.patients.models import Examination, Status
from planner.patients.services import answer_any_change, record_history
from planner.plans import estimates
from planner.plans.access import load_estimate, load_frozen
from planner.plans.cases import change_case
from planner.plans.facts import case_facts, facts_hash
from planner.plans.models import Answer, Case, Channel, Estimate, FrozenPlan, Showing, State
from planner.plans.queries import estimates as listed
from planner.practice.models import BookVersion, Staff
from planner.practice.roles import Role
from planner.rules.mouth import Allergy
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailEntry
from planner.trail.services import verify_chain
from tests.support import NOW, TODAY, guards_lifted

pytestmark = pytest.mark.django_db
Computed = tuple[bytes, BookVersion]
LATE = NOW + timedelta(days=91)


def show(estimate: Estimate, actor: Staff, **values: Any) -> Estimate:
    given = {"to": "Anselm Brightwater", "channel": Channel.IN_PERSON, "now": NOW} | values
    return estimates.show_estimate(estimate=estimate, seen=estimate.version, actor=actor, **given)


def answer(estimate: Estimate, actor: Staff, **values: Any) -> Estimate:
    given = {"answer": Answer.ALL, "by": "Anselm Brightwater", "option": estimate.options[1], "now": NOW} | values
    return estimates.answer_estimate(estimate=estimate, seen=estimate.version, actor=actor, **given)


class TestFreezing:
    def test_it_keeps_the_bytes_and_their_hashes_and_closes_the_measurements(
        self, case: Case, computed: Computed, owner: Staff
    ) -> None:
        frozen = estimates.freeze(case=case, plan_json=computed[0], book=computed[1], actor=owner, now=NOW)
        frozen = FrozenPlan.objects.get(pk=frozen.pk)
        assert bytes(frozen.content) == computed[0]
        assert frozen.sha256 == sha256(computed[0]).hexdigest()
        assert frozen.facts_sha256 == facts_hash(case_facts(case)) == json.loads(computed[0])["facts_sha256"]
        assert Examination.objects.get().status == Status.USED
        assert estimates.read_frozen(frozen).to_json() == computed[0]
        again = estimates.freeze(case=case, plan_json=computed[0], book=computed[1], actor=owner, now=NOW)
        assert again == frozen

    def test_it_refuses_what_does_not_fit_together(self, case: Case, computed: Computed, owner: Staff) -> None:
        plan, book = computed
        given: dict[str, Any] = {"case": case, "plan_json": plan, "book": book, "actor": owner, "now": NOW}
        other_book = json.dumps(json.loads(plan) | {"book_sha256": "0" * 64}).encode()
        for values, sentence in (
            ({"plan_json": b"{}"}, "cannot be frozen"),
            ({"plan_json": other_book}, "another office book"),
            ({"now": NOW + timedelta(days=1)}, "today is 2026-03-03"),
        ):
            with pytest.raises(Refused, match=sentence):
                estimates.freeze(**(given | values))
        changed = change_case(case=case, seen=case.version, notes="found something", actor=owner, now=NOW)
        with pytest.raises(Refused, match="have changed since"):
            estimates.freeze(**(given | {"case": changed}))
        assert not FrozenPlan.objects.exists()
        assert Examination.objects.get().status == Status.CONFIRMED, "nothing was closed for a plan that was refused"

    def test_a_book_stored_before_a_setting_existed_still_serves(self, case: Case, owner: Staff) -> None:
        older = BookVersion.objects.get(office=owner.office)
        data = json.loads(older.data)
        assert data.pop("tax_base")
        text = json.dumps(data)
        with guards_lifted():
            BookVersion.objects.filter(pk=older.pk).update(data=text, sha256=sha256(text.encode()).hexdigest())
        plan, book = estimates.compute_plan(case, NOW)
        frozen = estimates.freeze(case=case, plan_json=plan.to_json(), book=book, actor=owner, now=NOW)
        assert frozen.book == older

    def test_unconfirmed_measurements_carry_no_plan(self, case: Case, computed: Computed, owner: Staff) -> None:
        Examination.objects.update(status=Status.DRAFT)
        with pytest.raises(Refused, match="not confirmed"):
            estimates.freeze(case=case, plan_json=computed[0], book=computed[1], actor=owner, now=NOW)

    def test_a_spoiled_copy_is_noticed(self, checked: Estimate) -> None:
        with guards_lifted():
            FrozenPlan.objects.update(content=b"{}")
        with pytest.raises(Refused, match="its hash differs"):
            estimates.read_frozen(FrozenPlan.objects.get())


class TestSteps:
    def test_from_draft_to_answer(self, checked: Estimate, owner: Staff) -> None:
        assert (checked.state, checked.valid_through) == (State.CHECKED, TODAY + timedelta(days=90))
        assert checked.options[0] == "none", "doing nothing is among the options"
        shown = show(show(checked, owner), owner, channel=Channel.PAPER)
        assert [(row.channel, row.to) for row in Showing.objects.all()] == [
            ("in person", "Anselm Brightwater"),
            ("paper by post", "Anselm Brightwater"),
        ]
        done = answer(shown, owner, words="yes please")
        assert (done.state, done.answer, done.answered_option) == (State.ANSWERED, Answer.ALL, "whitening")
        acts = list(TrailEntry.objects.order_by("sequence").values_list("act", flat=True))
        assert acts[-5:] == ["plan.freeze", "estimate.check", "estimate.show", "estimate.show", "estimate.answer"]
        assert verify_chain().faults == ()

    def test_no_step_is_skipped_and_none_taken_back(
        self, draft: Estimate, checked: Estimate, computed: Computed, owner: Staff
    ) -> None:
        fresh = estimates.draft_estimate(case=draft.case, actor=owner, now=NOW)
        with pytest.raises(Refused, match="is draft; this needs one that is checked or shown"):
            show(fresh, owner)
        with pytest.raises(Refused, match="is checked; this needs one that is shown"):
            answer(checked, owner)
        with pytest.raises(Refused, match="this needs one that is draft"):
            estimates.check_estimate(
                estimate=checked, seen=2, plan_json=computed[0], book=computed[1], actor=owner, now=NOW
            )
        done = answer(show(checked, owner), owner)
        for act in (lambda: show(done, owner), lambda: answer(done, owner)):
            with pytest.raises(Refused, match="is answered"):
                act()
        with pytest.raises(Refused, match="is answered"):
            estimates.reissue_estimate(estimate=done, reason="r", actor=owner, now=NOW)

    def test_expired_is_computed_and_a_late_yes_needs_a_new_issue(self, checked: Estimate, owner: Staff) -> None:
        shown = show(checked, owner)
        assert not estimates.is_expired(shown, TODAY + timedelta(days=90))
        assert estimates.is_expired(shown, TODAY + timedelta(days=91))
        with pytest.raises(Refused, match="was valid through 2026-05-31"):
            answer(shown, owner, now=LATE)
        with pytest.raises(Refused, match="was valid through"):
            show(shown, owner, now=LATE)
        done = answer(shown, owner, answer=Answer.NONE, now=LATE)
        assert (done.state, done.answered_option) == (State.ANSWERED, ""), "a no may come late"
        assert not estimates.is_expired(done, TODAY + timedelta(days=400))

    def test_new_facts_hold_a_yes_up_and_asking_again_does_not(self, checked: Estimate, owner: Staff) -> None:
        shown, patient = show(checked, owner), checked.case.patient
        answer_any_change(patient=patient, asked_on=TODAY, changed=False, actor=owner, now=NOW)
        assert not estimates.facts_changed(shown, TODAY)
        facts = case_facts(checked.case).history.model_copy(
            update={"signed_on": TODAY, "methacrylate": Allergy.POSITIVE}
        )
        record_history(patient=patient, facts=facts, actor=owner, now=NOW)
        assert estimates.facts_changed(Estimate.objects.get(pk=shown.pk), TODAY)
        with pytest.raises(Refused, match="a dentist checks a new issue first"):
            answer(shown, owner)
        with pytest.raises(Refused, match="have changed since"):
            show(shown, owner)

    def test_a_new_issue_replaces_the_old_when_it_is_checked(self, checked: Estimate, owner: Staff) -> None:
        shown = show(checked, owner)
        with pytest.raises(Refused, match="needs a reason"):
            estimates.reissue_estimate(estimate=shown, reason="", actor=owner, now=LATE)
        new = estimates.reissue_estimate(estimate=shown, reason="prices", actor=owner, now=LATE)
        assert (new.number, new.issue, new.state, new.replaces) == (shown.number, 2, State.DRAFT, shown)
        with pytest.raises(Refused, match="has begun already"):
            estimates.reissue_estimate(estimate=shown, reason="prices", actor=owner, now=LATE)
        plan, book = estimates.compute_plan(new.case, LATE)
        estimates.check_estimate(estimate=new, seen=1, plan_json=plan.to_json(), book=book, actor=owner, now=LATE)
        assert list(Estimate.objects.order_by("issue").values_list("state", flat=True)) == ["replaced", "checked"]

    def test_a_yes_is_to_an_option_and_by_somebody(self, checked: Estimate, owner: Staff) -> None:
        shown = show(checked, owner)
        for values, sentence in (({"option": "gold"}, "say which one"), ({"by": " "}, "who answered")):
            with pytest.raises(Refused, match=sentence):
                answer(shown, owner, **values)
        for values, sentence in (
            ({"to": ""}, "to whom"),
            ({"on": TODAY + timedelta(days=1)}, "lies in the future"),
            ({"on": TODAY - timedelta(days=1)}, "another paper"),
        ):
            with pytest.raises(Refused, match=sentence):
                show(shown, owner, **values)

    def test_two_editors(self, checked: Estimate, owner: Staff) -> None:
        show(checked, owner)
        with pytest.raises(StaleEdit):
            estimates.show_estimate(
                estimate=checked, seen=checked.version, to="A", channel=Channel.CALL, actor=owner, now=NOW
            )

    def test_options_are_chosen_in_the_draft(
        self, draft: Estimate, computed: Computed, owner: Staff, colleague: Staff
    ) -> None:
        chosen = estimates.choose_options(estimate=draft, seen=1, options=("gold",), actor=owner, now=NOW)
        given: dict[str, Any] = {"plan_json": computed[0], "book": computed[1], "actor": owner, "now": NOW}
        with pytest.raises(Refused, match='no option "gold"'):
            estimates.check_estimate(estimate=chosen, seen=2, **given)
        chosen = estimates.choose_options(estimate=chosen, seen=2, options=("reshaping",), actor=owner, now=NOW)
        checked = estimates.check_estimate(estimate=chosen, seen=3, **given)
        assert checked.options == ["none", "reshaping"]

    def test_a_draft_may_be_thrown_away_and_the_trail_says_so(self, draft: Estimate, owner: Staff) -> None:
        with pytest.raises(Refused, match="reason"):
            estimates.discard_draft(estimate=draft, reason=" ", actor=owner, now=NOW)
        estimates.discard_draft(estimate=draft, reason="begun twice", actor=owner, now=NOW)
        assert not Estimate.objects.exists()
        assert TrailEntry.objects.order_by("-sequence")[0].act == "estimate.discard"

    def test_a_draft_that_somebody_threw_away_meanwhile_is_no_fault_of_the_program(
        self, draft: Estimate, owner: Staff
    ) -> None:
        mine = Estimate.objects.get(pk=draft.pk)
        estimates.discard_draft(estimate=draft, reason="begun twice", actor=owner, now=NOW)
        with pytest.raises(Refused, match="not here any more"):
            estimates.discard_draft(estimate=mine, reason="begun twice", actor=owner, now=NOW)
        with pytest.raises(Refused, match="not here any more"):
            estimates.choose_options(estimate=mine, seen=1, options=("none",), actor=owner, now=NOW)

    def test_numbers_count_up_in_each_office_and_a_taken_one_is_tried_again(
        self, draft: Estimate, owner: Staff, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        wanted = iter([draft.number, draft.number, draft.number + 1])
        monkeypatch.setattr(estimates, "next_number", lambda office: next(wanted))
        assert estimates.draft_estimate(case=draft.case, actor=owner, now=NOW).number == draft.number + 1
        monkeypatch.setattr(estimates, "next_number", lambda office: draft.number)
        with pytest.raises(IntegrityError), transaction.atomic():
            estimates.draft_estimate(case=draft.case, actor=owner, now=NOW)


class TestWhoMay:
    def test_the_roles(
        self, draft: Estimate, computed: Computed, owner: Staff, colleague: Staff, person: Callable[..., Staff]
    ) -> None:
        lead, assistant = person(Role.DESK_LEAD), person(Role.ASSISTANT)
        with pytest.raises(NotAllowed):
            estimates.draft_estimate(case=draft.case, actor=assistant, now=NOW)
        assert estimates.draft_estimate(case=draft.case, actor=colleague, now=NOW).number == draft.number + 1
        given: dict[str, Any] = {"estimate": draft, "seen": 1, "plan_json": computed[0], "book": computed[1]}
        for actor in (colleague, lead, assistant):
            with pytest.raises(NotAllowed, match="approve release"):
                estimates.check_estimate(**given, actor=actor, now=NOW)
        checked = estimates.check_estimate(**given, actor=owner, now=NOW)
        with pytest.raises(NotAllowed, match="run release"):
            show(checked, colleague)
        assert show(checked, lead).state == State.SHOWN

    def test_another_office(self, checked: Estimate, outsider: Staff, computed: Computed) -> None:
        who: dict[str, Any] = {"actor": outsider, "now": NOW}
        acts: list[Callable[[], object]] = [
            lambda: estimates.draft_estimate(case=checked.case, **who),
            lambda: estimates.freeze(case=checked.case, plan_json=computed[0], book=computed[1], **who),
            lambda: show(checked, outsider),
            lambda: answer(checked, outsider),
            lambda: estimates.reissue_estimate(estimate=checked, reason="r", **who),
            lambda: estimates.choose_options(estimate=checked, seen=1, options=(), **who),
            lambda: estimates.discard_draft(estimate=checked, reason="r", **who),
        ]
        for act in acts:
            with pytest.raises(NotAllowed, match="another office"):
                act()

    def test_the_doors(self, checked: Estimate, colleague: Staff, person: Callable[..., Staff]) -> None:
        assert load_estimate(actor=colleague, public_id=checked.public_id, now=NOW) == checked
        assert checked.frozen is not None
        assert load_frozen(actor=colleague, public_id=checked.frozen.public_id, now=NOW) == checked.frozen
        with pytest.raises(NotAllowed):
            load_estimate(actor=person(Role.KEEPER), public_id=checked.public_id, now=NOW)


class TestDatabase:
    @pytest.mark.parametrize(
        "spoiled",
        [
            {"valid_through": TODAY + timedelta(days=900)},
            {"options": ["none"]},
            {"number": 77},
            {"state": State.DRAFT},
            {"state": State.ANSWERED, "answer": "none, thanks", "answered_by": "A", "answered_on": TODAY},
        ],
    )
    def test_a_checked_estimate_only_moves_on(self, checked: Estimate, spoiled: dict[str, Any]) -> None:
        with pytest.raises(IntegrityError), transaction.atomic():
            Estimate.objects.filter(pk=checked.pk).update(**spoiled)

    @pytest.mark.parametrize("state", [State.CHECKED, State.SHOWN, State.ANSWERED, "expired"])
    def test_a_draft_cannot_be_called_what_it_is_not(self, draft: Estimate, state: str) -> None:
        with pytest.raises(IntegrityError), transaction.atomic():
            Estimate.objects.filter(pk=draft.pk).update(state=state)

    @settings(
        max_examples=20,
        deadline=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )
    @given(steps=st.lists(st.sampled_from(["show", "answer", "reissue", "later", "changed"]), max_size=7))
    def test_whatever_is_tried_the_states_only_move_on(self, checked: Estimate, owner: Staff, steps: list[str]) -> None:
        beginning = transaction.savepoint()
        try:
            self.try_all(checked, owner, steps)
        finally:
            transaction.savepoint_rollback(beginning)

    def try_all(self, checked: Estimate, owner: Staff, steps: list[str]) -> None:
        order = [State.CHECKED, State.SHOWN, State.ANSWERED]
        now = NOW
        for step in steps:
            current = Estimate.objects.get(pk=checked.pk)
            before = (order.index(State(current.state)), current.valid_through, list(current.options))
            try:
                if step == "show":
                    show(current, owner, now=now)
                elif step == "answer":
                    answer(current, owner, now=now)
                elif step == "reissue":
                    estimates.reissue_estimate(estimate=current, reason="r", actor=owner, now=now)
                elif step == "later":
                    now = LATE
                else:
                    change_case(case=current.case, seen=current.case.version, wishes=[], actor=owner, now=now)
            except Refused:
                continue
            after = Estimate.objects.get(pk=checked.pk)
            assert order.index(State(after.state)) in (before[0], before[0] + 1)
            assert (after.valid_through, list(after.options)) == before[1:]
            assert (after.state == State.CHECKED) == (after.showings.count() == 0)


class TestLists:
    def test_pages_are_everything_once_newest_first(self, draft: Estimate, owner: Staff, outsider: Staff) -> None:
        for minutes in (0, 0, 1, 2, 2):
            estimates.draft_estimate(case=draft.case, actor=owner, now=NOW + timedelta(minutes=minutes))
        seen, after = [], ""
        while True:
            page = listed(owner.office, state=State.DRAFT, after=after, size=2)
            seen += page.estimates
            after = page.after
            if not after:
                break
        assert seen == list(Estimate.objects.order_by("-at", "-id"))
        assert listed(owner.office, state=State.SHOWN).estimates == ()
        assert listed(outsider.office).estimates == ()

    def test_it_asks_as_often_for_many_as_for_few(self, draft: Estimate, owner: Staff, queries: Any) -> None:
        found = []
        for number in (2, 15):
            for _ in range(number):
                estimates.draft_estimate(case=draft.case, actor=owner, now=NOW)
            after = listed(owner.office, size=1).after
            with queries.counted() as counted:
                [row.case.patient.name for row in listed(owner.office, after=after).estimates]
            found.append(len(counted))
        assert found == [2, 2]
