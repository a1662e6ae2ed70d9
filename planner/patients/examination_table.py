"""How the form of an examination stands on the page: tables along the arch, row by row, and groups that open."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.patients import examination_parts as parts
from planner.patients.examination_columns import Column, gap_groups
from planner.patients.examination_forms import Question, Sheet
from planner.patients.mouth_parts import GROUPS

Words = str | Promise

_ROWS: dict[str, Words] = {
    "tooth": _("Stands here"),
    "role": _("Must look like, if not as its place"),
    "width": _("Width"),
    "width_again": _("second reading"),
    "length": _("Length"),
    "length_again": _("second reading"),
    "neck_width": _("Width at the neck"),
    "contact_height": _("Height to the contact"),
}


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: usually one control, none where no tooth stands; ``span`` in halves of a column."""

    fields: tuple[forms.BoundField, ...]
    span: int = 2

    @property
    def said(self) -> str:
        """What stands in the cell, for reading."""
        return ", ".join(filter(None, map(said, self.fields)))


@dataclass(frozen=True, slots=True)
class Row:
    """One row along the arch, with the faults and questions that belong under it."""

    label: Words
    cells: tuple[Cell, ...]
    wrong: tuple[forms.BoundField, ...]
    questions: tuple[Question, ...]
    every: forms.BoundField | None = None
    between: bool = False
    """The row is about what lies between the columns."""

    @property
    def says(self) -> bool:
        """Whether any of its cells says something."""
        return any(cell.said for cell in self.cells)


@dataclass(frozen=True, slots=True)
class Head:
    """The head of a column: number, number in the other system, and what differs from the usual."""

    number: str
    other: str
    stands: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """One table along the arch."""

    key: str
    words: Words
    heads: tuple[Head, ...]
    rows: tuple[Row, ...]
    with_every: bool = False

    @property
    def width(self) -> int:
        """Columns of the HTML table: the row's label, perhaps "every tooth", and two halves for each head."""
        return 1 + self.with_every + 2 * len(self.heads)


@dataclass(frozen=True, slots=True)
class Line:
    """One field of a group with its questions."""

    field: forms.BoundField
    questions: tuple[Question, ...]

    @property
    def said(self) -> str:
        """What the field says, for reading."""
        return said(self.field)


@dataclass(frozen=True, slots=True)
class Group:
    """A part of the page that opens: tables, or lines of fields."""

    key: str
    words: Words
    tables: tuple[Table, ...] = ()
    lines: tuple[tuple[Line, ...], ...] = ()
    """Lists of fields; each inner one is a row of the page where ``rows`` is set."""
    rows: bool = False
    more: str = ""
    """Which line a button adds."""
    open: bool = False
    answered: int = 0


def measuring_tables(sheet: Sheet) -> tuple[Table, ...]:
    """The tables to measure by: the upper arch, the lower one where laid out, and other teeth."""
    found = [_measuring(sheet, "upper", _("Upper teeth"), sheet.upper)]
    if sheet.lower:
        found.append(_measuring(sheet, "lower", _("Lower teeth"), sheet.lower))
    if sheet.others:
        names = ("tooth", "place", "role", *parts.MEASURES)
        labels = _ROWS | {"tooth": _("Tooth"), "place": _("In the place of")}
        rows = tuple(_row(sheet, labels[name], name, sheet.others, always=True) for name in names)
        found.append(Table("others", _("Other teeth"), _heads(sheet, sheet.others), rows))
    return tuple(found)


def _measuring(sheet: Sheet, key: str, words: Words, columns: Sequence[Column]) -> Table:
    rows = [_row(sheet, _ROWS[name], name, columns, always=True) for name in ("tooth", "role")]
    rows += [_row(sheet, _ROWS[name], name, columns) for name in ("width", "width_again")]
    rows += [
        _gap_row(sheet, _("Gap to the next"), "width", columns),
        _gap_row(sheet, _ROWS["width_again"], "width_again", columns),
    ]
    rows += [_row(sheet, _ROWS[name], name, columns) for name in parts.MEASURES[2:]]
    return Table(key, words, _heads(sheet, columns), tuple(rows))


def _heads(sheet: Sheet, columns: Sequence[Column]) -> tuple[Head, ...]:
    heads = []
    for index, column in enumerate(columns, start=1):
        if column.place is None:
            heads.append(Head(column.form.title or _now("other %(n)s") % {"n": index}, ""))
            continue
        stands = "" if column.form.title == column.place.written(sheet.shown) else column.form.title
        number, other = column.place.written(sheet.shown), column.place.written(sheet.other)
        heads.append(Head(number, f"{sheet.other.printed} {other}", stands))
    return tuple(heads)


