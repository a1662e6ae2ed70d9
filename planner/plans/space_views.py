"""Pages of the spaces of a case: what sharing them comes to, trying other values, and keeping what is decided."""

from collections.abc import Callable
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
from planner.plans.space_compare import compared
from planner.plans.space_effect import effect
from planner.plans.space_forms import SpaceForm
from planner.plans.space_history import decisions
from planner.plans.space_parts import LessForm
from planner.plans.space_scan import further
from planner.plans.space_shown import shown_spaces, strip_words_of
from planner.plans.space_table import gap_rows, heads, tooth_rows
from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.models import Staff
from planner.practice.requests import actor_of
from planner.rules.book import OfficeBook
from planner.rules.contradictions import contradictions
from planner.rules.mouth import CaseFacts
from planner.rules.plan import share_spaces
from planner.rules.results import SpaceShape
from planner.rules.segments import MeasureFirst
from planner.rules.space_model import SpaceError
from planner.rules.why_not import compromised, why_not
from planner.trail.errors import Refused, StaleEdit


def spaces(request: HttpRequest, public_id: str) -> HttpResponse:
    """How the spaces are shared as things stand; posted, as they would be with what was typed. Stores nothing."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, thing=Thing.LOCKS, now=now)
    form = _form(case, request.POST if request.method == "POST" else None, now)
    asked = {"decide": _decide, "compare": _compare, "why": _why, "less": _less}.get(
        request.POST.get("action", ""), _page
    )
    answer = asked(request, case, form, actor, now)
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


def _shape(case: Case, facts: CaseFacts, now: datetime) -> SpaceShape:
    return share_spaces(facts, _book(case, now))


def _page(request: HttpRequest, case: Case, form: SpaceForm, actor: Staff, now: datetime, **given: Any) -> HttpResponse:
    """The page, or for a redrawing only the result."""
    facts = _tried(case, form, now)
    context = {
        "case": case,
        "patient": case.patient,
        "form": form,
        "seen": case.version,
        "tried": form.tried(),
        "changes": form.changes() if facts else (),
        "findings": form.findings() if facts else (),
        "locks": [(form.lock_words(lock), lock) for lock in form.facts.choices.locks],
        "may_lock": may(actor, Act.EDIT, Thing.LOCKS),
        "may_edit": may(actor, Act.EDIT, Thing.CASE),
        "may_measure": may(actor, Act.CREATE, Thing.MEASUREMENTS),
        "less": LessForm(),
        **(_answer(request, case, form, facts, now) if facts else {}),
    } | given
    if request.headers.get("HX-Request"):
        return render(request, "plans/spaces_result.html", context)
    context |= {"newer": newer_basis(case), "history": decisions(case)}
    context |= {"heads": heads(form), "tooth_rows": tooth_rows(form), "gap_rows": gap_rows(form)}
    context["width"] = 1 + 2 * len(form.teeth)
    return render(request, "plans/spaces.html", context)


def _answer(request: HttpRequest, case: Case, form: SpaceForm, facts: CaseFacts, now: datetime) -> dict[str, Any]:
    """What sharing comes to with these facts, and what that is otherwise than with the stored ones."""
    shape = _shape(case, facts, now)
    answer: dict[str, Any] = {
        "shown": shown_spaces(shape, facts),
        "compare": compared(shape, facts, request.POST.get("upper", ""), request.POST.get("lower", "")),
    }
    if facts != form.facts:
        answer["effect"] = effect(_shape(case, form.facts, now), shape, strip_words_of(facts))
    return answer


def _decide(request: HttpRequest, case: Case, form: SpaceForm, actor: Staff, now: datetime) -> HttpResponse:
    """Which measurements decide: looked at when asked for, a few at a time where the page can ask again."""
    facts = _tried(case, form, now)
    live = bool(request.headers.get("HX-Request"))
    asked = None
    if facts is not None:
        asked = further(request.POST.get("so_far", ""), facts, _book(case, now), at_once=not live)
    if not live:
        return _page(request, case, form, actor, now, asked=asked)
    return render(request, "plans/spaces_decide.html", {"case": case, "asked": asked})


def _compare(request: HttpRequest, case: Case, form: SpaceForm, actor: Staff, now: datetime) -> HttpResponse:
    """Two plans above each other, as a part of the page or on the whole of it."""
    facts = _tried(case, form, now)
    if facts is None or not request.headers.get("HX-Request"):
        return _page(request, case, form, actor, now)
    shape = _shape(case, facts, now)
    found = compared(shape, facts, request.POST.get("upper", ""), request.POST.get("lower", ""))
    return render(request, "plans/spaces_compare.html", {"case": case, "compare": found})


def _why(request: HttpRequest, case: Case, form: SpaceForm, actor: Staff, now: datetime) -> HttpResponse:
    """The nearest ideas that the plan rejects: asked for by the page once it stands, for they cost a few searches."""
    facts = _tried(case, form, now)
    rejected = _or_nothing(why_not, facts, _book(case, now))
    if not request.headers.get("HX-Request"):
        return _page(request, case, form, actor, now, rejected=rejected)
    return render(request, "plans/spaces_why.html", {"case": case, "rejected": rejected})


def _less(request: HttpRequest, case: Case, form: SpaceForm, actor: Staff, now: datetime) -> HttpResponse:
    """What stays compromised when teeth are moved by so much and no more."""
    facts, less = _tried(case, form, now), LessForm(request.POST)
    told = _or_nothing(compromised, facts, _book(case, now), less.cleaned_data["most"]) if less.is_valid() else None
    if not request.headers.get("HX-Request"):
        return _page(request, case, form, actor, now, less=less, told=told)
    return render(request, "plans/spaces_less.html", {"case": case, "less": less, "told": told})


def _book(case: Case, now: datetime) -> OfficeBook:
    return books.current_book(case.office, books.today(case.office, now))


def _or_nothing(work: Callable[..., Any], facts: CaseFacts | None, *rest: Any) -> Any:
    """What ``work`` finds with the facts, or nothing where not everything is there to share the spaces yet."""
    try:
        return None if facts is None else work(facts, *rest)
    except (MeasureFirst, SpaceError):
        return None


def _both(request: HttpRequest, case: Case, refusal: StaleEdit, actor: Staff, now: datetime) -> HttpResponse:
    """What somebody else fixed meanwhile beside what was typed; the form goes on from what is saved now."""
    saved = load_case(actor=actor, public_id=case.public_id, thing=Thing.LOCKS, now=now)
    form = _form(saved, request.POST, now)
    return _page(request, saved, form, actor, now, stale=refusal.sentence)
