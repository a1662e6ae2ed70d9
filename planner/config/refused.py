"""The pages for what no view could answer: what cannot be read as a request, and what the database did not take.

Django calls both functions itself. Neither may ask the database anything: it may be away.
"""

import errno
import sys
from collections.abc import Iterator

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.http.request import UnreadablePostError
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.defaults import server_error

from planner.practice.again import carried

NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EIO}
SECRET = ("password", "csrfmiddlewaretoken")
"""What stands in a field with such a word in its name is never written into a page."""
ONE_TIME = ("practice:sign_in_code", "practice:codes")
"""Pages whose field ``code`` is a one-time code; elsewhere it is an office's own short code, and kept."""


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """413 with the limit for a form that is too long, 503 where the sign-in could not be written, 400 for the rest."""
    if isinstance(exception, RequestDataTooBig):
        most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE // 1024 // 1024
        return render(request, "413.html", {"most": most}, status=413)
    if _not_taken(exception):
        return not_saved(request)
    return render(request, "400.html", status=400)


def broken(request: HttpRequest) -> HttpResponse:
    """503 with what was typed where the database was away or had no room, else the page for a fault of the program."""
    return not_saved(request) if _not_taken(sys.exc_info()[1]) else server_error(request)


def not_saved(request: HttpRequest) -> HttpResponse:
    """The page that says so and holds what was sent, to be sent again; for a part of a page, a sentence above it."""
    context = {"path": request.get_full_path(), "sent": [], "files": False, "posted": request.method == "POST"}
    if request.headers.get("HX-Request"):  # the page stands as it was, with what was typed in it
        answer = HttpResponse(render_to_string("parts/not_saved.html", context), status=503)
        answer["HX-Retarget"], answer["HX-Reswap"] = "#content", "afterbegin show:#content:top"
        return answer
    if context["posted"] and request.path != settings.LOGIN_URL:
        try:
            secret = (*SECRET, "code") if request.path in map(reverse, ONE_TIME) else SECRET
            names = [name for name in request.POST if any(word in name for word in secret)]
            context |= {"sent": carried(request, names), "files": bool(request.FILES)}
        except (UnreadablePostError, RequestDataTooBig):
            context["posted"] = False
        context["csrf_token"] = get_token(request)
    return HttpResponse(render_to_string("503.html", context), status=503)


def _not_taken(error: BaseException | None) -> bool:
    """Whether ``error`` came of a database that is away, busy or without room, or of a disk that takes no more."""
    return any(
        isinstance(one, OperationalError | InterfaceError) or (isinstance(one, OSError) and one.errno in NO_ROOM)
        for one in _led_by(error)
    )


def _led_by(error: BaseException | None) -> Iterator[BaseException]:
    """``error`` and what led to it."""
    seen: list[BaseException] = []
    while error is not None and error not in seen:
        seen.append(error)
        yield error
        error = error.__cause__ or error.__context__
