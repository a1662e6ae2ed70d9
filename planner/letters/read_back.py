"""The words of a finished paper, read back from the file itself by its structure tree.

What was printed is what counts, not the source it was printed from. Every piece of marked content is decoded with the
file's own character maps and put where the structure tree hangs it: a paragraph, a point of a list, a cell, a heading.
"""

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass

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


def blocks(content: bytes) -> tuple[Block, ...]:
    """Every block of text of a tagged PDF in reading order; blanks made one. Raises StructureError."""
    with pikepdf.open(io.BytesIO(content)) as pdf:
        if "/StructTreeRoot" not in pdf.Root:
            raise StructureError("this PDF has no structure tree: its words cannot be read back")
        words: dict[_Piece, str] = {}
        for page in pdf.pages:
            for number, said in _marked(page):
                piece = (page.obj.objgen, number)
                words[piece] = words[piece] + " " + said if piece in words else said
        found: list[tuple[str, list[str]]] = []
        _walk(pdf.Root.StructTreeRoot.K, None, None, words, found, 0)
    joined = ((kind, tidy(" ".join(parts))) for kind, parts in found)
    return tuple(Block(kind, text) for kind, text in joined if text)


def tidy(text: str) -> str:
    """Pieces were joined with blanks; none stands before a mark that closes, or after one that opens."""
    text = re.sub(r"\s+", " ", text).strip()
    return re.sub(r"([(“]) ", r"\1", re.sub(r" ([,.;:!?)”])", r"\1", text))


def _walk(
    node: pikepdf.Object,
    page: tuple[int, int] | None,
    block: list[str] | None,
    words: dict[_Piece, str],
    found: list[tuple[str, list[str]]],
    depth: int,
) -> None:
    if depth > DEEPEST:
        raise StructureError(f"the structure tree is deeper than {DEEPEST} levels")
    if isinstance(node, Array):
        for child in node.as_list():
            _walk(child, page, block, words, found, depth + 1)
    elif isinstance(node, int):
        if block is not None and page is not None:
            block.append(words.get((page, node), ""))
    elif isinstance(node, Dictionary):
        if "/Pg" in node:
            page = node.Pg.objgen
        kind = str(node.get("/S", ""))[1:]
        if kind in _PASSED_OVER:
            return
        if kind in BLOCKS:
            block = []
            found.append((kind, block))
        if "/MCID" in node and block is not None and page is not None:
            block.append(words.get((page, int(node.MCID)), ""))
        if "/K" in node:
            _walk(node.K, page, block, words, found, depth + 1)


def _marked(page: pikepdf.Page) -> Iterator[tuple[int, str]]:
    """Number and words of each piece of marked content of a page that shows text."""
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
            if number is not None:
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
