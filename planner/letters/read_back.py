"""The words of a finished paper, read back from the file itself by its structure tree.

What was printed is what counts, not the source it was printed from. Every piece of marked content is decoded with the
file's own character maps and put where the structure tree hangs it: a paragraph, a point of a list, a cell, a heading.
"""

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import count

import pikepdf
from pikepdf import Array, Dictionary

from planner.letters.finish import DEEPEST, StructureError

BLOCKS = frozenset({"P", "LBody", "H1", "H2", "H3", "H4", "TH", "TD", "Caption"})
"""Kinds of element whose words stand together; a block inside a block stands for itself."""
_PASSED_OVER = frozenset({"Figure", "Lbl"})
_SHOWING = frozenset({"Tj", "TJ", "'", '"'})

_Piece = tuple[tuple[int, int], int]
"""Page, by object and generation number, and number of a piece of marked content on it."""


@dataclass(frozen=True, slots=True)
class Block:
    """One block of text in reading order."""

    kind: str
    """Kind of its structure element: one of :data:`BLOCKS`."""
    text: str
    page: int = field(default=0, compare=False)
    """Page it begins on, counted from 1; 0 before it is printed."""
    table: int = field(default=0, compare=False)
    """Which table of the paper it is a cell of, counted from 1; 0 outside."""
    row: int = field(default=0, compare=False)
    """Which row of all rows of the paper it is a cell of, counted from 1; 0 outside."""


@dataclass(frozen=True, slots=True)
class Printed:
    """All the words of a finished paper."""

    language: str
    """As the file itself says."""
    blocks: tuple[Block, ...]
    margins: tuple[str, ...]
    """What stands around the text of each page: head, foot and page number."""


def blocks(content: bytes) -> tuple[Block, ...]:
    """Every block of text of a tagged PDF in reading order; blanks made one. Raises StructureError."""
    return printed(content).blocks


def printed(content: bytes) -> Printed:
    """Every word of a tagged PDF, in the text and around it; blanks made one. Raises StructureError."""
    with pikepdf.open(io.BytesIO(content)) as pdf:
        if "/StructTreeRoot" not in pdf.Root:
            raise StructureError("this PDF has no structure tree: its words cannot be read back")
        words: dict[_Piece, str] = {}
        margins = []
        for page in pdf.pages:
            around = []
            for number, said in _marked(page):
                if number is None:
                    around.append(said)
                    continue
                piece = (page.obj.objgen, number)
                words[piece] = words[piece] + " " + said if piece in words else said
            margins.append(tidy(" ".join(around)))
        pages = {page.obj.objgen: number for number, page in enumerate(pdf.pages, start=1)}
        found: list[_Found] = []
        _Walk(words, pages, found).into(pdf.Root.StructTreeRoot.K, None, None, 0, 0, 0)
        joined = ((one, tidy(" ".join(one.parts))) for one in found)
        told = tuple(Block(one.kind, text, one.page, one.table, one.row) for one, text in joined if text)
        return Printed(str(pdf.Root.get("/Lang", "")), told, tuple(margins))


def tidy(text: str) -> str:
    """Pieces were joined with blanks; none stands before a mark that closes, or after one that opens."""
    text = re.sub(r"\s+", " ", text).strip()
    return re.sub(r"([(“]) ", r"\1", re.sub(r" ([,.;:!?)”])", r"\1", text))


@dataclass(slots=True)
class _Found:
    """A block while its words are gathered."""

    kind: str
    table: int
    row: int
    page: int = 0
    parts: list[str] = field(default_factory=list)


class _Walk:
    """One walk through a structure tree."""

    def __init__(self, words: dict[_Piece, str], pages: dict[tuple[int, int], int], found: list[_Found]) -> None:
        self._words, self._pages, self._found = words, pages, found
        self._tables, self._rows = count(1), count(1)

    def into(
        self,
        node: pikepdf.Object,
        page: tuple[int, int] | None,
        block: _Found | None,
        table: int,
        row: int,
        depth: int,
    ) -> None:
        """Gather what hangs below ``node`` into ``block`` and into blocks of its own."""
        if depth > DEEPEST:
            raise StructureError(f"the structure tree is deeper than {DEEPEST} levels")
        if isinstance(node, Array):
            for child in node.as_list():
                self.into(child, page, block, table, row, depth + 1)
        elif isinstance(node, int):
            self._gather(block, page, node)
        elif isinstance(node, Dictionary):
            if "/Pg" in node:
                page = node.Pg.objgen
            kind = str(node.get("/S", ""))[1:]
            if kind in _PASSED_OVER:
                return
            if kind == "Table":
                table = next(self._tables)
            elif kind == "TR":
                row = next(self._rows)
            if kind in BLOCKS:
                block = _Found(kind, table, row)
                self._found.append(block)
            if "/MCID" in node:
                self._gather(block, page, int(node.MCID))
            if "/K" in node:
                self.into(node.K, page, block, table, row, depth + 1)

    def _gather(self, block: _Found | None, page: tuple[int, int] | None, number: int) -> None:
        if block is None or page is None:
            return
        block.parts.append(self._words.get((page, number), ""))
        block.page = block.page or self._pages.get(page, 0)


def _marked(page: pikepdf.Page) -> Iterator[tuple[int | None, str]]:
    """Number and words of each piece of marked content of a page that shows text; None for what is no content."""
    fonts = {name: _characters(font) for name, font in page.resources.get("/Font", Dictionary()).items()}
    open_pieces: list[int | None] = []
    characters: dict[int, str] = {}
    for instruction in pikepdf.parse_content_stream(page):
        operands, operator = instruction.operands, str(instruction.operator)
        if operator == "BDC":
            properties = operands[1]
            numbered = isinstance(properties, Dictionary) and "/MCID" in properties
            open_pieces.append(int(properties.MCID) if numbered else None)
        elif operator == "BMC":
            open_pieces.append(None)
        elif operator == "EMC":
            open_pieces.pop()
        elif operator == "Tf":
            characters = fonts.get(str(operands[0]), {})
        elif operator in _SHOWING:
            number = next((piece for piece in reversed(open_pieces) if piece is not None), None)
            yield number, _decoded(operands[-1], characters)


def _decoded(shown: pikepdf.Object, characters: dict[int, str]) -> str:
    parts = shown.as_list() if isinstance(shown, Array) else [shown]
    codes = b"".join(bytes(part) for part in parts if isinstance(part, pikepdf.String))
    return "".join(characters.get(int.from_bytes(codes[at : at + 2], "big"), "") for at in range(0, len(codes), 2))


_PAIR = re.compile(rb"<([0-9a-fA-F]+)>\s*<([0-9a-fA-F]+)>")


def _characters(font: pikepdf.Object) -> dict[int, str]:
    """What each code of a font means, from the map that the file carries: single characters, as WeasyPrint writes."""
    if "/ToUnicode" not in font:
        return {}
    written = font.ToUnicode.read_bytes()
    found: dict[int, str] = {}
    for part in re.findall(rb"beginbfchar(.*?)endbfchar", written, re.S):
        for code, said in _PAIR.findall(part):
            found[int(code, 16)] = bytes.fromhex(said.decode()).decode("utf-16-be", "replace")
    return found
