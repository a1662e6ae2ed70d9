"""Speed, as ratios measured side by side in one run. Absolute times are printed to read, never asserted.

python tools/bench.py
"""

import statistics
import sys
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from planner.rules.bookfile import load_book  # noqa: E402
from planner.rules.casefile import parse_case, resolve_days, validate_case  # noqa: E402
from planner.rules.plan import plan_case, share_spaces  # noqa: E402
from planner.rules.segments import segment_of  # noqa: E402
from planner.rules.spaces import share_space  # noqa: E402

DAY = date(2026, 3, 2)


def median_ms(call: Callable[[], object], times: int) -> float:
    """Median of ``times`` calls in milliseconds, after one that warms up."""
    call()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        taken.append((time.perf_counter() - start) * 1000)
    return statistics.median(taken)


def main() -> int:
    from tests.rules.highs_model import HighsModel

    def reference() -> None:
        model = HighsModel(segment)
        model.fewest_teeth(), model.best_proportion(), model.smallest_shares()

    book = load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), DAY)
    data = resolve_days(parse_case((ROOT / "fixtures/cases/lead.json").read_bytes()), DAY)
    facts = validate_case(data, DAY)
    segment = segment_of(facts)
    rows = {
        "case plan, lead case": median_ms(lambda: plan_case(facts, book, DAY), 7),
        "spaces alone, as a page redraws them": median_ms(lambda: share_spaces(facts, book), 15),
        "which measurements decide": median_ms(lambda: share_spaces(facts, book, sensitivity=True), 3),
        "three space plans, exact search": median_ms(lambda: share_space(segment), 15),
        "the same by a general integer solver": median_ms(reference, 3),
    }
    base = rows["three space plans, exact search"]
    print(f"{'':42}{'median ms':>10}{'ratio to exact search':>24}")
    for name, milliseconds in rows.items():
        print(f"{name:42}{milliseconds:10.1f}{milliseconds / base:24.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
