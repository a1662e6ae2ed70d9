"""The Monday page, its pictures and files, and the calls."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from planner.followup.access import load_called
from planner.followup.calling import agree_call, call_done, calling_of, to_call
from planner.followup.forms import AgreedForm, MadeForm, MonthsForm
from planner.followup.page import MONTHS, Page, Scope, by_months, mature_month, monday_page, months_back
from planner.followup.shown import HEAD, file_name, pictures, shown_blocks, table
from planner.letters.consents import still_open
from planner.patients.services import viewed
from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import act_on, exported
from planner.practice.again import ask_again
from planner.practice.fields import decimal_sign
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.practice.table_files import CSV_TYPE, XLSX_TYPE, write_csv, write_xlsx
from planner.rules.figure_words import DEFINITIONS


def monday(request: HttpRequest) -> HttpResponse:
    """Ten blocks: what was accepted and not booked, what is owed, what runs out, what came of what was planned."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.MONDAY)
    form, page = _page(request, actor, now)
    context = {"page": page, "blocks": shown_blocks(page), "form": form, "all": page.scope is not Scope.CALLS}
    context |= {"query": request.GET.urlencode(), "definitions": DEFINITIONS, **_ways(actor)}
    return render(request, "followup/monday.html", context)


def drawn(request: HttpRequest) -> HttpResponse:
    """What people would rather look at than read, each with its table."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.MONDAY)
    _form, page = _page(request, actor, now)
    months = by_months(actor, page.day) if page.scope is not Scope.CALLS else ()
    found = pictures(page, months) if page.scope is not Scope.CALLS else ()
    return render(request, "followup/pictures.html", {"page": page, "pictures": found, **_ways(actor)})


def file(request: HttpRequest, ending: str) -> HttpResponse:
    """The page as a table: CSV or XLSX, in which no cell is live."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.MONDAY)
    lead = _("Take the Monday page out as a file, with the names of patients.")
    if asks := ask_again(request, lead=lead, back=reverse("followup:monday"), file=True):
        return asks
    _form, page = _page(request, actor, now)
    rows = table(page)
    exported(actor=actor, act="monday.export", content={"ending": ending, "rows": len(rows)}, now=now)
    if ending == "csv":
        content, kind = write_csv(HEAD, rows, "," if decimal_sign() == "," else "."), CSV_TYPE
    else:
        content, kind = write_xlsx(HEAD, rows, "Monday"), XLSX_TYPE
    answer = HttpResponse(content, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{file_name(page.day, ending)}"'
    return answer


def calls(request: HttpRequest) -> HttpResponse:
    """Whom to call, the earliest first; those still to come stand below, and what patients asked and still wait for."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.CALL)
    day = books.today(actor.office, now)
    found = to_call(actor.office, day)
    due = [one for one in found if one.next is not None and one.next.due <= day]
    later = [one for one in found if one not in due]
    context = {"day": day, "lists": ((_("Due"), due), (_("Still to come"), later)), **_ways(actor)}
    context["questions"] = still_open(actor.office) if may(actor, Act.VIEW, Thing.LETTER) else None
    return render(request, "followup/calls.html", context)


def call(request: HttpRequest, public_id: str) -> HttpResponse:
    """One estimate's calls, and the form for the one that was just made."""
    actor, now = actor_of(request), timezone.now()
    act = Act.CREATE if request.method == "POST" else Act.VIEW
    estimate = load_called(actor=actor, public_id=public_id, act=act, now=now)
    known = calling_of(estimate, books.today(estimate.office, now))
    form = MadeForm(posted(request), initial={"seen": len(known.made) + 1})
    outcome = act_on(form, lambda data: call_done(estimate=estimate, actor=actor, now=now, **data))
    if outcome.done:
        messages.success(request, _("The call is written down."))
        return redirect("followup:call", public_id)
    context = {"known": known, "estimate": estimate, "patient": estimate.case.patient, "form": form}
    context["may_call"] = may(actor, Act.CREATE, Thing.CALL)
    answer = render(request, "followup/call.html", context)
    viewed(patient=estimate.case.patient, actor=actor, now=now, reason=f"calls about estimate {estimate}")
    return answer


def agreed(request: HttpRequest, public_id: str) -> HttpResponse:
    """The day the patient named."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_called(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    form = AgreedForm(posted(request))
    outcome = act_on(form, lambda data: agree_call(estimate=estimate, actor=actor, now=now, **data))
    if outcome.done:
        messages.success(request, _("The day is written down."))
        return redirect("followup:call", public_id)
    context = {"estimate": estimate, "patient": estimate.case.patient, "form": form}
    return render(request, "followup/agreed.html", context)


def _ways(actor: Staff) -> dict[str, bool]:
    """Which further ways stand at the top."""
    return {"sees_results": may(actor, Act.VIEW, Thing.RESULTS)}


def _page(request: HttpRequest, actor: Staff, now: Any) -> tuple[MonthsForm, Page]:
    """The page for the months that the address asks for; without any, the newest that are mature."""
    day = books.today(actor.office, now)
    known = {one.isoformat(): one for one in months_back(day, 36)}
    choices = [(key, date_format(one, "F Y")) for key, one in known.items()]
    newest = mature_month(day)
    form = MonthsForm(request.GET or None, choices=choices, initial={"last": newest.isoformat(), "months": MONTHS})
    asked = form.cleaned_data if form.is_valid() else {}
    last: date = known.get(asked.get("last", ""), newest)
    return form, monday_page(actor=actor, now=now, last_month=last, months=asked.get("months") or MONTHS)
