"""What may come between a yes and a visit: days of waiting after whitening, a birthday, a death."""

from datetime import date, timedelta
from typing import Any

import pytest
import time_machine

from planner.followup.calling import agree_call, calling_of, to_call
from planner.letters.consent_signing import talk_of
from planner.letters.consent_standing import stands_against
from planner.patients.services import change_patient, set_stop_all
from planner.plans.models import Estimate
from planner.plans.parts import handed as option_of
from planner.practice.models import Staff
from planner.rules.partial import whole_of
from planner.rules.signing import Basis
from planner.visits.models import Visit
from tests.letters.consents import LICENCE, handed, sign
from tests.pages import client_of
from tests.plans.sample import accepted, shown_estimate, when
from tests.plans.test_accepted import take

pytestmark = pytest.mark.django_db


def book(plan: Any, step: str, on: date, owner: Staff, despite: str = "the index comes in time") -> Any:
    """Ask on the page for the visit ``step`` on a day, with all that its form begins with."""
    url = f"/visits/of/{plan.public_id}/book/"
    first = client_of(owner).get(url, {"visit": step, "clinician": owner.public_id}).context["form"].initial
    form = first | {"day": on.isoformat(), "hour": "8:30", "chair": "Chair 1", "despite": despite}
    return client_of(owner).post(url, {name: value for name, value in form.items() if value is not None})


def test_bonding_is_not_booked_before_the_days_after_whitening_are_over(owner: Staff) -> None:
    """Fourteen days after the last night: the source stands with the treatment's own file."""
    plan = accepted(owner, "zhenya", "whiten-then-bond")
    looked_at = when("zhenya").date() + timedelta(days=28)
    assert looked_at.weekday() == when("zhenya").weekday()
    with time_machine.travel(when("zhenya"), tick=False):
        # While nothing of the whitening has a day, a date for the bonding wants a reason.
        asks = book(plan, "bonding.bonding", looked_at, owner, despite="").content.decode()
        assert "“Shade looked at again” comes before it and has no day yet: 14 days must lie between them." in asks
        assert not Visit.objects.exists()
        assert book(plan, "whitening.review", looked_at, owner).status_code == 302
        early = looked_at + timedelta(days=13)
        while early.weekday() > 3:  # the invented office is closed on Fridays
            early -= timedelta(days=1)
        said = book(plan, "bonding.bonding", early, owner)
        assert said.status_code == 200
        over = (looked_at + timedelta(days=14)).isoformat()
        assert f"Not before {over}: 14 days after “Shade looked at again”" in said.content.decode()
        assert "the index comes in time" in said.content.decode()
        assert Visit.objects.count() == 1
        assert book(plan, "bonding.bonding", looked_at + timedelta(days=14), owner).status_code == 302


def test_a_patient_who_comes_of_age_before_the_visit_signs_anew(owner: Staff) -> None:
    now = when("cormac")
    estimate = shown_estimate(owner, "cormac")
    mother = "Deirdre Adeyemi-Rusk, his mother"
    consent = handed(estimate, owner, now=now, chosen="wing-bridge")
    chosen = list(whole_of(option_of(estimate, "wing-bridge").option))
    plan = take(estimate, "wing-bridge", chosen, owner, by=mother, capacity="decision-maker", now=now)
    sign(
        consent, owner, now=now + timedelta(days=2), signer=mother, typed=mother, basis=Basis.PARENT,
        other_parent="The father agrees.", assent=True, assent_words="Yes, I want that.",
        talk=talk_of(owner, LICENCE, now.date()),
    )  # fmt: skip
    birthday = plan.patient.birth_date.replace(year=plan.patient.birth_date.year + 18)
    later = now + timedelta(days=3)
    assert not [words for words in stands_against(plan, later, on=birthday - timedelta(days=1)) if "own" in words]
    (wanted,) = stands_against(plan, later, on=birthday)
    assert "signature" in wanted


def test_a_death_stops_every_call_and_visit_at_once(owner: Staff) -> None:
    now = when("lead")
    estimate: Estimate = shown_estimate(owner, "lead")
    person = estimate.case.patient
    person = change_patient(
        patient=person, seen=person.version, changes={"contact_consent": True}, actor=owner, now=now
    )  # fmt: skip
    day = now.date() + timedelta(days=5)
    agree_call(estimate=estimate, on=day, actor=owner, now=now)
    assert [one.estimate for one in to_call(owner.office, day)] == [estimate]
    set_stop_all(patient=person, seen=person.version, stop=True, reason="The patient has died.", actor=owner, now=now)
    assert to_call(owner.office, day) == ()
    assert "stopped" in calling_of(Estimate.objects.get(pk=estimate.pk), day).why_not
