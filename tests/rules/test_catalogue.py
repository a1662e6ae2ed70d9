"""A folder of an office's own: a whole treatment without a line of code, and every fault with file, line and reason.

The treatment is made up, and so are its numbers.
"""

import shutil
from pathlib import Path
from typing import Any

import pytest

from planner.rules.book import OfficeBook
from planner.rules.bookfile import load_book
from planner.rules.casefile import validate_case
from planner.rules.catalogue import CatalogueFaults, known_services, load_catalogue, shipped
from planner.rules.catalogue_checks import faults_within
from planner.rules.evidence import DATA
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan
from planner.rules.toml_lines import line_of
from planner.rules.verdicts import Verdict
from tests.rules.books import SERVICE_KEYS
from tests.rules.test_casefile import TODAY, changed, lead

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = Path(__file__).parents[1] / "data" / "own-treatment"
"""A treatment with its own gate, combination, upkeep and words, as an office would keep it."""


@pytest.fixture(scope="module")
def book() -> OfficeBook:
    return load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), TODAY)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(EXAMPLE, tmp_path / "own")
    return tmp_path / "own"


def planned(data: dict[str, Any], book: OfficeBook, folder: Path) -> CasePlan:
    return plan_case(validate_case(data, TODAY), book, TODAY, catalogue=load_catalogue(folder))


class TestAWholeTreatment:
    def test_it_stands_among_the_shipped_ones(self, folder: Path) -> None:
        found = load_catalogue(folder)
        assert set(found.treatments) == {*shipped().treatments, "gloss-face"}
        assert list(found.treatments) == sorted(found.treatments)
        assert set(found.combinations) == {*shipped().combinations, "whiten-then-gloss-face"}

    def test_it_is_proposed_priced_ranked_and_told(self, folder: Path, book: OfficeBook) -> None:
        plan = planned(lead(), book, folder)
        option = plan.option("gloss-face")
        assert option.verdict is Verdict.CARE
        assert {"gloss-face.smoke", "canine-as-lateral"} >= {reason.gate for reason in option.reasons}
        assert option.estimate.total_cents == 4 * 56_000 + 4 * 5_500  # 4 faces at 560 and 4 wax-ups at 55
        assert option.plain.startswith("We spray")
        assert [risk.of_100_high for risk in option.risks if risk.of_100_high] == [20]
        assert option.upkeep.total_cents > 10 * 6_500
        assert "gloss-face-kept" in option.upkeep.sources
        assert "gloss-face-kept" in {line.key for line in plan.evidence}
        assert option.rank.place > plan.option("none").rank.place
        assert option.estimate.lines[0].service == "direct-face"

    def test_its_own_gate_flips(self, folder: Path, book: OfficeBook) -> None:
        def gates(data: dict[str, Any]) -> set[str]:
            return {reason.gate for reason in planned(data, book, folder).option("gloss-face").reasons}

        assert "gloss-face.smoke" not in gates(lead())
        assert "gloss-face.smoke" in gates(changed("history.nicotine_per_day", 3))

    def test_its_combination_waits_as_it_says(self, folder: Path, book: OfficeBook) -> None:
        data = lead()
        data["wishes"].append({"rank": 4, "words": "lighter", "targets": [{"kind": "colour lighter"}]})
        plan = planned(data, book, folder)
        option = plan.option("whiten-then-gloss-face")
        alone = plan.option("gloss-face")
        assert option.treatments == ("whitening", "gloss-face")
        assert option.earliest_finish is not None
        assert alone.earliest_finish is not None
        assert (option.earliest_finish - alone.earliest_finish).days >= 14
        assert option.estimate.total_cents > alone.estimate.total_cents

    def test_the_plan_says_which_rules_were_in_force(self, folder: Path, book: OfficeBook) -> None:
        with_own = planned(lead(), book, folder)
        without = plan_case(validate_case(lead(), TODAY), book, TODAY)
        assert with_own.rules_sha256 != without.rules_sha256
        path = folder / "treatments" / "gloss-face.toml"
        path.write_text(f"{path.read_text(encoding='utf-8')}\n# another thought\n", encoding="utf-8")
        assert planned(lead(), book, folder).rules_sha256 != with_own.rules_sha256

    def test_a_file_called_as_a_shipped_one_replaces_it(self, folder: Path) -> None:
        text = (DATA / "treatments" / "whitening.toml").read_text(encoding="utf-8")
        changed_name = text.replace('name = "Whitening"', 'name = "Night whitening"')
        (folder / "treatments" / "whitening.toml").write_text(changed_name, encoding="utf-8")
        assert load_catalogue(folder).treatments["whitening"].name == "Night whitening"


