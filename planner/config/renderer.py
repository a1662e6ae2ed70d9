"""How forms become HTML: the project's own field template, so that every form looks and reads alike.

A page of an examination holds some five hundred controls, and a template for each, with another one inside for its
attributes, was most of the time such a page took. The three commonest kinds are therefore written here, letter for
letter as the framework's templates write them.
"""

from collections.abc import Callable, Mapping
from html import escape
from typing import Any

from django.forms.renderers import TemplatesSetting
from django.template import Context
from django.template.base import render_value_in_context
from django.utils.safestring import SafeData, SafeString


class PageRenderer(TemplatesSetting):
    """Renders forms with templates/parts/form.html and each field with templates/parts/field.html."""

    form_template_name = "parts/form.html"
    field_template_name = "parts/field.html"

    def render(self, template_name: str, context: dict[str, Any], request: Any = None) -> str:
        """The HTML of a form, a field or a control."""
        write = _WRITTEN_HERE.get(template_name)
        if write is None:
            return super().render(template_name, context, request)
        return SafeString(write(context["widget"]))  # each part is escaped where it is written


def _value(value: Any) -> str:
    """A value within quotation marks; what is marked as safe stays as it is."""
    return str(value) if isinstance(value, SafeData) else escape(str(value))


def _words(value: Any) -> str:
    """Words between tags, as a template writes them."""
    return escape(value) if type(value) is str else render_value_in_context(value, _PLAIN)


def _attributes(given: Mapping[str, Any]) -> str:
    written = ""
    for name, value in given.items():
        if value is True:
            written += f" {_value(name)}"
        elif value is not False:
            written += f' {_value(name)}="{_value(value)}"'
    return written


def _input(widget: Mapping[str, Any]) -> str:
    value = "" if widget["value"] is None else f' value="{_value(widget["value"])}"'
    attributes = _attributes(widget["attrs"])
    return f'<input type="{_words(widget["type"])}" name="{_words(widget["name"])}"{value}{attributes}>'


def _textarea(widget: Mapping[str, Any]) -> str:
    text = _words(widget["value"]) if widget["value"] else ""
    return f'<textarea name="{_words(widget["name"])}"{_attributes(widget["attrs"])}>\n{text}</textarea>'


def _select(widget: Mapping[str, Any]) -> str:
    written = f'<select name="{_words(widget["name"])}"{_attributes(widget["attrs"])}>'
    for group, options, _index in widget["optgroups"]:
        if group:
            written += f'\n  <optgroup label="{_words(group)}">'
        for one in options:
            attributes = _attributes(one["attrs"])
            written += f'\n  <option value="{_value(one["value"])}"{attributes}>{_words(one["label"])}</option>\n'
        if group:
            written += "\n  </optgroup>"
    return written + "\n</select>"


_PLAIN = Context()
_INPUTS = ("input", "text", "number", "date", "time", "email", "tel", "password", "hidden", "checkbox", "file")
_WRITTEN_HERE: dict[str, Callable[[Mapping[str, Any]], str]] = {
    **{f"django/forms/widgets/{kind}.html": _input for kind in _INPUTS},
    "django/forms/widgets/textarea.html": _textarea,
    "django/forms/widgets/select.html": _select,
}
