"""The page of long runs: a run replaces its own section, and names the machine by what it can do only."""

import platform
import re
from pathlib import Path

import pytest

from tools import soak_page


def test_a_run_replaces_its_own_section_and_leaves_the_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = tmp_path / "soak.md"
    monkeypatch.setattr(soak_page, "PAGE", page)
    soak_page.keep("One", ["- first"])
    soak_page.keep("Two", ["| a |", "|---|", "| 1 |"])
    soak_page.keep("One", ["- second"])
    said = page.read_text(encoding="utf-8")
    assert said.startswith(soak_page.HEAD)
    assert re.findall(r"^## (.+)$", said, re.MULTILINE) == ["One", "Two"]
    assert "first" not in said
    assert said.index("- second") < said.index("| 1 |")
    assert len(re.findall(r"^\d{4}-\d\d-\d\d, \d+ cores, \d+ GB, ", said, re.MULTILINE)) == 2
    assert len(re.findall(r"; load at the end, over 1, 5 and 15 minutes: \d+\.\d, \d+\.\d, \d+\.\d", said)) == 2
    assert platform.node() not in said


def test_the_page_that_is_kept_was_written_by_the_runs() -> None:
    said = soak_page.PAGE.read_text(encoding="utf-8")
    assert said.startswith(soak_page.HEAD)
    assert re.search(r"^## Faults on SQLite\n\n\d{4}-\d\d-\d\d, ", said, re.MULTILINE)
