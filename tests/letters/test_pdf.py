"""The PDF worker: tagged, archivable, repeatable, and safe from what a page might ask it to load."""

import builtins
import io
import subprocess
import sys
from datetime import date

import pikepdf
import pypdf
import pytest

from planner.letters import pdf
from planner.letters.finish import StructureError, finish
from planner.rules.strip import Words
from planner.rules.strip_svg import strip_svg
from tests.letters.sample import TEETH, space_plan, words_of

HTML = """<html lang="en"><head><title>A paper</title></head><body>
<div class="head"><p>Running head</p></div><div class="foot"><p>Running foot</p></div>
<div class="page-number"><p>page <span class="this"></span> of <span class="all"></span></p></div>
<h1>A paper</h1><table><thead><tr><th>What</th><th>How much</th></tr></thead>
<tbody><tr><th>One thing</th><td>1.00</td></tr></tbody></table>
<ul><li>first</li></ul><p style="break-before: page">Second page.</p></body></html>"""
FILE = pdf.Attached("plan.json", b'{"a":1}\n', date(2026, 3, 2))


@pytest.fixture(scope="module")
def made() -> pdf.Rendered:
    return pdf.render_here(pdf.Job(HTML, (FILE,)))


def opened(rendered: pdf.Rendered) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(rendered.content))


def test_nothing_is_complained_about(made: pdf.Rendered) -> None:
    assert made.warnings == ()
    assert made.pages == 2


def test_two_runs_give_the_same_bytes_and_so_does_a_worker(made: pdf.Rendered) -> None:
    job = pdf.Job(HTML, (FILE,))
    assert pdf.render_here(job).content == made.content
    assert pdf.render(job) == made


def test_the_bytes_do_not_hang_on_hash_seed_or_time_zone(made: pdf.Rendered) -> None:
    code = (
        "import hashlib; from tests.letters.test_pdf import HTML, FILE; from planner.letters import pdf;"
        "print(hashlib.sha256(pdf.render_here(pdf.Job(HTML, (FILE,))).content).hexdigest())"
    )
    import hashlib

    expected = hashlib.sha256(made.content).hexdigest()
    environment = {"PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo", "PATH": "/usr/bin:/bin"}
    found = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
    assert found.stdout.strip() == expected


def test_the_file_says_what_it_is(made: pdf.Rendered) -> None:
    """ISO 14289-1 (7.1, 7.2) and ISO 19005-3 (6.6.4): marked, titled, in a language, both identifications present."""
    with opened(made) as file:
        root = file.Root
        assert root.MarkInfo.Marked
        assert str(root.Lang) == "en"
        assert root.ViewerPreferences.DisplayDocTitle
        metadata = root.Metadata.read_bytes().decode()
        assert 'pdfuaid:part="1"' in metadata
        assert "<pdfaid:part>3</pdfaid:part>" in metadata or 'pdfaid:part="3"' in metadata
        assert "A paper" in metadata
        assert "/OutputIntents" in root
        assert all(page.obj.get("/Tabs") == "/S" for page in file.pages)


def cells(file: pikepdf.Pdf, kind: str) -> list[pikepdf.Object]:
    found: list[pikepdf.Object] = []

    def look(node: pikepdf.Object) -> None:
        if isinstance(node, pikepdf.Array):
            for child in node:
                look(child)
        elif isinstance(node, pikepdf.Dictionary):
            if node.get("/S") == kind:
                found.append(node)
            if "/K" in node:
                look(node.K)

    look(file.Root.StructTreeRoot.K)
    return found


def test_every_header_cell_has_its_scope(made: pdf.Rendered) -> None:
    with opened(made) as file:
        scopes = [str(cell.A.Scope) for cell in cells(file, "/TH")]
    assert scopes == ["/Column", "/Row"]


