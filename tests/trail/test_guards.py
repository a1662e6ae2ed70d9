"""What may never change cannot be changed, whichever way it is tried, on every table that says so."""

from collections.abc import Callable

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, connection, models, transaction
from django.db.models.signals import post_migrate

import planner.trail
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from planner.trail import triggers
from planner.trail.apps import TrailConfig
from planner.trail.services import erase_details, record
from tests.closed_rows import Ground, every_maker
from tests.support import NOW, guards_lifted

pytestmark = pytest.mark.django_db
GUARDED = {model._meta.label_lower: model for model, _guard in triggers.all_guards()}
refused = pytest.raises(IntegrityError, match="append-only")


@pytest.fixture
def row(request: pytest.FixtureRequest, owner: Staff, lead_case: CaseFacts) -> models.Model:
    return every_maker()[request.param](Ground(owner, lead_case))


def a_column(row: models.Model) -> tuple[str, object]:
    """A column that can be written back with the value it has: the guard must refuse even that."""
    field = next(field for field in row._meta.concrete_fields if not field.primary_key and not field.is_relation)
    return field.attname, getattr(row, field.attname)


def test_every_guarded_table_is_tried_here() -> None:
    assert set(every_maker()) == set(GUARDED)


@pytest.mark.parametrize("row", sorted(GUARDED), indirect=True)
def test_a_closed_row_stands_whichever_way_is_tried(row: models.Model) -> None:
    """One test a table, because making some of the rows (a signed letter) takes seconds."""
    before = _columns(row)
    name, value = a_column(row)
    column = row._meta.get_field(name).column
    found = type(row)._default_manager.filter(pk=row.pk)

    def raw(sql: str) -> None:
        with connection.cursor() as cursor:
            cursor.execute(sql)

    ways: dict[str, Callable[[], object]] = {
        "update through the ORM": lambda: found.update(**{name: value}),
        "save": row.save,
        "bulk delete": lambda: found._raw_delete(found.db),
        "raw update": lambda: raw(f'UPDATE "{row._meta.db_table}" SET "{column}" = "{column}"'),
        "raw delete": lambda: raw(f'DELETE FROM "{row._meta.db_table}"'),
    }
    answers = dict.fromkeys(ways, "let through")
    for way, attempt in ways.items():
        try:
            with transaction.atomic():
                attempt()
        except IntegrityError as error:
            answers[way] = str(error)
    assert [way for way, answer in answers.items() if "append-only" not in answer] == []
    row.refresh_from_db()
    assert _columns(row) == before


def _columns(row: models.Model) -> dict[str, str]:
    return {field.attname: str(getattr(row, field.attname)) for field in row._meta.concrete_fields}


@pytest.mark.parametrize("row", ["trail.trailentry"], indirect=True)
def test_the_database_says_which_rule_it_was(row: models.Model) -> None:
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        row.save()
    cause = caught.value.__cause__
    # Class 23, integrity constraint violation, is what both databases report; 23514 is PostgreSQL's check_violation.
    assert (getattr(cause, "sqlstate", None) or getattr(cause, "sqlite_errorname", None)) in (
        "23514",
        "SQLITE_CONSTRAINT_TRIGGER",
    )


@pytest.mark.parametrize("row", ["trail.traildetail"], indirect=True)
def test_content_goes_only_after_the_chain_says_so(row: models.Model, owner: Staff) -> None:
    entry = record(actor=owner, act="note", at=NOW)
    with refused, transaction.atomic():
        row.delete()
    erase_details(entries=[entry], actor=owner, reason="nothing there", now=NOW)
    with refused, transaction.atomic():
        row.delete()


def test_a_table_made_again_gets_its_triggers_back(owner: Staff) -> None:
    assert triggers.missing() == ()
    table = "practice_bookversion"
    triggers._drop(connection, table)
    assert triggers.missing() == (f"guard_{table}_delete", f"guard_{table}_update")
    for config in apps.get_app_configs():
        post_migrate.send(sender=config, app_config=config, using="default", verbosity=0, interactive=False)
    assert triggers.missing() == ()


def test_lifting_is_for_the_duration_only(owner: Staff) -> None:
    with guards_lifted():
        assert triggers.missing()
    assert triggers.missing() == ()


@pytest.mark.django_db(transaction=True)
def test_flushing_a_database_is_refused(owner: Staff) -> None:
    with pytest.raises(Exception, match=r"append-only|flush"):
        call_command("flush", interactive=False, verbosity=0)


def test_models_listed_by_name_exist() -> None:
    assert GUARDED, "each app's list was read"
    config = TrailConfig("trail", planner.trail)
    config.models = {}
    config.apps = apps
    with pytest.raises(LookupError):
        triggers.guards_of(config)
