"""The prose of a paper that a patient reads: for the reading grade."""

from html.parser import HTMLParser

from django.utils.translation import gettext as _

MEASURED_IN = ("en",)
"""Languages that the formulas of the reading grade are made for."""

_BLOCKS = frozenset({"p", "li", "figcaption"})
_SKIPPED = frozenset({"svg", "table", "style", "title", "head", "h1", "h2", "h3"})
SHORTEST = 4
"""Fewer words are a label or an entry of a list, not a sentence, and would make a hard text look easy."""
_EMPTY = frozenset({"br", "hr", "img", "meta", "link", "input", "col"})


def sources_heading() -> str:
    """The heading under which sources are listed: titles of studies are not for the patient to read through."""
    return _("Where the numbers come from")


class _Prose(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.passages: list[str] = []
        self._open: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _EMPTY:
            return
        classes = (dict(attrs).get("class") or "").split()
        skipped = (tag in _SKIPPED and "points" not in classes) or "not-prose" in classes
        self._open.append((tag, skipped or (bool(self._open) and self._open[-1][1])))
        if tag in _BLOCKS:
            self.passages.append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element that closes itself holds no text."""

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if self._open and not self._open[-1][1] and self.passages:
            self.passages[-1] += data


def passages(html: str) -> tuple[str, ...]:
    """Paragraphs and list items, without headings, figures, pictures, labels and what is marked ``not-prose``.

    A table of figures is no prose; one of class ``points`` only sets headings beside their text and is read whole.
    """
    parser = _Prose()
    parser.feed(html)
    parser.close()
    found = (" ".join(text.split()) for text in parser.passages)
    return tuple(text for text in found if len(text.split()) >= SHORTEST)
