"""The step sheet of a visit: what stands against it, drawing it up from the accepted plan, and its paper.

A sheet is drawn up from the plan as it was frozen, the office's minutes and materials of today, and the history of
today; what comes out is kept word for word, so that page and paper say the same.
"""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from planner.letters import step_sheet_said
from planner.letters.agree import papers_disagree, stand_against
from planner.letters.consent_standing import stands_against
from planner.letters.issue import Issue
from planner.letters.models import Document
from planner.letters.pdf import Job, Paper, Rendered, render
from planner.letters.services import issue_of, render_papers
from planner.plans.consent_stops import stands_still
from planner.plans.estimates import read_frozen
from planner.plans.facts import case_facts
from planner.plans.still_holds import against, teeth_gone
from planner.practice import books
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.catalogue import in_force
from planner.practice.models import Staff
from planner.rules.frozen import facts_in
from planner.rules.material_needs import treatment_needs
from planner.rules.materials import together
from planner.rules.plan_states import PlanState
from planner.rules.results import plain, sha256, stable_json
from planner.rules.segments import limits_of
from planner.rules.step_sheet import StepSheet, forbidden, sheet_of, step_sheet
from planner.rules.treatments import Treatment
from planner.rules.visit_minutes import VisitMinutes, option_minutes
from planner.rules.visit_states import VisitState
from planner.trail.errors import Refused
from planner.trail.services import record
from planner.visits.models import Visit
from planner.visits.reading import accepted_course
from planner.visits.step_models import StepSheetCopy


@dataclass(frozen=True, slots=True)
class Stop:
    """Something that forbids a step sheet: why, what settles it, and where that is done."""

    why: str
    settles: str
    where: str
    """``history``, ``letter``, ``case``, ``plan`` or ``visit``."""


def stops_of(visit: Visit, now: datetime) -> tuple[Stop, ...]:
    """Everything that forbids the step sheet of ``visit`` today; empty where it may be printed and worked by."""
    return (
        *_state_stops(visit),
        *_allergy_stops(visit, now),
        *_consent_stops(visit, now),
        *_fact_stops(visit, now),
        *_paper_stops(visit),
    )


def _state_stops(visit: Visit) -> list[Stop]:
    if visit.state in (VisitState.BOOKED, VisitState.KEPT):
        return []
    return [Stop(_("The visit is %(state)s.") % {"state": visit.state}, _("Book a visit."), "plan")]


def _allergy_stops(visit: Visit, now: datetime) -> list[Stop]:
    day = books.today(visit.office, now)
    history = case_facts(visit.plan.case, day).history
    return [Stop(_(why), _(settles), "history") for why, settles in forbidden(history, _treatments(visit))]


def _consent_stops(visit: Visit, now: datetime) -> list[Stop]:
    on = visit.starts.astimezone(visit.office.zone).date()
    settles = _("A letter is handed over, questions are answered, it is signed and countersigned.")
    found = [Stop(why, settles, "letter") for why in stands_against(visit.plan, now, on=on)]
    for line in visit.visit_items.prefetch_related("item__consent_stops"):
        if stands_still(line.item):
            why = _("Consent to “%(item)s” was withdrawn.") % {"item": line.item.words}
            found.append(Stop(why, _("A new letter is signed, or the item is dropped."), "letter"))
    return found


def _paper_stops(visit: Visit) -> list[Stop]:
    if visit.plan.estimate is None:
        return []
    settles = _("A dentist checks a new issue and its papers are made; a slip of laboratory work is put right.")
    return [Stop(why, settles, "letter") for why in stand_against(papers_disagree(visit.plan.estimate))]


def _fact_stops(visit: Visit, now: datetime) -> list[Stop]:
    settles = _("A dentist looks at the case; what changed is planned, shown and signed anew.")
    begun = visit.plan.state == PlanState.UNDER_WAY
    found = [Stop(why, settles, "case") for why in against(visit.plan, now, begun=begun)]
    gone = teeth_gone(visit.plan, now)
    for line in visit.visit_items.select_related("item"):
        for tooth in sorted(set(line.item.teeth) & set(gone)):
            said = {"item": line.item.words, "day": gone[tooth].isoformat()}
            found.append(Stop(_("The tooth of “%(item)s” is gone since %(day)s.") % said, settles, "case"))
    return found


def _treatments(visit: Visit) -> list[Treatment]:
    """What is done at the visit: as its items say, else the treatment whose visit it is."""
    known = in_force().catalogue.treatments
    keys = dict.fromkeys(line.item.treatment for line in visit.visit_items.select_related("item"))
    keys |= {visit.key.partition(".")[0]: None} if visit.kind == "work" else {}
    return [known[key] for key in keys if key in known]


# ------------------------------------------------------------------------------------------------------- drawing up


