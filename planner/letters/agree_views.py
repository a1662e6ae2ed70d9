"""The page that says whether the papers of an estimate agree, and where they do not."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.letters.agree import ACCEPTED_PLAN, compared
from planner.letters.papers import KINDS
from planner.plans.access import load_estimate
from planner.practice.access import Act, Thing, may
from planner.practice.models import Staff
from planner.practice.requests import actor_of
from planner.rules.papers_agree import Contradiction, Paper, contradictions


def agree(request: HttpRequest, public_id: str) -> HttpResponse:
    """Every fact on which papers of one estimate differ, as far as the reader may see the papers."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_estimate(actor=actor, public_id=public_id, now=now)
    papers = compared(estimate)
    found = contradictions(papers)
    told = [one for one in found if _kinds(one) <= _seen(actor)]
    context = {
        "estimate": estimate,
        "case": estimate.case,
        "patient": estimate.case.patient,
        "papers": _named(papers),
        "facts": sum(len(one.facts) for one in papers),
        "open": [one for one in told if not one.since_changed],
        "changed": [one for one in told if one.since_changed],
        "untold": len(found) - len(told),
    }
    part = request.headers.get("HX-Request")
    return render(request, "letters/agree_part.html" if part else "letters/agree_page.html", context)


def _kinds(one: Contradiction) -> set[str]:
    return {one.first.kind, one.second.kind}


def _seen(actor: Staff) -> set[str]:
    seen = {key for key, kind in KINDS.items() if may(actor, *kind.seen_by)}
    if may(actor, Act.VIEW, Thing.ACCEPTED):
        seen.add(ACCEPTED_PLAN)
    return seen | ({"laboratory-slip"} if may(actor, Act.VIEW, Thing.LABORATORY) else set())


def _named(papers: tuple[Paper, ...]) -> list[str]:
    """The papers that were compared, the same kind of the same version once."""
    return list(dict.fromkeys(f"{one.title} ({one.version})" if one.version else one.title for one in papers))
