"""What views read from a request, in one place."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

from planner.practice.models import Staff


def actor_of(request: HttpRequest) -> Staff:
    """Who is signed in. Raises PermissionDenied for nobody, should a view be reached without signing in."""
    if not isinstance(request.user, Staff):
        raise PermissionDenied("Sign in first.")
    return request.user
