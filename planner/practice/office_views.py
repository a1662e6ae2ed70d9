"""Pages of the office book: what is set, and changing one part of it after seeing what would change."""

from datetime import date, timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.practice import books, drafts
from planner.practice.access import Act, Thing, may, require
from planner.practice.book_forms import LEGAL_KEYS, NUMBERINGS, LegalForm, OpeningForm, PricesForm
from planner.practice.changing import Part, base_of, change
from planner.practice.fields import day_words
from planner.practice.requests import actor_of
from planner.rules.book import OfficeBook, TaxRate
from planner.rules.office_law import TEXT_SETTINGS


def office(request: HttpRequest) -> HttpResponse:
    """The office book in force, and what is still to come."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.BOOK)
    day = books.today(actor.office, timezone.now())
    last = books.latest_version(actor.office)
    book, newest = books.current_book(actor.office, day), books.read_book(last.data)
    context = {
        "book": book,
        "version": last,
        "numbering": dict(NUMBERINGS)[book.numbering],
        "day": day,
        "later": last.effective > day,
        "hours": [(drafts.weekday_name(number), drafts.hours_words(book, number)) for number in range(7)],
        "closed_days": [closed for closed in book.closed_days if closed >= day],
        "prices": book.price_list_on(day),
        "price_lists": sorted(newest.price_lists, key=lambda prices: prices.effective, reverse=True),
        "legal": [
            (label, book.legal_on(key, day), unset)
            for key, label, unset in (
                *((key, label, "") for key, label, _hint in LEGAL_KEYS),
                *((one.key, one.label, one.unset) for one in TEXT_SETTINGS),
            )
        ],
        "taxes": newest.tax_rates,
        "may_edit": may(actor, Act.EDIT, Thing.BOOK),
        "may_time": may(actor, Act.VIEW, Thing.TIMINGS),
        "may_keep": may(actor, Act.VIEW, Thing.ERASURE),
        "may_set": may(actor, Act.APPROVE, Thing.LEGAL) and may(actor, Act.EDIT, Thing.BOOK),
    }
    return render(request, "practice/office.html", context)


def prices(request: HttpRequest, version: int) -> HttpResponse:
    """One price list, to be read."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.BOOK)
    day = books.today(actor.office, timezone.now())
    newest = books.read_book(books.latest_version(actor.office).data)
    shown = next((one for one in newest.price_lists if one.version == version), None)
    if shown is None:
        raise Http404
    context = {
        "prices": shown,
        "book": newest,
        "to_come": shown.effective > day,
        "in_force": books.current_book(actor.office, day).price_list_on(day) == shown,
        "may_edit": may(actor, Act.EDIT, Thing.BOOK),
    }
    return render(request, "practice/prices.html", context)


def opening(request: HttpRequest) -> HttpResponse:
    """Change opening hours, closed days and chairs."""
    actor = actor_of(request)
    require(actor, Act.EDIT, Thing.BOOK)
    last, book, day = base_of(actor)
    form = OpeningForm(request.POST or None, book=book)
    earliest = max(day, last.effective)
    part = Part(
        template="practice/opening.html",
        form=form,
        build=lambda _effective, _reason: drafts.with_opening(book, **form.opening()),
        changes=lambda new: drafts.opening_changes(book, new),
        begins=lambda effective: effective,
        earliest=earliest,
        hint=_("Today or later; the earliest day is %(day)s.") % {"day": day_words(earliest)},
        done=_("The opening hours are set."),
    )
    return change(request, actor, last, part)


def next_prices(request: HttpRequest) -> HttpResponse:
    """Make the next price list; the one in effect is never edited."""
    actor = actor_of(request)
    require(actor, Act.EDIT, Thing.BOOK)
    last, book, day = base_of(actor)
    base = drafts.next_prices(book, day)
    form = PricesForm(request.POST or None, prices=base)
    earliest = max(day + timedelta(days=1), last.effective)
    part = Part(
        template="practice/next_prices.html",
        form=form,
        build=lambda effective, _reason: drafts.with_prices(
            book, services=form.services(), effective=effective, day=day
        ),
        changes=lambda new: drafts.price_changes(base, drafts.next_prices(new, day)),
        begins=lambda _effective: max(day, last.effective),
        earliest=earliest,
        first=max(earliest, base.effective),
        hint=_("Tomorrow or later, because what was shown today was shown under the list in effect."),
        done=_("The price list is stored and begins on its day."),
    )
    return change(request, actor, last, part, base=base, coming=base.effective > day)


def legal(request: HttpRequest) -> HttpResponse:
    """Set something with legal weight, dated, in one's own name."""
    actor = actor_of(request)
    require(actor, Act.APPROVE, Thing.LEGAL)
    require(actor, Act.EDIT, Thing.BOOK)
    last, book, day = base_of(actor)
    form = LegalForm(request.POST or None)
    earliest = max(day, last.effective)

    def build(effective: date, reason: str) -> OfficeBook:
        said = form.setting(effective=effective, set_by=actor.full_name, reason=reason)
        if isinstance(said, TaxRate):
            return drafts.with_legal(book, taxes=[said])
        return drafts.with_legal(book, legal=[said])

    part = Part(
        template="practice/legal.html",
        form=form,
        build=build,
        changes=lambda new: drafts.legal_changes(book, new),
        begins=lambda _effective: max(day, last.effective),
        earliest=earliest,
        hint=_("Today or later, a tax tomorrow or later; the earliest day is %(day)s.") % {"day": day_words(earliest)},
        done=_("The setting is stored."),
    )
    return change(request, actor, last, part)
