"""What becomes of a shown estimate: five answers, each once; what comes too late, clashes, or is paid too late."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.utils.html import escape

from planner.plans import estimates
from planner.plans.accepted import stop_plan
from planner.plans.accepted_models import AcceptedPlan, Cause, Payment
from planner.plans.models import Answer, Channel, Estimate, State
from planner.plans.parts import handed
from planner.practice.models import Staff
from planner.rules.partial import pieces_of, whole_of
from planner.trail.errors import Refused
from tests.pages import client_of
from tests.plans.sample import shown_estimate, when
from tests.plans.test_accepted import take
from tests.support import NOW

pytestmark = pytest.mark.django_db
NO = (Answer.NONE, Answer.NO_TREATMENT, Answer.ELSEWHERE)


@pytest.fixture
def shown(checked: Estimate, owner: Staff) -> Estimate:
    return estimates.show_estimate(
        estimate=checked, seen=checked.version, to="A. B.", channel=Channel.IN_PERSON, actor=owner, now=NOW
    )


def accept_url(estimate: Estimate, option: str = "reshape-bond") -> str:
    return f"/plans/estimate/{estimate.public_id}/accept/{option}/"


def yes(estimate: Estimate, *pieces: str, option: str = "reshape-bond") -> dict[str, Any]:
    """The form of a yes to these pieces of an option, or to all of it."""
    chosen = pieces or whole_of(handed(estimate, option).option)
    return {"pieces": list(chosen), "by": estimate.case.patient.name, "capacity": "patient", "seen": estimate.version}


def say(client: Client, estimate: Estimate, answer: Answer) -> Any:
    """Record one of the five answers on its page."""
    if answer in NO:
        form = {"answer": answer.value, "by": "Anselm", "words": "as I said", "seen": estimate.version}
        return client.post(f"/plans/estimate/{estimate.public_id}/answer/", form)
    if answer == Answer.ALL:
        return client.post(accept_url(estimate), yes(estimate))
    option = handed(estimate, "reshape-bond").option
    tip = next(piece.key for piece in pieces_of(option) if piece.tooth is not None and piece.tooth.iso == "13")
    return client.post(accept_url(estimate), yes(estimate, tip))


@pytest.mark.parametrize("answer", list(Answer))
def test_each_of_five_answers_is_recorded_once(answer: Answer, shown: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    assert say(client, shown, answer).status_code == 302
    shown.refresh_from_db()
    assert (shown.state, shown.answer) == (State.ANSWERED, answer.value)
    assert AcceptedPlan.objects.count() == (answer not in NO)
    # The same answer, or another, sent again from a page that was left open changes nothing and says why.
    version = shown.version
    for again in (answer, Answer.NONE):
        said = say(client, shown, again)
        assert said.status_code == 200, f"{again} was taken"
        assert "answered" in said.content.decode()
    shown.refresh_from_db()
    assert (shown.version, shown.answer) == (version, answer.value)
    assert AcceptedPlan.objects.count() == (answer not in NO)


def test_a_part_says_so_and_names_its_option(shown: Estimate, owner: Staff) -> None:
    say(client_of(owner), shown, Answer.PART)
    shown.refresh_from_db()
    assert (shown.answer, shown.answered_option) == ("part of an option", "reshape-bond")
    assert AcceptedPlan.objects.get().total_cents == 6000  # reshaping alone, by the invented list


def test_a_yes_after_the_last_day_is_refused_and_leads_to_a_new_issue(shown: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    assert shown.valid_through is not None
    with time_machine.travel(NOW + (shown.valid_through - NOW.date()) + timedelta(days=1), tick=False):
        client = client_of(owner)  # nobody stays signed in that long
        said = client.post(accept_url(shown), yes(shown))
        assert said.status_code == 200
        assert f"/plans/estimate/{shown.public_id}/new-issue/" in said.content.decode()
        shown.refresh_from_db()
        assert (shown.state, AcceptedPlan.objects.count()) == (State.SHOWN, 0)
        anew = client.post(f"/plans/estimate/{shown.public_id}/new-issue/", {"reason": "a late yes"})
        assert anew.status_code == 302
    assert Estimate.objects.get(issue=2).replaces == shown


def test_a_deposit_for_a_plan_that_was_stopped_is_refused_and_what_was_typed_stays(
    shown: Estimate, owner: Staff
) -> None:
    client = client_of(owner)
    say(client, shown, Answer.ALL)
    plan = AcceptedPlan.objects.get()
    stop_plan(plan=plan, seen=plan.version, because=Cause.PATIENT, reason="moves away", actor=owner, now=NOW)
    form = {"cents": "560.00", "payer": "Grandmother", "route": "card", "reference": "slip 12", "on": "2026-03-02"}
    said = client.post(f"/plans/accepted/{plan.public_id}/receipt/", form).content.decode()
    assert "would be held for work that nobody does" in said
    assert all(f'value="{typed}"' in said for typed in ("560.00", "Grandmother", "slip 12"))
    assert not Payment.objects.exists()


def test_two_options_that_fill_one_place_are_refused_by_place(owner: Staff) -> None:
    """A false tooth on a wing and an implant crown for the same place: the second yes names it."""
    first = shown_estimate(owner, "nikhil")
    take(first, "wing-bridge", list(whole_of(handed(first, "wing-bridge").option)), owner, now=when("nikhil"))
    who: dict[str, Any] = {"actor": owner, "now": when("nikhil")}
    plan, book = estimates.compute_plan(first.case, when("nikhil"))
    other = estimates.draft_estimate(case=first.case, **who)
    other = estimates.check_estimate(estimate=other, seen=1, plan_json=plan.to_json(), book=book, **who)
    other = estimates.show_estimate(estimate=other, seen=2, to="N. S.", channel=Channel.IN_PERSON, **who)
    key = next(key for key in other.options if "implant" in key)
    with pytest.raises(Refused, match="the place of the upper left central incisor is filled twice"):
        take(other, key, list(whole_of(handed(other, key).option)), owner, now=when("nikhil"))
    other.refresh_from_db()
    assert (other.state, AcceptedPlan.objects.count()) == (State.SHOWN, 1)


def test_two_options_on_one_tooth_are_refused_on_the_page_with_the_tooth_named(shown: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    say(client, shown, Answer.ALL)
    plan, book = estimates.compute_plan(shown.case, NOW)
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    other = estimates.draft_estimate(case=shown.case, **who)
    other = estimates.check_estimate(estimate=other, seen=1, plan_json=plan.to_json(), book=book, **who)
    other = estimates.show_estimate(estimate=other, seen=2, to="A. B.", channel=Channel.IN_PERSON, **who)
    said = client.post(accept_url(other, "direct-face"), yes(other, option="direct-face")).content.decode()
    assert escape("cannot both be on the upper") in said
    assert "central incisor" in said
    assert AcceptedPlan.objects.count() == 1
