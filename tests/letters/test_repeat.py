"""The same paper is the same bytes anywhere and any time, and making many does not fill the memory."""

import json
import os
import subprocess
import sys
from pathlib import Path

from django.conf import settings

from planner.letters.papers import KINDS
from planner.letters.pdf import Rendered
from planner.rules.results import sha256
from tests.letters.conftest import rendered
from tools.bench_papers import growth

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


def test_thirty_papers_do_not_grow_the_memory() -> None:
    """Without one font configuration for all, thirty keep 7 MB; ``make soak`` makes five hundred letters."""
    assert growth(30, "option-sheet") < 4
