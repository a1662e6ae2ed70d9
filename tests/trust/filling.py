"""Fills the forms of a page as a browser would, except that what is typed is hostile."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import urljoin, urlsplit

import lxml.html

PLANTED = "planted"
MARKUP = (
    f'"><script>document.title="{PLANTED}"</script><img src=x onerror=document.title="{PLANTED}">'
    "{{ 7|add:42000 }}{% now 'Y' %}${7*6001}'); DROP TABLE practice_staff;--"
)
"""Breaks out of an attribute, runs a script two ways, is template syntax three ways, and ends a statement of SQL."""
LIVE = ("<script>document", "<img src=x", "42007")
"""What a page shows that took it for anything but text."""
TYPED = {"text", "search", "email", "tel", "password", "url", "", "number", "date", "time"}


@dataclass
class Filled:
    """A form: where it goes, what stands in it, and which of it somebody types."""

    action: str
    values: dict[str, list[str]] = field(default_factory=dict)
    typed: list[str] = field(default_factory=list)


def forms_of(markup: str, url: str) -> Iterator[Filled]:
    """Every form of the page at ``url`` that is posted to this program, files left out."""
    if not markup.strip():
        return
    for form in lxml.html.document_fromstring(markup).forms:
        if (form.get("method") or "get").lower() != "post":
            continue
        found = Filled(urlsplit(urljoin(url, form.get("action") or url)).path)
        for one in form.inputs:
            _add(found, one)
        yield found


def _add(found: Filled, one: lxml.html.HtmlElement) -> None:
    name, tag, kind = one.get("name"), one.tag, (one.get("type") or "").lower()
    if not name or name == "csrfmiddlewaretoken" or kind in ("file", "submit", "button"):
        return
    if tag == "select":
        found.values.setdefault(name, []).extend(one.value_options[-1:])
    elif kind in ("checkbox", "radio"):
        if kind == "checkbox" or name not in found.values:
            found.values.setdefault(name, []).append(one.get("value") or "on")
    else:
        found.values.setdefault(name, []).append(one.value or "")
        if tag == "textarea" or kind in TYPED:
            found.typed.append(name)


def hostile(form: Filled, *names: str) -> dict[str, list[str]]:
    """What is sent: hostile text in the fields named, and the rest as it stands."""
    return form.values | {name: [MARKUP] for name in names}
