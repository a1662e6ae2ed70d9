"""What stands on the papers, read back from the PDF files by a library that did not make them."""

import io
import json
import re
import subprocess
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pikepdf
import pypdf
import pytest
import textstat

from planner.letters.carried import public_json
from planner.letters.issue import Issue
from planner.letters.papers import KINDS, job, letter_pdf, write_papers
from planner.letters.pdf import PaperError, Rendered, render_here
from planner.letters.prose import blocks_of_html, patient_prose
from planner.rules.frozen import FrozenPlanError
from planner.rules.reading import CEILING, TARGET, grade
from planner.rules.results import sha256
from planner.rules.teeth import Numbering
from tests.letters.conftest import HANDED_OVER, ISSUE, NOT_NOW, ORTHODONTIST, rendered, rightmost, texts
from tests.letters.sample import case_plan, plan_with
from tests.support import render_once

PRIVATE = "eating disorder"
EVERY_KIND = pytest.mark.parametrize("kind", list(KINDS))
NAMING = [key for key, kind in KINDS.items() if kind.named]
"""Papers for the patient; an order to a workshop names nobody."""


def words_on(papers: dict[str, Rendered], kind: str) -> str:
    return " ".join(texts(papers[kind].content))


# ---------------------------------------------------------------- every paper


@EVERY_KIND
def test_nothing_is_complained_about(papers: dict[str, Rendered], kind: str) -> None:
    assert papers[kind].warnings == ()


@EVERY_KIND
def test_every_page_names_patient_version_and_page(papers: dict[str, Rendered], kind: str) -> None:
    pages = texts(papers[kind].content)
    for number, text in enumerate(pages, 1):
        assert ("Anselm Brightwater, born 20 October 1978" if kind in NAMING else "A. B. ·") in text
        assert "104, version 2" in text
        assert f"page {number} of {len(pages)}" in text


@EVERY_KIND
def test_the_hash_of_the_frozen_data_is_printed(papers: dict[str, Rendered], plan_json: bytes, kind: str) -> None:
    made_from = plan_with().to_json() if kind == NOT_NOW else plan_json
    assert sha256(made_from) in words_on(papers, kind).replace(" ", "")


@pytest.mark.parametrize("kind", ["option-sheet", "estimate"])
def test_the_same_plan_gives_the_same_bytes(papers: dict[str, Rendered], plan_json: bytes, kind: str) -> None:
    assert render_here(job(plan_json, kind, ISSUE)).content == papers[kind].content


def test_the_same_plan_gives_the_same_letter_without_a_database(
    papers: dict[str, Rendered], plan_json: bytes, tmp_path: Path
) -> None:
    written = write_papers(plan_json, tmp_path / "papers", ISSUE, render=render_once)
    allowed = [*HANDED_OVER, ORTHODONTIST]  # the lead case as drawn by hand also asks for a movement
    assert [path.name for path in written] == [f"{kind}.pdf" for kind in allowed]
    assert [path.read_bytes() for path in written] == [papers[kind].content for kind in allowed]
    assert letter_pdf(plan_json, ISSUE) == papers["consent-letter"].content


@EVERY_KIND
def test_structure(papers: dict[str, Rendered], kind: str) -> None:
    """ISO 14289-1: tagged (7.1), language (7.2), figures with a text alternative (7.3), headings in order (7.4.2),
    every header cell with a scope (7.5)."""
    with pikepdf.open(io.BytesIO(papers[kind].content)) as file:
        assert str(file.Root.Lang) == "en"
        assert ("Anselm Brightwater" if kind in NAMING else "A. B.") in str(file.docinfo["/Title"])
        found: list[pikepdf.Object] = []
        collect(file.Root.StructTreeRoot.K, found)
        kinds = Counter(str(node.get("/S")) for node in found)
        assert kinds["/H1"] == 1
        assert all("/Scope" in node.A for node in found if node.get("/S") == "/TH")
        assert all(str(node.get("/Alt", "")) for node in found if node.get("/S") == "/Figure")
        levels = [int(str(node.S)[2]) for node in found if re.fullmatch(r"/H\d", str(node.get("/S")))]
        assert all(b <= a + 1 for a, b in pairwise(levels))


