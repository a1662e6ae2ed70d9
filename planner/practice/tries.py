"""Tries that are counted like those of signing in: so many misses from one place, then a rest.

The same component counts all of them, in the database, so that a restart forgets nothing, with the same limits
(``AXES_`` in the settings). Whoever tries from many places at once meets a second limit, on the name alone.
"""

from typing import Any

from axes.handlers.database import AxesDatabaseHandler
from axes.handlers.proxy import AxesProxyHandler
from axes.models import AccessAttempt
from axes.utils import reset
from django.conf import settings
from django.db.models import Sum
from django.http import HttpRequest
from django.utils import timezone


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


class Handler(AxesDatabaseHandler):  # type: ignore[misc]
    """Counts by name and address together, and by the name alone with a limit of its own (``AXES_HANDLER``)."""

    def is_locked(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> bool:
        """Whether this name rests, for this address or for all."""
        if super().is_locked(request, credentials):
            return True
        if not rests_everywhere(plain_name(request, credentials)):
            return False
        request.axes_locked_out = True  # type: ignore[attr-defined]
        return True


def rests_everywhere(name: str) -> bool:
    """Whether ``name`` was missed so often of late, from wherever, that it rests for everybody.

    The limit is far above what a person mistypes, so that a stranger cannot shut a colleague out by a handful of tries
    (OWASP ASVS 5.0, V6.1.1), and below the hundred tries in a row of NIST SP 800-63B-4, 3.2.2.
    """
    since = timezone.now() - settings.AXES_COOLOFF_TIME
    lately = AccessAttempt.objects.filter(username=name, attempt_time__gte=since)
    return (lately.aggregate(misses=Sum("failures_since_start"))["misses"] or 0) >= settings.MOST_MISSES_EVERYWHERE


def plain_name(_request: HttpRequest | None, credentials: dict[str, Any] | None) -> str:
    """The sign-in name under which misses are counted: one person's, however it is typed (for ``AXES_``)."""
    from planner.practice.models import plain_username

    return plain_username(str((credentials or {}).get("username") or ""))[:255]
