"""What every test of the floors above the rules starts from: two offices, and three people with opposite rights."""

from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from django.test import TransactionTestCase
from django.test.utils import CaptureQueriesContext

from planner.practice import services
from planner.practice.models import Office, Staff
from planner.practice.roles import Role
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.mouth import CaseFacts
from tests.support import NOW, PASSWORD, TODAY, guards_lifted, small_book


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--only-database", action="store_true", help="only tests that use the database")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """On the second database only what touches it runs again; nothing else can differ there."""
    if not config.getoption("--only-database"):
        return
    using = {"db", "transactional_db", "django_db_setup", "live_server"}
    kept = [
        item for item in items if item.get_closest_marker("django_db") or using & set(getattr(item, "fixturenames", ()))
    ]
    config.hook.pytest_deselected(items=[item for item in items if item not in kept])
    items[:] = kept


def pytest_configure() -> None:
    """Settings that make tests quick and let the test client speak plain http; set before any of them is read."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.SECURE_SSL_REDIRECT = False
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = False
    settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME = "leastways-session", "leastways-csrf"
    settings.STORAGES = settings.STORAGES | {
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    }


_plain_teardown = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]


def _teardown(self: TransactionTestCase) -> None:
    # Emptying the tables between transactional tests is the one thing the guards must let through.
    with guards_lifted():
        _plain_teardown(self)


TransactionTestCase._fixture_teardown = _teardown  # type: ignore[attr-defined]


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