def test_the_corner_above_row_headers_heads_no_figure(made: pdf.Rendered) -> None:
    with opened(made) as file:
        (head,) = [row for row in cells(file, "/TR") if row.P.S == "/THead"]
        assert [str(cell.S) for cell in head.K] == ["/TD", "/TH"]


POINTS = """<html lang="en"><head><title>x</title></head><body><ul><li>plain <strong>and strong</strong></li>
<li><p>a paragraph</p></li><li>outer<ol><li>inner</li></ol></li></ul><div class="lines"><p></p></div></body></html>"""


def test_a_point_of_a_list_is_its_mark_and_one_body() -> None:
    """ISO 32000-1, table 336: a list item holds a label and a body, and a list may hold a list. Every part names what
    it hangs from."""
    with opened(pdf.render_here(pdf.Job(POINTS))) as file:
        points = cells(file, "/LI")
        assert [[str(part.S) for part in point.K] for point in points] == [["/Lbl", "/LBody"]] * 4
        assert all(part.P.objgen == point.objgen for point in points for part in point.K)
        for body in cells(file, "/LBody"):
            assert all(part.P.objgen == body.objgen for part in body.K)
        assert [str(part.S) for part in points[1].K[1].K] == ["/P"]
        assert [str(part.S) for part in cells(file, "/L")[0].K] == ["/LI", "/LI", "/LI", "/L"]


def test_lines_to_write_on_are_not_read_as_empty_paragraphs() -> None:
    with opened(pdf.render_here(pdf.Job(POINTS))) as file:
        assert all(len(paragraph.K) for paragraph in cells(file, "/P"))


def test_what_runs_on_every_page_is_an_artifact_and_nothing_else_is(made: pdf.Rendered) -> None:
    with opened(made) as file:
        for page in file.pages:
            instructions = pikepdf.parse_content_stream(page)
            artifacts = [
                one for one in instructions if str(one.operator) == "BDC" and str(one.operands[0]) == "/Artifact"
            ]
            assert len(artifacts) >= 3  # head, foot, page number
            assert all(str(one.operands[1].Type) == "/Pagination" for one in artifacts)
        assert len(cells(file, "/LI")) == 1


def test_every_page_says_which_of_how_many(made: pdf.Rendered) -> None:
    texts = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(made.content)).pages]
    assert ["page 1 of 2" in texts[0], "page 2 of 2" in texts[1]] == [True, True]


def test_the_attachment_comes_back_whole_and_is_listed_once(made: pdf.Rendered) -> None:
    with opened(made) as file:
        assert file.attachments["plan.json"].get_file().read_bytes() == FILE.content
        assert len(file.Root.AF) == 1
        assert str(file.Root.AF[0].AFRelationship) == "/Source"


def test_an_independent_checker_reads_it_cleanly(made: pdf.Rendered, tmp_path) -> None:  # type: ignore[no-untyped-def]
    """qpdf reads every object and stream (https://qpdf.sourceforge.io)."""
    path = tmp_path / "paper.pdf"
    path.write_bytes(made.content)
    found = subprocess.run(["qpdf", "--check", str(path)], capture_output=True, text=True)
    assert found.returncode == 0, found.stdout + found.stderr


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_paper_sizes(paper: pdf.Paper) -> None:
    """ISO 216: A4 is 210 by 297 mm; ANSI/ASME Y14.1: letter is 8.5 by 11 inches; 72 points to the inch."""
    expected = {"A4": (210 * 72 / 25.4, 297 * 72 / 25.4), "Letter": (8.5 * 72, 11 * 72)}[paper]
    box = pypdf.PdfReader(io.BytesIO(pdf.render_here(pdf.Job(HTML, paper=paper)).content)).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(expected, abs=0.1)


