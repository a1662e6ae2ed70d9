"""A restore that is killed at each step it tells of: its place is empty for everybody then, and the next one works."""

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import DatabaseError, connection

from planner.keeping.archive import Tell
from planner.keeping.databases import postgres, read_instead
from planner.keeping.restoring import restore_backup
from planner.letters.consent_models import Signature
from planner.trail.errors import Refused
from planner.trail.services import verify_chain
from tests.forked import killed_at
from tests.keeping.conftest import Kept, empty_place, silent
from tests.support import NOW

pytestmark = pytest.mark.django_db(transaction=True)


def restored(kept: Kept, place: dict[str, Any], folder: Path, tell: Tell, after: Callable[[], None]) -> None:
    restore_backup(
        kept.path, database=place, treatments=folder / "own", identity=None, replacing=False, despite_faults=False,
        after=after, now=NOW, tell=tell,
    )  # fmt: skip


def test_a_restore_killed_at_any_step_leaves_a_place_that_is_empty_for_all(kept: Kept, tmp_path: Path) -> None:
    with empty_place(tmp_path) as place:
        for step in itertools.count(1):
            assert step < 20
            # The last thing told of is that all was read, before whoever was erased since is erased again.
            if not killed_at(step, lambda tell: restored(kept, place, tmp_path, tell, lambda: tell("read"))):
                break
            assert len(list(tmp_path.glob("keeping-*"))) == 1, "what it unpacked lies there"
            with read_instead(place) as seen:
                assert seen.introspection.table_names() == [], f"step {step}"
                with pytest.raises(DatabaseError):
                    Signature.objects.count()
        assert step > 4, "reading, counting, reading the papers, and what comes after"
        assert list(tmp_path.glob("keeping-*")) == [], "and is gone with the next one"
        with read_instead(place):
            assert verify_chain(known={kept.manifest.trail.entries: kept.manifest.trail.head}).faults == ()
            assert Signature.objects.count() == 1


def fails() -> None:
    raise Refused("The list of who was erased cannot be read.")


def test_after_a_fault_the_place_is_empty_and_takes_the_next_restore(kept: Kept, tmp_path: Path) -> None:
    with empty_place(tmp_path) as place:
        with pytest.raises(Refused, match="who was erased"):
            restored(kept, place, tmp_path, silent, fails)
        restored(kept, place, tmp_path, silent, lambda: None)
        with read_instead(place):
            assert Signature.objects.count() == 1


@pytest.mark.skipif(connection.vendor != "postgresql", reason="a file belongs to whoever may write it")
def test_a_user_without_further_rights_restores_into_a_database_that_is_his_own(kept: Kept, tmp_path: Path) -> None:
    """Any other database is left as it is, with a sentence that says what to do."""
    with empty_place(tmp_path) as place, postgres(place) as link:
        his = place | {"USER": "passer_by"}
        link.execute("CREATE ROLE passer_by LOGIN")
        try:
            with pytest.raises(Refused, match=r"not that of the user passer_by.*OWNER TO"):
                restored(kept, his, tmp_path, silent, lambda: None)
            assert link.execute("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'").fetchone() == (0,)
            link.execute(f'ALTER DATABASE "{place["NAME"]}" OWNER TO passer_by')
            with pytest.raises(Refused, match="who was erased"):
                restored(kept, his, tmp_path, silent, fails)
            restored(kept, his, tmp_path, silent, lambda: None)
            with read_instead(his):
                assert Signature.objects.count() == 1
        finally:
            link.execute("REASSIGN OWNED BY passer_by TO CURRENT_USER")
            link.execute("DROP ROLE passer_by")
