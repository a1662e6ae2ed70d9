"""What tests of pages share: clients of named people, the count of queries, and what the trail says was refused."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from unittest.mock import patch

from django.conf import settings
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planner.practice import screens, services
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.bookfile import load_book
from planner.trail.models import TrailEntry
from tests.support import NOW, PASSWORD, TODAY


def priced_office() -> Staff:
    """Owner dentist of a test office with the invented office's book, so that fees are those worked out by hand."""
    path = settings.BASE_DIR / "fixtures" / "books" / "tern_row.toml"
    _office, owner = services.open_office(
        name="Test office",
        book=load_book(path.read_text(encoding="utf-8"), TODAY),
        effective=TODAY - timedelta(days=60),
        owner_username="olive",
        owner_full_name="Olive Owner",
        owner_password=PASSWORD,
        owner_roles=(Role.OWNER, Role.DENTIST),
        now=NOW,
    )
    return owner


def client_of(staff: Staff | None) -> Client:
    """A client with the session of ``staff``, or of nobody."""
    client = Client()
    if staff is not None:
        client.force_login(staff, backend="planner.practice.backends.StaffBackend")
    return client


def queries_of(client: Client, url: str) -> int:
    """How many queries the page at ``url`` takes.

    When somebody was last heard of is noted every ten seconds: on a busy machine that may fall into any page.
    """
    with patch.object(screens, "_NOTED_EVERY", timedelta(days=1)), CaptureQueriesContext(connection) as found:
        response = client.get(url)
    assert response.status_code == 200, f"{url} answered {response.status_code}"
    return len(found)


@contextmanager
def refusals() -> Iterator[list[str]]:
    """The acts that the trail notes as refused while the block runs."""
    before = TrailEntry.objects.count()
    noted: list[str] = []
    yield noted
    noted.extend(
        TrailEntry.objects.filter(sequence__gt=before, act__startswith="refused.").values_list("act", flat=True)
    )
