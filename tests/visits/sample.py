"""An accepted plan and its items, as the diary finds them: the lead case's bonding with one tooth reshaped.

The plan is worked out once for all tests here; what accepting does is held in the tests of plans.
"""

from datetime import date, datetime, time
from functools import cache
from zoneinfo import ZoneInfo

from django.conf import settings

from planner.plans.accepted_models import AcceptedPlan, Item
from planner.plans.casefiles import import_case_file
from planner.plans.models import Answer, Estimate, FrozenPlan, State
from planner.practice import books
from planner.practice.models import Staff
from planner.rules.bookfile import load_book
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.item_states import ItemState
from planner.rules.mouth import CaseFacts
from planner.rules.plan import plan_case
from planner.rules.results import sha256
from planner.rules.teeth import Tooth
from tests.support import NOW, TODAY

ZONE = ZoneInfo("America/Toronto")
OPTION = "reshape-bond"
LINES = (
    ("reshaping", [Tooth.from_iso("13").key], "Reshaping 13"),
    ("bonding", [Tooth.from_iso("11").key], "Build-up 11"),
    ("bonding", [Tooth.from_iso("21").key], "Build-up 21"),
    ("bonding", [Tooth.from_iso("22").key], "Build-up 22"),
    ("", [], "Wax-up and index"),
)


def at(day: date, hour: int, minute: int = 0) -> datetime:
    """The instant at which the office's clock shows that hour on that day."""
    return datetime.combine(day, time(hour, minute), ZONE)


@cache
def lead_facts() -> CaseFacts:
    """The facts of the lead case."""
    path = settings.BASE_DIR / "fixtures" / "cases" / "lead.json"
    return validate_case(resolve_days(parse_case(path.read_bytes()), TODAY), TODAY)


@cache
def worked_out() -> bytes:
    """The plan of the lead case with the invented office's book, as it is frozen."""
    path = settings.BASE_DIR / "fixtures" / "books" / "tern_row.toml"
    return plan_case(lead_facts(), load_book(path.read_text(encoding="utf-8"), TODAY), TODAY).to_json()


def accepted_plan(
    owner: Staff, *, deposit: int = 0, planned: bool = False, name: str = "Anselm Brightwater"
) -> AcceptedPlan:
    """The lead case said yes to, with its items to do: one for each tooth, and what is made for all of them.

    The case plan itself is worked out only where it is ``planned``; booking by itself does not read it.
    """
    lead = lead_facts()
    facts = lead.model_copy(update={"patient": lead.patient.model_copy(update={"name": name})})
    case = import_case_file(facts=facts, actor=owner, now=NOW).case
    book = books.latest_version(owner.office)
    content = worked_out() if planned else b"{}"
    frozen = FrozenPlan.objects.create(
        office=owner.office,
        case=case,
        examination=case.examination,
        book=book,
        content=content,
        sha256=sha256(content),
        facts_sha256="0" * 64,
        deciding_sha256="0" * 64,
        rules_sha256="0" * 64,
        frozen_by=owner,
        at=NOW,
    )
    accepted = AcceptedPlan.objects.create(
        office=owner.office,
        patient=case.patient,
        case=case,
        estimate=_answered(owner, frozen) if planned else None,
        frozen=frozen,
        book=book,
        price_list_version=7,
        option_key=OPTION,
        name="Bonding with reshaping",
        accepted_on=TODAY,
        accepted_by=case.patient.name,
        accepted_as="patient",
        price_held_through=date(2026, 9, 1),
        total_cents=161825,
        deposit_cents=deposit,
        created_by=owner,
        at=NOW,
    )
    for position, (treatment, teeth, words) in enumerate(LINES):
        Item.objects.create(
            office=owner.office,
            plan=accepted,
            position=position,
            line=position,
            service="build-up",
            code="BND",
            words=words,
            treatment=treatment,
            teeth=teeth,
            tax_class="reconstructive",
            tax_percent=0,
            earns="finished",
            state=ItemState.TO_DO.value,
        )
    return accepted


def _answered(owner: Staff, frozen: FrozenPlan) -> Estimate:
    """The estimate that was said yes to."""
    return Estimate.objects.create(
        office=owner.office,
        case=frozen.case,
        number=1 + Estimate.objects.count(),
        state=State.ANSWERED,
        options=[OPTION],
        frozen=frozen,
        book=frozen.book,
        checked_by=owner,
        checked_at=NOW,
        valid_through=date(2026, 6, 1),
        shown_on=TODAY,
        answer=Answer.ALL,
        answered_on=TODAY,
        answered_by="A. B.",
        answered_option=OPTION,
        created_by=owner,
        at=NOW,
    )
