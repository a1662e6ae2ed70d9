"""The yardstick for a consent letter: which items of the IPDAS checklist it answers, found in the letter itself.

IPDASi v4.0: 6 qualifying items, 6 certification items that hold for every aid (4 more are for tests), and 28 quality
items, of which 23 hold where no test is offered (Joseph-Williams and others 2014; numbers of the first twelve as in BMJ
Open 2016;6:e011918, table 2; Q1 to Q28 are our own numbers in the order of the checklist; the words are our own). An
item counts only if its passage is found among the words of the letter; take the passage away and the item is off. What
can only be known from people (tried out with patients, reviewed from outside) is named as not done.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from django.utils import translation
from django.utils.translation import gettext_lazy as _

from planner.letters.prose import sources_heading
from planner.letters.read_back import Block, tidy

Kind = Literal["qualifying", "certification", "quality"]

HEADINGS = {
    "decision": _("What is to be decided"),
    "found": _("What we found"),
    "nothing": _("What doing nothing means"),
    "compare": _("Your options side by side"),
    "matters": _("What matters most to you?"),
    "questions": _("Your questions and our answers"),
    "made": _("How this letter was made"),
}
"""Headings of the letter's chapters that hold a passage."""
DATE_LABEL = _("Date of this letter")
FIELDS = {
    "happens": _("What happens"),
    "benefits": _("The good sides"),
    "risks": _("The bad sides"),
    "living": _("Living with it"),
}
"""Headings within every option that hold a passage."""
SAYS = {
    "equal": _("Each option has the same points in the same order."),
    "reference": _("The numbers come from other people, named with each number. Yours may differ."),
    "span": _(
        "For each option we say how many hold after ten years, or that nobody knows. All other numbers name their time."
    ),
    "size": _("Within an option all numbers are of groups of one size."),
    "bands": _("“Often” means 10 or more of 100, “sometimes” 1 to 9, “rarely” less than 1."),
    "views": _(
        "Each small picture shows the whole group. Full signs: so many it happens to. Half signs: so many more perhaps."
    ),
    "matters": _("Mark each line from 0 (does not matter) to 10 (matters most)."),
    "questions": _("Write your questions here. We answer each before you sign."),
    "update": _(
        "It is made anew when your plan, your health or the studies change, and in any case before a new signature."
    ),
    "funding": _("Nobody else paid for it."),
    "uncertain": _("Where studies differ, we print both ends. Where we found no number, we say so."),
    "chosen": _("We use the numbers of the studies that fit best."),
    "sure": _("The list of sources says how well we know each number. What we know best comes first."),
    "author": _("Who answers for what it says:"),
    "grade": _("Reading grade (Flesch-Kincaid):"),
}
"""Sentences, or beginnings of sentences, that are a passage by themselves."""


@dataclass(frozen=True, slots=True)
class Item:
    """One item of the checklist."""

    number: str
    kind: Kind
    words: Any
    """Said when read, in the language of that moment."""


NOT_DONE = (
    Item("Q12", "quality", _("patients were asked what they need to know")),
    Item("Q13", "quality", _("dentists were asked what they need")),
    Item("Q14", "quality", _("reviewed by patients from outside")),
    Item("Q15", "quality", _("reviewed by experts from outside")),
    Item("Q16", "quality", _("tried out with patients")),
    Item("Q17", "quality", _("tried out with dentists")),
    Item("Q22", "quality", _("shown to lead to choices that fit the person")),
    Item("Q23", "quality", _("shown to add to what people know")),
)
"""What no program can know of its own letter: nobody has done it yet."""
TESTS_ONLY = tuple(Item(f"Q{number}", "quality", _("for tests only")) for number in range(24, 29))
"""Q24 to Q28 are about tests; a letter that offers none is not held to them."""


@dataclass(frozen=True, slots=True)
class Passage:
    """Words in one block of the letter."""

    block: int
    text: str


@dataclass(frozen=True, slots=True)
class Answered:
    """One item with the passages that answer it; none where it is not answered."""

    item: Item
    passages: tuple[Passage, ...]

    @property
    def met(self) -> bool:
        """Whether its passages were found."""
        return bool(self.passages)

    @property
    def excerpt(self) -> str:
        """The beginning of its first passage."""
        first = self.passages[0].text if self.passages else ""
        return first if len(first) <= 120 else first[:119].rsplit(" ", 1)[0] + "…"


