"""Every kind of paper in each print size: read by checkers that had no part in making it, and by tests of our own.

The two checkers are young and look at a part of the standard. No findings means "checked with", never "certified".
"""

import io
import os
import re
import subprocess
from dataclasses import replace
from datetime import UTC, datetime, time
from functools import cache
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import outloud
import outloud.findings
import pdfua
import pikepdf
import pypdf
import pytest
from weasyprint import HTML

from planner.letters.papers import KINDS, POINTS, job, kind_of
from planner.letters.pdf import Job, Paper, Rendered, render_here
from planner.letters.read_back import blocks
from tests.letters.conftest import ISSUE, NOT_NOW, beside, texts, words_in_the_margin
from tests.letters.sample import case_plan, plan_with
from tests.support import render_once

SIZES = POINTS if os.environ.get("LEASTWAYS_EVERY_SIZE") else (POINTS[0], POINTS[-1])
"""The smallest and the largest print show what there is; ``make soak`` looks at those between them too."""
CASES = [(kind, points) for kind in KINDS for points in SIZES if kind_of(kind).points in (None, points)]
CASES += [(kind, fixed) for kind in KINDS if (fixed := kind_of(kind).points) is not None and fixed not in SIZES]
EVERY_CASE = pytest.mark.parametrize(("kind", "points"), CASES)
EVERY_KIND = pytest.mark.parametrize("kind", list(KINDS))
RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
PDFA, PDFUA = "{http://www.aiim.org/pdfa/ns/id/}", "{http://www.aiim.org/pdfua/ns/id/}"
SCHEMA = "{http://www.aiim.org/pdfa/ns/schema#}"
OPEN_FONTS = re.compile(r"Atkinson-?Hyperlegible|DejaVu", re.I)
"""Both are under open licences: SIL OFL 1.1, and the Bitstream Vera licence."""
NOT_RUN = {"UA-14-001"}
"""A rule of pdfua 0.1.3 that fails on pikepdf 10; ``test_headings_go_down_one_step_at_a_time`` does what it would."""


@cache
def made(kind: str, points: int, paper: Paper = "A4") -> Rendered:
    plan_json = (plan_with() if kind == NOT_NOW else case_plan()).to_json()
    issue = replace(ISSUE, verify_at="https://plans.tern-row.example", **beside(kind))
    return render_once(job(plan_json, kind, issue, points=points, paper=paper))


def smallest(kind: str) -> int:
    return next(points for each, points in CASES if each == kind)


def opened(content: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(content))


def elements(file: pikepdf.Pdf) -> list[pikepdf.Object]:
    found: list[pikepdf.Object] = []

    def look(node: pikepdf.Object) -> None:
        if isinstance(node, pikepdf.Array):
            for child in node.as_list():
                look(child)
        elif isinstance(node, pikepdf.Dictionary) and "/S" in node:
            found.append(node)
            if "/K" in node:
                look(node.K)

    look(file.Root.StructTreeRoot.K)
    return found


# ---------------------------------------------------------------- checkers from outside


def findings(content: bytes, path: Path) -> list[str]:
    """What outloud and pdfua find, a line each. Raises AssertionError when either could not do its work."""
    path.write_bytes(content)
    told, report = outloud.check(str(path)), pdfua.validate(str(path))
    assert told.error is None
    assert {one.rule_id for one in report.outcomes if one.skipped_reason} <= NOT_RUN
    return [
        *(f"{one.rule} {one.message} ({one.evidence})" for one in told.findings if not _by_chance(one, content)),
        *(f"{one.rule_id} {one.message}" for one in report.findings),
    ]


FOOT = re.compile(
    r"(?:Anselm Brightwater, born 20 October 1978 · [^;]*; )?"
    r"(?:Tern Row Dental, Wexcombe Harbour · \d+ \w+ \d{4} · )?Data [0-9a-f]{16}… page 1 of 1"
)
HEAD = re.compile(r"Anselm Brightwater, born 20 October 1978 · [^;]*")
"""Head and foot of a paper of one page; name, birth date, office and the whole hash stand in its text."""


