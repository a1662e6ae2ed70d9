"""The pages of the diary: who may open them, what they cost in queries, and the way from a plan to a visit."""

from collections.abc import Callable, Iterator
from datetime import time, timedelta
from typing import Any

import pytest
import time_machine

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.teeth import Tooth
from planner.rules.visit_states import LaboratoryState
from planner.visits import diary, laboratory, services
from planner.visits.models import Absence, BlockedTime, LaboratoryCase, Visit, WorkWeek
from tests.pages import client_of, queries_of, refusals
from tests.support import NOW, TODAY
from tests.visits.sample import accepted_plan, at

pytestmark = pytest.mark.django_db
Make = Callable[..., services.Booking]
THURSDAY = TODAY + timedelta(days=3)
EVERYBODY = {Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.DENTIST, Role.MANAGER}
NO_ASSISTANT = EVERYBODY - {Role.ASSISTANT}
NO_DESK = NO_ASSISTANT - {Role.FRONT_DESK}


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted_plan(owner, planned=True)


@pytest.fixture
def visit(plan: AcceptedPlan, owner: Staff, booking: Make) -> Visit:
    asked = booking(items=tuple(plan.items.all()[:4]), key="bonding.bonding", eight_in_ten=207)
    return services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit


@pytest.fixture
def case(plan: AcceptedPlan, owner: Staff) -> LaboratoryCase:
    return laboratory.order_work(
        plan=plan,
        words="Wax-up",
        laboratory="The laboratory",
        teeth=[Tooth.from_iso("22")],
        visit_key="bonding.bonding",
        actor=owner,
        now=NOW,
    )


def test_who_may_open_what(
    visit: Visit, case: LaboratoryCase, owner: Staff, outsider: Staff, person: Callable[..., Staff]
) -> None:
    own = {
        f"/visits/of/{visit.plan.public_id}/": EVERYBODY,
        f"/visits/of/{visit.plan.public_id}/book/": NO_ASSISTANT,
        f"/visits/{visit.public_id}/": EVERYBODY,
        f"/visits/{visit.public_id}/move/": EVERYBODY,
        f"/visits/{visit.public_id}/cancel/": EVERYBODY,
        f"/visits/{visit.public_id}/kept/": EVERYBODY,
        f"/visits/{visit.public_id}/no-show/": EVERYBODY,
        f"/visits/{visit.public_id}/steps/": EVERYBODY,
        f"/visits/laboratory/of/{visit.plan.public_id}/": EVERYBODY,
        f"/visits/laboratory/{case.public_id}/": EVERYBODY,
        f"/visits/laboratory/{case.public_id}/sent/": EVERYBODY,
        f"/visits/laboratory/{case.public_id}/label/": EVERYBODY,
    }
    shared = {
        "/visits/": EVERYBODY,
        "/visits/week/": EVERYBODY,
        "/visits/to-book/": EVERYBODY,
        "/visits/laboratory/": EVERYBODY,
        "/visits/times/": EVERYBODY,
        "/visits/times/absence/": NO_DESK,
        "/visits/times/week/": NO_DESK,
        "/visits/times/block/": NO_ASSISTANT,
    }
    clients = {role: client_of(person(role)) for role in (*sorted(EVERYBODY), Role.KEEPER)}
    theirs, nobody = client_of(outsider), client_of(None)
    for url, allowed in {**own, **shared}.items():
        assert nobody.get(url)["Location"] == f"/sign-in/?next={url}"
        assert theirs.get(url).status_code == (404 if url in own else 200), url
        for role, client in clients.items():
            with refusals() as noted:
                answer = client.get(url)
            assert answer.status_code == (200 if role in allowed else 403), (url, role)
            assert bool(noted) == (role not in allowed), (url, role)


