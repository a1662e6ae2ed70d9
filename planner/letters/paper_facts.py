"""What a printed paper states, read off its own words: names, days, options, teeth, lengths and prices.

Nothing comes from the data a paper was made of. A place that is not there, because the paper is of another kind or the
case has none, states nothing.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby

from planner.letters.paper_lengths import lengths_of, worked_lines
from planner.letters.paper_lines import PLACES, Lines, about_teeth, fact, on_estimate, price
from planner.letters.read_back import Block, Printed
from planner.letters.reading_words import Reader, bare, both_numbers, lengths, own_numbering, reader, teeth_of
from planner.letters.wording import initials, language_name
from planner.rules.papers_agree import BORN, About, Fact
from planner.rules.teeth import Numbering, Tooth

Names = Mapping[str, str]
"""What stands for an option's printed name; a name that is not in it stands for itself."""
_LETTERED = re.compile(r"^[A-G]\s(?=\S)")
_SOURCED = re.compile(r"\s\((?:[^\d()]+)\s[\d–, ]+\)$")
AGREED = "agreed"
"""Key of the price that an agreement to pay in parts pays."""
_NUMBERED = re.compile(r"\d+, \S+ \d+")
"""Number and version as every page's head has them."""
_AMOUNTS = re.compile(r"\d[\d.,\u00a0\u202f]*")


def facts_of_paper(
    printed: Printed, language: str, names: Names | None = None, about_option: str = ""
) -> tuple[Fact, ...]:
    """Everything that a paper in ``language`` states, in reading order.

    ``names`` says which printed names of options, in any language, mean the same one; ``about_option`` which one a
    paper is about that names none.
    """
    return tuple(_Stated(printed, language, names or {}, about_option).all())


def rows_of(blocks: Sequence[Block]) -> tuple[tuple[Block, ...], ...]:
    """The rows of all tables, each as its cells."""
    cells = [block for block in blocks if block.row]
    return tuple(tuple(row) for _number, row in groupby(cells, key=lambda cell: cell.row))


_PLANNED, _MEASURED, _VALID = "the day of the plan", "the day of measuring", "the day through which prices hold"
_ORDERED = "measurements of %(measured_on)s (%(instrument)s), plan of %(planned_on)s"
_PLACES = (
    ("%(day)s (planned on %(planned)s)", "planned", "planned", _PLANNED),
    (_ORDERED, "planned_on", "planned", _PLANNED),
    (_ORDERED, "measured_on", "measured", _MEASURED),
)
_SENTENCES = (
    ("We measured your teeth on %(examined_on)s. %(examined_by)s checked it.", "measured", _MEASURED),
    ("The prices hold through %(valid_through)s (price list %(price_list)s).", "valid", _VALID),
    ("It holds through the end of %(valid_through)s, by the clock of the office.", "valid", _VALID),
)
_FEES = "Fees: our price list, version %(price_list)s. A range under upkeep is the usual one."


