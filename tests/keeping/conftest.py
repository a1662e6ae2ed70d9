"""An office with a signed letter and a picture, backed up once for all tests that only read the backup."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection

from planner.config.env import SQLITE_OPTIONS
from planner.keeping.backing_up import make_backup
from planner.keeping.databases import postgres, scratch_postgres
from planner.keeping.manifest import Manifest
from planner.letters.consent_models import Signature
from planner.patients.pictures import add_picture
from planner.patients.services import change_patient
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.mouth import CaseFacts
from tests.letters.consents import handed, shown_estimate, sign
from tests.pages import priced_office
from tests.patients.test_images import with_everything
from tests.support import NOW, TODAY, guards_lifted

PHONE = "555 0142 77"


def silent(_words: str) -> None:
    """For what tells how far it is."""


def lead_facts() -> CaseFacts:
    path = settings.BASE_DIR / "fixtures" / "cases" / "lead.json"
    return validate_case(resolve_days(parse_case(path.read_bytes()), TODAY), TODAY)


def signed_office() -> Staff:
    """An office in which one person has signed a letter and has a photograph; its owner."""
    owner = priced_office()
    estimate = shown_estimate(owner, lead_facts())
    sign(handed(estimate, owner), owner)
    patient = estimate.case.patient
    change_patient(patient=patient, seen=patient.version, changes={"phone": PHONE}, actor=owner, now=NOW)
    add_picture(
        patient=patient,
        content=with_everything(),
        kind="photo",
        on=TODAY - timedelta(days=3),
        about={},
        actor=owner,
        now=NOW,
    )
    return owner


@dataclass(frozen=True)
class Kept:
    """A backup, and what it was made of."""

    path: Path
    manifest: Manifest
    counts: dict[str, int]


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    """One backup of such an office; the database is empty again afterwards."""
    folder = tmp_path_factory.mktemp("kept")
    with django_db_blocker.unblock():
        try:
            signed_office()
            path = folder / "office.tar"
            manifest = backed_up(path)
            found = {model.__name__: model._default_manager.count() for model in (Case, Signature)}
        finally:
            with guards_lifted():
                call_command("flush", interactive=False, verbosity=0, inhibit_post_migrate=False)
        yield Kept(path, manifest, found)


def backed_up(path: Path, **changes: Any) -> Manifest:
    values: dict[str, Any] = {
        "database": connection.settings_dict,
        "treatments": None,
        "work": path.parent / "work",
        "key": None,
        "now": NOW,
        "tell": silent,
    }
    return make_backup(path, **values | changes)


@contextmanager
def empty_place(folder: Path) -> Iterator[dict[str, Any]]:
    """Settings of a database of the kind under test in which there is nothing yet."""
    if connection.vendor == "sqlite":
        # As the program opens its own: asking whether anything is there makes a file with nothing in it.
        options = dict(SQLITE_OPTIONS)
        yield {"ENGINE": "django.db.backends.sqlite3", "NAME": str(folder / "new.sqlite3"), "OPTIONS": options}
        return
    name = f"place_{os.getpid()}_{abs(hash(str(folder))) % 10**8}"
    with scratch_postgres(connection.settings_dict, name) as place:
        try:
            yield place
        finally:
            with postgres(place, name="template1") as link:
                for (aside,) in link.execute("SELECT datname FROM pg_database WHERE datname LIKE %s", [f"{name}_b%"]):
                    link.execute(f'DROP DATABASE "{aside}"')
