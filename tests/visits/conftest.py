"""What tests of the diary share: an office with prices, hours and chairs, and an accepted plan."""

from datetime import time
from typing import Any

import pytest

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.visits.services import Booking
from tests.pages import priced_office
from tests.support import TODAY
from tests.visits.sample import accepted_plan


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices, hours and two chairs."""
    return priced_office()


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    """An accepted plan without a deposit."""
    return accepted_plan(owner)


@pytest.fixture
def booking(owner: Staff) -> Any:
    """Makes a booking on the first Thursday at half past eight, with some of it otherwise."""

    def make(**changes: Any) -> Booking:
        first: dict[str, Any] = {
            "clinician": owner,
            "chair": "Chair 1",
            "day": TODAY.replace(day=5),
            "hour": time(8, 30),
            "minutes": 210,
            "words": "Bonding",
        }
        return Booking(**(first | changes))

    return make
