"""The lengths that a printed paper states: sizes now and then, gaps, and what is added to or taken off each tooth."""

import re
from collections.abc import Iterator, Sequence

from planner.letters.read_back import Block
from planner.letters.reading_words import Reader, cell, lengths, teeth_of
from planner.rules.papers_agree import About, Fact
from planner.rules.teeth import Tooth
from planner.rules.units import format_mm

Rows = Sequence[tuple[Block, ...]]
Options = Sequence[tuple[str, str]]
"""Names of options as printed in headings, and what stands for each."""
_RIGHT, _LEFT = "toward the patient’s right", "toward the patient’s left"


def lengths_of(
    blocks: Sequence[Block], rows: Rows, read: Reader, options: Options, about_option: str
) -> Iterator[Fact]:
    """Every length, in tenths of a millimetre; those of a plan belong to the option that the paper is about."""
    yield from _gaps(blocks, read)
    yield from _small(blocks, read)
    yield from _sizes(rows, read, about_option)
    yield from _sizes_in_lines(blocks, read, about_option)
    yield from _chairside(rows, read, about_option)
    yield from _cuts(blocks, read, about_option)
    yield from _work(blocks, read, options)


def _size(what: str, tooth: Tooth, tenths: int, where: Block, option: str = "") -> Fact:
    of = f" by “{option}”" if option else ""
    said = f"{format_mm(tenths)} mm"
    return Fact(About.LENGTH, (what, option, tooth.key), f"the {what} of the {tooth.name}{of}", str(tenths), said,
                where.page)  # fmt: skip


def _gaps(blocks: Sequence[Block], read: Reader) -> Iterator[Fact]:
    """Gaps as a letter lists them, and as an order says where neighbours meet."""
    listed = read.said("Gaps:")
    between = read.said("Between %(right)s and %(left)s").split("%(")[0]
    for block in blocks:
        if block.kind != "LBody":
            continue
        parts = block.text.removeprefix(listed).split(";") if block.text.startswith(listed) else []
        if between and block.text.startswith(between):
            parts = [block.text]
        for part in parts:
            teeth, found = teeth_of(part), lengths(part)
            if len(teeth) == 2 and found:
                names = f"{teeth[0].name} and the {teeth[1].name}"
                key = ("gap", *sorted(tooth.key for tooth in teeth))
                yield Fact(About.LENGTH, key, f"the gap between the {names}", str(found[0]),
                           f"{format_mm(found[0])} mm", block.page)  # fmt: skip


def _small(blocks: Sequence[Block], read: Reader) -> Iterator[Fact]:
    for block in blocks:
        found = read.find("It is smaller than usual: %(width)s wide.", block.text)
        teeth = teeth_of(block.text[: found.start()]) if found else ()
        if found and teeth and (wide := lengths(found["width"])):
            yield _size("width now", teeth[0], wide[0], block)


def _sizes(rows: Rows, read: Reader, option: str) -> Iterator[Fact]:
    """Columns of a letter's and an order's tables of sizes, by what stands above them."""
    said = read.said
    columns = {
        said("Width"): "width now",
        said("Width now"): "width now",
        said("Width then"): "width to be",
        said("Width target"): "width to be",
        said("Length"): "length now",
        said("Length now"): "length now",
        said("Length then"): "length to be",
        said("Length target"): "length to be",
        said("Added right"): f"share {_RIGHT}",
        said("Patient’s right"): f"share {_RIGHT}",
        said("Added left"): f"share {_LEFT}",
        said("Patient’s left"): f"share {_LEFT}",
    }
    target = said("target")
    header: tuple[Block, ...] = ()
    heads: list[str] = []
    for row in rows:
        if row[0].text == said("Tooth") and all(block.kind == "TH" for block in row[1:]):
            header = row
            heads = [block.text for block in row]
            # A target stands behind what it is the target of.
            heads = [_then(heads[at - 1], read) if head == target else head for at, head in enumerate(heads)]
            # Boxes to be filled in by hand hold no words: what is read of a row are its other cells.
            heads = [head for head in heads if head != said("Wax") and "0.2" not in head]
            continue
        teeth = teeth_of(row[0].text) if header and row[0].table == header[0].table and row[0].kind == "TH" else ()
        if not teeth:
            continue
        for head, block in zip(heads[1:], row[1:], strict=False):
            tenths = cell(block.text)
            if head in columns and tenths is not None:
                what = columns[head]
                yield _size(what, teeth[0], tenths, block, "" if what.endswith("now") else option)
        yield from _worked(row, heads, read, teeth[0], option)


