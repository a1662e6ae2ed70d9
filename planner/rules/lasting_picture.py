"""How long an option lasts, drawn from a case plan for a paper: only what was published, and "no data" after it."""

from planner.rules.results import OptionShape
from planner.rules.years_svg import At, AxisWords, Curve, shares_svg


def lasting_svg(option: OptionShape, words: AxisWords, names: tuple[str, str], prefix: str) -> str:
    """Of 100, how many are still in place and how many were never touched over the option's own horizon, as an SVG.

    ``names`` are the words for the two lines. Empty where nothing was published. The table behind it is
    ``option.upkeep.curve``; both use one denominator and one horizon.
    """
    points = option.upkeep.curve
    sides = (
        (names[0], True, [(each.years, each.still_in_place_of_100, each.still_in_place_range) for each in points]),
        (names[1], False, [(each.years, each.untouched_of_100, each.untouched_range) for each in points]),
    )
    curves = []
    for name, heavy, found in sides:
        known = [(year, share, ends or (None, None)) for year, share, ends in found if share is not None]
        if known:
            ranged = all(low is not None for _, _, (low, _) in known)
            start = At(0, 100, 100, 100) if ranged else At(0, 100)
            years = tuple(At(year, share, *(ends if ranged else (None, None))) for year, share, ends in known)
            mark = "circle" if heavy else "open square"
            curves.append(Curve(name, (start, *years), heavy, mark, tuple(each.year for each in years)))
    return shares_svg(curves, words, prefix, option.upkeep.years) if curves else ""
