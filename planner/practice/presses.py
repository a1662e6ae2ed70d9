"""The same form sent twice is done once: a double press, a press again while the first one is slow, a way back.

Every page is drawn with a token of its own, which the check against forged requests wants back in each form. The same
token from the same sign-in with the same content is the same press: it leads where the first one led, and does
nothing. Only what was answered by leading on counts; a form that came back with a fault may be sent again as it is.

That a request which may arrive twice carries a key by which it is known again is common practice, no source.
"""

import hashlib
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from typing import Any, Final

from django.contrib import messages
from django.db import DatabaseError, IntegrityError, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.practice.middleware import always_open
from planner.practice.press_models import Press

TOKEN: Final = "csrfmiddlewaretoken"  # noqa: S105 - the name of a field
KEPT: Final = timedelta(days=1)
SWEEPS: Final = "0"
"""One press in sixteen, by its digest, takes away those that are too old."""
WAITS: Final = 40
"""Looks at the first press, a quarter of a second apart, before the second one is told that it is still going on."""


class PressMiddleware:
    """Lets each press through once. Stands behind whatever decides who is signed in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer one request, and keep where a press led.

        Where that cannot be written the answer stands as it is: the act itself was stored or refused before. The next
        press of the same is then told to look, which is never wrong.
        """
        led_to = ""
        try:
            response = self.get_response(request)
            led_to = response.headers["Location"][:600] if response.status_code == 302 else ""
            return response
        finally:
            if (press := getattr(request, "press", None)) is not None:
                row = Press.objects.filter(pk=press.pk)
                with suppress(DatabaseError):
                    if led_to:
                        row.update(led_to=led_to)
                    else:  # nothing was done: the form came back, or something failed
                        row.delete()

    def process_view(self, request: HttpRequest, view: Any, *_given: Any) -> HttpResponse | None:
        """None for the first press; for a second one where the first led, once that is known."""
        digest = _digest(request, view)
        if digest is None:
            return None
        now = timezone.now()
        for _look in range(WAITS):
            try:
                with transaction.atomic():
                    request.press = Press.objects.create(digest=digest, pressed_at=now)  # type: ignore[attr-defined]
                    if digest.startswith(SWEEPS):
                        Press.objects.filter(pressed_at__lt=now - KEPT).delete()
                return None
            except IntegrityError:
                led_to = Press.objects.filter(digest=digest).values_list("led_to", flat=True).first()
            if led_to:
                messages.info(request, _("It was sent twice and is done once: this is where the first press led."))
                return redirect(led_to)
            if led_to is not None:  # else the first press came to nothing, and this one may try
                time.sleep(0.25)
        sentence = _(
            "The same was sent a moment ago and is not answered yet. Look whether it is done before you go on."
        )
        return render(request, "409.html", {"sentence": sentence, "unsure": True}, status=409)


def _digest(request: HttpRequest, view: Any) -> str | None:
    """By what this press is known again; None where it is none that could be."""
    if request.method != "POST" or getattr(view, "csrf_exempt", False) or request.headers.get("HX-Request"):
        return None
    whose = request.session.session_key
    if not whose or TOKEN not in request.POST or request.path in always_open():
        return None
    sent = [(name, values) for name, values in sorted(request.POST.lists())]
    files = [(name, file.name, file.size) for name, found in sorted(request.FILES.lists()) for file in found]
    return hashlib.sha256(repr((whose, request.get_full_path(), sent, files)).encode()).hexdigest()