def _row(sheet: Sheet, label: Words, name: str, columns: Sequence[Column], *, always: bool = False) -> Row:
    shown = [column.form[name] for column in columns]
    cells = tuple(
        Cell((field,) if always or column.holds_tooth or column.place is None or _filled(field) else ())
        for column, field in zip(columns, shown, strict=True)
    )
    return Row(label, cells, _wrong(shown), tuple(_questions(sheet, shown)))


def _gap_row(sheet: Sheet, label: Words, name: str, columns: Sequence[Column]) -> Row:
    at = {column.form.prefix: index for index, column in enumerate(columns)}
    cells: list[Cell] = []
    done = 0
    grouped: set[str | None] = set()
    for group, (right, left) in gap_groups(tuple(columns)):
        start, end = 2 * at[right.form.prefix] + 1, 2 * at[left.form.prefix] + 1
        if start > done:
            cells.append(Cell((), start - done))
        written = [form[name] for form in group if form.written()]
        cells.append(Cell(tuple(written) or (group[0][name],), end - start))
        grouped |= {form.prefix for form in group}
        done = end
    # What was written beside a tooth that is not recorded any more stays in sight.
    lonely = [column.gap[name] for column in columns if column.gap and column.gap.prefix not in grouped]
    cells.append(Cell(tuple(field for field in lonely if _filled(field)), 2 * len(columns) - done))
    fields = [column.gap[name] for column in columns if column.gap]
    return Row(label, tuple(cells), _wrong(fields), tuple(_questions(sheet, fields)), between=True)


def groups(sheet: Sheet, opened: str = "") -> Iterator[Group]:
    """Everything but the measures, in groups that open; ``opened`` names one that stays open."""
    yield _gap_group(sheet, opened)
    arches = [arch for arch in (sheet.upper, sheet.lower, sheet.others) if arch]
    for key, (words, names) in parts.FINDINGS.items():
        tables = tuple(_finding_table(sheet, f"{key}-{index}", columns, names) for index, columns in enumerate(arches))
        yield _opening(Group(key, words, tables=tables), opened)
    yield _opening(_list_group(sheet, "absent", _("Absent teeth"), sheet.absent), opened)
    yield _opening(_list_group(sheet, "places", _("Empty places"), sheet.places), opened)
    yield _opening(_field_group(sheet, "midline", _("Midline and arch length"), sheet.midline), opened)
    for key, form in sheet.groups.items():
        words = GROUPS[key][0]
        if key == "growth":
            grown = _list_group(sheet, "heights", words, sheet.heights)
            lines = (*grown.lines, _lines(sheet, form, form.fields))
            yield _opening(Group("heights", words, lines=lines, rows=True, more="heights"), opened)
        else:
            yield _opening(_field_group(sheet, key, words, form), opened)


def _gap_group(sheet: Sheet, opened: str) -> Group:
    tables = []
    for key, columns in (("upper", sheet.upper), ("lower", sheet.lower)):
        shown = []
        for group, _pair in gap_groups(columns):
            written = [form for form in group if form.written()]
            shown.append((written or group)[0])
        if not shown:
            continue
        heads = tuple(Head(form.title, "") for form in shown)
        rows = []
        for name in parts.GAP_FINDINGS:
            fields = [form[name] for form in shown]
            label = str(type(shown[0]).base_fields[name].label)
            rows.append(
                Row(label, tuple(Cell((field,)) for field in fields), _wrong(fields), tuple(_questions(sheet, fields)))
            )
        tables.append(Table(f"gaps-{key}", _("Gaps"), heads, tuple(rows)))
    return _opening(Group("gaps", _("Gaps: may they stay, are they new"), tables=tuple(tables)), opened)


def _finding_table(sheet: Sheet, key: str, columns: Sequence[Column], names: Iterable[str]) -> Table:
    rows = []
    for name in names:
        row = _row(sheet, str(parts.ColumnForm.base_fields[name].label), name, columns)
        every = sheet.every[name] if name in sheet.every.fields and columns is sheet.upper else None
        wrong = (*row.wrong, *(_wrong([every]) if every is not None else ()))
        rows.append(Row(row.label, row.cells, wrong, row.questions, every))
    return Table(key, "", _heads(sheet, columns), tuple(rows), with_every=columns is sheet.upper)


