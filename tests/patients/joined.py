"""Two files of one person, joined as people join them."""

from planner.patients.join_models import JoinedFile
from planner.patients.joining import allow_joining, ask_to_join, carry_out
from planner.patients.models import Patient
from planner.practice.models import Staff
from tests.support import NOW


def join_files(kept: Patient, joined: Patient, owner: Staff, manager: Staff, dentist: Staff, *take: str) -> JoinedFile:
    """Asked for by the owner, allowed by the manager, carried out by a dentist."""
    row = ask_to_join(kept=kept, joined=joined, reason="Same passport.", actor=owner, now=NOW)
    row = allow_joining(join=row, take=take, actor=manager, now=NOW)
    return carry_out(join=row, actor=dentist, now=NOW)
