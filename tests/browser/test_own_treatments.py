"""What dentists see while the office's own treatments are faulty."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from planner.practice.catalogue import in_force
from planner.practice.models import Staff
from tests.browser.conftest import look

EXAMPLE = Path(__file__).parents[1] / "data" / "own-treatment"


@pytest.fixture
def faulty(tmp_path: Path, settings: Any) -> Iterator[None]:
    shutil.copytree(EXAMPLE, tmp_path / "own")
    path = tmp_path / "own" / "treatments" / "gloss-face.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("undo = 1", "undo = 9\nspeed = 3"), encoding="utf-8")
    settings.TREATMENTS_DIR, settings.VAR_DIR = tmp_path / "own", tmp_path / "var"
    in_force.cache_clear()
    yield
    in_force.cache_clear()


def test_faults_stand_at_the_head_of_the_page(
    owner: Staff, signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], faulty: None
) -> None:
    page = signed_in(owner)
    page.goto(live_server.url)
    banner = page.get_by_role("status", name="The office's own treatments have faults")
    expect(banner).to_contain_text("that come with the program")
    banner.get_by_text("2 faults").click()
    expect(banner.get_by_text("treatments/gloss-face.toml, line 7: speed")).to_be_visible()
    look(page, "own-treatments-faulty")
    assert console == []
