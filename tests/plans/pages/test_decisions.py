"""Decisions around the computation: struck, recommended, overridden, counted and taxed otherwise; two deciders."""

from collections.abc import Callable

import pytest

from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.facts import case_choices
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.choices import Override
from planner.rules.mouth import CaseFacts, History
from planner.rules.verdicts import Verdict
from planner.trail.models import TrailEntry
from tests.pages import client_of
from tests.plans.pages.conftest import OPTION, REASON, seen
from tests.support import NOW

pytestmark = pytest.mark.django_db


def test_strike_restore_and_recommend(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    without = client.post(f"{base}option/{OPTION}/strike/", {"seen": seen(case), "reason": "  "})
    assert "This is missing" in without.content.decode()
    assert not case_choices(Case.objects.get(pk=case.pk)).struck

    done = client.post(f"{base}option/{OPTION}/strike/", {"seen": seen(case), "reason": REASON})
    assert done["Location"] == base
    page = client.get(base)
    assert page.context["plan"].option(OPTION).verdict is Verdict.NO
    assert REASON in page.content.decode()
    assert page.context["plan"].recommended != OPTION

    client.post(f"{base}option/{OPTION}/restore/", {"seen": seen(case), "reason": REASON})
    client.post(f"{base}option/whiten-then-{OPTION}/recommend/", {"seen": seen(case), "reason": REASON})
    plan = client.get(base).context["plan"]
    assert plan.recommended == f"whiten-then-{OPTION}"
    assert plan.recommended_why == f"Recommended by Olive Owner: {REASON}"
    assert [entry.act for entry in TrailEntry.objects.filter(act__startswith="case.").order_by("sequence")][-3:] == [
        "case.strike",
        "case.restore",
        "case.recommend",
    ]


def test_overrides_need_a_reason_and_never_touch_the_patients_limit(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/option/braces-then-implant/override/"
    gate = "implant-crown.roots"
    short = client.post(f"{base}{gate}/", {"seen": seen(case), "reason": "Because."})
    assert "at least 10 signs" in short.content.decode()
    client.post(f"{base}{gate}/", {"seen": seen(case), "reason": REASON})
    option = client.get(f"/plans/{case.public_id}/").context["plan"].option("braces-then-implant")
    assert [(made.gate, made.by) for made in option.overrides] == [(gate, "Olive Owner")]
    client.post(f"{base}{gate}/withdraw/", {"seen": seen(case), "reason": REASON})
    assert not case_choices(Case.objects.get(pk=case.pk)).overrides

    own = f"/plans/{case.public_id}/option/ceramic-veneer/override/G11/"
    assert "only the patient can raise it" in client.get(own).content.decode()
    client.post(own, {"seen": seen(case), "reason": REASON})
    assert not case_choices(Case.objects.get(pk=case.pk)).overrides


def test_what_nobody_can_override_and_what_takes_two(
    owner: Staff, lead_case: CaseFacts, person: Callable[..., Staff]
) -> None:
    history = lead_case.history.model_copy(update={"urgent_problem": True, "methacrylate": "positive"})
    ill = lead_case.model_copy(update={"case": "ill", "history": History.model_validate(dict(history))})
    case = import_case_file(facts=ill, actor=owner, now=NOW).case
    plan = estimates.compute_plan(case, NOW)[0]
    client = client_of(owner)
    never = next((o.key, r) for o in plan.options for r in o.reasons if r.never_overridable)
    two = next((o.key, r) for o in plan.options for r in o.reasons if r.second_dentist)
    url = f"/plans/{case.public_id}/option/{never[0]}/override/{never[1].gate}/"
    assert "Nobody can override this" in client.get(url).content.decode()
    refused = client.post(url, {"seen": seen(case), "reason": REASON})
    assert "Nobody can override this" in refused.content.decode()

    url = f"/plans/{case.public_id}/option/{two[0]}/override/{two[1].gate}/"
    alone = client.post(url, {"seen": seen(case), "reason": REASON, "second_dentist": "olive owner"})
    assert "second dentist" in alone.content.decode()
    assert not case_choices(Case.objects.get(pk=case.pk)).overrides
    stranger = client.post(url, {"seen": seen(case), "reason": REASON, "second_dentist": "Dr Nobody"})
    assert "No dentist of this office is called Dr Nobody" in stranger.content.decode()
    assert not case_choices(Case.objects.get(pk=case.pk)).overrides
    second = person(Role.DENTIST).full_name
    client.post(url, {"seen": seen(case), "reason": REASON, "second_dentist": second})
    (made,) = case_choices(Case.objects.get(pk=case.pk)).overrides
    assert isinstance(made, Override)
    assert (made.by, made.second_dentist) == ("Olive Owner", second)


def test_surfaces_and_tax_class_change_the_fee(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    posted = {"seen": seen(case), "tooth": "upper-left-central-incisor", "surfaces": "1", "reason": REASON}
    client.post(f"{base}surfaces/", posted)
    # Two build-ups are too few for the package: 2 x 445 + 265 + wax 220 + index 70 + reshaping 60.
    fee = client.get(base).context["plan"].option(OPTION).estimate
    assert fee.total_cents == 1505_00

    client.post(f"{base}tax-class/", {"seen": seen(case), "reconstructive": "no", "reason": REASON})
    taxed = client.get(base).context["plan"].option(OPTION).estimate
    assert taxed.tax_cents > 0


def test_the_second_of_two_deciders_sees_both(case: Case, owner: Staff) -> None:
    client, base, began = client_of(owner), f"/plans/{case.public_id}/", seen(case)
    client.post(f"{base}option/whitening/strike/", {"seen": began, "reason": "Theirs came first."})
    late = client.post(f"{base}option/reshaping/strike/", {"seen": began, "reason": "Mine came second."})
    text = late.content.decode()
    assert late.status_code == 200
    assert "Theirs came first." in text
    assert "Mine came second." in text
    assert [one.option for one in case_choices(Case.objects.get(pk=case.pk)).struck] == ["whitening"]
    # The form goes on from what is saved now: once more, knowingly.
    client.post(f"{base}option/reshaping/strike/", {"seen": late.context["form"]["seen"].value(), "reason": REASON})
    struck = case_choices(Case.objects.get(pk=case.pk)).struck
    assert [one.option for one in struck] == ["whitening", "reshaping"]
