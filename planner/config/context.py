"""What the frame of every page shows besides the page: the office, and the rooms this person may enter."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from planner.practice.access import Act, Thing, may
from planner.practice.catalogue import InForce, in_force
from planner.practice.middleware import FIRST_STEPS
from planner.practice.models import Staff
from planner.practice.screens import limit_of
from planner.story.services import unseen_openings


@dataclass(frozen=True, slots=True)
class Room:
    """One entry of the line at the top of the page."""

    name: str | Promise
    url: str
    here: bool


# Address name, words, and what somebody must be allowed to view to be shown the way; None is for everybody.
ROOMS: tuple[tuple[str, str | Promise, Thing | None], ...] = (
    ("practice:home", _("Today"), None),
    ("patients:list", _("Patients"), Thing.IDENTITY),
    ("plans:list", _("Estimates"), Thing.ESTIMATE),
    ("visits:day", _("Diary"), Thing.VISIT),
    ("followup:monday", _("Monday page"), Thing.MONDAY),
    ("practice:stock", _("Stock"), Thing.STOCK),
    ("practice:office", _("Office book"), Thing.BOOK),
    ("practice:staff", _("Staff"), Thing.STAFF),
)
# Pages that belong to another room than the one their address begins with.
ELSEWHERE = {
    "keeping:past": "practice:office",
    "keeping:person": "practice:office",
    "keeping:asked": "practice:office",
    "visits:stock_need": "practice:stock",
    "visits:took": "practice:office",
    "visits:took_adopt": "practice:office",
    "visits:stock_orders": "practice:stock",
    "letters:papers": "plans:list",
    "letters:document": "plans:list",
}

TOLD_ON = ("practice:home", "followup:monday")
"""Where those who look into emergency openings are told of new ones."""


def frame(request: HttpRequest) -> dict[str, Any]:
    """The office and the rooms for the template ``base.html``; nothing for somebody who is not signed in."""
    staff = getattr(request, "user", None)
    if not isinstance(staff, Staff):
        return {}
    rooms = []
    belongs = ELSEWHERE.get(request.resolver_match.view_name) if request.resolver_match else None
    for name, words, thing in ROOMS:
        if thing is not None and not may(staff, Act.VIEW, thing):
            continue
        try:
            url = reverse(name)
        except NoReverseMatch:  # a floor that is not built yet has no door
            continue
        begins = request.path == url or (url != "/" and request.path.startswith(url))
        rooms.append(Room(words, url, here=name == belongs if belongs else begins))
    told: dict[str, Any] = {"own_treatments": _own_treatments(staff), "emergencies": _emergencies(request, staff)}
    told["screen"] = _screen(request)
    return {"office": staff.office, "rooms": rooms} | told


def _emergencies(request: HttpRequest, staff: Staff) -> int:
    """How many files were opened in an emergency and nobody looked at it yet: on the pages a manager begins with."""
    here = request.resolver_match.view_name if request.resolver_match else ""
    return unseen_openings(staff) if here in TOLD_ON and may(staff, Act.APPROVE, Thing.EMERGENCY) else 0


def _screen(request: HttpRequest) -> int | None:
    """After how many seconds the screen goes blank; None while there is no own password yet to come back with."""
    row = getattr(request, "signed_in", None)
    if row is None or request.session.get(FIRST_STEPS):
        return None
    return int(limit_of(row).total_seconds())


def _own_treatments(staff: Staff) -> InForce | None:
    """What is wrong with the office's own treatments, for those who can mend it: dentists and managers."""
    if not (may(staff, Act.APPROVE, Thing.FINDINGS) or may(staff, Act.CREATE, Thing.BOOK)):
        return None
    found = in_force()
    return found if found.faults else None
