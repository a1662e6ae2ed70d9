"""The last step of a PDF: what structure checkers still miss in WeasyPrint's output.

* Header cells get a scope, so that a reader can name the column or row of every figure (ISO 14289-1, 7.5). The cell in
  the corner, above a column of row headers, heads no figure and becomes a plain cell.
* A point of a list is its mark and its body (ISO 32000-1, table 336): marks are set into the line, so that they are
  painted in the order in which they are read, and what follows one is made the body.
* What holds nothing (a line to write on, a part of a paragraph left empty by the end of a page) leaves the tree.
* Running headers and footers are marked as pagination artifacts: they are printed in every page's content but hang
  nowhere in the structure tree, and a marked piece that is neither is a fault (ISO 14289-1, 7.1 and 7.8).
* An attachment is listed once among the associated files.
* The metadata are one description (ISO 16684-1, 7.4): the renderer puts what it is given beside its own.
* The file's identifier is computed from its content, so that two runs give the same bytes.
"""

import io
import re
from collections import defaultdict
from typing import Any, TypeGuard

import pikepdf
from pikepdf import Array, Dictionary, Name

DEEPEST = 60
"""Levels of the structure tree that are followed; papers need about fifteen."""

_BEGINS = re.compile(rb"/\w+\s*<<\s*/MCID\s+(\d+)\s*>>\s*BDC")
_BETWEEN = re.compile(rb"</rdf:RDF>\s*<rdf:RDF[^>]*>\s*")
_Page = tuple[int, int]
"""Object and generation number of a page (or another object)."""


class StructureError(ValueError):
    """A PDF whose structure tree is missing or cannot be read."""


def finish(content: bytes) -> bytes:
    """The finished file. Raises StructureError when ``content`` is not a tagged PDF."""
    with pikepdf.open(io.BytesIO(content)) as pdf:
        if "/StructTreeRoot" not in pdf.Root:
            raise StructureError("this PDF has no structure tree: it was not rendered with tags")
        placed: defaultdict[_Page, set[int]] = defaultdict(set)
        tree = pdf.Root.StructTreeRoot.K
        _tidy(pdf, tree, 0)
        _walk(tree, None, False, placed, 0)
        for page in pdf.pages:
            _mark_running_parts(pdf, page, placed[page.obj.objgen])
        if "/Metadata" in pdf.Root:
            pdf.Root.Metadata.write(_one_description(pdf.Root.Metadata.read_bytes()))
        if "/AF" in pdf.Root:
            pdf.Root.AF = _each_once(pdf.Root.AF)
        finished = io.BytesIO()
        pdf.save(
            finished,
            deterministic_id=True,
            fix_metadata_version=False,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,  # or the structure tree doubles the file
        )
        return finished.getvalue()


_HOLDS_SOMETHING = frozenset({"/P", "/Span", "/NonStruct", "/Div", "/L", "/LI", "/LBody", "/Lbl"})
"""Elements that mean nothing where they have no content; an empty cell of a table means that nothing stands there."""


def _children(node: pikepdf.Object) -> list[Any]:
    below = node.get("/K")
    if below is None:
        return []
    return list(below.as_list()) if isinstance(below, Array) else [below]


def _is(node: Any, kind: str) -> TypeGuard[Dictionary]:
    return isinstance(node, Dictionary) and node.get("/S") == kind


def _tidy(pdf: pikepdf.Pdf, node: pikepdf.Object, depth: int) -> None:
    """Bring lists and tables below ``node`` into shape, and take out what is empty."""
    if depth > DEEPEST:
        raise StructureError(f"the structure tree is deeper than {DEEPEST} levels")
    below = list(node.as_list()) if isinstance(node, Array) else _children(node)
    for child in below:
        if isinstance(child, Dictionary):
            _tidy(pdf, child, depth + 1)
    if isinstance(node, Array):
        return
    kept = [child for child in below if not _is_empty(child)]
    if len(kept) < len(below):
        node.K = Array(kept)
    if _is(node, "/LI"):
        _make_body(pdf, node)
    elif _is(node, "/Table"):
        _free_corner(node)


def _is_empty(node: Any) -> bool:
    return (
        isinstance(node, Dictionary)
        and str(node.get("/S", "")) in _HOLDS_SOMETHING
        and not _children(node)
        and "/Alt" not in node
        and "/ActualText" not in node
    )


