"""What stands in the database, and what whoever pressed is told: before and after a second press both are compared."""

from typing import Any

import lxml.html
from django.apps import apps
from django.contrib.messages import get_messages
from django.db import connection

from planner.practice.press_models import Press
from planner.practice.sign_in_models import SignedIn

_LEFT_OUT = ("trail", "sessions", "axes")


def stands() -> dict[str, list[str]]:
    """Every row of every table as it stands, but of those that say who looked, pressed, signed in or was refused."""
    found = {}
    with connection.cursor() as cursor:
        for model in apps.get_models(include_auto_created=True):
            if model._meta.app_label in _LEFT_OUT or model in (Press, SignedIn):
                continue
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(model._meta.db_table)}")
            found[model._meta.label] = sorted(map(str, cursor.fetchall()))
    return found


def changed(before: dict[str, list[str]]) -> list[str]:
    """The tables in which anything stands otherwise than ``before``."""
    return [name for name, rows in stands().items() if rows != before[name]]


def told(answer: Any) -> str:
    """What the page says that answers, or the sentences that stand on the one it leads to."""
    if answer.status_code == 302:
        return " ".join(str(one) for one in get_messages(answer.wsgi_request))
    return " ".join(lxml.html.document_fromstring(answer.content.decode()).text_content().split())
