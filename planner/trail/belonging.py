"""Whose a row is: the way from a table along its foreign keys to the person it belongs to, found in the models.

One app names in its AppConfig, as ``erased_as``, the model that stands for a person. Every table that reaches it is
that person's, and goes when that person is erased.
"""

from collections.abc import Mapping
from functools import cache
from typing import Any, cast

from django.apps import apps
from django.db.models import ForeignKey, Model


def person_model() -> type[Model]:
    """The model that stands for a person. Raises LookupError when no app names one."""
    for config in apps.get_app_configs():
        if name := getattr(config, "erased_as", ""):
            return config.get_model(name)
    raise LookupError("no app says in erased_as which model stands for a person")


@cache
def ways() -> Mapping[type[Model], tuple[str, ...]]:
    """For every table that is somebody's, the foreign keys by which the person is reached, one step each.

    One key that is never empty, the nearest to the person; where a table has none, all that may be empty: one row goes
    by one, another by another.
    """
    found: dict[type[Model], tuple[str, ...]] = {person_model(): ()}
    while step := _step(found, empty=False) or _step(found, empty=True):
        found |= step
    return found


def _step(found: Mapping[type[Model], tuple[str, ...]], *, empty: bool) -> dict[type[Model], tuple[str, ...]]:
    """The tables one step further out than those that were found."""
    step: dict[type[Model], tuple[str, ...]] = {}
    for model, field in _keys():
        if model not in found and field.related_model in found and field.null == empty and (empty or model not in step):
            step[model] = (*step.get(model, ()), field.name)
    return step


def depth_of(model: type[Model]) -> int:
    """How many steps the longest way from ``model`` to the person has."""
    return max((1 + depth_of(_next(model, name)) for name in ways()[model]), default=0)


def deepest_first() -> tuple[type[Model], ...]:
    """The tables that are somebody's, those first that hang on others: in this order they can be emptied."""
    return tuple(sorted(ways(), key=lambda model: (-depth_of(model), model._meta.label)))


def paths_of(model: type[Model]) -> tuple[str, ...]:
    """The ways to the person as a query writes them, such as ``case__patient``."""
    found = []
    for name in ways()[model]:
        further = paths_of(_next(model, name))
        found += [f"{name}__{path}" for path in further] or [name]
    return tuple(found)


def owner_sql(model: type[Model], row: str) -> str:
    """SQL for the public id of the person that ``row`` of ``model`` belongs to; empty where it is nobody's."""
    if model not in ways():
        return ""
    if not ways()[model]:
        return f'{row}."public_id"'
    found = []
    for name in ways()[model]:
        key, related = _field(model, name), _next(model, name)
        alias = f"{row}_{name}".lower()
        found.append(
            f'(SELECT {owner_sql(related, alias)} FROM "{related._meta.db_table}" {alias} '  # noqa: S608
            f'WHERE {alias}."{related._meta.pk.column}" = {row}."{key.column}")'
        )
    return found[0] if len(found) == 1 else f"COALESCE({', '.join(found)})"


def _field(model: type[Model], name: str) -> "ForeignKey[Any, Any]":
    return cast("ForeignKey[Any, Any]", model._meta.get_field(name))


def _next(model: type[Model], name: str) -> type[Model]:
    return _field(model, name).related_model


def _keys() -> tuple[tuple[type[Model], "ForeignKey[Any, Any]"], ...]:
    return tuple(
        (model, field)
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, ForeignKey) and field.related_model is not model
    )
