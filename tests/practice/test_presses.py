"""Presses are kept for a day and then taken away by a later one, and not by every one."""

from datetime import timedelta

import pytest
from django.utils import timezone

from planner.practice import presses
from planner.practice.models import Staff
from planner.practice.press_models import Press
from planner.practice.presses import KEPT, TOKEN
from tests.pages import client_of

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("begins", "left"), [("", ["of this hour"]), ("never", ["of this hour", "of yesterday"])])
def test_a_press_that_sweeps_takes_only_those_that_are_a_day_old(
    owner: Staff, monkeypatch: pytest.MonkeyPatch, begins: str, left: list[str]
) -> None:
    monkeypatch.setattr(presses, "SWEEPS", begins)
    now = timezone.now()
    Press.objects.create(digest="of yesterday", pressed_at=now - KEPT - timedelta(minutes=1))
    Press.objects.create(digest="of this hour", pressed_at=now - timedelta(hours=1))
    answer = client_of(owner).post("/account/password/", {TOKEN: "one", "old_password": "wrong"})
    assert answer.status_code == 200
    assert sorted(Press.objects.values_list("digest", flat=True)) == left


def test_one_digest_in_sixteen_sweeps() -> None:
    digests = [f"{number:064x}"[::-1] for number in range(16)]
    assert sum(one.startswith(presses.SWEEPS) for one in digests) == 1
