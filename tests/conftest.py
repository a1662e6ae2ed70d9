"""What every test of the floors above the rules starts from: two offices, and three people with opposite rights."""

import itertools
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import hypothesis
import pytest
from django.conf import settings
from django.db import connection
from django.db.models.sql.compiler import SQLCompiler
from django.db.transaction import TransactionManagementError
from django.template import Context, Template
from django.test import TransactionTestCase, client
from django.test.utils import CaptureQueriesContext

from planner.letters import consent_signing, pdf
from planner.practice import services
from planner.practice.models import Office, Staff
from planner.practice.roles import Role
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.mouth import CaseFacts
from planner.trail import fields
from planner.trail import services as trail
from tests.support import NOW, PASSWORD, TODAY, guards_lifted, render_once, small_book


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--pictures", action="store_true", help="browser tests keep pictures in var/screenshots/")
    parser.addoption("--only-database", action="store_true", help="only tests that use the database")


SAME_ON_BOTH = {
    *("test_access.py", "test_account_papers.py", "test_again.py", "test_agree.py", "test_every_address.py"),
    *("test_four_eyes.py", "test_headers.py", "test_health.py", "test_languages.py", "test_payers_said.py"),
    *("test_reading_limit.py", "test_slips.py", "test_tables.py", "test_taking_over.py", "test_tax_order.py"),
    *("test_transport.py", "test_visit_papers.py"),
    # Of junk and of hostile text, all that is typed and sent goes to both databases; what is refused before, to one.
    "test_a_body_beyond_measure_is_refused_unread",
    "test_a_forged_id_is_nobodys_row",
    "test_a_form_of_another_site_is_refused_though_it_has_a_token",
    "test_a_host_that_is_not_ours_gets_no_page_and_no_link",
    "test_a_spreadsheet_that_unpacks_without_end_is_refused_and_not_unpacked",
    "test_looking_changes_nothing_and_a_form_without_its_token_is_refused",
    "test_signing_in_leads_nowhere_else",
    "test_the_name_of_a_download_is_our_own_and_can_hold_no_further_header",
}
"""Files and tests that store rows in order to read papers, to see who may do what, or to be refused before a query."""


def _is_page(path: Path) -> bool:
    return "page" in path.relative_to(Path(__file__).parent).as_posix()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """On the second database only what can differ there runs again: services, guards, writers at once, and the pages of
    each app that read and write most (``test_pages.py``). How other pages look is the same on both.
    """
    if not config.getoption("--only-database"):
        return
    using = {"db", "transactional_db", "django_db_setup", "live_server"}
    kept = [
        item for item in items if item.get_closest_marker("django_db") or using & set(getattr(item, "fixturenames", ()))
    ]
    kept = [item for item in kept if item.path.name == "test_pages.py" or not _is_page(item.path)]
    kept = [item for item in kept if not {item.path.name, getattr(item, "originalname", "")} & SAME_ON_BOTH]
    config.hook.pytest_deselected(items=[item for item in items if item not in kept])
    items[:] = kept


# On a busy machine any example may take longer than the fifth of a second that is usual.
hypothesis.settings.register_profile("patient", deadline=None)
hypothesis.settings.load_profile("patient")


