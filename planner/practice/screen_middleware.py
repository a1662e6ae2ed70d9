"""What a screen answers that nobody was at for a while: the page that asks for the password, and nothing else."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from planner.practice import screens
from planner.practice.again import carried, password_fault
from planner.practice.middleware import FIRST_STEPS, always_open
from planner.practice.models import Staff
from planner.practice.sign_in_models import SignedIn

FIELD, LOOKED = "password_unlock", "only_looked"
"""Fields of the page: the password, and that the page was only asked for, not sent anything."""
ACT = "screen.unlock"


class ScreenMiddleware:
    """Holds every request against the sign-in it belongs to: ended, blank, or somebody is there."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer one request; a sign-in that ended is signed out before anybody asks who it is."""
        if isinstance(request.user, Staff):
            now = timezone.now()
            row = screens.of(request, request.user, now)
            if row is None or _cannot_come_back(request, row):
                logout(request)
            request.signed_in = row  # type: ignore[attr-defined]
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *_view: Any) -> HttpResponse | None:
        """Let a request through where somebody is there. Comes after the check against forged requests, which what is
        sent on with the password must have passed."""
        row: SignedIn | None = getattr(request, "signed_in", None)
        staff = request.user
        if row is None or not isinstance(staff, Staff) or request.path in always_open():
            return None
        now = timezone.now()
        if not screens.is_blank(row, now):
            screens.seen(row, now)
            return None
        return _unlock(request, staff, row)


def _cannot_come_back(request: HttpRequest, row: SignedIn) -> bool:
    """Whether the screen is blank before its first steps are done: there is no own password yet to come back with."""
    return bool(request.session.get(FIRST_STEPS)) and screens.is_blank(row, timezone.now())


def _unlock(request: HttpRequest, staff: Staff, row: SignedIn) -> HttpResponse | None:
    """The page that asks for the password, with everything that was sent; None once it came and the request goes on."""
    fault, status = "", 403
    if request.method == "POST" and FIELD in request.POST:
        fault, status = password_fault(request, staff, request.POST[FIELD], act=ACT)
        if not fault:
            screens.wake(row, timezone.now())
            if LOOKED in request.POST:
                return redirect(request.get_full_path())
            sent = request.POST.copy()
            sent.pop(FIELD)
            request.POST = sent  # type: ignore[assignment]
            return None
    if request.headers.get("HX-Request"):  # a part of a page: the page itself goes blank, with what was typed in it
        return HttpResponse(status=403, headers={"HX-Reswap": "none", "HX-Trigger": "screen-blank"})
    looked = request.method != "POST" or LOOKED in request.POST
    context = {"staff": staff, "fault": fault, "field": FIELD, "looked": LOOKED if looked else "", "rooms": ()}
    context["sent"] = carried(request, (FIELD, LOOKED, "csrfmiddlewaretoken"))
    context["files"] = bool(request.FILES)
    return render(request, "practice/unlock.html", context, status=max(status, 403))
