"""Opening an office, and its people: who they are, which roles they have, and until when."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from planner.practice.access import Act, Thing, may, require, require_own
from planner.practice.books import adopt_book
from planner.practice.models import Office, Staff, StaffRole, plain_username
from planner.practice.roles import Role
from planner.practice.screens import end_sign_ins
from planner.rules.book import OfficeBook
from planner.trail.errors import NotAllowed, Refused
from planner.trail.fields import save_seen
from planner.trail.models import TrailEntry
from planner.trail.services import hold_chain, record

# Whoever gives one of these away gives away power over others; whoever has one signs in with a one-time code as well.
POWERS = frozenset({Role.OWNER, Role.MANAGER, Role.KEEPER})
_MOST_AN_HOUR = 5
FIRST_PASSWORD = timedelta(hours=72)
"""How long the first password of somebody new waits for them: over a weekend."""


def first_run(
    *,
    name: str,
    book: OfficeBook,
    effective: date,
    owner_username: str,
    owner_full_name: str,
    owner_password: str,
    owner_roles: Iterable[Role] = (Role.OWNER,),
    language: str = "en",
    now: datetime,
) -> tuple[Office, Staff]:
    """Open the first office of this installation, with its owner dentist and its book.

    Raises Refused when there is an office already, or when a name, a password or the book cannot be taken.
    """
    with transaction.atomic():
        hold_chain()
        if Office.objects.exists():
            raise Refused("This installation has an office already: sign in to it.")
        return open_office(
            name=name,
            book=book,
            effective=effective,
            owner_username=owner_username,
            owner_full_name=owner_full_name,
            owner_password=owner_password,
            owner_roles=owner_roles,
            language=language,
            now=now,
        )


def open_office(
    *,
    name: str,
    book: OfficeBook,
    effective: date,
    owner_username: str,
    owner_full_name: str,
    owner_password: str,
    owner_roles: Iterable[Role] = (Role.OWNER,),
    language: str = "en",
    now: datetime,
) -> tuple[Office, Staff]:
    """Open an office, with its owner dentist and its book (place and time zone are the book's). Raises Refused."""
    if not name.strip():
        raise Refused("The office needs a name.", field="name")
    if Role.OWNER not in (roles := frozenset(owner_roles)):
        raise Refused("The first person of an office is its owner dentist.", field="owner_roles")
    try:
        ZoneInfo(book.time_zone)
    except (LookupError, ValueError, OSError):
        raise Refused(
            f'"{book.time_zone}" is not a time zone: write one such as America/Toronto.', field="time_zone"
        ) from None
    with transaction.atomic():
        office = Office.objects.create(name=name.strip(), place=book.place, time_zone=book.time_zone, created_at=now)
        owner = _create_staff(office, owner_username, owner_full_name, owner_password, roles, language, None)
        record(actor=owner, act="office.open", subject=office, content={"name": office.name}, at=now)
        adopt_book(office=office, book=book, effective=effective, reason="the office was opened", actor=owner, now=now)
    return office, owner


def add_staff(
    *,
    username: str,
    full_name: str,
    password: str,
    roles: Iterable[Role],
    language: str = "en",
    access_until: date | None = None,
    once: bool = False,
    actor: Staff,
    now: datetime,
) -> Staff:
    """Add somebody to the office of ``actor``; ``once``: the password is good for one sign-in (:func:`set_password`).

    Raises Refused when a value cannot be taken, NotAllowed without the right.
    """
    chosen = frozenset(roles)
    require(actor, Act.CREATE, Thing.STAFF)
    _require_powers(actor, chosen)
    _check_checker(chosen, access_until)
    with transaction.atomic():
        until = now + FIRST_PASSWORD if once else None
        staff = _create_staff(actor.office, username, full_name, password, chosen, language, access_until, until)
        content = {"username": staff.username, "roles": staff.role_words, "until": str(access_until or "")}
        record(actor=actor, act="staff.add", subject=staff, content=content, at=now)
    return staff


def change_roles(
    *,
    staff: Staff,
    seen: int,
    roles: Iterable[Role],
    access_until: date | None = None,
    reason: str,
    actor: Staff,
    now: datetime,
) -> Staff:
    """Give ``staff`` exactly these roles, and sign them out everywhere; nobody changes their own.

    Raises Refused, StaleEdit or NotAllowed.
    """
    chosen = frozenset(roles)
    require_own(actor, staff)
    require(actor, Act.CREATE, Thing.STAFF, subject=staff)
    _require_powers(actor, chosen ^ staff.roles)
    if staff.pk == actor.pk:
        raise NotAllowed("Nobody changes their own roles: somebody else has to.", act="staff.edit", subject=staff)
    if not reason.strip():
        raise Refused("Changing roles needs a reason.", field="reason")
    _check_roles(chosen)
    _check_checker(chosen, access_until)
    with transaction.atomic():
        hold_chain()
        before = staff.role_words
        saved = save_seen(staff, seen=seen, what="This person", values={"access_until": access_until})
        if Role.OWNER in staff.roles and Role.OWNER not in chosen:
            _keep_an_owner(staff)
        StaffRole.objects.filter(staff=saved).delete()
        StaffRole.objects.bulk_create(StaffRole(staff=saved, office=saved.office, role=role) for role in chosen)
        end_sign_ins(saved)
        content = {"before": before, "after": saved.role_words, "until": str(access_until or "")}
        record(actor=actor, act="staff.roles", subject=saved, content=content, reason=reason, at=now)
    return saved


def end_access(*, staff: Staff, seen: int, reason: str, actor: Staff, now: datetime) -> Staff:
    """Shut ``staff`` out at once, on every screen. Raises Refused for oneself or the last owner dentist."""
    require_own(actor, staff)
    require(actor, Act.CREATE, Thing.STAFF, subject=staff)
    _require_powers(actor, staff.roles)
    if staff.pk == actor.pk:
        raise NotAllowed("Nobody ends their own access: somebody else has to.", act="staff.edit", subject=staff)
    if not reason.strip():
        raise Refused("Ending somebody's access needs a reason.", field="reason")
    with transaction.atomic():
        hold_chain()
        _keep_an_owner(staff)
        saved = save_seen(staff, seen=seen, what="This person", values={"is_active": False})
        end_sign_ins(saved)
        record(actor=actor, act="staff.end", subject=saved, reason=reason, at=now)
    return saved


def set_password(*, staff: Staff, password: str, actor: Staff, now: datetime, but: str = "") -> None:
    """Give ``staff`` a new password and end what they are signed in to; ``but`` names one sign-in that goes on.

    Raises Refused for a password that cannot be taken, NotAllowed without the right.
    """
    require_over(staff, actor)
    _check_password(password, staff)
    staff.set_password(password)
    with transaction.atomic():
        _store_password(staff, None)
        end_sign_ins(staff, but=but)
        record(actor=actor, act="staff.password", subject=staff, at=now)


def give_once(*, staff: Staff, password: str, actor: Staff | None, reason: str = "", now: datetime) -> None:
    """Make ``password`` the one that lets ``staff`` in once, for a short while, to choose their own; all sign-ins end.

    ``actor`` is somebody else, or None for whoever runs the program itself. Raises Refused when it was done too often
    within the hour, NotAllowed for oneself or without the right.
    """
    if actor is not None:
        require_over(staff, actor)
        if staff.pk == actor.pk:
            raise NotAllowed("Nobody makes a password for one sign-in for themselves.", act="staff.once", subject=staff)
    lately = TrailEntry.objects.filter(
        subject_kind="practice.staff", subject_id=staff.public_id, act="staff.once", at__gt=now - timedelta(hours=1)
    )
    if lately.count() >= _MOST_AN_HOUR:
        raise Refused(
            f"For {staff.full_name} {_MOST_AN_HOUR} passwords were made within the hour: find out who asks for them, "
            "and wait."
        )
    _check_password(password, staff)
    staff.set_password(password)
    until = now + timedelta(minutes=settings.RESET_MINUTES)
    with transaction.atomic():
        _store_password(staff, until)
        end_sign_ins(staff)
        content = {"until": until.isoformat(timespec="minutes")}
        own = staff.office_id
        record(actor=actor, act="staff.once", subject=staff, content=content, reason=reason, at=now, office_id=own)


def end_other_sign_ins(*, staff: Staff, here: str, now: datetime) -> None:
    """Sign ``staff`` out everywhere but in the sign-in named ``here``, as they ask themselves."""
    with transaction.atomic():
        content = {"ended": end_sign_ins(staff, but=here)}
        record(actor=staff, act="staff.end_others", subject=staff, content=content, at=now)


def use_once(staff: Staff) -> bool:
    """Take the password for one sign-in out of use, as it is used; False when somebody was quicker."""
    gone = Staff(username=staff.username)
    gone.set_unusable_password()
    used = Staff.objects.filter(pk=staff.pk, password=staff.password, password_once=True).update(password=gone.password)
    staff.password = gone.password
    return used == 1


def _store_password(staff: Staff, until: datetime | None) -> None:
    staff.password_once, staff.password_until = until is not None, until
    staff.save(update_fields=["password", "password_once", "password_until"])


def require_over(staff: Staff, actor: Staff) -> None:
    """Raise NotAllowed unless ``actor`` is ``staff``, or may decide how they sign in."""
    require_own(actor, staff)
    if staff.pk != actor.pk:
        require(actor, Act.CREATE, Thing.STAFF, subject=staff)
        _require_powers(actor, staff.roles)


def _create_staff(
    office: Office,
    username: str,
    full_name: str,
    password: str,
    roles: frozenset[Role],
    language: str,
    access_until: date | None,
    until: datetime | None = None,
) -> Staff:
    name = plain_username(username)
    if not name or any(sign.isspace() for sign in name) or len(name) > 60:
        raise Refused(f'"{username}" cannot be a sign-in name: up to 60 signs and no blanks.', field="username")
    if not full_name.strip():
        raise Refused("The person needs a full name; it is printed on papers.", field="full_name")
    if language not in ("en", "es"):
        raise Refused(f'"{language}" is not a language here: en or es.', field="language")
    _check_roles(roles)
    staff = Staff(
        office=office,
        username=name,
        full_name=full_name.strip(),
        language=language,
        access_until=access_until,
        password_once=until is not None,
        password_until=until,
    )
    _check_password(password, staff)
    staff.set_password(password)
    try:
        with transaction.atomic():
            staff.save(force_insert=True)
    except IntegrityError:
        raise Refused(f'Somebody has the sign-in name "{name}" already: choose another.', field="username") from None
    StaffRole.objects.bulk_create(StaffRole(staff=staff, office=office, role=role) for role in roles)
    return staff


def _check_password(password: str, staff: Staff) -> None:
    try:
        validate_password(password, staff)
    except ValidationError as error:
        raise Refused(" ".join(error.messages), field="password") from None


def _check_roles(roles: frozenset[Role]) -> None:
    if not roles:
        raise Refused("Choose at least one role.", field="roles")
    if Role.CHECKER in roles and len(roles) > 1:
        raise Refused("An outside checker looks on and has no other role.", field="roles")


def _check_checker(roles: frozenset[Role], access_until: date | None) -> None:
    if Role.CHECKER in roles and access_until is None:
        raise Refused("An outside checker's access ends on a day: say which.", field="access_until")


def _require_powers(actor: Staff, roles: frozenset[Role]) -> None:
    if roles & POWERS and not may(actor, Act.APPROVE, Thing.STAFF):
        raise NotAllowed("The owner dentist decides who is owner, manager or system keeper.", act="staff.approve")


def _keep_an_owner(staff: Staff) -> None:
    others = Staff.objects.filter(office=staff.office, is_active=True, role_rows__role=Role.OWNER).exclude(pk=staff.pk)
    if Role.OWNER in staff.roles and not others.exists():
        raise Refused(f"{staff.full_name} is the office's last owner dentist: name another one first.")
