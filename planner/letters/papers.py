"""The papers: option sheet, estimate, consent letter, wax-up order, drawn from a frozen plan and from nothing else.

Each kind is one template with one context. The option sheet and the estimate may be read by a payer or seen at the
desk: private reasons do not stand on them, and the data they carry leaves the history out. The letter carries all.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.letters import (
    account_said,
    care_said,
    consent,
    instalments_said,
    option_sheet_said,
    ortho_said,
    payer_request_said,
    result_said,
    signed_copy,
    step_sheet_said,
    take_home_said,
    wax_up,
)
from planner.letters.cancelling_said import cancelling_said
from planner.letters.carried import FOR_OTHER_EYES, FOR_THE_PAYER, FOR_THE_WORKSHOP, WHOLE
from planner.letters.check_this import how_to_check
from planner.letters.choosing import NOTHING, can_be_done
from planner.letters.consent import WIDE, limits
from planner.letters.duty_said import duty_said
from planner.letters.findings import (
    facts_of,
    findings,
    mouth,
    numbering_words,
    words_of,
)
from planner.letters.if_then_said import agreed_lines
from planner.letters.issue import Issue
from planner.letters.not_now import not_now
from planner.letters.payers_said import guess_of, payers_said
from planner.letters.pdf import Attached, Job, Paper, PaperError, Rendered, render_here
from planner.letters.pricing import not_included_anywhere, priced_options, priced_with_payers, tax_reasons
from planner.letters.reasons import reasons
from planner.letters.sheet import Kind, Sheet
from planner.letters.side_by_side import others
from planner.letters.teeth_said import TeethSaid
from planner.letters.translated import translated
from planner.letters.wording import day, direction, initials, roles_said, version_words, without_corners
from planner.letters.worked_out import order_said, worked_out
from planner.practice.access import Act, Thing
from planner.rules.frozen import thaw
from planner.rules.results import CasePlan, sha256
from planner.rules.words import ENGLISH, speaking

LANGUAGES = ("en", "es")
"""Languages whose texts are complete: those of the rules and the catalogue of messages."""
ESTIMATE = "estimate"
POINTS = (11, 14, 18, 24)


def job(
    plan_json: bytes,
    kind: str,
    issue: Issue | None = None,
    *,
    paper: Paper = "A4",
    points: int | None = None,
    language: str = "en",
) -> Job:
    """The paper ``kind`` of a frozen plan, ready to be rendered.

    ``points`` is the print size (11, 14, 18 or 24; left out, the patient's own). Raises PaperError for an unknown kind,
    size, language or option, and FrozenPlanError when ``plan_json`` is no frozen plan.
    """
    what = kind_of(kind)
    language = what.language or language
    sheet = sheet_of(plan_json, issue or Issue(), what.points or points, language)
    with translation.override(language), speaking(language):
        sheet = replace(sheet, issue=replace(sheet.issue, dentist_role=roles_said(sheet.issue.dentist_role)))
        html = _html(what, sheet)
        carried = Attached(
            what.carries.name,
            what.carries.data(plan_json),
            sheet.plan.planned_on,
            _("The data that this paper was made from"),
        )
    return Job(html, (carried,), paper)


def kind_of(key: str) -> Kind:
    """The kind of paper called ``key``. Raises PaperError when there is none."""
    if key == signed_copy.KEY:
        return signed_copy.SIGNED_COPY
    try:
        return KINDS[key]
    except KeyError:
        raise PaperError(f'There is no paper called "{key}"; there are: {", ".join(KINDS)}.') from None


def kinds_of(plan_json: bytes, issue: Issue | None = None) -> tuple[str, ...]:
    """The kinds of paper that a frozen plan allows, in the order of handing over: no wax-up where nothing is added."""
    sheet = sheet_of(plan_json, issue or Issue(), None, "en")
    return tuple(key for key, kind in KINDS.items() if not kind.why_not(sheet))


def languages_of(plan: CasePlan) -> tuple[str, ...]:
    """The languages in which papers of ``plan`` can be had: English, and what was frozen beside it."""
    return ENGLISH, *(found.language for found in plan.other_words if found.language in LANGUAGES)


def letter_pdf(plan_json: bytes, issue: Issue | None = None) -> bytes:
    """The consent letter of a frozen plan as a PDF file, without a database. Raises PaperError."""
    return render_here(job(plan_json, consent.KEY, issue)).content


def write_papers(
    plan_json: bytes,
    out_dir: Path,
    issue: Issue | None = None,
    *,
    kinds: Iterable[str] = (),
    render: Callable[[Job], Rendered] = render_here,
) -> tuple[Path, ...]:
    """Write the papers of a frozen plan (all it allows, unless named) into ``out_dir``, without a database.

    Returns the paths, ``KIND.pdf`` each. Raises PaperError.
    """
    out_dir.mkdir(parents=True, exist_ok=True)
    written = []
    for kind in tuple(kinds) or kinds_of(plan_json, issue):
        path = out_dir / f"{kind}.pdf"
        path.write_bytes(render(job(plan_json, kind, issue)).content)
        written.append(path)
    return tuple(written)


def _in_language(plan_json: bytes, language: str) -> CasePlan:
    plan = thaw(plan_json)
    if language == ENGLISH or any(found.language == language for found in plan.other_words):
        return thaw(plan_json, language)
    raise PaperError(
        f'This plan was frozen without its words in "{language}". Set the language in the patient\'s file and make '
        "a new estimate: its papers can be had in that language."
    )


def sheet_of(plan_json: bytes, issue: Issue, points: int | None, language: str) -> Sheet:
    """All that a paper, or a page that shows the same, is drawn from. Raises PaperError, FrozenPlanError."""
    if language not in LANGUAGES:
        raise PaperError(f'Papers in "{language}" are not there yet; there are: {", ".join(LANGUAGES)}.')
    plan = _in_language(plan_json, language)
    size = plan.print_points if points is None else points
    if size not in POINTS:
        raise PaperError(f"{size} points is no print size here; there are {', '.join(map(str, POINTS))}.")
    known = {option.key for option in plan.options}
    for key in (issue.chosen, *issue.priced):
        if key and key not in known:
            raise PaperError(f'This plan has no option "{key}"; it has: {", ".join(sorted(known))}.')
    facts = facts_of(plan)
    return Sheet(plan, facts, words_of(plan, facts), issue, language, size, sha256(plan_json))


# ---------------------------------------------------------------- contexts


def _html(kind: Kind, sheet: Sheet) -> str:
    plan, issue, language = sheet.plan, sheet.issue, sheet.language
    context = {
        "language": language,
        "direction": direction(language),
        "points": sheet.points,
        "title": kind.title,
        "office": plan.office,
        "office_place": plan.office_place,
        "patient": plan.patient_name if kind.named else initials(plan.patient_name),
        "born": day(plan.patient_birth_date, language) if kind.named else "",
        "age": plan.patient_age if kind.named else "",
        "version": version_words(issue),
        "is_draft": issue.is_draft,
        "planned_on": day(plan.planned_on, language),
        "handed_on": day(issue.handed_on or plan.planned_on, language),
        "valid_through": day(issue.valid_through, language) if issue.valid_through else "",
        "price_list": plan.price_list_version,
        "currency": plan.currency,
        "sha256": sheet.sha256,
        "short_hash": sheet.sha256[:16],
        "wide": sheet.points in WIDE,
        "check": how_to_check(issue.verify_at, sheet.sha256, kind.carries),
        "issue": issue,
        "translation_note": translated(plan, language),
    }
    return _draw(kind, context | kind.context(sheet))


def _draw(kind: Kind, context: Mapping[str, Any]) -> str:
    return without_corners(render_to_string(kind.template, dict(context)))


def _estimate(sheet: Sheet) -> dict[str, Any]:
    plan, language = sheet.plan, sheet.language
    chosen = priced_options(plan, sheet.issue)
    nowhere = not_included_anywhere(chosen)
    guess = guess_of(sheet.issue.payer_guess, plan)
    return {
        "options": priced_with_payers(sheet, chosen, nowhere),
        "payers": (
            payers_said(guess, sha256(sheet.issue.payer_guess.encode()), language) if guess is not None else None
        ),
        "worked": [worked_out(plan, option, language) for option in chosen],
        "order": order_said((chosen or plan.options)[0]),
        "if_then": agreed_lines(sheet.facts, None, sheet.words, language),
        "duty": duty_said(sheet, chosen),
        "cancelling": cancelling_said(sheet.issue.cancelling, plan.currency, language),
        "not_included": nowhere,
        "tax_reason": "; ".join(tax_reasons(chosen)),
    }


def _not_now_letter(sheet: Sheet) -> dict[str, Any]:
    """What the letter says that stands for the others when nothing can be offered. Raises PaperError when it can."""
    if refused := not_now_is_wrong(sheet):
        raise PaperError(refused)
    plan, facts, language = sheet.plan, sheet.facts, sheet.language
    kept = [option for option in plan.options if option.key == NOTHING or option.may_still_be]
    nothing = plan.option(NOTHING)
    return {
        "wishes": sorted(facts.wishes, key=lambda wish: wish.rank),
        "limits": limits(facts, plan, language),
        "findings": findings(facts, sheet.words, language),
        "mouth": mouth(facts, sheet.words, language),
        "numbering": numbering_words(sheet.words),
        "examined_on": day(facts.examination.on, language),
        "examined_by": facts.examination.confirmed_by or facts.examination.by,
        "nothing_still_needs": reasons(nothing, TeethSaid(sheet.words), language, show_private=True),
        "not_now": not_now(plan, sheet.words, language, show_private=True),
        "others": others(sheet, kept, show_private=True),
        "questions_from_plan": tuple(map(TeethSaid(sheet.words), plan.spaces.questions)),
    }


def not_now_is_wrong(sheet: Sheet) -> str:
    """Why a plan needs no letter that says "not now", in one sentence; empty where it needs one."""
    if can_be_done(sheet.plan):
        return _("Something can be offered today, and the consent letter lays it out: no letter says “not now”.")
    return ""


KINDS: Mapping[str, Kind] = {
    kind.key: kind
    for kind in (
        Kind(
            "option-sheet", gettext_lazy("Your options"), "letters/option_sheet.html", option_sheet_said.context,
            made_by=(Act.CREATE, Thing.ESTIMATE), seen_by=(Act.VIEW, Thing.ESTIMATE), carries=FOR_OTHER_EYES,
        ),
        take_home_said.PAPER,
        Kind(
            ESTIMATE, gettext_lazy("Estimate"), "letters/estimate.html", _estimate,
            made_by=(Act.CREATE, Thing.ESTIMATE), seen_by=(Act.VIEW, Thing.ESTIMATE), carries=FOR_OTHER_EYES,
        ),
        Kind(
            consent.KEY, gettext_lazy("Your choice: consent letter"), "letters/consent_letter.html",
            consent.context, made_by=(Act.RUN, Thing.LETTER), seen_by=(Act.VIEW, Thing.LETTER), carries=WHOLE,
        ),
        Kind(
            wax_up.KEY, gettext_lazy("Wax-up order"), "letters/wax_up.html", wax_up.context,
            made_by=(Act.CREATE, Thing.MEASUREMENTS), seen_by=(Act.VIEW, Thing.MEASUREMENTS), carries=FOR_THE_WORKSHOP,
            named=False, points=11, language=ENGLISH, why_not=wax_up.why_not,
        ),
        Kind(
            instalments_said.KEY, gettext_lazy("Agreement to pay in parts"), "letters/instalment_agreement.html",
            instalments_said.context, made_by=(Act.CREATE, Thing.ACCEPTED), seen_by=(Act.VIEW, Thing.ACCEPTED),
            carries=FOR_THE_PAYER, why_not=instalments_said.why_not,
        ),
        Kind(
            care_said.KEY, gettext_lazy("After-care"), "letters/after_care.html", care_said.context,
            made_by=(Act.RUN, Thing.LETTER), seen_by=(Act.VIEW, Thing.LETTER), carries=FOR_THE_PAYER,
            why_not=care_said.why_not,
        ),
        Kind(
            step_sheet_said.KEY, gettext_lazy("Step sheet"), "letters/step_sheet.html", step_sheet_said.context,
            made_by=(Act.CREATE, Thing.STEPS), seen_by=(Act.VIEW, Thing.STEPS), carries=FOR_THE_WORKSHOP,
            points=step_sheet_said.POINTS, language=ENGLISH, why_not=step_sheet_said.why_not,
        ),
        Kind(
            "not-now-letter", gettext_lazy("Not now: what comes first"), "letters/not_now_letter.html", _not_now_letter,
            made_by=(Act.RUN, Thing.LETTER), seen_by=(Act.VIEW, Thing.LETTER), carries=WHOLE, why_not=not_now_is_wrong,
        ),
        *account_said.PAPERS,
        result_said.PAPER,
        ortho_said.PAPER,
        payer_request_said.PAPER,
    )
}  # fmt: skip
