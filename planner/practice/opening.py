"""Opening a new office with its people in one go, and the passwords that get them in for the first time."""

import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from planner.practice import services
from planner.practice.models import Office, Staff
from planner.practice.roles import Role
from planner.rules.book import OfficeBook

# No sign that is mistaken for another when it is read aloud or copied from paper.
_SIGNS = "abcdefghjkmnpqrstuvwxyz23456789"


@dataclass(frozen=True, slots=True)
class NewPerson:
    """Somebody who will work in the new office."""

    full_name: str
    username: str
    roles: tuple[Role, ...]
    language: str = "en"


@dataclass(frozen=True, slots=True)
class GivenPassword:
    """A password made for somebody, shown once and good for one sign-in."""

    staff: Staff
    password: str


def new_password() -> str:
    """Sixteen random signs in four groups (79 bits), made to be read from paper once."""
    return "-".join("".join(secrets.choice(_SIGNS) for _ in range(4)) for _ in range(4))


@transaction.atomic
def open_whole_office(
    *,
    book: OfficeBook,
    effective: date,
    owner: NewPerson,
    password: str,
    staff: Iterable[NewPerson],
    now: datetime,
) -> tuple[Office, Staff, tuple[GivenPassword, ...]]:
    """Open the first office with its book and everybody who works in it: all of it, or nothing.

    Returns the office, its owner dentist, and a one-time password for each of the others. Raises Refused when there is
    an office already or a name, a role or the password cannot be taken.
    """
    office, opened_by = services.first_run(
        name=book.office,
        book=book,
        effective=effective,
        owner_username=owner.username,
        owner_full_name=owner.full_name,
        owner_password=password,
        owner_roles=owner.roles,
        language=owner.language,
        now=now,
    )
    given = []
    for person in staff:
        once = new_password()
        added = services.add_staff(
            username=person.username,
            full_name=person.full_name,
            password=once,
            roles=person.roles,
            language=person.language,
            once=True,
            actor=opened_by,
            now=now,
        )
        given.append(GivenPassword(added, once))
    return office, opened_by, tuple(given)


def give_password(*, staff: Staff, actor: Staff | None, reason: str = "", now: datetime) -> GivenPassword:
    """Make a one-time password for ``staff`` and sign them out everywhere; see :func:`services.give_once`."""
    once = new_password()
    services.give_once(staff=staff, password=once, actor=actor, reason=reason, now=now)
    return GivenPassword(staff, once)
