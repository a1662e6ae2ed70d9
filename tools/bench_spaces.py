"""Speed of sharing space beside HiGHS, a general integer solver (through scipy), both in one run.

    python tools/bench_spaces.py

Absolute times are printed to read. Fails when the search is slower than HiGHS at the same question.
"""

import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from planner.rules.casefile import parse_case, resolve_days, validate_case  # noqa: E402
from planner.rules.segments import segment_of  # noqa: E402
from planner.rules.space_model import Segment  # noqa: E402
from planner.rules.space_remeasure import remeasure  # noqa: E402
from planner.rules.spaces import share_space  # noqa: E402
from tests.rules.highs_model import HighsModel  # noqa: E402
from tests.rules.space_cases import tooth  # noqa: E402
from tools.timing import median_ms  # noqa: E402

DAY = date(2026, 3, 2)


def eight_teeth() -> Segment:
    """A front of eight teeth with gaps on both sides, invented."""
    sizes = {"14": (70, 88), "13": (78, 100), "12": (62, 90), "11": (84, 104)}
    sizes |= {"21": (84, 105), "22": (63, 91), "23": (77, 99), "24": (70, 87)}
    teeth = tuple(tooth(number, width, length) for number, (width, length) in sizes.items())
    return Segment(teeth, (0, 6, 5, 9, 6, 0, 5), woman=True)


def three_by_highs(segment: Segment) -> None:
    """The figures of the three plans by a general integer solver, without its tie rule."""
    model = HighsModel(segment)
    model.fewest_teeth(), model.best_proportion(), model.smallest_shares()


def scan_by_highs(segment: Segment) -> None:
    """Every measurement of a segment up to 0.3 mm off, both ways: the best proportion's figures, no ties."""
    for step in (-3, -2, -1, 0, 1, 2, 3):
        for index, facts in enumerate(segment.teeth):
            for varied in (replace(facts, width=facts.width + step), replace(facts, length=facts.length + step)):
                teeth = (*segment.teeth[:index], varied, *segment.teeth[index + 1 :])
                HighsModel(replace(segment, teeth=teeth)).best_proportion()
        for gap, width in enumerate(segment.gaps):
            if width + step >= 0:
                gaps = (*segment.gaps[:gap], width + step, *segment.gaps[gap + 1 :])
                HighsModel(replace(segment, gaps=gaps)).best_proportion()


def main() -> int:
    data = resolve_days(parse_case((ROOT / "fixtures/cases/lead.json").read_bytes()), DAY)
    print(f"{'sharing space, ms':46}{'own search':>11}{'HiGHS':>11}{'ratio':>9}")
    slower = 0
    for name, segment in (
        ("lead case, six teeth", segment_of(validate_case(data, DAY))),
        ("eight teeth", eight_teeth()),
    ):
        slower += compared(f"three plans, {name}", segment, share_space, three_by_highs, 5)
        slower += compared(f"which measurements decide, {name}", segment, remeasure, scan_by_highs, 1)
    return 1 if slower else 0


def compared(
    what: str,
    segment: Segment,
    own: Callable[[Segment], object],
    theirs: Callable[[Segment], object],
    times: int,
) -> bool:
    """Print the times of both; answers whether the own one is slower."""
    mine, other = (
        median_ms(lambda: own(segment), times, warm=False),
        median_ms(lambda: theirs(segment), times, warm=False),
    )
    print(f"{what:46}{mine:11.0f}{other:11.0f}{other / mine:9.1f}", flush=True)
    return mine > other


if __name__ == "__main__":
    sys.exit(main())
