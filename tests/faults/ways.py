"""What is done to the server and its database while people write; each answers with what was found, for any length."""

import json
import tarfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.faults.serving import PATIENCE, Place, Server, end_all
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
    Somebody who opened a form before sends it meanwhile, and from the page that says "not saved" again afterwards.
    """
    office = place.fill(5, letters)
    *others, last = office["cases"]
    server, told = Server(place), Told()
    office_of_others = office | {"cases": {case: office["cases"][case] for case in others}}
    writers = Writers(server, office_of_others, told, down_says=(503,))

    def strike() -> None:
        before, opened = told.refused, writers.open(last)
        (fill or (lambda: server.limit_files(PAGE)))()
        _wait(told, lambda: told.refused >= before + ENOUGH)
        saved = writers.send(opened)
        (empty or (lambda: server.limit_files(None)))()
        _wait(told, lambda: saved or writers.send(opened))

    return _broken(place, office, server, told, writers, acts, letters, times, strike)


def cut(
    place: Place, empty: Callable[[], Place], *, acts: int, letters: int, times: int, writers: int = 4,
    lights: Callable[[], None] | None = None,
) -> Outcome:  # fmt: skip
    """Cut the power while people save and sign and a backup is made; go on from the last whole one, ``times`` times.

    It is brought back into the place that ``empty`` gives, and people go on there. ``lights`` cuts off the database
    too and starts it again, where it is a server.
    """
    office, told = place.fill(writers, letters), Told()
    answered, missed, wrong = 0, 0, list[str]()
    for number in range(times):
        begun, asked = told.successes, told.missed
        backup, before = _cut_off(place, office, told, begun + acts // (times + 1), letters, number, lights)
        answered, missed = answered + told.successes - begun, missed + told.missed - asked
        told = told.as_of(before)
        place = empty()
        place.call("manage.py", "restore", str(backup))
        found = place.read()
        wrong += [*_other_rows(found["rows"], backup), *holds(found, office, told)]
    begun, asked = told.successes, told.missed
    server = Server(place)
    last = _broken(
        place, office, server, told, Writers(server, office, told), begun + acts // (times + 1), letters, 0, _nothing
    )
    answered, missed = answered + last.successes - begun, missed + told.missed - asked
    return Outcome(answered, last.signatures, missed, last.requests, times, (*wrong, *last.wrong))


def _cut_off(
    place: Place,
    office: dict[str, Any],
    told: Told,
    acts: int,
    letters: int,
    number: int,
    lights: Callable[[], None] | None,
) -> tuple[Path, Told]:
    """The newest whole backup after the power cut, and what people had been told when it was begun."""
    server = Server(place)
    writers = Writers(server, office, told)
    whole, second = (place.folder / f"{name}-{number}.tar" for name in ("whole", "second"))
    server.start()
    try:
        writers.start()
        _until(told, acts)
        _midst(writers, told, letters)
        before = told.at_this_moment()
        place.call("manage.py", "backup", str(whole))
        _midst(writers, told, letters)
        later = told.at_this_moment()
        backup = place.begin("manage.py", "backup", str(second))
        # Its copy of the database is being written, or was this very moment.
        _wait(told, lambda: backup.poll() is not None or any(place.folder.glob("var/keeping-*/*")))
        server.kill()
        end_all(backup)
        if lights is not None:
            lights()
        writers.stop()
    finally:
        writers.end.set()
        server.kill()
    return (second, later) if second.exists() else (whole, before)


def _other_rows(found: dict[str, int], backup: Path) -> list[str]:
    """Every table that has other rows in the restored place than the backup says."""
    with tarfile.open(backup) as tar:
        said = json.load(tar.extractfile("manifest.json"))["rows"]  # type: ignore[arg-type]
    return [f"{name}: {found.get(name)} rows, not {said[name]}" for name in said if found.get(name) != said[name]]


def _nothing() -> None:
    pass


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
            _midst(writers, told, letters)
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
    wrong = tuple(holds(place.read(), office, told))
    return Outcome(told.successes, len(told.signed), told.missed, told.requests.total(), breaks, wrong)


def _until(told: Told, successes: int) -> None:
    _wait(told, lambda: told.successes >= successes)


def _midst(writers: Writers, told: Told, letters: int) -> None:
    """In the midst of it: somebody waits for a saving, and while there are letters somebody for a signing."""
    _wait(told, lambda: writers.saving > 0 and (writers.signing > 0 or len(told.signed) >= letters - 1))


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
