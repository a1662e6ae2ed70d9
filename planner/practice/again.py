"""Saying who one is once more, with the act itself: for signing, exporting, and whatever else asks for it.

A view calls :func:`ask_again` once it knows that the act can be done; :func:`said_again` asks before every POST of a
view. Whoever is signed in writes the own password; misses are counted and rested on like those of signing in. The page
that asks carries everything that was sent, so nothing that was typed is lost; a file cannot be carried that way.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.practice.requests import actor_of
from planner.practice.tries import count_miss, forget_misses, may_try
from planner.trail.services import Subject, record_refusal

FIELD = "password_again"
_NEVER_CARRIED = (FIELD, "csrfmiddlewaretoken")

View = Callable[..., HttpResponse]


def ask_again(request: HttpRequest, *, lead: str = "", back: str = "") -> HttpResponse | None:
    """None where this very request carries the password of whoever is signed in; else the page that asks for it.

    ``lead`` says what is about to be done, ``back`` is the address to leave by.
    """
    staff, fault, status = actor_of(request), "", 200
    what = f"again {staff.pk}"
    written = request.POST.get(FIELD, "")
    if FIELD in request.POST and not may_try(request, what):
        fault, status = _("Too many wrong passwords from here: wait a quarter of an hour, then try again."), 429
    elif written and staff.check_password(written):
        forget_misses(what)
        return None
    elif FIELD in request.POST:
        fault = _("This is not your password: write the one you signed in with.")
        count_miss(request, what)
        subject = Subject("practice.staff", staff.public_id)
        record_refusal(actor=staff, act="said.again", subject=subject, reason="wrong password", at=timezone.now())
    sent = [(name, value) for name, values in request.POST.lists() if name not in _NEVER_CARRIED for value in values]
    context = {"staff": staff, "sent": sent, "fault": fault, "lead": lead, "back": back, "field": FIELD}
    return render(request, "practice/again.html", context, status=status)


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
