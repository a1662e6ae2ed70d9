"""Every address, every role, both offices and nobody: what the table of roles says is what happens.

The act asked first at each address stands in ``tests/addresses.py``; an address that is missing there fails. A request
ends as soon as the guard lets somebody through, so that no page is drawn two thousand times: what pages then do with
those who may is shown by the tests of each.
"""

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

import pytest
from django.conf import settings
from django.db import models
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from planner.keeping.models import EraseRequest
from planner.keeping.models import Ground as Ground_
from planner.patients.people_files import keep_people
from planner.plans.casefiles import import_case_file
from planner.practice import access
from planner.practice.access import MATRIX, Act, Thing
from planner.practice.models import Staff
from planner.practice.proposals import propose
from planner.practice.roles import Role
from planner.practice.services import add_staff
from planner.rules.mouth import CaseFacts
from tests.addresses import ADDRESSES, Address
from tests.closed_rows import Ground, every_maker
from tests.pages import client_of
from tests.support import NOW, PASSWORD, TODAY

pytestmark = pytest.mark.django_db

OTHERS = {
    "version": 1, "part": "materials", "kind": "csv", "name": "adult_age", "key": "bonding", "group": "money",
    "step": "prices", "number": 1, "page": 1, "to": "sent", "ending": "csv",
}  # fmt: skip
"""What addresses want beside the row; anything else is a word that names nothing."""


class LetThroughError(BaseException):
    """The guard let somebody through; no exception that a view could catch."""

    def __init__(self, act: Act, thing: Thing) -> None:
        super().__init__(f"{act.value} {thing.value}")
        self.asked = (act, thing)


def _patterns(resolver: URLResolver, space: str = "") -> Iterator[tuple[str, URLPattern]]:
    for each in resolver.url_patterns:
        if isinstance(each, URLResolver):
            yield from _patterns(each, f"{space}{each.namespace}:" if each.namespace else space)
        else:
            yield f"{space}{each.name}", each


PATTERNS = dict(_patterns(get_resolver()))
ROWS = sorted({address.row for address in ADDRESSES.values()})


def test_every_address_stands_in_the_table() -> None:
    assert sorted(PATTERNS) == sorted(ADDRESSES)


def url_of(name: str, row: models.Model | None) -> str:
    """The address with the row's id; its other parts are plausible words."""
    pattern = PATTERNS[name].pattern
    given: dict[str, object] = {}
    for key in pattern.regex.groupindex:
        if key == "public_id" and row is not None:
            given[key] = row.public_id  # type: ignore[attr-defined]
        elif choice := re.search(rf"\(\?P<{key}>(\w+)\|", str(pattern)):
            given[key] = choice[1]
        else:
            given[key] = OTHERS.get(key, "x")
    return reverse(name, kwargs=given)


def made(label: str, ground: Ground) -> models.Model | None:
    if label == "-":
        return None
    if label == "practice.staff":
        return ground.owner
    if label == "practice.legalproposal":
        who = {"actor": ground.owner, "now": NOW}
        return propose(key="adult_age", value="19", effective=TODAY, reason="a new law", **who)  # type: ignore[arg-type]
    if label == "patients.peoplefile":
        return keep_people(content=b"name", actor=ground.owner, now=NOW)
    if label == "keeping.eraserequest":
        return EraseRequest.objects.create(
            office=ground.owner.office, subject_id="x", ground=Ground_.ASKED, reason="a letter",
            asked_by=ground.owner, at=NOW,
        )  # fmt: skip
    if label in ("plans.case", "patients.patient"):
        case = import_case_file(facts=ground.lead_case, actor=ground.owner, now=NOW).case
        return case if label == "plans.case" else case.patient
    return every_maker()[label](ground)


@contextmanager
def ends_at_the_guard(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """While it lasts, ``load`` and ``require`` end a request they let through with :class:`LetThroughError`."""
    asked = access.may

    def may(actor: Staff, act: Act, thing: Thing) -> bool:
        allowed = asked(actor, act, thing)
        if allowed and sys._getframe(1).f_code.co_name in ("load", "require"):
            raise LetThroughError(act, thing)
        return allowed

    with monkeypatch.context() as patch:
        patch.setattr(access, "may", may)
        yield


def answer(client: Client, method: str, url: str) -> int | tuple[Act, Thing]:
    """The status, or what was asked of somebody who was let through."""
    try:
        return getattr(client, method)(url).status_code  # type: ignore[no-any-return]
    except LetThroughError as through:
        return through.asked


def expected(guard: tuple[Act, Thing] | str, role: Role) -> str | int | tuple[Act, Thing]:
    if isinstance(guard, str):
        return guard
    act, thing = guard
    return guard if act in MATRIX[thing, role] else 403


@pytest.mark.parametrize("label", ROWS)
def test_who_may_open_what(
    label: str, owner: Staff, outsider: Staff, lead_case: CaseFacts, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = made(label, Ground(owner, lead_case))
    addresses = [address for address in ADDRESSES.values() if address.row == label]
    addresses.sort(key=lambda address: address.name == "practice:sign_out")  # after it, nobody is signed in
    people = {
        role: add_staff(
            username=f"the-{role.name.lower()}", full_name=role.label.title(), password=PASSWORD, roles=[role],
            access_until=date.max if role is Role.CHECKER else None, actor=owner, now=NOW,
        )
        for role in Role
    }  # fmt: skip
    clients = {role: client_of(one) for role, one in people.items()}
    foreign, nobody = client_of(outsider), client_of(None)
    wrong = []
    with ends_at_the_guard(monkeypatch):
        for address in addresses:
            url = url_of(address.name, row)
            for method, guard in (("get", address.get), ("post", address.post)):
                for role, client in clients.items():
                    # Where both methods ask the same, every other role is tried with each.
                    if address.get == address.post and (list(Role).index(role) + len(method)) % 2:
                        continue
                    said = answer(client, method, url)
                    if not _as_told(said, expected(guard, role)):
                        wrong.append(f"{method} {address.name} as {role}: {said}, not {expected(guard, role)}")
                wrong += _strangers(address, method, guard, url, foreign, nobody)
    assert not wrong, "\n".join(wrong)


def _as_told(said: int | tuple[Act, Thing], told: str | int | tuple[Act, Thing]) -> bool:
    if told == "-":
        return said == 405
    if told in ("anybody", "public"):
        return isinstance(said, int) and said in (200, 302)
    if told == "owner":  # whoever the view itself refuses; its own tests say whom
        return said in (200, 302, 403)
    return said == told


def _strangers(
    address: Address, method: str, guard: tuple[Act, Thing] | str, url: str, foreign: Client, nobody: Client
) -> Iterator[str]:
    """Somebody of another office finds no such row; somebody who is not signed in is led to signing in."""
    if guard in ("-", "owner"):
        return
    if address.row != "-" and (said := answer(foreign, method, url)) != 404:
        yield f"{method} {address.name} from another office: {said}"
    if guard != "public":
        response = getattr(nobody, method)(url)
        if response.status_code != 302 or not response.headers["Location"].startswith(settings.LOGIN_URL):
            yield f"{method} {address.name} signed out: {response.status_code}"
