"""Pages of the spaces of a case: what sharing them comes to, trying other values, and keeping what is decided."""

from dataclasses import replace
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients.services import viewed
from planner.plans.access import load_case
from planner.plans.basis import newer_basis
from planner.plans.facts import case_facts
from planner.plans.models import Case
from planner.plans.space_changes import answer_gaps, keep_locks
from planner.plans.space_forms import SpaceForm
from planner.plans.space_shown import ShownSpaces, shown_spaces
from planner.plans.space_table import gap_rows, heads, tooth_rows
from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.models import Staff
from planner.practice.requests import actor_of
from planner.rules.contradictions import contradictions
from planner.rules.mouth import CaseFacts
from planner.rules.plan import share_spaces
from planner.trail.errors import Refused, StaleEdit


def spaces(request: HttpRequest, public_id: str) -> HttpResponse:
    """How the spaces are shared as things stand; posted, as they would be with what was typed. Stores nothing."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, thing=Thing.LOCKS, now=now)
    form = _form(case, request.POST if request.method == "POST" else None, now)
    if request.method == "POST" and request.POST.get("action") == "decide":
        return _decide(request, case, form, actor, now)
    answer = _page(request, case, form, actor, now)
    if request.method != "POST":
        viewed(patient=case.patient, actor=actor, now=now, reason=f"spaces of case {case.name}")
    return answer


def spaces_keep(request: HttpRequest, public_id: str) -> HttpResponse:
    """Keep the locks as typed, each with its reason: all of them, or none."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, act=Act.EDIT, thing=Thing.LOCKS, now=now)
    if request.method != "POST":
        return redirect("plans:spaces", public_id)
    if (changed := _changed_since(request, case)) is not None:
        return _both(request, case, changed, actor, now)
    form = _form(case, request.POST, now)
    facts = _tried(case, form, now)
    changes = form.changes()
    missing = {change.key for change in changes if not change.reason}
    context: dict[str, Any] = {"missing": missing}
    if facts is not None and changes and not missing:
        try:
            keep_locks(
                case=case,
                seen=_seen(request),
                fixed=[change.lock for change in changes if change.lock is not None],
                let_go=[(change.before, change.reason) for change in changes if change.before and not change.lock],
                actor=actor,
                now=now,
            )
        except StaleEdit as refusal:
            return _both(request, case, refusal, actor, now)
        except Refused as refusal:
            form.faults_beside.append(refusal.sentence)
        else:
            messages.success(request, _("The locks are kept, each with its reason."))
            return redirect("plans:spaces", public_id)
    return _page(request, case, form, actor, now, **context)


def spaces_findings(request: HttpRequest, public_id: str) -> HttpResponse:
    """Record the film answers and ticks of gaps in the examination the case rests on, or in a new set."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, act=Act.EDIT, thing=Thing.LOCKS, now=now)
    if request.method != "POST":
        return redirect("plans:spaces", public_id)
    if (changed := _changed_since(request, case)) is not None:
        return _both(request, case, changed, actor, now)
    form = _form(case, request.POST, now)
    facts = _tried(case, form, now)
    if facts is not None and form.findings():
        answers = {frozenset(pair): values for pair, _words, values in form.findings()}
        try:
            answer_gaps(case=case, seen=_seen(request), answers=answers, actor=actor, now=now)
        except StaleEdit as refusal:
            return _both(request, case, refusal, actor, now)
        except Refused as refusal:
            form.faults_beside.append(refusal.sentence)
        else:
            messages.success(request, _("The findings are recorded in the examination."))
            return redirect("plans:spaces", public_id)
    return _page(request, case, form, actor, now)


def _form(case: Case, data: QueryDict | None, now: datetime) -> SpaceForm:
    facts = case_facts(case, books.today(case.office, now))
    return SpaceForm(data, facts=facts, seen=case.version)


def _seen(request: HttpRequest) -> int:
    seen = request.POST.get("seen", "")
    return int(seen) if seen.isdigit() else 0


def _changed_since(request: HttpRequest, case: Case) -> StaleEdit | None:
    # Asked first: what somebody else fixed would otherwise look like something this one lets go.
    seen = _seen(request)
    return None if seen == case.version else StaleEdit("The case", yours={}, theirs={}, seen=seen, version=case.version)


def _tried(case: Case, form: SpaceForm, now: datetime) -> CaseFacts | None:
    """The facts with what was typed; None when something cannot be so, and then the form says what."""
    facts = form.read()
    if form.data is not None:
        for path, sentence in contradictions(facts, books.today(case.office, now)):
            form.refuse(path, sentence, facts)
    return None if form.faults else facts


def _computed(case: Case, facts: CaseFacts, now: datetime, *, sensitivity: bool = False) -> ShownSpaces:
    book = books.current_book(case.office, books.today(case.office, now))
    shape = share_spaces(facts, book, sensitivity=sensitivity)
    shown = shown_spaces(shape, facts)
    return replace(shown, remeasure=shape.remeasure) if sensitivity else shown


def _page(request: HttpRequest, case: Case, form: SpaceForm, actor: Staff, now: datetime, **given: Any) -> HttpResponse:
    """The page, or for a redrawing only the result."""
    facts = given.pop("facts", None) or _tried(case, form, now)
    context = {
        "case": case,
        "patient": case.patient,
        "form": form,
        "seen": case.version,
        "shown": _computed(case, facts, now, sensitivity=bool(given.pop("sensitivity", False))) if facts else None,
        "tried": form.tried(),
        "changes": form.changes() if facts else (),
        "findings": form.findings() if facts else (),
        "locks": [(form.lock_words(lock), lock) for lock in form.facts.choices.locks],
        "may_lock": may(actor, Act.EDIT, Thing.LOCKS),
        "may_edit": may(actor, Act.EDIT, Thing.CASE),
        "may_measure": may(actor, Act.CREATE, Thing.MEASUREMENTS),
    } | given
    if request.headers.get("HX-Request"):
        return render(request, "plans/spaces_result.html", context)
    context["newer"] = newer_basis(case)
    context |= {"heads": heads(form), "tooth_rows": tooth_rows(form), "gap_rows": gap_rows(form)}
    context["width"] = 1 + 2 * len(form.teeth)
    return render(request, "plans/spaces.html", context)


def _decide(request: HttpRequest, case: Case, form: SpaceForm, actor: Staff, now: datetime) -> HttpResponse:
    """Which measurements decide: computed when asked for, because it solves the spaces a hundred times."""
    facts = _tried(case, form, now)
    if not request.headers.get("HX-Request"):
        return _page(request, case, form, actor, now, sensitivity=True)
    shown = _computed(case, facts, now, sensitivity=True) if facts else None
    return render(request, "plans/spaces_decide.html", {"shown": shown, "form": form})


def _both(request: HttpRequest, case: Case, refusal: StaleEdit, actor: Staff, now: datetime) -> HttpResponse:
    """What somebody else fixed meanwhile beside what was typed; the form goes on from what is saved now."""
    saved = load_case(actor=actor, public_id=case.public_id, thing=Thing.LOCKS, now=now)
    form = _form(saved, request.POST, now)
    return _page(request, saved, form, actor, now, stale=refusal.sentence)
