"""What whoever comes second is told: what became of the thing meanwhile, by whom, and on which day."""

from datetime import date, datetime

from django.utils.translation import gettext as _

from planner.practice.fields import day_words
from planner.practice.models import Office, Staff


def done_by(did: str, who: Staff | None, at: date | datetime | None, office: Office) -> str:
    """``did`` with who did it and the day of it in the office's zone: "allowed by Ida Both on 2 March 2026"."""
    day = at.astimezone(office.zone).date() if isinstance(at, datetime) else at
    name = who.full_name if who is not None else _("the program")
    said = {"did": did, "who": name, "day": day_words(day) if day is not None else "–"}
    return _("%(did)s by %(who)s on %(day)s") % said


def answered_already(outcome: str, who: Staff | None, at: date | datetime | None, office: Office) -> str:
    """The sentence for a question that somebody answered before, with the answer and who gave it."""
    return _("This was answered already: %(outcome)s.") % {"outcome": done_by(outcome, who, at, office)}
