"""Calendar files of the diary, read back by icalendar: times that are right, and not a word about anybody's health."""

from collections.abc import Callable
from datetime import time, timedelta

import icalendar
import pytest

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.visits import appointments, services
from planner.visits.models import Visit
from tests.pages import client_of
from tests.support import NOW

pytestmark = pytest.mark.django_db
Make = Callable[..., services.Booking]


@pytest.fixture
def visit(plan: AcceptedPlan, owner: Staff, booking: Make) -> Visit:
    return services.book_visit(plan=plan, booking=booking(), actor=owner, now=NOW).visit


def events(content: bytes) -> list[icalendar.Event]:
    return list(icalendar.Calendar.from_ical(content).walk("VEVENT"))


def test_one_visit_says_when_and_where_and_nothing_else(visit: Visit, owner: Staff) -> None:
    content = appointments.visit_file(visit=visit, actor=owner, now=NOW)
    (event,) = events(content)
    assert (event["DTSTART"].dt, event["DTEND"].dt) == (visit.starts, visit.ends)
    assert event["SUMMARY"] == "Appointment"
    assert event["LOCATION"] == f"{owner.office.name}, {owner.office.place}"
    said = content.decode().casefold()
    for word in (*visit.patient.name.split(), *visit.words.split(), visit.clinician.full_name, "dentist", "bonding"):
        assert word.casefold() not in said, word


def test_a_moved_visit_stays_the_same_event_and_the_old_one_is_cancelled(
    visit: Visit, owner: Staff, booking: Make
) -> None:
    moved = services.reschedule_visit(
        visit=visit, seen=1, booking=booking(hour=time(13, 30)), reason="ill", actor=owner, now=NOW
    ).visit
    (event,) = events(appointments.visit_file(visit=moved, actor=owner, now=NOW))
    (old,) = events(appointments.visit_file(visit=Visit.objects.get(pk=visit.pk), actor=owner, now=NOW))
    assert event["UID"] == old["UID"]
    assert (event["SEQUENCE"], event["STATUS"], old["STATUS"]) == (1, "CONFIRMED", "CANCELLED")


def test_a_diary_holds_the_visits_of_one_person_only(
    visit: Visit, plan: AcceptedPlan, owner: Staff, booking: Make, person: Callable[..., Staff]
) -> None:
    other = person(Role.DENTIST)
    services.book_visit(
        plan=plan, booking=booking(clinician=other, hour=time(13, 30), minutes=30), actor=owner, now=NOW
    )
    mine = events(appointments.diary_file(clinician=owner, actor=owner, now=NOW))
    assert [event["DTSTART"].dt for event in mine] == [visit.starts]
    assert events(appointments.diary_file(clinician=owner, actor=owner, now=NOW + timedelta(days=60))) == []


def test_who_may_take_a_file(visit: Visit, owner: Staff, outsider: Staff, person: Callable[..., Staff]) -> None:
    one, diary = f"/visits/{visit.public_id}/appointment.ics", f"/visits/diary/{owner.public_id}.ics"
    answer = client_of(person(Role.FRONT_DESK)).get(one)
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    assert client_of(person(Role.FRONT_DESK)).get(diary).status_code == 200
    assert {client_of(outsider).get(url).status_code for url in (one, diary)} == {404}
    assert {client_of(person(Role.KEEPER)).get(url).status_code for url in (one, diary)} == {403}
