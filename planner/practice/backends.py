"""Who the session belongs to."""

from typing import Any

from django.contrib.auth.backends import BaseBackend
from django.contrib.auth.hashers import make_password
from django.http import HttpRequest
from django.utils import timezone

from planner.practice.models import Staff


class StaffBackend(BaseBackend):
    """Sign-in by name and password; a person whose access has ended is nobody."""

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, password: str | None = None, **kwargs: Any
    ) -> Staff | None:
        """The person whose name and password these are, or None."""
        if not username or not password:
            return None
        try:
            staff = Staff.objects.get_by_natural_key(username)
        except Staff.DoesNotExist:
            make_password(password)  # takes as long as a wrong password, so that names cannot be found out by the clock
            return None
        fits = staff.check_password(password)  # always reckoned, so that the clock tells nothing about the person
        return staff if fits and has_access(staff) and not _too_late(staff) else None

    def get_user(self, user_id: int) -> Staff | None:
        """The person of a session, with office and roles, or None when access has ended."""
        staff = Staff.objects.select_related("office").prefetch_related("role_rows").filter(pk=user_id).first()
        return staff if staff is not None and has_access(staff) else None


def _too_late(staff: Staff) -> bool:
    """Whether the password was made for one sign-in and was not used in time."""
    return staff.password_until is not None and timezone.now() >= staff.password_until


def has_access(staff: Staff) -> bool:
    """Whether this person may be signed in today."""
    today = timezone.now().astimezone(staff.office.zone).date()
    return staff.is_active and (staff.access_until is None or today <= staff.access_until)
