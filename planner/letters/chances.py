"""What may happen, good and bad: in words, with its number both ways round, its picture and its source."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from planner.letters.sources import Source, certainty_words, keys_of, leading_to
from planner.letters.wording import Shares, shares
from planner.rules.icon_array import icon_array
from planner.rules.results import Chance, CountedShape, OptionShape


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
    counted = counted_both_ways(option, of)
    return ChanceGroup(
        "benefit",
        tuple(
            _chance(chance, of, numbered, f"{option.key}-benefit-{index}", counted)
            for index, chance in enumerate(_each_once(option.benefits))
        ),
    )


def kinds() -> dict[str, str]:
    """How often, in a word, gentlest meaning last: what each word stands for is said once, before the options."""
    return {"common": _("Often"), "sometimes": _("Sometimes"), "rare": _("Rarely"), "not known": ""}


def risks_of(option: OptionShape, of: int, numbered: tuple[Source, ...]) -> tuple[ChanceGroup, ...]:
    """The bad sides by how often they happen, each once though several parts of the option bring it."""
    words, counted = kinds(), counted_both_ways(option, of)
    grouped: dict[str, list[ChanceView]] = {kind: [] for kind in GROUPS}
    for index, chance in enumerate(_each_once(option.risks)):
        known = shares(chance, of) is not None
        kind = chance.kind if known and chance.kind in words else "not known"
        view = _chance(chance, of, numbered, f"{option.key}-risk-{index}", counted)
        grouped[kind].append(replace(view, kind=words[kind]))
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


def counted_both_ways(option: OptionShape, of: int) -> tuple[tuple[str, str], ...]:
    """Each sentence of ``option`` that counts, and how a paper says it: with how many of ``of`` it is, and is not."""
    return tuple((one.words, " ".join(filter(None, (one.words, _rest(one, of))))) for one in option.counted)


def _rest(one: CountedShape, of: int) -> str:
    """Of a sentence that counts one way only: both ways round, by the one number that the option counts by."""
    times = of // 100
    said = [Shares(of, low * times, high * times) for low, high in one.of_100]
    if not said:
        return ""
    numbers = [_("%(yes)s yes, %(no)s no") % {"yes": each.happens, "no": each.does_not} for each in said]
    return _("That is, of %(of)s: %(numbers)s.") % {"of": said[0].of_words, "numbers": "; ".join(numbers)}


def both_ways_round(words: str, counted: Iterable[tuple[str, str]]) -> str:
    """``words`` with each of its sentences that counts said as ``counted`` says it."""
    for sentence, said in counted:
        words = words.replace(sentence, said)
    return words


def _chance(
    chance: Chance, of: int, numbered: tuple[Source, ...], prefix: str, counted: Iterable[tuple[str, str]]
) -> ChanceView:
    found, words = shares(chance, of), both_ways_round(chance.words, counted)
    if found is None:
        return ChanceView(words, "", leading_to(keys_of(chance), numbered), "", chance.serious)
    number = _both_ways(found, chance)
    source = leading_to(keys_of(chance), numbered) or certainty_words(chance.certainty)
    return ChanceView(
        words,
        number,
        source,
        icon_array(found.low, found.high, found.of, prefix, f"{words} {number}"),
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
