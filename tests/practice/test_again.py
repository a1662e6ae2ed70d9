"""Saying who one is once more: asked with the act itself, misses counted and rested on, nothing typed lost."""

from typing import Any

import pytest
from django.contrib.sessions.middleware import SessionMiddleware
from django.http import HttpRequest, HttpResponse
from django.test import RequestFactory

from planner.practice.again import FIELD, ask_again, said_again
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.trail.models import TrailEntry
from tests.support import PASSWORD

pytestmark = pytest.mark.django_db


def request_of(staff: Staff, method: str = "post", **sent: Any) -> HttpRequest:
    """A request as the pages get it from ``staff``."""
    request = getattr(RequestFactory(), method)("/somewhere/?from=1", sent)
    SessionMiddleware(lambda _request: HttpResponse()).process_request(request)
    request.user = staff
    return request  # type: ignore[no-any-return]


def test_nothing_typed_is_lost_and_no_password_comes_back(owner: Staff) -> None:
    page = ask_again(request_of(owner, words=["one", "two"], name="<b>"), lead="Export all.", back="/home/")
    assert page is not None
    html = page.content.decode()
    kept = ('name="words" value="one"', 'value="two"', 'value="&lt;b&gt;"')
    for part in (*kept, "Export all.", 'action="/somewhere/?from=1"'):
        assert part in html
    again = ask_again(request_of(owner, name="x", **{FIELD: "my secret"}))
    assert again is not None
    assert "my secret" not in again.content.decode()
    assert "This is not your password" in again.content.decode()
    assert TrailEntry.objects.filter(act="refused.said.again").count() == 1
    assert ask_again(request_of(owner, **{FIELD: PASSWORD})) is None


def test_it_rests_after_too_many_misses_and_begins_anew_after_a_hit(owner: Staff, other: Staff) -> None:
    for _n in range(4):
        assert ask_again(request_of(owner, **{FIELD: "wrong"})) is not None
    assert ask_again(request_of(owner, **{FIELD: PASSWORD})) is None
    for _n in range(5):
        assert ask_again(request_of(owner, **{FIELD: "wrong"})) is not None
    rests = ask_again(request_of(owner, **{FIELD: PASSWORD}))
    assert rests is not None
    assert rests.status_code == 429
    assert "wait a quarter of an hour" in rests.content.decode()
    # Somebody else at the same screen goes on.
    assert ask_again(request_of(other, **{FIELD: PASSWORD})) is None


def test_a_view_can_ask_before_every_post(owner: Staff) -> None:
    done: list[str] = []

    @said_again(lead=lambda: "Let it pass.")
    def view(request: HttpRequest) -> HttpResponse:
        done.append(str(request.method))
        return HttpResponse("done")

    assert view(request_of(owner, "get")).content == b"done"
    assert b"Let it pass." in view(request_of(owner, word="a")).content
    assert view(request_of(owner, word="a", **{FIELD: PASSWORD})).content == b"done"
    assert done == ["GET", "POST"]


@pytest.fixture
def other(person: Any) -> Staff:
    """Somebody else of the office."""
    made: Staff = person(Role.ASSISTANT)
    return made
