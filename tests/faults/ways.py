"""What is done to the server and its database while people write; each answers with what was found, for any length."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.faults.serving import PATIENCE, Place, Server
from tests.faults.writing import Told, Writers, holds

PAGE = 4096
"""Bytes of a file that may be written where there is no room: less than any saving takes."""
ENOUGH = 2
"""So many times people are told that there is no room before there is some again."""


@dataclass(frozen=True)
class Outcome:
    """What was done, how often, and everything that was wrong afterwards."""

    successes: int
    signatures: int
    broken_off: int
    """Savings and signings to which no answer came."""
    requests: int
    breaks: int
    wrong: tuple[str, ...]


def killed(place: Place, *, acts: int, letters: int, kills: int, writers: int = 4) -> Outcome:
    """Kill the server ``kills`` times while ``writers`` save and sign, until ``acts`` were answered with success."""
    office = place.fill(writers, letters)
    server, told = Server(place), Told()

    def strike() -> None:
        server.kill()
        server.start()

    return _broken(place, office, server, told, Writers(server, office, told), acts, letters, kills, strike)


def restarted(place: Place, restart: Callable[[], None], *, acts: int, letters: int, times: int) -> Outcome:
    """Stop the database at once and start it again, ``times`` times, while four save and sign."""
    office = place.fill(4, letters)
    server, told = Server(place), Told()
    # While it is away people are told so and nothing else, least of all that something was saved.
    writers = Writers(server, office, told, down_says=(503,))
    return _broken(place, office, server, told, writers, acts, letters, times, restart)


def full(
    place: Place, *, acts: int, letters: int, times: int, fill: Callable[[], None] | None = None,
    empty: Callable[[], None] | None = None,
) -> Outcome:  # fmt: skip
    """Let there be no room for the data, ``times`` times, while four save and sign, until several were told so.

    ``fill`` takes the room and ``empty`` gives it back; without them the kernel limits the server's files to a page.
    """
    office = place.fill(4, letters)
    server, told = Server(place), Told()

    def strike() -> None:
        before = told.refused
        (fill or (lambda: server.limit_files(PAGE)))()
        _wait(told, lambda: told.refused >= before + ENOUGH)
        (empty or (lambda: server.limit_files(None)))()

    writers = Writers(server, office, told, down_says=(503,))
    return _broken(place, office, server, told, writers, acts, letters, times, strike)


def _broken(
    place: Place,
    office: dict[str, Any],
    server: Server,
    told: Told,
    writers: Writers,
    acts: int,
    letters: int,
    times: int,
    strike: Callable[[], None],
) -> Outcome:
    server.start()
    try:
        writers.start()
        for number in range(1, times + 1):
            _until(told, acts * number // (times + 1))
            # In the midst of it: somebody waits for a saving, and while there are letters somebody for a signing.
            _wait(told, lambda: writers.saving > 0 and (writers.signing > 0 or len(told.signed) >= letters - 1))
            strike()
        _until(told, acts)
        _signed(told, letters)
        writers.stop()
    finally:
        writers.end.set()
        server.kill()
    return _outcome(place, office, told, times)


def many(place: Place, *, writers: int, seconds: float, letters: int = 0) -> Outcome:
    """So many people save, and sign what there is to sign, as fast as they are answered."""
    office = place.fill(writers, letters)
    server, told = Server(place), Told()
    server.start()
    try:
        together = Writers(server, office, told)
        together.start()
        threading.Event().wait(seconds)
        # On a machine that is busy elsewhere, everybody gets to write something all the same.
        _until(told, writers * 2)
        _signed(told, letters)
        together.stop()
    finally:
        server.kill()
    outcome = _outcome(place, office, told, 0)
    locked = [line for line in server.log.read_text().splitlines() if "locked" in line]
    return Outcome(**{**vars(outcome), "wrong": (*outcome.wrong, *locked)})


def _outcome(place: Place, office: dict[str, Any], told: Told, breaks: int) -> Outcome:
    missed = sum(map(len, told.unanswered.values())) + told.unsigned
    wrong = tuple(holds(place, office, told))
    return Outcome(told.successes, len(told.signed), missed, told.requests.total(), breaks, wrong)


def _until(told: Told, successes: int) -> None:
    _wait(told, lambda: told.successes >= successes)


def _signed(told: Told, letters: int) -> None:
    _wait(told, lambda: len(told.signed) >= letters)


def _wait(told: Told, come: Callable[[], bool]) -> None:
    until = time.monotonic() + PATIENCE
    last = told.requests.total()
    while not come():
        if told.odd:
            return
        if told.requests.total() != last:
            last, until = told.requests.total(), time.monotonic() + PATIENCE
        assert time.monotonic() < until, "nobody is answered any more"
        time.sleep(0.02)
