"""The consent letter: what a patient is told before saying yes, no or not now, and what the patient said.

Everything stands in one order for every case. The letter itself is kept short; what is long, figures, reasons and
sources, stands in its annex, after the place to sign.
"""

import re
from dataclasses import dataclass, replace
from typing import Any

from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from planner.letters import ipdas
from planner.letters.choosing import MOST, NOTHING, can_be_done, told_in_full
from planner.letters.findings import findings, gaps, measured, mouth, numbering_words
from planner.letters.if_then_said import agreed_lines, span_said
from planner.letters.letter_pictures import ahead, cost_over_years, strips
from planner.letters.not_now import not_now
from planner.letters.options import OptionView, option_view
from planner.letters.pricing import not_included_anywhere
from planner.letters.prose import EASE_IN, MEASURED_IN, blocks_of_html, ease_words, patient_prose, sources_heading
from planner.letters.read_back import Block
from planner.letters.sheet import Sheet
from planner.letters.side_by_side import comparison, others, others_in_brief
from planner.letters.sources import sources
from planner.letters.teeth_said import TeethSaid
from planner.letters.wording import day, language_name, millimetres, money, one_denominator, version_words
from planner.rules.mouth import CaseFacts
from planner.rules.reading import CEILING, TARGET, grade
from planner.rules.reading_es import ease
from planner.rules.results import CasePlan, OptionShape
from planner.rules.words import decimal

KEY = "consent-letter"
"""The kind of paper that is handed over and signed."""
BODY = "letters/consent_letter_body.html"
WIDE = (11, 14)
"""Print sizes at which headings stand beside their text and figures in columns; larger print stands in one line."""
_LETTERS = "ABCDEFG"
_LONG = 90
"""Characters of a wish that are said again where it is only referred to."""


def _always_asked() -> list[str]:
    """What is put beside the patient's own wishes where it is asked how much each matters."""
    return [
        _("That no healthy tooth is cut"),
        _("That it can be undone"),
        _("Few visits, soon done"),
        _("What it costs now"),
        _("What it costs over the years"),
    ]


@dataclass(frozen=True, slots=True)
class Row:
    """How one point of an option is laid out: its heading beside its text, or above it in large print."""

    start: SafeString
    block: SafeString
    """Element that holds several points."""
    open: SafeString
    middle: SafeString
    close: SafeString
    more: SafeString
    """Opens a further line of the same point."""
    end: SafeString


_NONE = SafeString("")
ABOVE = Row(_NONE, SafeString("div"), _NONE, _NONE, _NONE, _NONE, _NONE)
BESIDE = Row(
    start=SafeString('<table class="points">'),
    block=SafeString("tbody"),
    open=SafeString("<tr><th>"),
    middle=SafeString("</th><td>"),
    close=SafeString("</td></tr>"),
    more=SafeString('<tr class="more"><td></td><td>'),
    end=SafeString("</table>"),
)


