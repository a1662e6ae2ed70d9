"""Tables that only grow, and rows that are closed: kept so by the database itself, not by good behaviour.

Each app lists its guards in its AppConfig::

    append_only = ("BookVersion", Guard("Estimate", delete_if="OLD.state = 'draft'"))

A plain name means: rows are inserted and then never changed or deleted. The conditions of a :class:`Guard` are SQL
over OLD and NEW that both databases understand. Triggers are made again after every migrate, because SQLite drops them
without a word whenever a migration rebuilds a table. A refused statement fails with IntegrityError on both databases.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

from django.apps import AppConfig, apps
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model

from planner.trail.belonging import owner_sql

NEVER = "1 = 0"
ALWAYS = "1 = 1"


@dataclass(frozen=True, slots=True)
class Guard:
    """When rows of one model may be inserted, changed and deleted, as SQL conditions over OLD and NEW."""

    model: str
    update_if: str = NEVER
    delete_if: str = NEVER
    insert_if: str = ALWAYS

    def statements(self) -> tuple[tuple[str, str], ...]:
        """(event, condition) for each event that is not always allowed."""
        every = (("insert", self.insert_if), ("update", self.update_if), ("delete", self.delete_if))
        return tuple((event, condition) for event, condition in every if condition != ALWAYS)


def guards_of(config: AppConfig) -> tuple[tuple[type[Model], Guard], ...]:
    """The guards that one app lists, each with its model. Raises LookupError for a model the app does not have."""
    listed = getattr(config, "append_only", ())
    guards = (guard if isinstance(guard, Guard) else Guard(guard) for guard in listed)
    return tuple((config.get_model(guard.model), guard) for guard in guards)


def all_guards() -> tuple[tuple[type[Model], Guard], ...]:
    """The guards of every app."""
    return tuple(pair for config in apps.get_app_configs() for pair in guards_of(config))


def install(sender: AppConfig, using: str = "default", **_kwargs: Any) -> None:
    """Make the triggers of one app afresh; runs after every migrate."""
    connection = connections[using]
    present = set(connection.introspection.table_names())
    for model, guard in guards_of(sender):
        if model._meta.db_table in present:
            _drop(connection, model._meta.db_table)
            _create(connection, model._meta.db_table, _with_erasing(model, guard, present))


def clear_the_way(sender: AppConfig, using: str = "default", plan: Any = (), **_kwargs: Any) -> None:
    """Take the triggers of one app away while migrations run; they are made again after them.

    SQLite refuses to rebuild a table that a trigger of another table looks into.
    """
    connection = connections[using]
    if connection.vendor == "sqlite" and plan:
        present = set(connection.introspection.table_names())
        for model, _guard in guards_of(sender):
            if model._meta.db_table in present:
                _drop(connection, model._meta.db_table)


def _with_erasing(model: type[Model], guard: Guard, present: set[str]) -> Guard:
    """The guard, letting go what belongs to somebody of whom the record says that they were erased."""
    whose = owner_sql(model, "OLD")
    if guard.delete_if == ALWAYS or not whose or "trail_erasure" not in present:
        return guard
    said = f"EXISTS (SELECT 1 FROM trail_erasure said WHERE said.subject_id = {whose})"  # noqa: S608
    return replace(guard, delete_if=f"({guard.delete_if}) OR {said}")


def missing(using: str = "default") -> tuple[str, ...]:
    """Names of triggers that should stand in the database and do not."""
    connection = connections[using]
    names = {
        _name(model._meta.db_table, event) for model, guard in all_guards() for event, _condition in guard.statements()
    }
    if connection.vendor == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        query = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    with connection.cursor() as cursor:
        cursor.execute(query)
        found = {row[0] for row in cursor.fetchall()}
    return tuple(sorted(names - found))


@contextmanager
def lifted(using: str = "default") -> Iterator[None]:
    """Take all triggers away for the duration: for emptying a test database and for nothing else."""
    connection = connections[using]
    for model, _guard in all_guards():
        _drop(connection, model._meta.db_table)
    try:
        yield
    finally:
        for config in apps.get_app_configs():
            install(config, using)


def _name(table: str, event: str) -> str:
    return f"guard_{table}_{event}"


def _drop(connection: BaseDatabaseWrapper, table: str) -> None:
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for event in ("insert", "update", "delete", "truncate"):
            name = _name(table, event)
            if connection.vendor == "sqlite":
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"')
            else:
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}" ON "{table}"')
                cursor.execute(f'DROP FUNCTION IF EXISTS "{name}"()')


def _create(connection: BaseDatabaseWrapper, table: str, guard: Guard) -> None:
    make = _create_sqlite if connection.vendor == "sqlite" else _create_postgresql
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for event, condition in guard.statements():
            make(cursor, table, event, condition)
        if connection.vendor == "postgresql":
            _create_postgresql(cursor, table, "truncate", NEVER)


def _sentence(table: str, event: str) -> str:
    return f"{table} is append-only: this {event} is refused; a correction is a new row"


def _create_sqlite(cursor: Any, table: str, event: str, condition: str) -> None:
    cursor.execute(
        f'CREATE TRIGGER "{_name(table, event)}" BEFORE {event.upper()} ON "{table}" FOR EACH ROW '
        f"WHEN NOT ({condition}) BEGIN SELECT RAISE(ABORT, '{_sentence(table, event)}'); END"
    )


def _create_postgresql(cursor: Any, table: str, event: str, condition: str) -> None:
    # A function per trigger: a WHEN clause may not look into other tables. 23514 is check_violation.
    name, row = _name(table, event), "OLD" if event == "delete" else "NEW"
    each = "STATEMENT" if event == "truncate" else "ROW"
    cursor.execute(
        f'CREATE FUNCTION "{name}"() RETURNS trigger LANGUAGE plpgsql AS $guard$ BEGIN '
        f"IF NOT ({condition}) THEN RAISE EXCEPTION USING ERRCODE = '23514', MESSAGE = '{_sentence(table, event)}'; "
        f"END IF; RETURN {row}; END $guard$"
    )
    cursor.execute(
        f'CREATE TRIGGER "{name}" BEFORE {event.upper()} ON "{table}" FOR EACH {each} EXECUTE FUNCTION "{name}"()'
    )
