"""A screen in the patient's hands: a session that is nobody's and answers for one row until a member of staff signs in.

Handing over ends the session of whoever is signed in and begins another under a new key. That one holds what may be
shown and no person, so that every other address refuses by itself, as it does to anybody who is not signed in;
:class:`HandedMiddleware` refuses them before that with a page that says to give the screen back. What was on the screen
before cannot come back either: no page may be kept (``no_store``), and going back asks this session again.
"""

from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Final

from django.contrib.auth.models import AnonymousUser
from django.contrib.messages import get_messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import rotate_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _

from planner.practice import screens
from planner.practice.entering import let_in
from planner.practice.models import Staff
from planner.trail.errors import Refused
from planner.trail.services import Subject, record

KEY: Final = "handed"
"""Session key of what was handed over."""
ROOM: Final = "handed/"
"""Where everything lies that answers while a screen is handed over."""


@dataclass(frozen=True, slots=True)
class Handed:
    """What a screen was handed over for. Rows are named by kind and public id: this floor knows none of them."""

    kind: str
    public_id: str
    signing: str
    """Public id of the consent that may be signed on it; empty where none may."""
    showing: bool
    """Whether the pages of the estimate are shown; else only what is to be signed."""
    by: str
    """Public id of whoever handed it over."""
    language: str
    back: str
    """Address to which whoever takes it back is led."""

    @property
    def subject(self) -> Subject:
        """What the trail names."""
        return Subject(self.kind, self.public_id)


def handed_of(request: HttpRequest) -> Handed | None:
    """What this session was handed over for; None for any other session."""
    kept = request.session.get(KEY)
    return Handed(**kept) if kept else None


def hand_over(request: HttpRequest, handed: Handed, *, actor: Staff, now: datetime) -> HttpResponse:
    """End the session of ``actor`` and begin one that is nobody's and shows what ``handed`` names; lead there.

    The act itself, such as recording that an estimate is shown, is done by whoever calls this, before.
    """
    with transaction.atomic():
        content = {"signing": handed.signing, "showing": handed.showing, "language": handed.language}
        record(actor=actor, act="screen.hand_over", subject=handed.subject, content=content, at=now)
    if (row := getattr(request, "signed_in", None)) is not None:
        screens.end(row)
    list(get_messages(request))  # What was about to be said to staff is not said to the patient.
    request.session.flush()
    request.session[KEY] = asdict(handed)
    request.user = AnonymousUser()
    rotate_token(request)
    response = redirect(f"/{ROOM}")
    # Beside ``no-store``: a browser drops what it still holds of the pages before.
    response["Clear-Site-Data"] = '"cache"'
    return response


def take_back(request: HttpRequest, handed: Handed, *, staff: Staff, now: datetime) -> None:
    """Sign ``staff`` in and end the handing over; to be called once the password was written and found right.

    Who has one-time codes is asked for one next, before anything else answers.
    Raises Refused for somebody of another office than the one that handed it over.
    """
    who = Staff.objects.get(public_id=handed.by)
    if staff.office_id != who.office_id:
        raise Refused(_("This screen was handed over by %(office)s: somebody from there takes it back.")
                      % {"office": who.office.name})  # fmt: skip
    with transaction.atomic():
        record(actor=staff, act="screen.take_back", subject=handed.subject, at=now)
    del request.session[KEY]
    let_in(request, staff, onward=handed.back)


class HandedMiddleware:
    """While a screen is handed over, nothing answers but what lies in :data:`ROOM` and the page for signing in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer one request."""
        handed = handed_of(request)
        if handed is None:
            return self.get_response(request)
        if request.path == reverse("practice:sign_in"):  # For staff, and in their language.
            return self.get_response(request)
        with translation.override(handed.language):
            request.LANGUAGE_CODE = translation.get_language()
            if request.path.startswith(f"/{ROOM}"):
                return self.get_response(request)
            return render(request, "practice/handed.html", status=403)
