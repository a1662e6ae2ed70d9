"""``manage.py check_templates``: compile every template, so that a slip is found before somebody opens the page.

Beside what the template engine itself refuses, it looks for what the content security policy would block in the
browser: styles, scripts and handlers written into the page.
"""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.template import TemplateDoesNotExist, TemplateSyntaxError, engines
from django.template.base import Node, Template, TextNode
from django.template.loader_tags import ExtendsNode, IncludeNode

_SUFFIXES = (".html", ".txt", ".svg")
_BLOCKED = (
    (re.compile(r"<style\b", re.I), "a <style> element"),
    (re.compile(r"\sstyle\s*=", re.I), "a style attribute"),
    (re.compile(r"<script\b(?![^>]*\bsrc=)", re.I), "a script in the page"),
    (re.compile(r"\son[a-z]+\s*=", re.I), "an on… handler"),
    (re.compile(r"\bhx-on\b", re.I), "an hx-on handler"),
    (re.compile(r"\bhx-trigger=\"[^\"]*\[", re.I), "a filter in hx-trigger"),
)


class Command(BaseCommand):
    help = "Compile every template of the project and look for what the content security policy would block."
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the count; fail with every fault otherwise."""
        engine = engines["django"].engine  # type: ignore[attr-defined]
        count, faults = 0, []
        for folder in map(Path, engine.dirs):
            for path in sorted(found for found in folder.rglob("*") if found.suffix in _SUFFIXES):
                count += 1
                name = path.relative_to(folder).as_posix()
                faults += [f"{name}: {fault}" for fault in _faults(engine, name)]
        if faults:
            raise CommandError("Templates that do not hold:\n" + "\n".join(faults))
        if not count:
            raise CommandError("No template was found: is this run from the project?")
        self.stdout.write(f"{count} templates hold.")


def _faults(engine: Any, name: str) -> Iterator[str]:
    try:
        template: Template = engine.get_template(name)
    except (TemplateSyntaxError, TemplateDoesNotExist, UnicodeDecodeError) as error:
        yield f"{type(error).__name__}: {error}"
        return
    named = [node.parent_name for node in _all(template, ExtendsNode)]
    named += [node.template for node in _all(template, IncludeNode)]
    for expression in named:
        # A name that is computed is found only when the page is drawn.
        if isinstance(expression.var, str):
            try:
                engine.get_template(expression.var)
            except TemplateDoesNotExist:
                yield f'it names "{expression.var}", which is not there.'
            except TemplateSyntaxError:
                pass  # told at that template's own turn
    text = " ".join(node.s for node in _all(template, TextNode))
    yield from (f"it holds {what}." for pattern, what in _BLOCKED if pattern.search(text))


def _all(template: Template, kind: type[Node]) -> list[Any]:
    return list(template.nodelist.get_nodes_by_type(kind))