def collect(node: pikepdf.Object, found: list[pikepdf.Object]) -> None:
    if isinstance(node, pikepdf.Array):
        for child in node:
            collect(child, found)
    elif isinstance(node, pikepdf.Dictionary) and "/S" in node:
        found.append(node)
        if "/K" in node:
            collect(node.K, found)


@EVERY_KIND
def test_only_head_and_foot_are_left_out_of_the_reading_order(papers: dict[str, Rendered], kind: str) -> None:
    """Columns, floats and tables must hang in the tree: every page has the same few artifacts and no more."""
    with pikepdf.open(io.BytesIO(papers[kind].content)) as file:
        counts = {
            sum(
                str(one.operator) == "BDC" and str(one.operands[0]) == "/Artifact"
                for one in pikepdf.parse_content_stream(page)
            )
            for page in file.pages
        }
    assert len(counts) == 1


@EVERY_KIND
def test_qpdf_finds_no_fault(papers: dict[str, Rendered], kind: str, tmp_path: Path) -> None:
    path = tmp_path / "paper.pdf"
    path.write_bytes(papers[kind].content)
    found = subprocess.run(["qpdf", "--check", str(path)], capture_output=True, text=True)
    assert found.returncode == 0, found.stdout + found.stderr


@pytest.mark.parametrize(
    ("kind", "points"),
    [("option-sheet", 14), ("option-sheet", 24), ("estimate", 14), ("estimate", 24), ("consent-letter", 24)],
)
def test_print_reflows_and_loses_nothing(kind: str, points: int) -> None:
    """Small print in columns, large in single lines: every piece of text begins left of the margin of 18 mm.

    A point is 1/72 inch, an inch 25.4 mm.
    """
    paper = rendered(kind, points)
    assert paper.warnings == ()
    pages = pypdf.PdfReader(io.BytesIO(paper.content)).pages
    for page, start in zip(pages, rightmost(paper.content), strict=True):
        assert start <= float(page.mediabox.width) - 18 * 72 / 25.4 + 1
    assert "1,618.25" in " ".join(texts(paper.content))


def test_what_the_picture_of_the_plan_shows_is_said_beside_it_in_large_print() -> None:
    """Its lettering would have no room for figures in that size."""
    said = " ".join(texts(rendered("consent-letter", 24).content))
    for line in (
        "0.7 mm added toward the patient's right, 0.9 mm added toward the patient's left, width 5.5 to 7.1 mm",
        "a gap of 0.5 mm stays.",
    ):
        assert line in said


def test_letter_paper_too(plan_json: bytes) -> None:
    made = render_here(job(plan_json, "estimate", ISSUE, paper="Letter"))
    assert float(pypdf.PdfReader(io.BytesIO(made.content)).pages[0].mediabox.width) == pytest.approx(612)


# ---------------------------------------------------------------- estimate


def test_the_estimate_adds_up_line_by_line(papers: dict[str, Rendered]) -> None:
    said = words_on(papers, "estimate")
    for part in (
        "Build-up, both sides or edge (BND)",
        "upper right central incisor (11, Universal 8); upper left central incisor (21, Universal 9); upper left ",
        "445.00 −66.75 1,268.25",
        "220.00",
        "70.00",
        "Tax, 0 % of 1,618.25 (reconstructive)",
        "Tax, 13 % of 390.00 (looks only)",
        "CAD 440.70",
        "CAD 1,618.25",
        "CAD 2,178.25",
        "Deposit to book the first visit, part of the total CAD 560.00",
        "version 7",
        "the end of 25 May 2026",
        "This is an estimate, not an invoice.",
        "What an insurer or another payer may add is not taken off here",
        "Not included",
    ):
        assert part in said.replace("\u00a0", " "), part


