"""The options of a case in a browser: open a figure, strike and take back, freeze, print, download, two editors."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.letters.models import Document
from planner.letters.pdf import close_pool
from planner.plans import cases
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case, Estimate
from planner.practice import services
from planner.practice.books import today
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.bookfile import load_book
from planner.rules.casefile import parse_case, resolve_days, validate_case, write_case
from planner.rules.choices import Override
from planner.rules.results import sha256
from tests.browser.conftest import assert_no_axe_violations, look
from tests.support import PASSWORD

REASON = "Talked over with the patient at length."


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of the invented office, of today, because browsers and servers keep their own time."""
    text = (settings.BASE_DIR / "fixtures" / "books" / "tern_row.toml").read_text(encoding="utf-8")
    day = timezone.now().date()
    _office, owner = services.open_office(
        name="Tern Row Dental",
        book=load_book(text, day),
        effective=date(day.year - 1, 1, 1),
        owner_username="imke",
        owner_full_name="Dr Imke Sorrel",
        owner_password=PASSWORD,
        owner_roles=(Role.OWNER, Role.DENTIST),
        now=timezone.now(),
    )
    return owner


def _facts(owner: Staff, name: str) -> Any:
    day = today(owner.office, timezone.now())
    path = settings.BASE_DIR / "fixtures" / "cases" / f"{name}.json"
    return validate_case(resolve_days(parse_case(path.read_bytes()), day), day)


@pytest.fixture
def case(owner: Staff) -> Case:
    return import_case_file(facts=_facts(owner, "lead"), actor=owner, now=timezone.now()).case


def test_from_the_patients_file_to_the_papers(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case, tmp_path: Path
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/{case.patient.public_id}/")
    page.get_by_role("link", name="brightwater").click()
    expect(page.get_by_role("heading", name="Case brightwater")).to_be_visible()
    expect(page.get_by_role("article")).to_have_count(7)
    look(page, "case")

    # A figure opens, by keyboard, and says how it was reached.
    option = page.locator("#option-reshape-bond")
    fee = option.locator("summary", has_text="1,618.25")
    fee.focus()
    page.keyboard.press("Enter")
    expect(option.get_by_text("in one plan, −5 % of 1335.00 = −66.75").first).to_be_visible()
    for summary in option.locator("details.opens > summary").all()[:4]:
        summary.click()
    option.get_by_text("Good and bad sides, and where the numbers come from").click()
    page.locator("summary", has_text="more options").click()
    expect(page.get_by_role("article").nth(9)).to_be_visible()
    look(page, "case-opened")

    # Struck with a reason, then taken back.
    page.locator("#option-whitening").get_by_role("link", name="Strike").click()
    page.wait_for_url("**/strike/")
    look(page, "decision-strike")
    page.get_by_role("button", name="Strike it").click()
    expect(page.get_by_role("alert")).to_contain_text("This is missing")
    assert_no_axe_violations(page)
    page.get_by_label("Reason").fill(REASON)
    page.get_by_role("button", name="Strike it").click()
    expect(page.get_by_role("status")).to_contain_text("The option is struck.")
    expect(page.get_by_text("Struck by the dentist:").first).to_be_attached()
    look(page, "case-struck")
    page.locator("summary", has_text="more options").click()
    page.get_by_role("link", name="Take the striking back").click()
    page.get_by_label("Reason").fill("It was struck by mistake.")
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_role("status")).to_contain_text("in the list again")

    # Frozen, shown, printed and downloaded.
    page.get_by_role("button", name="Check and freeze").click()
    expect(page.get_by_role("heading", name="Estimate 1-1")).to_be_visible()
    expect(page.get_by_role("button", name="Make the papers")).to_be_visible()
    look(page, "estimate")
    # A busy machine takes its time over four papers.
    page.get_by_role("button", name="Make the papers").click(timeout=120_000)
    expect(page.get_by_role("status")).to_contain_text("The papers are made and kept.", timeout=60_000)
    expect(page.get_by_role("table", name="Made and kept").get_by_role("row")).to_have_count(4)
    expect(page.get_by_text("no two of them differ")).to_be_visible(timeout=30_000)
    look(page, "papers")
    page.get_by_role("link", name="Your choice: consent letter", exact=True).click()
    expect(page.get_by_role("heading", name="Your choice: consent letter")).to_be_visible()
    look(page, "document")
    letter = Document.objects.get(kind="consent-letter")
    expect(page.get_by_text(letter.sha256)).to_be_visible()
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Download the PDF").click()
    waiting.value.save_as(tmp_path / "letter.pdf")
    assert sha256((tmp_path / "letter.pdf").read_bytes()) == letter.sha256
    assert waiting.value.suggested_filename == letter.file_name
    close_pool()
    page.goto(f"{live_server.url}/plans/")
    look(page, "estimates")
    assert console == []


def test_wishes_and_two_editors(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/{case.public_id}/")
    page.get_by_role("link", name="Wishes and limits").click()
    page.wait_for_url("**/wishes/")
    look(page, "wishes")
    other = _facts(owner, "lead").limits.model_copy(update={"visits": 5})
    cases.change_case(case=case, seen=case.version, limits=other, actor=owner, now=timezone.now())
    page.get_by_label("Most visits").fill("7")
    page.get_by_role("group", name="Wish 1").get_by_label("Teeth (ISO").first.fill("21")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("A gap lies between two teeth; 1 are named").first).to_be_visible()
    look(page, "wishes-fault")
    page.get_by_role("group", name="Wish 1").get_by_label("Teeth (ISO").first.fill("21 22")
    page.get_by_role("button", name="Save").click()
    row = page.get_by_role("row", name="Most visits")
    expect(row).to_contain_text("5")
    expect(row).to_contain_text("7")
    look(page, "wishes-both")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("status")).to_contain_text("Wishes and limits are saved")
    assert console == []


