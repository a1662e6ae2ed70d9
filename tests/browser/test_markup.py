"""Markup, scripts and template signs in every text of an office and a case, on the pages where they are read: nothing
of it runs, and the content policy has nothing to report.

Outside check: the browser itself; it reports what a policy stopped (W3C Content Security Policy Level 3, section 5.5).
"""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page

from planner.letters.consents import ask_question
from planner.patients.services import change_patient
from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.plans.models import Channel as Shown
from planner.practice import services
from planner.practice.models import Office, Staff
from planner.practice.roles import Role
from planner.rules.bookfile import load_book
from tests.browser.conftest import look
from tests.browser.test_options import _facts
from tests.browser.test_signing import handed, letter_of
from tests.support import PASSWORD
from tests.trust.filling import LIVE, PLANTED

HOSTILE = (
    f'"><script>document.title="{PLANTED}"</script><img src=x onerror="document.title=\'{PLANTED}\'">'
    "<style>*{display:none}</style>{{ 7|add:42000 }}"
)
SHORT = f"\"><svg onload=document.title='{PLANTED}'>"
OF_THE_OFFICE = (
    "practice:home", "practice:account", "practice:staff", "practice:office", "practice:files", "practice:stock",
    "patients:list", "plans:list", "visits:day", "visits:ready", "followup:monday", "followup:calls",
)  # fmt: skip
OF_A_PERSON = ("patient", "change", "history", "history_new", "pictures", "examination_add")
OF_A_CASE = ("case", "about", "wishes", "spaces", "fit", "over_years", "calendar", "matters", "if_then")
REPORTS = """
window.stopped = [];
document.addEventListener("securitypolicyviolation", (event) =>
  window.stopped.push(`${event.effectiveDirective} ${event.blockedURI} ${event.sourceFile}:${event.lineNumber}`));
"""


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office in which every name is hostile: its own, of services, materials and people."""
    day = timezone.now().date()
    text = (settings.BASE_DIR / "fixtures" / "books" / "tern_row.toml").read_text(encoding="utf-8")
    book = load_book(text, day)
    lists = tuple(
        one.model_copy(update={"services": tuple(_named(each) for each in one.services)}) for one in book.price_lists
    )
    book = book.model_copy(update={"price_lists": lists, "materials": tuple(_named(one) for one in book.materials)})
    _office, owner = services.open_office(
        name="Tern Row Dental", book=book, effective=date(day.year - 1, 1, 1), owner_username="imke",
        owner_full_name=f"Dr {SHORT}", owner_password=PASSWORD, owner_roles=(Role.OWNER, Role.DENTIST),
        now=timezone.now(),
    )  # fmt: skip
    services.add_staff(
        username="cleo", full_name=f"Cleo {SHORT}", password=PASSWORD, roles=[Role.MANAGER], actor=owner,
        now=timezone.now(),
    )  # fmt: skip
    Office.objects.update(name=f"Office {SHORT}")
    return Staff.objects.select_related("office").get(pk=owner.pk)


def _named(row: Any) -> Any:
    return row.model_copy(update={"words": f"{row.words[:20]} {SHORT}"})


@pytest.fixture
def case(owner: Staff) -> Case:
    """A case in which everything that is written in words is hostile, taken in from a case file."""
    facts = _facts(owner, "lead")
    wishes = tuple(one.model_copy(update={"words": HOSTILE}) for one in facts.wishes)
    facts = facts.model_copy(
        update={
            "case": f"c {SHORT}",
            "notes": HOSTILE,
            "patient": facts.patient.model_copy(update={"name": f"Anselm {SHORT}"}),
            "wishes": wishes,
        }
    )
    case = import_case_file(facts=facts, sorted_by=f"anselm {SHORT}", actor=owner, now=timezone.now()).case
    patient = case.patient
    change_patient(
        patient=patient, seen=patient.version, changes={"phone": SHORT[:40]}, actor=owner, now=timezone.now()
    )
    return case


def _pages(owner: Staff, case: Case) -> list[str]:
    """The pages to look at, with an estimate that was shown, a letter that was handed over and a question about it."""
    who: dict[str, Any] = {"actor": owner, "now": timezone.now() - timedelta(days=4)}
    plan, book = estimates.compute_plan(case, who["now"])
    estimate = estimates.draft_estimate(case=case, **who)
    estimate = estimates.check_estimate(estimate=estimate, seen=1, plan_json=plan.to_json(), book=book, **who)
    estimates.show_estimate(estimate=estimate, seen=2, to=f"To {SHORT}", channel=Shown.IN_PERSON, **who)
    consent = handed(letter_of(estimate, owner), owner)
    ask_question(consent=consent, words=HOSTILE, asked_by=f"by {SHORT}", clinical=True, actor=owner, now=timezone.now())
    named = [
        *((name, ()) for name in OF_THE_OFFICE),
        *((f"patients:{name}", (case.patient.public_id,)) for name in OF_A_PERSON),
        *((f"plans:{name}", (case.public_id,)) for name in OF_A_CASE),
        *((f"letters:{name}", (consent.public_id,)) for name in ("consent", "ask", "sign")),
        ("letters:consents", (case.public_id,)),
        ("plans:estimate", (estimate.public_id,)),
        ("letters:papers", (estimate.public_id,)),
    ]
    return [reverse(name, args=given) for name, given in named]


def test_hostile_text_in_every_field_runs_nowhere(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page, seen = signed_in(owner), 0
    page.on("dialog", lambda _dialog: console.append("a dialog was opened"))
    page.add_init_script(REPORTS)
    for there in _pages(owner, case):
        answer = page.goto(f"{live_server.url}{there}")
        assert answer is not None
        assert answer.status == 200, there
        page.wait_for_load_state("networkidle")
        assert page.evaluate("window.stopped") == [], there
        assert page.title() != PLANTED, there
        markup = page.content()
        assert not [live for live in LIVE if live in markup], there
        assert page.locator("main").is_visible(), there
        seen += "onload=document.title" in page.locator("body").inner_text()
        if there.endswith(f"{case.public_id}/"):
            look(page, "markup-case")
    assert console == []
    assert seen >= 10
    # Had anything got into a page, the policy would have stopped it, and this test would have heard of it.
    page.evaluate("document.body.insertAdjacentHTML('beforeend', '<img src=/x onerror=document.title=\\'planted\\'>')")
    page.wait_for_function("window.stopped.length > 0")
    assert "script-src-attr" in page.evaluate("window.stopped[0]")
    assert page.title() != PLANTED