def draw(visit: Visit, now: datetime) -> StepSheet:
    """The step sheet of ``visit`` as it comes out now. Raises Refused for a visit of which no steps are known."""
    day = books.today(visit.office, now)
    book = books.current_book(visit.office, day)
    plan = visit.plan
    today = case_facts(plan.case, day)
    lines = [line.item for line in visit.visit_items.select_related("item")]
    items = [item for item in lines if item.treatment] or list(plan.items.all())
    accepted = accepted_course(plan, items, book, today) if plan.estimate_id is not None else None
    if accepted is None:
        raise Refused(_("This plan is no option of an estimate: no steps are known for it."))
    frozen = read_frozen(plan.frozen)
    # Sizes and shares as accepted; what the patient must not meet as known today.
    facts = facts_in(frozen).model_copy(update={"history": today.history})
    gaps = next((each.gaps for each in frozen.spaces.plans if each.key == accepted.option.space_plan), ())
    least = limits_of(book.office_limits, facts.choices).gap_left_min
    asked = {item.treatment for item in items}
    course = replace(accepted.course, treatments=tuple(key for key in accepted.course.treatments if key in asked))
    parts = {part.key: part for part in accepted.parts if part.key in asked}
    # Where a part of the combination is done at another visit, nothing is joined at this one.
    joined = accepted.combination if course.treatments == accepted.course.treatments else None
    minutes = option_minutes(
        course, tuple(parts.values()), joined, facts, book, plan.accepted_on, gaps=gaps, gap_left_min=least
    )
    found = _visit_of(minutes.visits, visit.key)
    if found is None or not found.steps:
        raise Refused(
            _("No steps are known for “%(visit)s”: they stand in the files of the treatments.") % {"visit": visit.words}
        )
    done = dict.fromkeys(step.of for step in found.steps)
    needs = together([one for key in done for one in treatment_needs(parts[key], course.work, facts, book, arches=0)])
    return step_sheet(found, course, parts, facts, needs, gaps)


def _visit_of(visits: Sequence[VisitMinutes], key: str) -> VisitMinutes | None:
    """The visit called ``key``; its number falls away where only its own items were reckoned."""
    by_key = {each.key: each for each in visits}
    bare = key.partition("#")[0]
    alike = [each for each in visits if each.key.partition("#")[0] == bare]
    working = [each for each in visits if each.kind == "work" and each.teeth]
    return by_key.get(key) or by_key.get(bare) or next(iter(alike or working), None)


def _content(visit: Visit, sheet: StepSheet) -> str:
    zone = visit.office.zone
    said: dict[str, Any] = {
        "sheet": plain(sheet),
        "visit": {
            "id": visit.public_id,
            "words": visit.words,
            "day": visit.starts.astimezone(zone).date().isoformat(),
            "from": f"{visit.starts.astimezone(zone):%H:%M}",
            "to": f"{visit.ends.astimezone(zone):%H:%M}",
            "chair": visit.chair.name,
            "clinician": visit.clinician.full_name,
        },
        "if_then": agreed_list(visit),
        "plan_sha256": visit.plan.frozen.sha256,
    }
    return stable_json(said).decode()


def agreed_list(visit: Visit) -> list[str]:
    """What was agreed beforehand in case something is found, one sentence each, as it stands in the signed letter."""
    return [str(one) for one in facts_in(read_frozen(visit.plan.frozen)).choices.if_then]


def read_copy(copy: StepSheetCopy) -> StepSheet:
    """The sheet of a copy, as it was drawn up."""
    return sheet_of(json.loads(copy.content)["sheet"])


def draw_up(*, visit: Visit, actor: Staff, now: datetime) -> StepSheetCopy:
    """The step sheet as it is kept: drawn up anew, or the last one where nothing came out otherwise.

    Raises Refused with every reason against it and what settles each; NotAllowed.
    """
    require_own(actor, visit)
    require(actor, Act.CREATE, Thing.STEPS, subject=visit)
    if stops := stops_of(visit, now):
        raise Refused(" ".join(f"{stop.why} {stop.settles}" for stop in stops), faults=[("", s.why) for s in stops])
    content = _content(visit, draw(visit, now))
    with transaction.atomic():
        held = Visit.objects.select_for_update(of=("self",)).get(pk=visit.pk)
        last = held.step_sheets.order_by("-number").first()
        if last is not None and last.sha256 == sha256(content.encode()):
            return last
        if last is not None and last.stamps.exists():
            raise Refused(_("Work has begun by sheet %(n)d: it stays the sheet of this visit.") % {"n": last.number})
        made = StepSheetCopy.objects.create(
            office=held.office,
            visit=held,
            number=1 + (last.number if last else 0),
            content=content,
            sha256=sha256(content.encode()),
            by=actor,
            at=now,
        )
        record(actor=actor, act="steps.draw_up", subject=made, content={"sha256": made.sha256}, at=now)
    return made


def print_sheet(
    *, visit: Visit, actor: Staff, now: datetime, paper: Paper = "A4", make: Callable[[Job], Rendered] = render
) -> Document:
    """The paper of the step sheet, made once and kept. Raises Refused as :func:`draw_up` does; NotAllowed."""
    copy = draw_up(visit=visit, actor=actor, now=now)
    plan = visit.plan
    base = issue_of(plan.estimate) if plan.estimate is not None else Issue()
    said = replace(
        base, chosen=plan.option_key, steps=copy.content, handed_on=copy.at.astimezone(visit.office.zone).date()
    )
    (document,) = render_papers(
        frozen=plan.frozen,
        kinds=[step_sheet_said.KEY],
        issue=said,
        actor=actor,
        now=now,
        estimate=plan.estimate,
        paper=paper,
        make=make,
    )
    return document
