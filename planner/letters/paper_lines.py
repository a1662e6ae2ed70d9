"""The lines and sums of an estimate as they are printed, and how a price or the teeth of an option become facts."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from planner.letters.read_back import Block, Printed
from planner.letters.reading_words import Reader, teeth_of
from planner.rules.papers_agree import About, Fact, Value
from planner.rules.teeth import Tooth

PLACES = "teeth and places"
"""Key of the teeth an option is about, with the places it fills."""
_CODED = re.compile(r"^(?P<words>.+?) \((?P<code>[A-Z0-9-]+)\)(?P<rest>.*)$")


def fact(
    about: About, key: tuple[object, ...], what: str, value: Value, says: str, page: int, *, part: bool = False
) -> Fact:
    """A fact whose key may be told in anything that can be written."""
    return Fact(about, tuple(map(str, key)), what, value, says, page, part)


def price(read: Reader, key: tuple[str, ...], what: str, where: Block, text: str = "") -> Iterator[Fact]:
    """The amount that ``text``, or else the block, holds; nothing where it holds none."""
    cents = read.cents(text or where.text)
    if cents is not None:
        yield fact(About.PRICE, key, what, str(cents), (text or where.text).strip(), where.page)


def on_estimate(option: str, block: Block, printed: str) -> Fact:
    """That ``option`` is one of those on the estimate."""
    said = f"“{printed}”"
    return fact(About.ITEM, ("options",), "the options on the estimate", frozenset({option}), said, block.page,
                part=True)  # fmt: skip


def about_teeth(key: str, name: str, teeth: Iterable[Tooth], where: Block, *, part: bool = False) -> Fact:
    """Which teeth the option called ``name`` works on."""
    keys = frozenset(tooth.key for tooth in teeth)
    return fact(About.TOOTH, (key, name), f"the teeth that “{name}” works on", keys, where.text, where.page, part=part)


def _nth(code: str, lines: Sequence[str]) -> tuple[str, str]:
    """A line's code, and which line of that code it is."""
    return code, str(sum(f"({code})" in line for line in lines))


class Lines:
    """The price list of one paper while it is read: what each option costs, line by line."""

    def __init__(
        self,
        printed: Printed,
        rows: Sequence[tuple[Block, ...]],
        read: Reader,
        language: str,
        option: Callable[[str], str],
    ) -> None:
        self._printed, self._rows, self._read, self._language = printed, rows, read, language
        self._option = option
        """What stands for an option's name as it is printed."""

    def listing(self) -> Iterator[tuple[Block, ...]]:
        """Rows of the table that says what each option costs; on further pages it is a table of its own."""
        heads = [self._read.said("Option"), self._read.said("Total"), self._read.said("With what belongs to it")]
        tables = {row[0].table for row in self._rows if [cell.text for cell in row] == heads}
        for row in self._rows:
            if row[0].table in tables and len(row) == 3 and row[1].kind == "TD":
                yield row

    def all(self) -> Iterator[Fact]:
        """What each option costs and is made of, and the price that a yes names."""
        listed = {}
        for row in self.listing():
            name = self._option(row[0].text)
            listed[name] = row[0]
            yield from price(self._read, ("total", name), f"the price of “{name}”", row[1])
            yield from price(self._read, ("compared", name), f"the price, with what belongs to it, of “{name}”", row[2])
        if listed:
            said = "; ".join(cell.text for cell in listed.values())
            page = next(iter(listed.values())).page
            yield fact(About.ITEM, ("options",), "the options on the estimate", frozenset(listed), said, page)
            yield from self._sections(listed)
        yield from self._yes()

    def _yes(self) -> Iterator[Fact]:
        for block in self._printed.blocks:
            if found := self._read.find("Yes to: %(letter)s %(name)s (%(fee)s).", block.text):
                name = self._option(found["name"])
                yield on_estimate(name, block, found["name"])
                yield from price(self._read, ("total", name), f"the price of “{name}”", block, found["fee"])

    def _sections(self, listed: Mapping[str, Block]) -> Iterator[Fact]:
        """The lines and sums below the heading of each option, and the totals that are worked out behind."""
        name, done = "", set[int]()
        teeth: dict[str, tuple[set[Tooth], Block]] = {}
        items: dict[str, tuple[list[str], Block]] = {}
        by_row = {row[0].row: row for row in self._rows}
        for block in self._printed.blocks:
            if block.kind in ("H2", "H3"):
                option = self._option(block.text)
                name = option if option in listed else ""
                if block.kind == "H3" and (head := block.text.rpartition(": "))[0]:
                    option = self._option(head[0])
                    if option in listed:
                        yield from price(self._read, ("total", option), f"the price of “{option}”", block, head[2])
            elif name and block.row and block.row not in done:
                done.add(block.row)
                row = by_row[block.row]
                line = _CODED.match(row[0].text) if row[0].kind == "TH" else None
                # In large print number and fee stand below the words, and the row has two cells.
                if line is not None and (len(row) > 2 or " × " in line["rest"]):
                    count = row[1].text if len(row) > 2 else line["rest"].split(" × ")[0].strip()
                    lines = items.setdefault(name, ([], block))[0]
                    lines.append(f"{line['words']} ({line['code']}) × {count}")
                    what = f"“{line['words']}” in “{name}”"
                    yield from price(self._read, ("line", name, *_nth(line["code"], lines)), what, row[-1])
                    teeth.setdefault(name, (set(), block))[0].update(teeth_of(line["rest"]))
                else:
                    yield from self._sum(name, row)
        for name, (found, where) in teeth.items():
            if found:
                shown = Block("TD", ", ".join(tooth.name for tooth in sorted(found)), where.page)
                yield about_teeth("teeth", name, found, shown)
                yield about_teeth(PLACES, name, found, shown, part=True)
        for name, (lines, where) in items.items():
            said, what = "; ".join(sorted(lines)), f"the items of “{name}”"
            # In another language the words are others; codes and numbers are not.
            coded = frozenset(line.rpartition(" (")[2] for line in lines)
            yield fact(About.ITEM, ("lines", name), what, coded, said, where.page)
            yield fact(About.ITEM, ("lines", name, self._language), what, frozenset(lines), said, where.page)

    def _sum(self, name: str, row: tuple[Block, ...]) -> Iterator[Fact]:
        said, label = self._read.said, row[0].text
        if label == said("Total") or (label == said("If they pay nothing") and len(row) == 3):
            yield from price(self._read, ("total", name), f"the price of “{name}”", row[-1])
        elif label == said("Total with it"):
            what = f"the price, with what belongs to it, of “{name}”"
            yield from price(self._read, ("compared", name), what, row[-1])
        elif found := self._read.find("What belongs to it: %(words)s (%(code)s)", label):
            yield from price(self._read, ("belongs", found["words"]), f"the price of “{found['words']}”", row[-1])
