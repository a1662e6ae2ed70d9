"""The long run of faults and junk: servers killed, a database stopped, many writers, junk in every form, long walks.

    python tools/soak_faults.py [MINUTES [file] [server] [walks] [junk]]

Bounded: an hour where nothing is said, for all parts or for those named. Whatever its length, the server is killed and
the database stopped under at least two hundred acts; the rest, that is writers, walks and junk, shortens with the
minutes. The result is printed, and kept in ``docs/soak.md``, a section for each part, with what was run and how long.
Fails where anything was wrong.
"""

import itertools
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

import psycopg
from psycopg.sql import SQL, Identifier

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests.faults.disks import small_disk  # noqa: E402
from tests.faults.serving import Place  # noqa: E402
from tests.faults.ways import Outcome, cut, full, killed, many, restarted  # noqa: E402
from tests.support import migrated  # noqa: E402
from tools.run_tests import Cluster, postgres_programs, running_cluster  # noqa: E402
from tools.soak_page import keep  # noqa: E402

USUAL_MINUTES = 60.0
ACTS, KILLS, STOPS, WRITERS = 200, 5, 3, 8
MORE_ACTS, CUTS = 100, 2
SIDE_BY_SIDE = 2
"""Processes that send junk."""
LONGEST_WRITING, MOST_JUNK, MOST_WALKS, MOST_LETTERS = 60, 50_000, 200, 20
CUT = "power cut while a backup was made; restored, and gone on with"
MIB = 1024 * 1024
FILE_DISK, DATA_DISK, LOG_DISK = 48 * MIB, 192 * MIB, 96 * MIB
NO_DISK = "not run: this user may not mount a disk"
WALKED = (
    "tests/plans/test_estimate_machine.py",
    "tests/visits/test_item_machine.py",
    "tests/letters/test_consent_machine.py",
    "tests/rules/test_lifecycles.py",
)


@dataclass
class Run:
    """What was run so far: a row of the page each, and everything that was wrong."""

    minutes: float
    title: str = ""
    begun: float = field(default_factory=time.monotonic)
    rows: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    def begin(self, title: str) -> None:
        """What follows belongs to the section ``title``."""
        self.title, self.rows = title, []

    def note(self, what: str, seconds: float, counted: str, wrong: list[str]) -> None:
        """Print one row, and keep what there is on the page: a run that is broken off has told what it did."""
        found = " ".join("; ".join(wrong).split()).replace("|", "/")[:300] or "nothing wrong"
        self.rows.append(f"| {what} | {seconds:.0f} s | {counted} | {found} |")
        self.wrong += wrong
        print(self.rows[-1], flush=True)
        head = f"{self.minutes:g} minutes were given to all parts of this run (usual: {USUAL_MINUTES:g})."
        table = ["| what was done | how long | how many | found |", "|---|---|---|---|", *self.rows]
        keep(self.title, [head, "", *table])

    @property
    def taken(self) -> float:
        """Minutes since it began."""
        return (time.monotonic() - self.begun) / 60

    def fault(self, what: str, act: Callable[[], Outcome]) -> None:
        """Do ``act`` and note what it came to."""
        start = time.monotonic()
        try:
            found = act()
        except AssertionError as error:
            self.note(what, time.monotonic() - start, "broken off", [str(error)])
            return
        counted = (
            f"{found.requests} requests; {found.successes} acts answered with success, {found.signatures} of them "
            f"signatures; {found.broken_off} acts without an answer; {found.breaks} breaks"
        )
        self.note(what, time.monotonic() - start, counted, list(found.wrong))

    def tests(self, what: str, unit: str, *files: str, processes: int = 1, **environment: str) -> None:
        """Run tests with long counts, shared among ``processes``; what they did is read from their report."""
        start = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            report = Path(folder) / "report.xml"
            command = [sys.executable, "-m", "pytest", "-q", "--no-migrations", "--tb=short"]
            command += ["-o", "junit_family=xunit1", "-n", str(processes), "--dist", "worksteal"]
            told = os.environ | {"DATABASE_URL": ""} | environment
            subprocess.run([*command, f"--junitxml={report}", *files], cwd=ROOT, env=told, check=False)
            tree = ElementTree.parse(report)
        wrong = [case.get("name", "?") for case in tree.iter("testcase") if list(case.iter("failure"))]
        wrong += [case.get("name", "?") for case in tree.iter("testcase") if list(case.iter("error"))]
        counts = [int(one.get("value", 0)) for one in tree.iter("property") if one.get("name") == "requests"]
        counted = unit.format(sum(counts), len(list(tree.iter("testcase"))))
        self.note(what, time.monotonic() - start, counted, wrong)


def main(minutes: float, parts: list[str]) -> int:
    """Every part in turn, or those named; answers 1 where anything was wrong."""
    run = Run(minutes)
    for part in parts or list(PARTS):
        PARTS[part](run, min(1.0, minutes / USUAL_MINUTES))
    print("\n".join(run.wrong))
    return 1 if run.wrong else 0


def _letters(share: float) -> int:
    return max(4, round(MOST_LETTERS * share))


def _seconds(share: float) -> float:
    return max(15.0, LONGEST_WRITING * share)


