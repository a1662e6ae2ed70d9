"""Promise against result over all patients of an office, or of one dentist: counts, and shares where there are enough.

Everything carries its count; below ten no share, no rate and no comparison is said. Nobody is ranked: a page of this is
for looking at one's own work.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median

from planner.rules.cents import half_up
from planner.rules.figure_words import FEW, Definition
from planner.rules.figures import Figure
from planner.rules.own_work import OwnTooth, Rate, rate, tenths
from planner.rules.promise import Moment, Result, Size
from planner.rules.settings import read_settings
from planner.rules.teeth import Tooth

NEAR = Definition(
    "reached-as-planned",
    "Sizes reached as planned",
    "Widths and lengths that were reached as nearly as can be measured, among those that were planned and measured "
    "after the work.",
    "things",
)
HELD = Definition(
    "sizes-held",
    "Sizes unchanged since",
    "Widths and lengths that have not changed by more than can be measured, among those measured at two reviews or "
    "more.",
    "things",
)
OFF = Definition(
    "off-by",
    "Reached less planned, mm",
    "The middle of reached less planned, over the sizes that were planned and measured after the work.",
    "things",
)
WISH = Definition(
    "wish-met",
    "Wishes met, 0 to 10",
    "The middle of what patients said of their own wishes at this review; a wish is asked about once at each.",
    "things",
)


@dataclass(frozen=True, slots=True)
class Middle:
    """A middle value with how many stand behind it; said only from ten on."""

    definition: Definition
    part: str
    values: tuple[int, ...]
    in_tenths: bool = False

    @property
    def is_few(self) -> bool:
        return len(self.values) < FEW

    @property
    def said(self) -> str:
        """The middle value; below ten the count alone."""
        count = len(self.values)
        if self.is_few:
            return f"{count} asked" if not self.in_tenths else f"{count} measured"
        middle = Fraction(median(map(Fraction, self.values)))
        if not self.in_tenths:
            return f"{tenths(middle)} ({count})"
        scaled = half_up(abs(middle))
        return f"{'−' if middle < 0 else '+'}{scaled // 10}.{scaled % 10} ({count})"


@dataclass(frozen=True, slots=True)
class Compared:
    """Chips of teeth whose edges were lengthened much, beside those lengthened less."""

    more: Rate
    less: Rate
    bound_tenths: int

    @property
    def ratio(self) -> Fraction | None:
        """How many times as often; None where either has fewer than ten teeth, or no chips to compare with."""
        more, less = self.more.of_100, self.less.of_100
        if self.more.is_few or self.less.is_few or more is None or not less:
            return None
        return more / less

    @property
    def said(self) -> str:
        """The comparison in a sentence with its tooth-years, or why there is none."""
        bound = f"{self.bound_tenths // 10}.{self.bound_tenths % 10} mm"
        if self.ratio is None:
            return (
                f"Lengthened by more than {bound}: {self.more.counts}; by less: {self.less.counts}. "
                "Too few for a comparison."
            )
        return (
            f"Edges lengthened by more than {bound} chip {tenths(self.ratio)} times as often as those lengthened by "
            f"less; n = {self.more.years_said} and {self.less.years_said} tooth-years. "
            "This says what goes together, not why."
        )


@dataclass(frozen=True, slots=True)
class Pooled:
    """What all results together come to."""

    plans: int
    people: int
    near: Figure
    held: Figure
    off: tuple[Middle, ...]
    """Of widths, then of lengths."""
    wishes: tuple[Middle, ...]
    """By review."""
    chips: tuple[tuple[str, Rate], ...]
    """By kind of tooth."""
    lengthened: Compared


def pool(results: Sequence[tuple[str, Result]], teeth: Iterable[OwnTooth]) -> Pooled:
    """``results`` with their patients, and every tooth that was worked on."""
    rows = list(teeth)
    seen = [tooth for _patient, result in results for tooth in result.teeth]
    sizes = [size for tooth in seen for size in (tooth.width, tooth.length)]
    known = [size for size in sizes if size.kept_promise is not None]
    again = [size for size in sizes if size.changed_since is not None]
    return Pooled(
        plans=len(results),
        people=len({patient for patient, _result in results}),
        near=Figure(NEAR, sum(bool(size.kept_promise) for size in known), len(known), len(known)),
        held=Figure(HELD, sum(not size.changed_since for size in again), len(again), len(again)),
        off=(
            Middle(OFF, "width", _off(tooth.width for tooth in seen), in_tenths=True),
            Middle(OFF, "length", _off(tooth.length for tooth in seen), in_tenths=True),
        ),
        wishes=tuple(
            Middle(WISH, str(moment), scores)
            for moment in Moment
            if (scores := _scores(moment, [result for _patient, result in results]))
        ),
        chips=tuple(_by_kind(rows)),
        lengthened=compare_lengthened(rows),
    )


def compare_lengthened(teeth: Iterable[OwnTooth]) -> Compared:
    """Chips among tooth-years of edges lengthened by more than the setting ``long_edge_tenths``, and by less."""
    bound: int = read_settings("reviews.toml")["long_edge_tenths"].value
    rows = [one for one in teeth if one.lengthened > 0]
    return Compared(
        rate([one for one in rows if one.lengthened > bound], _chips),
        rate([one for one in rows if one.lengthened <= bound], _chips),
        bound,
    )


def _off(sizes: Iterable[Size]) -> tuple[int, ...]:
    return tuple(size.off for size in sizes if size.off is not None)


def _scores(moment: Moment, results: Iterable[Result]) -> tuple[int, ...]:
    return tuple(
        score for result in results for wish in result.wishes for when, _on, score in wish.scores if when == moment
    )


def _by_kind(teeth: Sequence[OwnTooth]) -> list[tuple[str, Rate]]:
    kinds: dict[str, list[OwnTooth]] = {}
    for one in teeth:
        kinds.setdefault(Tooth.from_key(one.tooth).kind.value, []).append(one)
    return [(kind, rate(rows, _chips)) for kind, rows in sorted(kinds.items())]


def _chips(one: OwnTooth) -> int:
    return one.chips
