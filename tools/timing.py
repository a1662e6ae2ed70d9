"""How the benches take time."""

import statistics
import time
from collections.abc import Callable


def median_ms(call: Callable[[], object], times: int, *, warm: bool = True) -> float:
    """Median of ``times`` calls in milliseconds, after one that warms up unless ``warm`` is off."""
    if warm:
        call()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        taken.append((time.perf_counter() - start) * 1000)
    return statistics.median(taken)