def test_the_estimate_prices_what_was_asked_for(plan_json: bytes) -> None:
    said = " ".join(texts(render_here(job(plan_json, "estimate", replace(ISSUE, priced=("ceramic-faces",)))).content))
    assert "6,300.00" in said
    assert "1,618.25" not in said


def test_a_draft_says_so_and_promises_no_price(plan_json: bytes) -> None:
    said = " ".join(texts(render_here(job(plan_json, "estimate", Issue())).content))
    assert "Estimate draft" in said
    assert "not promised yet: this is a draft" in said


def test_lines_of_an_option_never_part_from_their_total(papers: dict[str, Rendered]) -> None:
    """And no page holds only a few leftover words: the last one holds an option as every other does."""
    pages = texts(papers["estimate"].content)
    options = [part for page in pages for part in page.split("before tax")[1:]]
    assert len(options) == 3
    assert all(re.search(r"Amount .* All lines at full fee .* Total CAD", part) for part in options)
    annex = next(number for number, page in enumerate(pages) if "How this was worked out" in page)
    assert all("before tax" in page for page in pages[1:annex])
    assert len(pages[-1]) > 300


# ---------------------------------------------------------------- private reasons


@pytest.mark.parametrize("kind", ["estimate", "option-sheet"])
def test_a_private_reason_is_on_no_paper_for_other_eyes(papers: dict[str, Rendered], kind: str) -> None:
    """Neither in print nor in the data that the file carries: the payer gets this file."""
    content = papers[kind].content
    assert PRIVATE not in " ".join(texts(content)).lower()
    with pikepdf.open(io.BytesIO(content)) as file:
        (name,) = file.attachments
        data = file.attachments[name].get_file().read_bytes()
    assert PRIVATE not in data.decode().lower()
    plan = json.loads(data)
    assert "history" not in plan["facts"]
    assert all(not reason["private"] for option in plan["options"] for reason in option["reasons"])


def test_the_option_sheet_says_that_there_is_a_private_reason(papers: dict[str, Rendered]) -> None:
    assert "A private reason. Your dentist will talk it over with you." in words_on(papers, "option-sheet")


def test_the_letter_names_it_to_the_patient(papers: dict[str, Rendered]) -> None:
    assert PRIVATE in words_on(papers, "consent-letter").lower()


def test_the_letter_carries_the_frozen_plan_whole(papers: dict[str, Rendered], plan_json: bytes) -> None:
    with pikepdf.open(io.BytesIO(papers["consent-letter"].content)) as file:
        assert file.attachments["case-plan.json"].get_file().read_bytes() == plan_json
        assert len(file.Root.AF) == 1


def test_data_for_other_eyes_name_the_whole_plans_hash(plan_json: bytes) -> None:
    assert json.loads(public_json(plan_json))["whole_plan_sha256"] == sha256(plan_json)


# ---------------------------------------------------------------- option sheet


def test_the_option_sheet_lays_options_side_by_side(papers: dict[str, Rendered]) -> None:
    said = words_on(papers, "option-sheet").replace("\u00a0", " ")
    order = [said.index(option.name) for option in case_plan().options if option.key not in ("bonding",)]
    assert order == sorted(order), "gentlest first"
    for part in ("About CAD 1,454", "CAD 1,018 to CAD 2,181", "All 3", "2 of 3 (1, 2)", "CAD 2,178.25", "suggested"):
        assert part in said, part


def test_the_option_sheet_holds_all_ways_in_one_table_on_its_first_page(papers: dict[str, Rendered]) -> None:
    """On its side; its other pages hold more than one paragraph."""
    paper = papers["option-sheet"]
    box = pypdf.PdfReader(io.BytesIO(paper.content)).pages[0].mediabox
    assert box.width > box.height
    first, *others = texts(paper.content)
    assert paper.pages <= 3
    assert "Further options" not in first
    assert "Upkeep in 10 years" in first
    assert all(len(page.split()) > 60 for page in others)


