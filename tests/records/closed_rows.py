"""Closed rows of records out: a copy of the office that was answered."""

from planner.practice import services
from planner.practice.roles import Role
from planner.records.models import OfficeCopy
from planner.records.services import answer_copy, ask_copy
from tests.closed_rows import Ground, Maker
from tests.support import NOW, PASSWORD


def _answered(ground: Ground) -> OfficeCopy:
    manager = services.add_staff(
        username="mona", full_name="Mona Manager", password=PASSWORD, roles=[Role.MANAGER], actor=ground.owner, now=NOW
    )
    asked = ask_copy(reason="We change programs.", actor=manager, now=NOW)
    return answer_copy(copy=asked, agrees=True, reason="", actor=ground.owner, now=NOW)


CLOSED_ROWS: dict[str, Maker] = {"records.officecopy": _answered}
