"""The server an office uses, as a process that can be killed, and somebody at a browser who uses it over http."""

import json
import os
import re
import resource
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from django.middleware.csrf import _mask_cipher_secret  # type: ignore[attr-defined]

from tests.support import PASSWORD

ROOT = Path(__file__).resolve().parent.parent.parent
DENTIST = "dora"
"""Sign-in name of the dentist who does it all."""
PATIENCE = 180
"""Seconds after which a server that does not answer has failed, on however busy a machine."""
CASES, LETTERS = 5, 2
"""What the office has that tests of one run share, so that it is filled once."""


@dataclass
class Place:
    """A database, and the folder in which the server keeps its secret and its log."""

    url: str
    folder: Path

    @property
    def environment(self) -> dict[str, str]:
        """What a process of the program is told."""
        told = {"DATABASE_URL": self.url, "LEASTWAYS_PLAIN_HTTP": "1", "LEASTWAYS_VAR": str(self.folder / "var")}
        return {name: value for name, value in os.environ.items() if not name.startswith("LEASTWAYS_")} | told

    def call(self, *command: str) -> str:
        """What ``python COMMAND`` prints; raises AssertionError with its faults where it fails."""
        ran = subprocess.run(
            [sys.executable, *command], cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False
        )
        assert ran.returncode == 0, f"{' '.join(command)}: {ran.stdout}{ran.stderr}"
        return ran.stdout

    def begin(self, *command: str) -> "subprocess.Popen[bytes]":
        """``python COMMAND`` with all that it starts, going on beside; :func:`end_all` kills it."""
        return subprocess.Popen(
            [sys.executable, *command], cwd=ROOT, env=self.environment, start_new_session=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip

    def fill(self, cases: int, letters: int) -> dict[str, Any]:
        """The office of :func:`tests.faults.office.fill`; in a run of tests a file of one that was filled before."""
        kept = os.environ.get("LEASTWAYS_TEST_PAPERS")
        if kept and self.file and cases <= CASES and letters <= LETTERS:
            office = self._fill_once(self.file, Path(kept) / "filled")
        else:
            office = self._fill(cases, letters)
        chosen = dict(list(office["cases"].items())[:cases])
        return office | {"cases": chosen, "consents": office["consents"][:letters]}

    def _fill(self, cases: int, letters: int) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.call("-m", "tests.faults.office", "fill", str(cases), str(letters)))
        return found

    def _fill_once(self, file: Path, kept: Path) -> dict[str, Any]:
        if not kept.exists():
            made = kept.with_suffix(f".{os.getpid()}")
            made.mkdir()
            (made / "office.json").write_text(json.dumps(self._fill(CASES, LETTERS)))
            # Closed by its only user, SQLite has written its log back into the file itself.
            shutil.copyfile(file, made / "office.sqlite3")
            with suppress(OSError):  # another process of this run was first
                made.rename(kept)
        shutil.copyfile(kept / "office.sqlite3", file)
        found: dict[str, Any] = json.loads((kept / "office.json").read_text())
        return found

    @property
    def file(self) -> Path | None:
        """The file that is the database; None for one on a server."""
        kind, _two, path = self.url.partition(":///")
        return Path("/") / path if kind == "sqlite" else None

    def read(self) -> dict[str, Any]:
        """What stands in the database now, read by a process that had no part in writing it."""
        found: dict[str, Any] = json.loads(self.call("-m", "tests.faults.office", "read"))
        return found