def test_cells_are_short(papers: dict[str, Rendered]) -> None:
    first = texts(papers["option-sheet"].content)[0]
    table = first[first.index("Taken off your teeth") : first.index("Can it be undone?")]
    assert "Up to 0.5 mm off 4 teeth" in table.replace("\u00a0", " ")
    assert "Universal" not in table


# ---------------------------------------------------------------- consent letter


@pytest.mark.parametrize(
    "part",
    [
        "the gap beside my left front tooth",
        "No more than 0.5 mm may be taken off any one tooth.",
        "upper right lateral incisor (12, Universal 7): This tooth never formed.",
        "An X-ray of 10 February 2026 shows it.",
        "It stands in the place of the upper right lateral incisor (12, Universal 7).",
        "0.7 mm between 21 (Universal 9) and 22 (Universal 10)",
        "Of 100 teeth, 8 to 38 in ten years; 62 to 92 not.",
        "Summary read, not the full study:",
        "After 10 years: of 100, 92 still in place, 8 not; 62 never touched, 38 mended or renewed.",
        "After more than 10 years: no data.",
        "What doing nothing means",
        "What weighs in your case",
        "If the mould does not seat fully",
        "We give no guarantee",
        "You may say no at any time",
        "I prefer not to be told more details.",
        "You may take photos for my record.",
        "In my own words, what will be done and what may go wrong:",
        "a tooth that turns dark",
        "Dr Imke Sorrel, owner dentist, licence D-4471",
        "estimate 104, version 2",
        "Yes to: D Adding to three teeth and reshaping one (CAD 1,618.25).",
        "Will it hurt?",
        "Qualifying: 6 of 6; Certification: 6 of 6; Quality: 15 of 23.",
        "By what right for myself",
        "Interpreter none asked for",
        "I said in my own words what will be done.",
    ],
)
def test_the_letter_says(papers: dict[str, Rendered], part: str) -> None:
    assert part in words_on(papers, "consent-letter").replace("\u00a0", " ")


def test_no_odds_with_a_changing_denominator(papers: dict[str, Rendered]) -> None:
    """Trevena and others 2013 (BMC Med Inform Decis Mak 13(S2):S7), rule 1: no "1 in X"."""
    assert not re.search(r"\b(1|one) (in|out of) \d", words_on(papers, "consent-letter"))


@pytest.mark.parametrize("points", [11, 24])
def test_the_signature_block_is_whole_and_not_alone(points: int) -> None:
    pages = texts(rendered("consent-letter", points).content)
    signing = [text for text in pages if "Date and time" in text or text.count("Witness")]
    assert len(signing) == 1
    (page,) = signing
    assert page.index("I sign of my own free will") < page.index("Signature") < page.index("Witness")
    before = page[: page.index("I sign of my own free will")]
    assert "In my own words" in before


def test_every_number_of_a_chance_leads_to_a_source_in_the_list(plan_json: bytes) -> None:
    html = job(plan_json, "consent-letter", ISSUE).html
    body, listed = html.split("Where the numbers come from")
    numbers = [int(one) for one in re.findall(r"<li>(\d+)\. ", listed)]
    assert numbers == list(range(1, len(numbers) + 1))
    led = re.findall(r"Of 100 [^<]*</strong><span[^>]*> \(sources?\u00a0([\d, ]+)\)</span>", body)
    assert len(led) == len(re.findall(r"<strong> Of 100 ", body)) > 5
    assert {int(one) for part in led for one in part.split(", ")} <= set(numbers)


def test_no_option_says_the_same_risk_twice() -> None:
    plan = case_plan()
    twice = [replace(one, risks=one.risks * 2, benefits=one.benefits * 2) for one in plan.options]
    once = job(plan.to_json(), "consent-letter", ISSUE).html
    html = job(replace(plan, options=tuple(twice)).to_json(), "consent-letter", ISSUE).html
    assert html.count('class="chance"') == once.count('class="chance"')