def context(sheet: Sheet) -> dict[str, Any]:
    """Everything that the letter's template says of ``sheet``, its own reading grade and yardstick included."""
    plan, facts, language = sheet.plan, sheet.facts, sheet.language
    chosen = sheet.chosen
    shown = told_in_full(plan, chosen.key if chosen is not None else "")
    numbered = sources(plan, shown)
    views = [
        option_view(
            plan,
            option,
            sheet.words,
            of=one_denominator(option),
            numbered=numbered,
            show_private=True,
            told_above=not can_be_done(plan),
            letter=letter,
            language=language,
        )
        for letter, option in zip(_LETTERS, shown, strict=False)
    ]
    nowhere = not_included_anywhere(shown)
    views = [
        replace(one, not_included=tuple(line for line in one.not_included if line not in nowhere)) for one in views
    ]
    views = [_counted_apart(view) for view in _reasons_once(views)]
    drawn = strips(sheet)
    said = {
        "about": about(sheet),
        "decides_alone": facts.patient.can_decide_alone is not False,
        "decision_maker": facts.patient.decision_maker,
        "wishes": (wishes := [one.words for one in sorted(facts.wishes, key=lambda wish: wish.rank)]),
        "matters": [*map(cut, wishes), *_always_asked()],
        "limits": limits(facts, plan, language),
        "findings": findings(facts, sheet.words, language),
        "gaps": gaps(facts, sheet.words),
        "mouth": mouth(facts, sheet.words, language),
        "numbering": numbering_words(sheet.words),
        "examined_on": day(facts.examination.on, language),
        "examined_by": facts.examination.confirmed_by or facts.examination.by,
        "strips": drawn,
        "measured": () if any(picture.table for picture in drawn.whole) else measured(facts, sheet.words),
        "nothing": next((view for view in views if view.key == NOTHING), None),
        "comparison": comparison(views, {11: 4, 14: 3, 18: 2, 24: 1}[sheet.points]),
        "options": views,
        "row": BESIDE if sheet.points in WIDE else ABOVE,
        "others": others_in_brief(sheet, shown),
        "others_in_full": others(sheet, shown, show_private=True),
        "not_included": nowhere,
        "ahead": ahead(plan, shown, views, language, None if sheet.points in WIDE else sheet.points),
        "years": cost_over_years(plan, shown, views, language),
        "most": MOST,
        "not_now": not_now(plan, sheet.words, language, show_private=True),
        "chosen": next((view for view in views if chosen is not None and view.key == chosen.key), None),
        "chosen_fee": money(chosen.estimate.total_cents, plan.currency, language) if chosen is not None else "",
        "recommended_why": plan.recommended_why if chosen is None or chosen.key == plan.recommended else "",
        "questions_from_plan": tuple(map(TeethSaid(sheet.words), plan.spaces.questions)),
        "if_then": agreed_lines(facts, chosen, sheet.words, language),
        "span": span_said(chosen, plan.currency, language) if chosen is not None else "",
        "sources": numbered,
        "cuts": bool(chosen is not None and chosen.teeth_reduced),
        "apart": permissions(sheet, chosen),
        "ceiling": CEILING,
        "target": TARGET,
        "heads": ipdas.HEADINGS,
        "fields": ipdas.FIELDS,
        "says": ipdas.SAYS,
        "sources_heading": sources_heading(),
    }
    return said | _measured_on_itself(sheet, said)


def _reasons_once(views: list[OptionView]) -> list[OptionView]:
    """Where an option's reasons are those of one that stands before it, they are not said again."""
    said: dict[tuple[str, ...], str] = {}
    kept = []
    for view in views:
        letter = said.setdefault(view.reasons, view.letter)
        if view.reasons and letter != view.letter:
            again = _("Reasons: see option %(letter)s.") % {"letter": letter}
            view = replace(view, reasons=(), reasons_again=again)
        kept.append(view)
    return kept


def _counted_apart(view: OptionView) -> OptionView:
    """What a treatment's own words count stands in the annex.

    Beside the chances of the option it would count by another group or another time.
    """
    apart: list[str] = []

    def kept(words: str) -> str:
        for said in view.counted:
            if said in words:
                apart.append(said)
                words = words.replace(said, "")
        return re.sub(" +", " ", words).strip(" ")

    benefits = tuple(
        chance if chance.number else replace(chance, words=kept(chance.words)) for chance in view.benefits.chances
    )
    later = tuple(filter(None, map(kept, view.later)))
    risks = tuple(
        replace(
            group,
            chances=tuple(
                replace(one, words=kept(one.words)) if view.of == 1000 or not one.number else one
                for one in group.chances
            ),
        )
        for group in view.risks
    )
    lasts_here = view.lasts if view.at_ten else kept(view.lasts)
    return replace(
        view,
        benefits=replace(view.benefits, chances=tuple(one for one in benefits if one.words)),
        risks=risks,
        later=later,
        lasts_here=lasts_here,
        counted_apart=tuple(dict.fromkeys(apart)),
    )


def _measured_on_itself(sheet: Sheet, said: dict[str, Any]) -> dict[str, Any]:
    """Yardstick and grade are measured on the letter itself, so it is drawn first without them.

    The yardstick is read off a letter with a stand-in for the grade; the grade off one that tells the yardstick too,
    since those words are read as well.
    """
    plan, language = sheet.plan, sheet.language
    common = {
        "issue": sheet.issue,
        "grade": "0.0",
        "wide": sheet.points in WIDE,
        "price_list": plan.price_list_version,
        "version": version_words(sheet.issue),
        "office": plan.office,
    }

    def drawn(**more: Any) -> tuple[Block, ...]:
        return blocks_of_html(render_to_string(BODY, said | common | more))

    yardstick = ipdas.check(drawn(), language)
    measured_grade = measured_ease = None
    if language in MEASURED_IN:
        measured_grade = grade(patient_prose(drawn(yardstick=yardstick), language))
    elif language in EASE_IN:
        measured_ease = ease(patient_prose(drawn(yardstick=yardstick), language))
    return {
        "grade": measured_grade,
        "ease": measured_ease,
        "ease_value": decimal(str(measured_ease.value)) if measured_ease is not None else "",
        "ease_band": ease_words(measured_ease) if measured_ease is not None else "",
        "too_hard": measured_grade is not None and measured_grade > CEILING,
        "yardstick": yardstick,
    }


