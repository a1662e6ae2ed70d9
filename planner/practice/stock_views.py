"""Pages of stock: what there is, a lot that came, and what happened to a lot."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.practice import books
from planner.practice.access import Act, Thing, load, may, require
from planner.practice.requests import actor_of, posted
from planner.practice.stock import Arrival, count, left_of, receive, shelf, shown, take_out
from planner.practice.stock_forms import ArrivalForm, MoveForm
from planner.practice.stock_models import MoveKind, StockLot
from planner.trail.errors import Refused


def stock(request: HttpRequest) -> HttpResponse:
    """What is on the shelf, what expires and what is below its mark."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.STOCK)
    day = books.today(actor.office, now)
    found = shelf(actor.office, books.current_book(actor.office, day), day)
    context = {
        "shelf": found,
        "day": day,
        "below": [line for line in found.lines if line.below],
        "held": [line for line in found.lines if line.lots],
        "empty": [line for line in found.lines if not line.lots],
        "may_receive": may(actor, Act.CREATE, Thing.STOCK),
    }
    return render(request, "practice/stock.html", context)


def stock_receive(request: HttpRequest) -> HttpResponse:
    """Put packs on the shelf."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.CREATE, Thing.STOCK)
    day = books.today(actor.office, now)
    first = {"received": day, "material": request.GET.get("material", "")}
    form = ArrivalForm(posted(request), book=books.current_book(actor.office, day), initial=first)
    if request.method == "POST" and form.is_valid():
        try:
            lot = receive(arrival=Arrival(**form.said()), actor=actor, now=now)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("Lot %(code)s is on the shelf.") % {"code": lot.code})
            return redirect("practice:stock")
    return render(request, "practice/stock_receive.html", {"form": form})


def stock_lot(request: HttpRequest, public_id: str) -> HttpResponse:
    """One lot with everything that happened to it, and the form for what happened now."""
    actor, now = actor_of(request), timezone.now()
    act = Act.EDIT if request.method == "POST" else Act.VIEW
    rows = StockLot.objects.select_related("office", "by")
    lot = load(rows, public_id, actor=actor, act=act, thing=Thing.STOCK, now=now)
    day = books.today(actor.office, now)
    form = MoveForm(posted(request), unit=lot.unit, initial={"on": day, "kind": MoveKind.USED.value})
    if request.method == "POST" and form.is_valid() and _moved(form, lot, request):
        return redirect("practice:stock_lot", lot.public_id)
    left, moves = 0, []
    for move in lot.moves.select_related("by"):
        left += move.hundredths
        moves.append((move, f"{'+' if move.hundredths > 0 else '−'}{shown(abs(move.hundredths))}", shown(left)))
    known = {row.key: row.words for row in books.current_book(actor.office, day).materials}
    context = {
        "lot": lot,
        "words": known.get(lot.material, lot.material),
        "pack": shown(lot.pack_hundredths),
        "left": shown(left),
        "expired": lot.expires is not None and lot.expires < day,
        "moves": moves,
        "form": form if may(actor, Act.EDIT, Thing.STOCK) else None,
    }
    return render(request, "practice/stock_lot.html", context)


def _moved(form: MoveForm, lot: StockLot, request: HttpRequest) -> bool:
    """Whether what was written could be done; else the form says why not."""
    data, actor, now = form.cleaned_data, actor_of(request), timezone.now()
    kind = MoveKind(data["kind"])
    said = {"lot": lot, "amount": data["amount"], "reason": data["reason"], "on": data["on"]}
    try:
        if kind is MoveKind.COUNTED:
            count(**said, actor=actor, now=now)
        else:
            take_out(**said, kind=kind, actor=actor, now=now)
    except Refused as refusal:
        form.refuse(refusal.field, refusal.sentence)
        return False
    left = {"left": shown(left_of(lot)), "unit": lot.unit}
    messages.success(request, _("Noted. %(left)s %(unit)s is left of this lot.") % left)
    return True
