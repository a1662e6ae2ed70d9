"""Building blocks that every table shares: the public id, and the version of an editable row."""

import secrets
from collections.abc import Mapping
from typing import Any, TypeVar

from django.db import models
from django.db.models import F

from planner.trail.errors import StaleEdit


def new_public_id() -> str:
    """A random id of 12 characters that tells nothing and cannot be counted through (72 bits)."""
    return secrets.token_urlsafe(9)


class Public(models.Model):
    """A row that is named to the outside by a random id, never by its number in the table."""

    public_id = models.CharField(max_length=16, unique=True, default=new_public_id, editable=False)

    class Meta:
        abstract = True


class Versioned(Public):
    """A row that people edit. Every saved edit counts ``version`` up; see :func:`save_seen`."""

    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True


Row = TypeVar("Row", bound=Versioned)


def save_seen(row: Row, *, seen: int, what: str, values: Mapping[str, Any]) -> Row:
    """Write ``values`` to ``row`` if its version is still ``seen``, and return the row as saved.

    ``what`` begins the sentence for the user, such as "The patient". Raises StaleEdit, having written nothing, when
    somebody else saved in between. Call it inside the service's transaction.
    """
    model = type(row)
    changed = model._default_manager.filter(pk=row.pk, version=seen).update(version=F("version") + 1, **values)
    saved = model._default_manager.get(pk=row.pk)
    if not changed:
        theirs = {name: getattr(saved, name) for name in values}
        raise StaleEdit(what, yours=values, theirs=theirs, seen=seen, version=saved.version, row=saved)
    return saved