def test_decisions_and_case_files(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case, tmp_path: Path
) -> None:
    page = signed_in(owner)
    url = f"{live_server.url}/plans/{case.public_id}/"
    for name, link in (
        ("surfaces", "Surfaces of an addition"),
        ("tax-class", "Tax class of additions"),
        ("if-then", "If we find this, then that"),
        ("about", "Name, numbering, notes"),
    ):
        page.goto(url)
        page.get_by_role("link", name=link).click()
        page.wait_for_url(f"**/{name}/")
        look(page, f"decision-{name}")
    page.goto(f"{url}option/braces-then-implant/override/implant-crown.roots/")
    look(page, "decision-override")
    page.goto(f"{url}option/ceramic-veneer/override/G11/")
    expect(page.get_by_role("alert")).to_contain_text("only the patient can raise it")
    look(page, "decision-fixed")
    page.goto(f"{url}estimate/")
    look(page, "draft")

    wrong = tmp_path / "wrong.json"
    wrong.write_text('{"format": "leastways-case", "version": 1, "numbering": "iso", "case": "x"}', encoding="utf-8")
    page.goto(f"{live_server.url}/plans/take-in/")
    look(page, "take-in")
    page.get_by_label("Case file").set_input_files(wrong)
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("alert")).to_contain_text("2 things are wrong")
    look(page, "take-in-faults")
    right = tmp_path / "right.json"
    right.write_bytes(write_case(_facts(owner, "hamish")))
    page.get_by_label("Case file").set_input_files(right)
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_text("orthodontics first: close at least 2.7 mm").first).to_be_visible()
    look(page, "case-orthodontics-first")
    assert console == []


def test_where_nothing_can_be_offered(signed_in: Callable[[Staff], Page], live_server: Any, owner: Staff) -> None:
    facts = _facts(owner, "lead")
    unasked = facts.model_copy(update={"history": type(facts.history)()})
    case = import_case_file(facts=unasked, actor=owner, now=timezone.now()).case
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/{case.public_id}/")
    expect(page.get_by_text("What has to change first:")).to_be_visible()
    look(page, "case-not-now")
    assert not Estimate.objects.exists()


def test_an_option_of_ones_own_what_matters_and_where_numbers_come_from(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page = signed_in(owner)
    url = f"{live_server.url}/plans/{case.public_id}/"
    page.goto(url)
    page.get_by_role("link", name="Put an option together").click()
    page.wait_for_url("**/put-together/")
    lateral = page.get_by_role("row", name="upper left lateral incisor")
    lateral.get_by_label("what is done").select_option("bonding")
    lateral.get_by_label("added toward the midline").fill("1.4")
    page.get_by_label("Reason").fill("He wants to begin with the small one.")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("alert")).to_contain_text("the gap is 0.7 mm wide")
    look(page, "own-option-refused")
    lateral.get_by_label("added toward the midline").fill("0.7")
    lateral.get_by_label("added away from it").fill("0.4")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("status")).to_contain_text("The option is put together")

    page.get_by_role("link", name="Ask what matters").click()
    page.wait_for_url("**/matters/")
    for question in ("Few visits", "A low cost now", "Keeping as much"):
        page.get_by_role("group", name=question).get_by_label("matters a lot").check()
    page.get_by_role("group", name="Being finished soon").get_by_label("matters a little").check()
    look(page, "matters")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("status")).to_contain_text("stand in the same order")
    expect(page.get_by_text("Does well on what matters a lot:").first).to_be_visible()

    # Every state at once: one's own and recommended, overridden, struck.
    day = today(owner.office, timezone.now())
    for act, given in (
        (cases.recommend_option, {"option": "own-1", "reason": REASON}),
        (cases.strike_option, {"option": "whitening", "reason": REASON}),
        (
            cases.override_gate,
            {
                "override": Override(
                    option="braces-then-implant", gate="implant-crown.roots", reason=REASON, by="Dr Imke Sorrel", on=day
                )
            },
        ),
    ):
        seen = Case.objects.get(pk=case.pk)
        act(case=seen, seen=seen.version, actor=owner, now=timezone.now(), **given)
    page.goto(url)
    page.locator("summary", has_text="more options").click()
    expect(page.get_by_text("Put together by Dr Imke Sorrel").first).to_be_visible()
    look(page, "case-every-state")

    option = page.locator("#option-reshape-bond")
    option.get_by_text("Good and bad sides, and where the numbers come from").click()
    option.get_by_role("link", name="summary read").first.click()
    page.wait_for_url("**/plans/evidence/#e-*")
    expect(page.locator("tr:target")).to_be_visible()
    page.get_by_label("Words or key").fill("whitening bonding")
    page.get_by_label("How it is known").select_option("abstract")
    page.get_by_role("button", name="Look").click()
    page.get_by_text("Other sources say otherwise").first.click()
    expect(page.get_by_text("the more cautious value wins").first).to_be_visible()
    look(page, "evidence")
    assert console == []
