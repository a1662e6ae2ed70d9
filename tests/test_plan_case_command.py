"""``manage.py plan_case``: what it prints and writes, what it refuses and how, and that it needs no database."""

import copy
import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pikepdf
import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from planner.rules.bookfile import load_book
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.frozen import thaw
from planner.rules.plan import plan_case
from planner.rules.results import sha256
from planner.rules.table import WIDTH, comparison_table

ROOT = Path(settings.BASE_DIR)
LEAD = ROOT / "fixtures" / "cases" / "lead.json"
BOOK = ROOT / "fixtures" / "books" / "tern_row.toml"
DAY = date(2026, 3, 2)
ON = ("--on", DAY.isoformat())


def run(*arguments: object) -> tuple[int, str, str]:
    """Exit status, standard output and standard error of the command, run in this process."""
    out, err = io.StringIO(), io.StringIO()
    status = 0
    try:
        call_command("plan_case", *map(str, arguments), stdout=out, stderr=err)
    except SystemExit as stopped:
        status = int(stopped.code or 0)
    return status, out.getvalue(), err.getvalue()


@pytest.fixture(scope="module")
def expected() -> Any:
    facts = validate_case(resolve_days(parse_case(LEAD.read_bytes()), DAY), DAY)
    return plan_case(facts, load_book(BOOK.read_text(encoding="utf-8"), DAY), DAY)


@pytest.fixture
def spoil(tmp_path: Path) -> Callable[..., Path]:
    """A copy of the lead case with something changed: ``spoil(lambda data: ...)``."""

    def write(change: Callable[[dict[str, Any]], Any]) -> Path:
        data = json.loads(LEAD.read_text(encoding="utf-8"))
        change(data)
        path = tmp_path / "case.json"
        path.write_text(json.dumps(data), encoding="utf-8")
        return path

    return write


# What it prints


def test_json_is_exactly_the_plan(expected: Any) -> None:
    status, out, err = run(LEAD, *ON, "--json")
    assert (status, err) == (0, "")
    assert out.encode() == expected.to_json()
    assert thaw(out.encode()) == expected


def test_the_terminal_shows_the_comparison_the_space_and_the_recommendation(expected: Any) -> None:
    status, out, err = run(LEAD, *ON)
    assert (status, err) == (0, "")
    assert out == comparison_table(expected)
    assert all(len(line) <= WIDTH for line in out.splitlines())
    assert expected.spaces.sentence in out
    assert f"Recommended: {expected.option(expected.recommended).name}." in out
    lines = out.splitlines()
    first = next(line for line in lines if line.startswith(" 4  "))
    # Fee and millimetres of the brief's worked case: 1,618.25, and half a millimetre off one tooth.
    assert "1,618.25" in first
    assert " 0.5 " in first
    assert first.split()[-3:] == ["1", "2", "3"]
    for option in expected.options:
        assert option.name.split()[0] in out
        for reason in option.reasons:
            assert f"[{reason.gate}]" in out
    assert "(the patient's own limit)" in " ".join(out.split())


def test_likely_slips_are_questions_on_standard_error_and_stop_nothing(spoil: Callable[..., Path]) -> None:
    # 8,3 typed as 12.3: a crown can be so wide, but hardly this one.
    path = spoil(lambda data: data["examination"]["teeth"][2].update(width="12.3"))
    status, out, err = run(path, *ON)
    assert status == 0
    assert out
    assert "Please look again: examination.teeth[2].width:" in err


def test_no_clock_no_locale_and_no_database_change_the_bytes(tmp_path: Path, expected: Any) -> None:
    environment = {
        "PATH": os.environ["PATH"],
        "LC_ALL": "C",
        "PYTHONIOENCODING": "ascii",
        "PYTHONHASHSEED": "7",
        "LEASTWAYS_VAR": str(tmp_path / "var"),
        "DATABASE_URL": "postgres://nobody@127.0.0.1:9/nothing",
    }
    command = [sys.executable, "manage.py", "plan_case", str(LEAD), *ON, "--json"]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")
    assert sha256(done.stdout) == sha256(expected.to_json())


