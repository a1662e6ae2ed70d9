"""The prose of a paper that a patient reads: for the reading grade, and for whatever else is measured on its words."""

from collections.abc import Iterable
from html.parser import HTMLParser
from itertools import count

from django.utils import translation
from django.utils.translation import gettext as _

from planner.letters.read_back import Block, tidy
from planner.rules.reading_es import Ease

MEASURED_IN = ("en",)
"""Languages that the formulas of the reading grade are made for."""
EASE_IN = ("es",)
"""Languages that are measured on a scale of their own, which is no grade."""
SHORTEST = 4
"""Fewer words are a label or an entry of a list, not a sentence, and would make a hard text look easy."""
_KINDS = {
    "p": "P",
    "li": "LBody",
    "h1": "H1",
    "h2": "H2",
    "h3": "H3",
    "th": "TH",
    "td": "TD",
    "caption": "Caption",
    "figcaption": "Caption",
}
_SKIPPED = frozenset({"svg", "style", "title", "head"})
_RUNNING = frozenset({"head", "foot", "page-number"})
"""Classes of what stands at the edge of every page: in no reading order."""
_EMPTY = frozenset({"br", "hr", "img", "meta", "link", "input", "col"})


def sources_heading() -> str:
    """The heading under which sources are listed: titles of studies are not for the patient to read through."""
    return _("Where the numbers come from")


def ease_words(found: Ease) -> str:
    """The word of the INFLESZ scale for how easy a text is."""
    return {
        "very easy": _("very easy"),
        "fairly easy": _("fairly easy"),
        "normal": _("normal"),
        "rather hard": _("rather hard"),
        "very hard": _("very hard"),
    }[found.band]


def patient_prose(found: Iterable[Block], language: str) -> tuple[str, ...]:
    """The passages that the patient is to read: all but headings, labels, figures and the list of sources."""
    with translation.override(language):
        listed = sources_heading()
    kept, measuring = [], True
    for block in found:
        if block.kind in ("H1", "H2"):
            measuring = block.text != listed
        elif measuring and _is_prose(block):
            kept.append(block.text)
    return tuple(kept)


def _is_prose(block: Block) -> bool:
    if len(block.text.split()) < SHORTEST:
        return False
    return block.kind in ("P", "LBody") or (block.kind in ("TD", "Caption") and block.text.endswith((".", "?", "!")))


def blocks_of_html(html: str) -> tuple[Block, ...]:
    """The blocks of a paper before it is printed, the same that :mod:`planner.letters.read_back` finds in the file."""
    parser = _Blocks()
    parser.feed(html)
    parser.close()
    joined = ((kind, tidy("".join(parts)), cell) for kind, parts, cell in parser.found)
    return tuple(Block(kind, text, 0, *cell) for kind, text, cell in joined if text)


class _Blocks(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, list[str], tuple[int, int]]] = []
        """Kind and words of each block, with the table and the row that it is a cell of."""
        self._table = self._row = 0
        self._tables, self._rows = count(1), count(1)
        self._open: list[tuple[str, list[str] | None, bool]] = []
        """Tag, the block its words belong to, and whether it is left out with all that is in it."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        above = self._open[-1][1] if self._open else None
        if tag == "br" and above is not None:
            above.append(" ")
        if tag in _EMPTY:
            return
        if tag == "table":
            self._table = next(self._tables)
        elif tag == "tr":
            self._row = next(self._rows)
        block = above
        within = self._open and self._open[-1][2]
        skipped = bool(within or tag in _SKIPPED or _RUNNING & set((dict(attrs).get("class") or "").split()))
        if skipped:
            block = None
        elif tag in _KINDS:
            block = []
            self.found.append((_KINDS[tag], block, (self._table, self._row)))
        self._open.append((tag, block, skipped))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element that closes itself holds no text."""

    def handle_endtag(self, tag: str) -> None:
        if tag == "table":
            self._table = self._row = 0
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        block = self._open[-1][1] if self._open else None
        if block is not None:
            block.append(data)
