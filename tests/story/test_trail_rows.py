"""Each kind of act leaves its row: looking, printing, taking out, changing, being refused, failing to sign in.

Walked by the addresses themselves, so that a new page of a file cannot be opened without a trace.
"""

import pytest
from django.test import Client
from django.urls import reverse

from planner.patients.models import Patient
from planner.practice.access import IN_A_FILE, MATRIX, Act, Thing
from planner.practice.again import FIELD
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.story.file_rows import entries_of_file, ways_to_patient
from planner.trail.acts import KIND_WORDS, OPENINGS, Kind, act_words, entries_of_kind, kind_of_act
from planner.trail.models import TrailEntry
from planner.trail.services import verify_chain
from tests.addresses import ADDRESSES
from tests.closed_rows import Ground
from tests.pages import client_of
from tests.story.closed_rows import patient_of
from tests.support import PASSWORD
from tests.test_every_address import ROWS, made, url_of

pytestmark = pytest.mark.django_db

OF_A_FILE = {"patients.patient", *(model._meta.label_lower for model, _way in ways_to_patient())}
NO_PAGE = {
    # Small and shown pictures are parts of pages that are recorded themselves.
    "patients:picture_small",
    "patients:picture_large",
}


def last(count: int) -> list[TrailEntry]:
    return list(TrailEntry.objects.filter(sequence__gt=count).order_by("sequence"))


@pytest.mark.parametrize("label", [row for row in ROWS if row in OF_A_FILE])
def test_whatever_page_of_a_file_is_looked_at_is_recorded(label: str, owner: Staff, lead_case: CaseFacts) -> None:
    row = made(label, Ground(owner, lead_case))
    client, silent = client_of(owner), []
    client.raise_request_exception = False  # the plan behind a made visit is too bare to be drawn; others are
    for address in ADDRESSES.values():
        guard = address.get
        if address.row != label or isinstance(guard, str) or address.name in NO_PAGE:
            continue
        before = TrailEntry.objects.count()
        answer = client.get(url_of(address.name, row))
        if answer.status_code != 200:
            continue
        if not any(entry.act in OPENINGS and entry.actor == owner for entry in last(before)):
            silent.append(address.name)
    assert not silent, f"looked at without a trace: {', '.join(silent)}"
    assert verify_chain().faults == ()


def test_a_part_that_a_page_fetches_is_no_opening_of_its_own(owner: Staff) -> None:
    patient = patient_of(owner)
    client = client_of(owner)
    before = TrailEntry.objects.count()
    client.get(reverse("plans:of_patient", args=[patient.public_id]), headers={"HX-Request": "true"})
    assert last(before) == []


def test_every_refusal_leaves_a_row(owner: Staff, colleague: Staff, outsider: Staff) -> None:
    patient = patient_of(owner)
    desk, foreign = client_of(colleague), client_of(outsider)
    tries = [
        (desk, reverse("patients:history", args=[patient.public_id]), 403, "refused.medical_flags.view"),
        (foreign, reverse("patients:patient", args=[patient.public_id]), 404, "refused.identity.view"),
        (desk, reverse("patients:patient", args=["nobody"]), 404, "refused.identity.view"),
    ]
    for client, url, status, act in tries:
        before = TrailEntry.objects.count()
        assert client.get(url).status_code == status
        assert [entry.act for entry in last(before)] == [act], url
    # All that were about a file that is here are in its story, whoever tried.
    about = entries_of_file(patient).filter(entries_of_kind(Kind.REFUSAL))
    assert {entry.actor for entry in about} == {colleague, outsider}


def test_a_failed_sign_in_leaves_a_row_without_the_password(owner: Staff) -> None:
    before = TrailEntry.objects.count()
    Client().post(reverse("practice:sign_in"), {"username": "olive", "password": "not that"})
    (entry,) = last(before)
    assert (entry.act, entry.subject_id, entry.office) == ("refused.session.begin", owner.public_id, owner.office)
    assert "not that" not in entry.detail.content + entry.reason
    Client().post(reverse("practice:sign_in"), {"username": "olive", "password": PASSWORD})
    assert TrailEntry.objects.order_by("-sequence")[0].act == "session.begin"


@pytest.mark.parametrize(
    ("name", "given", "act", "again"),
    [
        ("followup:file", {"ending": "csv"}, "monday.export", True),
        ("visits:stock_orders_csv", {}, "stock.export", False),
    ],
)
def test_tables_that_go_out_leave_a_row(owner: Staff, name: str, given: dict[str, str], act: str, again: bool) -> None:
    """What tells of people goes out after the password once more (``again``); a list of what to order does not."""
    client = client_of(owner)
    before = TrailEntry.objects.count()
    url = reverse(name, kwargs=given)
    assert (client.post(url, {FIELD: PASSWORD}) if again else client.get(url)).status_code == 200
    assert [entry.act for entry in last(before)] == [act]


def test_kinds_part_the_acts_without_overlap(owner: Staff) -> None:
    patient_of(owner)
    assert set(KIND_WORDS) == set(Kind)
    for entry in TrailEntry.objects.all():
        kinds = [kind for kind in Kind if TrailEntry.objects.filter(entries_of_kind(kind), pk=entry.pk).exists()]
        assert kinds == [kind_of_act(entry.act)], entry.act
    assert act_words("refused.identity.view") == "was refused: identity: view"
    assert kind_of_act("something.new") is Kind.CHANGE, "an act nobody named is never hidden"


def test_what_stands_in_a_file_is_what_no_system_keeper_sees() -> None:
    assert all(MATRIX[thing, Role.KEEPER] == frozenset() for thing in IN_A_FILE)
    outside = set(Thing) - IN_A_FILE
    assert {Thing.BOOK, Thing.STAFF, Thing.STOCK, Thing.TRAIL} <= outside
    assert Act.VIEW in MATRIX[Thing.TRAIL, Role.KEEPER]


def test_every_table_with_a_way_to_a_patient_is_part_of_the_file() -> None:
    ways = {model._meta.label_lower: way for model, way in ways_to_patient()}
    assert ways["letters.countersignature"] == "signature__consent__case__patient"
    assert ways["visits.notesettled"] == "note__sheet__visit__patient", "not by a key that may be empty"
    assert "practice.staff" not in ways
    assert "patients.payerplan" not in ways, "a payer's plan is the office's, not one person's"
    assert Patient._meta.label_lower not in ways