@dataclass(frozen=True, slots=True)
class Found:
    """What the yardstick found in one letter."""

    answered: tuple[Answered, ...]
    not_done: tuple[Item, ...] = NOT_DONE
    not_for_us: tuple[Item, ...] = TESTS_ONLY

    @property
    def met(self) -> tuple[Item, ...]:
        """Items whose passage was found."""
        return tuple(one.item for one in self.answered if one.met)

    @property
    def missing(self) -> tuple[Item, ...]:
        """Items that the letter could answer and does not."""
        return tuple(one.item for one in self.answered if not one.met)

    def count(self, kind: Kind) -> tuple[int, int]:
        """Met and all items of ``kind`` that hold for a letter without a test; what was not done counts as not met."""
        items = [one.item for one in self.answered] + list(self.not_done)
        return sum(item.kind == kind for item in self.met), sum(item.kind == kind for item in items)

    @property
    def counts(self) -> tuple[tuple[str, int, int], ...]:
        """Name of each kind, met, all."""
        names: tuple[tuple[Kind, str], ...] = (
            ("qualifying", str(_("qualifying"))),
            ("certification", str(_("certification"))),
            ("quality", str(_("quality"))),
        )
        return tuple((name, *self.count(kind)) for kind, name in names)


def check(blocks: Sequence[Block], language: str) -> Found:
    """Which items the letter answers that reads as ``blocks``, written in ``language``."""
    with translation.override(language):
        letter = _Letter(blocks)
        return Found(tuple(Answered(item, tuple(finder(letter))) for item, finder in _FINDERS))


# ---------------------------------------------------------------- the letter, taken apart


class _Letter:
    """The blocks of a letter by chapter, and its options by field."""

    def __init__(self, blocks: Sequence[Block]) -> None:
        self.blocks = tuple(blocks)
        self.chapters: list[tuple[str, list[int]]] = []
        for at, block in enumerate(blocks):
            if block.kind in ("H1", "H2"):
                self.chapters.append((block.text, []))
            elif self.chapters:
                self.chapters[-1][1].append(at)
        self.options = [fields for _name, found in self.chapters if (fields := self._fields(found))]

    def _fields(self, found: list[int]) -> dict[str, list[int]]:
        """The fields of an option's chapter in order, each with its blocks; empty for any other chapter."""
        fields: dict[str, list[int]] = {}
        name = ""
        for at in found:
            if self.blocks[at].kind == "H3":
                name = self.blocks[at].text
                fields[name] = []
            elif name:
                fields[name].append(at)
        return fields if str(FIELDS["happens"]) in fields else {}

    def whole(self, places: Iterator[int] | list[int]) -> list[Passage]:
        return [Passage(at, self.blocks[at].text) for at in places]

    def chapter(self, heading: object, *kinds: str) -> list[Passage]:
        """Blocks of the chapter with this heading, of these kinds."""
        places = (at for name, found in self.chapters if name == str(heading) for at in found)
        return self.whole([at for at in places if self.blocks[at].kind in kinds])

    def sentence(self, key: str) -> list[Passage]:
        """The one passage that is said in so many words."""
        said = tidy(str(SAYS[key]))
        return next(([Passage(at, said)] for at, block in enumerate(self.blocks) if said in block.text), [])

    def begun(self, key: str) -> list[Passage]:
        """The block that begins so and goes on."""
        start = tidy(str(SAYS[key]))
        found = (at for at, block in enumerate(self.blocks) if block.text.startswith(start))
        return [one for one in self.whole(found) if len(one.text) > len(start) + 1]

    def of_each_option(self, key: str) -> list[Passage]:
        """What stands under one field of every option; nothing unless every option has something there."""
        each = [self.whole(fields.get(str(FIELDS[key]), [])) for fields in self.options]
        return [one for found in each for one in found] if each and all(each) else []


_Finder = Callable[[_Letter], list[Passage]]
_NUMBER = re.compile(r"\b(?:100|1[,.\s]000)\b")
_BOTH_WAYS = re.compile(r"\b(?:100|1[,.\s]000)\b.*\d.*;.*\d")


def _options(letter: _Letter) -> list[Passage]:
    found = letter.of_each_option("happens")
    return found if len(letter.options) >= 2 else []


def _equal(letter: _Letter) -> list[Passage]:
    alike = len({tuple(fields) for fields in letter.options}) == 1 and all(
        all(fields.values()) for fields in letter.options
    )
    return letter.sentence("equal") if alike else []


