"""Two people who book at once: one gets the time, the other a sentence, on either database."""

import threading
import time
from datetime import time as hour
from typing import Any

import pytest
from django.db import OperationalError, connection

from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.trail.errors import Refused
from planner.visits import services
from planner.visits.models import Visit
from tests.support import NOW
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE = 20


@pytest.mark.parametrize("shared", ["chair", "clinician", "patient"])
def test_only_one_of_two_gets_the_time(owner: Staff, booking: Any, person: Any, shared: str) -> None:
    second = person(Role.DENTIST, username="ben")
    plan, other = accepted_plan(owner), accepted_plan(owner, name="Ben Other")
    asked = booking(minutes=60)
    against = {
        "chair": (other, booking(hour=hour(9), minutes=60, clinician=second)),
        "clinician": (other, booking(hour=hour(9), minutes=60, chair="Chair 2")),
        "patient": (plan, booking(hour=hour(9), minutes=60, chair="Chair 2", clinician=second)),
    }[shared]
    start, outcomes = threading.Barrier(2), list[str]()

    def book(one: Any, wanted: services.Booking) -> None:
        start.wait()
        until = time.monotonic() + PATIENCE
        try:
            while True:
                try:
                    services.book_visit(plan=one, booking=wanted, actor=owner, now=NOW)
                    outcomes.append("booked")
                except OperationalError as fault:
                    # Tests keep SQLite in shared memory, where whoever comes second is turned away instead of waiting.
                    if connection.vendor != "sqlite" or "locked" not in str(fault) or time.monotonic() > until:
                        raise
                    time.sleep(0.01)
                    continue
                except Refused as refusal:
                    outcomes.append(refusal.sentence)
                return
        finally:
            connection.close()

    threads = [threading.Thread(target=book, args=pair) for pair in ((plan, asked), against)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE + 5)
    assert sorted(said == "booked" for said in outcomes) == [False, True], outcomes
    assert any("taken from" in said or "another visit" in said for said in outcomes)
    assert Visit.objects.count() == 1
