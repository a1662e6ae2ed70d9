"""What views read from a request, in one place."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, QueryDict

from planner.practice.models import Staff


def actor_of(request: HttpRequest) -> Staff:
    """Who is signed in. Raises PermissionDenied for nobody, should a view be reached without signing in."""
    if not isinstance(request.user, Staff):
        raise PermissionDenied("Sign in first.")
    return request.user


def posted(request: HttpRequest) -> QueryDict | None:
    """What a form was sent with, also when that is nothing at all; None when the form is only looked at."""
    return request.POST if request.method == "POST" else None
