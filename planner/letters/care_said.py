"""The after-care sheet as a paper: what the patient takes home after a visit, frozen beside the plan."""

import json
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from planner.letters.pdf import PaperError
from planner.letters.sheet import Sheet
from planner.letters.wording import day

KEY = "after-care"


def why_not(sheet: Sheet) -> str:
    """Why there is no after-care sheet to print, in one sentence; empty where there is."""
    if not sheet.issue.care:
        return _("An after-care sheet belongs to a visit: print it from there.")
    return ""


def context(sheet: Sheet) -> dict[str, Any]:
    """What the sheet says. Raises PaperError where none was made, or it belongs to another plan."""
    if refused := why_not(sheet):
        raise PaperError(refused)
    said: dict[str, Any] = json.loads(sheet.issue.care)
    if said["plan_sha256"] != sheet.sha256:
        raise PaperError(_("The after-care sheet was made for another plan than this one."))
    headings = {
        "today": _("Today"),
        "soon": _("The next days"),
        "later": _("From now on"),
        "ring": _("Ring us about"),
        "at once": _("Do not wait"),
    }
    return {
        "treatments": said["treatments"],
        "visit": said["visit"],
        "is_done": said.get("is_done", True),
        "day": day(date.fromisoformat(said["day"]), sheet.language),
        "next_on": day(date.fromisoformat(said["next"]), sheet.language) if said["next"] else "",
        "parts": [(headings[part["when"]], part["lines"], part["when"]) for part in said["parts"]],
        "translated": said["translated"],
    }
