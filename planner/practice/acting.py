"""What a page does with a form that asks for one act: do it, or say why not and keep what was typed."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Model
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from planner.practice.both import go_on, lay_side_by_side
from planner.practice.fields import PlainForm
from planner.practice.models import Staff
from planner.trail.acts import act_words
from planner.trail.errors import Refused, StaleEdit
from planner.trail.fields import Versioned
from planner.trail.reading import last_act
from planner.trail.services import record


@dataclass(frozen=True, slots=True)
class Outcome:
    """How it went."""

    done: bool = False
    made: Any = None
    """What came of it, where something did."""
    changed: str = ""
    """What to tell whoever comes second: somebody else saved meanwhile."""
    state: str = ""
    """What the row is now, where it has states."""
    by: str = ""
    """Who did what to it last, and when."""
    both: dict[str, Any] = field(default_factory=dict)
    """What is saved now beside what was typed (:func:`planner.practice.both.lay_side_by_side`), for what is edited."""


def act_on(
    form: PlainForm,
    save: Callable[[dict[str, Any]], Any],
    row: Versioned | None = None,
    also: Callable[[], Sequence[Model]] = tuple,
    theirs: Callable[[], PlainForm] | None = None,
) -> Outcome:
    """Call ``save`` with what a valid ``form`` holds.

    A refusal stands in the form afterwards. After somebody else's save the form holds what was typed against the
    version that is saved now, so that a second press decides knowingly; ``row`` is what the act is on, and ``also``
    finds further rows whose last act may be the one that came between. ``theirs`` is the form as it would be opened
    now, for an act that edits: both are laid side by side.
    """
    if not form.is_valid():
        return Outcome()
    try:
        return Outcome(done=True, made=save(dict(form.cleaned_data)))
    except StaleEdit as refusal:
        go_on(form, refusal.version)
        second = _came_second(refusal.sentence, row or refusal.row, also)
        return second if theirs is None else replace(second, both=lay_side_by_side(form, theirs(), refusal))
    except Refused as refusal:
        seen = form.cleaned_data.get("seen")
        if row is not None and seen is not None:
            now = type(row)._default_manager.filter(pk=row.pk).values_list("version", flat=True).first()
            if now is not None and now != seen:  # the state that refuses came about since the page was opened
                go_on(form, now)
                return _came_second(refusal.sentence, row, also)
        form.refuse(refusal.field, refusal.sentence)
        return Outcome()


def _came_second(sentence: str, row: Any, also: Callable[[], Sequence[Model]]) -> Outcome:
    if row is None:
        return Outcome(changed=sentence)
    now = type(row)._default_manager.filter(pk=row.pk).first()
    return Outcome(
        changed=sentence,
        state=str(getattr(now, "state_words", "") or getattr(now, "state", "")),
        by=last_words(row, *also()),
    )


def last_words(*rows: Model) -> str:
    """Who did what to any of ``rows`` last and when, as a sentence; empty where nothing is recorded."""
    entry = last_act(*rows)
    if entry is None:
        return ""
    who = entry.actor.full_name if isinstance(entry.actor, Staff) else _("the program")
    moment = date_format(timezone.localtime(entry.at), "j F Y, H:i")
    return _("%(who)s %(did)s (%(moment)s).") % {"who": who, "did": act_words(entry.act), "moment": moment}


def exported(*, actor: Staff, act: str, content: Mapping[str, Any], now: datetime) -> None:
    """Record that a table of the office went out as a file."""
    with transaction.atomic():
        record(actor=actor, act=act, subject=actor.office, content=content, at=now)
