"""What may happen, good and bad: in words, with its number both ways round, its picture and its source."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from planner.letters.sources import Source, certainty_words, keys_of, leading_to
from planner.letters.wording import Shares, shares
from planner.rules.icon_array import icon_array
from planner.rules.results import Chance, OptionShape


@dataclass(frozen=True, slots=True)
class ChanceView:
    words: str
    number: str
    """Both ways round, or empty where no number is known."""
    source: str
    icon: str
    serious: bool = False
    kind: str = ""
    """How often, in a word; empty for a good side and where it is not known."""


@dataclass(frozen=True, slots=True)
class ChanceGroup:
    """Chances of one kind. Those with a number, and those without."""

    kind: str
    chances: tuple[ChanceView, ...]

    @property
    def counted(self) -> tuple[ChanceView, ...]:
        """Those with a number, to be shown one by one."""
        return tuple(chance for chance in self.chances if chance.number)

    @property
    def told(self) -> tuple[ChanceView, ...]:
        """Those in words alone."""
        return tuple(chance for chance in self.chances if not chance.number)


GROUPS = ("common", "sometimes", "rare", "not known")


def benefits_of(option: OptionShape, of: int, numbered: tuple[Source, ...]) -> ChanceGroup:
    """The good sides, each once."""
    return ChanceGroup(
        "benefit",
        tuple(
            _chance(chance, of, numbered, f"{option.key}-benefit-{index}")
            for index, chance in enumerate(_each_once(option.benefits))
        ),
    )


def kinds() -> dict[str, str]:
    """How often, in a word, gentlest meaning last: what each word stands for is said once, before the options."""
    return {"common": _("Often"), "sometimes": _("Sometimes"), "rare": _("Rarely"), "not known": ""}


def risks_of(option: OptionShape, of: int, numbered: tuple[Source, ...]) -> tuple[ChanceGroup, ...]:
    """The bad sides by how often they happen, each once though several parts of the option bring it."""
    words = kinds()
    grouped: dict[str, list[ChanceView]] = {kind: [] for kind in GROUPS}
    for index, chance in enumerate(_each_once(option.risks)):
        known = shares(chance, of) is not None
        kind = chance.kind if known and chance.kind in words else "not known"
        grouped[kind].append(replace(_chance(chance, of, numbered, f"{option.key}-risk-{index}"), kind=words[kind]))
    return tuple(ChanceGroup(kind, tuple(grouped[kind])) for kind in GROUPS if grouped[kind])


def none_of(risks: Iterable[ChanceGroup]) -> str:
    """Of which kinds of risk none is known, in one sentence; empty where there is something of each."""
    found = {group.kind for group in risks}
    left = [name for kind, name in kinds().items() if name and kind not in found]
    if not left:
        return ""
    kinds_left = ", ".join(left)
    return _("%(kinds)s: none known.") % {"kinds": kinds_left[0] + kinds_left[1:].lower()}


def _each_once(chances: Iterable[Chance]) -> Iterable[Chance]:
    return {(chance.words, chance.group, chance.period): chance for chance in chances}.values()


def _chance(chance: Chance, of: int, numbered: tuple[Source, ...], prefix: str) -> ChanceView:
    found = shares(chance, of)
    if found is None:
        return ChanceView(chance.words, "", leading_to(keys_of(chance), numbered), "", chance.serious)
    number = _both_ways(found, chance)
    source = leading_to(keys_of(chance), numbered) or certainty_words(chance.certainty)
    return ChanceView(
        chance.words,
        number,
        source,
        icon_array(found.low, found.high, found.of, prefix, f"{chance.words} {number}"),
        chance.serious,
    )


def _both_ways(found: Shares, chance: Chance) -> str:
    group = chance.group or _("people")
    return _("Of %(of)s %(group)s, %(happens)s %(period)s; %(does_not)s not.") % {
        "of": found.of_words,
        "group": group,
        "happens": found.happens,
        "does_not": found.does_not,
        "period": chance.period or _("(the time is not stated)"),
    }
