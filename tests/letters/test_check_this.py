"""The foot of every paper: hash, code and address, or how to check by hand."""

import io
import json
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pytest
import zxingcpp

from planner.letters.check_this import address_of
from planner.letters.papers import KINDS, job
from planner.letters.pdf import Rendered
from planner.rules.results import sha256
from tests.letters.conftest import ISSUE, NOT_NOW, beside, texts
from tests.letters.sample import case_plan, plan_with
from tests.support import render_once

BASE = "https://plans.tern-row.example"


def made(kind: str, base: str) -> tuple[Rendered, bytes]:
    plan_json = (plan_with() if kind == NOT_NOW else case_plan()).to_json()
    issue = replace(ISSUE, verify_at=base, **beside(kind))
    return render_once(job(plan_json, kind, issue)), plan_json


def _pixels(content: bytes, page: int, tmp_path: Path) -> "np.ndarray":
    """The page as poppler draws it, grey, at 150 dots an inch: less than a plain printer and a telephone make of it."""
    path = tmp_path / "paper.pdf"
    path.write_bytes(content)
    command = ["pdftoppm", "-r", "150", "-gray", "-f", str(page), "-l", str(page), str(path)]
    drawn = subprocess.run(command, capture_output=True, check=True).stdout
    kind, size, deepest, pixels = drawn.split(b"\n", 3)
    assert (kind, deepest) == (b"P5", b"255")
    width, height = map(int, size.split())
    return np.frombuffer(pixels, np.uint8).reshape(height, width)


def test_the_address_stands_below_the_offices_own() -> None:
    assert address_of(BASE, "a" * 64) == f"{BASE}/verify/{'a' * 64}/"
    assert address_of(f"{BASE}/plans/", "a" * 64) == f"{BASE}/plans/verify/{'a' * 64}/"


@pytest.mark.parametrize("kind", list(KINDS))
def test_the_code_leads_to_the_offices_page_about_this_very_data(kind: str, tmp_path: Path) -> None:
    """Read by ZXing-C++ 3.1 (ISO/IEC 18004), which had no part in drawing it, from the page as printed."""
    paper, plan_json = made(kind, BASE)
    assert paper.warnings == ()
    (found,) = zxingcpp.read_barcodes(_pixels(paper.content, paper.pages, tmp_path))
    assert found.text == f"{BASE}/verify/{sha256(plan_json)}/"
    assert found.format == zxingcpp.BarcodeFormat.QRCode
    last = texts(paper.content)[-1]
    assert "plans.tern-row.example/verify/" in last
    assert sha256(plan_json) in last.replace(" ", "")


def test_the_code_has_a_text_alternative_and_the_address_is_a_link() -> None:
    paper, plan_json = made("estimate", BASE)
    with pikepdf.open(io.BytesIO(paper.content)) as file:
        alternatives = [str(one.Alt) for one in file.objects if isinstance(one, pikepdf.Dictionary) and "/Alt" in one]
        links = [one for page in file.pages for one in page.get("/Annots", []) if one.Subtype == "/Link"]
        assert [str(link.A.URI) for link in links] == [f"{BASE}/verify/{sha256(plan_json)}/"]
    assert any("plans.tern-row.example/verify/" in one for one in alternatives)


@pytest.mark.parametrize("kind", list(KINDS))
def test_without_an_address_the_paper_says_how_to_check_by_hand(kind: str, tmp_path: Path) -> None:
    """And it is true: sha256sum (GNU coreutils) on the file inside gives the number, or the number stands in it."""
    paper, plan_json = made(kind, "")
    assert not zxingcpp.read_barcodes(_pixels(paper.content, paper.pages, tmp_path))
    said = texts(paper.content)[-1]
    with pikepdf.open(io.BytesIO(paper.content)) as file:
        (name,) = file.attachments
        inside = file.attachments[name].get_file().read_bytes()
    assert f"carries the file {name}." in said
    if "sha256sum" in said:
        path = tmp_path / name
        path.write_bytes(inside)
        outside = subprocess.run(["sha256sum", str(path)], capture_output=True, text=True, check=True).stdout
        assert outside.split()[0] == sha256(plan_json)
    else:
        assert json.loads(inside)["whole_plan_sha256"] == sha256(plan_json)
    assert sha256(plan_json) in said.replace(" ", "")


@pytest.mark.parametrize("kind", list(KINDS))
def test_the_foot_is_never_alone_on_a_page(kind: str) -> None:
    for base in ("", BASE):
        last = texts(made(kind, base)[0].content)[-1]
        before = last[: last.index("Is this paper the real one?")]
        assert len(before.split()) > 40, before
