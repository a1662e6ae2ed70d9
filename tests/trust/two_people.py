"""The forms and acts that two people have before them at once, and what these are about."""

import functools
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import time, timedelta
from typing import Any

from django.urls import reverse

from planner.patients import payers
from planner.patients.examinations import store_examination
from planner.patients.facts import examination_facts
from planner.patients.models import Examination
from planner.patients.payer_models import CoverVersion, PayerPlan, PayerQuestion
from planner.plans import estimates
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.models import Case, Estimate
from planner.practice.models import LegalProposal, Staff
from planner.practice.proposals import propose
from planner.practice.roles import Role
from planner.practice.timings import Timed, note_timing
from planner.rules.teeth import Tooth
from planner.story.models import EmergencyOpening
from planner.story.services import open_in_emergency
from planner.visits import diary, laboratory
from planner.visits import services as booked
from planner.visits.models import Absence, LaboratoryCase, Visit
from tests.payers import bronze, cover
from tests.plans.sample import plan_of
from tests.rules.books import charge
from tests.support import NOW, PASSWORD, TODAY
from tests.visits.sample import accepted_plan, lead_facts


@dataclass
class World:
    """What the forms are about."""

    owner: Staff
    person: Callable[..., Staff]
    case: Case
    first: Staff = field(init=False)
    second: Staff = field(init=False)

    def __post_init__(self) -> None:
        hats = (Role.OWNER, Role.DENTIST, Role.MANAGER, Role.DESK_LEAD)
        self.first, self.second = (self.person(*hats, full_name=name) for name in ("Fay First", "Sven Second"))

    @functools.cached_property
    def draft(self) -> Estimate:
        return estimates.draft_estimate(case=self.case, options=("none",), actor=self.owner, now=NOW)

    @functools.cached_property
    def staff(self) -> Staff:
        """Somebody whose roles change."""
        return self.person(Role.ASSISTANT, full_name="Asa Assistant")

    @functools.cached_property
    def plan(self) -> AcceptedPlan:
        """An accepted plan of which visits are booked."""
        return accepted_plan(self.owner)

    @functools.cached_property
    def charged(self) -> AcceptedPlan:
        """An accepted plan of one charge, its deposit not paid."""
        return plan_of(self.owner, lead_facts(), charge("ceramic-face", 1, "11"), deposit=9000)

    @functools.cached_property
    def visit(self) -> Visit:
        booking = booked.Booking(self.first, "Chair 1", TODAY + timedelta(days=3), time(9), 60, "Bonding")
        return booked.book_visit(plan=self.plan, booking=booking, actor=self.first, now=NOW).visit

    @functools.cached_property
    def work(self) -> LaboratoryCase:
        who: dict[str, Any] = {"teeth": [Tooth.from_iso("22")], "actor": self.first, "now": NOW}
        return laboratory.order_work(plan=self.plan, words="wax-up", laboratory="The laboratory", **who)

    @functools.cached_property
    def absence(self) -> Absence:
        day = TODAY + timedelta(days=9)
        return diary.add_absence(clinician=self.owner, first=day, last=day, actor=self.first, now=NOW)[0]

    @functools.cached_property
    def opening(self) -> EmergencyOpening:
        return open_in_emergency(patient=self.case.patient, reason="Fainted.", actor=self.owner, now=NOW)

    @functools.cached_property
    def proposal(self) -> LegalProposal:
        given = {"key": "whitening-age", "value": "17", "reason": "Advice.", "effective": TODAY + timedelta(days=1)}
        return propose(**given, actor=self.owner, now=NOW)  # type: ignore[arg-type]

    @functools.cached_property
    def question(self) -> PayerQuestion:
        return payers.ask_payer(cover=self.cover, words="Do you pay?", due=TODAY, actor=self.first, now=NOW)

    @functools.cached_property
    def timed(self) -> str:
        """Work that was timed once."""
        note_timing(timed=Timed("bonding.bonding.finish", 1, 20, TODAY, self.owner), actor=self.owner, now=NOW)
        return "bonding.bonding.finish"

    @functools.cached_property
    def payer(self) -> PayerPlan:
        who: dict[str, Any] = {"actor": self.first, "now": NOW}
        return payers.add_plan(office=self.owner.office, plan=bronze(), reason="told", **who)

    @functools.cached_property
    def cover(self) -> CoverVersion:
        who: dict[str, Any] = {"actor": self.first, "now": NOW}
        return payers.add_cover(patient=self.case.patient, plan=self.payer, cover=cover(), reason="told", **who)

    @functools.cached_property
    def measured(self) -> Examination:
        """A draft of the same measurements."""
        facts = examination_facts(self.case.examination).model_copy(update={"confirmed_by": ""})
        return store_examination(patient=self.case.patient, facts=facts, actor=self.owner, now=NOW)


