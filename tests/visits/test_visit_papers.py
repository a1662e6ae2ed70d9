"""Papers that belong to a visit: made once, from what was kept, in the patient's own print size."""

import json
from collections.abc import Callable
from datetime import datetime

import pytest

from planner.letters.models import Document
from planner.letters.pdf import Job, Rendered
from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.trail.errors import NotAllowed, Refused
from planner.visits import care, services, step_drawing
from planner.visits.models import Visit
from planner.visits.step_models import StepSheetCopy
from tests.pages import client_of
from tests.support import NOW, TODAY
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db
Make = Callable[..., services.Booking]


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted_plan(owner, planned=True)


@pytest.fixture
def visit(plan: AcceptedPlan, owner: Staff, booking: Make) -> Visit:
    asked = booking(items=tuple(plan.items.all()[:4]), key="bonding.bonding")
    return services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit


def drawn(what: Job) -> Rendered:
    """Stands for the renderer, which has tests of its own: the words of the paper."""
    return Rendered(what.html.encode(), 1, ())


def test_what_is_taken_home_follows_what_was_done_and_names_the_next_visit(
    visit: Visit, plan: AcceptedPlan, owner: Staff, booking: Make
) -> None:
    review = booking(day=TODAY.replace(day=19), minutes=20, kind="review", key="bonding.review", words="Look again")
    services.book_visit(plan=plan, booking=review, actor=owner, now=NOW)
    document = care.print_care(visit=visit, actor=owner, now=NOW, make=drawn)
    said = bytes(document.content).decode()
    assert "Reshaping, Bonding" in said
    assert "We see you again on 19 March 2026." in said
    assert "old retainer or night guard" in said
    assert (document.kind, document.points) == ("after-care", 11)
    assert json.loads(document.issue)["care"]
    assert care.print_care(visit=visit, actor=owner, now=NOW, make=drawn).pk == document.pk, "made once"


def test_before_the_visit_it_does_not_say_that_anything_was_done(visit: Visit, owner: Staff) -> None:
    def said(now: datetime) -> str:
        return bytes(care.print_care(visit=visit, actor=owner, now=now, make=drawn).content).decode()

    assert "For your visit on 5 March 2026: <strong>Reshaping, Bonding</strong>" in said(NOW)
    assert "Done on" not in said(NOW)
    assert "Done on 5 March 2026: <strong>Reshaping, Bonding</strong>" in said(visit.ends)


def test_a_visit_that_fell_away_has_no_sheet_to_take_home(visit: Visit, owner: Staff) -> None:
    services.cancel_visit(visit=visit, seen=visit.version, reason="ill", actor=owner, now=NOW)
    visit.refresh_from_db()
    with pytest.raises(Refused, match="The visit is cancelled"):
        care.print_care(visit=visit, actor=owner, now=NOW, make=drawn)


def test_the_review_has_lines_of_its_own(plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
    asked = booking(kind="review", key="bonding.review", words="Look again", minutes=20)
    visit = services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit
    sheet = care.sheet_for(visit)
    assert sheet is not None
    lines = [line for part in sheet.parts for line in part.lines]
    assert any("polished and checked" in line for line in lines)
    assert not any("old retainer" in line for line in lines)


def test_a_visit_after_which_nothing_wants_care_has_no_sheet(plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
    visit = services.book_visit(plan=plan, booking=booking(minutes=20), actor=owner, now=NOW).visit
    with pytest.raises(Refused, match="no sheet is made"):
        care.print_care(visit=visit, actor=owner, now=NOW, make=drawn)
    answer = client_of(owner).post(f"/visits/{visit.public_id}/care/", follow=True)
    assert "no sheet is made" in answer.content.decode()
    assert not Document.objects.exists()


def test_who_may_print_what(
    visit: Visit, outsider: Staff, person: Callable[..., Staff], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(step_drawing, "stops_of", lambda _visit, _now: ())
    assert care.print_care(visit=visit, actor=person(Role.FRONT_DESK), now=NOW, make=drawn)
    with pytest.raises(NotAllowed):
        care.print_care(visit=visit, actor=person(Role.MANAGER), now=NOW, make=drawn)
    with pytest.raises(NotAllowed):
        step_drawing.print_sheet(visit=visit, actor=person(Role.DESK_LEAD), now=NOW, make=drawn)
    assert client_of(outsider).post(f"/visits/{visit.public_id}/care/").status_code == 404


def test_the_paper_of_the_steps_says_what_was_kept_and_is_made_once(
    visit: Visit, person: Callable[..., Staff], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(step_drawing, "stops_of", lambda _visit, _now: ())
    who = person(Role.ASSISTANT)
    document = step_drawing.print_sheet(visit=visit, actor=who, now=NOW, make=drawn)
    said = bytes(document.content).decode()
    copy = StepSheetCopy.objects.get()
    assert json.loads(document.issue)["steps"] == copy.content
    for step in step_drawing.read_copy(copy).steps:
        assert step.short.partition("<")[0] in said, step.key
    assert "Anselm Brightwater" in said
    assert step_drawing.print_sheet(visit=visit, actor=who, now=NOW, make=drawn).pk == document.pk
