"""Stock as facts: what comes, what goes, what is left, and every kind of bad input as a sentence."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from planner.practice import books
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.stock import Arrival, count, left_of, receive, shelf, take_out
from planner.practice.stock_models import MoveKind, StockLot, StockMove
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db


def day(offset: int) -> date:
    return TODAY + timedelta(days=offset)


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def arrival(**changes: Any) -> Arrival:
    first: dict[str, Any] = {
        "material": "composite-enamel",
        "code": "EM-1",
        "packs": 2,
        "pack_amount": Decimal(4),
        "unit": "g",
        "expires": day(9),
        "received": TODAY,
    }
    return Arrival(**(first | changes))


def put(owner: Staff, **changes: Any) -> StockLot:
    return receive(arrival=arrival(**changes), actor=owner, now=NOW)


def test_what_is_left_is_the_sum_of_the_moves(owner: Staff) -> None:
    lot = put(owner)
    who: dict[str, Any] = {"lot": lot, "on": TODAY, "actor": owner, "now": NOW}
    take_out(**who, kind=MoveKind.USED, amount=Decimal("0.20"), reason="")
    take_out(**who, kind=MoveKind.DISCARDED, amount=Decimal("1"), reason="tip dried")
    move = count(**who, amount=Decimal("6.5"), reason="counted on Monday")
    # 2 × 4 − 0.2 − 1 = 6.8, of which 6.5 are there
    assert (move.hundredths, left_of(lot)) == (-30, 650)
    assert list(lot.moves.values_list("sequence", flat=True)) == [1, 2, 3, 4]
    assert TrailEntry.objects.filter(act="stock.move").count() == 3
    found = shelf(owner.office, books.current_book(owner.office, TODAY), TODAY)
    line = next(line for line in found.lines if line.material.key == "composite-enamel")
    assert (line.good, line.mark, line.below) == (650, 400, False)
    assert [one.days for one in found.soon] == [9]
    assert [lot.amount for lot in found.lots] == [Decimal("6.5")]


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"material": "moon-dust"}, "not a material of the office book"),
        ({"unit": "ml"}, "in g, not in ml"),
        ({"packs": 0}, "cannot have come"),
        ({"packs": -3}, "cannot have come"),
        ({"pack_amount": Decimal("1e12")}, "a zero too many"),
        ({"pack_amount": Decimal(-1)}, "0 or more"),
        ({"pack_amount": Decimal("NaN")}, "0 or more"),
        ({"pack_amount": Decimal(0)}, "holds nothing"),
        ({"pack_amount": Decimal("4.125")}, "finer than hundredths"),
        ({"expires": day(-1)}, "It expired on 2026-03-01"),
        ({"expires": day(9000)}, "look at the year"),
        ({"received": day(1)}, "still to come"),
        ({"code": "  "}, "lot number is missing"),
        ({"material": "guard-blank", "unit": "blank", "pack_amount": Decimal("1.5")}, "whole pieces"),
    ],
)
def test_what_cannot_have_come_is_refused_with_a_sentence(owner: Staff, changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(Refused, match=sentence):
        put(owner, **changes)
    assert not StockLot.objects.exists()


def test_nothing_goes_out_that_is_not_there_and_nothing_expired_is_used(owner: Staff) -> None:
    lot = put(owner, expires=TODAY)
    who: dict[str, Any] = {"lot": lot, "actor": owner}
    with pytest.raises(Refused, match="Only 8 g of lot EM-1 is left"):
        take_out(**who, kind=MoveKind.USED, amount=Decimal("8.01"), reason="", on=TODAY, now=NOW)
    with pytest.raises(Refused, match="Say why it was thrown away"):
        take_out(**who, kind=MoveKind.DISCARDED, amount=Decimal(1), reason=" ", on=TODAY, now=NOW)
    with pytest.raises(Refused, match="Nothing was taken out"):
        take_out(**who, kind=MoveKind.USED, amount=Decimal(0), reason="", on=TODAY, now=NOW)
    with pytest.raises(Refused, match="between 2026-03-02"):
        take_out(**who, kind=MoveKind.USED, amount=Decimal(1), reason="", on=day(-1), now=NOW)
    with pytest.raises(Refused, match="Say why the count"):
        count(**who, amount=Decimal(1), reason="", on=TODAY, now=NOW)
    later = NOW + timedelta(days=1)
    with pytest.raises(Refused, match="thrown away, not used"):
        take_out(**who, kind=MoveKind.USED, amount=Decimal(1), reason="", on=day(1), now=later)
    take_out(**who, kind=MoveKind.DISCARDED, amount=Decimal(8), reason="expired", on=day(1), now=later)
    assert left_of(lot) == 0


def test_the_database_itself_keeps_moves_and_their_direction(owner: Staff) -> None:
    lot = put(owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        StockMove.objects.filter(lot=lot).update(hundredths=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        StockMove.objects.create(
            office=owner.office, lot=lot, sequence=2, kind="used", hundredths=5, on=TODAY, by=owner, at=NOW
        )


def test_a_lot_that_the_book_counts_otherwise_by_now_is_in_no_sum(owner: Staff) -> None:
    put(owner)
    book = books.current_book(owner.office, TODAY)
    other = tuple(
        row.model_copy(update={"unit": "ml"}) if row.key == "composite-enamel" else row for row in book.materials
    )
    found = shelf(owner.office, book.model_copy(update={"materials": other}), TODAY)
    assert [one.lot.code for one in found.unknown] == ["EM-1"]
    assert found.lots == ()
    assert [one.lot.code for one in shelf(owner.office, book.model_copy(update={"materials": ()}), TODAY).unknown]


def test_who_may_not_write_is_refused(owner: Staff, outsider: Staff) -> None:
    from planner.practice import services

    desk = services.add_staff(
        username="dora", full_name="Dora Desk", password="correct horse", roles=[Role.FRONT_DESK], actor=owner, now=NOW
    )
    with pytest.raises(NotAllowed):
        put(desk)
    lot = put(owner)
    with pytest.raises(NotAllowed):
        count(lot=lot, amount=Decimal(1), reason="mine", on=TODAY, actor=outsider, now=NOW)
    assert client_of(desk).get("/stock/").status_code == 200
    assert client_of(desk).get("/stock/receive/").status_code == 403
    with refusals() as noted:
        assert client_of(outsider).get(f"/stock/lot/{lot.public_id}/").status_code == 404
    assert noted


def test_a_lot_is_received_and_counted_on_the_pages_and_nothing_typed_is_lost(owner: Staff) -> None:
    client = client_of(owner)
    typed = {
        "material": "composite-enamel",
        "code": "EM-7",
        "packs": "2",
        "pack_amount": "4 ml",
        "expires": "2099-01-01",
        "received": "2026-03-02",
    }
    page = client.post("/stock/receive/", typed)
    assert "in g, not in ml" in page.content.decode()
    assert 'value="EM-7"' in page.content.decode()
    page = client.post("/stock/receive/", typed | {"pack_amount": "1e12"})
    assert "is not an amount" in page.content.decode()
    page = client.post("/stock/receive/", typed | {"pack_amount": "", "packs": "1e12"})
    assert "is not a whole number from 1 to 9999" in page.content.decode()
    done = client.post("/stock/receive/", typed | {"pack_amount": "4,5 g", "expires": ""})
    assert done.status_code == 302
    lot = StockLot.objects.get(code="EM-7")
    assert left_of(lot) == 900
    url = f"/stock/lot/{lot.public_id}/"
    moved = {"kind": "counted", "amount": "-3", "on": "2026-03-02", "reason": "Monday count"}
    assert "is not an amount" in client.post(url, moved).content.decode()
    assert "counted in g, not in ml" in client.post(url, moved | {"amount": "3 ml"}).content.decode()
    assert client.post(url, moved | {"amount": "8.75 g"}).status_code == 302
    assert left_of(lot) == 875
    text = client.get(url).content.decode()
    assert "−0.25" in text
    assert "Monday count" in text


def test_the_queries_of_the_list_do_not_grow_with_the_lots(owner: Staff) -> None:
    put(owner)
    client = client_of(owner)
    before = queries_of(client, "/stock/")
    for number in range(5):
        put(owner, code=f"more {number}", material="etch-gel", unit="ml", pack_amount=Decimal(12))
    assert queries_of(client, "/stock/") == before
