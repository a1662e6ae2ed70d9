"""The wax-up order: what it says and does not say, and its drawing measured in the PDF, as on paper."""

import io
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

import pikepdf
import pypdf
import pytest

from planner.letters.carried import workshop_json
from planner.letters.papers import job, kinds_of
from planner.letters.pdf import Paper, PaperError, Rendered
from planner.rules.results import sha256
from planner.rules.teeth import Numbering
from tests.letters.conftest import ISSUE, rightmost, texts
from tests.letters.sample import case_plan, space_plan
from tests.rules.test_strip_labels import PLANS
from tests.support import render_once

ORDER = replace(ISSUE, ordered_by="Imke Sorrel", wanted_on=date(2026, 3, 12), order_note="Matt, please.")
POINT_MM = 25.4 / 72
"""A unit of a PDF page is 1/72 inch (ISO 32000-1, 8.3.2.3)."""


def order(paper: Paper = "A4") -> Rendered:
    return render_once(job(case_plan().to_json(), "wax-up-order", ORDER, paper=paper))


def said(paper: Paper = "A4") -> str:
    return " ".join(texts(order(paper).content))


# ---------------------------------------------------------------- what it says


def test_it_begins_with_the_cut_without_which_the_index_cannot_seat() -> None:
    words = said()
    first = words.index(
        "cut the upper right canine (13, Universal 6), in place of 12 (Universal 7) by 0.5 mm (edge, from 10.1 to 9.6)"
    )
    assert "colour the cut" in words
    assert "an index made over the uncut tooth cannot seat" in words
    for later in ("Ordered by", "Target sizes", "At true size", "When the wax comes back"):
        assert words.index(later) > first


def test_every_target_stands_with_name_both_numbers_and_role() -> None:
    words = said()
    for part in (
        "upper right canine (13, Universal 6), standing in place of 12 (Universal 7), to look like a lateral 7.8 7.8 "
        "10.1 9.6 – – – – −0.5",
        "upper right central incisor (11, Universal 8) 8.3 8.9 10.5 10.5 +0.3 +0.3 +0.3 +0.3 –",
        "upper left lateral incisor (22, Universal 10) 5.5 7.1 8.3 9.3 +0.7 +0.9 +0.7 +0.9 +1.0",
        "the gap of 0.5 mm stays open. Add nothing there.",
        "gap 0.8 mm: 0.3 to the first and 0.5 mm to the second; they meet 0.1 mm from its middle, toward the patient's "
        "right",
        "Leave as they are: upper right baby canine (53, Universal C), in place of 13 (Universal 6); upper left canine",
        "Ordered by Imke Sorrel, Tern Row Dental",
        "Wanted back by 12 March 2026",
        "Matt, please.",
        "104, version 2",
        "On file: A2, 10 February 2026",
        "at the gum",
        "Within 0.2 mm",
        "The index seats fully on the model",
        "prepares work for licensed professionals",
        "Width reached",
    ):
        assert part in words, part
    assert sha256(case_plan().to_json()) in words


def test_nobody_is_named_on_it_or_inside_it() -> None:
    """Only what the work needs: no name, no birth date, no history, no fee, in words, in the data or about the file."""
    with pikepdf.open(io.BytesIO(order().content)) as file:
        about = f"{file.docinfo.items()!s} {file.Root.Metadata.read_bytes().decode()}"
        names = list(file.attachments)
        inside = file.attachments[names[0]].get_file().read_bytes()
    assert names == ["target-sizes.json"]
    assert inside == workshop_json(case_plan().to_json())
    everything = f"{said()} {about} {inside.decode()}".casefold()
    for secret in ("anselm", "brightwater", "1978", "wedding", "boat", "eating disorder", "cents", "1,618"):
        assert secret not in everything, secret
    assert "A. B. (our number 104, version 2)" in said()
    assert json.loads(inside)["whole_plan_sha256"] == sha256(case_plan().to_json())


def test_an_office_that_writes_universal_numbers_reads_them_first() -> None:
    made = render_once(job(case_plan(numbering=Numbering.UNIVERSAL).to_json(), "wax-up-order", ORDER))
    assert "upper right canine (6, ISO 13), standing in place of 7 (ISO 12)" in " ".join(texts(made.content))


def test_what_is_taken_off_a_side_is_cut_on_the_model_first_too() -> None:
    plan = case_plan()
    (taken,) = PLANS["taken off sides"]
    spaces = replace(plan.spaces, plans=(replace(taken, key=space_plan().key),))
    html = job(replace(plan, spaces=spaces).to_json(), "wax-up-order", ORDER).html
    for part in (
        "cut the upper right lateral incisor (12, Universal 7) by 0.2\u00a0mm (side toward the patient’s left)",
        "gap 0.0\u00a0mm: −0.2 to the first and 0.2 mm to the second",
    ):
        assert part in html, part
    assert "stays open" not in html


