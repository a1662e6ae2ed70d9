"""What visits really used of materials: written down at their end, taken from the lot, learnt from, adopted."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
import time_machine

from planner.plans.accepted_models import AcceptedPlan
from planner.practice import books, stock
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.stock import Arrival
from planner.practice.stock_models import StockLot, StockMove
from planner.trail.errors import NotAllowed, Refused
from planner.visits import amounts, services, step_drawing, stepping
from planner.visits.models import Visit
from planner.visits.step_models import StampKind, StepAmount, StepSheetCopy
from tests.pages import client_of, queries_of
from tests.standing import changed, stands, told
from tests.support import NOW, TODAY
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db
Make = Callable[..., services.Booking]
LATER = NOW + timedelta(days=3)
AFTER = LATER + timedelta(hours=6)


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted_plan(owner, planned=True)


@pytest.fixture
def visit(plan: AcceptedPlan, owner: Staff, booking: Make) -> Visit:
    asked = booking(items=tuple(plan.items.all()[:4]), key="bonding.bonding", eight_in_ten=207)
    return services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit


@pytest.fixture
def copy(visit: Visit, owner: Staff, monkeypatch: pytest.MonkeyPatch) -> StepSheetCopy:
    """A sheet of which every step was done, two minutes each."""
    monkeypatch.setattr(step_drawing, "stops_of", lambda _visit, _now: ())
    made, now = stepping.begin(visit=visit, actor=owner, now=LATER), LATER
    for line in stepping.progress_of(made).lines:
        if not line.run.step.only_if:
            now += timedelta(minutes=2)
            stepping.stamp(copy=made, run=line.run.key, kind=StampKind.DONE, actor=owner, now=now)
    return made


def planned(copy: StepSheetCopy, key: str) -> amounts.Planned:
    return next(one for one in amounts.planned_of(step_drawing.read_copy(copy)) if one.material == key)


def lot_of(owner: Staff, code: str = "L-1", amount: int = 5) -> StockLot:
    arrival = Arrival("etch-gel", code, 1, Decimal(amount), "ml", TODAY + timedelta(days=90), TODAY)
    return stock.receive(arrival=arrival, actor=owner, now=NOW)


def closed(copy: StepSheetCopy, owner: Staff, used: dict[str, Decimal], **more: Any) -> None:
    given: dict[str, Any] = {"disturbed": False, "why": ""}
    stepping.close(copy=copy, amounts=used, actor=owner, now=AFTER, **(given | more))


def own(owner: Staff) -> dict[str, amounts.OwnUse]:
    book = books.read_book(books.latest_version(owner.office).data)
    return {one.material.key: one for one in amounts.own_uses(owner.office, book)}


def test_what_was_used_is_kept_beside_the_forecast_and_taken_from_the_lot(copy: StepSheetCopy, owner: Staff) -> None:
    lot = lot_of(owner)
    run = next(
        line.run.key
        for line in stepping.progress_of(copy).lines
        if any(use.material == "etch-gel" for use in line.run.step.uses)
    )
    stepping.note_lot(copy=copy, run=run, lot=lot, actor=owner, now=LATER)
    forecast = planned(copy, "etch-gel")
    closed(copy, owner, {"etch-gel": Decimal("0.60")})
    row = StepAmount.objects.get()
    assert (row.used_hundredths, row.planned_hundredths) == (60, int(forecast.amount * 100))
    assert (row.unit, row.lot) == ("ml", lot)
    assert StockMove.objects.filter(lot=lot, kind="used").get().hundredths == -60
    assert own(owner)["etch-gel"].used == 60


def test_without_one_lot_nothing_is_taken_from_the_shelf(copy: StepSheetCopy, owner: Staff) -> None:
    lot_of(owner)
    closed(copy, owner, {"etch-gel": Decimal("0.60")})
    assert StepAmount.objects.get().lot is None
    assert not StockMove.objects.filter(kind="used").exists()


@pytest.mark.parametrize(
    ("used", "why"),
    [
        ({"etch-gel": Decimal("-1")}, "0 or more"),
        ({"etch-gel": Decimal("0.005")}, "two decimals"),
        ({"gold": Decimal(1)}, "no material"),
    ],
)
def test_what_cannot_have_been_used_closes_nothing(
    copy: StepSheetCopy, owner: Staff, used: dict[str, Decimal], why: str
) -> None:
    with pytest.raises(Refused, match=why):
        closed(copy, owner, used)
    assert not StepAmount.objects.exists()
    assert stepping.progress_of(copy).closed is None


def test_more_than_is_left_of_the_lot_is_told_at_its_field(copy: StepSheetCopy, owner: Staff) -> None:
    lot = lot_of(owner, amount=1)
    run = next(
        line.run.key
        for line in stepping.progress_of(copy).lines
        if any(use.material == "etch-gel" for use in line.run.step.uses)
    )
    stepping.note_lot(copy=copy, run=run, lot=lot, actor=owner, now=LATER)
    with pytest.raises(Refused) as refused:
        closed(copy, owner, {"etch-gel": Decimal(3)})
    assert refused.value.field == "used_etch-gel"
    assert "count the shelf" in refused.value.sentence


def test_a_proposal_is_adopted_by_a_person_and_not_learnt_again(
    copy: StepSheetCopy, owner: Staff, person: Callable[..., Staff]
) -> None:
    forecast = planned(copy, "etch-gel").amount
    closed(copy, owner, {"etch-gel": forecast * 2})
    use = own(owner)["etch-gel"]
    assert use.proposal is not None
    # One visit at twice the forecast: (10 + 2) / 11, by hand.
    assert use.proposal.proposed == Fraction(12, 11)
    last = books.latest_version(owner.office)
    given: dict[str, Any] = {"use": use, "seen": last.number, "effective": TODAY + timedelta(days=3), "now": AFTER}
    with pytest.raises(NotAllowed):
        amounts.adopt_use(reason="as used", actor=person(Role.ASSISTANT), **given)
    before = use.material.per_tooth
    amounts.adopt_use(reason="as used", actor=owner, **given)
    after = own(owner)["etch-gel"]
    assert after.material.per_tooth == amounts.scaled(before, Fraction(12, 11))
    assert after.proposal is None, "what it rests on stands in the book now"


def test_what_follows_from_millimetres_is_told_and_not_adopted(copy: StepSheetCopy, owner: Staff) -> None:
    key = next(
        one.key
        for one in books.read_book(books.latest_version(owner.office).data).materials
        if one.by_geometry
        and any(one.key == each.material for each in amounts.planned_of(step_drawing.read_copy(copy)))
    )
    closed(copy, owner, {key: planned(copy, key).amount})
    use = own(owner)[key]
    assert use.proposal is not None
    assert not use.may_be_adopted
    with time_machine.travel(AFTER, tick=False):
        page = client_of(owner).get("/visits/took/").content.decode()
    assert "follows from millimetres" in page


def test_a_disturbed_visit_is_kept_and_not_used(copy: StepSheetCopy, owner: Staff) -> None:
    closed(copy, owner, {"etch-gel": Decimal("9")}, disturbed=True, why="fire alarm")
    use = own(owner)["etch-gel"]
    assert (use.visits, use.used, use.proposal) == (1, 0, None)
    truths = amounts.own_steps(owner.office, AFTER)
    assert truths
    assert all((one.count, one.disturbed) == (0, 1) for one in truths)


def test_real_seconds_of_steps_are_those_of_the_stamps(copy: StepSheetCopy, owner: Staff) -> None:
    closed(copy, owner, {})
    truths = {one.step: one for one in amounts.own_steps(owner.office, AFTER)}
    lines = stepping.progress_of(copy).lines
    for key, one in truths.items():
        runs = [line for line in lines if line.run.step.key == key]
        assert one.real == 120 * len(runs)
        assert one.planned == runs[0].run.step.seconds
    assert set(truths) == {line.run.step.key for line in lines if not line.run.step.only_if}


def test_pages_ask_show_and_adopt(copy: StepSheetCopy, owner: Staff, person: Callable[..., Staff]) -> None:
    client, url = client_of(owner), f"/visits/{copy.visit.public_id}/steps/close/"
    with time_machine.travel(AFTER, tick=False):
        assert "Stays empty where nobody measured it" in client.get(url).content.decode()
        assert "It is counted in ml here." in client.post(url, {"used_etch-gel": "0.5 g"}).content.decode()
        assert client.post(url, {"used_etch-gel": "0,9"}).status_code == 302
        page = client.get("/visits/took/").content.decode()
        assert "/visits/took/etch-gel/" in page
        few = queries_of(client, "/visits/took/")
        assert few < 20
        form = client.get("/visits/took/etch-gel/").content.decode()
        assert "Prices do not change" in form
        seen = books.latest_version(owner.office).number
        assert "This is missing" in client.post("/visits/took/etch-gel/", {"seen": seen}).content.decode()
        assert client.post("/visits/took/etch-gel/", {"seen": seen, "reason": "as used"}).status_code == 302
        second = client_of(person(Role.OWNER))
        before = stands()
        again = second.post("/visits/took/etch-gel/", {"seen": seen, "reason": "as used"})
        assert "stands in the book already. Olive Owner changed the office book" in told(again)
        assert changed(before) == []
        assert client.get("/visits/took/etch-gel/").status_code == 404
        assert "1 in the book already" in client.get("/visits/took/").content.decode()
        assistant = client_of(person(Role.ASSISTANT))
        assert assistant.get("/visits/took/").status_code == 200
        assert assistant.get("/visits/took/etch-gel/").status_code == 403
