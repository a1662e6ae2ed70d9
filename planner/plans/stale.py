"""Two editors: yours and theirs side by side, and the form with yours going on from the version saved now."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.patients.stored import from_json
from planner.plans.shown import choice_words
from planner.practice.fields import PlainForm, shown_words
from planner.rules.mouth import Choices
from planner.rules.teeth import Numbering
from planner.trail.errors import StaleEdit


def lay_side_by_side(form: PlainForm, theirs: PlainForm, refusal: StaleEdit) -> dict[str, Any]:
    """Rows of (field, theirs, yours) where the two differ; ``form`` is made to go on from the version saved now."""
    _go_on(form, refusal.version)
    names = [name for name in {**theirs.fields, **form.fields} if name != "seen"]
    pairs = [(_field(form, theirs, name), _words(theirs, name), _words(form, name)) for name in names]
    rows = [(field, saved, typed) for field, saved, typed in pairs if saved != typed]
    return {"stale": refusal.sentence, "rows": rows}


def choices_side_by_side(form: PlainForm, refusal: StaleEdit, numbering: Numbering) -> dict[str, Any]:
    """As :func:`lay_side_by_side`, for a decision: what is decided now, and what yours would have made of it."""
    _go_on(form, refusal.version)
    theirs, yours = (
        choice_words(from_json(Choices, side.get("choices", {})), numbering) for side in (refusal.theirs, refusal.yours)
    )
    return {
        "stale": refusal.sentence,
        "decided_theirs": theirs,
        "decided_yours": tuple(words for words in yours if words not in theirs),
        "decided_gone": tuple(words for words in theirs if words not in yours),
    }


def _go_on(form: PlainForm, version: int) -> None:
    data = form.data.copy()  # type: ignore[attr-defined]
    data["seen"] = str(version)
    form.data = data


def _field(form: PlainForm, theirs: PlainForm, name: str) -> forms.BoundField:
    return form[name] if name in form.fields else theirs[name]


def _words(form: PlainForm, name: str) -> str:
    if name not in form.fields:
        return "–"
    field = form[name]
    if isinstance(field.field, forms.BooleanField):
        return str(_("yes") if field.value() else _("no"))
    return shown_words(field)
