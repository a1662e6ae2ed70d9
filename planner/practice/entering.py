"""The one place where pages sign somebody in."""

from django.contrib.auth import login
from django.http import HttpRequest

from planner.practice import codes
from planner.practice.middleware import FIRST_STEPS, OWN_PASSWORD, SET_UP_CODES, SHOW_CODE
from planner.practice.models import Staff

BACKEND = "planner.practice.backends.StaffBackend"
ONWARD = "onward"
"""Session key: where to go once the first steps are done."""


def let_in(request: HttpRequest, staff: Staff, *, beside: str = "", onward: str = "") -> None:
    """Sign ``staff`` in, whose password was right; ``beside`` it they showed this.

    What they have yet to do first is noted, and nothing else answers before (:class:`FirstStepsMiddleware`): to show a
    code, to choose an own password, to set up codes. After a code they are led ``onward``.
    """
    request.shown_beside = beside  # type: ignore[attr-defined]
    login(request, staff, backend=BACKEND)
    has_codes = codes.secret_of(staff) is not None
    first = [SHOW_CODE] if has_codes and not beside else []
    if staff.password_once:
        first.append(OWN_PASSWORD)
    if codes.must_have(staff) and not has_codes:
        first.append(SET_UP_CODES)
    if first:
        request.session[FIRST_STEPS], request.session[ONWARD] = first, onward
