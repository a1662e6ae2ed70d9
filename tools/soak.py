"""The long runs: the same work over and over, and the space search held against HiGHS on thousands of arches.

    python tools/soak.py [ROUNDS [ARCHES [MINUTES [LETTERS]]]]

Plans the lead case again and again in this process and prints memory and the number of different results, which must be
one. Then shares the space of made-up arches of two to eight teeth (fixed seeds; locks, primary teeth, premolars that
play a canine, ticks) and compares every plan's figures with HiGHS, and of every tenth arch also closing a part, the
least movement and the conflict sets. Last, makes the lead case's consent letter over and over in one worker process and
fails when that grows. Bounded in count and in minutes; touches nothing outside this process and its worker but
its section of ``docs/soak.md``.
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
from tests.rules.space_cases import SMALL, random_arch  # noqa: E402
from tests.rules.space_checks import (  # noqa: E402
    check_conflicts,
    check_lock_faults,
    check_movement,
    check_part_closing,
    check_plans,
)
from tools.bench_papers import growth  # noqa: E402
from tools.soak_page import keep  # noqa: E402

DAY = date(2026, 3, 2)
FIRST_SEED = 20_000
MOST_GROWTH_MB = 10
"""Where every letter kept something, as without one font configuration for all, 500 would keep 100 MB."""


_said: list[str] = []


def say(words: str) -> None:
    """Print ``words``, and keep them for the page of results."""
    print(words, flush=True)
    _said.append(words)


def _megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def plans_over_and_over(rounds: int) -> int:
    """The lead case planned so many times; answers how many results too many there were."""
    book = load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), DAY)
    facts = validate_case(resolve_days(parse_case((ROOT / "fixtures/cases/lead.json").read_bytes()), DAY), DAY)
    seen: set[str] = set()
    start, warm = time.perf_counter(), 0.0
    for number in range(1, rounds + 1):
        seen.add(hashlib.sha256(plan_case(facts, book, DAY).to_json()).hexdigest())
        if number == max(1, rounds // 10):
            warm = _megabytes()
    grown = _megabytes() - warm
    say(f"{rounds} plans in {time.perf_counter() - start:.1f} s, {len(seen)} different results")
    say(f"highest memory {_megabytes():.0f} MB, {grown:.1f} MB more than after the first tenth")
    return len(seen) - 1 if rounds else 0


def arches_against_highs(arches: int, minutes: float) -> int:
    """Made-up arches, every answer compared; answers how many differed."""
    start, fitting, tried, wrong = time.perf_counter(), 0, 0, []
    more = (check_part_closing, check_movement, check_conflicts)
    for seed in range(FIRST_SEED, FIRST_SEED + arches):
        if time.perf_counter() - start > 60 * minutes:
            break
        segment = random_arch(seed, layouts=SMALL) if seed % 2 else random_arch(seed)
        tried += 1
        try:
            fits = check_plans(segment, seed)
            fitting += fits
            check_lock_faults(segment, seed)
            if not fits and seed % 10 == 1:
                for check in more:
                    check(segment, seed)
        except AssertionError as error:
            wrong.append(str(error))
    taken = time.perf_counter() - start
    say(f"{tried} arches against HiGHS in {taken:.0f} s: {fitting} fit, {tried - fitting} do not, {len(wrong)} differ")
    for words in wrong:
        say(words)
    return len(wrong)


def letters_over_and_over(letters: int) -> int:
    """So many consent letters made by one worker; answers 1 when it has grown by more than a measurement is off."""
    start = time.perf_counter()
    grown = growth(letters) if letters else 0.0
    say(f"{letters} letters in {time.perf_counter() - start:.0f} s, {grown:.1f} MB more than when warm")
    return int(grown > MOST_GROWTH_MB)


def main(rounds: int, arches: int, minutes: float, letters: int) -> int:
    faults = plans_over_and_over(rounds) + arches_against_highs(arches, minutes) + letters_over_and_over(letters)
    keep("Computing and papers", [f"- {words}" for words in _said])
    return 1 if faults else 0


if __name__ == "__main__":
    given = sys.argv[1:]
    sys.exit(
        main(
            int((given or ["200"])[0]),
            int((given[1:] or ["2000"])[0]),
            float((given[2:] or ["15"])[0]),
            int((given[3:] or ["500"])[0]),
        )
    )
