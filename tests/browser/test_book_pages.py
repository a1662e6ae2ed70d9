"""The office book in a browser: its tables, settings, files in and out, and fees from cost; all of it by hand."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from planner.practice.models import BookVersion, Staff
from tests.browser.conftest import assert_no_axe_violations, look
from tests.pages import priced_office
from tests.support import PASSWORD


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def test_every_part_of_the_book_is_looked_at(
    live_server: Any, console: list[str], owner: Staff, signed_in: Callable[[Staff], Page]
) -> None:
    page = signed_in(owner)
    pages = {
        "book-office": "/office/",
        "book-settings": "/office/settings/",
        "book-materials": "/office/table/materials/",
        "book-material": "/office/table/materials/row/?key=adhesive",
        "book-minutes-change": "/office/table/minutes/change/",
        "book-discounts": "/office/table/discounts/",
        "book-discounts-change": "/office/table/discounts/change/",
        "book-line": "/office/prices/next/line/?key=reshape",
        "book-rates": "/office/settings/change/rates/",
        "book-files": "/office/files/",
        "book-costs": "/office/costs/?dentist=185&teeth=3&visits=1&lab=165&listed=1570",
        "book-prices": "/office/prices/7/",
    }
    for name, url in pages.items():
        page.goto(f"{live_server.url}{url}")
        look(page, name)
    assert console == []


def test_a_file_goes_out_is_changed_and_comes_in_without_a_script(
    live_server: Any, console: list[str], owner: Staff, signed_in: Callable[[Staff], Page], tmp_path: Path
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/office/files/")
    page.get_by_role("link", name="Materials as CSV with a decimal point").click()
    page.get_by_label("Password of").fill(PASSWORD)
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save the file").click()
    file = tmp_path / "materials.csv"
    waiting.value.save_as(file)
    whole = file.read_text(encoding="utf-8-sig")
    for name, text in (("faulty", whole.replace(",92.00,", ",=92,")), ("fine", whole.replace(",92.00,", ",94.50,"))):
        file.write_text(text, encoding="utf-8")
        page.goto(f"{live_server.url}/office/files/")
        page.get_by_label("Materials", exact=True).check()
        page.get_by_label("point, as in 1480.50").check()
        page.get_by_label("File", exact=True).set_input_files(file)
        page.get_by_role("button", name="Send and look at it").click()
        look(page, f"book-file-{name}")
    expect(page.get_by_role("cell", name="94.50")).to_be_visible()
    page.get_by_label("Reason").fill("new prices of the supplier")
    page.get_by_role("button", name="Take the file into the book").click()
    expect(page.get_by_text("The file is taken into the office book.")).to_be_visible()
    assert_no_axe_violations(page)
    assert BookVersion.objects.count() == 2
    assert console == []
