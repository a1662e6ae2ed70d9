"""Sign-in, sign-out and failed sign-in, recorded where Django tells of them."""

from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.db import transaction
from django.utils import timezone

from planner.practice import screens
from planner.practice.models import Staff, plain_username
from planner.practice.sign_in_models import SignedIn
from planner.trail.services import record, record_refusal


def signed_in(sender: Any, request: Any, user: Any, **_kwargs: Any) -> None:
    """Note the screen and record that somebody signed in, with what they showed beside the password, if anything.

    Whatever signs somebody in passes here, and is then signed in for good: codes are asked for before.
    """
    if isinstance(user, Staff):
        now = timezone.now()
        beside = getattr(request, "shown_beside", "")
        with transaction.atomic():
            screens.begin(request, user, now)
            content = {"beside": beside} if beside else None
            record(actor=user, act="session.begin", subject=user, content=content, at=now)


def signed_out(sender: Any, request: Any, user: Any, **_kwargs: Any) -> None:
    """Record that somebody signed out, or was."""
    if isinstance(user, Staff):
        with transaction.atomic():
            SignedIn.objects.filter(staff=user, public_id=request.session.get(screens.KEY, "")).delete()
            record(actor=user, act="session.end", subject=user, at=timezone.now())


def sign_in_failed(sender: Any, credentials: dict[str, Any], **_kwargs: Any) -> None:
    """Record a failed sign-in under the office of the name that was tried, if anybody has it. Never the password."""
    tried = plain_username(str(credentials.get("username") or ""))[:60]
    known = Staff.objects.filter(username=tried).first()
    record_refusal(
        actor=None,
        act="session.begin",
        subject=known,
        content={"username": tried},
        reason="name or password wrong, or access ended",
        at=timezone.now(),
        office_id=known.office_id if known else None,
    )


def connect() -> None:
    """Listen; called once when the app is ready."""
    user_logged_in.connect(signed_in, dispatch_uid="planner.practice.signed_in")
    user_logged_out.connect(signed_out, dispatch_uid="planner.practice.signed_out")
    user_login_failed.connect(sign_in_failed, dispatch_uid="planner.practice.sign_in_failed")