@dataclass(frozen=True)
class Edit:
    """One form that two people have open: its address, what each of them types, what else is written."""

    name: str
    url: Callable[[World], str]
    theirs: dict[str, Any]
    yours: dict[str, Any]
    beside: dict[str, Any] = field(default_factory=dict)
    opened: Callable[[World], str] | None = None
    """Where the form is opened, if not at its own address."""
    shown: tuple[str, str] | None = None
    """How theirs and yours stand side by side, where not as they were typed."""
    reopens: bool = True
    """The form begins with what is saved."""

    @property
    def words(self) -> tuple[str, str]:
        """Theirs and yours as the page lays them side by side."""
        return self.shown or (str(list(self.theirs.values())[-1]), str(list(self.yours.values())[-1]))


AGAIN = {"password_again": PASSWORD}
WHY = {"reason": "As agreed with the patient."}
BOOK = {"reason": "As agreed.", "action": "save"}
GAP = "gap-upper-{}-may_stay"


def _edit(name: str, url: Callable[[World], str], theirs: Any, yours: Any, *beside: Any, **more: Any) -> Edit:
    return Edit(name, url, theirs, yours, {key: value for one in beside for key, value in one.items()}, **more)


def _case(name: str, theirs: Any, yours: Any, *beside: Any, rest: tuple[str, ...] = (), **more: Any) -> Edit:
    return _edit(
        f"plans:{name}", lambda world: reverse(f"plans:{name}", args=[world.case.public_id, *rest]), theirs, yours,
        *beside, **more,
    )  # fmt: skip


def _book(name: str, theirs: Any, yours: Any, *, rest: tuple[str, ...] = (), query: str = "", **more: Any) -> Edit:
    name = f"practice:{name}"
    return _edit(name, lambda _world: reverse(name, args=rest) + query, theirs, yours, BOOK, **more)


EDITS = (
    _book("opening", {"chairs": "Room 1"}, {"chairs": "Seat A"}),
    _book("next_prices", {"build-up.cents": "461.00"}, {"build-up.cents": "482.00"}),
    _book("line", {"0.cents": "461.00"}, {"0.cents": "482.00"}, query="?key=build-up"),
    _book("rows", {"0.percent": "6"}, {"0.percent": "7"}, rest=("packages",)),
    _book("row", {"0.reorder_at": "3"}, {"0.reorder_at": "4"}, rest=("materials",), query="?key=flowable"),
    _book("limit", {"name": "gap_left_min", "value": "0.3"}, {"name": "gap_left_min", "value": "0.4"}, reopens=False),
    _book("values", {"margin_percent": "23"}, {"margin_percent": "24"}, rest=("rates",)),
    _book(
        "legal", {"key": "whitening-age", "value": "16"}, {"key": "age-of-majority", "value": "20"}, reopens=False,
        shown=("Fay First saved it", "20"),
    ),
    _edit(
        "practice:person_roles", lambda world: reverse("practice:person_roles", args=[world.staff.public_id]),
        {"roles": ["front desk", "assistant"]}, {"roles": ["desk lead"]}, WHY,
        opened=lambda world: reverse("practice:person", args=[world.staff.public_id]),
        shown=("front desk, assistant", "desk lead"),
    ),
    _edit(
        "patients:change", lambda world: reverse("patients:change", args=[world.case.patient.public_id]),
        {"phone": "613 555 0111"}, {"phone": "613 555 0222"},
    ),
    _edit(
        "patients:payer_plan_change", lambda world: reverse("patients:payer_plan_change", args=[world.payer.public_id]),
        {"deductible": "70.00"}, {"deductible": "80.00"}, WHY, reopens=False,
    ),
    _edit(
        "patients:cover_change", lambda world: reverse("patients:cover_change", args=[world.cover.public_id]),
        {"ends": "30 June 2026"}, {"ends": "31 May 2026"}, WHY, reopens=False,
    ),
    _edit(
        "patients:examination_edit",
        lambda world: reverse("patients:examination_edit", args=[world.measured.public_id]),
        {"head-by": "Chair 7"}, {"head-by": "Chair 8"}, {"action": "save"},
    ),
    _edit(
        "plans:estimate_options", lambda world: reverse("plans:estimate_options", args=[world.draft.public_id]),
        {"options": ["none", "whitening"]}, {"options": ["none", "reshaping"]}, shown=("hitening", "eshaping"),
    ),
    _case("about", {"notes": "Rang twice."}, {"notes": "Rang once."}),
    _case("wishes", {"months": "6"}, {"months": "9"}),
    _case("matters", {"tooth": "a lot"}, {"tooth": "not"}, shown=("matters a lot", "does not matter")),
    _case("rests_on", {"pictures": []}, {"pictures": []}, reopens=False, shown=("", "")),
    _case("line_class", {"reason": "Theirs came."}, {"reason": "Mine came."}),
    _case(
        "surfaces", {"tooth": "upper-left-central-incisor", "surfaces": "2"},
        {"tooth": "upper-left-central-incisor", "surfaces": "3"}, WHY, reopens=False,
    ),
    _case("figures", {"worn": "yes", "reason": "Theirs came."}, {"worn": "no", "reason": "Mine came."}),
    _case("if_then", {"words-1": "Theirs if it is deep."}, {"words-1": "Mine if it is deep."}),
    _case(
        "discounts", {"reason": "Theirs came."}, {"reason": "Mine came."},
        {"option": "reshape-bond", "kind": "courtesy", "percent": "2"}, AGAIN, reopens=False,
    ),
    _case("put_together", {"reason": "Theirs came."}, {"reason": "Mine came."}, {"whole": "whitening"}, reopens=False),
    _case(
        "change_option", {"reason": "Theirs came."}, {"reason": "Mine came."}, rest=("reshape-bond",), reopens=False,
    ),
    _case("strike", {"reason": "Theirs came."}, {"reason": "Mine came."}, rest=("whitening",), reopens=False),
    _case("recommend", {"reason": "Theirs came."}, {"reason": "Mine came."}, rest=("whitening",), reopens=False),
    _case(
        "spaces_findings", {GAP.format("right-central-incisor"): "on"}, {GAP.format("left-central-incisor"): "on"},
        opened=lambda world: reverse("plans:spaces", args=[world.case.public_id]), shown=("", ""), reopens=False,
    ),
)  # fmt: skip

