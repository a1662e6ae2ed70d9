"""A backup and a restore that are cut off before each step they take in a folder, and what stands there then.

DATABASE_URL=sqlite:... python -m tests.faults.cut_off FOLDER [STEP ...]     prints how often, and what was wrong

Each is done in a process of its own, which kills itself before the step; the steps are those of Python's audit events.
"""

import itertools
import json
import os
import shutil
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import django

from tests.forked import killed_at

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.config.settings")
STEPS = ("os.rename", "os.link", "os.remove", "os.mkdir", "os.rmdir", "shutil.copyfile")
MOST = 60


def cut_off(step: int, steps: frozenset[str], act: Callable[[], object]) -> bool:
    """Do ``act`` in a process that is killed before its ``step``-th step; False where it came to its end before."""

    def counted(count: Callable[..., None]) -> None:
        def hook(event: str, _given: object) -> None:
            if event in steps:
                count()

        sys.addaudithook(hook)
        act()

    return killed_at(step, counted)


def tried(folder: Path, steps: frozenset[str]) -> dict[str, Any]:
    """Back up and restore, cut off before the first step, the second, and so on until nothing is left to cut off."""
    from django.db import connection
    from django.utils import timezone

    from planner.keeping.backing_up import make_backup
    from planner.keeping.checking import check_backup
    from planner.keeping.restoring import restore_backup
    from planner.plans.cases import change_case
    from planner.plans.models import Case
    from tests.faults.office import fill
    from tests.faults.serving import DENTIST

    def silent(_words: str) -> None:
        pass

    fill(1, 0)
    database, wrong, now = dict(connection.settings_dict), [], timezone.now()
    target, whole = Path(database["NAME"]), folder / "none"
    connection.close()
    for step in itertools.count(1):
        assert step < MOST
        dest = folder / f"backup-{step}.tar"
        told: Any = {"database": database, "work": folder / "work", "tell": silent}
        cut = cut_off(step, steps, lambda: make_backup(dest, treatments=None, key=None, now=now, **told))  # noqa: B023
        if dest.exists() and check_backup(dest, identity=None, **told).faults:
            wrong.append(f"a backup cut off before step {step} bears its name and does not hold")
        connection.close()
        if not cut:
            whole, backups = dest, step - 1
            break
    then = _entries(target)
    case = Case.objects.select_related("office", "patient").get()
    change_case(
        case=case,
        seen=case.version,
        notes="later",
        actor=case.office.staff.get(username=DENTIST),
        now=now + timedelta(1),
    )
    connection.close()
    later = _entries(target)
    shutil.copyfile(target, folder / "later.sqlite3")
    for step in itertools.count(1):
        assert step < MOST
        cut = cut_off(
            step,
            steps,
            lambda: restore_backup(
                whole, database=database, treatments=folder / "own", identity=None, replacing=True,
                despite_faults=False, after=lambda: None, now=now, tell=silent,
            ),
        )  # fmt: skip
        found = _entries(target)
        aside = [_entries(one) for one in target.parent.glob(f"{target.name}.before-*")]
        if found not in (then, later) or (found == then and later not in aside):
            wrong.append(f"cut off before step {step}, {found} stands there and {aside} aside, not {then} or {later}")
        if not cut:
            if found != then:
                wrong.append("nothing came back")
            return {"backups": backups, "restores": step - 1, "wrong": wrong}
        for one in target.parent.glob(f"{target.name}*"):
            one.unlink()
        shutil.copyfile(folder / "later.sqlite3", target)
    raise AssertionError


def _entries(path: Path) -> int:
    """How many entries the record in the database has; less than none where there is no whole database."""
    if not path.exists():
        return -1
    with closing(sqlite3.connect(path)) as link:
        if link.execute("PRAGMA integrity_check").fetchone() != ("ok",):
            return -2
        return int(link.execute("SELECT count(*) FROM trail_trailentry").fetchone()[0])


if __name__ == "__main__":
    django.setup()
    given = sys.argv[1:]
    print(json.dumps(tried(Path(given[0]), frozenset(given[1:] or STEPS))))
