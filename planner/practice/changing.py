"""Changing one part of the office book on a page: the form, then what would change, then the new version."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from planner.practice import books, drafts
from planner.practice.book_forms import WhenAndWhyForm
from planner.practice.fields import PlainForm
from planner.practice.models import BookVersion, Staff
from planner.rules.book import OfficeBook
from planner.rules.bookfile import BookError
from planner.trail.errors import Refused, StaleEdit


@dataclass(frozen=True)
class Part:
    """One part of the book as a page changes it: the form, the new book it makes, and what that would change."""

    template: str
    form: PlainForm
    build: Callable[[date, str], OfficeBook]
    """The new book, from the day and the reason that were typed."""
    changes: Callable[[OfficeBook], tuple[drafts.Change, ...]]
    begins: Callable[[date], date]
    """From the day that was typed, the day on which the new book version begins."""
    earliest: date
    hint: str
    done: str
    after: str = "practice:office"
    """Address the browser goes to when it is saved."""
    first: date | None = None
    """The day that stands in the form at first, such as that of a list still to come; the earliest where none does."""


def base_of(actor: Staff) -> tuple[BookVersion, OfficeBook, date]:
    """The newest version of the book, the book in it, and the day in the office."""
    last = books.latest_version(actor.office)
    return last, books.read_book(last.data), books.today(actor.office, timezone.now())


def change(request: HttpRequest, actor: Staff, last: BookVersion, part: Part, **context: Any) -> HttpResponse:
    """Show the form, then what would change, then save: the three steps of every part of the book."""
    when = WhenAndWhyForm(
        request.POST or None,
        earliest=part.earliest,
        hint=part.hint,
        initial={"effective": part.first or part.earliest, "seen": last.number},
    )
    wanted = request.POST.get("action", "")
    context |= {"form": part.form, "when": when, "changes": None, "earlier": last}
    # Both are looked at, so that all faults are told at once.
    if not all([part.form.is_valid(), when.is_valid()]) or wanted not in ("preview", "save"):
        return render(request, part.template, context)
    effective, seen = when.cleaned_data["effective"], when.cleaned_data["seen"]
    context["seen"] = seen
    if seen != last.number:  # told before anything is decided: what is saved now stands beside what was typed
        context |= {"seen": last.number, "stale": _stale(seen, last)}
    try:
        new = part.build(effective, when.cleaned_data["reason"])
        context["changes"] = part.changes(new)
        if wanted == "save" and seen == last.number:
            books.change_book(
                office=actor.office,
                book=new,
                effective=part.begins(effective),
                reason=when.cleaned_data["reason"],
                seen=seen,
                actor=actor,
                now=timezone.now(),
            )
            messages.success(request, part.done)
            return redirect(part.after)
    except BookError as error:
        for fault in error.faults:
            part.form.add_error(None, fault)
    except StaleEdit:  # saved between the two looks at it
        newest = books.latest_version(actor.office)
        context |= {"stale": _stale(seen, newest)}  # the next press is held against it first
    except Refused as refusal:
        when.refuse(refusal.field, refusal.sentence)
    if part.form.errors or when.errors:
        context["changes"] = None
    context["typed"] = [
        (name, value)
        for name, values in request.POST.lists()
        if name not in ("csrfmiddlewaretoken", "action", "seen")
        for value in values
    ]
    return render(request, part.template, context)


def _stale(seen: int, last: BookVersion) -> tuple[str, str]:
    """Why nothing was saved, and who saved what came between, with the reason."""
    found = StaleEdit("The office book", yours={}, theirs={}, seen=seen, version=last.number)
    said = {"who": last.set_by.full_name, "moment": date_format(timezone.localtime(last.at), "j F Y, H:i")}
    return found.sentence, _("%(who)s saved it (%(moment)s), with the reason:") % said + f" {last.reason}"
