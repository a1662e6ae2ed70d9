"""The office's own curve drawn in steps, beside the published ones, as SVG text."""

from collections.abc import Sequence
from math import ceil

from planner.rules.own_work import YEAR, OwnCurve
from planner.rules.survival import curve_by_year
from planner.rules.treatment_parts import Curve as Published
from planner.rules.years_svg import MARKS, At, AxisWords, Curve, shares_svg

LEAST_YEARS, MOST_YEARS = 5, 15
"""So many years are drawn at the least, and at the most."""


def years_drawn(own: OwnCurve) -> int:
    """Whole years that the drawing and its table show: as long as anybody is followed, within the bounds."""
    return min(max(ceil(max(own.days) / YEAR), LEAST_YEARS), MOST_YEARS)


def own_svg(
    own: OwnCurve, published: Sequence[tuple[str, Published]], own_name: str, words: AxisWords, prefix: str
) -> str:
    """``own`` in steps with its band as long as ten teeth are followed, and each published curve under its letter.

    Where fewer than ten teeth were ever followed only the published ones are drawn.
    """
    years = years_drawn(own)
    curves = [
        Curve(
            letter,
            tuple(At(each.year, float(each.share)) for each in curve_by_year(curve, years) if not each.extrapolated),
            mark=MARKS[place % len(MARKS)],
            marked=tuple(float(year) for year, _share in curve.years_and_shares),
        )
        for place, (letter, curve) in enumerate(published, 1)
    ]
    if steps := _steps(own, years):
        curves.insert(0, Curve(own_name, steps, heavy=True, mark=MARKS[0], marked=(0.0,)))
    return shares_svg(curves, words, prefix, years, every=1)


def _steps(own: OwnCurve, years: int) -> tuple[At, ...]:
    """Two points at each fall, so that the line goes down like a stair; the last one where the tenth tooth ends."""
    until = min(own.drawn_days, round(years * YEAR))
    if not until:
        return ()
    found = [At(0, 100, 100, 100)]
    for step in own.steps:
        if step.time > until:
            break
        year, last = float(step.time / YEAR), found[-1]
        low, high = (float(end) * 100 for end in step.band())
        found.append(At(year, last.value, last.low, last.high))
        found.append(At(year, float(step.share) * 100, low, high))
    last = found[-1]
    found.append(At(float(until / YEAR), last.value, last.low, last.high))
    return tuple(found)
