"""What it costs on SQLite that a saved case is on the disk before anybody is told so: synchronous FULL beside NORMAL.

The program's own saving of a case, in turn with one and with the other on the same file and connection, so that what
else the machine does meets both alike; and a save with everything a page does around it, as people feel it. Nothing is
asserted: the disk decides.

python tools/bench_durable.py
"""

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

ROUNDS = 60
MODES = ("FULL", "NORMAL")


def main() -> int:
    """Make an office in a file, save in it in both modes, print medians and ratios."""
    # Beside the project, where the data would lie: a temporary folder may be held in memory.
    (ROOT / "var").mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="bench-", dir=ROOT / "var") as folder:
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "planner.config.settings",
            "DATABASE_URL": f"sqlite:////{(Path(folder) / 'office.sqlite3').as_posix().lstrip('/')}",
            "LEASTWAYS_PLAIN_HTTP": "1",
        }
        import django

        django.setup()
        from django.core.management import call_command
        from django.db import connection

        call_command("migrate", verbosity=0)
        try:
            _timed()
        finally:
            connection.close()
    return 0


def _timed() -> None:
    from django.test import Client
    from django.test.utils import override_settings
    from django.utils import timezone

    from planner.plans.casefiles import import_case_file
    from planner.plans.cases import change_case
    from planner.rules.casefile import parse_case, resolve_days, validate_case
    from tests.pages import priced_office
    from tests.support import TODAY

    owner = priced_office()
    facts = resolve_days(parse_case((ROOT / "fixtures/cases/lead.json").read_bytes()), TODAY)
    case = import_case_file(facts=validate_case(facts, TODAY), actor=owner, now=timezone.now()).case

    def save(word: str) -> None:
        nonlocal case
        case = change_case(case=case, seen=case.version, notes=word, actor=owner, now=timezone.now())

    full, normal = _in_turn(save)
    print(f"a case saved on SQLite: synchronous FULL {full:.1f} ms, NORMAL {normal:.1f} ms, ratio {full / normal:.2f}")
    client = Client()
    client.force_login(owner, backend="planner.practice.backends.StaffBackend")

    def page(word: str) -> None:
        case.refresh_from_db()
        sent = {"name": case.name, "numbering": case.numbering, "notes": word, "seen": case.version}
        answer = client.post(f"/plans/{case.public_id}/about/", sent)
        assert answer.status_code == 302, answer.content

    with override_settings(ALLOWED_HOSTS=["testserver"]):
        full, normal = _in_turn(page)
    print(f"the page that saves it, as a whole: FULL {full:.1f} ms, NORMAL {normal:.1f} ms, ratio {full / normal:.2f}")


def _in_turn(act: Callable[[str], None]) -> tuple[float, float]:
    """Median milliseconds of ``act`` with FULL and with NORMAL."""
    from django.db import connection

    taken: dict[str, list[float]] = {mode: [] for mode in MODES}
    act("warm")
    for number in range(ROUNDS):
        for mode in MODES if number % 2 else MODES[::-1]:
            with connection.cursor() as cursor:
                cursor.execute(f"PRAGMA synchronous={mode}")
            start = time.perf_counter()
            act(f"{mode} {number}")
            taken[mode].append((time.perf_counter() - start) * 1000)
    return statistics.median(taken["FULL"]), statistics.median(taken["NORMAL"])


if __name__ == "__main__":
    sys.exit(main())
