"""Opening the first office in the browser: seven short pages, kept in the session until the last one opens it whole.

No password is kept: the owner chooses it on the last page, and the others get one-time passwords shown once.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.practice import drafts
from planner.practice.book_forms import LEGAL_KEYS, NUMBERINGS, FirstLegalForm, OfficeForm, OpeningForm, PricesForm
from planner.practice.entering import let_in
from planner.practice.forms import OpenOfficeForm, OwnerForm, people_form_set
from planner.practice.models import Office
from planner.practice.opening import open_whole_office
from planner.rules.book import OfficeBook
from planner.rules.bookfile import BookError
from planner.trail.errors import Refused

STEPS: tuple[tuple[str, str | Promise], ...] = (
    ("owner", _("Owner")),
    ("office", _("Office")),
    ("opening", _("Opening hours")),
    ("people", _("People")),
    ("prices", _("Price list")),
    ("legal", _("Legal settings")),
    ("ready", _("Read over")),
)
NAMES = tuple(name for name, _words in STEPS)
_KEPT = "begin"
_MOST_PEOPLE = 40


@login_not_required
def begin(request: HttpRequest, step: str = "owner") -> HttpResponse:
    """One page of the sequence. Refused once there is an office."""
    if Office.objects.exists():
        raise PermissionDenied(_now("This installation has an office already: sign in to it."))
    if step not in NAMES:
        raise Http404
    kept = request.session.get(_KEPT, {})
    undone = next((name for name in NAMES[: NAMES.index(step)] if not _form(name, kept).is_valid()), None)
    if undone:
        return redirect("practice:begin_step", undone)
    if step == "ready":
        return _ready(request, kept)
    if request.method != "POST":
        return _page(request, step, _form(step, kept))
    sent = _plain(request.POST)
    if request.POST.get("action") == "more":
        shown = request.POST.get("form-TOTAL_FORMS", "")
        sent["form-TOTAL_FORMS"] = [str(min(int(shown) + 3, _MOST_PEOPLE))] if shown.isdecimal() else [shown]
    kept = kept | {step: sent}
    request.session[_KEPT] = kept
    form = _form(step, kept)
    if request.POST.get("action") == "more" or not form.is_valid():
        return _page(request, step, form)
    return redirect("practice:begin_step", NAMES[NAMES.index(step) + 1])


def _ready(request: HttpRequest, kept: Mapping[str, Any]) -> HttpResponse:
    """Everything to be read over, the password, and the one act that stores it all."""
    now = timezone.now()
    forms = {name: _form(name, kept) for name in NAMES[:-1]}
    for each in forms.values():
        each.is_valid()  # the caller has looked: this only fills in what was read
    form = OpenOfficeForm(request.POST or None)
    day = now.astimezone(ZoneInfo(forms["office"].cleaned_data["time_zone"])).date()
    try:
        book = _book(forms, day)
    except BookError as error:
        return _page(request, "ready", form, forms=forms, faults=error.faults)
    if form.is_valid():
        try:
            _office, owner, given = open_whole_office(
                book=book,
                effective=day,
                owner=forms["owner"].person(),
                password=form.cleaned_data["password"],
                staff=forms["people"].people(),
                now=now,
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            del request.session[_KEPT]
            let_in(request, owner)
            return render(request, "practice/begin_done.html", {"given": given})
    unpriced = sum(1 for line in book.price_lists[0].services if line.cents is None and line.shape != "included")
    hours = [(drafts.weekday_name(number), drafts.hours_words(book, number)) for number in range(7)]
    context = {
        "book": book,
        "forms": forms,
        "hours": hours,
        "unpriced": unpriced,
        "numbering": dict(NUMBERINGS)[book.numbering],
        "legal": [(label, book.legal_on(key, day)) for key, label, _hint in LEGAL_KEYS if book.legal_on(key, day)],
    }
    return _page(request, "ready", form, **context)


def _form(step: str, kept: Mapping[str, Any]) -> Any:
    """The form of a step, holding what was typed before, if anything was."""
    data = _typed(kept.get(step))
    today = timezone.now().date()
    if step == "owner":
        return OwnerForm(data)
    if step == "office":
        return OfficeForm(data, initial={"numbering": "iso"})
    if step == "opening":
        return OpeningForm(data)
    if step == "people":
        return people_form_set(data, most=_MOST_PEOPLE, owner=_said(kept, "owner", "username"))
    if step == "prices":
        return PricesForm(data, prices=drafts.starter_book(today).price_lists[0])
    return FirstLegalForm(data, initial={"effective": today, "set_by": _said(kept, "owner", "full_name")})


def _book(forms: Mapping[str, Any], day: date) -> OfficeBook:
    """The office book that the pages come to. Raises BookError with every fault."""
    said = {
        name: forms["office"].cleaned_data[name] for name in ("office", "place", "currency", "numbering", "time_zone")
    }
    book = drafts.checked(drafts.starter_book(day), **said)
    book = drafts.with_opening(book, **forms["opening"].opening())
    book = drafts.with_first_prices(book, services=forms["prices"].services(), effective=day)
    legal, taxes = forms["legal"].settings()
    return drafts.with_legal(book, legal=legal, taxes=taxes)


def _page(request: HttpRequest, step: str, form: Any, **context: Any) -> HttpResponse:
    steps = [(name, words, name == step) for name, words in STEPS]
    before = NAMES[NAMES.index(step) - 1] if step != NAMES[0] else ""
    context |= {"form": form, "step": step, "steps": steps, "before": before, "number": NAMES.index(step) + 1}
    return render(request, f"practice/begin_{step}.html", context)


def _plain(sent: QueryDict) -> dict[str, list[str]]:
    return {name: values for name, values in sent.lists() if name not in ("csrfmiddlewaretoken", "action")}


def _typed(kept: Mapping[str, list[str]] | None) -> QueryDict | None:
    if kept is None:
        return None
    data = QueryDict(mutable=True)
    for name, values in kept.items():
        data.setlist(name, values)
    return data


def _said(kept: Mapping[str, Any], step: str, name: str) -> str:
    return str(kept.get(step, {}).get(name, [""])[0])
