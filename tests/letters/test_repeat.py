"""The same paper is the same bytes anywhere and any time, and making many does not fill the memory."""

import ctypes
import gc
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import ClassVar

from django.conf import settings

from planner.letters.papers import KINDS
from planner.letters.pdf import Job, Rendered, render_here
from planner.rules.results import sha256
from tests.letters.conftest import rendered
from tools.bench_papers import lead_paper

CODE = """
import json, os, django
os.environ["DJANGO_SETTINGS_MODULE"] = "planner.config.settings"
django.setup()
from planner.letters.papers import KINDS
from planner.rules.results import sha256
from tests.letters.conftest import rendered
print(json.dumps({kind: sha256(rendered(kind).content) for kind in KINDS}))
"""


def test_every_kind_of_paper_is_the_same_bytes_in_another_process(papers: dict[str, Rendered], tmp_path: Path) -> None:
    """Whatever the order of its sets, its time zone and its locale."""
    environment = {"PATH": os.environ["PATH"], "PYTHONHASHSEED": "4711", "TZ": "Asia/Tokyo", "LC_ALL": "C"}
    environment |= {"LEASTWAYS_VAR": str(tmp_path), "PYTHONUTF8": "1", "SOURCE_DATE_EPOCH": "1"}
    command = [sys.executable, "-c", CODE]
    done = subprocess.run(command, cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == {kind: sha256(rendered(kind).content) for kind in KINDS}
    assert papers.keys() == KINDS.keys()


_NAMES = ("arena", "ordblks", "smblks", "hblks", "hblkhd", "usmblks", "fsmblks", "uordblks", "fordblks", "keepcost")


class _Held(ctypes.Structure):
    """What the allocator of the C library says of itself, mallinfo(3)."""

    _fields_: ClassVar = [(name, ctypes.c_size_t) for name in _NAMES]


def _held() -> int:
    """Bytes that the libraries below Python hold in this process."""
    library = ctypes.CDLL("libc.so.6")
    library.mallinfo2.restype = _Held
    gc.collect()
    return int(library.mallinfo2().uordblks)


def _keeps(job: Job) -> float:
    """Bytes that a paper leaves behind, once two have filled what is kept for all of them."""
    render_here(job)
    render_here(job)
    before = _held()
    for _ in range(3):
        render_here(job)
    return (_held() - before) / 3


def test_a_paper_keeps_nothing() -> None:
    """Without one font configuration for all, each of these keeps 700 kB; ``make soak`` makes five hundred letters."""
    assert _keeps(lead_paper("option-sheet")) < 10_000


def test_marks_of_lists_and_columns_of_figures_keep_nothing() -> None:
    """A feature asked for at a line of text instead of in the font keeps some 300 bytes for good, here 100 kB a paper:
    the marks of every list ask for one unless told otherwise.
    """
    points = "<ul>" + "<li>A point.</li>" * 100 + "</ul><ol>" + "<li>A point.</li>" * 100 + "</ol>"
    figures = "<table>" + '<tr><th>Sum</th><td class="number">1,618.25</td></tr>' * 100 + "</table>"
    html = f'<html lang="en"><head><title>x</title></head><body><h1>x</h1>{points}{figures}</body></html>'
    assert _keeps(Job(html)) < 10_000
