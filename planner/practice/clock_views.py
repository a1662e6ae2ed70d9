"""Pages of the office's own clock: what was timed, what it proposes, and taking a proposal into the office book."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.practice import books, timings
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import Outcome, act_on, last_words
from planner.practice.models import BookVersion, Staff
from planner.practice.requests import actor_of, posted
from planner.practice.stock_forms import AdoptForm, TimingForm
from planner.trail.errors import Refused


def clock(request: HttpRequest) -> HttpResponse:
    """Every piece of work that was timed, beside the minutes in the book and what the timings propose."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.TIMINGS)
    book = books.read_book(books.latest_version(actor.office).data)
    context = {
        "clocks": timings.own_clocks(actor.office, book),
        "may_note": may(actor, Act.CREATE, Thing.TIMINGS),
        "may_adopt": may(actor, Act.EDIT, Thing.BOOK),
    }
    return render(request, "practice/clock.html", context)


def clock_note(request: HttpRequest) -> HttpResponse:
    """Write a timing down."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.CREATE, Thing.TIMINGS)
    day = books.today(actor.office, now)
    blocks = timings.blocks_of(books.current_book(actor.office, day))
    people = Staff.objects.filter(office=actor.office, is_active=True)
    first = {"on": day, "teeth": 1, "block": request.GET.get("work", ""), "worked": actor.public_id}
    form = TimingForm(posted(request), blocks=blocks, people=list(people), initial=first)
    if request.method == "POST" and form.is_valid():
        try:
            timings.note_timing(timed=timings.Timed(**form.said()), actor=actor, now=now)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("The timing is kept. Nothing changes by itself."))
            return redirect("practice:clock_work", form.cleaned_data["block"])
    return render(request, "practice/clock_note.html", {"form": form})


def clock_work(request: HttpRequest, key: str) -> HttpResponse:
    """One piece of work: its timings, the proposal, and adopting it."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.TIMINGS)
    if request.method == "POST":
        require(actor, Act.EDIT, Thing.BOOK)
    last = books.latest_version(actor.office)
    found = timings.own_clocks(actor.office, books.read_book(last.data))
    one = next((each for each in found if each.block.key == key), None)
    if one is None:
        raise Http404
    if request.method == "POST" and one.proposal is None:
        messages.error(request, _("These timings stand in the book already. %(who)s") % {"who": last_words(last)})
        return redirect("practice:clock_work", key)
    form, outcome = None, Outcome()
    if one.proposal is not None and may(actor, Act.EDIT, Thing.BOOK):
        span = one.proposal.span
        first = {"fast": span.fast, "usual": span.usual, "slow": span.slow, "seen": last.number}
        form = AdoptForm(posted(request), initial=first)

        def save(data: dict[str, Any]) -> BookVersion:
            return timings.adopt(
                clock=one,
                span=form.span,
                seen=data["seen"],
                effective=max(books.today(actor.office, now), last.effective),
                reason=data["reason"],
                actor=actor,
                now=now,
            )

        in_book = {"fast": one.block.start.fast, "usual": one.block.start.usual, "slow": one.block.start.slow}
        outcome = act_on(form, save, theirs=lambda: AdoptForm(initial=in_book))
        if outcome.done:
            said = {"number": outcome.made.number}
            messages.success(request, _("The minutes stand in version %(number)s of the office book.") % said)
            return redirect("practice:clock_work", key)
    return render(request, "practice/clock_work.html", {"clock": one, "form": form, "book": last, "outcome": outcome})