def _by_chance(found: outloud.findings.Finding, content: bytes) -> bool:
    """Whether PAG-001 takes a heading for a running head: it guesses so where the same words begin three pages.

    In large print options come a page each, under the same headings. What runs on every page is no part of the tree.
    On a paper of one page nothing runs, and TAG-002 may count what stands in the head, and the letters within the hash
    at the foot, as words that are told nowhere else.
    """
    if found.rule == "TAG-002" and found.evidence is not None:
        alone = HEAD.fullmatch(found.evidence) is not None and len(pypdf.PdfReader(io.BytesIO(content)).pages) == 1
        return alone or FOOT.fullmatch(found.evidence) is not None
    if found.rule != "PAG-001" or found.evidence is None:
        return False
    headings = {one.text for one in blocks(content) if one.kind in ("H1", "H2", "H3", "Caption")}
    return all(any(text.startswith(part.rstrip("…")) for text in headings) for part in found.evidence.split("; "))


@EVERY_CASE
def test_two_checkers_find_nothing(kind: str, points: int, tmp_path: Path) -> None:
    """outloud 0.2.1 and pdfua 0.1.3 (see docs/papers.md for what they are worth)."""
    assert findings(made(kind, points).content, tmp_path / "paper.pdf") == []


@EVERY_KIND
def test_they_find_nothing_on_us_letter_either(kind: str, tmp_path: Path) -> None:
    assert findings(made(kind, smallest(kind), "Letter").content, tmp_path / "paper.pdf") == []


BAD = """<html><head></head><body><h1>One</h1><h3>Three</h3><img src="x.png"><table><tr><th>a</th><th>b</th></tr>
<tr><td>1</td><td>2</td></tr></table></body></html>"""


def test_the_checkers_do_find_what_is_wrong(tmp_path: Path) -> None:
    """Held against a file without language, title, alternative text and scopes, or their silence would say nothing."""
    wrong = " ".join(findings(HTML(string=BAD).write_pdf(pdf_variant="pdf/ua-1"), tmp_path / "paper.pdf"))
    for part in ("Lang", "itle", "Scope"):
        assert part in wrong, wrong


