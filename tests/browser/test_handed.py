"""A screen in the patient's hands: whatever is tapped, typed or gone back to, nothing else comes up until staff signs
in.
"""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.patients.services import register_patient
from planner.plans import estimates
from planner.plans.models import Case, Channel
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.services import add_staff
from tests.browser.conftest import TABLET, look
from tests.browser.test_options import case, owner
from tests.support import PASSWORD

__all__ = ["case", "owner"]
REFUSED = "This page is not for you to open"


def test_back_forward_reload_addresses_and_fetches_show_nothing_else(
    signed_in: Callable[[Staff], Page], live_server: Any, owner: Staff, case: Case
) -> None:
    now = timezone.now() - timedelta(days=1)
    who: dict[str, Any] = {"actor": owner, "now": now}
    plan, book = estimates.compute_plan(case, now)
    estimate = estimates.draft_estimate(case=case, **who)
    estimate = estimates.check_estimate(estimate=estimate, seen=1, plan_json=plan.to_json(), book=book, **who)
    estimates.show_estimate(estimate=estimate, seen=2, to="A. B.", channel=Channel.IN_PERSON, **who)
    other = register_patient(name="Zenobia Farthing", birth_date=date(1980, 5, 4), **who)
    lead = add_staff(username="lea", full_name="Lea Lead", password=PASSWORD, roles=[Role.DESK_LEAD], **who)
    page = signed_in(lead)
    secret = f"{live_server.url}/patients/{other.public_id}/"
    for url in (f"{live_server.url}/patients/", secret, f"{live_server.url}/plans/estimate/{estimate.public_id}/"):
        page.goto(url)
    page.get_by_role("link", name="Show it to the patient").click()
    expect(page.get_by_role("heading", name=f"For {case.patient.name}")).to_be_visible()
    look(page, "show-begin")
    page.get_by_role("link", name="Go on").click()
    page.get_by_text("How long does it last?").click()
    look(page, "show-option")
    page.get_by_role("link", name="Hand this screen to the patient").click()
    look(page, "hand-over")
    page.get_by_role("button", name="Hand it over").click()
    expect(page.get_by_role("heading", name=f"For {case.patient.name}")).to_be_visible()
    expect(page.get_by_role("link", name="For the office: take it back")).to_be_visible()
    look(page, "handed-begin")
    page.set_viewport_size(TABLET)

    # Back, as far as it goes: every page of before is asked for again and refused. What was in the history stays out.
    gone_back = 0
    while page.go_back() is not None:
        gone_back += 1
        if page.url == "about:blank":
            break
        expect(page.get_by_text(REFUSED)).to_be_visible()
        assert "Zenobia" not in page.content()
        assert "Zenobia" not in page.title()
        assert lead.full_name not in page.content()
    assert gone_back >= 5
    page.goto(secret)
    expect(page.get_by_text(REFUSED)).to_be_visible()
    look(page, "handed-refused")
    page.reload()
    expect(page.get_by_text(REFUSED)).to_be_visible()
    assert "Zenobia" not in page.content()
    # What htmx or any script would fetch, with and without the cache of the browser.
    for mode in ("default", "force-cache"):
        said = page.evaluate(
            "([url, cache]) => fetch(url, {cache, headers: {'HX-Request': 'true'}}).then(r => r.text())", [secret, mode]
        )
        assert "Zenobia" not in said

    # Its own pages turn, large enough to be touched.
    page.get_by_role("link", name="Back to your pages").click()
    for _page in range(len(estimate.options) + 1):
        further = page.get_by_role("link", name="Go on")
        if not further.count():
            break
        box = further.bounding_box()
        assert box is not None
        assert box["height"] >= 44
        further.click()
        page.wait_for_load_state()
    expect(page.get_by_role("heading", name="What each option costs")).to_be_visible()
    look(page, "handed-money")

    # Staff takes it back, and is led to where the showing was.
    page.get_by_role("link", name="For the office: take it back").click()
    look(page, "handed-sign-in")
    page.get_by_label("Sign-in name").fill("lea")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{live_server.url}/letters/show/{estimate.public_id}/")
    page.goto(secret)
    expect(page.get_by_role("heading", name="Zenobia Farthing")).to_be_visible()
    # What was asked meanwhile waits beside the calls.
    page.goto(f"{live_server.url}/letters/show/{estimate.public_id}/question/")
    page.get_by_label("The question, as it was asked").fill("Will it hurt?")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_role("status")).to_contain_text("It is written down")
    page.goto(f"{live_server.url}/monday/calls/")
    expect(page.get_by_role("link", name="Will it hurt?")).to_be_visible()
    look(page, "calls-questions")
