"""The one paper that a patient takes home of a showing: options side by side, what each costs, questions, what next."""

import json
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.letters import option_sheet_said
from planner.letters.cancelling_said import cancelling_said
from planner.letters.carried import FOR_OTHER_EYES
from planner.letters.if_then_said import agreed_lines
from planner.letters.letter_pictures import strips
from planner.letters.options import option_view
from planner.letters.parts_said import account_said, parts_said
from planner.letters.payers_said import guess_of, payers_said
from planner.letters.pdf import PaperError
from planner.letters.pricing import not_included_anywhere, priced_options, priced_with_payers
from planner.letters.sheet import Kind, Sheet
from planner.letters.wording import day
from planner.plans.models import Answer
from planner.practice.access import Act, Thing
from planner.rules.results import sha256

KEY: Final = "take-home"


@dataclass(frozen=True, slots=True)
class Question:
    """What was asked, as it stands on the paper."""

    words: str
    answers: tuple[str, ...]
    open: str
    """Who answers it, and by when; empty once it is answered."""


def why_not(sheet: Sheet) -> str:
    """Why there is none, in one sentence; empty where there is one."""
    if not sheet.issue.showing:
        return _("This paper is made where the estimate is shown: it says what was asked there, and what comes next.")
    return ""


def context(sheet: Sheet) -> dict[str, Any]:
    """Everything the paper says. Raises PaperError where nothing was shown, or what was shown is another plan."""
    if refused := why_not(sheet):
        raise PaperError(refused)
    told: dict[str, Any] = json.loads(sheet.issue.showing)
    if told["plan_sha256"] != sheet.sha256:
        raise PaperError(_("What was asked and arranged belongs to another plan than this one."))
    plan, language = sheet.plan, sheet.language
    chosen = priced_options(plan, sheet.issue)
    nowhere = not_included_anywhere(tuple(option for option in chosen if option.estimate.lines))
    guess = guess_of(sheet.issue.payer_guess, plan)
    views = [option_view(plan, one, sheet.words, of=100, show_private=False, language=language) for one in chosen]
    pictures = strips(sheet)
    return option_sheet_said.context(sheet, option_sheet_said.UPRIGHT) | {
        "shown_on": _day(told["shown_on"], language),
        "shown_by": told["shown_by"],
        "picture": pictures.then or pictures.today,
        "options": list(zip(priced_with_payers(sheet, chosen, nowhere), views, strict=True)),
        "payers": payers_said(guess, sha256(sheet.issue.payer_guess.encode()), language) if guess is not None else None,
        "not_included": nowhere,
        "parts": parts_said(told["parts"], plan, language),
        "account": account_said(told["account"], plan, language),
        "cancelling": cancelling_said(sheet.issue.cancelling, plan.currency, language),
        "if_then": agreed_lines(sheet.facts, None, sheet.words, language),
        "questions": [_question(one, language) for one in told["questions"]],
        "next": _next(told, sheet.issue.handed_on, language),
    }


def _question(told: dict[str, Any], language: str) -> Question:
    answers = tuple(
        _("%(words)s (%(by)s, %(on)s)") % {"words": one["words"], "by": one["by"], "on": _day(one["on"], language)}
        for one in told["answers"]
    )
    if answers:
        return Question(told["words"], answers, "")
    who = told["owner"] or (_("your dentist") if told["clinical"] else _("the office"))
    said = {"who": f"{who[:1].upper()}{who[1:]}", "day": _day(told["due_on"], language)}
    if told["due_on"]:
        return Question(told["words"], (), _("Still open. %(who)s gives you an answer by %(day)s.") % said)
    return Question(told["words"], (), _("Still open. %(who)s answers it.") % said)


def _next(told: dict[str, Any], handed_on: date | None, language: str) -> list[str]:
    """What comes next, one step a line: before an answer how to give one, after it what follows."""
    answer, days = told["answer"], told["days"]
    call = days.get("call", "")
    is_past = bool(call) and handed_on is not None and date.fromisoformat(call) < handed_on
    ring = (
        _("We ring you in the next days, as you said we may.")
        if is_past
        else _("We ring you on %(day)s, as you said we may.") % {"day": _day(call, language)}
        if call
        else _("You need not wait for us: call us or write to us when you have thought it over.")
    )
    if not answer:
        return [
            _("Read this in peace. Nothing has to be decided today."),
            _("Write down what you still want to know, and ask us. Every question gets an answer before you sign."),
            ring,
            _("If you want one of these ways, or a part of one, you get a letter that says more about it. You read it, "
              "you ask, and you sign only when you are sure."),
            _("After your yes the deposit is paid, and the first visit gets its day."),
            _("To choose none of them is a fair answer too. Please tell us, so that we do not call you for nothing."),
        ]  # fmt: skip
    said = {"day": _day(answer["on"], language)}
    if answer["kind"] not in (Answer.ALL, Answer.PART):
        return [_("On %(day)s you told us that you do not want any of it now. You may come back at any time.") % said]
    visit = days.get("visit", "")
    steps = [
        _("You said yes on %(day)s.") % said,
        _("You may change your mind, also after you signed. Tell us; what is not done is not owed."),
    ]
    if visit:
        steps.append(_("Your next visit is on %(day)s at %(time)s.")
                     % {"day": _day(visit[:10], language), "time": visit[11:16]})  # fmt: skip
    else:
        steps.append(_("No further visit has a day yet. We find one with you."))
    return steps


def _day(iso: str, language: str) -> str:
    return day(date.fromisoformat(iso), language) if iso else ""


PAPER: Final = Kind(
    KEY, gettext_lazy("Your options to take home"), "letters/take_home.html", context,
    made_by=(Act.CREATE, Thing.ESTIMATE), seen_by=(Act.VIEW, Thing.ESTIMATE), carries=FOR_OTHER_EYES, why_not=why_not,
)  # fmt: skip