def about(sheet: Sheet) -> list[tuple[str, str]]:
    """Who it is about, who decides and by what right, what helps in talking, and which papers belong to it."""
    plan, issue, patient, language = sheet.plan, sheet.issue, sheet.facts.patient, sheet.language
    later = _("to be written in before you sign")
    born = _("%(name)s, born %(born)s (%(age)d years old)") % {
        "name": plan.patient_name,
        "born": day(plan.patient_birth_date, language),
        "age": plan.patient_age,
    }
    alone = patient.can_decide_alone is not False
    role = f", {issue.dentist_role}" if issue.dentist_role else ""
    licence = ", " + _("licence %(number)s") % {"number": issue.dentist_licence} if issue.dentist_licence else ""
    estimate = (
        _("no estimate yet: this is a draft")
        if issue.is_draft
        else _("estimate %(version)s") % {"version": version_words(issue)}
    )
    if issue.valid_through:
        estimate += "; " + _("prices hold through %(day)s") % {"day": day(issue.valid_through, language)}
    on = _("%(day)s (planned on %(planned)s)") % {
        "day": day(issue.handed_on or plan.planned_on, language),
        "planned": day(plan.planned_on, language),
    }
    helps = [_("print of %(n)d points") % {"n": sheet.points}, *([issue.needs] if issue.needs else [])]
    rows = [
        (_("Patient"), born),
        (_("Record number"), issue.record or _("not given yet")),
        (_("Who decides"), plan.patient_name if alone else patient.decision_maker or later),
        (_("By what right"), _("for myself") if alone else issue.decided_for_by or later),
        (_("Language of this letter"), language_name(language)),
        (_("Interpreter"), issue.interpreter or (_("none asked for") if plan.language == language else later)),
        (_("What helps you to read and talk"), "; ".join(helps)),
        (_("Dentist who talks it over with you"), f"{issue.dentist}{role}{licence}" if issue.dentist else later),
        (_("Who will do the work"), issue.does_the_work or issue.dentist or later),
        (str(ipdas.DATE_LABEL), on),
        (_("Money page"), estimate),
    ]
    if not alone:
        agrees = {True: _("agrees"), False: _("does not agree"), None: _("still to be asked")}[patient.own_agreement]
        rows.insert(4, (_("What the young person says"), agrees))
    return rows


def permissions(sheet: Sheet, chosen: OptionShape | None) -> list[str]:
    """What is asked apart, each with a yes and a no of its own; calming drugs and data only where they come in."""
    asked = [_("You may take photos for my record. No is fine.")]
    if sheet.issue.sedation or sheet.facts.history.anxious:
        asked.append(_("I want to be given calming drugs (sedation). We talk about their risks first."))
    calendar = chosen.calendar if chosen is not None else None
    shared = list(sheet.issue.shared_with)
    if calendar is not None and any(row.key.endswith(".ordered") for row in calendar.rows):
        shared.append(_("the workshop for my teeth"))
    if shared:
        asked.append(
            _("You may send my data and pictures, as far as needed, to: %(who)s.") % {"who": "; ".join(shared)}
        )
    return asked


def cut(words: str) -> str:
    """``words`` where they are only referred to: their beginning, if they are long."""
    return words if len(words) <= _LONG else words[: _LONG - 1].rsplit(" ", 1)[0] + "…"


def limits(facts: CaseFacts, plan: CasePlan, language: str) -> list[str]:
    """The patient's own limits, a sentence each."""
    found = facts.limits
    said = []
    if found.removal is not None:
        said.append(_("No more than %(mm)s may be taken off any one tooth.") % {"mm": millimetres(found.removal)})
    if found.teeth_reduced is not None:
        said.append(_("No more than %(n)d of your teeth may be made smaller.") % {"n": found.teeth_reduced})
    if found.visits is not None:
        said.append(_("No more than %(n)d visits.") % {"n": found.visits})
    if found.months is not None:
        said.append(_("No more than %(n)d months.") % {"n": found.months})
    if found.money is not None:
        said.append(_("No more than %(sum)s.") % {"sum": money(found.money, plan.currency, language)})
    if found.wish_by is not None:
        why = f" ({found.wish_by_words})" if found.wish_by_words else ""
        said.append(_("You would like it done by %(day)s%(why)s.") % {"day": day(found.wish_by, language), "why": why})
    return said
