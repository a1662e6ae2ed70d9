"""A dentist leaves in the middle of a plan: another takes it over, and history stays under the old name."""

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from planner.letters.consent_models import Countersignature, Signature
from planner.letters.taking_over import take_over
from planner.plans.cases import recommend_option
from planner.plans.estimates import check_estimate, compute_plan, reissue_estimate
from planner.plans.models import Case, Estimate
from planner.plans.takeover_models import TakeOver
from planner.plans.treating import dentist_of
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.letters.consents import LATER, handed, shown_estimate, sign
from tests.pages import client_of, priced_office
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db
WORDS: dict[str, Any] = {
    "reason": "Dr Owner has left the office.",
    "reviewed": "Measurements, plan and letter: I stand by them.",
    "licence": "D-9001",
    "told_on": TODAY,
    "told_how": "By telephone; she agrees.",
}


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def second(person: Callable[..., Staff]) -> Staff:
    """Another dentist of the office."""
    return person(Role.DENTIST, full_name="Nadia Next")


@pytest.fixture
def shown(owner: Staff, lead_case: CaseFacts) -> Estimate:
    return shown_estimate(owner, lead_case)


def decide(case: Case, actor: Staff) -> Case:
    case.refresh_from_db()
    return recommend_option(case=case, seen=case.version, option="none", reason="Nothing now.", actor=actor, now=LATER)


def test_a_second_dentist_looks_and_decides_only_after_taking_over(
    shown: Estimate, owner: Staff, second: Staff
) -> None:
    sign(handed(shown, owner), owner)
    case, client = shown.case, client_of(second)
    page = client.get(reverse("plans:case", args=[case.public_id])).content.decode()
    assert "Treated by Olive Owner." in page
    with pytest.raises(Refused, match="Olive Owner treats this case"):
        decide(case, second)
    url = reverse("letters:take_over", args=[case.public_id])
    review = client.get(url).content.decode()
    assert "after a talk with Olive Owner" in review
    missing = client.post(url, WORDS | {"reviewed": "", "told_on": "2 March 2026"}).content.decode()
    assert "By telephone; she agrees." in missing, "nothing typed is lost"
    assert not TakeOver.objects.exists()
    client.post(url, WORDS | {"told_on": "2 March 2026"})
    row, signature = TakeOver.objects.get(), Signature.objects.get()
    assert (row.by, row.before, row.signatures, row.licence) == (second, owner, [signature.sha256], "D-9001")
    assert dentist_of(case) == second
    assert decide(case, second).version == case.version + 1
    with pytest.raises(Refused, match="Nadia Next treats this case"):
        decide(case, owner)
    # History stays under the old name.
    shown.refresh_from_db()
    assert shown.checked_by == owner
    assert signature.clinician == owner
    assert Countersignature.objects.get().by == owner
    entry = TrailEntry.objects.filter(act="case.take_over").get()
    assert (entry.actor, entry.reason) == (second, WORDS["reason"])


def test_a_new_issue_too_is_checked_by_whoever_treats_the_case(shown: Estimate, owner: Staff, second: Staff) -> None:
    new = reissue_estimate(estimate=shown, reason="Asked again.", actor=owner, now=LATER)
    plan, book = compute_plan(shown.case, LATER)
    given: dict[str, Any] = {"estimate": new, "seen": new.version, "plan_json": plan.to_json(), "book": book}
    with pytest.raises(Refused, match="take it over first"):
        check_estimate(**given, actor=second, now=LATER)
    take_over(case=shown.case, **WORDS, actor=second, now=LATER)
    assert check_estimate(**given, actor=second, now=LATER).checked_by == second


def test_a_case_that_was_taken_over_meanwhile_is_taken_over_knowingly(
    shown: Estimate, owner: Staff, second: Staff, person: Callable[..., Staff]
) -> None:
    third, url = person(Role.DENTIST, full_name="Theo Third"), reverse("letters:take_over", args=[shown.case.public_id])
    opened = client_of(third).get(url).context["form"].initial | WORDS | {"told_on": "2 March 2026"}
    take_over(case=shown.case, **WORDS, actor=second, now=NOW)
    late = client_of(third).post(url, opened)
    assert "Nadia Next treats this case now (taken over by Nadia Next on 2 March 2026)" in late.content.decode()
    assert dentist_of(shown.case) == second
    kept = {name: late.context["form"][name].value() for name in opened}
    assert client_of(third).post(url, kept).status_code == 302
    assert dentist_of(shown.case) == third


@pytest.mark.parametrize("empty", ["reason", "reviewed", "licence", "told_how"])
def test_each_point_is_wanted_in_words(shown: Estimate, second: Staff, empty: str) -> None:
    with pytest.raises(Refused) as refused:
        take_over(case=shown.case, **WORDS | {empty: "  "}, actor=second, now=NOW)
    assert refused.value.field == empty


def test_who_may_not(shown: Estimate, owner: Staff, second: Staff, colleague: Staff, outsider: Staff) -> None:
    with pytest.raises(Refused, match="You treat this case already"):
        take_over(case=shown.case, **WORDS, actor=owner, now=NOW)
    with pytest.raises(Refused, match="tell the patient first"):
        take_over(case=shown.case, **WORDS | {"told_on": TODAY.replace(year=2027)}, actor=second, now=NOW)
    for actor in (colleague, outsider):
        with pytest.raises(NotAllowed):
            take_over(case=shown.case, **WORDS, actor=actor, now=NOW)
