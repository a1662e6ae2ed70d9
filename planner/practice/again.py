"""Saying who one is once more, with the act itself: for signing, exporting, and whatever else asks for it.

A view calls :func:`ask_again` once it knows that the act can be done; :func:`said_again` asks before every POST of a
view. Whoever is signed in writes the own password; misses are counted and rested on like those of signing in. The page
that asks carries everything that was sent, so nothing that was typed is lost; a file cannot be carried that way.
"""

from collections.abc import Callable, Iterable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.practice.models import Staff
from planner.practice.requests import actor_of
from planner.practice.tries import count_miss, forget_misses, may_try
from planner.trail.services import Subject, record_refusal

FIELD = "password_again"
_NEVER_CARRIED = (FIELD, "csrfmiddlewaretoken")

View = Callable[..., HttpResponse]


def ask_again(request: HttpRequest, *, lead: str = "", back: str = "", file: bool = False) -> HttpResponse | None:
    """None where this very request carries the password of whoever is signed in; else the page that asks for it.

    ``lead`` says what is about to be done, ``back`` is the address to leave by; ``file``: what follows is saved by the
    browser, which leaves this page standing.
    """
    staff, fault, status = actor_of(request), "", 200
    if FIELD in request.POST:
        fault, status = password_fault(request, staff, request.POST.get(FIELD, ""), act="said.again")
        if not fault:
            return None
    sent = carried(request, _NEVER_CARRIED)
    context = {"staff": staff, "sent": sent, "fault": fault, "lead": lead, "back": back, "field": FIELD, "file": file}
    return render(request, "practice/again.html", context, status=status)


def password_fault(request: HttpRequest, staff: Staff, written: str, *, act: str) -> tuple[str, int]:
    """What is wrong with ``written`` as the password of ``staff``, and the status to answer with; no words if nothing.

    A miss is counted, and recorded as a refusal of ``act``; all that ask for the password of one person count together.
    """
    what = f"again {staff.pk}"
    if not may_try(request, what):
        return _("Too many wrong passwords from here: wait a quarter of an hour, then try again."), 429
    if written and staff.check_password(written):
        forget_misses(what)
        return "", 200
    count_miss(request, what)
    subject = Subject("practice.staff", staff.public_id)
    record_refusal(actor=staff, act=act, subject=subject, reason="wrong password", at=timezone.now())
    return _("This is not your password: write the one you signed in with."), 200


def carried(request: HttpRequest, never: Iterable[str]) -> list[tuple[str, str]]:
    """Everything that was sent, by name, to be sent once more with the password; but what is named in ``never``."""
    kept = set(never)
    return [(name, value) for name, values in request.POST.lists() if name not in kept for value in values]


def said_again(*, lead: Callable[[], str] | None = None) -> Callable[[View], View]:
    """A view of which every POST is let through only together with the password of whoever is signed in."""

    def wrap(view: View) -> View:
        @wraps(view)
        def asks(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if request.method == "POST":
                words = lead() if lead is not None else ""
                if (page := ask_again(request, lead=words, back=request.get_full_path())) is not None:
                    return page
            return view(request, *args, **kwargs)

        return asks

    return wrap
