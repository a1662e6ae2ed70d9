"""The pages of the step sheet: who may work by it, what it costs in queries, and the way through it."""

from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
import time_machine

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.visits import services, step_drawing, stepping
from planner.visits.models import Visit
from planner.visits.step_models import ChairNote, NoteKind, StampKind, StepStamp
from tests.pages import client_of, queries_of
from tests.support import NOW
from tests.visits.sample import accepted_plan
from tests.visits.test_steps import lot_of

pytestmark = pytest.mark.django_db
Make = Callable[..., services.Booking]
WORKING = {Role.ASSISTANT, Role.DENTIST}


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted_plan(owner, planned=True)


@pytest.fixture
def visit(plan: AcceptedPlan, owner: Staff, booking: Make) -> Visit:
    asked = booking(items=tuple(plan.items.all()[:4]), key="bonding.bonding")
    return services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit


@pytest.fixture
def allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(step_drawing, "stops_of", lambda _visit, _now: ())


def test_what_forbids_the_sheet_stands_on_the_page_with_the_way_to_settle_it(visit: Visit, owner: Staff) -> None:
    page = client_of(owner).get(f"/visits/{visit.public_id}/steps/").content.decode()
    assert "No consent letter has been handed over" in page
    assert f"/papers/of/{visit.plan.estimate.public_id}/" in page or "Settle it" in page
    assert 'name="kind"' not in page
    assert "Print it" not in page
    answer = client_of(owner).post(f"/visits/{visit.public_id}/steps/print/", follow=True).content.decode()
    assert "signed and countersigned" in answer


def test_working_by_it_is_for_whoever_works_at_the_chair(
    visit: Visit, owner: Staff, outsider: Staff, person: Callable[..., Staff], allowed: None
) -> None:
    stepping.begin(visit=visit, actor=owner, now=NOW)
    copy = stepping.latest_copy(visit)
    assert copy is not None
    note = stepping.note(copy=copy, kind=NoteKind.FOUND, words="a crack", actor=owner, now=NOW)
    base = f"/visits/{visit.public_id}/steps/"
    for role in (Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.DENTIST, Role.MANAGER):
        client = client_of(person(role))
        assert client.get(base).status_code == 200
        for address in ("found/", "close/"):
            assert client.get(base + address).status_code == (200 if role in WORKING else 403), (role, address)
        for address in ("print/", "begin/", "stamp/", "lot/"):
            assert client.post(base + address).status_code == (302 if role in WORKING else 403), (role, address)
        settle = client.get(f"/visits/steps/note/{note.public_id}/").status_code
        assert settle == (200 if role == Role.DENTIST else 403)
    theirs = client_of(outsider)
    assert {theirs.get(base).status_code, theirs.post(base + "stamp/").status_code} == {404}
    assert theirs.get(f"/visits/steps/note/{note.public_id}/").status_code == 404
    assert client_of(None).get(base)["Location"] == f"/sign-in/?next={base}"


def test_the_way_through_the_sheet(visit: Visit, owner: Staff, allowed: None) -> None:
    client, base = client_of(owner), f"/visits/{visit.public_id}/steps/"
    before = client.get(base).content.decode()
    assert "Steps: usually 185 minutes" in before
    assert client.post(base + "begin/").status_code == 302
    page = client.get(base).content.decode()
    assert "Two facts" in page
    assert 'name="run" value="bonding.A01"' in page
    part = client.post(base + "stamp/", {"run": "bonding.A01", "kind": "done"}, headers={"HX-Request": "true"})
    assert b"Photos before" in part.content
    assert b"<html" not in part.content
    assert StepStamp.objects.get(kind=StampKind.DONE).at == NOW
    refused = client.post(base + "stamp/", {"run": "bonding.A02", "kind": "left out"}, headers={"HX-Request": "true"})
    assert "why it is left out" in refused.content.decode()
    found = client.post(base + "found/", {"kind": "found", "words": "a crack", "tooth": ""}, follow=True)
    assert "Write the change" in found.content.decode()
    note = ChairNote.objects.get()
    settled = client.post(f"/visits/steps/note/{note.public_id}/", {"no_change": "1", "words": "seen before"})
    assert settled.status_code == 302
    assert "The plan stays: seen before" in client.get(base).content.decode()


def test_a_lot_is_picked_from_the_shelf(visit: Visit, owner: Staff, allowed: None) -> None:
    lot = lot_of(owner, "cleaning-particles", "g")
    client, base = client_of(owner), f"/visits/{visit.public_id}/steps/"
    client.post(base + "begin/")
    for run in ("bonding.A01", "bonding.A02"):
        client.post(base + "stamp/", {"run": run, "kind": "done"})
    assert f'value="{lot.public_id}"' in client.get(base).content.decode()
    answer = client.post(base + "lot/", {"run": "bonding.A03", "lot": lot.public_id}, headers={"HX-Request": "true"})
    assert "Opened: lot L-1" in answer.content.decode()


def test_queries_do_not_grow_with_stamps_and_lots(visit: Visit, owner: Staff, allowed: None) -> None:
    copy = stepping.begin(visit=visit, actor=owner, now=NOW)
    client, url = client_of(owner), f"/visits/{visit.public_id}/steps/"
    few = queries_of(client, url)
    lines = stepping.progress_of(copy).lines
    for place, line in enumerate(lines[:30]):
        stepping.stamp(
            copy=copy, run=line.run.key, kind=StampKind.DONE, actor=owner, now=NOW + timedelta(minutes=place)
        )
    stepping.note(copy=copy, kind=NoteKind.FOUND, words="a crack", actor=owner, now=NOW)
    stepping.note(copy=copy, kind=NoteKind.FOUND, words="another", actor=owner, now=NOW)
    assert queries_of(client, url) <= few
    assert few <= 45


def test_a_sheet_opened_on_another_day_than_the_visit_says_so(visit: Visit, owner: Staff, allowed: None) -> None:
    said = "not booked for today"
    with time_machine.travel(visit.starts - timedelta(days=3), tick=False):
        assert said in client_of(owner).get(f"/visits/{visit.public_id}/steps/").content.decode()
    with time_machine.travel(visit.starts, tick=False):
        assert said not in client_of(owner).get(f"/visits/{visit.public_id}/steps/").content.decode()
