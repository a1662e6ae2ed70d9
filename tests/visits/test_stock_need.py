"""The shelf against booked visits. Packs, prices and the lot that runs old are those of the demonstration, made up."""

import csv
import io
import re
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.practice.stock import Arrival, receive
from planner.rules.materials import Need
from planner.visits import services
from planner.visits.models import Visit
from planner.visits.stock_need import StockNeed, stock_need
from tests.pages import client_of, queries_of
from tests.support import NOW, TODAY
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db


def day(offset: int) -> date:
    return TODAY + timedelta(days=offset)


def book_on(offset: int, owner: Staff, booking: Any, plan: AcceptedPlan, items: slice = slice(None)) -> Visit:
    wanted = booking(day=day(offset), items=tuple(plan.items.all()[items]))
    return services.book_visit(plan=plan, booking=wanted, actor=owner, now=NOW).visit


def put(owner: Staff, code: str, amount: int, expires: date | None, material: str = "composite-enamel") -> None:
    unit = {"composite-enamel": "g", "dam-non-latex": "sheet"}[material]
    arrival = Arrival(material, code, 1, Decimal(amount), unit, expires, TODAY)
    receive(arrival=arrival, actor=owner, now=NOW)


def needs_of(found: StockNeed, place: int = 0) -> dict[str, Need]:
    return {need.material: need for need in found.visits[place].needs}


def test_a_lot_that_expires_on_day_nine_is_needed_by_two_visits_after_it(
    owner: Staff, booking: Any, plan: AcceptedPlan
) -> None:
    put(owner, "EM-2231", 4, day(9))
    for place, offset in enumerate((3, 10, 14), start=1):
        book_on(offset, owner, booking, plan, slice(place, place + 1))
    found = stock_need(owner.office, NOW)
    assert found.warnings[0] == (
        "Composite, enamel shades light, medium, clear: lot EM-2231 expires in 9 days, on 2026-03-11, "
        "with 3.86 g left; 2 booked visits need it after that day."
    )
    enamel = [each for each in found.short if each.words.startswith("Composite, enamel")]
    assert [each.on for each in enamel] == [day(10), day(14)]
    first, *later = (missing for _each, missing in found.rows)
    assert "Composite, enamel shades light, medium, clear" not in first
    assert all("Composite, enamel shades light, medium, clear" in missing for missing in later)
    order = next(each for each in found.orders if each.material == "composite-enamel")
    # 2 teeth × (0.10 g + 35 %), half-up, are missing, and one pack of 4 g is the mark
    assert (order.packs, order.cents) == (2, 19200)


def test_amounts_follow_from_what_is_added_to_each_tooth(owner: Staff, booking: Any) -> None:
    book_on(3, owner, booking, accepted_plan(owner, planned=True))
    planned = needs_of(stock_need(owner.office, NOW))
    assert "measurements" in planned["composite-enamel"].how
    # 3 teeth bonded and 1 reshaped are polished; one index; one sheet of dam, not of latex
    assert planned["polishing"].amount == Decimal("5.40")
    assert planned["index-putty"].amount == Decimal("18.90")
    assert planned["dam-non-latex"].amount == 1
    assert "dam-latex" not in planned


def test_an_index_is_made_once_and_an_item_is_counted_once(owner: Staff, booking: Any, plan: AcceptedPlan) -> None:
    book_on(3, owner, booking, plan, slice(1, 2))
    book_on(7, owner, booking, plan, slice(2, 4))
    found = stock_need(owner.office, NOW)
    assert [each.on for each in found.visits] == [day(3), day(7)]
    assert "index-putty" in needs_of(found, 0)
    assert "index-putty" not in needs_of(found, 1)
    assert [needs_of(found, place)["etch-gel"].amount for place in (0, 1)] == [Decimal("0.14"), Decimal("0.27")]


def test_what_is_over_or_cancelled_takes_nothing(owner: Staff, booking: Any, plan: AcceptedPlan) -> None:
    visit = book_on(3, owner, booking, plan)
    assert stock_need(owner.office, NOW).visits
    assert stock_need(owner.office, NOW + timedelta(days=4)).visits == ()
    services.cancel_visit(visit=visit, seen=visit.version, reason="ill", actor=owner, now=NOW)
    found = stock_need(owner.office, NOW)
    assert (found.visits, found.short) == ((), ())


def test_the_pages_say_it_and_the_file_is_safe(owner: Staff, booking: Any, plan: AcceptedPlan, outsider: Staff) -> None:
    put(owner, "=1+1", 4, None)
    book_on(500, owner, booking, plan)
    client = client_of(owner)
    assert "What each visit takes" in client.get("/visits/stock/").content.decode()
    assert "Etch gel" in client.get("/visits/stock/order/").content.decode()
    answer = client.get("/visits/stock/order.csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    etch = next(row for row in rows if row["material"] == "etch-gel")
    assert (etch["packs"], etch["cost"], etch["currency"]) == ("2", "76.00", "CAD")
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row.values())
    assert client_of(None).get("/visits/stock/").status_code == 302
    assert "Etch gel" not in client_of(outsider).get("/visits/stock/").content.decode()


def test_the_queries_do_not_grow_with_the_visits(owner: Staff, booking: Any, plan: AcceptedPlan) -> None:
    client = client_of(owner)
    for place, offset in enumerate((500, 504)):
        book_on(offset, owner, booking, plan, slice(place, place + 1))
    before = queries_of(client, "/visits/stock/")
    for place, offset in enumerate((507, 511, 514), start=2):
        book_on(offset, owner, booking, plan, slice(place, place + 1))
    assert queries_of(client, "/visits/stock/") == before


@pytest.mark.parametrize(("url", "room"), [("stock/", "Stock"), ("stock/order/", "Stock"), ("", "Diary")])
def test_a_page_lights_the_room_it_belongs_to(url: str, room: str, owner: Staff) -> None:
    text = client_of(owner).get(f"/visits/{url}").content.decode()
    assert re.findall(r'aria-current="true">([^<]+)</a>', text) == [room]
