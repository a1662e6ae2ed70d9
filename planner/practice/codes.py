"""One-time codes beside the password: set up, asked for at signing in, begun anew when a telephone is lost.

Whoever has power over others or over the money signs in with one; for everybody else they are there to be chosen.
A code is taken once: the thirty seconds of the last one, and those before it, are not taken again.
"""

from datetime import datetime

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction

from planner.practice import one_time
from planner.practice.models import Staff
from planner.practice.screens import end_sign_ins
from planner.practice.sealing import CannotOpen, seal, unseal
from planner.practice.services import POWERS, require_over
from planner.practice.sign_in_models import CodeSecret, RecoveryCode
from planner.trail.errors import NotAllowed, Refused
from planner.trail.services import record

BY_CODE, BY_RECOVERY = "one-time code", "recovery code"


def must_have(staff: Staff) -> bool:
    """Whether ``staff`` signs in with a one-time code whether they like it or not."""
    return bool(staff.roles & POWERS)


def secret_of(staff: Staff) -> CodeSecret | None:
    """What ``staff`` set up, if anything."""
    return CodeSecret.objects.filter(staff=staff).first()


def recovery_left(staff: Staff) -> int:
    """How many recovery codes of ``staff`` are unused."""
    return RecoveryCode.objects.filter(staff=staff, used_at=None).count()


def set_up(*, staff: Staff, secret: bytes, typed: str, now: datetime, but: str = "") -> tuple[str, ...]:
    """Begin to ask ``staff`` for codes of ``secret``, once one was typed; returns the recovery codes, shown this once.

    What was set up before ends, and so does every sign-in but the one that ``but`` names. Raises Refused for a code
    that does not fit.
    """
    step = one_time.matching_step(secret, typed, now, after=0)
    if step is None:
        raise Refused(
            f'"{typed}" is not the code that belongs to this secret now: type the six digits that the app shows. '
            "If they never fit, the clock of the telephone is wrong: let it set itself.",
            field="code",
        )
    sheet = _sheet()
    with transaction.atomic():
        values = {"sealed": seal(secret), "since": now, "last_step": step}
        _row, fresh = CodeSecret.objects.update_or_create(staff=staff, defaults=values)
        _keep(staff, sheet)
        end_sign_ins(staff, but=but)
        record(actor=staff, act="codes.set" if fresh else "codes.replace", subject=staff, at=now)
    return tuple(code.shown for code, _hash in sheet)


def new_sheet(*, staff: Staff, now: datetime) -> tuple[str, ...]:
    """New recovery codes for ``staff``, shown this once; the old ones end. Raises Refused without codes set up."""
    if secret_of(staff) is None:
        raise Refused("Recovery codes belong to one-time codes: set those up first.")
    sheet = _sheet()
    with transaction.atomic():
        _keep(staff, sheet)
        record(actor=staff, act="codes.new_sheet", subject=staff, at=now)
    return tuple(code.shown for code, _hash in sheet)


def check(*, staff: Staff, typed: str, now: datetime) -> str:
    """How ``typed`` lets ``staff`` in: BY_CODE, BY_RECOVERY, or empty where it does not. What was taken is used up."""
    row = secret_of(staff)
    if row is None:
        return ""
    if (recovery := one_time.read_recovery_code(typed)) is not None:
        return BY_RECOVERY if _use_recovery_code(staff, recovery, now) else ""
    try:
        secret = unseal(row.sealed)
    except CannotOpen:
        return ""
    step = one_time.matching_step(secret, typed, now, after=row.last_step)
    if step is None:
        return ""
    # Of two who type the same code at once, one is let in.
    taken = CodeSecret.objects.filter(pk=row.pk, last_step__lt=step).update(last_step=step)
    return BY_CODE if taken else ""


def give_up(*, staff: Staff, now: datetime) -> None:
    """Ask ``staff`` for no more codes, as they wish. Raises NotAllowed for whoever must have them."""
    if must_have(staff):
        raise NotAllowed(
            f"{staff.role_words} cannot sign in without one-time codes.", act="codes.give_up", subject=staff
        )
    with transaction.atomic():
        _forget(staff)
        record(actor=staff, act="codes.give_up", subject=staff, at=now)


def begin_anew(*, staff: Staff, actor: Staff | None, reason: str, since: str = "", now: datetime) -> None:
    """Forget the codes of ``staff``, whose telephone and recovery codes are gone; they set up new ones on signing in.

    Every sign-in of theirs ends. ``actor`` is somebody else, or None for whoever runs the program itself. ``since`` is
    the instant from which the codes hold that are to go, in ISO form, where it is known: those that were set up
    meanwhile stay. Raises Refused without a reason, where there are none, NotAllowed for oneself or without the right.
    """
    if actor is not None:
        require_over(staff, actor)
        if staff.pk == actor.pk:
            raise NotAllowed(
                "Nobody begins their own codes anew: somebody else has to.", act="codes.anew", subject=staff
            )
    if not reason.strip():
        raise Refused("Beginning somebody's codes anew needs a reason.", field="reason")
    with transaction.atomic():
        Staff.objects.select_for_update(of=("self",)).get(pk=staff.pk)
        held = secret_of(staff)
        if held is None or (since and held.since.isoformat() != since):
            raise Refused(
                f"The codes of {staff.full_name} were begun anew before: new ones are set up at the next sign-in."
                if held is None
                else f"{staff.full_name} has set up new codes since this page was opened: these stay."
            )
        _forget(staff)
        end_sign_ins(staff)
        record(actor=actor, act="codes.anew", subject=staff, reason=reason, at=now, office_id=staff.office_id)


def _forget(staff: Staff) -> None:
    CodeSecret.objects.filter(staff=staff).delete()
    RecoveryCode.objects.filter(staff=staff).delete()


def _sheet() -> list[tuple[one_time.RecoveryText, str]]:
    # Hashing takes a while by design: it is done before a transaction makes others wait.
    return [(code, make_password(code.signs)) for code in one_time.new_recovery_codes()]


def _keep(staff: Staff, sheet: list[tuple[one_time.RecoveryText, str]]) -> None:
    RecoveryCode.objects.filter(staff=staff).delete()
    RecoveryCode.objects.bulk_create(RecoveryCode(staff=staff, number=code.number, hash=made) for code, made in sheet)


def _use_recovery_code(staff: Staff, typed: one_time.RecoveryText, now: datetime) -> bool:
    row = RecoveryCode.objects.filter(staff=staff, number=typed.number, used_at=None).first()
    if row is None or not check_password(typed.signs, row.hash):
        return False
    with transaction.atomic():
        if not RecoveryCode.objects.filter(pk=row.pk, used_at=None).update(used_at=now):
            return False
        content = {"number": row.number, "left": recovery_left(staff)}
        record(actor=staff, act="codes.recovery", subject=staff, content=content, at=now)
    return True
