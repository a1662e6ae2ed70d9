"""Calls about estimates: when, whom not, written down once."""

from datetime import timedelta
from typing import Any

import pytest

from planner.followup.calling import agree_call, call_done, calling_of, stop_calls, to_call
from planner.followup.models import MadeCall, Outcome
from planner.patients.services import change_patient, set_stop_all
from planner.plans import estimates
from planner.plans.models import Answer
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.followup.sample import patient_of, shown_estimate
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db


def later(days: int) -> Any:
    return NOW + timedelta(days=days)


def test_three_calls_and_then_quiet(owner: Staff) -> None:
    # Shown on a Monday; this office is open Monday to Friday.
    estimate = shown_estimate(owner, patient_of(owner), on=TODAY)
    for number, after in ((1, 3), (2, 10), (3, 30)):
        known = calling_of(estimate, TODAY)
        assert known.next is not None
        due = TODAY + timedelta(days=after)
        assert (known.next.due, known.next.number) == (due if due.weekday() < 5 else due + timedelta(1), number)
        call_done(
            estimate=estimate, seen=number, outcome=Outcome.SPOKE, spoke_with="A. B.", actor=owner, now=later(after)
        )
    assert calling_of(estimate, TODAY).next is None
    assert to_call(owner.office, TODAY + timedelta(days=40)) == ()
    with pytest.raises(Refused, match="unless the patient names a day"):
        call_done(estimate=estimate, seen=4, outcome=Outcome.NOBODY, actor=owner, now=later(40))
    # A day the patient names is kept all the same.
    agree_call(estimate=estimate, on=TODAY + timedelta(days=50), actor=owner, now=later(40))
    assert [one.estimate.pk for one in to_call(owner.office, TODAY + timedelta(days=50))] == [estimate.pk]
    assert TrailEntry.objects.filter(act="call.made").count() == 3


def test_a_call_is_written_down_once(owner: Staff) -> None:
    estimate = shown_estimate(owner, patient_of(owner))
    call_done(estimate=estimate, seen=1, outcome=Outcome.NOBODY, actor=owner, now=NOW)
    with pytest.raises(Refused, match="written down already"):
        call_done(estimate=estimate, seen=1, outcome=Outcome.NOBODY, actor=owner, now=NOW)
    assert MadeCall.objects.count() == 1


def test_a_new_issue_goes_on_with_the_calls_of_the_old_one(owner: Staff) -> None:
    patient = patient_of(owner)
    first = shown_estimate(owner, patient, on=TODAY - timedelta(days=20))
    call_done(estimate=first, seen=1, outcome=Outcome.NOBODY, actor=owner, now=later(-15))
    second = shown_estimate(owner, patient, on=TODAY - timedelta(days=2), replaces=first)
    known = calling_of(second, TODAY)
    assert (known.shown_on, len(known.made)) == (first.shown_on, 1)
    assert known.next is not None
    assert known.next.number == 2


def test_nobody_is_called_after_a_no_or_who_asked_not_to_be(owner: Staff) -> None:
    day = TODAY + timedelta(days=60)

    def listed() -> int:
        return len(to_call(owner.office, day))

    said_no, stopped, silent, unasked, tired = (
        shown_estimate(owner, patient_of(owner, name, consent=consent))
        for name, consent in (("A A", True), ("B B", True), ("C C", False), ("D D", None), ("E E", True))
    )
    assert listed() == 3
    estimates.answer_estimate(
        estimate=said_no, seen=said_no.version, answer=Answer.NONE, by="A A", actor=owner, now=NOW
    )
    assert listed() == 2
    person = stopped.case.patient
    set_stop_all(patient=person, seen=person.version, stop=True, reason="died", actor=owner, now=NOW)
    assert listed() == 1
    stop_calls(estimate=tired, spoke_with="E E", words="please do not ring", actor=owner, now=NOW)
    assert listed() == 0
    for estimate in (said_no, stopped, silent, unasked, tired):
        assert calling_of(estimate, TODAY).why_not
        with pytest.raises(Refused):
            call_done(
                estimate=estimate,
                seen=len(calling_of(estimate, TODAY).made) + 1,
                outcome=Outcome.NOBODY,
                actor=owner,
                now=NOW,
            )
        with pytest.raises(Refused):
            agree_call(estimate=estimate, on=day, actor=owner, now=NOW)
    person = unasked.case.patient
    change_patient(patient=person, seen=person.version, changes={"contact_consent": True}, actor=owner, now=NOW)
    assert listed() == 1


def test_bad_input_gets_a_sentence_and_roles_are_held(owner: Staff, outsider: Staff, person: Any) -> None:
    estimate = shown_estimate(owner, patient_of(owner))
    with pytest.raises(Refused, match="with whom"):
        call_done(estimate=estimate, seen=1, outcome=Outcome.SPOKE, actor=owner, now=NOW)
    with pytest.raises(Refused, match="not a day from today"):
        agree_call(estimate=estimate, on=TODAY - timedelta(days=1), actor=owner, now=NOW)
    with pytest.raises(Refused, match="called again"):
        call_done(estimate=estimate, seen=1, outcome=Outcome.STOP, spoke_with="A", again_on=TODAY, actor=owner, now=NOW)
    with pytest.raises(NotAllowed):
        agree_call(estimate=estimate, on=TODAY, actor=outsider, now=NOW)
    with pytest.raises(NotAllowed):
        call_done(estimate=estimate, seen=1, outcome=Outcome.NOBODY, actor=person(Role.ASSISTANT), now=NOW)
    assert MadeCall.objects.count() == 0


def test_queries_do_not_grow(owner: Staff, queries: Any) -> None:
    def counted() -> int:
        with queries.counted() as found:
            to_call(owner.office, TODAY + timedelta(days=60))
        return len(found)

    for name in ("A A", "B B"):
        shown_estimate(owner, patient_of(owner, name))
    few = counted()
    for number in range(8):
        estimate = shown_estimate(owner, patient_of(owner, f"{number} X"))
        call_done(estimate=estimate, seen=1, outcome=Outcome.NOBODY, actor=owner, now=NOW)
    assert counted() == few
