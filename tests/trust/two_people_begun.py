"""What every case of two people begins with: an office, both of them, and what was shown and said yes to in it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.checking import check_case
from planner.plans.models import Case, Channel, Estimate
from planner.practice import services
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.rules.results import sha256
from tests.pages import priced_office
from tests.plans.sample import plan_of
from tests.rules.books import charge
from tests.support import NOW, PASSWORD
from tests.visits.sample import lead_facts

HATS = (Role.OWNER, Role.DENTIST, Role.MANAGER, Role.DESK_LEAD)
SHOWN_TO = "Sara Shown"


@dataclass(frozen=True)
class Begun:
    """What there is before any case: an office with prices, two people in it, and the lead case."""

    owner: int
    first: int
    second: int
    case: int
    shown: int
    charged: int


@contextmanager
def begun_once() -> Iterator[Begun]:
    """Made in a transaction around the tests of one module, in which each of them has its own, and gone with it."""
    with transaction.atomic():
        transaction.get_connection().atomic_blocks[-1]._from_testcase = True  # as the block around each test is
        owner = priced_office()
        first, second = (somebody(owner, *HATS, full_name=name) for name in ("Fay First", "Sven Second"))
        case = import_case_file(facts=lead_facts(), actor=owner, now=NOW).case
        lines = (charge("ceramic-face", 1, "11"), charge("implant-placing"))
        charged = plan_of(owner, _facts_of("Carl Charged"), *lines, deposit=9000)
        yield Begun(owner.pk, first.pk, second.pk, case.pk, _shown(owner).pk, charged.pk)
        transaction.set_rollback(True)


def _facts_of(name: str) -> CaseFacts:
    lead = lead_facts()
    return lead.model_copy(update={"patient": lead.patient.model_copy(update={"name": name})})


def _shown(owner: Staff) -> Estimate:
    case = import_case_file(facts=_facts_of(SHOWN_TO), actor=owner, now=NOW).case
    checked = check_case(case=case, seen_plan=hash_of(case), actor=owner, now=NOW)
    given: dict[str, Any] = {"to": SHOWN_TO, "channel": Channel.IN_PERSON, "actor": owner, "now": NOW}
    return estimates.show_estimate(estimate=checked, seen=checked.version, **given)


def hash_of(case: Case) -> str:
    """The hash of the plan as the case's page shows it."""
    return sha256(estimates.compute_plan(case, NOW)[0].to_json())


def somebody(owner: Staff, *roles: Role, full_name: str) -> Staff:
    """Somebody of the owner's office."""
    given: dict[str, Any] = {"full_name": full_name, "password": PASSWORD, "roles": roles, "actor": owner, "now": NOW}
    return services.add_staff(username=full_name.lower().replace(" ", "-"), **given)