def test_a_reader_that_stops_reading_is_no_accident(tmp_path: Path) -> None:
    command = f'{sys.executable} manage.py plan_case {LEAD} --on {DAY} --json | head -c 10 >"{tmp_path}/head"'
    done = subprocess.run(["sh", "-c", command], cwd=ROOT, capture_output=True, check=False)
    assert done.stderr == b""
    assert (tmp_path / "head").read_bytes() == b'{"book_sha'


# What it writes


def test_letter_and_strip(tmp_path: Path, expected: Any) -> None:
    letter, strip = tmp_path / "letter.pdf", tmp_path / "strip.svg"
    letter.write_bytes(b"an older one")
    status, _out, err = run(LEAD, *ON, "--letter", letter, "--strip", strip)
    assert (status, err) == (0, "")
    with pikepdf.open(letter) as pdf:
        (carried,) = [pdf.attachments[name].get_file().read_bytes() for name in pdf.attachments]
    assert carried == expected.to_json()
    drawn = ElementTree.fromstring(strip.read_bytes())
    assert drawn.tag == "{http://www.w3.org/2000/svg}svg"
    assert "style" not in {name for element in drawn.iter() for name in element.attrib}
    assert sorted(path.name for path in tmp_path.iterdir()) == ["letter.pdf", "strip.svg"]


def test_the_strip_shows_the_teeth_as_they_are_where_nothing_can_be_shared(
    spoil: Callable[..., Path], tmp_path: Path
) -> None:
    path = spoil(lambda data: [gap.update(width="0.0", may_stay=False) for gap in data["examination"]["gaps"]])
    assert run(path, *ON, "--strip", tmp_path / "s.svg")[0] == 0
    assert ElementTree.parse(tmp_path / "s.svg").getroot().tag.endswith("svg")


# What it refuses


def refused(*arguments: object) -> list[str]:
    status, out, err = run(*arguments)
    assert status == 2
    assert out == ""
    assert "Traceback" not in err
    return err.splitlines()