def fault_of(folder: Path, file: str, old: str, new: str) -> str:
    """What is said once ``old`` has become ``new`` in one file of the folder; there must be exactly one fault."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert text.count(old) >= 1, old
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(CatalogueFaults) as caught:
        load_catalogue(folder)
    [fault] = caught.value.faults
    assert fault.file == file
    return str(fault)


PAIR = '["whitening", "gloss-face"]'
GLOSS, KEPT, COMBINED = "treatments/gloss-face.toml", "evidence/gloss.toml", "combinations.toml"


class TestFaults:
    @pytest.mark.parametrize(
        ("file", "old", "new", "line", "why"),
        [
            (GLOSS, "undo = 1", "undo = 1\nspeed = 3", "speed = 3", "speed: is not known here"),
            (GLOSS, "undo = 1", "undo = 7", "undo = 7", "undo"),
            (GLOSS, "undo = 1", "undo = 1\nundo = 2", "undo = 2", "not readable as TOML"),
            (GLOSS, 'works_on = "faces"', "", None, "works_on: is missing"),
            (GLOSS, 'works_on = "faces"', 'works_on = "spaces"', "works_on", "exactly one treatment does"),
            (GLOSS, 'key = "gloss-face"', 'key = "gloss"', 'key = "gloss"', "key and file name must agree"),
            (GLOSS, 'after = ["N01"]', 'after = ["N02"]', None, "circle"),
            (GLOSS, 'after = ["N01"]', 'after = ["N09"]', None, "N09, which is not there"),
            (GLOSS, '["bonding", ', '["bonding", "gold-leaf", ', "not_on_same", '"gold-leaf", which is no treatment'),
            (GLOSS, '["bonding", ', '["bonding", "whitening", ', "not_on_same", "they never meet"),
            (GLOSS, '["bonding", ', '["bonding", "gloss-face", ', "not_on_same", "excludes itself"),
            (GLOSS, 'service = "direct-face"', 'service = "spray"', 'service = "spray"', '"spray" is no service'),
            (GLOSS, 'counted = "teeth"', 'counted = "patient"', 'counted = "patient"', 'charged "per tooth"'),
            (GLOSS, 'counted = "teeth"', 'counted = "miles"', 'counted = "miles"', "counted"),
            (GLOSS, "[[charges]]", '[[charges]]\nnot_with = ["none"]', 'not_with = ["none"]', "they never meet"),
            (GLOSS, 'wait = "laboratory-days"', 'wait = "gloss-face-kept"', "wait =", "days are wanted"),
            (GLOSS, 'source = "common practice, no source"', "", 'id = "gloss-face.smoke"', "source"),
            (GLOSS, 'looks_at = "history.nicotine_per_day"', 'looks_at = "history.shoe"', "gloss-face.smoke", "shoe"),
            (GLOSS, "We spray", "We spray 7 times", "words = ", "the number 7 is typed"),
            (GLOSS, 'evidence = ["gloss-face-kept"]', 'evidence = ["gone"]', 'evidence = ["gone"]', '"gone"'),
            (KEPT, 'certainty = "memory"', 'certainty = "published"', 'certainty = "published"', "no source is named"),
            (KEPT, 'note = "made up for a test"', "", "certainty", "neither a source nor a note"),
            (KEPT, 'unit = "of 100 faces"', 'unit = ""', 'unit = ""', "no unit"),
            (KEPT, 'value = "80"', 'value = "180"', None, "180 of 100 cannot be"),
            (COMBINED, 'days = "whitening-bond-wait"', 'days = "gum-line-months"', "days = ", "counted in months"),
            (COMBINED, 'before = "gloss-face"', 'before = "braces"', None, "not one of the treatments"),
            (COMBINED, '["whitening", "gloss-face"]', '["whitening", "gold"]', None, "is not one of the treatments"),
            (COMBINED, 'treatments = [', f'same_visit = [{PAIR}]\ntreatments = [', "same_visit", "never belong"),
            (COMBINED, "[[combinations]]", "[courses]\n\n[[combinations]]", "[courses]", '"courses" is not known here'),
        ],
    )  # fmt: skip
    def test_each_is_told_with_file_line_and_reason(
        self, folder: Path, file: str, old: str, new: str, line: str | None, why: str
    ) -> None:
        said = fault_of(folder, file, old, new)
        assert said.startswith(f"{file}, line ")
        assert why in said
        number = int(said.split("line ")[1].split(":")[0])
        text = (folder / file).read_text(encoding="utf-8").splitlines()
        assert 1 <= number <= len(text)
        if line is not None:
            assert line in text[number - 1], (said, text[number - 1])

    def test_all_faults_are_told_at_once(self, folder: Path) -> None:
        text = (folder / GLOSS).read_text(encoding="utf-8")
        (folder / GLOSS).write_text(text.replace("undo = 1", "undo = 9\nspeed = 1"), encoding="utf-8")
        rows = (folder / KEPT).read_text(encoding="utf-8")
        (folder / KEPT).write_text(rows + rows, encoding="utf-8")
        (folder / "notes.toml").write_text("a = 1\n", encoding="utf-8")
        with pytest.raises(CatalogueFaults) as caught:
            load_catalogue(folder)
        assert len({fault.file for fault in caught.value.faults}) >= 3
        assert len(caught.value.faults) >= 4
        assert "stands twice" in str(caught.value)
        assert "lies where nothing is read" in str(caught.value)

    def test_no_folder_is_a_fault_too(self, tmp_path: Path) -> None:
        with pytest.raises(CatalogueFaults, match="no such folder"):
            load_catalogue(tmp_path / "gone")

    def test_an_empty_folder_is_what_is_shipped(self, tmp_path: Path) -> None:
        found = load_catalogue(tmp_path)
        assert (found.treatments, found.own_sha256) == (shipped().treatments, "")

    def test_a_service_of_the_offices_own_list_may_be_charged(self, folder: Path) -> None:
        path = folder / GLOSS
        text = path.read_text(encoding="utf-8").replace(
            'service = "direct-face"\ncounted = "teeth"\n', 'service = "spray"\ncounted = "teeth"\n', 1
        )
        path.write_text(text, encoding="utf-8")
        with pytest.raises(CatalogueFaults):
            load_catalogue(folder)
        assert load_catalogue(folder, {"spray": "per tooth"}).treatments["gloss-face"].charges[0].service == "spray"


def test_what_is_shipped_fits_together() -> None:
    known = shipped()
    own = [
        *(("treatment", key) for key in known.treatments),
        *(("combination", key) for key in known.combinations),
        *(("evidence", key) for key in known.evidence),
    ]
    assert list(faults_within(known, known_services(), own)) == []


def test_the_known_services_are_those_every_book_carries(book: OfficeBook) -> None:
    shapes = {service.key: service.shape for service in book.price_lists[0].services}
    assert list(known_services()) == SERVICE_KEYS
    assert dict(known_services()) == shapes


def test_lines_are_found() -> None:
    text = "a = 1\n\n[[x]]\nb = 2\n[[x.y]]\nc = 3\n\n[[x]]\n[[x.y]]\n[[x.y]]\nc = 4\n[z]\nd = 5\n"
    assert line_of(text, ("a",)) == 1
    assert line_of(text, ("x", 0, "b")) == 4
    assert line_of(text, ("x", 0, "y", 0, "c")) == 6
    assert line_of(text, ("x", 1, "y", 1, "c")) == 11
    assert line_of(text, ("x", 1, "b")) == 8  # it has none: the table itself
    assert line_of(text, ("z", "d")) == 13
    assert line_of(text, ("q",)) == 1
