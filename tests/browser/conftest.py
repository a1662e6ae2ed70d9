"""Chromium against a live server, signed-in pages, pictures of pages, and the accessibility check."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import ConsoleMessage, Page
from playwright.sync_api import Error as BrowserError

from planner.practice.models import Staff

# Playwright runs a loop of its own in the thread of the test, and Django then refuses plain database access.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

WIDE = {"width": 1280, "height": 900}
TABLET = {"width": 820, "height": 1180}
WANTED = {"pictures": False}
SCREENSHOTS = Path(settings.BASE_DIR) / "var" / "screenshots"


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Everything in this folder drives a browser and needs its own, committed data."""
    WANTED["pictures"] = config.getoption("--pictures")
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.django_db(transaction=True))


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Debian's Chromium. It refuses to run as root with its sandbox; nothing but our own pages is opened."""
    return {
        **browser_type_launch_args,
        "executable_path": shutil.which("chromium"),
        "headless": True,
        "args": [
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
        ],
    }


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A desk's screen."""
    return {**browser_context_args, "viewport": WIDE, "locale": "en-GB"}


@pytest.fixture
def console(page: Page) -> list[str]:
    """What the browser complained of; a page that breaks its content policy says so here."""
    said: list[str] = []

    def hear(message: ConsoleMessage) -> None:
        # Whoever clicks on cuts off what the page was still fetching, and htmx notes that as an error.
        if message.type == "error" and not message.text.startswith(("htmx:sendAbort", "htmx:afterRequest")):
            said.append(message.text)

    page.on("console", hear)
    page.on("pageerror", lambda error: said.append(str(error)))
    return said


@pytest.fixture
def signed_in(page: Page, live_server: Any) -> Callable[[Staff], Page]:
    """The page with a session of the given person, without going through the sign-in form."""

    def sign_in(staff: Staff) -> Page:
        client = Client()
        client.force_login(staff, backend="planner.practice.backends.StaffBackend")
        session = client.cookies[settings.SESSION_COOKIE_NAME].value
        page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": live_server.url}])
        return page

    return sign_in


def _on_what_came(page: Page, looks: Callable[[], Any]) -> Any:
    """What a look gives. On a busy machine the page that a click asked for can take the place of the old one in the
    middle of it, and it breaks off; then the page that came is looked at. What a look finds wrong is no such break.
    """
    for _ in range(2):
        page.wait_for_load_state("load")
        try:
            return looks()
        except BrowserError:
            continue
    return looks()


def assert_no_axe_violations(page: Page) -> None:
    """No accessibility violation that axe-core finds on the page as it stands, all of its rules on."""
    found = _on_what_came(page, lambda: Axe().run(page))
    assert found.violations_count == 0, found.generate_report()


def screenshot(page: Page, name: str) -> None:
    """Keep pictures of the whole page, desk wide and tablet wide, in var/screenshots/; the page is left desk wide.

    Only with ``--pictures``: they are for people, and take about as long as all that is checked.
    """
    if not WANTED["pictures"]:
        return
    SCREENSHOTS.mkdir(parents=True, exist_ok=True)
    for suffix, size in (("820", TABLET), ("1280", WIDE)):
        page.set_viewport_size(size)
        page.screenshot(path=SCREENSHOTS / f"{name}-{suffix}.png", full_page=True)


def assert_no_sideways_scroll(page: Page) -> None:
    """The page itself never scrolls sideways, neither on a tablet nor at 200 % zoom of a desk's screen (640 px)."""
    for size in (TABLET, {"width": 640, "height": 450}):
        page.set_viewport_size(size)
        wide = _on_what_came(page, lambda: page.evaluate("document.documentElement.scrollWidth"))
        assert wide <= size["width"], f"{page.url} is {wide} px wide on {size['width']} px"
    page.set_viewport_size(WIDE)


def look(page: Page, name: str) -> None:
    """Everything a page has to pass as it stands: accessibility, width, and pictures to be looked at."""
    assert_no_axe_violations(page)
    assert_no_sideways_scroll(page)
    screenshot(page, name)
