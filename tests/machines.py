"""What the walks of several people through the lifecycles share: how many there are, and acts that leave nothing."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from django.db import transaction
from hypothesis import HealthCheck, settings

from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailEntry

WALKS = settings(
    max_examples=int(os.environ.get("LEASTWAYS_WALKS", "15")), deadline=None, suppress_health_check=list(HealthCheck)
)
"""A few in the suite; the long run says how many."""


@contextmanager
def undone() -> Iterator[None]:
    """Everything written in the block is rolled back at its end."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def did(act: Callable[[], object]) -> bool:
    """Whether ``act`` was done and recorded; a refusal stores nothing, not even in part."""
    noted = TrailEntry.objects.count()
    try:
        with transaction.atomic():
            act()
    except (Refused, NotAllowed, StaleEdit):
        assert TrailEntry.objects.count() == noted
        return False
    assert TrailEntry.objects.count() > noted
    return True
