"""Helpers that tests of several floors share: time, one small office book, and how to empty guarded tables."""

import os
import pickle
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path

from planner.letters.pdf import Job, Rendered, render_here
from planner.rules.book import OfficeBook, PriceList, Service
from planner.rules.results import sha256

NOW = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)
"""Monday 2 March 2026, ten in the morning in the test office."""
TODAY = date(2026, 3, 2)
PASSWORD = "correct horse battery staple"


def small_book(**changes: object) -> OfficeBook:
    """An office book with one price, in force since the start of the year."""
    service = Service(key="build-up", code="T-BLD", words="Build-up of a tooth", shape="per tooth", cents="445.00")
    values: dict[str, object] = {
        "office": "Test office",
        "place": "Testing",
        "currency": "CAD",
        "time_zone": "America/Toronto",
        "price_lists": (PriceList(version=1, effective=date(2026, 1, 1), services=(service,)),),
    }
    return OfficeBook.model_validate(values | changes)


@contextmanager
def guards_lifted() -> Iterator[None]:
    """Let a test empty or spoil guarded tables; the guards stand again afterwards."""
    from planner.trail.triggers import lifted

    with lifted():
        yield


@cache
def render_once(what: Job) -> Rendered:
    """Renders as a worker would, but the same paper only once for all tests of a run, whichever process asks first.

    That may be, because the same job is the same bytes in any process (``test_repeat.py``, which renders for itself).
    """
    folder = os.environ.get("LEASTWAYS_TEST_PAPERS")
    if not folder:
        return render_here(what)
    kept = Path(folder) / sha256(pickle.dumps(what))
    if not kept.exists():
        made = kept.with_suffix(f".{os.getpid()}.{threading.get_ident()}")
        made.write_bytes(pickle.dumps(render_here(what)))
        made.rename(kept)
    again: Rendered = pickle.loads(kept.read_bytes())
    return again


def migrated(to: Path) -> None:
    """An SQLite file with every migration run and no row of an office, for a test that starts the program as a process.

    Running them all takes some fifteen seconds, so the first test of a run that wants such a file makes it for all.
    """
    folder = os.environ.get("LEASTWAYS_TEST_PAPERS")
    kept = Path(folder) / "migrated.sqlite3" if folder else to
    if not kept.exists():
        made = kept.with_suffix(f".{os.getpid()}")
        environment = os.environ | {"DATABASE_URL": f"sqlite:///{made}", "LEASTWAYS_PLAIN_HTTP": "1"}
        root = Path(__file__).resolve().parent.parent
        subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], check=True, cwd=root, env=environment)
        # Closed by its only user, SQLite has written its log back into the file itself.
        made.rename(kept)
    if kept != to:
        shutil.copyfile(kept, to)
