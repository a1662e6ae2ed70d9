"""The long run of faults and junk: servers killed, a database stopped, many writers, junk in every form, long walks.

    python tools/soak_faults.py [MINUTES]

Bounded: an hour where nothing is said. Whatever its length, the server is killed and the database stopped under at
least two hundred acts; the rest, that is writers, walks and junk, shortens with the minutes. The result is printed, and
kept in ``docs/soak.md`` with what was run and how long. Fails where anything was wrong.
"""

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

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests.faults.serving import Place  # noqa: E402
from tests.faults.ways import Outcome, killed, many, restarted  # noqa: E402
from tests.support import migrated  # noqa: E402
from tools.run_tests import Cluster, postgres_programs, running_cluster  # noqa: E402
from tools.soak_page import keep  # noqa: E402

USUAL_MINUTES = 60.0
ACTS, KILLS, STOPS, WRITERS = 200, 5, 3, 8
LONGEST_WRITING, MOST_JUNK, MOST_WALKS, MOST_LETTERS = 60, 50_000, 200, 20
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
    begun: float = field(default_factory=time.monotonic)
    rows: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    def note(self, what: str, seconds: float, counted: str, wrong: list[str]) -> None:
        """Print one row, and keep what there is on the page: a run that is broken off has told what it did."""
        self.rows.append(f"| {what} | {seconds:.0f} s | {counted} | {'; '.join(wrong)[:300] or 'nothing wrong'} |")
        self.wrong += wrong
        print(self.rows[-1], flush=True)
        head = f"{self.taken:.0f} minutes so far or in all, {self.minutes:g} asked for (usual: {USUAL_MINUTES:g})."
        table = ["| what was done | how long | how many | found |", "|---|---|---|---|", *self.rows]
        keep("Faults and junk", [head, "", *table])

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

    def tests(self, what: str, unit: str, *files: str, **environment: str) -> None:
        """Run tests with long counts; what they say they did is read from their report."""
        start = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            report = Path(folder) / "report.xml"
            command = [sys.executable, "-m", "pytest", "-q", "--no-migrations", "--tb=short"]
            told = os.environ | {"DATABASE_URL": ""} | environment
            subprocess.run([*command, f"--junitxml={report}", *files], cwd=ROOT, env=told, check=False)
            tree = ElementTree.parse(report)
        wrong = [case.get("name", "?") for case in tree.iter("testcase") if list(case.iter("failure"))]
        wrong += [case.get("name", "?") for case in tree.iter("testcase") if list(case.iter("error"))]
        counts = [int(one.get("value", 0)) for one in tree.iter("property") if one.get("name") == "requests"]
        counted = unit.format(sum(counts), len(list(tree.iter("testcase"))))
        self.note(what, time.monotonic() - start, counted, wrong)


def main(minutes: float) -> int:
    """Every part in turn; answers 1 where anything was wrong."""
    run = Run(minutes)
    share = min(1.0, minutes / USUAL_MINUTES)
    letters, seconds = max(4, round(MOST_LETTERS * share)), max(15.0, LONGEST_WRITING * share)
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="leastways-soak-")))
        on_file = _files(folder)
        run.fault("server killed, SQLite", lambda: killed(on_file("killed"), acts=ACTS, letters=letters, kills=KILLS))
        run.fault(f"{WRITERS} writers, SQLite", lambda: many(on_file("many"), writers=WRITERS, seconds=seconds))
        if programs := postgres_programs():
            cluster = stack.enter_context(running_cluster(programs))
            on_server = _databases(folder, cluster, programs)
            run.fault(
                "server killed, PostgreSQL",
                lambda: killed(on_server("killed"), acts=ACTS, letters=letters, kills=KILLS),
            )
            run.fault(
                "database stopped at once and started, PostgreSQL",
                lambda: restarted(on_server("stopped"), cluster.restart, acts=ACTS, letters=4, times=STOPS),
            )
            run.fault(
                f"{WRITERS} writers, PostgreSQL", lambda: many(on_server("many"), writers=WRITERS, seconds=seconds)
            )
        else:
            run.note("everything on PostgreSQL", 0, "not run: no initdb found (Debian package postgresql)", [])
    walks = max(15, round(MOST_WALKS * share))
    run.tests("walks through the four lifecycles", f"{walks} walks a lifecycle", *WALKED, LEASTWAYS_WALKS=str(walks))
    left = max(1.0, minutes - run.taken)
    run.tests(
        "junk in every form, address and case file",
        f"{{}} requests, at most {MOST_JUNK}",
        "tests/trust/test_junk.py",
        LEASTWAYS_JUNK=str(MOST_JUNK),
        LEASTWAYS_JUNK_MINUTES=f"{left:.2f}",
    )
    print("\n".join(run.wrong))
    return 1 if run.wrong else 0


def _files(folder: Path) -> Callable[[str], Place]:
    migrated(folder / "migrated.sqlite3")

    def place(name: str) -> Place:
        (folder / name).mkdir()
        file = folder / name / "office.sqlite3"
        file.write_bytes((folder / "migrated.sqlite3").read_bytes())
        return Place(f"sqlite:///{file}", folder / name)

    return place


def _databases(folder: Path, cluster: Cluster, programs: Path) -> Callable[[str], Place]:
    Place(cluster.url, folder).call("manage.py", "migrate", "-v0")

    def place(name: str) -> Place:
        (folder / f"on-server-{name}").mkdir()
        url = cluster.url.removesuffix("/postgres")
        # Every name is a database of its own, copied from the one that was migrated.
        subprocess.run(
            [programs / "psql", "-q", f"{url}/template1", "-c", f"CREATE DATABASE {name} TEMPLATE postgres"], check=True
        )
        return Place(f"{url}/{name}", folder / f"on-server-{name}")

    return place


if __name__ == "__main__":
    sys.exit(main(float((sys.argv[1:] or [str(USUAL_MINUTES)])[0])))
