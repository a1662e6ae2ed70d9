"""The page that papers lead to, as a stranger with a telephone finds it: a file is dropped and compared."""

from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, expect

from planner.letters.models import Document
from planner.letters.pdf import Rendered
from planner.letters.services import issue_of, render_papers
from planner.plans.casefiles import import_case_file
from planner.plans.checking import check_case
from planner.plans.estimates import compute_plan
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from planner.rules.results import sha256
from tests.browser.conftest import look
from tests.support import NOW


def _paper(owner: Staff, lead_case: CaseFacts) -> Document:
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    estimate = check_case(case=case, seen_plan=sha256(compute_plan(case, NOW)[0].to_json()), actor=owner, now=NOW)
    assert estimate.frozen is not None
    (made,) = render_papers(
        frozen=estimate.frozen,
        kinds=["estimate"],
        issue=issue_of(estimate),
        actor=owner,
        now=NOW,
        estimate=estimate,
        make=lambda job: Rendered(b"%PDF-1.7 an estimate", 3, ()),
    )
    return made


def test_a_stranger_looks_a_paper_up_and_compares_a_file(
    page: Page, live_server: Any, console: list[str], owner: Staff, lead_case: CaseFacts, tmp_path: Path
) -> None:
    paper = _paper(owner, lead_case)
    path = tmp_path / "estimate.pdf"
    path.write_bytes(bytes(paper.content))
    page.goto(f"{live_server.url}/verify/")
    look(page, "verify-start")
    page.get_by_label("Number (SHA-256 of the data)").fill(paper.plan_sha256.upper())
    page.get_by_role("button", name="Look it up").click()
    expect(page.get_by_role("heading", name="Estimate")).to_be_visible()
    look(page, "verify-found")
    page.get_by_label("The PDF file of the paper").set_input_files(str(path))
    page.get_by_role("button", name="Compare the file").click()
    expect(page.get_by_role("status")).to_contain_text("one that we made, to the last sign")
    path.write_bytes(b"%PDF-1.7 an Estimate")
    page.get_by_label("The PDF file of the paper").set_input_files(str(path))
    page.get_by_role("button", name="Compare the file").click()
    expect(page.get_by_role("status")).to_contain_text("We made no file like this one")
    look(page, "verify-changed")
    assert console == []


def test_it_works_without_script(
    browser: Browser, live_server: Any, owner: Staff, lead_case: CaseFacts, tmp_path: Path
) -> None:
    paper = _paper(owner, lead_case)
    path = tmp_path / "estimate.pdf"
    path.write_bytes(bytes(paper.content))
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/verify/{paper.plan_sha256}/")
    page.get_by_label("The PDF file of the paper").set_input_files(str(path))
    page.get_by_role("button", name="Compare the file").click()
    expect(page.get_by_role("status")).to_contain_text("one that we made")
    context.close()
