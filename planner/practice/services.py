"""Opening an office, and its people: who they are, which roles they have, and until when."""

from collections.abc import Iterable
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.contrib.auth.password_validation import validate_password
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from planner.practice.access import Act, Thing, may, require, require_own
from planner.practice.books import adopt_book
from planner.practice.models import Office, Staff, StaffRole, plain_username
from planner.practice.roles import Role
from planner.rules.book import OfficeBook
from planner.trail.errors import NotAllowed, Refused
from planner.trail.fields import save_seen
from planner.trail.services import hold_chain, record

# Whoever gives one of these away gives away power over others.
_POWERS = frozenset({Role.OWNER, Role.MANAGER, Role.KEEPER})


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
        staff = _create_staff(actor.office, username, full_name, password, chosen, language, access_until, once)
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
    """Give ``staff`` exactly these roles; nobody changes their own. Raises Refused, StaleEdit or NotAllowed."""
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
        end_sessions(saved)
        record(actor=actor, act="staff.end", subject=saved, reason=reason, at=now)
    return saved


def set_password(*, staff: Staff, password: str, once: bool = False, actor: Staff, now: datetime) -> None:
    """Give ``staff`` a new password; their other sessions end by it.

    ``once``: it is good for one sign-in, after which the person has to choose their own. Raises Refused for a password
    that cannot be taken.
    """
    require_own(actor, staff)
    if staff.pk != actor.pk:
        require(actor, Act.CREATE, Thing.STAFF, subject=staff)
        _require_powers(actor, staff.roles)
    _check_password(password, staff)
    with transaction.atomic():
        staff.set_password(password)
        staff.password_once = once
        staff.save(update_fields=["password", "password_once"])
        record(actor=actor, act="staff.password", subject=staff, at=now)


def end_sessions(staff: Staff) -> int:
    """End every session of ``staff``; returns how many there were."""
    own = [
        session.pk
        for session in Session.objects.iterator()
        if session.get_decoded().get("_auth_user_id") == str(staff.pk)
    ]
    Session.objects.filter(pk__in=own).delete()
    return len(own)


def _create_staff(
    office: Office,
    username: str,
    full_name: str,
    password: str,
    roles: frozenset[Role],
    language: str,
    access_until: date | None,
    once: bool = False,
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
        password_once=once,
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
    if roles & _POWERS and not may(actor, Act.APPROVE, Thing.STAFF):
        raise NotAllowed("The owner dentist decides who is owner, manager or system keeper.", act="staff.approve")


def _keep_an_owner(staff: Staff) -> None:
    others = Staff.objects.filter(office=staff.office, is_active=True, role_rows__role=Role.OWNER).exclude(pk=staff.pk)
    if Role.OWNER in staff.roles and not others.exists():
        raise Refused(f"{staff.full_name} is the office's last owner dentist: name another one first.")
