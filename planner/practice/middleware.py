"""What follows from who is signed in: language, time zone, the record of refused acts, and the page for a refusal."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation

from planner.practice.access import record_opened, write_refusal
from planner.practice.models import Staff
from planner.trail.errors import NotAllowed, Refused
from planner.trail.services import record_refusal


class StaffMiddleware:
    """Shows pages in the person's language and the office's zone, and records acts that services refused."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer one request."""
        staff = request.user
        if not isinstance(staff, Staff):
            return self.get_response(request)
        translation.activate(staff.language)
        request.LANGUAGE_CODE = translation.get_language()
        with timezone.override(staff.office.zone):
            answer = self.get_response(request)
            if _shows_a_page(request, answer):
                match = request.resolver_match
                record_opened(staff, page=match.view_name if match else "", now=timezone.now())
            return answer

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Record a refusal after the act's transaction was rolled back; Django then answers 403.

        What a service refused and no form could show, because the address named something that is not there any
        more, is a page with its sentence and not an error of the server.
        """
        if isinstance(exception, NotAllowed) and isinstance(request.user, Staff):
            write_refusal(exception, actor=request.user, now=timezone.now())
        if isinstance(exception, Refused):
            if isinstance(request.user, Staff) and request.resolver_match:
                act = request.resolver_match.view_name.replace(":", ".")
                reason, now = exception.sentence, timezone.now()
                record_refusal(actor=request.user, act=act, subject=request.user.opened, reason=reason, at=now)
            return render(request, "409.html", {"sentence": exception.sentence}, status=409)
        return None


def _shows_a_page(request: HttpRequest, answer: HttpResponse) -> bool:
    """Whether a whole page was looked at. Parts that a page fetches belong to its own opening; files have own rows."""
    whole = request.method == "GET" and not request.headers.get("HX-Request")
    return whole and answer.status_code == 200 and answer.headers.get("Content-Type", "").startswith("text/html")


FIRST_STEPS = "first-steps"
"""Session key: what whoever signed in has to do before anything else, in order (keys of :data:`DOORS`)."""
SHOW_CODE, OWN_PASSWORD, SET_UP_CODES = "code", "password", "codes"
DOORS = {SHOW_CODE: "practice:sign_in_code", OWN_PASSWORD: "practice:password", SET_UP_CODES: "practice:codes"}


class FirstStepsMiddleware:
    """Leads somebody who has to show a code, choose a password or set up codes there, and nowhere else before."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer one request."""
        wanted = request.session.get(FIRST_STEPS, [])
        if wanted and (door := reverse(DOORS[wanted[0]])) != request.path and request.path not in always_open():
            return redirect(door)
        return self.get_response(request)


def always_open() -> tuple[str, ...]:
    """Addresses that stand open to whoever is signed in, whatever else has to be done first."""
    return reverse("practice:sign_out"), reverse("practice:screen"), reverse("health")


def step_done(request: HttpRequest, step: str) -> None:
    """Somebody did what had to be done first."""
    request.session[FIRST_STEPS] = [wanted for wanted in request.session.get(FIRST_STEPS, []) if wanted != step]
