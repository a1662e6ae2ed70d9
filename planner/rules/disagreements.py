"""Where sources disagree: which value is taken, by which rule, and why. Nothing of the others is lost.

A ``[[disagreements]]`` table in ``data/evidence/*.toml`` names the rows that say different things (``between``) and the
one or ones that are used (``taken``). The rule is one of

``printed``    a frequency that is printed for a patient: the surest source wins, a published one over memory;
``limit``      a gate, wait, dose or limit: the more cautious value wins, ``cautious`` says which way that is;
``setting``    both are right, each for its own setting or its own thing counted: each stands where it belongs.
"""

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, ValidationError, model_validator

from planner.rules.evidence import CERTAINTY_WORDS, Evidence, Key, Knowledge, read_toml, told


class Disagreement(Knowledge):
    """One disagreement, settled."""

    between: Annotated[tuple[Key, ...], Field(min_length=2)]
    """Every row that has a say, each with its own source."""
    taken: Annotated[tuple[Key, ...], Field(min_length=1)]
    rule: Literal["printed", "limit", "setting"]
    cautious: Literal["higher", "lower", ""] = ""
    """For a limit: which values are the more cautious ones."""
    why: Annotated[str, Field(min_length=20)]

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if len(set(self.between)) != len(self.between) or not set(self.taken) <= set(self.between):
            raise ValueError("taken is one or more of the rows named in between, each of which stands there once")
        if (self.rule == "limit") != bool(self.cautious):
            raise ValueError('rule = "limit" and cautious = "higher" or "lower" go together')
        return self

    def others(self, key: str) -> tuple[str, ...]:
        """The rows that disagree with the row called ``key``."""
        return tuple(other for other in self.between if other != key)


def load_disagreements(folder: Path) -> tuple[Disagreement, ...]:
    """Every disagreement of ``folder/*.toml``, in order. Raises DataFault for one that is not of the form."""
    found: list[Disagreement] = []
    for path in sorted(folder.glob("*.toml")):
        for table in read_toml(path).get("disagreements", []):
            try:
                found.append(Disagreement.model_validate(table))
            except ValidationError as fault:
                raise told(path, fault) from None
    return tuple(found)


def faults_of(settled: Iterable[Disagreement], rows: Mapping[str, Evidence]) -> Iterator[str]:
    """What is wrong: a row that is not there, a winner against its own rule, a conflict that nobody settled."""
    settled = tuple(settled)
    for one in settled:
        missing = [key for key in one.between if key not in rows]
        if missing:
            yield f'the disagreement of {one.between[0]} names "{missing[0]}", which is not there'
        else:
            yield from _against_the_rule(one, rows)
    pairs = {frozenset((row.key, other)) for row in rows.values() for other in row.conflicts}
    known = {frozenset((one, two)) for each in settled for one in each.between for two in each.between if one != two}
    for pair in sorted(map(sorted, pairs - known)):
        yield f"{' and '.join(pair)} conflict, and no disagreement says which of them is taken, and why"


def _against_the_rule(one: Disagreement, rows: Mapping[str, Evidence]) -> Iterator[str]:
    known = list(CERTAINTY_WORDS)
    for key in one.taken:
        for other in one.others(key):
            mine, theirs = rows[key], rows[other]
            if other in one.taken:
                continue
            if one.rule == "printed" and known.index(mine.certainty) > known.index(theirs.certainty):
                yield f"{key}: taken for print, but {other} is surer ({theirs.certainty}, not {mine.certainty})"
            if one.rule == "limit":
                higher = theirs.value > mine.value
                if theirs.value != mine.value and higher == (one.cautious == "higher"):
                    yield f"{key}: taken for a limit, but {other} is the more cautious one"