def _list_group(sheet: Sheet, key: str, words: Words, lines: Sequence[parts.FactsForm]) -> Group:
    found = tuple(_lines(sheet, form, form.fields) for form in lines)
    return Group(key, words, lines=found, rows=True, more=key)


def _field_group(sheet: Sheet, key: str, words: Words, form: parts.FactsForm) -> Group:
    return Group(key, words, lines=(_lines(sheet, form, form.fields),))


def _lines(sheet: Sheet, form: forms.Form, names: Iterable[str]) -> tuple[Line, ...]:
    fields = [form[name] for name in names]
    return tuple(Line(field, tuple(_questions(sheet, [field]))) for field in fields)


def head_lines(sheet: Sheet) -> tuple[Line, ...]:
    """When, by whom and with what, with the questions about it."""
    return _lines(sheet, sheet.head, sheet.head.fields)


def _opening(group: Group, opened: str) -> Group:
    """The group with its count of answers, open where something is wrong or asked, or where one is at work."""
    fields = [line.field for lines in group.lines for line in lines]
    rows = [row for table in group.tables for row in table.rows]
    fields += [field for row in rows for cell in row.cells for field in cell.fields]
    asked = any(line.questions for lines in group.lines for line in lines) or any(row.questions for row in rows)
    wrong = any(field.errors for field in fields) or any(row.wrong for row in rows)
    answered = sum(_filled(field) and not _unsaid(field) for field in fields)
    return Group(
        group.key,
        group.words,
        group.tables,
        group.lines,
        group.rows,
        group.more,
        open=asked or wrong or group.key == opened,
        answered=answered,
    )


def _unsaid(field: forms.BoundField) -> bool:
    """Whether the answer is only what stands there before anybody answered."""
    return (field.name, field.value()) in (("cause", "presumed"), ("state", "none"))


def _filled(field: forms.BoundField) -> bool:
    value = field.value()
    return value is not False and value not in (None, "", ())


def _wrong(fields: Iterable[forms.BoundField]) -> tuple[forms.BoundField, ...]:
    return tuple(field for field in fields if field.errors)


def _questions(sheet: Sheet, fields: Iterable[forms.BoundField]) -> Iterator[Question]:
    names = {field.html_name for field in fields}
    yield from (question for question in sheet.questions if question.name in names)


def faults(sheet: Sheet) -> Iterator[tuple[str, str, str]]:
    """Every fault: where it is on the page, what it is about, and its sentence; for the list at the top."""
    for form in sheet.every_form():
        for name, sentences in form.errors.items():
            at, label = "", ""
            if name in form.fields:
                at, label = form[name].id_for_label or str(form[name].auto_id), str(form[name].label)
            for sentence in sentences:
                yield at, label, str(sentence)


def measuring_faults(sheet: Sheet) -> Iterator[tuple[str, str, str]]:
    """The faults of lengths that were typed, as :func:`faults` gives them; what is still missing is none yet."""
    for column in (*sheet.upper, *sheet.lower, *sheet.others):
        fields = [column.form[name] for name in parts.MEASURES]
        if column.gap is not None:
            fields += [column.gap[name] for name in ("width", "width_again")]
        for field in fields:
            for sentence in field.errors if _filled(field) else ():
                yield field.id_for_label, str(field.label), str(sentence)


def differences(yours: Sheet, theirs: Sheet) -> Iterator[tuple[str, str, str, str]]:
    """Where two versions differ: place on the page, what it is, theirs and yours in words."""
    known = {form.add_prefix(name): form[name] for form in theirs.every_form() for name in form.fields}
    for form in yours.every_form():
        for name in form.fields:
            field = form[name]
            other = known.pop(field.html_name, None)
            mine, saved = said(field), said(other) if other is not None else ""
            if mine != saved and name != "numbering":
                yield field.id_for_label or str(field.auto_id), str(field.label), saved, mine
    for html_name, field in known.items():
        if saved := said(field):
            yield html_name, str(field.label), saved, ""


def said(field: forms.BoundField) -> str:
    """What a field says, in words and always written alike; empty where nothing was answered."""
    value = field.value()
    if value in (None, "", ()):
        return ""
    if isinstance(field.field, forms.ChoiceField):
        choices: Any = field.field.choices
        known = {str(key): str(words) for key, words in choices}
        return known.get(str(value), str(value))
    if isinstance(field.field, forms.BooleanField):
        return _now("yes") if value else ""
    try:
        return str(field.field.prepare_value(field.field.clean(value)))
    except forms.ValidationError:
        return str(value)
