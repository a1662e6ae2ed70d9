"""Papers, as ratios measured side by side in one run: against plain paragraphs, and two processes against one.

    python tools/bench_papers.py [LETTERS]

``LETTERS`` consent letters of the lead case (200 unless said) are made by one process and then by two. The lead letter
is also held against as many pages of plain paragraphs, drawn by the same renderer without tags, attachment and last
step: what the renderer needs for words alone. Absolute times are printed to read, never asserted.
"""

import os
import resource
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from functools import cache
from multiprocessing import get_context
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


def _make(letter: pdf.Job) -> int:
    return len(pdf.render_here(letter).content)


def several(letters: int) -> None:
    """Print how long ``letters`` lead letters take with one process and with two, both warm."""
    letter = lead_paper()
    taken = {}
    for workers in (1, 2):
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            list(pool.map(_make, [letter] * 4 * workers))
            start = time.perf_counter()
            list(pool.map(_make, [letter] * letters))
            taken[workers] = time.perf_counter() - start
    print(
        f"{letters} letters: one process {taken[1]:.1f} s, two {taken[2]:.1f} s, {taken[1] / taken[2]:.2f} times faster"
    )


def growth(count: int, kind: str = "consent-letter") -> float:
    """How many MB a process of its own is larger after ``count`` papers than after those that warm it up."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(_grown, count, kind).result()


def _grown(count: int, kind: str) -> float:
    paper = lead_paper(kind)
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
