"""Run every test: rules and pages on SQLite, what can differ there again on PostgreSQL, then the browser tests.

On SQLite the tables are made from the models, which saves half a minute a worker; the migrations are run on PostgreSQL,
by the tests of the demo, and by the check that none is missing.

On PostgreSQL runs what can differ there: constraints, guards, locks, writers at once, order, JSON and bytes as stored,
migrations, backups, and each app's main pages with whatever is typed into any form. Rules, papers, wording, who may do
what, and what is refused before a query holds it do not depend on the database and run once. ``SAME_ON_BOTH`` in
``tests/conftest.py`` names what is left out though it stores rows.

A private PostgreSQL cluster is made in a temporary folder, started on a free port and stopped again. What this machine
cannot run is named at the end; with CI=true that is a failure.
"""

import glob
import os
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CI = os.environ.get("CI") == "true"
TWO = ("-n", "2", "--dist", "worksteal")
"""Two processes. Each begins with one half in order, so what the tests of a file share is made in one process only."""
# Folders that hold nothing for a part of the run are not even read: reading all takes twenty seconds a process.
# Nor is the driver of browsers imported there, nor a plugin that no test asks for.
NO_BROWSER = ("--ignore=tests/browser", "-p", "no:playwright", "-p", "no:faker")


def pytest(*arguments: str, **environment: str) -> int:
    command = [sys.executable, "-m", "pytest", "-q", *arguments]
    return subprocess.run(command, cwd=ROOT, env={**os.environ, **environment}, check=False).returncode


def browser_tests(*arguments: str) -> int:
    chosen = ("--no-migrations", "tests/browser")
    return pytest(*arguments, *chosen, DATABASE_URL="", DJANGO_ALLOW_ASYNC_UNSAFE="1")


def postgres_programs() -> Path | None:
    if found := shutil.which("initdb"):
        return Path(found).parent
    folders = sorted(glob.glob("/usr/lib/postgresql/*/bin"), key=lambda path: int(path.split("/")[4]))
    return Path(folders[-1]) if folders else None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass(frozen=True)
class Cluster:
    """A throw-away PostgreSQL cluster that runs; ``restart`` stops it as a crash would, and starts it again.

    What it says of itself is in the file ``log``.
    """

    url: str
    restart: Callable[[], None]
    log: Path


@contextmanager
def private_cluster(programs: Path) -> Iterator[str]:
    """A throw-away PostgreSQL cluster; gives its database URL."""
    with running_cluster(programs) as cluster:
        yield cluster.url


@contextmanager
def running_cluster(programs: Path, *, data: Path | None = None, log_ahead: Path | None = None) -> Iterator[Cluster]:
    """A throw-away PostgreSQL cluster, its data in the folder ``data`` and its log of changes in ``log_ahead``.

    Where neither is given, all of it is in a temporary folder. A log that is apart has the smallest files there are and
    none in store, so that a small disk holds some and has soon to take another.
    """
    folder = Path(tempfile.mkdtemp(prefix="leastways-pg-"))
    port = _free_port()
    # The server refuses to run as root, so root hands the cluster to the account the package made.
    as_user: list[str] = []
    if os.geteuid() == 0:
        for one in (folder, data, log_ahead):
            if one is not None:
                shutil.chown(one, "postgres")
        as_user = ["runuser", "-u", "postgres", "--"]
    at = (data or folder) / "data"

    def call(program: str, *told: str, check: bool = True) -> None:
        command = [*as_user, str(programs / program), "-D", str(at), *told]
        subprocess.run(command, check=check, stdout=subprocess.DEVNULL, cwd=folder)

    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c fsync=off -c full_page_writes=off"
    if log_ahead is not None:
        options += " -c max_wal_size=16MB -c min_wal_size=2MB -c wal_recycle=off"

    def start() -> None:
        call("pg_ctl", "-w", "-o", options, "-l", str(folder / "log"), "start")

    def stop() -> None:
        # Without room for its log of changes it may have ended by itself.
        call("pg_ctl", "-m", "immediate", "stop", check=False)

    def restart() -> None:
        stop()
        start()

    try:
        apart = [] if log_ahead is None else [f"--waldir={log_ahead / 'log'}", "--wal-segsize=1"]
        call("initdb", "-E", "UTF8", "--locale=C.UTF-8", "-A", "trust", "-U", "leastways", *apart)
        start()
        try:
            yield Cluster(f"postgres://leastways@127.0.0.1:{port}/postgres", restart, folder / "log")
        finally:
            stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def main() -> int:
    failed: list[str] = []
    not_run: list[str] = []

    # A paper that several tests look at is rendered by the first of them, for all processes of this run.
    papers = tempfile.TemporaryDirectory(prefix="leastways-papers-")
    os.environ["LEASTWAYS_TEST_PAPERS"] = papers.name

    print("== rules, database and pages, on SQLite", flush=True)
    if pytest(*TWO, *NO_BROWSER, "--no-migrations", "tests", DATABASE_URL=""):
        failed.append("tests on SQLite")

    programs = postgres_programs()
    if programs:
        print("== database and pages, on PostgreSQL", flush=True)
        with private_cluster(programs) as url:
            if pytest(*TWO, *NO_BROWSER, "--ignore=tests/rules", "--only-database", "tests", DATABASE_URL=url):
                failed.append("tests on PostgreSQL")
    else:
        not_run.append("every database test on PostgreSQL (no initdb found: Debian package postgresql)")

    if any(shutil.which(name) for name in ("chromium", "chromium-browser", "google-chrome")):
        print("== browser, on SQLite", flush=True)
        if browser_tests(*TWO):
            # Two browsers beside two servers on two cores is a crowd. What fails in it has one more try alone, and both
            # outcomes stand in what is printed; what fails alone has failed.
            print("== what failed in the browser, once more and alone", flush=True)
            if browser_tests("-n", "0", "--last-failed", "--last-failed-no-failures", "none"):
                failed.append("browser tests")
    else:
        not_run.append("every browser test (no Chromium found: Debian package chromium)")

    for what in not_run:
        print(f"NOT RUN: {what}")
    for what in failed:
        print(f"FAILED: {what}")
    return 1 if failed or (CI and not_run) else 0


if __name__ == "__main__":
    sys.exit(main())
