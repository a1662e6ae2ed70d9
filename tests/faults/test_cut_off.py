"""A backup and a restore cut off in the middle, as by a power cut: nothing half done is taken for whole.

Outside check: rename() of POSIX.1-2017, by which a name stands for the old file or the new one at every moment.
"""

import json
from pathlib import Path

from tests.faults.serving import Place
from tests.support import migrated


def test_whenever_it_is_cut_off_the_old_or_the_new_stands_there(tmp_path: Path) -> None:
    migrated(tmp_path / "office.sqlite3")
    place = Place(f"sqlite:////{(tmp_path / 'office.sqlite3').as_posix().lstrip('/')}", tmp_path)
    (tmp_path / "tried").mkdir()
    found = json.loads(place.call("-m", "tests.faults.cut_off", str(tmp_path / "tried"), "os.rename", "os.link"))
    assert found == {"backups": 1, "restores": 2, "wrong": []}
