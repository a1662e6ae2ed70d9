"""``manage.py plan_case FILE``: the whole case plan of one case file, with no database.

Exit status 0 when everything asked for was made, 2 when anything given was wrong; then every fault stands on standard
error with its path and nothing was written.
"""

import io
import os
import secrets
from argparse import ArgumentTypeError
from collections.abc import Iterable
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import Any, NoReturn

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser

from planner.letters.findings import facts_of, words_of
from planner.letters.papers import letter_pdf
from planner.letters.pdf import PaperError
from planner.rules.book import OfficeBook
from planner.rules.bookfile import LARGEST_CHARACTERS, BookError, load_book
from planner.rules.casefile import LARGEST_BYTES, CaseFileError, parse_case, resolve_days, validate_case
from planner.rules.contradictions import doubts
from planner.rules.mouth import CaseFacts
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan
from planner.rules.strip import plan_of_today
from planner.rules.strip_svg import strip_svg
from planner.rules.table import comparison_table

DEMO_BOOK = Path(settings.BASE_DIR) / "fixtures" / "books" / "tern_row.toml"
STRIP_SCALE = 3
"""How much larger than life the strip is drawn, the same as on paper."""
EARLIEST, LATEST = date(1990, 1, 1), date(2190, 12, 31)


class WrongInput(Exception):
    """Something given cannot be used; each sentence is told."""

    def __init__(self, *sentences: str) -> None:
        super().__init__("\n".join(sentences))
        self.sentences = sentences


def day_of(text: str) -> date:
    """The day in ``text``, written as 2026-03-02. Raises ArgumentTypeError with a sentence."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f'"{text}" is not a day: write it as year-month-day, such as 2026-03-02.') from None
    if not EARLIEST <= day <= LATEST:
        raise ArgumentTypeError(f'"{text}" is out of range: a plan is made for a day between {EARLIEST} and {LATEST}.')
    return day


class Command(BaseCommand):
    help = "Plan one case file: the options gentlest first, the space, what is recommended and why."
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        """The file and what to make of it."""
        parser.add_argument("file", metavar="FILE", help="a case file (docs/case-file.md)")
        parser.add_argument("--json", action="store_true", help="print the whole plan as JSON and nothing else")
        parser.add_argument("--letter", metavar="OUT.pdf", help="write the consent letter of the recommended option")
        parser.add_argument("--strip", metavar="OUT.svg", help="draw the teeth as planned, else as they are")
        parser.add_argument("--on", type=day_of, metavar="DATE", help="plan for this day (2026-03-02) instead of today")
        parser.add_argument(
            "--book", metavar="FILE", help="an office book, instead of the invented one that comes along"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Read, plan, write, print; on a fault exit with status 2 and nothing written."""
        _speak_utf8(self.stdout, self.stderr)
        # The day of the person at this terminal, who may be in no office at all.
        day = options["on"] or date.today()  # noqa: DTZ011
        try:
            _check_targets(options["file"], options["book"], options["letter"], options["strip"])
            facts, book = _read_both(options["file"], options["book"], day)
            plan = _plan(facts, book, day)
            content = plan.to_json()
            made: list[tuple[str, bytes]] = []
            if options["strip"]:
                made.append((options["strip"], _strip(plan, facts)))
            if options["letter"]:
                made.append((options["letter"], _letter(plan, content)))
            for name, written in made:
                write_whole(Path(name), written)
        except WrongInput as wrong:
            self._refuse(wrong.sentences)
        try:
            self._tell(plan, content, facts, as_json=options["json"])
        except BrokenPipeError:
            # Whoever read this has seen enough; let nothing be flushed into the closed pipe at exit.
            with suppress(OSError, ValueError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), 1)

    def _tell(self, plan: CasePlan, content: bytes, facts: CaseFacts, *, as_json: bool) -> None:
        for path, question in doubts(facts.examination):
            self.stderr.write(f"Please look again: {path}: {question}", self.style.WARNING)
        self.stdout.write(content.decode() if as_json else comparison_table(plan), ending="")
        self.stdout.flush()

    def _refuse(self, sentences: Iterable[str]) -> NoReturn:
        for sentence in sentences:
            self.stderr.write(sentence)
        raise SystemExit(2)


def _speak_utf8(*streams: Any) -> None:
    """Names and signs are printed as they are, whatever the terminal's locale says."""
    for stream in streams:
        if isinstance(stream._out, io.TextIOWrapper):
            stream._out.reconfigure(encoding="utf-8", errors="backslashreplace")


