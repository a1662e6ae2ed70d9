"""Papers, as ratios measured side by side in one run: against plain paragraphs, and two processes against one.

    python tools/bench_papers.py [LETTERS]

``LETTERS`` consent letters of the lead case (200 unless said) are made by one process and then by two, beside work that
shares nothing, which shows what two processes can be on this machine at all. The lead letter is also held against as
many pages of plain paragraphs, drawn by the same renderer without tags, attachment and last step: what the renderer
needs for words alone. Absolute times are printed to read, never asserted.
"""

import os
import resource
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, wait
from dataclasses import dataclass
from datetime import date
from functools import cache
from multiprocessing import get_context
from multiprocessing.synchronize import Barrier
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.config.settings")

from planner.letters import pdf  # noqa: E402
from tools.timing import median_ms  # noqa: E402

DAY = date(2026, 3, 2)
WARM = 30
"""Papers after which a process has everything that it keeps."""
_LINE = (
    "<p>We measured your teeth, and you told us what matters to you. This line is as long as a line of a letter.</p>"
)


@cache
def lead_paper(kind: str = "consent-letter") -> pdf.Job:
    """A paper of the lead case, planned from its case file, ready to be drawn."""
    import django

    django.setup()
    from planner.letters.papers import job
    from planner.rules.bookfile import load_book
    from planner.rules.casefile import parse_case, resolve_days, validate_case
    from planner.rules.plan import plan_case

    book = load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), DAY)
    facts = validate_case(resolve_days(parse_case((ROOT / "fixtures/cases/lead.json").read_bytes()), DAY), DAY)
    return job(plan_case(facts, book, DAY).to_json(), kind)


def plain(pages: int) -> tuple[str, int]:
    """HTML of plain paragraphs that fill ``pages`` pages with the style of papers, and how many it fills."""
    from weasyprint import HTML

    def drawn(count: int) -> int:
        html = HTML(string=_page(count))
        return len(html.render(font_config=pdf._font_configuration(), stylesheets=pdf._stylesheets("A4")).pages)

    count = 10 * pages
    while drawn(count) < pages:
        count += 5
    while drawn(count) > pages:
        count -= 1
    return _page(count), drawn(count)


def _page(count: int) -> str:
    return f'<html lang="en" class="points-11"><head><title>x</title></head><body>{_LINE * count}</body></html>'


def against_plain() -> None:
    """Print how long the lead letter takes, and as many pages of plain paragraphs."""
    from weasyprint import HTML

    letter = lead_paper()
    pages = pdf.render_here(letter).pages
    html, filled = plain(pages)

    def paragraphs() -> None:
        HTML(string=html).write_pdf(font_config=pdf._font_configuration(), stylesheets=pdf._stylesheets("A4"))

    rows = {
        f"{filled} pages of plain paragraphs": median_ms(paragraphs, 7),
        f"lead letter, {pages} pages, tags, data": median_ms(lambda: pdf.render_here(letter), 7),
    }
    base = next(iter(rows.values()))
    print(f"{'':42}{'median ms':>10}{'ratio to paragraphs':>24}")
    for name, milliseconds in rows.items():
        print(f"{name:42}{milliseconds:10.1f}{milliseconds / base:24.1f}")


def _letter_made() -> float:
    """Seconds of processor time that this process spent on one letter."""
    start = time.process_time()
    pdf.render_here(lead_paper())
    return time.process_time() - start


def _counted() -> float:
    """The same for about as much work that shares nothing, needs hardly any memory and touches no file."""
    start = time.process_time()
    sum(one * one % 7 for one in range(12_000_000))
    return time.process_time() - start


@dataclass(frozen=True)
class Run:
    """So much of one kind of work: seconds by the clock, and of processor time in the workers and in this process."""

    clock: float
    workers: float
    parent: float


def _warmed(work: Callable[[], float], ready: Barrier) -> None:
    for _ in range(3):
        work()
    ready.wait()


def run(work: Callable[[], float], count: int, workers: int) -> Run:
    """``work`` done ``count`` times by ``workers`` processes.

    Each is warm before the clock starts: one that still loads its fonts while the other works would make two look slow.
    """
    context = get_context("spawn")
    ready = context.Barrier(workers + 1)
    with ProcessPoolExecutor(workers, context, _warmed, (work, ready)) as pool:
        first = [pool.submit(work) for _ in range(workers)]
        ready.wait()
        wait(first)
        clock, parent = time.perf_counter(), time.process_time()
        spent = sum(one.result() for one in [pool.submit(work) for _ in range(count)])
        return Run(time.perf_counter() - clock, spent, time.process_time() - parent)


def several(letters: int) -> None:
    """Print how much faster two processes make ``letters`` lead letters than one, by the clock and in processor time.

    The clock is worth something where the machine does nothing else. Processor time says what two would reach there:
    less than 2 where a letter costs more while another is made, or where handing out the work is in the way.
    """
    print(f"{'':34}{'one, s':>9}{'two, s':>9}{'faster':>9}{'in processor time':>19}{'handing out, ms':>17}")
    for name, work, count in (
        (f"{letters} letters", _letter_made, letters),
        ("counting, which shares nothing", _counted, max(8, letters // 5)),
    ):
        one, two = (run(work, count, workers) for workers in (1, 2))
        reached = one.workers / max(two.workers / 2, two.parent)
        print(
            f"{name:34}{one.clock:9.1f}{two.clock:9.1f}{one.clock / two.clock:9.2f}{reached:19.2f}"
            f"{1000 * two.parent / count:17.1f}"
        )


def growth(count: int) -> float:
    """How many MB a process of its own is larger after ``count`` letters than after those that warm it up."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(_grown, count).result()


def _grown(count: int) -> float:
    paper = lead_paper()
    for _ in range(WARM):
        pdf.render_here(paper)
    before = _megabytes()
    for _ in range(count):
        pdf.render_here(paper)
    return _megabytes() - before


def _megabytes() -> float:
    """What the process holds now, not at its highest."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * resource.getpagesize() / 1024**2


def main(letters: int) -> int:
    against_plain()
    several(letters)
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
