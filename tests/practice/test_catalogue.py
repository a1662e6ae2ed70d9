"""The office's own treatments: in force while they are without a fault, and nobody stands still when they are not."""

import logging
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client

from planner.practice.catalogue import in_force, settle
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.catalogue import hash_of, shipped

EXAMPLE = Path(__file__).parents[1] / "data" / "own-treatment"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(EXAMPLE, tmp_path / "own")
    return tmp_path / "own"


def spoil(folder: Path) -> None:
    path = folder / "treatments" / "gloss-face.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("undo = 1", "undo = 9"), encoding="utf-8")


class TestSettling:
    def test_a_good_folder_is_in_force_and_kept(self, folder: Path, tmp_path: Path) -> None:
        copies = tmp_path / "copies"
        found = settle(folder, copies)
        assert (found.source, found.faults) == ("own folder", ())
        assert "gloss-face" in found.catalogue.treatments
        name = (copies / "current").read_text(encoding="ascii")
        assert name == hash_of(folder) == hash_of(copies / name) == found.catalogue.own_sha256

    def test_a_faulty_folder_gives_way_to_the_last_good_copy(
        self, folder: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture
    ) -> None:
        before = settle(folder, tmp_path / "copies")
        spoil(folder)
        with caplog.at_level(logging.ERROR):
            found = settle(folder, tmp_path / "copies")
        assert found.source == "last good copy"
        assert found.catalogue.treatments["gloss-face"] == before.catalogue.treatments["gloss-face"]
        assert found.catalogue.own_sha256 == before.catalogue.own_sha256
        [fault] = found.faults
        assert fault.startswith("treatments/gloss-face.toml, line 6: undo")
        assert fault in caplog.text

    def test_without_a_copy_what_is_shipped_is_in_force(self, folder: Path, tmp_path: Path) -> None:
        spoil(folder)
        found = settle(folder, tmp_path / "copies")
        assert (found.source, found.catalogue) == ("shipped", shipped())
        assert found.faults
        assert not (tmp_path / "copies").exists()

    def test_a_copy_that_was_spoilt_itself_is_not_trusted(self, folder: Path, tmp_path: Path) -> None:
        copies = tmp_path / "copies"
        settle(folder, copies)
        spoil(copies / (copies / "current").read_text(encoding="ascii"))
        spoil(folder)
        assert settle(folder, copies).source == "shipped"

    def test_mended_it_is_in_force_again(self, folder: Path, tmp_path: Path) -> None:
        copies = tmp_path / "copies"
        settle(folder, copies)
        spoil(folder)
        settle(folder, copies)
        path = folder / "treatments" / "gloss-face.toml"
        mended = path.read_text(encoding="utf-8").replace("undo = 9", "undo = 2")
        path.write_text(mended, encoding="utf-8")
        found = settle(folder, copies)
        assert (found.source, found.catalogue.treatments["gloss-face"].undo) == ("own folder", 2)

    def test_nothing_but_toml_is_kept(self, folder: Path, tmp_path: Path) -> None:
        (folder / "notes.txt").write_text("x", encoding="utf-8")
        settle(folder, tmp_path / "copies")
        assert not list((tmp_path / "copies").rglob("*.txt"))

    def test_a_disk_that_refuses_stops_nobody(self, folder: Path, tmp_path: Path) -> None:
        (tmp_path / "copies").write_text("a file is in the way", encoding="utf-8")
        assert settle(folder, tmp_path / "copies").source == "own folder"


@pytest.fixture
def faulty(folder: Path, tmp_path: Path, settings: Any) -> Iterator[Path]:
    spoil(folder)
    settings.TREATMENTS_DIR, settings.VAR_DIR = folder, tmp_path / "var"
    in_force.cache_clear()
    yield folder
    in_force.cache_clear()


def test_without_the_setting_what_is_shipped_is_in_force() -> None:
    assert (in_force().source, in_force().catalogue) == ("shipped", shipped())


def test_check_tells_every_fault(faulty: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("check")
    said = capsys.readouterr().err
    assert "treatments/gloss-face.toml, line 6" in said
    assert "In force instead: shipped" in said


@pytest.mark.django_db
class TestBanner:
    @pytest.mark.parametrize(
        ("role", "told"),
        [
            (Role.DENTIST, True),
            (Role.OWNER, True),
            (Role.MANAGER, True),
            (Role.FRONT_DESK, False),
            (Role.ASSISTANT, False),
        ],
    )
    def test_dentists_and_managers_are_told(
        self, faulty: Path, person: Callable[..., Staff], role: Role, told: bool
    ) -> None:
        client = Client()
        client.force_login(person(role), backend="planner.practice.backends.StaffBackend")
        page = client.get("/", secure=True).content.decode()
        assert ("treatments/gloss-face.toml, line 6" in page) is told

    def test_nobody_is_told_while_all_is_well(self, owner: Staff) -> None:
        client = Client()
        client.force_login(owner, backend="planner.practice.backends.StaffBackend")
        assert "own-treatments" not in client.get("/", secure=True).content.decode()
