"""The page that tells how plain and how complete a stored letter is, and takes a dentist's reason."""

from collections.abc import Callable

import pytest

from planner.letters.models import ReadingReason
from planner.plans.models import Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from tests.letters.test_reading_limit import letter
from tests.pages import client_of, queries_of
from tests.standing import changed, stands, told
from tests.support import NOW

pytestmark = pytest.mark.django_db


def test_it_tells_the_grade_the_long_words_and_every_point(checked: Estimate, owner: Staff) -> None:
    made = letter(checked, owner)
    page = client_of(owner).get(f"/letters/{made.public_id}/reading/").content.decode()
    for part in (
        "Flesch-Kincaid",
        "SMOG",
        "Qualifying: 6 of 6",
        "Quality: 15 of 23",
        "Q28",
        "not done",
        "does not apply",
    ):
        assert part in page, part
    assert "Let it be signed" not in page
    assert "/reading/" in client_of(owner).get(f"/letters/{made.public_id}/").content.decode()


def test_a_dentist_signs_a_reason_here_once(checked: Estimate, owner: Staff, person: Callable[..., Staff]) -> None:
    made = letter(checked, owner, 400)
    client, url = client_of(owner), f"/letters/{made.public_id}/reading/"
    assert "too hard to read" in client.get(url).content.decode()
    assert "This is missing" in client.post(url, {"reason": ""}).content.decode()
    assert client.post(url, {"reason": "<b>Read aloud</b>, twice."}).status_code == 302
    assert ReadingReason.objects.count() == 1
    page = client.get(url).content.decode()
    assert "&lt;b&gt;Read aloud" in page
    assert "Let it be signed" not in page
    # Somebody else who has the page open signs none beside it, and reads whose stands.
    other = client_of(person(Role.DENTIST))
    before = stands()
    second = other.post(url, {"reason": "Mine."})
    assert "A reason was given already: “<b>Read aloud</b>, twice.”, signed by Olive Owner" in told(second)
    assert changed(before) == []


def test_who_may_not(checked: Estimate, owner: Staff, outsider: Staff, person: Callable[..., Staff]) -> None:
    made = letter(checked, owner, 400)
    url = f"/letters/{made.public_id}/reading/"
    assert client_of(outsider).get(url).status_code == 404
    desk = client_of(person(Role.DESK_LEAD))
    assert "Let it be signed" not in desk.get(url).content.decode()
    assert desk.post(url, {"reason": "It will do."}).status_code == 403


def test_queries_do_not_grow_with_reasons(checked: Estimate, owner: Staff) -> None:
    made = letter(checked, owner, 400)
    client, url = client_of(owner), f"/letters/{made.public_id}/reading/"
    client.post(url, {"reason": "One."})
    client.get(url)
    few = queries_of(client, url)
    for words in ("Two.", "Three."):  # as an office may hold from before one was enough
        given = {"document": made, "grade": made.reading_reasons.get(reason="One.").grade, "by": owner, "at": NOW}
        ReadingReason.objects.create(office=owner.office, reason=words, **given)
    client.get(url)  # the message is told once
    assert queries_of(client, url) == few
