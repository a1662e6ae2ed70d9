"""Acts of several people that start at the same instant, on either database."""

import threading
import time
from collections.abc import Callable
from typing import Any

from django.db import OperationalError, connection

from planner.trail.errors import Refused, StaleEdit

PATIENCE = 20


def at_once(*acts: Callable[[], Any]) -> list[str]:
    """Do all ``acts`` in threads of their own that start together; what each came to: ``done``, or the sentence."""
    start, outcomes = threading.Barrier(len(acts)), list[str]()

    def run(act: Callable[[], Any]) -> None:
        start.wait()
        until = time.monotonic() + PATIENCE
        try:
            while True:
                try:
                    act()
                    outcomes.append("done")
                except OperationalError as fault:
                    # Tests keep SQLite in shared memory, where whoever comes second is turned away instead of waiting.
                    if connection.vendor != "sqlite" or "locked" not in str(fault) or time.monotonic() > until:
                        raise
                    time.sleep(0.01)
                    continue
                except (Refused, StaleEdit) as refusal:
                    outcomes.append(refusal.sentence)
                return
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE + 5)
    return outcomes