def test_the_check_bar_prints_fifty_millimetres_long() -> None:
    """A point is 1/72 inch and an inch 25.4 mm: the bar must measure 50 mm on paper, whatever happens in between."""
    svg = strip_svg(space_plan(), Words(words_of(*TEETH)), "p")
    html = f'<html lang="en"><head><title>x</title></head><body>{svg}</body></html>'
    file = opened(pdf.render_here(pdf.Job(html)))
    scale, stack, start, lengths = 1.0, [], (0.0, 0.0), set()
    for one in pikepdf.parse_content_stream(file.pages[0]):
        operator = str(one.operator)
        if operator == "q":
            stack.append(scale)
        elif operator == "Q":
            scale = stack.pop()
        elif operator == "cm":
            scale *= float(one.operands[0])
        elif operator == "m":
            start = (float(one.operands[0]), float(one.operands[1]))
        elif operator == "l" and float(one.operands[1]) == start[1]:
            lengths.add(round(abs(float(one.operands[0]) - start[0]) * scale * 25.4 / 72, 2))
    assert 50.0 in lengths


@pytest.mark.parametrize(
    "address", ["https://example.org/a.png", "file:///etc/hostname", "../../../../etc/hostname", "../pdf.py"]
)
def test_a_paper_loads_nothing_but_its_own_fonts(address: str) -> None:
    html = f'<html lang="en"><head><title>x</title></head><body><img alt="x" src="{address}"><p>y</p></body></html>'
    rendered = pdf.render_here(pdf.Job(html))
    assert any("Failed to load image" in complaint for complaint in rendered.warnings)


def test_a_paper_that_takes_too_long_is_given_up_in_words() -> None:
    endless = "<p>word " * 30_000
    with pytest.raises(pdf.PaperError, match="not ready after 1 seconds"):
        pdf.render(pdf.Job(f"<html><title>x</title><body>{endless}</body></html>", seconds=1))
    assert pdf.render(pdf.Job(HTML)).pages == 2


def test_a_machine_without_pango_is_told_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = builtins.__import__

    def without(name: str, *args: object, **kwargs: object) -> object:
        if name == "weasyprint":
            raise OSError("cannot load library 'libpango-1.0-0'")
        return plain(name, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(pdf.PaperError, match=r"Pango is missing.*libpangoft2"):
        pdf.render_here(pdf.Job(HTML))


def test_an_untagged_file_is_refused() -> None:
    empty = pikepdf.new()
    empty.add_blank_page()
    buffer = io.BytesIO()
    empty.save(buffer)
    with pytest.raises(StructureError, match="no structure tree"):
        finish(buffer.getvalue())


DRAWN = '<svg width="20mm" height="9mm" viewBox="0 0 20 9">{title}<text x="1" y="5" font-size="3">{text}</text></svg>'


def test_a_drawing_is_a_picture_with_its_title_as_alternative() -> None:
    drawn = DRAWN.format(title="<title>Of &lt;100&gt; &amp; more</title>", text="in it")
    with opened(
        pdf.render_here(pdf.Job(f'<html lang="en"><head><title>x</title></head><body>{drawn}</body></html>'))
    ) as file:
        (figure,) = cells(file, "/Figure")
        assert str(figure.Alt) == "Of <100> & more"
    html, drawings = pdf._drawings_apart(f"<p>{drawn}{drawn}</p>")
    assert html.count("<img ") == len(drawings) == 2
    assert 'alt="Of &lt;100&gt; &amp; more"' in html


@pytest.mark.parametrize(
    "drawn",
    [
        DRAWN.format(title="", text="without a title"),
        DRAWN.format(title="<title>no XML by itself</title>", text="a&nbsp;b"),
    ],
)
def test_a_drawing_that_cannot_stand_alone_stays_where_it_is(drawn: str) -> None:
    assert pdf._drawings_apart(drawn) == (drawn, {})


def test_a_file_is_packed(made: pdf.Rendered) -> None:
    """ISO 32000-1, 7.5.7: objects of the structure tree lie in object streams, or it would double the file."""
    assert made.content.count(b"/ObjStm") >= 1
    with opened(made) as file:
        assert all("/Filter" in page.Contents for page in file.pages)