def test_queries_do_not_grow_with_the_data(
    visit: Visit, case: LaboratoryCase, owner: Staff, booking: Make, person: Callable[..., Staff]
) -> None:
    client, who = client_of(owner), {"actor": owner, "now": NOW}
    urls = [
        "/visits/?on=2026-03-05",
        "/visits/week/?on=2026-03-05",
        "/visits/to-book/",
        "/visits/times/",
        "/visits/laboratory/",
        f"/visits/of/{visit.plan.public_id}/",
        f"/visits/{visit.public_id}/",
        f"/visits/laboratory/{case.public_id}/",
    ]
    diary.add_absence(clinician=owner, first=TODAY + timedelta(20), last=TODAY + timedelta(21), **who)
    few = [queries_of(client, url) for url in urls]
    for number in range(4):
        asked = booking(hour=time(13 + number, 30), minutes=10, chair="Chair 1")
        services.book_visit(plan=visit.plan, booking=asked, **who)
        diary.add_absence(clinician=owner, first=TODAY + timedelta(30), last=TODAY + timedelta(31), **who)
        diary.block_time(
            office=owner.office,
            day=THURSDAY,
            opens=time(9 + number),
            closes=time(9 + number, 30),
            words="Meeting",
            chair="Chair 2",
            **who,
        )
        laboratory.order_work(plan=visit.plan, words="x", laboratory="y", teeth=[], **who)
    assert [queries_of(client, url) for url in urls] == few
    assert max(few) <= 40


def test_the_way_from_a_plan_to_a_visit(plan: AcceptedPlan, colleague: Staff) -> None:
    client = client_of(colleague)
    page = client.get(f"/visits/of/{plan.public_id}/").content.decode()
    assert "Bonding" in page
    assert "Laboratory work takes 10 days; ordered on 2026-03-02, it is here on 2026-03-12." in page
    url = f"/visits/of/{plan.public_id}/book/?visit=bonding.bonding"
    form = client.get(url).content.decode()
    assert 'value="210"' in form
    assert form.count("checked") == 6, "the items of this visit, and that it is work"
    data: dict[str, Any] = {
        "visit": "bonding.bonding",
        "words": "Bonding",
        "kind": "work",
        "items": [item.public_id for item in plan.items.all()[:4]],
        "clinician": Staff.objects.get(username="olive").public_id,
        "chair": "Chair 1",
        "day": "12 March 2026",
        "hour": "8:30",
        "minutes": "210",
        "despite": "",
    }
    answer = client.post(url, data)
    assert "nothing is ordered yet" in answer.content.decode()
    assert not Visit.objects.exists()
    early = client.post(url, data | {"day": "6 March 2026", "despite": "asked"}).content.decode()
    assert "not open on Fridays" in early
    assert "6 March 2026" in early, "nothing typed is lost"
    done = client.post(url, data | {"despite": "The wax-up is made in the office."})
    assert done["Location"] == f"/visits/of/{plan.public_id}/"
    assert Visit.objects.get().starts == at(TODAY + timedelta(days=10), 8, 30)
    assert "Booked for 2026-03-12, 8:30" in client.get(done["Location"]).content.decode()


def test_moving_keeps_the_old_one_and_cancelling_late_offers_the_fee(visit: Visit, owner: Staff) -> None:
    client = client_of(owner)
    url = f"/visits/{visit.public_id}/move/"
    assert 'value="8:30"' in client.get(url).content.decode()
    data: dict[str, Any] = {
        "visit": "bonding.bonding",
        "words": "Bonding",
        "kind": "work",
        "items": [line.item.public_id for line in visit.visit_items.all()],
        "clinician": owner.public_id,
        "chair": "Chair 2",
        "day": "2026-03-16",
        "hour": "9:00",
        "minutes": "210",
        "despite": "The wax-up is made in the office.",
        "reason": "asked by phone",
        "caused_by": "patient",
        "seen": "1",
    }
    assert client.post(url, data).status_code == 302
    made = Visit.objects.get(follows=visit)
    assert "In its place:" in client.get(f"/visits/{visit.public_id}/").content.decode()
    assert "The visit is rescheduled" in client.post(url, data).content.decode()
    with time_machine.travel(made.starts - timedelta(hours=20), tick=False):
        late = client_of(owner)
        url = f"/visits/{made.public_id}/cancel/"
        assert "Cancelling a visit of 2 hours or more" in late.get(url).content.decode()
        answer = late.post(url, {"reason": "ill", "caused_by": "patient", "seen": "1"})
        assert "say whether the fee is asked for" in answer.content.decode()
        answer = late.post(url, {"reason": "ill", "caused_by": "patient", "seen": "1", "ask_fee": "yes"})
        assert answer.status_code == 302
    assert Visit.objects.get(pk=made.pk).late_fee.asked
    # Whoever signed in twenty hours before the visit did so later than this client, whose sign-in is over by then.
    assert "asked for, 90.00" in client_of(owner).get(f"/visits/{made.public_id}/").content.decode()


