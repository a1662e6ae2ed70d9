"""Pages of the office book's tables: to be read, and changed row by row or table by table."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.practice import drafts
from planner.practice.access import Act, Thing, may, require
from planner.practice.catalogue import in_force
from planner.practice.changing import Part, base_of, change
from planner.practice.column_words import COLUMN_WORDS
from planner.practice.fields import day_words
from planner.practice.part_forms import MOST_ROWS, RowsForm
from planner.practice.requests import actor_of, posted
from planner.rules.book import OfficeBook, Service
from planner.rules.book_tables import DISCOUNTS, MATERIALS, MINUTES, PACKAGES, SERVICES, SHOWN, STAGES, Table, shown


@dataclass(frozen=True)
class Section:
    """One table of the book as its pages know it."""

    table: Table
    title: Any
    lead: Any
    field: str
    """The book's field that holds it; empty for what stands inside a price list."""
    row_by_row: bool = False
    """Its rows have so many columns that each is changed on a page of its own."""

    def rows(self, book: OfficeBook, day: date) -> tuple[Any, ...]:
        """The rows as the newest book has them."""
        if self.field:
            return tuple(getattr(book, self.field))
        return drafts.next_prices(book, day).packages


SECTIONS = {
    "materials": Section(
        MATERIALS,
        _("Materials"),
        _("What a pack holds and costs, and what a tooth, a visit or an arch uses of it."),
        "materials",
        row_by_row=True,
    ),
    "minutes": Section(
        MINUTES,
        _("Minutes"),
        _("How long each block of work takes here: fast, usual and slow. They scale a treatment's own minutes."),
        "minutes",
    ),
    "packages": Section(
        PACKAGES,
        _("Packages"),
        _("A discount that follows from the set by itself, and goes again when the set shrinks."),
        "",
    ),
    "discounts": Section(
        DISCOUNTS,
        _("Discount limits"),
        _("Who may allow how much. What fits no line is allowed to nobody; a line that nobody allows is forbidden."),
        "discount_limits",
    ),
    "stages": Section(
        STAGES,
        _("Stages that earn a fee"),
        _("How the fee of work made outside the mouth is earned; the shares come to 100."),
        "earning_stages",
    ),
}


def _section(part: str) -> Section:
    if part not in SECTIONS:
        raise Http404
    return SECTIONS[part]