def _sizes_in_lines(blocks: Sequence[Block], read: Reader, option: str) -> Iterator[Fact]:
    """The same in large print: a line for each tooth."""
    lines = (
        ("width %(was)s, then %(now)s", "was", "width now", "now", "width to be"),
        ("added right %(right)s, left %(left)s", "right", f"share {_RIGHT}", "left", f"share {_LEFT}"),
        ("length %(was)s, then %(now)s", "was", "length now", "now", "length to be"),
    )
    for block in blocks:
        if block.kind != "LBody" or read.find(lines[0][0], block.text) is None:
            continue
        teeth = teeth_of(block.text)
        for part in block.text.rstrip(".").split("; "):
            for sentence, first, what_first, second, what_second in lines:
                if not teeth or (found := read.find(sentence, part)) is None:
                    continue
                for group, what in ((first, what_first), (second, what_second)):
                    if (tenths := cell(found[group])) is not None:
                        yield _size(what, teeth[0], tenths, block, "" if what.endswith("now") else option)


def _then(head: str, read: Reader) -> str:
    return read.said("Width target") if head == read.said("Width now") else read.said("Length target")


def _worked(row: tuple[Block, ...], heads: list[str], read: Reader, tooth: Tooth, option: str) -> Iterator[Fact]:
    """What an order has added to or taken off a tooth, as the letter tells it tooth by tooth."""
    places = [heads.index(read.said(one)) for one in ("Mesial", "Distal", "Edge") if read.said(one) in heads]
    if len(places) != 3 or len(row) != len(heads):
        return
    found = [cell(row[at].text) or 0 for at in places]
    yield _work_fact(option, tooth, [abs(one) for one in found if one], row[0])


def _chairside(rows: Rows, read: Reader, option: str) -> Iterator[Fact]:
    """What a step sheet has added to each tooth, and what it becomes."""
    head = read.said("Add, mm")
    tables = {row[0].table for row in rows if len(row) > 1 and row[1].text == head}
    sizes = (
        ("wide %(now)s → %(then)s", "width now", "width to be"),
        ("long %(now)s → %(then)s", "length now", "length to be"),
    )
    for row in rows:
        teeth = teeth_of(row[0].text) if row[0].table in tables and len(row) > 1 else ()
        if not teeth:
            continue
        work = []
        for part in re.split(r", (?=\D)|; | · ", row[1].text):
            for sentence in ("mesial %(mm)s", "distal %(mm)s", "edge %(mm)s"):
                if (found := read.find(sentence, part)) and (tenths := cell(found["mm"])):
                    work.append(abs(tenths))
            for sentence, now, then in sizes:
                if found := read.find(sentence, part):
                    for what, text, of in ((now, found["now"], ""), (then, found["then"], option)):
                        if (tenths := cell(text)) is not None:
                            yield _size(what, teeth[0], tenths, row[1], of)
        if work:
            yield _work_fact(option, teeth[0], work, row[1])


def _cuts(blocks: Sequence[Block], read: Reader, option: str) -> Iterator[Fact]:
    for block in blocks:
        found = read.find("On the model, cut the %(tooth)s by %(by)s (%(what)s), and colour the cut.", block.text)
        edge = read.find("edge, from %(now)s to %(then)s", block.text) if found else None
        if found is None or edge is None:
            continue
        tooth = teeth_of(found["tooth"])[0]
        now, then = cell(edge["now"]), cell(edge["then"].split(")")[0])
        if now is None or then is None or not (by := lengths(found["by"])):
            continue
        yield _size("length now", tooth, now, block)
        yield _size("length to be", tooth, then, block, option)
        yield _size("cut on the model", tooth, by[0], block, option)
        yield _size("cut on the model", tooth, now - then, block, option)


def worked_lines(blocks: Sequence[Block], read: Reader, options: Options) -> Iterator[tuple[str, Block]]:
    """The lines "tooth by tooth" below the heading of each option, each with that option."""
    names, lead = dict(options), read.said("Tooth by tooth:")
    option, within = "", False
    for block in blocks:
        if block.kind in ("H2", "H3"):
            option, within = names.get(block.text, ""), False
        elif block.kind == "P":
            within = block.text == lead
        elif within and option and block.kind == "LBody":
            yield option, block


def _work(blocks: Sequence[Block], read: Reader, options: Options) -> Iterator[Fact]:
    """Every length in those lines, by tooth."""
    done: dict[tuple[str, Tooth], tuple[list[int], Block]] = {}
    for option, block in worked_lines(blocks, read, options):
        found = lengths(block.text)
        for tooth in dict.fromkeys(teeth_of(block.text)) if found else ():
            done.setdefault((option, tooth), ([], block))[0].extend(found)
    for (option, tooth), (tenths, block) in done.items():
        yield _work_fact(option, tooth, tenths, block)


def _work_fact(option: str, tooth: Tooth, tenths: list[int], where: Block) -> Fact:
    # A line may say one length of two sides.
    tenths = sorted(set(tenths))
    said = ", ".join(f"{format_mm(one)} mm" for one in tenths) or "nothing"
    return Fact(About.LENGTH, ("work", option, tooth.key), f"what “{option}” does to the {tooth.name}",
                ",".join(map(str, tenths)), said, where.page)  # fmt: skip