@EVERY_CASE
def test_qpdf_finds_no_fault(kind: str, points: int, tmp_path: Path) -> None:
    """qpdf reads every object and stream (https://qpdf.sourceforge.io)."""
    path = tmp_path / "paper.pdf"
    path.write_bytes(made(kind, points).content)
    done = subprocess.run(["qpdf", "--check", str(path)], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


# ---------------------------------------------------------------- what each file carries


@EVERY_CASE
def test_it_says_what_it_is(kind: str, points: int) -> None:
    """ISO 14289-1, 7.1 and 7.2; ISO 19005-3, 6.6.4, 6.2.3 and 6.7: marked, titled, in a language, both claims made."""
    with opened(made(kind, points).content) as file:
        root = file.Root
        assert root.MarkInfo.Marked
        assert str(root.Lang) == "en"
        assert root.ViewerPreferences.DisplayDocTitle
        (described,) = ElementTree.fromstring(root.Metadata.read_bytes()).findall(f"{RDF}RDF")  # one, ISO 16684-1, 7.4
        said = {key: value for part in described for key, value in part.attrib.items()}
        claims = {PDFA + "part": "3", PDFA + "conformance": "A", PDFUA + "part": "1"}
        assert {key: said[key] for key in claims} == claims
        # The second claim is no part of PDF/A: its schema is described in the file itself (ISO 19005-3, 6.6.2.3).
        assert any(one.text == PDFUA.strip("{}") for one in described.iter(f"{SCHEMA}namespaceURI"))
        title = str(file.docinfo["/Title"])
        assert str(KINDS[kind].title) in title
        assert "104, version 2" in title
        assert len(root.OutputIntents) == 1
        assert "/DestOutputProfile" in root.OutputIntents[0]
        assert "/JavaScript" not in root.get("/Names", {})
        assert "/OpenAction" not in root or "/JS" not in root.OpenAction


@EVERY_CASE
def test_headings_go_down_one_step_at_a_time(kind: str, points: int) -> None:
    """ISO 14289-1, 7.4.2: the first heading is of the first level, and none is passed over on the way down."""
    with opened(made(kind, points).content) as file:
        levels = [int(str(one.S)[2]) for one in elements(file) if re.fullmatch(r"/H\d", str(one.S))]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


@EVERY_CASE
def test_header_cells_pictures_and_marked_content(kind: str, points: int) -> None:
    """ISO 14289-1, 7.5, 7.3 and 7.1: scopes, text alternatives, and all content either in the tree or an artifact."""
    with opened(made(kind, points).content) as file:
        found = elements(file)
        assert all(str(one.A.Scope) in ("/Column", "/Row") for one in found if one.S == "/TH")
        assert all(len(str(one.get("/Alt", ""))) > 10 for one in found if one.S == "/Figure")
        assert any(one.S == "/Figure" for one in found)
        placed = {(one.Pg.objgen, int(kid)) for one in found for kid in _pieces(one)}
        for page in file.pages:
            depth = 0
            for one in pikepdf.parse_content_stream(page):
                operator = str(one.operator)
                depth += operator in ("BDC", "BMC")
                depth -= operator == "EMC"
                if operator == "BDC" and str(one.operands[0]) != "/Artifact":
                    assert (page.obj.objgen, int(one.operands[1].MCID)) in placed
                assert depth or operator not in ("Tj", "TJ", "S", "f", "f*", "B", "Do"), f"{operator} is not marked"


def _pieces(element: pikepdf.Object) -> list[int]:
    below = element.get("/K", [])
    return [kid for kid in (below.as_list() if isinstance(below, pikepdf.Array) else [below]) if isinstance(kid, int)]


@EVERY_CASE
def test_only_open_fonts_and_all_of_them_embedded(kind: str, points: int) -> None:
    """ISO 19005-3, 6.2.11.4: every font is in the file."""
    with opened(made(kind, points).content) as file:
        descriptors = [one for one in file.objects if isinstance(one, pikepdf.Dictionary) and "/FontName" in one]
        assert descriptors
        for one in descriptors:
            assert "/FontFile2" in one or "/FontFile3" in one, one.FontName
            assert OPEN_FONTS.search(str(one.FontName)), one.FontName


@EVERY_KIND
def test_the_data_are_attached_as_the_source_with_fixed_dates(kind: str) -> None:
    """ISO 19005-3, 6.8: listed as associated file, with its relation and its kind of content."""
    plan = plan_with() if kind == NOT_NOW else case_plan()
    with opened(made(kind, smallest(kind)).content) as file:
        (one,) = list(file.Root.AF)
        assert str(one.AFRelationship) == "/Source"
        assert str(one.F) == str(one.UF) == kind_of(kind).carries.name
        inside = one.EF.F
        assert str(inside.Subtype) == "/application/json"
        day = datetime.combine(plan.planned_on, time(), UTC).strftime("D:%Y%m%d000000")
        assert str(inside.Params.CreationDate).startswith(day)
        assert str(inside.Params.ModDate).startswith(day)
        assert inside.read_bytes() == kind_of(kind).carries.data(plan.to_json())


@EVERY_CASE
def test_bookmarks_lead_to_every_chapter(kind: str, points: int) -> None:
    paper = made(kind, points)
    with opened(paper.content) as file:
        chapters = sum(one.S in ("/H1", "/H2") for one in elements(file))

    def count(outline: list[object]) -> int:
        return sum(count(one) if isinstance(one, list) else 1 for one in outline)

    assert count(pypdf.PdfReader(io.BytesIO(paper.content)).outline) >= chapters > 1


@EVERY_CASE
def test_every_page_says_whose_it_is_which_version_and_which_page(kind: str, points: int) -> None:
    pages = texts(made(kind, points).content)
    whose = "Anselm Brightwater" if kind_of(kind).named else "A. B. ·"
    for number, page in enumerate(pages, 1):
        assert whose in page
        assert "104, version 2" in page
        assert f"page {number} of {len(pages)}" in page


def test_a_paper_that_goes_by_initials_names_nobody_anywhere_in_the_file() -> None:
    """Neither in print, title and metadata nor in the data inside."""
    for kind in (key for key, kind in KINDS.items() if not kind.named):
        with opened(made(kind, smallest(kind)).content) as file:
            for one in file.objects:
                streams = isinstance(one, pikepdf.Stream)
                said = one.unparse() + (one.read_bytes() if streams else b"")
                for name in ("Brightwater", "Anselm", "1978"):
                    assert name.encode() not in said
                    assert name.encode("utf-16-be") not in said
        assert "Brightwater" not in " ".join(texts(made(kind, smallest(kind)).content))


# ---------------------------------------------------------------- what stays together

SIGNED = {
    "consent-letter": ("I sign of my own free will", "Witness"),
    "instalment-agreement": ("Who pays: signature, date", "For the office: signature, date"),
    "not-now-letter": ("Handed over and talked through by", "My questions:"),
}
"""First and last words of the place to sign, of the papers that have one."""


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(("kind", "points"), [case for case in CASES if case[0] in SIGNED])
def test_the_place_to_sign_is_whole_and_never_alone_on_a_page(kind: str, points: int, paper: Paper) -> None:
    first, last = SIGNED[kind]
    (page,) = [text for text in texts(made(kind, points, paper).content) if first in text or last in text]
    before = page[: page.index(first)]
    assert page.index(first) < page.index(last)
    assert len(before.split()) > 5, f"nothing stands before it on its page: {before}"


@EVERY_CASE
def test_no_word_runs_into_the_margin(kind: str, points: int, tmp_path: Path) -> None:
    assert not words_in_the_margin(made(kind, points).content, tmp_path)


@EVERY_CASE
def test_a_picture_and_its_caption_stand_on_one_page(kind: str, points: int) -> None:
    with opened(made(kind, points).content) as file:
        for caption in (one for one in elements(file) if one.S == "/Caption"):
            pages = {kid.Pg.objgen for kid in caption.P.K if kid.get("/S") in ("/Figure", "/Caption")}
            assert len(pages) == 1, str(caption.P)


FILLED = """<html lang="en" class="points-{points}"><head><title>x</title></head><body><h1>x</h1>
<div class="head"><p>Head</p></div><div class="foot"><p>Foot</p></div>{lines}{block}</body></html>"""
SIGNING = """<section class="decide"><h2>What you decide</h2><p>In my own words:</p>
<div class="lines"><p></p></div><div class="signing"><p>I sign here</p>
<table class="sign"><thead><tr><th>Who</th><th>Signature</th></tr></thead>
<tbody><tr><th>Patient</th><td></td></tr><tr><th>Dentist</th><td></td></tr><tr><th>Witness</th><td></td></tr></tbody></table></div></section>"""
FIGURE = """<figure><svg width="160mm" height="60mm" viewBox="0 0 160 60"><title>A drawing of nothing</title>
<text x="5" y="30" font-size="8">Picture</text></svg><figcaption>Caption of it</figcaption></figure>"""


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("points", [11, 24])
@pytest.mark.parametrize(
    ("block", "first", "last"), [(SIGNING, "I sign here", "Witness"), (FIGURE, "Picture", "Caption of it")]
)
def test_wherever_the_end_of_a_page_falls_they_stay_together(
    block: str, first: str, last: str, points: int, paper: Paper
) -> None:
    """Pushed down line by line over a whole page: whole each time, and what is signed has words before it."""
    step = 3 if points == 11 else 1
    for count in range(0, 60 if points == 11 else 24, step):
        html = FILLED.format(points=points, lines="<p>A line of text.</p>" * count, block=block)
        pages = texts(render_here(Job(html, paper=paper)).content)
        (page,) = [text for text in pages if first in text or last in text]
        assert first in page
        assert last in page
        if block is SIGNING:
            assert "In my own words" in page[: page.index(first)]