def table(request: HttpRequest, part: str) -> HttpResponse:
    """One table, to be read."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.BOOK)
    section = _section(part)
    _last, book, day = base_of(actor)
    rows = section.rows(book, day)
    context = {
        "slug": part,
        "section": section,
        "heads": [COLUMN_WORDS[column.field] for column in section.table.columns],
        "rows": [_cells(section.table, row) for row in rows[:SHOWN]],
        "more": max(0, len(rows) - SHOWN),
        "may_edit": may(actor, Act.EDIT, Thing.BOOK),
        "by_file": len(rows) > MOST_ROWS and not section.row_by_row,
        "currency": book.currency,
    }
    return render(request, "practice/table.html", context)


def _cells(of: Table, row: Any) -> dict[str, Any]:
    numbers = ("amount", "number", "whole")
    return {
        "key": getattr(row, "key", ""),
        "cells": [(shown(column, row), column.kind in numbers) for column in of.columns],
    }


def rows(request: HttpRequest, part: str) -> HttpResponse:
    """Change a table whole."""
    actor = actor_of(request)
    require(actor, Act.EDIT, Thing.BOOK)
    section = _section(part)
    last, book, day = base_of(actor)
    kept = section.rows(book, day)
    if section.row_by_row or len(kept) > MOST_ROWS:
        raise Http404
    form = RowsForm(posted(request), table=section.table, rows=kept, blank=3)
    return change(
        request,
        actor,
        last,
        _part(section, "practice/rows.html", form, lambda: form.taken, book, day, max(day, last.effective)),
        section=section,
        slug=part,
    )


def row(request: HttpRequest, part: str) -> HttpResponse:
    """Change one row of a long table, or add one; ``?key=`` names it."""
    actor = actor_of(request)
    require(actor, Act.EDIT, Thing.BOOK)
    section = _section(part)
    last, book, day = base_of(actor)
    kept = section.rows(book, day)
    key = request.GET.get("key", "")
    mine = tuple(one for one in kept if getattr(one, "key", None) == key)
    # Somebody may have taken the row out while it was edited here: what was typed then makes it anew.
    if not section.row_by_row or (key and not mine and request.method != "POST"):
        raise Http404
    form = RowsForm(posted(request), table=section.table, rows=mine, blank=0 if mine else 1)
    made = _part(
        section,
        "practice/row.html",
        form,
        lambda: _replaced(kept, key, form.taken),
        book,
        day,
        max(day, last.effective),
    )
    title = key or _now("a new one")
    return change(request, actor, last, made, section=section, slug=part, title=title)


def _replaced(kept: Iterable[Any], key: str, taken: tuple[Any, ...]) -> tuple[Any, ...]:
    """``kept`` with the row ``key`` replaced where it stands, or the new one at its end."""
    kept = tuple(kept)
    place = next((place for place, one in enumerate(kept) if one.key == key), len(kept))
    return (*kept[:place], *taken, *kept[place + 1 :])


def _part(
    section: Section,
    template: str,
    form: RowsForm,
    taken: Callable[[], tuple[Any, ...]],
    book: OfficeBook,
    day: date,
    earliest: date,
) -> Part:
    """The three steps for a table: of the book from a day on, or of the next price list."""
    in_list = not section.field
    first = max(earliest, day + timedelta(days=1)) if in_list else earliest

    def build(effective: date, _reason: str) -> OfficeBook:
        if in_list:
            return drafts.with_packages(book, packages=taken(), effective=effective, day=day)
        return drafts.checked(book, **{section.field: taken()})

    return Part(
        template=template,
        form=form,
        build=build,
        changes=lambda new: drafts.table_changes(section.table, section.rows(book, day), section.rows(new, day)),
        begins=lambda effective: earliest if in_list else effective,
        earliest=first,
        first=max(first, drafts.next_prices(book, day).effective) if in_list else None,
        hint=_now("They belong to the next price list, which begins tomorrow or later.")
        if in_list
        else _now("Today or later; the earliest day is %(day)s.") % {"day": day_words(first)},
        done=_now("It is stored."),
    )


def line(request: HttpRequest) -> HttpResponse:
    """Change one line of the next price list in everything, add one, or take one out; ``?key=`` names it."""
    actor = actor_of(request)
    require(actor, Act.EDIT, Thing.BOOK)
    last, book, day = base_of(actor)
    base, key = drafts.next_prices(book, day), request.GET.get("key", "")
    mine = tuple(one for one in base.services if one.key == key)
    if key and not mine and request.method != "POST":
        raise Http404
    form = RowsForm(posted(request), table=SERVICES, rows=mine, blank=0 if mine else 1)
    first = max(day + timedelta(days=1), last.effective)

    def build(effective: date, _reason: str) -> OfficeBook:
        typed: Service | None = form.taken[0] if form.taken else None
        name = key or (typed.key if typed else "")
        _refuse_loss(form, name, typed)
        return drafts.with_line(book, key=name, line=typed, effective=effective, day=day)

    part = Part(
        template="practice/row.html",
        form=form,
        build=build,
        changes=lambda new: drafts.table_changes(SERVICES, base.services, drafts.next_prices(new, day).services),
        begins=lambda _effective: max(day, last.effective),
        earliest=first,
        first=max(first, base.effective),
        hint=_now("Tomorrow or later, because what was shown today was shown under the list in effect."),
        done=_now("The price list is stored and begins on its day."),
    )
    title = mine[0].words if mine else key or _now("A new line of the price list")
    return change(request, actor, last, part, section=None, title=title)


def _refuse_loss(form: RowsForm, key: str, typed: Service | None) -> None:
    """A line that treatments ask for by its key stays in the list."""
    asked = {charge.service for each in in_force().catalogue.treatments.values() for charge in each.charges}
    if key in asked and (typed is None or typed.key != key):
        form.add_error(
            None, _now("Treatments ask for “%(key)s”, so that the list has to keep it under this key.") % {"key": key}
        )
