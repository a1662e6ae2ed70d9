"""``manage.py demo``: load the invented office, make its papers, and serve it on this machine until interrupted."""

import ipaddress
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, NoReturn

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser
from django.db import connections
from django.utils import timezone

from planner.config import demo
from planner.letters.findings import facts_of, words_of
from planner.letters.pdf import PaperError, close_pool
from planner.plans.estimates import read_frozen
from planner.practice import codes
from planner.practice.sealing import CannotOpen
from planner.rules.results import CasePlan
from planner.rules.strip_svg import strip_svg
from planner.rules.table import comparison_table
from planner.trail.errors import Refused

_ASKED = {"yes": True, "1": True, "no": False, "0": False}
TOLD_FROM_SECONDS = 0.5
SECONDS_TO_END = 5


class Command(BaseCommand):
    help = "Load the invented office, write its papers to var/demo/, and serve it on this machine only."

    def add_arguments(self, parser: CommandParser) -> None:
        """How to reset passwords and to read a code; where to serve comes from the environment (`make demo`)."""
        parser.add_argument("--new-passwords", action="store_true", help="give everybody a new password, and stop")
        parser.add_argument("--code", metavar="NAME", help="show the one-time code of somebody now, and stop")

    def handle(self, *args: Any, **options: Any) -> None:
        """Make the tables, load, write, print, serve."""
        if options["new_passwords"]:
            self._reset()
            return
        if options["code"]:
            self._code(options["code"])
            return
        serve = _serve()
        address = _address(os.environ.get("ADDRESS", "127.0.0.1:8420")) if serve else None
        with self.step("Making the tables"):
            call_command("migrate", verbosity=0, interactive=False)
        with self.step("The invented office"):
            passwords = demo.open_if_empty(timezone.now())
        loaded = None
        try:
            loaded = demo.load(self.step)
        except (demo.NotTheDemo, PaperError, Refused) as error:
            stop(str(error))
        finally:
            close_pool()
            if loaded is None and passwords:
                self._tell(passwords)  # they are told once, whatever else went wrong
        folder = settings.VAR_DIR / "demo"
        assert loaded.lead.frozen is not None
        plan = read_frozen(loaded.lead.frozen)
        paths = [*demo.write_files(loaded, folder), _write_strip(plan, folder)]
        self.stdout.write(f"\n{comparison_table(plan)}\nIn {folder}: {', '.join(path.name for path in paths)}")
        if passwords:
            self._tell(passwords)
        else:
            self.stdout.write(
                "\nSign-in names and passwords were printed when the demo was first loaded. For new ones: "
                f"{Path(sys.executable)} manage.py demo --new-passwords"
            )
        if address is not None:
            self._serve(*address)

    @contextmanager
    def step(self, words: str) -> Iterator[None]:
        """Tell that something begins, and how long it took where that is worth telling."""
        self.stdout.write(f"{words} ...", ending="")
        self.stdout.flush()
        begun = time.monotonic()
        try:
            yield
        except BaseException:
            self.stdout.write("")
            raise
        took = time.monotonic() - begun
        self.stdout.write(f" {took:.1f} s" if took >= TOLD_FROM_SECONDS else " done")

    def _reset(self) -> None:
        try:
            self._tell(demo.new_passwords(timezone.now()))
        except demo.NotTheDemo as error:
            stop(str(error))

    def _code(self, name: str) -> None:
        try:
            shown = demo.code_now(name, timezone.now())
        except (demo.NotTheDemo, CannotOpen) as error:
            stop(str(error) or "The secret of this installation is not the one these codes were set up with.")
        self.stdout.write(f"{shown.code}\nSecret for an app: {shown.secret}")

    def _tell(self, passwords: demo.Passwords) -> None:
        self.stdout.write("\nSign-in names and passwords, shown this once:\n")
        for staff, password in passwords:
            self.stdout.write(f"  {staff.username:<8} {password}   {staff.full_name}, {staff.role_words}")
        asked = [staff.username for staff, _password in passwords if codes.secret_of(staff)]
        if asked:
            command = f"{Path(sys.executable)} manage.py demo --code"
            *most, last = asked
            who = f"{', '.join(most)} and {last}" if most else last
            self.stdout.write(
                f"\n{who} are asked for a one-time code as well, as owner, manager and system keeper "
                f"always are. In place of their telephones:\n  {command} {asked[0]}"
            )

    def _serve(self, host: str, port: int) -> NoReturn:
        shown = f"[{host}]" if ":" in host else host
        self.stdout.write(f"\nServing on http://{shown}:{port} until you press Ctrl-C.")
        self.stdout.flush()
        connections.close_all()
        environment = os.environ | {"LEASTWAYS_PLAIN_HTTP": "1"}
        command = [sys.executable, "-m", "granian", "--interface", "wsgi", "--host", host, "--port", str(port)]
        command += ["--workers", "2", "--blocking-threads", "1", "--log-level", "warning"]
        command += ["--working-dir", str(settings.BASE_DIR), "planner.config.wsgi:application"]
        # In a session of its own: a Ctrl-C at the terminal reaches this process alone, which then ends the server in
        # order. Sent to all its workers at once, some of them never end.
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        server = subprocess.Popen(command, env=environment, cwd=settings.BASE_DIR, start_new_session=True)  # noqa: S603
        try:
            status = server.wait()
        except KeyboardInterrupt:
            status = _end(server)
        raise SystemExit(status)


def _end(server: subprocess.Popen[bytes]) -> int:
    """End the server and everything it started; 0 once it is gone."""
    with suppress(ProcessLookupError):
        server.terminate()
        try:
            server.wait(timeout=SECONDS_TO_END)
        except (subprocess.TimeoutExpired, KeyboardInterrupt):
            os.killpg(server.pid, signal.SIGKILL)
            server.wait()
    return 0


def stop(sentence: str) -> NoReturn:
    """End with ``sentence`` on standard error and exit status 2."""
    sys.stderr.write(f"{sentence}\n")
    raise SystemExit(2)


def _serve() -> bool:
    asked = os.environ.get("SERVE", "yes").strip().lower()
    if asked not in _ASKED:
        stop(f'SERVE is "{asked}": write SERVE=yes or SERVE=no.')
    return _ASKED[asked]


def _address(written: str) -> tuple[str, int]:
    """Host and port, if they are this machine's own and free; ends with a sentence otherwise."""
    host, _, port = written.strip().rpartition(":")
    host = host.removeprefix("[").removesuffix("]")
    if not port.isascii() or not port.isdigit() or not 1 <= int(port) <= 65535 or not host:
        stop(f'ADDRESS is "{written}": write host and port, such as 127.0.0.1:8420.')
    try:
        loopback = host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        loopback = False
    if not loopback or host not in ("localhost", "127.0.0.1", "::1"):
        stop(f'ADDRESS is "{written}": the demo serves this machine only, at 127.0.0.1, ::1 or localhost.')
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, int(port)))
        except OSError as error:
            stop(f"{written} cannot be used ({error.strerror}): choose another, such as ADDRESS=127.0.0.1:8421.")
    return host, int(port)


def _write_strip(plan: CasePlan, folder: Path) -> Path:
    shown = next(found for found in plan.spaces.plans if found.key == plan.spaces.chosen)
    path = folder / "strip.svg"
    drawn = strip_svg(shown, words_of(plan, facts_of(plan)), "strip", scale=3)
    path.write_text(f'<?xml version="1.0" encoding="UTF-8"?>\n{drawn}\n', encoding="utf-8")
    return path
