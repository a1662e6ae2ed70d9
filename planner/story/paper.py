"""Pages of this floor on paper: the same renderer as for papers, carrying the data that is printed.

They belong to the office and to whoever asks for them, not to a plan: they are not kept as papers of one. That one was
printed, and the hash of the file that went out, stands in the trail.
"""

import json
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _

from planner.letters.pdf import Attached, Job, PaperError, Rendered, render
from planner.letters.wording import day, direction
from planner.patients.models import Patient
from planner.practice.models import Staff
from planner.rules.results import sha256
from planner.story.services import printed
from planner.trail.errors import Refused


def print_page(
    *,
    template: str,
    what: str,
    patient: Patient,
    context: Mapping[str, Any],
    data: Mapping[str, Any],
    actor: Staff,
    now: datetime,
    language: str = "en",
    points: int = 11,
    make: Callable[[Job], Rendered] = render,
) -> bytes:
    """The page as a PDF file that carries ``data`` as JSON; ``what`` names it in the trail. Raises Refused."""
    carried = json.dumps(data, sort_keys=True, ensure_ascii=False, indent=1, default=str).encode()
    on = now.astimezone(patient.office.zone).date()
    with translation.override(language):
        frame = {
            "language": language,
            "direction": direction(language),
            "points": points,
            "office": patient.office.name,
            "office_place": patient.office.place,
            "patient": patient.name,
            "born": day(patient.birth_date, language),
            "printed_on": day(on, language),
            "printed_by": actor.full_name,
            "zone": patient.office.time_zone,
            "sha256": sha256(carried),
            "short_hash": sha256(carried)[:16],
        }
        said = {key: value(language) if callable(value) else value for key, value in context.items()}
        html = render_to_string(template, frame | said)
        described = _("The data that this paper was made from")
    try:
        made = make(Job(html, (Attached("record.json", carried, on, described),)))
    except PaperError as error:
        raise Refused(str(error)) from None
    printed(patient=patient, what=what, sha256=sha256(made.content), pages=made.pages, actor=actor, now=now)
    return made.content
