"""Teeth in running text: each in full the first time it is said, then by its numbers; a list of them said once.

The rules write every tooth in full wherever they mention it, because they cannot know what stands beside it. On paper
four full names in every other sentence are more than anybody reads.
"""

import re
from collections.abc import Iterable, Sequence

from django.utils.translation import gettext as _

from planner.rules.strip import Words
from planner.rules.teeth import Numbering

_VALUE = r"(?:[^;:().]|\.\d)+"
"""What may stand behind a tooth and a colon: ``1.5 mm``; an end of a sentence ends it, a decimal point does not."""
_DANGLING = re.compile(
    r"(?:[\s,:;(]+|\b(?:at|the|of|in|on|off|for|beside|between|and|is|are"
    r"|en|el|del|al|de|a|por|para|junto|entre|y|es|son|con))$"
)
"""Little words in English and Spanish that lead to a tooth and mean nothing without it."""
_ARTICLE = r"\b(?:[Tt]he|[Ee]l) "
_LONGEST = 90
"""Characters of a reason that a cell of a table can hold."""


class TeethSaid:
    """How one passage of a paper says teeth; it remembers which it has said, so a new passage needs a new one."""

    def __init__(self, words: Words) -> None:
        self._short = {}
        for found in words.teeth.values():
            universal = words.numbering == Numbering.UNIVERSAL
            own = {"iso": found.iso, "universal": found.universal, "palmer": found.palmer}[words.numbering]
            self._short[found.label] = f"{own} ({'ISO ' + found.iso if universal else 'Universal ' + found.universal})"
        # Longest first, so that no label is taken for the beginning of another.
        labels = "|".join(re.escape(label) for label in sorted(self._short, key=len, reverse=True)) or r"(?!)"
        self._one = re.compile(labels)
        both = rf"(?:{labels})(?: (?:and|y) (?:{labels}))?"
        one = rf"{both}(?:: {_VALUE})?"
        self._item = re.compile(rf"({both})(?:: ({_VALUE}))?")
        self._run = re.compile(rf"({_ARTICLE})?({one}(?:; {one})*)")
        self._said: set[str] = set()
        self._list: frozenset[str] = frozenset()

    def __call__(self, text: str) -> str:
        """``text`` with every tooth said once in full, here and in what was passed before."""
        return self._run.sub(lambda match: self._with_article(match[1] or "", self._say(match[2])), text)

    def lines(self, lines: Iterable[str]) -> tuple[str, ...]:
        """Lines that say the same of different teeth as one line, in the order of the first."""
        grouped: dict[tuple[str, str] | str, list[str]] = {}
        for line in lines:
            found = self._one.findall(line)
            key = tuple(line.split(found[0])) if len(found) == 1 else ()
            grouped.setdefault((key[0], key[1]) if len(key) == 2 else line, []).extend(found)
        return tuple(
            self(key if isinstance(key, str) else f"{key[0]}{'; '.join(teeth)}{key[1]}")
            for key, teeth in grouped.items()
        )

    def by_number(self, text: str) -> str:
        """``text`` with every tooth by its numbers alone, for what a person's own words have named before."""
        return re.sub(rf"(?:{_ARTICLE})?({self._one.pattern})", lambda match: self._short[match[1]], text)

    def in_short(self, text: str) -> str:
        """``text`` for a cell: its first clause, without the teeth it names."""
        # What stands in brackets goes, but for the numbers of a tooth: without their system they say nothing.
        text = re.sub(rf"({self._one.pattern})| \([^()]*\)", lambda match: match[1] or "", text)
        first = self._one.search(text)
        if first is not None:
            head = text[: first.start()]
            while (cut := _DANGLING.sub("", head)) != head:
                head = cut
            text = head if len(head.split()) > 2 else self._one.sub(lambda match: self._short[match[0]], text)
        text = re.split(r";|\.(?=\s|$)", text)[0].rstrip(" .,:")
        if len(text) > _LONGEST:
            text = re.split(r": |, ", text)[0]
        return f"{text}."

    def _say(self, run: str) -> str:
        items: list[tuple[str, str]] = self._item.findall(run)
        values = {value for _label, value in items}
        pairs = any(label not in self._short for label, _value in items)
        if len(items) == 1 or len(values) > 1 or pairs:
            return "; ".join(f"{self._names(label)}{': ' if value else ''}{value}" for label, value in items)
        listed = frozenset(label for label, _value in items)
        if listed == self._list:
            names = _("the same %(n)d teeth") % {"n": len(items)}
        else:
            names = joined([self._name(label) for label, _value in items])
        self._list = listed
        (value,) = values
        return names + (", " + _("%(value)s each") % {"value": value} if value else "")

    def _names(self, label: str) -> str:
        return self._one.sub(lambda match: self._name(match[0]), label)

    def _name(self, label: str) -> str:
        if label in self._said:
            return self._short[label]
        self._said.add(label)
        return label

    def _with_article(self, article: str, names: str) -> str:
        """Full names keep their article, numbers and "the same teeth" stand without."""
        return article + names if self._one.match(names) else names


def joined(parts: Sequence[str]) -> str:
    """``a, b and c``."""
    if len(parts) < 2:
        return "".join(parts)
    return _("%(first)s and %(last)s") % {"first": ", ".join(parts[:-1]), "last": parts[-1]}