PROVEN = {
    "plans:spaces_keep": "tests/plans/test_space_pages.py::test_a_second_editor_sees_what_the_first_fixed",
    "plans:restore": "tests/plans/pages/test_decisions.py::test_the_second_of_two_deciders_sees_both",
    "plans:override": "tests/plans/pages/test_decisions.py::test_the_second_of_two_deciders_sees_both",
    "plans:withdraw": "tests/plans/pages/test_decisions.py::test_the_second_of_two_deciders_sees_both",
    "practice:file": "tests/practice/test_pages_files.py::test_what_is_taken_is_what_was_seen",
}
"""What another test shows of two editors, because it takes more than typing into the form once more."""


@dataclass(frozen=True)
class Pressed:
    """One act that two people have before them: its address, where its form is, what is typed."""

    name: str
    url: Callable[[World], str]
    typed: dict[str, Any] = field(default_factory=dict)
    opened: Callable[[World], str] | None = None
    says: str = ""
    """What the second is told, in part."""


def _press(name: str, row: Callable[[World], Any], *rest: str, **more: Any) -> Pressed:
    return Pressed(name, lambda world: reverse(name, args=[row(world).public_id, *rest]), **more)


def _plan(name: str, *rest: str, **more: Any) -> Pressed:
    return _press(f"plans:{name}", lambda world: world.charged, *rest, **more)


LATE = "by somebody else"
MOVES = (
    _press(
        "patients:stop", lambda world: world.case.patient, typed={"reason": "moved away"},
        says="Contact is stopped already",
    ),
    _press(
        "patients:examination_confirm", lambda world: world.measured, says="read them again",
        opened=lambda world: reverse("patients:examination", args=[world.measured.public_id]),
    ),
    _press("plans:discard", lambda world: world.draft, typed={"reason": "not wanted"}, says="There is nothing here"),
    _press(
        "patients:payer_answer", lambda world: world.question,
        typed={"words": "They pay half.", "told": "phone", "by": "Ms Hale"}, says="answered"),
    _plan("rest", typed={"reason": "abroad", "look_again_on": "20 March 2026"}, says="resting"),
    _plan("stop", typed={"reason": "moves away", "because": "patient"}, says="stopped"),
    _plan("waive", typed={"reason": "known for years"}, says="deposit"),
    _press(
        "visits:cancel", lambda world: world.visit, typed={"reason": "ill", "ask_fee": "no", "fee_reason": "ill"},
        says="cancelled a visit",
    ),
    _press("visits:move_case", lambda world: world.work, "not-needed", typed={"note": "changed"}, says="not needed"),
    _press(
        "visits:absence_back", lambda world: world.absence, says="taken back already. Fay First",
        opened=lambda _world: reverse("visits:times"),
    ),
    _press(
        "story:opening_seen", lambda world: world.opening, typed={"words": "Right so."}, says="looked",
    ),
    _press("practice:proposal", lambda world: world.proposal, typed={"action": "set"}, says="answered"),
    _press(
        "practice:person_end", lambda world: world.staff, typed={"end-reason": "left"},
        opened=lambda world: reverse("practice:person", args=[world.staff.public_id]), says=LATE,
    ),
    Pressed(
        "practice:clock_work", lambda world: reverse("practice:clock_work", args=[world.timed]),
        typed={"reason": "as timed"}, says="stand in the book already",
    ),
)  # fmt: skip
