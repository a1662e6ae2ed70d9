"""Pages about papers: those of one estimate, making them, and one paper with its hashes and its file."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.letters import (
    care_said,
    consent,
    instalments_said,
    letter_facts,
    ortho_said,
    payer_request_said,
    result_said,
    step_sheet_said,
    take_home_said,
    wax_up,
)
from planner.letters.access import load_document
from planner.letters.account_said import ACCOUNT_PAPERS
from planner.letters.consent_shown import consent_to
from planner.letters.forms import PapersForm
from planner.letters.models import Document
from planner.letters.papers import KINDS, kind_of, kinds_of, languages_of
from planner.letters.services import check_documents, handed_out, issue_of, ordered, render_papers
from planner.plans.access import load_estimate
from planner.plans.arranging import latest_arrangement
from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate, State
from planner.plans.payer_guesses import latest_guess
from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.rules.results import CasePlan
from planner.rules.verdicts import Verdict
from planner.rules.words import ENGLISH
from planner.trail.errors import Refused

OF_A_VISIT = (step_sheet_said.KEY, care_said.KEY)


def papers(request: HttpRequest, public_id: str) -> HttpResponse:
    """The papers of one estimate, and the form that makes more of them from its frozen plan."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_estimate(actor=actor, public_id=public_id, now=now)
    context: dict[str, Any] = {"estimate": estimate, "case": estimate.case, "patient": estimate.case.patient}
    plan = None if estimate.frozen is None else read_frozen(estimate.frozen)
    kinds = _kinds(actor, estimate) if plan is not None and estimate.state != State.REPLACED else []
    form = None
    if plan is not None and kinds:
        # Ticked is what this plan allows; what leaves the house for others is never made in passing.
        allowed = (*kinds_of(plan.to_json()), instalments_said.KEY)
        usual = [kind for kind in kinds if kind in allowed and kind not in (wax_up.KEY, ortho_said.KEY)]
        languages = languages_of(plan)
        own = plan.language if plan.language in languages else languages[0]
        first = {"kinds": usual, "points": plan.print_points, "language": own} | letter_facts.said_last(estimate)
        today, options = books.today(estimate.office, now), _options(estimate, plan)
        form = PapersForm(
            posted(request), kinds=kinds, options=options, languages=languages, today=today, initial=first
        )
        if form.is_valid():
            try:
                _make(estimate, plan, form, actor)
            except Refused as refusal:
                form.refuse(refusal.field or "kinds", refusal.sentence)
            else:
                messages.success(request, _("The papers are made and kept."))
                return redirect("letters:papers", public_id)
    context |= {"form": form, "documents": _documents(estimate, actor), "plan": plan}
    part = request.headers.get("HX-Request") and request.method == "GET"
    return render(request, "letters/papers_page_part.html" if part else "letters/papers_page.html", context)


def document(request: HttpRequest, public_id: str) -> HttpResponse:
    """One stored paper: what it is, its hashes, and whether the file is still the one that was made."""
    actor, now = actor_of(request), timezone.now()
    shown = load_document(actor=actor, public_id=public_id, now=now)
    context = {
        "document": shown,
        "title": kind_of(shown.kind).title,
        "estimate": shown.estimate,
        "case": shown.frozen.case,
        "patient": shown.frozen.case.patient,
        "faults": check_documents([shown]),
        "consent": consent_to(shown) if shown.kind == consent.KEY else None,
        "may_hand": shown.kind == consent.KEY and shown.estimate is not None and may(actor, Act.RUN, Thing.LETTER),
    }
    return render(request, "letters/document_page.html", context)


def file(request: HttpRequest, public_id: str) -> HttpResponse:
    """The file of a stored paper, byte for byte; that it was taken is recorded."""
    actor, now = actor_of(request), timezone.now()
    shown = load_document(actor=actor, public_id=public_id, now=now)
    response = HttpResponse(bytes(shown.content), content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="{shown.file_name}"'
    handed_out(document=shown, actor=actor, now=now)
    return response


def _kinds(actor: Staff, estimate: Estimate) -> list[str]:
    """The kinds of paper that ``actor`` may make: each of what stands beside the plan only where it does."""
    agreed = latest_arrangement(estimate) is not None
    # What belongs to a visit or to reviews is printed from there, what is said about money where its row stands, what
    # is taken home at the end of a showing.
    elsewhere = {*OF_A_VISIT, *ACCOUNT_PAPERS, result_said.KEY, take_home_said.KEY}
    mine = [key for key, kind in KINDS.items() if may(actor, *kind.made_by) and key not in elsewhere]
    asked = latest_guess(estimate) is not None if payer_request_said.KEY in mine else False
    beside = {instalments_said.KEY: agreed, payer_request_said.KEY: asked}
    return [key for key in mine if beside.get(key, True)]


def _options(estimate: Estimate, plan: CasePlan) -> list[tuple[str, str]]:
    """The options that a letter can be about: on the estimate, and to be had."""
    return [
        (option.key, option.name)
        for option in plan.options
        if option.key in estimate.options and option.verdict in (Verdict.OFFER, Verdict.CARE)
    ]


def _make(estimate: Estimate, plan: CasePlan, form: PapersForm, actor: Staff) -> None:
    now = timezone.now()
    assert estimate.frozen is not None  # a form is shown for a frozen plan only
    asked = form.cleaned_data
    issue = issue_of(
        estimate,
        handed_on=books.today(estimate.office, now),
        chosen=asked["chosen"],
        dentist_role=_("dentist"),
    )
    if consent.KEY in asked["kinds"] and not (issue.chosen or plan.recommended):
        raise Refused(_("No option is recommended: say which one the consent letter is about."), field="chosen")
    order = ordered(
        issue, actor=actor, patient=plan.patient_name, wanted_on=asked["wanted_on"], note=asked["order_note"]
    )
    issues = {wax_up.KEY: order, consent.KEY: letter_facts.issue_for(issue, estimate, asked)}
    for kind in asked["kinds"]:
        render_papers(
            frozen=estimate.frozen,
            kinds=[kind],
            issue=issues.get(kind, issue),
            actor=actor,
            now=now,
            estimate=estimate,
            paper=asked["paper"] or "A4",
            points=asked["points"],
            language=asked.get("language") or ENGLISH,
        )


def _documents(estimate: Estimate, actor: Staff) -> list[tuple[Document, Any]]:
    """The papers of the estimate that ``actor`` may see, newest first, each with its title: one query."""
    require(actor, Act.VIEW, Thing.ESTIMATE, subject=estimate)
    found = Document.objects.filter(estimate=estimate).select_related("created_by").defer("content")
    seen = {key for key, kind in KINDS.items() if may(actor, *kind.seen_by)}
    return [(one, kind_of(one.kind).title) for one in found if one.kind in seen]