def test_no_space_is_left_hanging_before_a_change_of_type(plan_json: bytes) -> None:
    """Where a line ends in such a space WeasyPrint (70.0) may break after the line's first word instead."""
    html = job(plan_json, "consent-letter", ISSUE).html
    options = html[html.index('<section class="option">') : html.index("What your dentist suggests")]
    assert not re.findall(r"[^\s>] <(?:strong|span class=\"small)[^>]*>|[^\s>] </p>", options)


def test_options_have_equal_fields(plan_json: bytes) -> None:
    html = job(plan_json, "consent-letter", ISSUE).html
    fields = [re.findall(r"<h3>(.*?)</h3>", part) for part in html.split('<section class="option">')[1:-1]]
    assert len(fields) == len(case_plan().options)
    assert all(one == fields[0] for one in fields)


def test_the_reading_grade_is_low_by_textstat_too(plan_json: bytes) -> None:
    """textstat 0.7.8 with the CMU dictionary on the letter's prose; target 6, never above 8 (AMA; CDC and IOM)."""
    passages = patient_prose(blocks_of_html(job(plan_json, "consent-letter", ISSUE).html), "en")
    assert len(passages) > 100
    text = " ".join(one if one[-1] in ".!?" else f"{one}." for one in passages)
    outside = textstat.flesch_kincaid_grade(text)
    assert float(grade(passages)) == pytest.approx(outside, abs=1)
    assert outside <= float(TARGET)


def test_no_passage_of_our_own_is_hard(plan_json: bytes) -> None:
    """Passages of any length worth measuring stay below the ceiling one by one, not only on average."""
    passages = patient_prose(blocks_of_html(job(plan_json, "consent-letter", ISSUE).html), "en")
    hard = [(grade([one]), one) for one in passages if len(one.split()) >= 12 and grade([one]) > CEILING]
    assert not [one for one in hard if "Universal" not in one[1]]


def test_a_letter_too_hard_to_read_says_so_itself(plan_json: bytes) -> None:
    hard = (
        "Irreversible circumferential preparation of the anterior dentition necessitates rehabilitation with "
        "indirect ceramic restorations whose longevity is determined by occlusal parafunction. "
    )
    html = job(plan_json, "consent-letter", replace(ISSUE, own_risks=(hard * 150,))).html
    assert "too hard to read. It must not be signed unless a dentist signs a reason." in html
    assert "too hard to read" not in job(plan_json, "consent-letter", ISSUE).html


def test_no_recommendation_is_said_as_such() -> None:
    html = job(case_plan(recommended="").to_json(), "consent-letter", ISSUE).html
    assert "Your dentist suggests none of the options over the others." in html


def test_palmer_marks_print_in_letters() -> None:
    """No font that is sure to be there has the corner signs of Palmer's marks."""
    html = job(case_plan(numbering=Numbering.PALMER).to_json(), "consent-letter", ISSUE).html
    assert not re.search("[\u23cc\u23bf\u23cb\u23be]", html)
    assert "UR3" in html


def test_markup_in_a_name_stays_text() -> None:
    html = job(case_plan(name="<script>alert(1)</script>").to_json(), "consent-letter", ISSUE).html
    assert "<script>" not in html
    assert "&lt;script&gt;" in html


# ---------------------------------------------------------------- without a database


@pytest.mark.parametrize(
    ("kwargs", "words"),
    [
        ({"kind": "invoice"}, 'There is no paper called "invoice"'),
        ({"points": 12}, "12 points is no print size here"),
        ({"language": "fr"}, 'Papers in "fr" are not there yet'),
        ({"issue": Issue(chosen="crown")}, 'This plan has no option "crown"'),
    ],
)
def test_what_cannot_be_made_is_refused_in_words(plan_json: bytes, kwargs: dict[str, object], words: str) -> None:
    given: dict[str, object] = {"kind": "estimate"} | kwargs
    with pytest.raises(PaperError, match=words):
        job(plan_json, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize("content", [b"", b"{}", b'{"format":"leastways-plan"}', b"not json"])
def test_what_is_no_frozen_plan_is_refused(content: bytes) -> None:
    with pytest.raises(FrozenPlanError, match="no frozen case plan"):
        job(content, "estimate")