@pytest.mark.parametrize(
    ("chosen", "words"), [("none", "adds nothing to any tooth"), ("reshaping", "no wax-up is needed for it")]
)
def test_a_way_that_adds_nothing_needs_no_wax_up(chosen: str, words: str) -> None:
    plan = case_plan().to_json()
    with pytest.raises(PaperError, match=words):
        job(plan, "wax-up-order", replace(ORDER, chosen=chosen))
    assert "wax-up-order" not in kinds_of(plan, replace(ORDER, chosen=chosen))
    assert "wax-up-order" in kinds_of(plan, ORDER)


def test_without_a_way_chosen_or_recommended_it_asks_which() -> None:
    with pytest.raises(PaperError, match="say which one the wax-up order is about"):
        job(case_plan(recommended="").to_json(), "wax-up-order", replace(ORDER, chosen=""))


# ---------------------------------------------------------------- its drawing, measured


@dataclass(frozen=True)
class Drawn:
    """One path of a page, in millimetres on paper."""

    points: tuple[tuple[float, float], ...]

    @property
    def wide(self) -> float:
        return max(x for x, _ in self.points) - min(x for x, _ in self.points)

    @property
    def high(self) -> float:
        return max(y for _, y in self.points) - min(y for _, y in self.points)


def paths(content: bytes) -> Iterator[tuple[int, Drawn]]:
    """Every path of every page, with its page's number, through all transformations (ISO 32000-1, 8.3.4 and 8.5)."""
    with pikepdf.open(io.BytesIO(content)) as file:
        for number, page in enumerate(file.pages):
            matrix, kept = pikepdf.Matrix(), []
            points: list[tuple[float, float]] = []
            begun: list[tuple[float, float]] = []  # of a subpath that has no line yet and may never get one
            for operands, operator in pikepdf.parse_content_stream(page):
                name = str(operator)
                values = [float(one) for one in operands] if name in {"cm", "m", "l", "c", "re"} else []
                if name == "q":
                    kept.append(matrix)
                elif name == "Q":
                    matrix = kept.pop()
                elif name == "cm":
                    matrix = pikepdf.Matrix(*values) @ matrix
                elif name == "m":
                    begun = [matrix.transform((values[0], values[1]))]
                elif name == "l":
                    points += [*begun, matrix.transform((values[0], values[1]))]
                    begun = []
                elif name in {"S", "s", "f", "B", "b", "n"}:
                    if points:
                        yield number, Drawn(tuple((x * POINT_MM, y * POINT_MM) for x, y in points))
                    points = []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_bar_is_fifty_millimetres_long_on_paper(paper: Paper) -> None:
    """The widest path of its height is the bar: two end strokes of 2 mm, 50 mm apart."""
    bars = [one for _page, one in paths(order(paper).content) if one.high == pytest.approx(2, abs=0.05)]
    assert [bar.wide for bar in bars if bar.wide > 10] == [pytest.approx(50, abs=0.2)]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_tooth_is_as_wide_and_long_on_paper_as_in_the_mouth(paper: Paper) -> None:
    outlines = [one for _page, one in paths(order(paper).content) if len(one.points) > 40]
    found = {(round(one.wide, 1), round(one.high, 1)) for one in outlines}
    for shape in space_plan().teeth:
        assert (shape.width_tenths / 10, shape.length_tenths / 10) in found, shape.tooth
        assert (shape.width_after_tenths / 10, shape.length_after_tenths / 10) in found, shape.tooth


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_bar_stands_on_the_page_of_the_teeth_and_nothing_runs_over(paper: Paper) -> None:
    """A bar on another page would prove nothing about the drawing. Letter is 8.5 by 11 inches (ASME Y14.1)."""
    made = order(paper)
    assert made.warnings == ()
    found = list(paths(made.content))
    bar = next(page for page, one in found if one.wide == pytest.approx(50, abs=0.2) and one.high < 3)
    teeth = {page for page, one in found if len(one.points) > 40 and one.wide == pytest.approx(8.9, abs=0.02)}
    assert bar in teeth
    pages = pypdf.PdfReader(io.BytesIO(made.content)).pages
    if paper == "Letter":
        assert [float(side) for side in pages[0].mediabox[2:]] == pytest.approx([612, 792])
    for page, start in zip(pages, rightmost(made.content), strict=True):
        assert start <= float(page.mediabox.width) - 18 / POINT_MM + 1
    widest = max(x for _page, one in found for x, _ in one.points)
    assert widest <= float(pages[0].mediabox.width) * POINT_MM - 17.5