def pytest_configure() -> None:
    """Settings that make tests quick and let the test client speak plain http; set before any of them is read."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.SECURE_SSL_REDIRECT = False
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = False
    settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME = "leastways-session", "leastways-csrf"
    settings.STORAGES = settings.STORAGES | {
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    }


def _keep_page(
    store: dict[str, Any], signal: Any, sender: Any, template: Template, context: Context, **more: Any
) -> None:
    """Keep the template and the context of a page for a test to look at, but not those of each part and control of it:
    that is a copy of the context five hundred times a page.
    """
    if context.template is template and not (template.name or "").startswith(("parts/", "django/")):
        _keep_any(store, signal, sender, template, context, **more)


_keep_any = client.store_rendered_templates
client.store_rendered_templates = _keep_page  # type: ignore[assignment]

_plain_teardown = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]


def _teardown(self: TransactionTestCase) -> None:
    # Emptying the tables between transactional tests is the one thing the guards must let through.
    with guards_lifted():
        _plain_teardown(self)


TransactionTestCase._fixture_teardown = _teardown  # type: ignore[attr-defined]


def _own_transaction() -> bool:
    """Whether the code under test opened a transaction: the one around a test does not count."""
    return any(not block._from_testcase for block in connection.atomic_blocks)


class _Connection:
    """The connection as the trail would find it without the transaction around a test."""

    @property
    def in_atomic_block(self) -> bool:
        return _own_transaction()

    def __getattr__(self, name: str) -> Any:
        return getattr(connection, name)


@pytest.fixture(autouse=True)
def _transactions_are_the_codes_own(request: pytest.FixtureRequest) -> Iterator[None]:
    """A page that forgets its transaction fails, although tests of pages run in one themselves and are rolled back.

    That is why tests of pages need no committed data (``transaction=True``), which costs the emptying of every table
    and all guards anew for each test.
    """
    if not _is_page(request.path):
        yield
        return
    plain = SQLCompiler.as_sql

    def as_sql(self: SQLCompiler, *arguments: Any, **more: Any) -> Any:
        if self.query.select_for_update and not _own_transaction():
            raise TransactionManagementError("select_for_update cannot be used outside of a transaction")
        return plain(self, *arguments, **more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(trail, "connection", _Connection())
        patch.setattr(SQLCompiler, "as_sql", as_sql)
        yield


@pytest.fixture(autouse=True)
def _numbers_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """Public ids and salts counted instead of drawn: they stand on papers, and equal papers are made once."""
    ids, salts = itertools.count(1), itertools.count(1)
    monkeypatch.setattr(fields, "secrets", SimpleNamespace(token_urlsafe=lambda _bytes: f"test-{next(ids):07d}"))
    counted = SimpleNamespace(token_hex=lambda size: f"{next(salts):0{2 * size}x}")
    for module in (trail, consent_signing):
        monkeypatch.setattr(module, "secrets", counted)


class _MadeHere:
    """In place of the processes that make papers, which take two seconds to start and know no paper of another test."""

    _one_at_a_time = threading.Lock()

    def submit(self, _make: Callable[[pdf.Job], pdf.Rendered], job: pdf.Job) -> Future[pdf.Rendered]:
        made: Future[pdf.Rendered] = Future()
        with self._one_at_a_time:  # acts of several people come in threads, and fonts are shared
            made.set_result(render_once(job))
        return made


OWN_PROCESSES = {"test_demo.py", "test_health.py", "test_pdf.py", "test_whole_story.py"}
"""Tests in which papers come out of the processes that make them on the server."""


@pytest.fixture(autouse=True)
def _papers_made_here(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if request.path.name not in OWN_PROCESSES:
        monkeypatch.setattr(pdf, "_pool", _MadeHere)


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of the test office; the office has a book in force since the start of the year."""
    _office, owner = services.open_office(
        name="Test office",
        book=small_book(),
        effective=TODAY.replace(month=1, day=1),
        owner_username="olive",
        owner_full_name="Olive Owner",
        owner_password=PASSWORD,
        now=NOW,
    )
    return owner


@pytest.fixture
def office(owner: Staff) -> Office:
    """The test office."""
    return owner.office


@pytest.fixture
def colleague(owner: Staff) -> Staff:
    """Front desk of the test office: sees little of what the owner sees."""
    return services.add_staff(
        username="cleo",
        full_name="Cleo Colleague",
        password=PASSWORD,
        roles=[Role.FRONT_DESK],
        actor=owner,
        now=NOW,
    )


@pytest.fixture
def outsider(db: None) -> Staff:
    """Owner dentist of another office: may do everything, and nothing here."""
    _office, outsider = services.open_office(
        name="Other office",
        book=small_book(office="Other office"),
        effective=TODAY.replace(month=1, day=1),
        owner_username="otto",
        owner_full_name="Otto Outsider",
        owner_password=PASSWORD,
        now=NOW,
    )
    return outsider


@pytest.fixture
def person(owner: Staff) -> Callable[..., Staff]:
    """Makes somebody of the test office with the given roles: ``person(Role.ASSISTANT)``."""

    def make(*roles: Role, username: str = "", **values: Any) -> Staff:
        name = username or f"{roles[0].value.replace(' ', '-')}-{Staff.objects.count()}"
        given = {"full_name": name.title(), "password": PASSWORD} | values
        return services.add_staff(username=name, roles=roles, actor=owner, now=NOW, **given)

    return make


@pytest.fixture
def lead_case() -> CaseFacts:
    """The facts of the lead case of the demo, as its case file gives them, with ``TODAY`` as its day zero."""
    path = settings.BASE_DIR / "fixtures" / "cases" / "lead.json"
    return validate_case(resolve_days(parse_case(path.read_bytes()), TODAY), TODAY)


@pytest.fixture
def queries(db: None) -> Iterator[SimpleNamespace]:
    """Counts queries: ``with queries.counted() as found: ...; len(found)``."""
    return SimpleNamespace(counted=lambda: CaptureQueriesContext(connection))
