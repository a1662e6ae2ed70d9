"""What a page does with a form that asks for one act: do it, or say why not and keep what was typed."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from planner.practice.fields import PlainForm
from planner.practice.models import Staff
from planner.trail.errors import Refused, StaleEdit
from planner.trail.services import record


@dataclass(frozen=True, slots=True)
class Outcome:
    """How it went."""

    done: bool = False
    made: Any = None
    """What came of it, where something did."""
    changed: str = ""
    """What to tell whoever comes second: somebody else saved meanwhile."""


def act_on(form: PlainForm, save: Callable[[dict[str, Any]], Any]) -> Outcome:
    """Call ``save`` with what a valid ``form`` holds.

    A refusal stands in the form afterwards. After somebody else's save the form holds what was typed against the
    version that is saved now, so that a second press decides knowingly.
    """
    if not form.is_valid():
        return Outcome()
    try:
        return Outcome(done=True, made=save(dict(form.cleaned_data)))
    except StaleEdit as refusal:
        data = form.data.copy()  # type: ignore[attr-defined]
        data["seen"] = str(refusal.version)
        form.data = data
        return Outcome(changed=refusal.sentence)
    except Refused as refusal:
        form.refuse(refusal.field, refusal.sentence)
        return Outcome()


def exported(*, actor: Staff, act: str, content: Mapping[str, Any], now: datetime) -> None:
    """Record that a table of the office went out as a file."""
    with transaction.atomic():
        record(actor=actor, act=act, subject=actor.office, content=content, at=now)