def _date(letter: _Letter) -> list[Passage]:
    label = str(DATE_LABEL)
    for at, block in enumerate(letter.blocks[:-1]):
        if block.kind == "TH" and block.text == label and letter.blocks[at + 1].kind == "TD":
            return letter.whole([at + 1])
    return []


def _compare(letter: _Letter) -> list[Passage]:
    cells = letter.chapter(HEADINGS["compare"], "TD")
    return cells if len(cells) >= 2 * max(len(letter.options), 2) else []


def _numbers(letter: _Letter) -> list[Passage]:
    return [one for one in letter.of_each_option("risks") if _NUMBER.search(one.text)]


def _rates(letter: _Letter) -> list[Passage]:
    return [one for one in letter.of_each_option("risks") if _BOTH_WAYS.search(one.text)]


def _one_size(letter: _Letter) -> list[Passage]:
    """Said, and true: no option counts once of 100 and once of 1,000."""
    for fields in letter.options:
        at = fields.get(str(FIELDS["risks"]), [])
        if len({re.sub(r"\D", "", found) for place in at for found in _NUMBER.findall(letter.blocks[place].text)}) > 1:
            return []
    return letter.sentence("size")


def _nothing(letter: _Letter) -> list[Passage]:
    return letter.chapter(HEADINGS["nothing"], "P")


def _steps(letter: _Letter) -> list[Passage]:
    found = letter.chapter(HEADINGS["decision"], "LBody")
    return found if len(found) >= 3 else []


def _quality(letter: _Letter) -> list[Passage]:
    listed = letter.chapter(sources_heading(), "P", "LBody")
    return letter.sentence("sure") if listed else []


_FINDERS: tuple[tuple[Item, _Finder], ...] = (
    (Item("1.1.1", "qualifying", _("says what was found")), lambda at: at.chapter(HEADINGS["found"], "LBody")),
    (Item("1.1.2", "qualifying", _("says what is to be decided")), lambda at: at.chapter(HEADINGS["decision"], "P")),
    (Item("1.1.3", "qualifying", _("names the options")), _options),
    (Item("1.1.4", "qualifying", _("gives the good sides of each")), lambda at: at.of_each_option("benefits")),
    (Item("1.1.5", "qualifying", _("gives the bad sides of each")), lambda at: at.of_each_option("risks")),
    (Item("1.2.1", "qualifying", _("says what living with it is like")), lambda at: at.of_each_option("living")),
    (Item("2.1.1", "certification", _("shows good and bad in equal detail")), _equal),
    (Item("2.2.1", "certification", _("names its sources")), lambda at: at.chapter(sources_heading(), "LBody")),
    (Item("2.2.2", "certification", _("gives its date")), _date),
    (Item("2.2.3", "certification", _("says when it is brought up to date")), lambda at: at.sentence("update")),
    (Item("2.2.4", "certification", _("says how unsure the numbers are")), lambda at: at.sentence("uncertain")),
    (Item("2.3.1", "certification", _("says who pays for it")), lambda at: at.sentence("funding")),
    (Item("Q1", "quality", _("says what happens if nothing is done")), _nothing),
    (Item("Q2", "quality", _("lets the options be compared")), _compare),
    (Item("Q3", "quality", _("gives numbers for what may happen")), _numbers),
    (Item("Q4", "quality", _("says whom the numbers are about")), lambda at: at.sentence("reference")),
    (Item("Q5", "quality", _("says how many it happens to, and how many not")), _rates),
    (Item("Q6", "quality", _("tells all options for the same time")), lambda at: at.sentence("span")),
    (Item("Q7", "quality", _("counts in groups of the same size")), _one_size),
    (Item("Q8", "quality", _("shows numbers in more ways than one")), lambda at: at.sentence("views")),
    (Item("Q9", "quality", _("asks what matters most to the patient")), lambda at: at.sentence("matters")),
    (Item("Q10", "quality", _("shows steps to decide")), _steps),
    (Item("Q11", "quality", _("leaves room for questions")), lambda at: at.sentence("questions")),
    (Item("Q18", "quality", _("says how its numbers were chosen")), lambda at: at.sentence("chosen")),
    (Item("Q19", "quality", _("says how good the studies are")), _quality),
    (Item("Q20", "quality", _("says who answers for it")), lambda at: at.begun("author")),
    (Item("Q21", "quality", _("states its reading grade")), lambda at: at.begun("grade")),
)  # fmt: skip
ITEMS = tuple(item for item, _finder in _FINDERS)
