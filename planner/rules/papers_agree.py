"""Whether papers of one plan say the same: what each of them states, held against what the others state.

A statement is reduced to what it is about and to a value that does not depend on how it is written, so that 23 on one
paper and Universal 11 on another are the same tooth, and 1,618.25 and 1.618,25 the same price. How a paper is read is
not known here.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

Value = str | frozenset[str]


class About(StrEnum):
    """What a statement is about."""

    NAME = "name"
    DATE = "date"
    LANGUAGE = "language"
    VERSION = "version"
    ITEM = "item"
    TOOTH = "tooth"
    LENGTH = "mm"
    PRICE = "price"


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that a paper states."""

    about: About
    key: tuple[str, ...]
    """What of it; statements of the same key belong together."""
    what: str
    """The same in words, to stand in a sentence: ``the price of “Whitening”``."""
    value: Value
    says: str
    """As it is printed or typed."""
    page: int = 0
    """Counted from 1; 0 where there are no pages."""
    part: bool = False
    """Whether it names some of what the others name in full: then it must lie within that."""


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper and all it states."""

    title: str
    kind: str
    version: str = ""
    language: str = "en"
    facts: tuple[Fact, ...] = ()
    for_patient: bool = True
    """Whether the patient reads it; others may be in the office's language."""
    older: bool = False
    """Whether it belongs to an earlier issue, which a newer one may change."""


@dataclass(frozen=True, slots=True)
class Saying:
    """What one paper says, and where."""

    paper: str
    page: int
    says: str
    kind: str = ""
    """Of the paper."""

    def __str__(self) -> str:
        return f"{self.paper}{f', page {self.page}' if self.page else ''}: {self.says}"


@dataclass(frozen=True, slots=True)
class Contradiction:
    """One fact about which two papers, or two places of one, say different things."""

    about: About
    what: str
    first: Saying
    second: Saying
    since_changed: bool = False
    """Whether the second belongs to an earlier issue that this one was made to change."""
    place: tuple[str, ...] = field(default=(), compare=False)

    @property
    def sentence(self) -> str:
        """The whole of it for a person."""
        if self.since_changed:
            return f"Changed since: {self.what}. {self.first}. Earlier, {self.second}."
        return f"Papers differ on {self.what}. {self.first}. But {self.second}."


def contradictions(papers: Sequence[Paper]) -> tuple[Contradiction, ...]:
    """Everything on which ``papers`` differ, in the order of the first paper that states it.

    The first paper that states a fact is held against every other, and against itself. An earlier issue may say another
    price, length, item, tooth or day than the present one: that is told as changed. Whom it is about may not differ.
    """
    found = list(_of_facts([*(one for one in papers if not one.older), *(one for one in papers if one.older)]))
    return (*found, *_languages([one for one in papers if one.for_patient and not one.older]))


_NEVER_CHANGES = frozenset({About.NAME, About.LANGUAGE})
BORN = ("born",)
"""Key of the birth date: of all days the one that no new issue changes."""


def _of_facts(papers: Sequence[Paper]) -> Iterator[Contradiction]:
    stated: dict[tuple[About, tuple[str, ...]], list[tuple[Paper, Fact]]] = {}
    for number, paper in enumerate(papers):
        for fact in paper.facts:
            # In which language it is written each paper says of itself alone.
            own = (str(number),) if fact.about == About.LANGUAGE else ()
            stated.setdefault((fact.about, fact.key + own), []).append((paper, fact))
    for rows in stated.values():
        whole = [(paper, fact) for paper, fact in rows if not fact.part]
        if not whole:
            continue
        first, reference = whole[0]
        seen: set[tuple[int, Value]] = set()
        for paper, fact in rows:
            if _fits(reference, fact) or (id(paper), fact.value) in seen:
                continue
            seen.add((id(paper), fact.value))
            may_change = fact.about not in _NEVER_CHANGES and fact.key != BORN
            yield Contradiction(
                fact.about,
                reference.what,
                _saying(first, reference),
                _saying(paper, fact),
                since_changed=paper.older and not first.older and may_change,
                place=fact.key,
            )


def _fits(reference: Fact, fact: Fact) -> bool:
    if fact.part and isinstance(fact.value, frozenset) and isinstance(reference.value, frozenset):
        return fact.value <= reference.value
    return fact.value == reference.value


def _languages(papers: Sequence[Paper]) -> Iterator[Contradiction]:
    """Kinds of paper of which none is in a language that the first kind is in: no reader could compare them."""
    kinds: dict[str, list[Paper]] = {}
    for paper in papers:
        kinds.setdefault(paper.kind, []).append(paper)
    rows = list(kinds.values())
    for row in rows[1:]:
        if not _tongues(row) & _tongues(rows[0]):
            yield Contradiction(
                About.LANGUAGE,
                "the language they are written in",
                Saying(_called(rows[0][0]), 0, ", ".join(sorted(_tongues(rows[0]))), rows[0][0].kind),
                Saying(_called(row[0]), 0, ", ".join(sorted(_tongues(row))), row[0].kind),
            )


def _tongues(papers: Iterable[Paper]) -> set[str]:
    return {paper.language for paper in papers}


def _saying(paper: Paper, fact: Fact) -> Saying:
    return Saying(_called(paper), fact.page, fact.says, paper.kind)


def _called(paper: Paper) -> str:
    return f"{paper.title} ({paper.version})" if paper.version else paper.title