def on_file(run: Run, share: float) -> None:
    """The server killed, its disk full, the power cut while a backup is made, and many writers, on SQLite."""
    run.begin("Faults on SQLite")
    with tempfile.TemporaryDirectory(prefix="leastways-soak-") as folder:
        place = _files(Path(folder))
        run.fault("server killed", lambda: killed(place("killed"), acts=ACTS, letters=_letters(share), kills=KILLS))
        run.fault(f"{WRITERS} writers", lambda: many(place("many"), writers=WRITERS, seconds=_seconds(share)))
        run.fault("no room in any file of the server", lambda: full(place("full"), acts=ACTS, letters=4, times=STOPS))
        numbers = itertools.count(1)
        run.fault(
            CUT, lambda: cut(place("cut"), lambda: _new(folder, next(numbers)), acts=MORE_ACTS, letters=4, times=CUTS)
        )
        with small_disk(FILE_DISK) as disk:
            if disk is None:
                run.note("a small disk full", 0, NO_DISK, [])
                return
            room = _files(disk.folder)("full")
            run.fault(
                "a small disk full",
                lambda: full(room, acts=MORE_ACTS, letters=4, times=STOPS, fill=disk.fill, empty=disk.empty),
            )


def on_server(run: Run, share: float) -> None:
    """The server killed, its database stopped or without room, the power cut, and many writers, on PostgreSQL."""
    run.begin("Faults on PostgreSQL")
    programs = postgres_programs()
    if programs is None:
        run.note("nothing", 0, "not run: no initdb found (Debian package postgresql)", [])
        return
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="leastways-soak-")))
        cluster = stack.enter_context(running_cluster(programs))
        place = _databases(folder, cluster)
        run.fault(
            "database stopped at once and started again",
            lambda: restarted(place("stopped"), cluster.restart, acts=ACTS, letters=4, times=STOPS),
        )
        run.fault(f"{WRITERS} writers", lambda: many(place("many"), writers=WRITERS, seconds=_seconds(share)))
        run.fault("server killed", lambda: killed(place("killed"), acts=ACTS, letters=_letters(share), kills=KILLS))
        numbers = itertools.count(1)
        run.fault(
            CUT,
            lambda: cut(
                place("cut"), lambda: place(f"new_{next(numbers)}", like="template0"), acts=MORE_ACTS,
                letters=4, times=CUTS, lights=cluster.restart,
            ),
        )  # fmt: skip
    _on_small_disks(run, programs)


def _on_small_disks(run: Run, programs: Path) -> None:
    with small_disk(DATA_DISK) as disk, small_disk(LOG_DISK) as log:
        if disk is None or log is None:
            run.note("small disks full", 0, NO_DISK, [])
            return
        with ExitStack() as stack:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="leastways-soak-")))
            cluster = stack.enter_context(running_cluster(programs, data=disk.folder, log_ahead=log.folder))
            place = _databases(folder, cluster)
            run.fault(
                "a small disk full, with the data on it",
                lambda: full(place("full"), acts=MORE_ACTS, letters=4, times=STOPS, fill=disk.fill, empty=disk.empty),
            )

            def room_again() -> None:
                log.empty()
                cluster.restart()

            run.fault(
                "a small disk full, with the log of changes on it; the database started again with room",
                lambda: full(place("log"), acts=MORE_ACTS, letters=4, times=STOPS, fill=log.fill, empty=room_again),
            )
            told = cluster.log.read_text(encoding="utf-8", errors="replace")
            for words in ("could not extend file", "PANIC"):
                if words not in told:
                    run.note(f'"{words}" in the log of the database', 0, "never", [f"{words}: it never came to that"])


def walks(run: Run, share: float) -> None:
    """Several people through the four lifecycles."""
    run.begin("Walks through the four lifecycles")
    count = max(15, round(MOST_WALKS * share))
    run.tests("several people, any order", f"{count} walks a lifecycle", *WALKED, LEASTWAYS_WALKS=str(count))


def junk(run: Run, _share: float) -> None:
    """Junk in every form, in the minutes that are left."""
    run.begin("Junk in every form, address and case file")
    left = max(1.0, run.minutes - run.taken)
    # The minutes are shared out among kinds of rows, and the kinds among the processes.
    told = {"LEASTWAYS_JUNK": str(MOST_JUNK), "LEASTWAYS_JUNK_MINUTES": f"{left * SIDE_BY_SIDE:.2f}"}
    unit = f"{{}} requests, {MOST_JUNK} wanted"
    run.tests("junk", unit, "tests/trust/test_junk.py", processes=SIDE_BY_SIDE, **told)


PARTS: dict[str, Callable[[Run, float], None]] = {"file": on_file, "server": on_server, "walks": walks, "junk": junk}


def _new(folder: str, number: int) -> Place:
    """A place on files in which there is nothing yet."""
    (empty := Path(folder) / f"new-{number}").mkdir()
    return Place(f"sqlite:///{empty / 'office.sqlite3'}", empty)


def _files(folder: Path) -> Callable[[str], Place]:
    migrated(folder / "migrated.sqlite3")

    def place(name: str) -> Place:
        (folder / name).mkdir()
        file = folder / name / "office.sqlite3"
        file.write_bytes((folder / "migrated.sqlite3").read_bytes())
        return Place(f"sqlite:///{file}", folder / name)

    return place


def _databases(folder: Path, cluster: Cluster) -> Callable[..., Place]:
    Place(cluster.url, folder).call("manage.py", "migrate", "-v0")

    def place(name: str, like: str = "postgres") -> Place:
        (folder / f"on-server-{name}").mkdir()
        url = cluster.url.removesuffix("/postgres")
        # Every name is a database of its own, copied from the one that was migrated, or from an empty one.
        with psycopg.connect(f"{url}/template1", autocommit=True) as asked:
            asked.execute(SQL("CREATE DATABASE {} TEMPLATE {}").format(Identifier(name), Identifier(like)))
        return Place(f"{url}/{name}", folder / f"on-server-{name}")

    return place


if __name__ == "__main__":
    given = sys.argv[1:]
    sys.exit(main(float((given or [str(USUAL_MINUTES)])[0]), given[1:]))
