"""What tests of pages share: clients of named people, the count of queries, and what the trail says was refused."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planner.practice.models import Staff
from planner.trail.models import TrailEntry


def client_of(staff: Staff | None) -> Client:
    """A client with the session of ``staff``, or of nobody."""
    client = Client()
    if staff is not None:
        client.force_login(staff, backend="planner.practice.backends.StaffBackend")
    return client


def queries_of(client: Client, url: str) -> int:
    """How many queries the page at ``url`` takes."""
    with CaptureQueriesContext(connection) as found:
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
