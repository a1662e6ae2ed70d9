"""The last step of a PDF: what structure checkers still miss in WeasyPrint's output.

* Header cells get a scope, so that a reader can name the column or row of every figure (ISO 14289-1, 7.5).
* Running headers and footers are marked as pagination artifacts: they are printed in every page's content but hang
  nowhere in the structure tree, and a marked piece that is neither is a fault (ISO 14289-1, 7.1 and 7.8).
* An attachment is listed once among the associated files.
* The file's identifier is computed from its content, so that two runs give the same bytes.
"""

import io
from collections import defaultdict

import pikepdf
from pikepdf import Array, ContentStreamInstruction, Dictionary, Name, Operator

DEEPEST = 60
"""Levels of the structure tree that are followed; papers need about fifteen."""

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
        _walk(pdf.Root.StructTreeRoot.K, None, False, placed, 0)
        for page in pdf.pages:
            _mark_running_parts(pdf, page, placed[page.obj.objgen])
        if "/AF" in pdf.Root:
            pdf.Root.AF = _each_once(pdf.Root.AF)
        finished = io.BytesIO()
        pdf.save(finished, deterministic_id=True, fix_metadata_version=False)
        return finished.getvalue()


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
    written: list[pikepdf.ContentStreamInstruction | pikepdf.ContentStreamInlineImage] = []
    for instruction in pikepdf.parse_content_stream(page):
        operands, operator = instruction.operands, instruction.operator
        if operator == Operator("BDC") and _piece(operands[1]) is not None and _piece(operands[1]) not in placed:
            artifact = [Name.Artifact, Dictionary(Type=Name.Pagination)]
            written.append(ContentStreamInstruction(artifact, operator))
        else:
            written.append(instruction)
    page.Contents = pdf.make_stream(pikepdf.unparse_content_stream(written))


def _piece(properties: pikepdf.Object) -> int | None:
    """The number of a marked piece, or None for another kind of marking."""
    if isinstance(properties, Dictionary) and "/MCID" in properties:
        return int(properties.MCID)
    return None


def _each_once(files: pikepdf.Object) -> Array:
    kept: dict[_Page, pikepdf.Object] = {}
    for file in files.as_list():
        kept.setdefault(file.objgen, file)
    return Array(list(kept.values()))