def _make_body(pdf: pikepdf.Pdf, point: Dictionary) -> None:
    """Mark first, then one body with all the rest."""
    below = _children(point)
    if below and _is(below[0], "/LBody") and _is((inner := _children(below[0]))[0], "/Lbl"):
        # A paragraph in a point: the mark stands in a line of its own before it, which is no body.
        below = [*inner, *below[1:]]
    marks = [child for child in below if _is(child, "/Lbl")]
    rest = [child for child in below if not _is(child, "/Lbl")]
    if not rest or (len(rest) == 1 and _is(rest[0], "/LBody")):
        return
    body = pdf.make_indirect(Dictionary(Type=Name.StructElem, S=Name.LBody, P=point, K=Array(rest)))
    if "/Pg" in point:
        body.Pg = point.Pg
    for child in rest:
        if isinstance(child, Dictionary) and "/S" in child:
            child.P = body
    for mark in marks:
        mark.P = point
    point.K = Array([*marks, body])


def _free_corner(table: Dictionary) -> None:
    """Make the corner above a column of row headers a plain cell: it says what the rows are, and heads no figure."""
    rows = [row for part in _children(table) if _is(part, "/TBody") for row in _children(part) if _is(row, "/TR")]
    if not rows or not all(_is(first, "/TH") for row in rows for first in _children(row)[:1]):
        return
    heads = [row for part in _children(table) if _is(part, "/THead") for row in _children(part) if _is(row, "/TR")]
    for row in heads:
        cells = _children(row)
        if len(cells) > 1 and _is(cells[0], "/TH"):
            cells[0].S = Name.TD


def _walk(
    node: pikepdf.Object, page: pikepdf.Object | None, in_head: bool, placed: defaultdict[_Page, set[int]], depth: int
) -> None:
    """Note the marked pieces that hang in the tree, and give header cells their scope on the way."""
    if depth > DEEPEST:
        raise StructureError(f"the structure tree is deeper than {DEEPEST} levels")
    if isinstance(node, Array):
        for child in node.as_list():
            _walk(child, page, in_head, placed, depth + 1)
        return
    if not isinstance(node, Dictionary):
        return
    page = node.get("/Pg", page)
    kind = str(node.get("/S", ""))
    in_head = in_head or kind == "/THead"
    if kind == "/TH":
        _give_scope(node, Name.Column if in_head else Name.Row)
    if "/MCID" in node and page is not None:
        placed[page.objgen].add(int(node.MCID))
    children = node.get("/K")
    if children is None:
        return
    for child in children.as_list() if isinstance(children, Array) else [children]:
        if isinstance(child, int):
            if page is None:
                raise StructureError("a marked piece of the structure tree names no page")
            placed[page.objgen].add(child)
        else:
            _walk(child, page, in_head, placed, depth + 1)


def _give_scope(cell: Dictionary, scope: Name) -> None:
    attributes = cell.get("/A")
    if attributes is None:
        cell.A = Dictionary(O=Name.Table, Scope=scope)
    elif "/Scope" not in attributes:
        attributes.Scope = scope


def _mark_running_parts(pdf: pikepdf.Pdf, page: pikepdf.Page, placed: set[int]) -> None:
    """Make every marked piece of ``page`` that hangs nowhere in the tree a pagination artifact.

    Done on the bytes, which takes a tenth of the time of reading every instruction. The renderer writes text as hex
    strings and no images in line, so that nothing else can look like the beginning of a marked piece.
    """

    def beginning(found: re.Match[bytes]) -> bytes:
        return found[0] if int(found[1]) in placed else b"/Artifact <</Type /Pagination>> BDC"

    page.contents_coalesce()
    page.Contents = pdf.make_stream(_BEGINS.sub(beginning, page.Contents.read_bytes()))


def _one_description(metadata: bytes) -> bytes:
    joined = _BETWEEN.sub(b"\n", metadata)
    if joined.count(b"<rdf:RDF") != 1:
        raise StructureError("the metadata of this PDF cannot be read as one description")
    return joined


def _each_once(files: pikepdf.Object) -> Array:
    kept: dict[_Page, pikepdf.Object] = {}
    for file in files.as_list():
        kept.setdefault(file.objgen, file)
    return Array(list(kept.values()))
