"""The request to an orthodontist: the least movement after which material alone is enough, as a paper for a colleague.

Its sentences are those that were computed and frozen with the plan; see :mod:`planner.rules.ortho_request`.
"""

from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.letters.carried import FOR_THE_WORKSHOP
from planner.letters.pdf import PaperError
from planner.letters.sheet import Kind, Sheet
from planner.letters.teeth_said import TeethSaid
from planner.letters.wording import day
from planner.practice.access import Act, Thing
from planner.rules.units import format_mm
from planner.rules.words import ENGLISH

KEY: Final = "request-to-orthodontist"


def why_not(sheet: Sheet) -> str:
    """Why there is nothing to ask an orthodontist for, in one sentence; empty where there is."""
    if not sheet.plan.spaces.request:
        return _("No movement of teeth is asked for by this plan: there is nothing to request of an orthodontist.")
    return ""


def context(sheet: Sheet) -> dict[str, Any]:
    """What the request says. Raises PaperError where no movement is asked for."""
    if refused := why_not(sheet):
        raise PaperError(refused)
    examination, written = sheet.facts.examination, TeethSaid(sheet.words)
    return {
        "request": [written(sentence) for sentence in sheet.plan.spaces.request],
        "gaps": [
            (sheet.words.label(gap.between[0]), sheet.words.label(gap.between[1]), format_mm(gap.width))
            for gap in examination.gaps
        ],
        "wishes": sorted(sheet.facts.wishes, key=lambda wish: wish.rank),
        "measured_on": day(examination.on, sheet.language),
        "measured_by": examination.confirmed_by or examination.by,
        "instrument": {"caliper": _("calliper"), "scan": _("scan"), "film": _("film")}[examination.instrument],
    }


PAPER: Final = Kind(
    KEY,
    gettext_lazy("Request to an orthodontist"),
    "letters/ortho_request.html",
    context,
    made_by=(Act.CREATE, Thing.FINDINGS),
    seen_by=(Act.VIEW, Thing.MEASUREMENTS),
    carries=FOR_THE_WORKSHOP,
    points=11,
    language=ENGLISH,
    why_not=why_not,
)
