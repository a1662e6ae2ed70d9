"""Tries that are counted like those of signing in: so many misses from one place, then a rest.

The same component counts both, in the database, with the same limits (``AXES_`` in the settings).
"""

from axes.handlers.proxy import AxesProxyHandler
from axes.utils import reset
from django.http import HttpRequest


def may_try(request: HttpRequest, what: str) -> bool:
    """Whether another try at ``what`` is allowed from where ``request`` comes from."""
    return bool(AxesProxyHandler.is_allowed(request, _as_somebody(what)))


def count_miss(request: HttpRequest, what: str) -> None:
    """Count a try at ``what`` that led to nothing."""
    AxesProxyHandler.user_login_failed("planner", _as_somebody(what), request)
    # Signing in itself stays open here: without this the answer would become the page that says it rests.
    request.axes_locked_out = False  # type: ignore[attr-defined]


def _as_somebody(what: str) -> dict[str, str]:
    """``what`` as a name that nobody can sign in by: names have no blanks."""
    return {"username": f"try {what}"}


def forget_misses(what: str) -> None:
    """Begin to count anew, after a try at ``what`` that succeeded."""
    reset(username=_as_somebody(what)["username"])
