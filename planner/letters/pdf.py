"""Papers as PDF files: tagged, archivable, carrying their data, the same bytes every time.

Rendering is slow and holds memory, so pages call :func:`render`, which hands the work to a small pool of processes.
Each process keeps one font configuration and one set of stylesheets for all its papers; a new one for every paper grows
without end. Nothing here knows Django or a patient: HTML text and data go in, a file comes out.
"""

import atexit
import logging
import os
import re
import signal
import threading
from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures import TimeoutError as FutureTimeout
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cache
from html import escape
from multiprocessing import get_context
from pathlib import Path
from typing import Any, Literal
from xml.etree import ElementTree

from planner.letters.finish import finish

PRINT = Path(__file__).parent / "print"
FONTS = Path(__file__).parents[2] / "static" / "fonts"
Paper = Literal["A4", "Letter"]

SECONDS = 60
"""A paper that takes longer is given up."""
_WORKERS = 2
_PAPERS_PER_WORKER = 100


class PaperError(RuntimeError):
    """A paper that could not be made; the message is fit for a person."""


@dataclass(frozen=True, slots=True)
class Attached:
    """A file carried inside the PDF. ``on`` is written as its date, because the clock would change the bytes."""

    name: str
    content: bytes
    on: date
    description: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """One paper to make."""

    html: str
    attached: tuple[Attached, ...] = ()
    paper: Paper = "A4"
    seconds: int = SECONDS


@dataclass(frozen=True, slots=True)
class Rendered:
    """A finished file, its number of pages, and what the renderer complained about (nothing, if all is well)."""

    content: bytes
    pages: int
    warnings: tuple[str, ...]


def render(job: Job) -> Rendered:
    """Make one paper in a worker process.

    Raises PaperError when it takes too long, the worker dies, or the machine lacks what printing needs.
    """
    global _failing
    pool = _pool()
    try:
        made = pool.submit(render_here, job).result(timeout=job.seconds + 30)
    except FutureTimeout:
        _failing = True
        close_pool()
        raise PaperError(
            f"The paper was not ready after {job.seconds} seconds and was given up. Try it again."
        ) from None
    except BrokenProcessPool:
        _failing = True
        close_pool()
        raise PaperError("The process that makes papers ended unexpectedly. Try it again.") from None
    _failing = False
    return made


def workers() -> Literal["resting", "ready", "failing"]:
    """How the processes that make papers are doing, in this process of the server; nothing is started to find out.

    ``resting``: none was needed yet. ``failing``: one died, or the last paper was given up because it took too long;
    the next paper gets new processes, and if it comes out, they are ``ready`` again.
    """
    pool = _running
    # The pool notes itself that a process of its died, and has no other way of saying so than refusing the next paper.
    if _failing or getattr(pool, "_broken", False):
        return "failing"
    return "resting" if pool is None else "ready"


def render_here(job: Job) -> Rendered:
    """Make one paper in this very process, as workers do and a command run by hand may. Raises PaperError."""
    weasyprint = _weasyprint()
    complaints: list[str] = []
    html, drawings = _drawings_apart(job.html)
    with _listening(complaints), _alarm(job.seconds):
        document = weasyprint.HTML(string=html, base_url=PRINT.as_uri() + "/", url_fetcher=_fetcher(drawings)).render(
            font_config=_font_configuration(), stylesheets=_stylesheets(job.paper), pdf_variant="pdf/a-3a"
        )
        # Attachments are set here rather than passed in, because only so can their dates be fixed.
        document.metadata.attachments = [_attachment(weasyprint, file) for file in job.attached]
        # Packed once, by the last step, instead of packed, unpacked and packed again.
        content = document.write_pdf(
            pdf_variant="pdf/a-3a", xmp_metadata=[(PRINT / "pdfua.xml").as_uri()], uncompressed_pdf=True
        )
    return Rendered(finish(content), len(document.pages), tuple(complaints))


def close_pool() -> None:
    """End the worker processes; the next paper starts new ones."""
    global _running
    with _lock:
        pool, _running = _running, None
    if pool is not None:
        pool.shutdown(wait=False, cancel_futures=True)


_lock = threading.Lock()
_running: ProcessPoolExecutor | None = None
_failing = False
atexit.register(close_pool)


def _pool() -> ProcessPoolExecutor:
    global _running
    with _lock:
        if _running is None:
            # Started afresh rather than forked: a forked child would inherit locks and database connections.
            _running = ProcessPoolExecutor(
                max_workers=min(_WORKERS, os.cpu_count() or 1),
                mp_context=get_context("spawn"),
                max_tasks_per_child=_PAPERS_PER_WORKER,
            )
        return _running


