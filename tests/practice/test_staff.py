"""Opening an office, and its people."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.contrib.auth import authenticate
from django.db import IntegrityError, transaction
from django.test import Client, RequestFactory

from planner.practice import services
from planner.practice.backends import StaffBackend
from planner.practice.models import Office, Staff, StaffRole
from planner.practice.roles import Role
from planner.practice.screens import end_sign_ins
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailDetail, TrailEntry
from planner.trail.services import verify_chain
from tests.support import NOW, PASSWORD, TODAY, small_book

pytestmark = pytest.mark.django_db
FIRST: dict[str, Any] = {
    "name": "First office",
    "book": small_book(),
    "effective": TODAY,
    "owner_username": "Olive",
    "owner_full_name": "Olive Owner",
    "owner_password": PASSWORD,
    "now": NOW,
}


def add(actor: Staff, **values: Any) -> Staff:
    given = {"username": "ned", "full_name": "Ned New", "password": PASSWORD, "roles": [Role.ASSISTANT], "now": NOW}
    return services.add_staff(actor=actor, **(given | values))


class TestFirstRun:
    def test_it_opens_the_office_once(self) -> None:
        office, owner = services.first_run(**FIRST)
        assert (office.time_zone, owner.username, owner.roles) == ("America/Toronto", "olive", {Role.OWNER})
        acts = list(TrailEntry.objects.order_by("sequence").values_list("act", flat=True))
        assert acts == ["office.open", "book.adopt"]
        with pytest.raises(Refused, match="has an office already"):
            services.first_run(**FIRST)

    @pytest.mark.parametrize(
        ("values", "sentence"),
        [
            ({"name": " "}, "needs a name"),
            ({"owner_password": "short"}, "too short"),
            ({"owner_password": "password1234"}, "too common"),
            ({"owner_username": "two words"}, "no blanks"),
            ({"owner_full_name": ""}, "full name"),
            ({"owner_roles": [Role.DENTIST]}, "owner dentist"),
            ({"book": small_book(time_zone="Mars/Olympus")}, "is not a time zone"),
        ],
    )
    def test_what_cannot_be_taken_leaves_nothing(self, values: dict[str, Any], sentence: str) -> None:
        with pytest.raises(Refused, match=sentence):
            services.first_run(**(FIRST | values))
        assert not Office.objects.exists()
        assert not Staff.objects.exists()
        assert not TrailEntry.objects.exists()


class TestPeople:
    def test_a_manager_adds_people_but_gives_no_power(self, person: Callable[..., Staff], colleague: Staff) -> None:
        manager = person(Role.MANAGER)
        assert add(manager).office == manager.office
        for role in (Role.OWNER, Role.MANAGER, Role.KEEPER):
            with pytest.raises(NotAllowed, match="owner dentist decides"):
                add(manager, username="x", roles=[role])
        with pytest.raises(NotAllowed):
            add(colleague, username="y")

    @pytest.mark.parametrize(
        ("values", "sentence"),
        [
            ({"username": "OLIVE"}, "already"),
            ({"roles": []}, "at least one role"),
            ({"roles": [Role.CHECKER], "access_until": None}, "ends on a day"),
            ({"roles": [Role.CHECKER, Role.DENTIST], "access_until": TODAY}, "looks on"),
            ({"language": "fr"}, "en or es"),
        ],
    )
    def test_what_cannot_be_taken_gets_a_sentence(self, owner: Staff, values: dict[str, Any], sentence: str) -> None:
        with pytest.raises(Refused, match=sentence):
            add(owner, **values)

    def test_roles_change_by_somebody_else_with_a_reason(
        self, owner: Staff, colleague: Staff, person: Callable[..., Staff]
    ) -> None:
        given: dict[str, Any] = {"reason": "learned it", "now": NOW}
        saved = services.change_roles(staff=colleague, seen=1, roles=[Role.DESK_LEAD], actor=owner, **given)
        assert Staff.objects.get(pk=saved.pk).roles == {Role.DESK_LEAD}
        entry = TrailEntry.objects.order_by("-sequence")[0]
        assert (entry.act, entry.reason) == ("staff.roles", "learned it")
        assert TrailDetail.objects.get(entry=entry).content == (
            '{"after":"desk lead","before":"front desk","until":""}'
        )
        with pytest.raises(StaleEdit):
            services.change_roles(staff=colleague, seen=1, roles=[Role.ASSISTANT], actor=owner, **given)
        with pytest.raises(NotAllowed, match="their own roles"):
            services.change_roles(staff=owner, seen=1, roles=[Role.DENTIST], actor=owner, **given)
        manager = person(Role.MANAGER)
        with pytest.raises(NotAllowed, match="owner dentist decides"):
            services.change_roles(staff=owner, seen=1, roles=[Role.DENTIST], actor=manager, **given)

    def test_an_office_keeps_an_owner(self, owner: Staff, person: Callable[..., Staff]) -> None:
        second = person(Role.OWNER)
        services.end_access(staff=owner, seen=1, reason="retired", actor=second, now=NOW)
        third = person(Role.OWNER)
        services.end_access(staff=second, seen=1, reason="moved", actor=third, now=NOW)
        with pytest.raises(NotAllowed, match="their own access"):
            services.end_access(staff=third, seen=1, reason="r", actor=third, now=NOW)

    def test_another_office_cannot_reach_in(self, colleague: Staff, outsider: Staff) -> None:
        for act in (
            lambda: services.change_roles(
                staff=colleague, seen=1, roles=[Role.OWNER], reason="r", actor=outsider, now=NOW
            ),
            lambda: services.end_access(staff=colleague, seen=1, reason="r", actor=outsider, now=NOW),
            lambda: services.set_password(staff=colleague, password=PASSWORD + "2", actor=outsider, now=NOW),
        ):
            with pytest.raises(NotAllowed, match="another office"):
                act()

    def test_the_database_keeps_the_vocabulary(self, colleague: Staff) -> None:
        with pytest.raises(IntegrityError), transaction.atomic():
            StaffRole.objects.create(staff=colleague, office=colleague.office, role="emperor")
        with pytest.raises(IntegrityError), transaction.atomic():
            StaffRole.objects.create(staff=colleague, office=colleague.office, role=Role.FRONT_DESK)


class TestSigningIn:
    def test_by_name_in_any_case_and_password(self, owner: Staff) -> None:
        request = RequestFactory().post("/sign-in/")
        assert authenticate(request, username=" OLIVE ", password=PASSWORD) == owner
        assert authenticate(request, username="olive", password="wrong") is None
        assert authenticate(request, username="nobody", password=PASSWORD) is None
        failed = TrailEntry.objects.filter(act="refused.session.begin").order_by("sequence")
        assert [(entry.office, entry.subject_id) for entry in failed] == [
            (owner.office, owner.public_id),
            (None, ""),
        ]
        assert "wrong" not in "".join(TrailDetail.objects.values_list("content", flat=True))
        assert verify_chain().faults == ()

    def test_five_failures_shut_the_door_for_a_while(self, owner: Staff) -> None:
        request = RequestFactory().post("/sign-in/")
        for _ in range(django_settings.AXES_FAILURE_LIMIT):
            authenticate(request, username="olive", password="wrong")
        assert authenticate(RequestFactory().post("/sign-in/"), username="olive", password=PASSWORD) is None

    def test_access_ends_on_its_day_in_the_offices_zone(self, owner: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
        checker = add(owner, username="vera", roles=[Role.CHECKER], access_until=TODAY)
        backend = StaffBackend()
        # 23:59 and 00:00 of the office's night, five hours behind UTC.
        for instant, expected in (
            (datetime(2026, 3, 3, 4, 59, tzinfo=UTC), checker),
            (datetime(2026, 3, 3, 5, 0, tzinfo=UTC), None),
        ):
            monkeypatch.setattr("django.utils.timezone.now", lambda instant=instant: instant)
            assert backend.get_user(checker.pk) == expected

    def test_a_session_asks_once_for_person_and_office_and_once_for_roles(self, owner: Staff, queries: Any) -> None:
        with queries.counted() as found:
            staff = StaffBackend().get_user(owner.pk)
            assert staff is not None
            assert (staff.office.name, staff.roles) == ("Test office", {Role.OWNER})
        assert len(found) == 2

    def test_ending_access_ends_every_session(self, owner: Staff, colleague: Staff) -> None:
        client = Client()
        client.force_login(colleague)
        assert end_sign_ins(owner) == 0
        services.end_access(staff=colleague, seen=1, reason="left", actor=owner, now=NOW)
        assert end_sign_ins(colleague) == 0, "they are gone already"
        assert StaffBackend().get_user(colleague.pk) is None

    def test_a_password_is_changed_and_recorded_without_it(self, colleague: Staff, owner: Staff) -> None:
        services.set_password(staff=colleague, password="another long phrase", actor=colleague, now=NOW)
        assert Staff.objects.get(pk=colleague.pk).check_password("another long phrase")
        with pytest.raises(Refused, match="too short"):
            services.set_password(staff=colleague, password="short", actor=owner, now=NOW + timedelta(days=1))