def test_every_fault_is_listed_with_its_path(spoil: Callable[..., Path], tmp_path: Path) -> None:
    def change(data: dict[str, Any]) -> None:
        data["patient"]["birth_date"] = "1979-02-31"
        data["examination"]["teeth"][2]["width"] = "8.33"
        data["examination"]["gaps"][0]["between"] = ["53", "99"]
        data["wishes"][0]["colour"] = "blue"

    letter = tmp_path / "letter.pdf"
    path = spoil(change)
    head, *faults = refused(path, *ON, "--letter", letter)
    assert head == f"{path} was refused, {len(faults)} faults:"
    for where in (
        "patient.birth_date",
        "examination.teeth[2].width",
        "examination.gaps[0].between[1]",
        "wishes[0].colour",
    ):
        assert any(fault.startswith(f"  {where}:") for fault in faults), (where, faults)
    assert not letter.exists()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"[1, 2]", "JSON object"),
        (b"{", "line 1"),
        (b'{"a": 1, "a": 2}', "a"),
        (b"[" * 50_000, "nested"),
        (b'{"format": "leastways-case", "version": 1, "numbering": "both"}', "numbering"),
        (b'{"format": "leastways-case", "version": 2, "numbering": "iso"}', "Version 2"),
        (b"x" * 1_000_001, "larger than 1,000,000 bytes"),
    ],
)
def test_files_that_are_no_case_file(content: bytes, words: str, tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    path.write_bytes(content)
    assert words in " ".join(refused(path))


def test_missing_folders_and_unreadable_files(tmp_path: Path) -> None:
    assert "no such file" in refused(tmp_path / "nowhere.json")[0]
    assert "folder" in refused(tmp_path)[0]
    assert "no file can be called so" in refused("case\0.json")[0]
    assert "no such file" in refused(LEAD, "--book", tmp_path / "nowhere.toml")[0]
    assert "folder" in refused(LEAD, "--book", tmp_path)[0]


def test_a_wrong_book_and_a_wrong_case_are_told_together(tmp_path: Path, spoil: Callable[..., Path]) -> None:
    book = tmp_path / "book.toml"
    book.write_text(BOOK.read_text(encoding="utf-8").replace('currency = "CAD"', 'currency = "dollars"'))
    path = spoil(lambda data: data["examination"].update(midline_offset="half"))
    said = "\n".join(refused(path, *ON, "--book", book))
    assert "examination.midline_offset" in said
    assert "currency" in said
    book.write_bytes(b"\xff")
    assert "UTF-8" in refused(LEAD, *ON, "--book", book)[0]


def test_a_book_that_has_no_prices_yet(tmp_path: Path) -> None:
    book = tmp_path / "book.toml"
    text = BOOK.read_text(encoding="utf-8")
    book.write_text(text.replace('effective = "d-120"', 'effective = "d+20"'), encoding="utf-8")
    assert "no price list is in force on 2026-03-02" in refused(LEAD, *ON, "--book", book)[0]


@pytest.mark.parametrize("day", ["2026-02-30", "tomorrow", "", "0001-01-01", "9999-12-31", "2.3.2026"])
def test_days_that_are_none(day: str) -> None:
    with pytest.raises(CommandError, match=r"write it as year-month-day|out of range"):
        call_command("plan_case", str(LEAD), f"--on={day}")


def test_a_wrong_day_ends_with_status_2_at_the_terminal() -> None:
    command = [sys.executable, "manage.py", "plan_case", str(LEAD), "--on", "30 February"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr.strip().endswith('"30 February" is not a day: write it as year-month-day, such as 2026-03-02.')


def test_targets_that_cannot_be_written(tmp_path: Path, spoil: Callable[..., Path]) -> None:
    path = spoil(lambda data: None)
    before = path.read_bytes()
    assert "overwrite" in refused(path, *ON, "--strip", path)[0]
    assert path.read_bytes() == before
    assert "one file" in refused(path, *ON, "--strip", tmp_path / "x", "--letter", tmp_path / "x")[0]
    assert "no file that can be written" in refused(path, *ON, "--strip", tmp_path)[0]
    assert "no folder" in refused(path, *ON, "--strip", tmp_path / "nowhere" / "s.svg")[0]
    assert "no file can be called so" in refused(path, *ON, "--strip", tmp_path / ("s" * 300))[0]
    (tmp_path / "circle").symlink_to(tmp_path / "circle")
    assert "no file can be called so" in refused(path, *ON, "--strip", tmp_path / "circle")[0]
    (tmp_path / "circle").unlink()
    assert [found.name for found in tmp_path.iterdir()] == ["case.json"]


def test_nothing_is_drawn_of_teeth_that_were_not_measured(spoil: Callable[..., Path], tmp_path: Path) -> None:
    def blank(data: dict[str, Any]) -> None:
        for tooth in data["examination"]["teeth"]:
            del tooth["width"]

    assert "cannot be drawn" in refused(spoil(blank), *ON, "--strip", tmp_path / "s.svg")[0]


def test_no_letter_without_a_recommended_option(spoil: Callable[..., Path], tmp_path: Path) -> None:
    path = spoil(lambda data: data["history"].clear())
    said = refused(path, *ON, "--letter", tmp_path / "l.pdf")
    assert said == [
        "There is no letter to write: No option that can be offered today answers every wish that could be computed."
    ]


_JUNK = st.none() | st.booleans() | st.integers() | st.text(max_size=8) | st.just([]) | st.just({}) | st.just("d-99999")


@given(data=st.data())
@hypothesis_settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_no_single_value_of_a_case_file_can_break_it(data: st.DataObject, tmp_path: Path) -> None:
    """Any one value replaced by something else is planned or refused, never an accident."""
    case = copy.deepcopy(json.loads(LEAD.read_text(encoding="utf-8")))
    node: Any = case
    while True:
        key = data.draw(st.sampled_from(sorted(node) if isinstance(node, dict) else range(len(node))))
        if isinstance(node[key], (dict, list)) and node[key] and data.draw(st.integers(0, 9)):
            node = node[key]
            continue
        node[key] = data.draw(_JUNK)
        break
    path = tmp_path / "case.json"
    path.write_text(json.dumps(case), encoding="utf-8")
    status, out, err = run(path, *ON)
    assert (status == 0 and out) or (status == 2 and err and not out)
