"""The yardstick for a consent letter: which items of the IPDAS checklist it answers, found in the letter itself.

IPDASi v4.0: 6 qualifying items, 6 certification items that hold for every aid (4 more are for tests), and quality items
(Joseph-Williams and others 2014; numbers of the first twelve as in BMJ Open 2016;6:e011918, table 2; the words are our
own). An item counts only if its passage is found in the rendered text; take the passage away and the item is off. What
can only be known from people (tried out with patients, reviewed from outside) is named as not done.
"""

from collections.abc import Callable
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Literal

Kind = Literal["qualifying", "certification", "quality"]


@dataclass(frozen=True, slots=True)
class Item:
    """One item of the checklist; ``mark`` is the mark that its passage carries in the letter's HTML."""

    number: str
    kind: Kind
    words: str
    mark: str


ITEMS = (
    Item("1.1.1", "qualifying", "says what was found", "found"),
    Item("1.1.2", "qualifying", "says what is to be decided", "decision"),
    Item("1.1.3", "qualifying", "names the options", "options"),
    Item("1.1.4", "qualifying", "gives the good sides of each", "benefits"),
    Item("1.1.5", "qualifying", "gives the bad sides of each", "risks"),
    Item("1.2.1", "qualifying", "says what living with it is like", "living"),
    Item("2.1.1", "certification", "shows good and bad in equal detail", "equal"),
    Item("2.2.1", "certification", "names its sources", "sources"),
    Item("2.2.2", "certification", "gives its date", "date"),
    Item("2.2.3", "certification", "says when it is brought up to date", "update"),
    Item("2.2.4", "certification", "says how sure the numbers are", "certainty"),
    Item("2.3.1", "certification", "says who pays for it", "funding"),
    Item("Q1", "quality", "says what happens if nothing is done", "nothing"),
    Item("Q2", "quality", "lets the options be compared", "compare"),
    Item("Q3", "quality", "gives numbers for what may happen", "numbers"),
    Item("Q9", "quality", "asks what matters most to the patient", "matters"),
    Item("Q10", "quality", "shows steps to decide", "steps"),
    Item("Q11", "quality", "leaves room for questions", "questions"),
    Item("Q18", "quality", "says how its numbers were chosen", "chosen"),
    Item("Q21", "quality", "states its reading grade", "grade"),
)
NOT_DONE = (
    "Patients were not asked what they need to know before this letter was written.",
    "It was not reviewed by patients or by outside experts, and not tried out with either.",
    "It was not studied whether it leads to better choices or more knowledge.",
)


@dataclass(frozen=True, slots=True)
class Found:
    """What the yardstick found in one letter."""

    met: tuple[Item, ...]
    missing: tuple[Item, ...]

    def count(self, kind: Kind) -> tuple[int, int]:
        """Met and all items of ``kind``."""
        met = sum(item.kind == kind for item in self.met)
        return met, met + sum(item.kind == kind for item in self.missing)


def check(html: str) -> Found:
    """Which items the letter answers, going by the text of its marked passages."""
    passages = marked_passages(html)
    met = tuple(item for item in ITEMS if _holds(item, passages))
    return Found(met, tuple(item for item in ITEMS if item not in met))


def _holds(item: Item, passages: dict[str, list[str]]) -> bool:
    found = passages.get(item.mark, [])
    if not found or not all(text.strip() for text in found):
        return False
    more = _MORE.get(item.mark)
    return more is None or more(passages)


def _one_for_each_option(mark: str) -> Callable[[dict[str, list[str]]], bool]:
    return lambda passages: len(passages[mark]) == len(passages.get("option", []))


_MORE: dict[str, Callable[[dict[str, list[str]]], bool]] = {
    "options": lambda passages: len(passages.get("option", [])) >= 2,
    "benefits": _one_for_each_option("benefits"),
    "risks": _one_for_each_option("risks"),
    "living": _one_for_each_option("living"),
    # Equal detail: every option has every field, in the same order.
    "equal": lambda passages: len({text.strip() for text in passages.get("fields", [])}) == 1,
    "numbers": lambda passages: any(" of 100" in text or "Of 1" in text for text in passages["numbers"]),
}


class _Passages(HTMLParser):
    """Collects the text of every element that carries a mark, and the headings inside each option."""

    def __init__(self) -> None:
        super().__init__()
        self.found: dict[str, list[str]] = {}
        self._open: list[tuple[str, tuple[tuple[str, int], ...]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _EMPTY:
            return
        marks = (dict(attrs).get("data-ipdas") or "").split()
        for mark in marks:
            self.found.setdefault(mark, []).append("")
        self._open.append((tag, tuple((mark, len(self.found[mark]) - 1) for mark in marks)))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element that closes itself holds no text."""

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        for _, marks in self._open:
            for mark, index in marks:
                self.found[mark][index] += data
        if self._open and self._open[-1][0] == "h3" and self.found.get("option"):
            fields = self.found.setdefault("fields", [])
            while len(fields) < len(self.found["option"]):
                fields.append("")
            if any(mark == "option" for _, marks in self._open for mark, _ in marks):
                fields[len(self.found["option"]) - 1] += data.strip() + " / "


_EMPTY = frozenset({"br", "hr", "img", "meta", "link", "input", "col"})


def marked_passages(html: str) -> dict[str, list[str]]:
    """The text of each marked passage, and under ``fields`` the headings of each option in order."""
    parser = _Passages()
    parser.feed(html)
    parser.close()
    return parser.found
