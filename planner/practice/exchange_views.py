"""Pages on which prices, materials and minutes go out as files and come in again."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from planner.practice import books, exchange
from planner.practice.access import Act, Thing, load, may, require
from planner.practice.again import ask_again
from planner.practice.book_forms import WhenAndWhyForm
from planner.practice.fields import PlainForm, day_words, decimal_sign
from planner.practice.models import BookFile, BookVersion
from planner.practice.requests import actor_of
from planner.rules.book_reading import DecimalSign
from planner.rules.book_tables import head_of
from planner.trail.errors import Refused

PARTS = [("prices", _("Price lists")), ("materials", _("Materials")), ("minutes", _("Minutes"))]
SIGNS = [(".", _("point, as in 1480.50")), (",", _("comma, as in 1480,50"))]
_HERE = "<!-- what was read -->"


class FileForm(PlainForm):
    """A file that is sent, what it holds, and how it writes decimals."""

    part = forms.ChoiceField(label=_("What it holds"), choices=PARTS, widget=forms.RadioSelect)
    decimals = forms.ChoiceField(
        label=_("Sign before decimals"),
        choices=SIGNS,
        widget=forms.RadioSelect,
        help_text=_("For text in the file; numbers of a spreadsheet have none."),
    )
    file = forms.FileField(
        label=_("File"),
        help_text=_("CSV in UTF-8, or XLSX; 5 MB and 20,000 rows at most."),
        error_messages={"empty": _("The file is empty.")},
    )


def files(request: HttpRequest) -> HttpResponse:
    """What can go out and come in; a file that is sent is kept and then looked at."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.BOOK)
    form = FileForm(request.POST or None, request.FILES or None, initial={"part": "prices", "decimals": decimal_sign()})
    if request.method == "POST" and form.is_valid():
        sent, data = form.cleaned_data["file"], form.cleaned_data
        try:
            kept = exchange.keep_file(
                part=data["part"],
                name=sent.name or "",
                content=sent.read(),
                sign=data["decimals"],
                actor=actor,
                now=timezone.now(),
            )
            return redirect("practice:file", kept.public_id)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
    columns = [(words, head_of(exchange.PARTS[part])) for part, words in PARTS]
    context = {"form": form, "parts": PARTS, "columns": columns, "may_edit": may(actor, Act.EDIT, Thing.BOOK)}
    return render(request, "practice/files.html", context)


def export(request: HttpRequest, part: str, kind: str) -> HttpResponse:
    """Prices, materials or minutes as a file."""
    if part not in exchange.PARTS or kind not in ("csv", "xlsx"):
        raise Http404
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.BOOK, subject=actor.office)
    lead = _now("Take a table of the office book out as a file.")
    if asks := ask_again(request, lead=lead, back=reverse("practice:files"), file=True):
        return asks
    sign: DecimalSign = "," if request.GET.get("decimals", decimal_sign()) == "," else "."
    version = request.GET.get("list", "")
    versions = (int(version),) if version.isdecimal() and len(version) < 8 else ()
    found = exchange.export(part=part, kind=kind, sign=sign, versions=versions, actor=actor, now=timezone.now())
    response = HttpResponse(found.content, content_type=found.content_type)
    response["Content-Disposition"] = f'attachment; filename="{found.name}"'
    return response


def file(request: HttpRequest, public_id: str) -> HttpResponseBase:
    """Look at a file that was sent, and take it. The page comes in pieces, so that one sees how far reading is."""
    actor = actor_of(request)
    now = timezone.now()
    kept = load(BookFile.objects.all(), public_id, actor=actor, act=Act.EDIT, thing=Thing.BOOK, now=now)
    last, day = books.latest_version(actor.office), books.today(actor.office, now)
    when = _when(request, kept, last, earliest=max(day, last.effective))
    if request.method == "POST" and when.is_valid():
        try:
            data = when.cleaned_data
            exchange.take_file(
                file=kept,
                seen_sha256=request.POST.get("sha256", ""),
                seen=data["seen"],
                effective=data.get("effective"),
                reason=data["reason"],
                actor=actor,
                now=now,
            )
            messages.success(request, _now("The file is taken into the office book."))
            return redirect("practice:office")
        except Refused as refusal:  # a StaleEdit too: the page below holds the file against the book as it is now
            when.refuse(refusal.field, refusal.sentence)
    looking = exchange.Looking(kept, books.read_book(last.data), day)
    return StreamingHttpResponse(_pieces(request, looking, {"file": kept, "when": when, "last": last}))


def _when(request: HttpRequest, kept: BookFile, last: BookVersion, earliest: Any) -> WhenAndWhyForm:
    form = WhenAndWhyForm(
        request.POST or None,
        earliest=earliest,
        hint=_now("Today or later; the earliest day is %(day)s.") % {"day": day_words(earliest)},
        initial={"effective": earliest, "seen": last.number},
    )
    if kept.part == "prices":  # each list begins on the day that stands in the file
        del form.fields["effective"]
    return form


def _pieces(request: HttpRequest, looking: exchange.Looking, context: dict[str, Any]) -> Iterator[str]:
    """The page up to where the file is read, a line for every step of reading, and the rest."""
    get_token(request)
    page = render_to_string("practice/file.html", context, request)
    before, after = page.split(_HERE)

    def pieces() -> Iterator[str]:
        yield before
        for rows in looking:
            words = ngettext("%(rows)s row read", "%(rows)s rows read", rows) % {"rows": f"{rows:,}"}
            yield f"<li>{words}</li>\n"
        found = looking.found
        shown = {"found": found, "rows": looking.rows, "tomorrow": looking.day + timedelta(days=1), **context}
        yield render_to_string("practice/part_file.html", shown, request)
        yield after

    return pieces()