class Server:
    """The application server with two processes of two threads each, so that writers meet inside and between them."""

    def __init__(self, place: Place) -> None:
        self.place, self.log = place, place.folder / "server.log"
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = int(probe.getsockname()[1])
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, and wait until it answers."""
        command = [sys.executable, "-m", "granian", "--interface", "wsgi", "--host", "127.0.0.1"]
        command += ["--port", str(self.port), "--workers", "2", "--blocking-threads", "2", "--log-level", "warning"]
        command += ["--working-dir", str(ROOT), "planner.config.wsgi:application"]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                command, cwd=ROOT, env=self.place.environment, stdout=log, stderr=log, start_new_session=True
            )
        until = time.monotonic() + PATIENCE
        try:
            while not self._answers():
                assert self.process.poll() is None, self.log.read_text()
                assert time.monotonic() < until, "the server does not answer"
                time.sleep(0.1)
        except BaseException:
            self.kill()
            raise

    def _answers(self) -> bool:
        with suppress(OSError, HTTPException):
            line = HTTPConnection("127.0.0.1", self.port, timeout=10)
            line.request("GET", "/health", headers={"Host": "localhost"})
            return line.getresponse().status == 200
        return False

    def limit_files(self, most: int | None) -> None:
        """Let none of its processes write beyond byte ``most`` of any file, as on a full disk; None: as before."""
        assert self.process is not None
        for pid in [int(one.name) for one in Path("/proc").iterdir() if one.name.isdecimal()]:
            with suppress(ProcessLookupError, PermissionError):
                if os.getpgid(pid) == self.process.pid:
                    _soft, hard = resource.prlimit(pid, resource.RLIMIT_FSIZE)
                    resource.prlimit(pid, resource.RLIMIT_FSIZE, (hard if most is None else most, hard))

    def kill(self) -> None:
        """``kill -9`` of the server and of all that it started; nothing of it is asked to end in order."""
        if self.process is None:
            return
        end_all(self.process)
        # Its workers are reaped by nobody here; they are gone once nothing listens any more.
        until = time.monotonic() + PATIENCE
        while self._listens() and time.monotonic() < until:
            time.sleep(0.02)
        self.process = None

    def _listens(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0


def end_all(process: "subprocess.Popen[bytes]") -> None:
    """``kill -9`` of a process and of all that it started."""
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


class GoneError(Exception):
    """No answer came: what was asked may have been done, or not."""


@dataclass(frozen=True)
class Answer:
    """Status, where it leads, and what it says."""

    status: int
    leads: str
    text: str


class Browser:
    """One person signed in at one browser, one request after the other."""

    def __init__(self, port: int, username: str = DENTIST) -> None:
        self.port, self.username = port, username
        self.cookies: dict[str, str] = {}

    def sign_in(self, down_says: Sequence[int] = ()) -> None:
        """Sign in, or raise AssertionError with the page that says why not; GoneError for a status of ``down_says``."""
        self.cookies = {}
        if (page := self.get("/sign-in/")).status in down_says:
            raise GoneError(f"signing in: {page.status}")
        said = self.post("/sign-in/", {"username": self.username, "password": PASSWORD})
        if said.status in down_says:
            raise GoneError(f"signing in: {said.status}")
        assert said.status == 302, f"signing in answered {said.status}: {said.text}"

    def get(self, path: str) -> Answer:
        """The page at ``path``. Raises GoneError where no whole answer comes."""
        return self._ask("GET", path, b"")

    def post(self, path: str, values: Mapping[str, Any]) -> Answer:
        """What sending ``values`` to ``path`` answers. Raises GoneError where no whole answer comes."""
        secret = self.cookies.get("leastways-csrf", "")
        # Another token each time, as from a page drawn anew: the same one with the same content is the same press.
        token = {"csrfmiddlewaretoken": _mask_cipher_secret(secret) if secret else ""}
        return self._ask("POST", path, urlencode(dict(values) | token, doseq=True).encode())

    def _ask(self, method: str, path: str, body: bytes) -> Answer:
        line = HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        told = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()), "Host": "localhost"}
        if method == "POST":
            told["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            line.request(method, path, body, told)
            answer = line.getresponse()
            text = answer.read().decode()
        except (OSError, HTTPException) as error:
            raise GoneError(repr(error)) from None
        finally:
            line.close()
        for written in answer.headers.get_all("Set-Cookie") or ():
            if found := re.match(r"([^=]+)=([^;]*)", written):
                self.cookies[found[1]] = found[2].strip('"')
        return Answer(answer.status, answer.headers.get("Location", ""), text)
