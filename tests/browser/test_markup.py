"""Markup, scripts and template signs in every text of an office and a case, on the pages where they are read: nothing
of it runs, and the content policy has nothing to report.

Outside check: the browser itself; it reports what a policy stopped (W3C Content Security Policy Level 3, section 5.5).
"""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page

from planner.followup.calling import agree_call
from planner.letters.consents import ask_question
from planner.patients.services import change_patient
from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.plans.models import Channel as Shown
from planner.practice import services
from planner.practice.books import current_book, today
from planner.practice.models import Office, Staff
from planner.practice.roles import Role
from planner.practice.stock import Arrival, receive
from planner.rules.bookfile import load_book
from planner.rules.mouth import CaseFacts
from planner.visits.step_models import ChairNote, NoteKind
from tests.browser.conftest import look
from tests.browser.test_options import _facts
from tests.browser.test_signing import handed, letter_of
from tests.closed_rows import Ground, every_maker
from tests.pages import priced_office
from tests.support import PASSWORD
from tests.trust.filling import LIVE, PLANTED
from tests.trust.real_plans import put_real_plans

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
    changes = {"phone": SHORT[:40], "contact_consent": True}
    change_patient(patient=patient, seen=patient.version, changes=changes, actor=owner, now=timezone.now())
    return case


def _pages(owner: Staff, case: Case) -> list[str]:
    """The pages to look at, with an estimate that was shown, a letter that was handed over and a question about it."""
    who: dict[str, Any] = {"actor": owner, "now": timezone.now() - timedelta(days=4)}
    plan, book = estimates.compute_plan(case, who["now"])
    estimate = estimates.draft_estimate(case=case, **who)
    estimate = estimates.check_estimate(estimate=estimate, seen=1, plan_json=plan.to_json(), book=book, **who)
    estimates.show_estimate(estimate=estimate, seen=2, to=f"To {SHORT}", channel=Shown.IN_PERSON, **who)
    consent = handed(letter_of(estimate, owner), owner)
    day = today(owner.office, timezone.now())
    material = current_book(owner.office, day).materials[0]
    arrival = Arrival(material.key, SHORT, 1, Decimal(1), material.unit, day + timedelta(days=365), day)
    lot = receive(arrival=arrival, actor=owner, now=timezone.now())
    agree_call(estimate=estimate, on=day + timedelta(days=3), words=HOSTILE, actor=owner, now=timezone.now())
    ask_question(consent=consent, words=HOSTILE, asked_by=f"by {SHORT}", clinical=True, actor=owner, now=timezone.now())
    named = [
        *((name, ()) for name in OF_THE_OFFICE),
        *((f"patients:{name}", (case.patient.public_id,)) for name in OF_A_PERSON),
        *((f"plans:{name}", (case.public_id,)) for name in OF_A_CASE),
        *((f"letters:{name}", (consent.public_id,)) for name in ("consent", "ask", "sign")),
        ("letters:consents", (case.public_id,)),
        ("plans:estimate", (estimate.public_id,)),
        ("letters:papers", (estimate.public_id,)),
        ("followup:call", (estimate.public_id,)),
        ("practice:stock_lot", (lot.public_id,)),
    ]
    return [reverse(name, args=given) for name, given in named]


def _reporting(page: Page, console: list[str]) -> Page:
    page.on("dialog", lambda _dialog: console.append("a dialog was opened"))
    page.add_init_script(REPORTS)
    return page


def _shows_text(page: Page, url: str) -> bool:
    """Whether the page shows what was planted; nothing of it may run, and nothing may have been stopped."""
    answer = page.goto(url)
    assert answer is not None
    assert answer.status == 200, url
    page.wait_for_load_state("networkidle")
    assert page.evaluate("window.stopped") == [], url
    assert page.title() != PLANTED, url
    markup = page.content()
    assert not [live for live in LIVE if live in markup], url
    assert page.locator("main").is_visible(), url
    return "document.title" in page.locator("body").inner_text()


def test_hostile_words_written_at_the_chair_run_nowhere(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], lead_case: CaseFacts
) -> None:
    dentist = priced_office()
    first = every_maker()["visits.chairnote"](Ground(dentist, lead_case))
    assert isinstance(first, ChairNote)
    put_real_plans()
    by = {"office": dentist.office, "by": dentist, "at": timezone.now()}
    note = ChairNote.objects.create(sheet=first.sheet, kind=NoteKind.FOUND, words=HOSTILE, **by)
    page = _reporting(signed_in(dentist), console)
    assert _shows_text(page, f"{live_server.url}{reverse('visits:steps_settle', args=[note.public_id])}")
    assert console == []


def test_hostile_text_in_every_field_runs_nowhere(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page, seen = _reporting(signed_in(owner), console), 0
    for there in _pages(owner, case):
        seen += _shows_text(page, f"{live_server.url}{there}")
        if there.endswith(f"{case.public_id}/"):
            look(page, "markup-case")
    assert console == []
    assert seen >= 10
    # Had anything got into a page, the policy would have stopped it, and this test would have heard of it.
    page.evaluate("document.body.insertAdjacentHTML('beforeend', '<img src=/x onerror=document.title=\\'planted\\'>')")
    page.wait_for_function("window.stopped.length > 0")
    assert "script-src-attr" in page.evaluate("window.stopped[0]")
    assert page.title() != PLANTED