def _check_targets(case: str, book: str | None, *outs: str | None) -> None:
    """Raise WrongInput when a file to be written is one that is read, or cannot be a file at all."""
    read = {_path(name) for name in (case, book) if name}
    seen: set[Path] = set()
    for name in filter(None, outs):
        path = _path(name)
        if path in read:
            raise WrongInput(f"{name}: this would overwrite what is read; name another file.")
        if path in seen:
            raise WrongInput(f"{name}: letter and strip cannot go into one file; name two.")
        if path.exists() and not path.is_file():
            raise WrongInput(f"{name}: this is no file that can be written; name a file.")
        if not path.parent.is_dir():
            raise WrongInput(f"{name}: there is no folder {path.parent}; make it first.")
        seen.add(path)


def _path(name: str) -> Path:
    """The path called ``name``, links followed. Raises WrongInput when no file can be called so."""
    try:
        path = Path(name).resolve()
        path.exists()
    except (OSError, RuntimeError, ValueError) as error:  # too long, links in a circle, an invisible sign
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise WrongInput(f"{name!r}: no file can be called so ({reason}).") from None
    return path


def _read_both(case: str, book: str | None, day: date) -> tuple[CaseFacts, OfficeBook]:
    """Case and book. Raises WrongInput with the faults of both, so that one run tells them all."""
    faults: list[str] = []
    facts = office = None
    try:
        facts = _case(case, day)
    except WrongInput as wrong:
        faults += wrong.sentences
    try:
        office = _book(book, day)
    except WrongInput as wrong:
        faults += wrong.sentences
    if facts is None or office is None:
        raise WrongInput(*faults)
    return facts, office


def _case(name: str, day: date) -> CaseFacts:
    content = _content(name, LARGEST_BYTES, "a case file")
    try:
        return validate_case(resolve_days(parse_case(content), day), day)
    except CaseFileError as error:
        count = f"{len(error.faults)} faults" if len(error.faults) > 1 else "1 fault"
        raise WrongInput(f"{name} was refused, {count}:", *(f"  {fault}" for fault in error.faults)) from None


def _book(name: str | None, day: date) -> OfficeBook:
    content = _content(name or str(DEMO_BOOK), LARGEST_CHARACTERS * 4, "an office book")
    shown = name or DEMO_BOOK.name
    try:
        return load_book(content.decode("utf-8-sig"), day)
    except UnicodeDecodeError as error:
        raise WrongInput(f"{shown}: this is not UTF-8 text (byte {error.start}); save it as UTF-8.") from None
    except BookError as error:
        count = f"{len(error.faults)} faults" if len(error.faults) > 1 else "1 fault"
        raise WrongInput(f"{shown} was refused, {count}:", *(f"  {fault}" for fault in error.faults)) from None


def _content(name: str, most: int, what: str) -> bytes:
    try:
        with Path(name).open("rb") as file:
            content = file.read(most + 1)
    except IsADirectoryError:
        raise WrongInput(f"{name}: this is a folder; name {what}.") from None
    except FileNotFoundError:
        raise WrongInput(f"{name}: there is no such file.") from None
    except (OSError, ValueError) as error:  # ValueError: a name with an invisible sign in it
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise WrongInput(f"{name!r}: this cannot be read ({reason}).") from None
    if len(content) > most:
        raise WrongInput(f"{name}: this is larger than {most:,} bytes; {what} never is.")
    return content


def _plan(facts: CaseFacts, book: OfficeBook, day: date) -> CasePlan:
    try:
        return plan_case(facts, book, day)
    except (LookupError, ValueError) as error:
        said = str(error.args[0] if error.args else error)
        raise WrongInput(f"The office book cannot be used: {said}.") from None


def _strip(plan: CasePlan, facts: CaseFacts) -> bytes:
    """The chosen way of sharing the space, or the teeth of today where there is none."""
    words = words_of(plan, facts_of(plan))
    shown = next((found for found in plan.spaces.plans if found.key == plan.spaces.chosen), None)
    try:
        exam = facts.examination
        drawn = strip_svg(shown or plan_of_today(exam.teeth, exam.gaps), words, "strip", scale=STRIP_SCALE)
    except ValueError as error:
        raise WrongInput(f"The strip cannot be drawn: {error}.") from None
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawn}\n'.encode()


def _letter(plan: CasePlan, content: bytes) -> bytes:
    if not plan.recommended:
        raise WrongInput(f"There is no letter to write: {plan.recommended_why}")
    try:
        return letter_pdf(content)
    except PaperError as error:
        raise WrongInput(f"The letter cannot be made: {error}") from None


def write_whole(path: Path, content: bytes) -> None:
    """Write ``content`` to ``path`` so that nobody ever finds half a file there. Raises WrongInput with a sentence."""
    target = path.resolve()
    beside = target.with_name(f".{target.name[:100]}.{secrets.token_hex(6)}")
    try:
        with beside.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(target)
    except OSError as error:
        with suppress(OSError):
            beside.unlink()
        raise WrongInput(f"{path}: this cannot be written ({error.strerror}).") from None