def test_a_visit_says_whether_it_ends_in_time_and_where_it_may_stop(visit: Visit, owner: Staff) -> None:
    page = client_of(owner).get(f"/visits/{visit.public_id}/").content.decode()
    assert "Of 100 such visits that begin on time" in page
    assert "are over by 12:30" in page
    assert "is finished and its pair is not" in page


def test_what_became_of_a_visit(visit: Visit, owner: Staff) -> None:
    with time_machine.travel(visit.starts, tick=False):
        client = client_of(owner)
        assert "The patient came" in client.get(f"/visits/{visit.public_id}/").content.decode()
        assert client.post(f"/visits/{visit.public_id}/kept/", {"seen": "1"}).status_code == 302
        again = client.post(f"/visits/{visit.public_id}/no-show/", {"seen": "2"})
    assert "is kept" in again.content.decode()
    assert Visit.objects.get().state == "kept"


def test_laboratory_work_from_order_to_label(plan: AcceptedPlan, owner: Staff) -> None:
    client = client_of(owner)
    url = f"/visits/laboratory/of/{plan.public_id}/"
    order = {"words": "Wax-up", "laboratory": "L", "teeth": "22", "visit_key": "bonding.bonding", "sketch": "strip"}
    answer = client.post(url, order)
    case = LaboratoryCase.objects.get()
    assert (case.label_iso, case.label_universal, case.label_name) == ("22", "10", plan.patient.name)
    page = f"/visits/laboratory/{case.public_id}/"
    assert answer["Location"] == page
    assert client.post(f"{page}sent/", {"seen": "1", "due": "2026-03-10"}).status_code == 302
    assert client.post(f"{page}received/", {"seen": "2"}).status_code == 302
    label = f"{page}label/"
    assert plan.patient.name not in client.get(label).content.decode().split("<form")[-1], "nobody copies it"
    wrong = {"seen": "3", "read_name": plan.patient.name, "read_iso": "22", "read_universal": "22"}
    assert "22 in Universal is the lower left canine" in client.post(label, wrong).content.decode()
    assert client.post(label, wrong | {"read_universal": "10"}).status_code == 302
    case.refresh_from_db()
    assert (case.state, case.moves.count()) == ("label checked", 4)
    assert client.get(f"{page}nowhere/").status_code == 404


def test_overdue_work_says_so(case: LaboratoryCase, owner: Staff) -> None:
    laboratory.move_work(case=case, seen=1, to=LaboratoryState.SENT, due=TODAY, actor=owner, now=NOW)
    assert "overdue" not in client_of(owner).get("/visits/laboratory/").content.decode()
    with time_machine.travel(NOW + timedelta(days=1), tick=False):
        assert "overdue" in client_of(owner).get("/visits/laboratory/").content.decode()


def test_absences_weeks_and_other_times(visit: Visit, owner: Staff) -> None:
    client, me = client_of(owner), owner.public_id
    absence = {"clinician": me, "first": "5 March 2026", "last": "6 March 2026"}
    client.post("/visits/times/absence/", absence)
    page = client.get("/visits/times/").content.decode()
    assert "Visits booked on these days want another time: 1" in page
    wrong = client.post("/visits/times/absence/", absence | {"last": "1 March 2026"}).content.decode()
    assert "is before the first" in wrong
    client.post("/visits/times/week/", {"clinician": me, "weekdays": ["0", "1"], "effective": "2026-04-01"})
    assert WorkWeek.objects.get().weekdays == [0, 1]
    block = {"words": "Repair", "day": "2026-03-05", "opens": "9", "closes": "10", "clinician": "", "chair": "Chair 1"}
    assert (
        "A visit is booked in Chair 1 from 8:30 to 12:00" in client.post("/visits/times/block/", block).content.decode()
    )
    assert client.post("/visits/times/block/", block | {"chair": "Chair 2"}).status_code == 302
    row, away = BlockedTime.objects.get(), Absence.objects.get()
    for url in (f"block/{row.public_id}/back/", f"absence/{away.public_id}/back/"):
        assert client.post(f"/visits/times/{url}", {"seen": "1"}).status_code == 302
    assert BlockedTime.objects.get().taken_back_at == NOW
    assert Absence.objects.get().taken_back_by == owner


def test_days_that_cannot_be_read_are_told(owner: Staff) -> None:
    client = client_of(owner)
    assert "is not read as a day" in client.get("/visits/?on=someday").content.decode()
    assert "more than ten years away" in client.get("/visits/week/?on=1870-01-01").content.decode()
    assert "The office is closed on this day." in client.get("/visits/?on=2026-03-06").content.decode()
