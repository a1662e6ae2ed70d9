"""The Monday page as its template, its pictures and its files show it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.followup.page import Page
from planner.practice.templatetags.money import amount
from planner.rules.bars_svg import Bar, Dot, bars_svg, dots_svg
from planner.rules.book_tables import Cell
from planner.rules.figure_words import ACCEPTANCE, FEW
from planner.rules.figures import Cohort as People
from planner.rules.figures import Figure, cohort_figures
from planner.rules.monday import Block, Row

_WAYS = {
    "visit": ("visits:visit", gettext_lazy("Visit")),
    "book": ("visits:plan", gettext_lazy("Book")),
    "resume": ("plans:resume", gettext_lazy("Take up")),
    "call": ("followup:call", gettext_lazy("Call")),
    "review": ("followup:result", gettext_lazy("Review")),
    "estimate": ("plans:estimate", gettext_lazy("Estimate")),
    "hold": ("plans:hold", gettext_lazy("Hold")),
    "papers": ("plans:accepted", gettext_lazy("Plan")),
    "patient": ("patients:patient", gettext_lazy("File")),
    "covers": ("patients:covers", gettext_lazy("Covers")),
    "pay": ("plans:pay", gettext_lazy("Receipt")),
    "refund": ("plans:accepted", gettext_lazy("Refund")),
    "plan": ("plans:accepted", gettext_lazy("Plan")),
}
_DAYS = {
    "breaking": gettext_lazy("In days"),
    "no-date": gettext_lazy("Days old"),
    "resting": gettext_lazy("Days over"),
    "calls": gettext_lazy("Days late"),
    "ending": gettext_lazy("Days left"),
    "deposits": gettext_lazy("Days late"),
    "repairs": gettext_lazy("Days after"),
}
_SHOWN_ROWS = 8
"""Lines of a block that stand open; the others are one click away."""


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A line with the way to the act that settles it."""

    row: Row
    url: str
    act: str
    money: str


@dataclass(frozen=True, slots=True)
class ShownBlock:
    """A block as the template lays it out."""

    number: int
    block: Block
    rows: tuple[ShownRow, ...]
    more: tuple[ShownRow, ...]
    days: str
    sums: tuple[tuple[str, str], ...]
    buckets: tuple[tuple[str, int, str], ...]
    has_money: bool


def shown_blocks(page: Page) -> tuple[ShownBlock, ...]:
    """The blocks in their order, lines with their ways."""
    return tuple(_shown(number, block) for number, block in enumerate(page.blocks, 1))


def _shown(number: int, block: Block) -> ShownBlock:
    rows = tuple(_row(one) for one in block.rows)
    return ShownBlock(
        number,
        block,
        rows[:_SHOWN_ROWS],
        rows[_SHOWN_ROWS:],
        str(_DAYS.get(block.key, "")),
        tuple((words, amount(cents)) for words, cents in block.sums),
        tuple((one.words, one.plans, amount(one.cents)) for one in block.buckets),
        any(one.money for one in rows),
    )


def _row(row: Row) -> ShownRow:
    name, words = _WAYS[row.act]
    return ShownRow(row, reverse(name, args=[row.about]), str(words), amount(row.cents))


# -------------------------------------------------------------------------------------------------------- pictures


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing and the table behind it."""

    title: str
    svg: SafeString
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


def pictures(page: Page, months: Iterable[People]) -> tuple[Picture, ...]:
    """What has no date by age, acceptance by month, and real against planned minutes."""
    return (_by_age(page), _by_month(months), _minutes(page))


def _safe(drawing: str) -> SafeString:
    return mark_safe(drawing)  # noqa: S308  (a drawing escapes its own words)


def _by_age(page: Page) -> Picture:
    (block,) = [one for one in page.blocks if one.key == "no-date"]
    title = _("Yes, but no date: value by age in days")
    rows = tuple((one.words, str(one.plans), amount(one.cents)) for one in block.buckets)
    bars = [
        Bar(words, bucket.cents, f"{cents} ({plans})")
        for (words, plans, cents), bucket in zip(rows, block.buckets, strict=True)
    ]
    return Picture(title, _safe(bars_svg(title, bars)), (_("Days old"), _("Plans"), _("Value")), rows)


def _by_month(months: Iterable[People]) -> Picture:
    title = _("Said yes, by the month first shown")
    found = []
    for one in months:
        (figure,) = [each for each in cohort_figures(one) if each.definition is ACCEPTANCE]
        found.append((one.first.strftime("%Y-%m"), figure))
    bars = [Bar(month, figure.n, figure.said, figure.of) for month, figure in found]
    rows = tuple((month, str(figure.n), str(figure.of), figure.said) for month, figure in found)
    head = (_("Month"), _("Said yes"), _("Of"), _("As it is said"))
    note = _("%(sentence)s Below %(few)d among them no share is said.")
    return Picture(
        title, _safe(bars_svg(title, bars)), head, rows, note % {"sentence": ACCEPTANCE.sentence, "few": FEW}
    )


def _minutes(page: Page) -> Picture:
    title = _("Minutes, real against planned")
    dots = [Dot(one.planned_minutes, one.minutes, one.disturbed) for one in page.timed]
    rows = tuple(
        (
            one.on.isoformat(),
            f"{one.option}, {one.step}",
            str(one.planned_minutes),
            str(one.minutes),
            _("disturbed") if one.disturbed else "",
        )
        for one in page.timed
    )
    head = (_("Day"), _("Work"), _("Planned"), _("Real"), "")
    note = _("On the slanting line real and planned are the same. A cross is a visit that something disturbed.")
    drawn = _safe(dots_svg(title, dots, planned=_("planned minutes"), real=_("real minutes")))
    return Picture(title, drawn, head, rows, note)


# ----------------------------------------------------------------------------------------------------------- files

HEAD = ("block", "what", "who or part", "words", "amount", "days", "day", "count", "of", "as it is said")


def table(page: Page) -> list[tuple[Cell, ...]]:
    """The page as one table: every line, sum and figure, amounts as numbers."""
    found: list[tuple[Cell, ...]] = []
    for block in page.blocks:
        for row in block.rows:
            money = None if row.cents is None else Decimal(row.cents) / 100
            found.append((block.title, "line", row.patient, row.words, money, row.days, row.on, None, None, ""))
        for words, cents in block.sums:
            found.append((block.title, "sum", "", words, Decimal(cents) / 100, None, None, None, None, ""))
        for one in block.buckets:
            age = Decimal(one.cents) / 100
            found.append((block.title, "age in days", "", one.words, age, None, None, one.plans, None, ""))
        found += [_figure(block, figure) for figure in block.figures]
        found += [(block.title, "note", "", words, None, None, None, None, None, "") for words in block.notes]
    return found


def _figure(block: Block, figure: Figure) -> tuple[Cell, ...]:
    of = figure.definition
    if of.unit == "money":
        count: Cell = Decimal(figure.n) / 100
        whole: Cell = None if figure.of is None else Decimal(figure.of) / 100
    else:
        count, whole = figure.n, figure.of
    said = f"{figure.said}; {figure.beside}" if figure.beside else figure.said
    return (block.title, of.name, figure.part, of.sentence, None, None, None, count, whole, said)


def file_name(day: date, ending: str) -> str:
    """A name that says the day and no person."""
    return f"monday-{day.isoformat()}.{ending}"
