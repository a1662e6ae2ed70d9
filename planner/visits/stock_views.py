"""Pages of the shelf against booked visits: what is missing, what runs old, and the list to order by."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.practice import books
from planner.practice.access import Act, Thing, require
from planner.practice.acting import exported
from planner.practice.fields import decimal_sign
from planner.practice.requests import actor_of
from planner.practice.table_files import CSV_TYPE, write_csv
from planner.rules.units import format_cents
from planner.visits.stock_need import stock_need

COLUMNS = ("material", "words", "packs", "pack", "unit", "currency", "cost", "why")


def stock_against_visits(request: HttpRequest) -> HttpResponse:
    """Which booked visits the shelf cannot serve, and what runs old before them."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.STOCK)
    return render(request, "visits/stock_need.html", {"need": stock_need(actor.office, now)})


def stock_orders(request: HttpRequest) -> HttpResponse:
    """What to order, to be printed."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.STOCK)
    need = stock_need(actor.office, now)
    context = {"need": need, "currency": books.current_book(actor.office, need.day).currency}
    return render(request, "visits/stock_orders.html", context)


def stock_orders_csv(request: HttpRequest) -> HttpResponse:
    """The same list as a file. Text that looks like a formula goes out as text."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.STOCK)
    need = stock_need(actor.office, now)
    currency = books.current_book(actor.office, need.day).currency
    sign = "," if decimal_sign() == "," else "."
    rows = [
        (
            order.material,
            order.words,
            order.packs,
            order.pack_amount,
            order.unit,
            currency,
            None if order.cents is None else format_cents(order.cents).replace(".", sign),
            order.why,
        )
        for order in need.orders
    ]
    exported(actor=actor, act="stock.export", content={"rows": len(rows)}, now=now)
    answer = HttpResponse(write_csv(COLUMNS, rows, sign), content_type=CSV_TYPE)  # type: ignore[arg-type]
    answer["Content-Disposition"] = f'attachment; filename="order-{need.day.isoformat()}.csv"'
    return answer