class _Stated:
    """One paper while it is read."""

    def __init__(self, printed: Printed, language: str, names: Names, about_option: str) -> None:
        self._printed, self._language, self._about = printed, language, about_option
        self._read: Reader = reader(language)
        self._names = names
        self._numbering = own_numbering(" ".join(block.text for block in printed.blocks)) or Numbering.ISO
        self._rows = rows_of(printed.blocks)
        self._lines = Lines(printed, self._rows, self._read, language, self._option)
        said = self._read.said
        self._suggested = said("suggested")
        self._labels: dict[str, Callable[[Block], Iterator[Fact]]] = {
            said("For"): self._for,
            said("For the treatment of"): self._whom,
            said("Patient"): self._whom,
            said("Number and version"): self._version,
            said("Money page"): self._money_page,
            said("Prices hold through"): self._holds,
            said("Price list"): self._price_list,
            said("Date of this letter"): self._days,
            said("From"): self._days,
            said("Language of this letter"): self._tongue,
            said("Dentist who talks it over with you"): self._dentist,
            said("Dentist who checks it"): self._dentist,
            said("What for"): self._agreed_for,
            said("What"): self._ordered,
        }

    def all(self) -> Iterator[Fact]:
        """Everything, head of the pages first."""
        yield from self._heads()
        yield from self._numbers()
        for row in self._rows:
            if len(row) >= 2 and row[0].kind == "TH":
                for label, value in zip(row[::2], row[1::2], strict=False):
                    if label.text in self._labels and label.kind == "TH" and value.kind == "TD":
                        yield from self._labels[label.text](value)
        yield from self._sentences()
        yield from self._tables()
        yield from self._lines.all()
        options = self._options()
        about = self._about_option() or self._about
        yield from lengths_of(self._printed.blocks, self._rows, self._read, options, about)

    # ------------------------------------------------------------ whom, when, in which version

    def _heads(self) -> Iterator[Fact]:
        """What is printed above every page; the same said twice is one statement."""
        if self._printed.language:
            yield fact(About.LANGUAGE, ("paper",), "the language it is written in", self._language,
                             self._language, 0)  # fmt: skip
            yield fact(About.LANGUAGE, ("paper",), "the language it is written in",
                             self._printed.language, self._printed.language, 1)  # fmt: skip
        for number, margin in enumerate(self._printed.margins, start=1):
            parts = margin.split(" · ")
            if len(parts) < 3:
                continue
            yield from self._person(parts[0], number)
            if found := _NUMBERED.match(parts[2]):
                yield self._estimate(found[0], number)

    def _person(self, text: str, page: int) -> Iterator[Fact]:
        born = self._read.find("born %(born)s", text)
        name = text[: born.start()].rstrip(" ,") if born else text
        if born is not None and (day := self._read.day(born["born"])):
            yield fact(About.DATE, BORN, "the day of birth", day, born["born"].split(" (")[0], page)
        if re.fullmatch(r"(?:\w\. ?)+", name):
            yield fact(About.NAME, ("initials",), "the patient’s initials", name.strip(), name.strip(), page)
            return
        yield fact(About.NAME, ("patient",), "the patient’s name", name, name, page)
        yield fact(About.NAME, ("initials",), "the patient’s initials", initials(name), name, page)

    def _whom(self, value: Block) -> Iterator[Fact]:
        yield from self._person(value.text, value.page)

    def _for(self, value: Block) -> Iterator[Fact]:
        """Of an estimate: name and birth date; of an order: initials and the office's number."""
        order = self._read.find("our number %(version)s", value.text)
        if order is None:
            yield from self._person(value.text, value.page)
            return
        yield from self._person(value.text.split(" (")[0], value.page)
        yield from self._numbered(order["version"].rstrip(")"), value)

    def _version(self, value: Block) -> Iterator[Fact]:
        yield from self._numbered(value.text, value)

    def _numbered(self, text: str, where: Block) -> Iterator[Fact]:
        number = text.split(";")[0].strip()
        yield self._estimate(number, where.page)

    def _estimate(self, number: str, page: int) -> Fact:
        plain = "-".join(re.findall(r"\d+", number)) or number
        return fact(About.VERSION, ("estimate",), "number and version of the estimate", plain, number, page)

    def _money_page(self, value: Block) -> Iterator[Fact]:
        if found := self._read.find("estimate %(version)s", value.text):
            yield from self._numbered(found["version"], value)
        yield from self._holds(value)

    def _holds(self, value: Block) -> Iterator[Fact]:
        if day := self._read.day(value.text):
            yield self._day(("valid",), _VALID, day, value)

    def _price_list(self, value: Block) -> Iterator[Fact]:
        if found := self._read.find("version %(price_list)s, amounts in %(currency)s", value.text):
            yield from self._listed(found["price_list"], value)

    def _listed(self, version: str, where: Block) -> Iterator[Fact]:
        if number := re.match(r"\d+", version):
            yield fact(About.VERSION, ("price list",), "the price list’s version", number[0], number[0],
                             where.page)  # fmt: skip

    def _days(self, value: Block) -> Iterator[Fact]:
        for sentence, group, key, what in _PLACES:
            found = self._read.find(sentence, value.text)
            if found is not None and (day := self._read.day(found[group])):
                yield self._day((key,), what, day, value)

    def _day(self, key: tuple[str, ...], what: str, day: str, where: Block) -> Fact:
        return fact(About.DATE, key, what, day, day, where.page)

    def _tongue(self, value: Block) -> Iterator[Fact]:
        code = self._language if value.text == language_name(self._language) else value.text
        yield fact(About.LANGUAGE, ("paper",), "the language it is written in", code, value.text,
                         value.page)  # fmt: skip

    def _dentist(self, value: Block) -> Iterator[Fact]:
        name = value.text.split(", ")[0]
        if name.strip("_ ") and name != self._read.said("to be written in before you sign"):
            yield fact(About.NAME, ("dentist",), "the dentist’s name", name, name, value.page)

    def _sentences(self) -> Iterator[Fact]:
        """What stands in running text and must be what tables and heads say."""
        for block in self._printed.blocks:
            for sentence, key, what in _SENTENCES:
                found = self._read.find(sentence, block.text)
                if found and (day := self._read.day(found[1])):
                    yield self._day((key,), what, day, block)
            found = self._read.find(_FEES, block.text)
            if found:
                yield from self._listed(found["price_list"], block)

    # ------------------------------------------------------------ options and what they are about

    def _option(self, text: str) -> str:
        name = text.removesuffix(f" {self._suggested}").strip()
        name = _LETTERED.sub("", name) if name not in self._names else name
        return self._names.get(name, name)

    def _options(self) -> tuple[tuple[str, str], ...]:
        """Every option that a table lays out: its name as printed in a heading, and what stands for it."""
        found = {}
        offered = self._read.said("Can we offer it?")
        tables = {row[0].table for row in self._rows if row[0].text == offered}
        for row in self._rows:
            if row[0].table in tables and row[0].text == self._read.said("What"):
                for cell in row[1:]:
                    printed = cell.text.removesuffix(f" {self._suggested}").strip()
                    found[printed] = self._option(cell.text)
        for row in self._lines.listing():
            found[row[0].text] = self._option(row[0].text)
        return tuple(found.items())

    def _about_option(self) -> str:
        """The option that the paper as a whole is about: of an order, or of the yes a letter asks for; else empty."""
        for row in self._rows:
            for label, value in zip(row[::2], row[1::2], strict=False):
                if label.kind == "TH" and label.text == self._read.said("What") and value.kind == "TD":
                    return self._option(value.text)
        for block in self._printed.blocks:
            if found := self._read.find("Yes to: %(letter)s %(name)s (%(fee)s).", block.text):
                return self._option(found["name"])
        return ""

    def _ordered(self, value: Block) -> Iterator[Fact]:
        yield on_estimate(self._option(value.text), value, value.text)

    def _agreed_for(self, value: Block) -> Iterator[Fact]:
        found = self._read.find("estimate %(version)s", value.text)
        if found is None:
            return
        name = value.text[: found.start()].rstrip(" ,")
        yield on_estimate(self._option(name), value, name)
        accepted = self._read.said("accepted on %(accepted_on)s").split("%(")[0].strip()
        yield from self._numbered(found["version"].split(f", {accepted}")[0], value)
        label = self._read.said("Price of the treatment, taxes included")
        for row in self._rows:
            if len(row) == 2 and row[0].text == label:
                yield from price(self._read, (AGREED, self._option(name)), f"the price of “{name}”", row[1])

    def _numbers(self) -> Iterator[Fact]:
        """Each tooth's name and numbers, wherever they do not mean one tooth."""
        for block in self._printed.blocks:
            for said, tooth, other in both_numbers(block.text):
                if other is None:
                    continue
                for meant in (tooth, other):
                    says = f"“{said}” read as the {meant.name}"
                    yield fact(About.TOOTH, ("number", said), f"which tooth “{said}” is", meant.key, says,
                                     block.page)  # fmt: skip

    def _tables(self) -> Iterator[Fact]:
        """Options side by side: fee, what belongs to it, upkeep, what is taken off, which teeth."""
        said = self._read.said
        header: tuple[Block, ...] = ()
        money = {
            said("Fee"): ("total", "the price of"),
            said("With what belongs to it"): ("compared", "the price, with what belongs to it, of"),
        }
        for row in self._rows:
            if row[0].text == said("What") and all(cell.kind == "TH" for cell in row[1:]):
                header = row
                continue
            if not header or row[0].table != header[0].table or len(row) != len(header):
                continue
            for head, cell in zip(header[1:], row[1:], strict=True):
                name = self._option(head.text)
                if row[0].text in money:
                    key, what = money[row[0].text]
                    yield from price(self._read, (key, name), f"{what} “{name}”", cell)
                elif row[0].text == said("Taken off your teeth"):
                    off = ",".join(map(str, lengths(_SOURCED.sub("", cell.text))))
                    yield fact(About.LENGTH, ("taken off", name), f"what “{name}” takes off teeth", off,
                                     cell.text, cell.page)  # fmt: skip
                elif row[0].text == said("Which teeth"):
                    yield from self._teeth(name, bare(cell.text, self._numbering), cell)
                elif row[0].text == said("Upkeep in 10 years"):
                    said_of_it = _SOURCED.sub("", cell.text)
                    amounts = ",".join(re.sub(r"\D", "", one) for one in _AMOUNTS.findall(said_of_it))
                    yield fact(About.PRICE, ("upkeep", name), f"the upkeep of “{name}”", amounts,
                                     said_of_it, cell.page)  # fmt: skip
        yield from self._belongs()

    def _teeth(self, name: str, touched: Sequence[Tooth], where: Block) -> Iterator[Fact]:
        """The teeth an option is about; where work fills a place too, that place belongs to them and is not touched."""
        if not touched:
            return
        lines = [block for option, block in worked_lines(self._printed.blocks, self._read, self._options())
                 if option == name]  # fmt: skip
        worked = {tooth for block in lines for tooth in teeth_of(block.text)}
        if worked and not any(self._read.find("the same %(n)d teeth", block.text) for block in lines):
            shown = Block("LBody", ", ".join(tooth.name for tooth in sorted(worked)), lines[0].page)
            yield about_teeth("worked", name, worked, shown)
            yield about_teeth("worked", name, touched, where, part=True)
        if worked <= set(touched):
            yield about_teeth("teeth", name, touched, where)
        yield about_teeth(PLACES, name, (*touched, *worked), where)

    def _belongs(self) -> Iterator[Fact]:
        lead = self._read.said("What belongs to it:")
        for block in self._printed.blocks:
            if block.kind != "P" or not block.text.startswith(lead):
                continue
            for part in block.text.removeprefix(lead).split(";"):
                if (found := self._read.amount(part)) is not None:
                    words = re.sub(r",?\s*[A-Z]{3}?\s*$", "", part[: found.start()]).strip(" ,")
                    yield from price(self._read, ("belongs", words), f"the price of “{words}”", block, found[0])
