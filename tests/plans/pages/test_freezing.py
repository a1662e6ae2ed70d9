"""From the plan on the screen to an estimate that is frozen, shown, answered, replaced or thrown away."""

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine

from planner.plans import cases, estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case, Channel, Estimate, State
from planner.practice.again import FIELD
from planner.practice.books import change_book, latest_version, read_book
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.rules.results import sha256
from planner.rules.verdicts import Verdict
from tests.pages import client_of
from tests.plans.pages.conftest import OPTION, REASON, plan_hash, seen
from tests.support import NOW, PASSWORD, TODAY

pytestmark = pytest.mark.django_db


def test_freeze_numbers_pins_and_hands_over_what_can_be_offered(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    shown = client.get(base).context["check"].initial["plan"]
    done = client.post(f"{base}check/", {"plan": shown})
    estimate = Estimate.objects.get()
    assert done["Location"] == f"/plans/estimate/{estimate.public_id}/"
    assert (estimate.number, estimate.issue, estimate.state) == (1, 1, State.CHECKED)
    assert estimate.frozen is not None
    assert estimate.frozen.sha256 == shown
    assert estimate.book == latest_version(owner.office)
    assert estimate.valid_through == TODAY + timedelta(days=90)
    plan = estimates.read_frozen(estimate.frozen)
    assert set(estimate.options) == {o.key for o in plan.options if o.verdict in (Verdict.OFFER, Verdict.CARE)}
    page = client.get(done["Location"]).content.decode()
    assert shown in page
    assert "What was frozen is not" not in page
    # Pressed twice, it is the same estimate.
    client.post(f"{base}check/", {"plan": shown})
    assert Estimate.objects.count() == 1
    taken = client.post(f"/plans/estimate/{estimate.public_id}/plan.json", {FIELD: PASSWORD})
    assert sha256(taken.content) == shown


def test_what_was_not_seen_is_not_frozen(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    shown = client.get(base).context["check"].initial["plan"]
    client.post(f"{base}option/whitening/strike/", {"seen": seen(case), "reason": REASON})
    told = client.post(f"{base}check/", {"plan": shown}, follow=True)
    assert "The plan has changed since this page was opened" in told.content.decode()
    assert not Estimate.objects.exists()
    assert "was not named" in client.post(f"{base}check/", {}, follow=True).content.decode()


def test_a_frozen_plan_whose_facts_or_book_changed_says_so_and_a_new_issue_needs_a_reason(
    case: Case, checked: Estimate, owner: Staff
) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    assert not client.get(base).context["standing"].stale
    cases.strike_option(case=case, seen=case.version, option="whitening", reason=REASON, actor=owner, now=NOW)
    page = client.get(base)
    assert "Facts of the case have changed since estimate 1-1 was checked" in page.content.decode()
    url = f"/plans/estimate/{checked.public_id}/"
    assert "Facts of the case have changed" in client.get(url).content.decode()
    refused = client.post(
        f"{url}show/", {"to": "A", "channel": "in person", "on": TODAY.isoformat(), "seen": checked.version}
    )
    assert "a dentist checks a new issue first" in refused.content.decode()

    shown = page.context["check"].initial["plan"]
    assert "needs a reason" in client.post(f"{base}check/", {"plan": shown}, follow=True).content.decode()
    client.post(f"{base}check/", {"plan": shown, "reason": REASON})
    issues = list(Estimate.objects.order_by("issue").values_list("issue", "state"))
    assert issues == [(1, State.REPLACED), (2, State.CHECKED)]

    old = latest_version(owner.office)
    book = read_book(old.data).model_copy(update={"estimate_days": 30})
    change_book(office=owner.office, book=book, effective=TODAY, reason="shorter", seen=1, actor=owner, now=NOW)
    assert "The office book has changed since" in client.get(base).content.decode()
    with time_machine.travel(NOW + timedelta(days=91), tick=False):
        assert "The estimate was valid through" in client_of(owner).get(base).content.decode()


def test_unconfirmed_measurements_are_not_frozen(owner: Staff, lead_case: CaseFacts) -> None:
    unconfirmed = lead_case.examination.model_copy(update={"confirmed_by": ""})
    draft = lead_case.model_copy(update={"case": "draft", "examination": unconfirmed})
    case = import_case_file(facts=draft, actor=owner, now=NOW).case
    client = client_of(owner)
    told = client.post(f"/plans/{case.public_id}/check/", {"plan": plan_hash(case)}, follow=True)
    assert "are not confirmed" in told.content.decode()
    assert not Estimate.objects.exists()


def test_an_estimate_from_draft_to_answer(case: Case, owner: Staff, person: Callable[..., Staff]) -> None:
    desk, dentist = client_of(person(Role.DESK_LEAD)), client_of(owner)
    base = f"/plans/{case.public_id}/"
    none = desk.post(f"{base}estimate/", {})
    assert "This is missing" in none.content.decode()
    begun = desk.post(f"{base}estimate/", {"options": [OPTION, "whitening"]})
    url = begun["Location"]
    assert "A draft has no figures of its own" in desk.get(url).content.decode()
    desk.post(f"{url}options/", {"options": [OPTION], "seen": Estimate.objects.get().version})
    dentist.post(f"{base}check/", {"plan": plan_hash(case)})
    estimate = Estimate.objects.get()
    assert estimate.options == ["none", OPTION]
    assert desk.get(f"{url}options/").status_code == 404

    shown = {"to": "Anselm Brightwater", "channel": Channel.PAPER.value, "on": "2 March 2026"}
    future = desk.post(f"{url}show/", shown | {"on": "3 March 2026", "seen": estimate.version})
    assert "lies in the future" in future.content.decode()
    desk.post(f"{url}show/", shown | {"seen": estimate.version})
    estimate.refresh_from_db()
    assert estimate.state == State.SHOWN
    stale = desk.post(f"{url}show/", shown | {"seen": estimate.version - 1})
    assert "changed by somebody else" in stale.content.decode()
    assert "It is now: shown" in stale.content.decode()

    answer = {"answer": "none, thanks", "by": "Anselm Brightwater", "seen": str(estimate.version)}
    # A bare yes would leave no accepted plan behind: it has pages of its own.
    assert desk.post(f"{url}answer/", answer | {"answer": "all of an option"}).status_code == 200
    estimate.refresh_from_db()
    assert estimate.state == State.SHOWN
    desk.post(f"{url}answer/", answer | {"words": "Let me keep my gap."})
    estimate.refresh_from_db()
    assert (estimate.state, estimate.answer) == (State.ANSWERED, "none, thanks")
    assert "Let me keep my gap." in desk.get(url).content.decode()
    listed = desk.get("/plans/?state=answered").content.decode()
    assert "Anselm Brightwater" in listed
    assert "Anselm Brightwater" not in desk.get("/plans/?state=draft").content.decode()


def test_a_draft_can_be_thrown_away_with_a_reason(case: Case, owner: Staff) -> None:
    estimate = estimates.draft_estimate(case=case, actor=owner, now=NOW)
    client, url = client_of(owner), f"/plans/estimate/{estimate.public_id}/discard/"
    assert "This is missing" in client.post(url, {"reason": ""}).content.decode()
    assert client.post(url, {"reason": "Begun for the wrong case."})["Location"] == f"/plans/{case.public_id}/"
    assert not Estimate.objects.exists()
