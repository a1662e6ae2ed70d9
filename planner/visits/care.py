"""The after-care sheet of a visit: what was done at it decides what the patient takes home."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from django.utils.translation import gettext as _

from planner.letters import care_said
from planner.letters.issue import Issue
from planner.letters.models import Document
from planner.letters.papers import LANGUAGES
from planner.letters.pdf import Job, Rendered, render
from planner.letters.services import issue_of, render_papers
from planner.practice.access import require_own
from planner.practice.catalogue import in_force
from planner.practice.models import Staff
from planner.rules.after_care import CareSheet, care_sheet
from planner.rules.results import plain, stable_json
from planner.rules.treatments import Treatment
from planner.rules.visit_states import VisitState
from planner.trail.errors import Refused
from planner.visits.models import Visit


def sheet_for(visit: Visit, language: str = "en") -> CareSheet | None:
    """What is said after ``visit``; None where nothing is left behind that wants care at home."""
    return care_sheet(_done(visit), language)


def print_care(*, visit: Visit, actor: Staff, now: datetime, make: Callable[[Job], Rendered] = render) -> Document:
    """The after-care sheet in the patient's print size and language, made once and kept. Raises Refused, NotAllowed."""
    require_own(actor, visit)
    if visit.state not in (VisitState.BOOKED, VisitState.KEPT):
        raise Refused(_("The visit is %(state)s.") % {"state": visit.state})
    plan = visit.plan
    language = plan.patient.language if plan.patient.language in LANGUAGES else "en"
    sheet = sheet_for(visit, language)
    if sheet is None:
        raise Refused(_("Nothing done at this visit wants care at home: no sheet is made."))
    zone = visit.office.zone
    coming = plan.visits.filter(state=VisitState.BOOKED.value, starts__gt=visit.ends).order_by("starts").first()
    said = plain(sheet) | {
        "visit": visit.words,
        # Printed before the visit, to be handed over at its end, it does not say that anything was done.
        "is_done": visit.state == VisitState.KEPT or visit.starts <= now,
        "day": visit.starts.astimezone(zone).date().isoformat(),
        "next": coming.starts.astimezone(zone).date().isoformat() if coming else "",
        "plan_sha256": plan.frozen.sha256,
    }
    base = issue_of(plan.estimate) if plan.estimate is not None else Issue()
    issue = replace(
        base,
        chosen=plan.option_key,
        care=stable_json(said).decode(),
        handed_on=visit.starts.astimezone(zone).date(),
    )
    (document,) = render_papers(
        frozen=plan.frozen,
        kinds=[care_said.KEY],
        issue=issue,
        actor=actor,
        now=now,
        estimate=plan.estimate,
        language=language,
        make=make,
    )
    return document


def _done(visit: Visit) -> list[tuple[Treatment, str]]:
    """What is done at the visit, as (treatment, key of its own visit): its own, and what came with it."""
    known = in_force().catalogue.treatments
    own, _, rest = visit.key.partition("#")[0].partition(".")
    found = []
    for key in dict.fromkeys(line.item.treatment for line in visit.visit_items.select_related("item")):
        part = known.get(key)
        if part is None:
            continue
        working = [each.key for each in part.visits if each.kind == "work" and not each.optional]
        found += [(part, rest)] if key == own else [(part, name) for name in working[:1]]
    if own in known and all(part.key != own for part, _visit in found):
        found.append((known[own], rest))
    return found
