"""Who may do what: the table, and the two doors that ask it."""

import importlib
from collections.abc import Callable

import pytest
from django.http import Http404

from planner.practice.access import BEYOND, MATRIX, Act, Thing, load, may, require, require_own, write_refusal
from planner.practice.models import BookVersion, Staff
from planner.practice.roles import Role
from planner.trail.errors import NotAllowed
from planner.trail.models import TrailEntry
from tests.support import NOW

CLINICAL = (Thing.FLAGS, Thing.MEASUREMENTS, Thing.FINDINGS, Thing.CASE, Thing.LOCKS, Thing.PICTURES, Thing.CASE_FILE)


def acts(thing: Thing, role: Role) -> str:
    return "".join(act.value[0].upper() for act in Act if act in MATRIX[thing, role])


def test_every_role_has_its_cell_for_every_thing() -> None:
    assert set(MATRIX) == {(thing, role) for thing in Thing for role in Role}


@pytest.mark.parametrize(
    ("thing", "role", "expected"),
    [
        # Common practice, no source: who does what in a small dental office.
        (Thing.IDENTITY, Role.FRONT_DESK, "VCE"),
        (Thing.IDENTITY, Role.DENTIST, "V"),
        (Thing.MEASUREMENTS, Role.FRONT_DESK, ""),
        (Thing.MEASUREMENTS, Role.ASSISTANT, "VC"),
        (Thing.MEASUREMENTS, Role.DENTIST, "VCEA"),
        (Thing.FINDINGS, Role.ASSISTANT, ""),
        (Thing.LOCKS, Role.ASSISTANT, "V"),
        (Thing.ESTIMATE, Role.ASSISTANT, ""),
        (Thing.RELEASE, Role.DESK_LEAD, "R"),
        (Thing.RELEASE, Role.MANAGER, ""),
        (Thing.BOOK, Role.MANAGER, "VCE"),
        (Thing.STAFF, Role.DENTIST, ""),
        (Thing.ERASURE, Role.OWNER, "VCAR"),
    ],
)
def test_cells(thing: Thing, role: Role, expected: str) -> None:
    assert acts(thing, role) == expected


def test_the_system_keeper_sees_nothing_clinical_and_the_checker_changes_nothing() -> None:
    assert all(acts(thing, Role.KEEPER) == "" for thing in (*CLINICAL, Thing.IDENTITY, Thing.ESTIMATE))
    assert all(acts(thing, Role.CHECKER) in ("", "V") for thing in Thing)


@pytest.mark.parametrize("where", sorted({where for _sentence, where in BEYOND}))
def test_every_rule_beyond_the_table_names_the_function_that_holds_it(where: str) -> None:
    module, _dot, name = where.rpartition(".")
    found = getattr(importlib.import_module(f"planner.{module}"), name)
    assert "NotAllowed" in (found.__doc__ or "") or "Refused" in (found.__doc__ or "")


def test_only_dentists_confirm_decide_and_release() -> None:
    for thing in (Thing.MEASUREMENTS, Thing.FINDINGS, Thing.OPTIONS, Thing.RELEASE):
        assert {role for role in Role if Act.APPROVE in MATRIX[thing, role]} == {Role.DENTIST, Role.OWNER}


@pytest.mark.django_db
class TestDoors:
    def test_the_roles_of_one_person_add_up(self, person: Callable[..., Staff]) -> None:
        both = person(Role.FRONT_DESK, Role.ASSISTANT)
        assert may(both, Act.EDIT, Thing.IDENTITY)
        assert may(both, Act.CREATE, Thing.MEASUREMENTS)
        assert not may(both, Act.APPROVE, Thing.MEASUREMENTS)
        assert both.role_words == "front desk, assistant"

    def test_somebody_whose_access_ended_may_nothing(self, owner: Staff) -> None:
        owner.is_active = False
        assert not may(owner, Act.VIEW, Thing.IDENTITY)
        with pytest.raises(NotAllowed):
            require(owner, Act.VIEW, Thing.IDENTITY)

    def test_loading_finds_refuses_and_records(self, owner: Staff, colleague: Staff, outsider: Staff) -> None:
        book = BookVersion.objects.get(office=owner.office)
        found = BookVersion.objects.all()
        given = {"thing": Thing.BOOK, "now": NOW}
        assert load(found, book.public_id, actor=colleague, act=Act.VIEW, **given) == book
        with pytest.raises(Http404):
            load(found, book.public_id, actor=outsider, act=Act.VIEW, **given)
        with pytest.raises(NotAllowed, match="To edit office book is not among what front desk may do here"):
            load(found, book.public_id, actor=colleague, act=Act.EDIT, **given)
        recorded = TrailEntry.objects.order_by("-sequence")[:2]
        assert [(entry.act, entry.actor, entry.office) for entry in recorded] == [
            ("refused.office_book.edit", colleague, owner.office),
            ("refused.office_book.view", outsider, outsider.office),
        ]

    def test_a_refusal_is_recorded_once(self, owner: Staff, outsider: Staff) -> None:
        with pytest.raises(NotAllowed) as caught:
            require_own(outsider, owner)
        for _ in range(2):
            write_refusal(caught.value, actor=outsider, now=NOW)
        assert TrailEntry.objects.filter(act="refused.cross.office").count() == 1