def _weasyprint() -> Any:
    """The renderer, imported only where it is used, because its system libraries may be missing."""
    try:
        import weasyprint
    except OSError as error:
        raise PaperError(
            "Papers cannot be made on this machine: the system library Pango is missing. On Debian, install "
            f"libpango-1.0-0, libpangoft2-1.0-0 and libharfbuzz-subset0. ({error})"
        ) from None
    # Both tell every step at INFO.
    for chatty in ("weasyprint.progress", "fontTools"):
        logging.getLogger(chatty).setLevel(logging.WARNING)
    return weasyprint


@cache
def _font_configuration() -> Any:
    from weasyprint.text.fonts import FontConfiguration

    return FontConfiguration()


@cache
def _stylesheets(paper: Paper) -> list[Any]:
    from weasyprint import CSS

    return [
        CSS(filename=PRINT / "paper.css", font_config=_font_configuration(), url_fetcher=_fetcher({})),
        CSS(
            string=f"@page {{ size: {paper} }} @page wide {{ size: {paper} landscape }}",
            font_config=_font_configuration(),
        ),
    ]


def _let_go() -> None:
    """Give fonts back while their library is still loaded; at the very end of the process it is too late."""
    _stylesheets.cache_clear()
    _font_configuration.cache_clear()


atexit.register(_let_go)


def _drawings_apart(html: str) -> tuple[str, dict[str, bytes]]:
    """``html`` with its drawings as pictures, and these by their address, with their title as alternative text.

    Within the page each line of a drawing would be styled and laid out like a paragraph: a letter takes an eighth more
    time. A drawing without title, or that is no XML by itself, stays where it is.
    """
    drawings: dict[str, bytes] = {}

    def picture(found: re.Match[str]) -> str:
        drawn = found[0]
        if "xmlns=" not in drawn.partition(">")[0]:
            drawn = drawn.replace("<svg", f'<svg xmlns="{_SVG}"', 1)
        try:
            title = ElementTree.fromstring(drawn).findtext(f"{{{_SVG}}}title")  # noqa: S314  (our own drawing)
        except ElementTree.ParseError:
            return found[0]
        if not title:
            return found[0]
        address = f"drawing:{len(drawings)}"
        drawings[address] = drawn.encode()
        return f'<img src="{address}" alt="{escape(title)}">'

    return _DRAWING.sub(picture, html), drawings


_SVG = "http://www.w3.org/2000/svg"
_DRAWING = re.compile(r"<svg\b(?:(?!<svg\b).)*?</svg>", re.S)


def _fetcher(drawings: Mapping[str, bytes]) -> Any:
    """A fetcher that reads ``drawings`` and the project's own print folder and fonts, and nothing else anywhere."""
    return _own_files_only()(drawings)


@cache
def _own_files_only() -> Any:
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    allowed = tuple(folder.resolve().as_uri() + "/" for folder in (PRINT, FONTS))

    class OwnFilesOnly(URLFetcher):  # type: ignore[misc]
        def __init__(self, drawings: Mapping[str, bytes]) -> None:
            super().__init__(allowed_protocols=("file",))
            self._drawings = drawings

        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            if url in self._drawings:
                return URLFetcherResponse(url, self._drawings[url], {"Content-Type": "image/svg+xml"})
            if not url.startswith(allowed) or ".." in url:
                raise ValueError(f"a paper may load its own fonts only, not {url}")
            return super().fetch(url, headers)

    return OwnFilesOnly


def _attachment(weasyprint: Any, file: Attached) -> Any:
    moment = datetime.combine(file.on, time(), UTC)
    return weasyprint.Attachment(
        string=file.content,
        name=file.name,
        description=file.description or file.name,
        relationship="Source",
        created=moment,
        modified=moment,
    )


@contextmanager
def _listening(complaints: list[str]) -> Iterator[None]:
    """Collect what the renderer warns about, so that the caller can show it and tests can refuse it."""

    class Listener(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            complaints.append(record.getMessage())

    logger, listener = logging.getLogger("weasyprint"), Listener(level=logging.WARNING)
    logger.addHandler(listener)
    try:
        yield
    finally:
        logger.removeHandler(listener)


@contextmanager
def _alarm(seconds: int) -> Iterator[None]:
    """Give up after ``seconds``. Only a process's main thread can be interrupted so; workers render in theirs."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def too_long(_signal: int, _frame: object) -> None:
        raise PaperError(f"The paper was not ready after {seconds} seconds and was given up. Try it again.")

    before = signal.signal(signal.SIGALRM, too_long)
    signal.setitimer(signal.ITIMER_REAL, seconds, 5)  # again, in case the first is swallowed
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
