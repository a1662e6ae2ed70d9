"""Controls that are written without a template: letter for letter what the framework's own template writes."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django import forms
from django.forms.renderers import TemplatesSetting
from django.utils.functional import lazystr
from django.utils.safestring import mark_safe
from django.utils.translation import gettext_lazy, override
from hypothesis import example, given
from hypothesis import strategies as st

from planner.config.renderer import _WRITTEN_HERE, PageRenderer

PLAIN = TemplatesSetting()
OWN = PageRenderer()
NASTY = "\"><script>'&amp;</textarea>"
ATTRS: list[dict[str, Any]] = [
    {},
    {"id": "id_x", "required": True, "disabled": False, "maxlength": 12, "step": Decimal("0.1"), "min": None},
    {"data-a": NASTY, NASTY: "x", "title": gettext_lazy("Yes"), "data-safe": mark_safe("&nbsp;"), "pair": (1, "<")},
]
INPUTS = [
    forms.TextInput,
    forms.NumberInput,
    forms.DateInput,
    forms.TimeInput,
    forms.EmailInput,
    forms.PasswordInput,
    forms.HiddenInput,
    forms.CheckboxInput,
    forms.FileInput,
    forms.Textarea,
]
VALUES = [None, "", "7.5", NASTY, 1234, 1234.5, True, False, date(2026, 3, 2), mark_safe("<b>"), lazystr("<later>")]
CHOICES: list[Any] = [
    ("", "–"),
    (1, NASTY),
    (NASTY, gettext_lazy("Yes")),
    ("three", mark_safe("<b>3</b>")),
    (1234, 1234),
    ("Group <a>", [("in", "Within"), (5, lazystr("a&b"))]),
    (None, None),
    (gettext_lazy("Other"), [("o", Decimal("1234.5"))]),
]


def same(widget: forms.Widget, value: Any, attrs: dict[str, Any]) -> None:
    context = widget.get_context("na<me", value, attrs)
    assert widget.template_name in _WRITTEN_HERE
    assert OWN.render(widget.template_name, context) == PLAIN.render(widget.template_name, context)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("attrs", ATTRS)
@pytest.mark.parametrize("kind", INPUTS)
def test_what_is_typed_into(kind: type[forms.Widget], attrs: dict[str, Any], language: str) -> None:
    with override(language):
        for value in VALUES:
            same(kind(), value, attrs)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("attrs", ATTRS)
@pytest.mark.parametrize("kind", [forms.Select, forms.SelectMultiple])
def test_what_is_chosen_from(kind: type[forms.Select], attrs: dict[str, Any], language: str) -> None:
    with override(language):
        for value in (None, [], ["in"], [NASTY, "1234"], ["nothing of it"]):
            chosen = value if kind is forms.SelectMultiple or not value else value[0]
            same(kind(choices=CHOICES), chosen, attrs)
        same(kind(choices=()), None, attrs)


@given(st.text(), st.text(), st.text())
@example("\x00", " \n", "\r")
def test_any_words(value: str, label: str, attribute: str) -> None:
    attrs = {"title": attribute}
    for kind in (forms.TextInput, forms.Textarea):
        same(kind(), value, attrs)
    same(forms.Select(choices=[(value, label), (label, [(attribute, value)])]), value, attrs)
