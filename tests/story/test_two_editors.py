"""Two editors of one thing: the second sees what it was, theirs and yours, item by item, and nothing typed is lost."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.db.models import Model
from django.urls import reverse

from planner.patients.models import Patient
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.trail.fields import Versioned
from tests.pages import client_of, priced_office
from tests.support import NOW

pytestmark = pytest.mark.django_db


@dataclass(frozen=True)
class Edited:
    """One form: its address, what it edits, the field that both change, and what was there, theirs and yours."""

    name: str
    kind: type[Versioned]
    field: str
    theirs: Any
    yours: Any
    shown: tuple[str, str, str]
    """What it was ("" where the record cannot tell), theirs and yours, as they are laid side by side."""


FORMS = (
    Edited("patients:change", Patient, "phone", "613 555 0111", "613 555 0222", ("–", "613 555 0111", "613 555 0222")),
    Edited(
        "patients:change", Patient, "birth_date", "5 May 1979", "6 May 1979", ("{birth}", "5 May 1979", "6 May 1979")
    ),
    Edited("plans:about", Case, "notes", "Rang twice.", "Rang once.", ("{notes}", "Rang twice.", "Rang once.")),
    Edited("plans:wishes", Case, "months", "6", "9", ("–", "6", "9")),
    Edited("plans:matters", Case, "tooth", "a lot", "not", ("not asked", "matters a lot", "does not matter")),
    Edited(
        "practice:person_roles", Staff, "roles", ["dentist"], ["front desk", "desk lead"],
        ("", "dentist", "front desk, desk lead"),
    ),
)  # fmt: skip


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


def _typed(form: Any) -> dict[str, Any]:
    """Everything the form holds, as a browser sends it."""
    sent: dict[str, Any] = {}
    for bound in form:
        value = bound.field.prepare_value(bound.value()) if hasattr(bound.field, "prepare_value") else bound.value()
        if value is not None and value is not False and value != []:
            sent[bound.html_name] = value
    return sent


@pytest.mark.parametrize("edited", FORMS, ids=[f"{one.name}-{one.field}" for one in FORMS])
def test_the_second_sees_both_and_what_it_was(
    edited: Edited, owner: Staff, person: Callable[..., Staff], lead_case: CaseFacts
) -> None:
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    case = Case.objects.get(pk=case.pk)
    row: Model = {Patient: case.patient, Case: case, Staff: person(Role.ASSISTANT)}[edited.kind]
    url = reverse(edited.name, args=[row.public_id])  # type: ignore[attr-defined]
    client = client_of(owner)
    page = client.get(url if edited.kind is not Staff else reverse("practice:person", args=[row.public_id]))  # type: ignore[attr-defined]
    opened = _typed(page.context["form"]) | ({"reason": "new duties"} if edited.kind is Staff else {})
    assert client.post(url, opened | {edited.field: edited.theirs}).status_code == 302
    again = client.post(url, opened | {edited.field: edited.yours})
    assert again.status_code == 200
    assert "was changed by somebody else" in again.content.decode()
    (found,) = [line for line in again.context["rows"] if line[0].name == edited.field]
    birth = f"{lead_case.patient.birth_date.day} {lead_case.patient.birth_date:%B %Y}"
    expected = tuple(words.format(birth=birth, notes=lead_case.notes) for words in edited.shown)
    assert tuple(found[1:]) == expected
    assert len(again.context["rows"]) == 1, "only what differs is laid side by side"
    row.refresh_from_db()
    before = row.version  # type: ignore[attr-defined]
    kept = _typed(again.context["form"])
    assert kept[edited.field] == edited.yours, "what was typed stands in the form"
    assert client.post(url, kept).status_code == 302, "a second press decides knowingly"
    row.refresh_from_db()
    assert row.version == before + 1  # type: ignore[attr-defined]
