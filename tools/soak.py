"""The same work over and over: does memory grow, does anything change?

    python tools/soak.py [ROUNDS]

Plans the lead case again and again in this process and prints memory and the number of
different results, which must be one. Bounded in count; touches nothing outside this process.
"""

import hashlib
import resource
import sys
import time
from datetime import date
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from planner.rules.bookfile import load_book  # noqa: E402
from planner.rules.casefile import parse_case, resolve_days, validate_case  # noqa: E402
from planner.rules.plan import plan_case  # noqa: E402

DAY = date(2026, 3, 2)


def _megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main(rounds: int) -> int:
    book = load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), DAY)
    facts = validate_case(resolve_days(parse_case((ROOT / "fixtures/cases/lead.json").read_bytes()), DAY), DAY)
    seen: set[str] = set()
    start, warm = time.perf_counter(), 0.0
    for number in range(1, rounds + 1):
        seen.add(hashlib.sha256(plan_case(facts, book, DAY).to_json()).hexdigest())
        if number == max(1, rounds // 10):
            warm = _megabytes()
    grown = _megabytes() - warm
    print(f"{rounds} plans in {time.perf_counter() - start:.1f} s, {len(seen)} different results")
    print(f"highest memory {_megabytes():.0f} MB, {grown:.1f} MB more than after the first tenth")
    return 0 if len(seen) == 1 else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
