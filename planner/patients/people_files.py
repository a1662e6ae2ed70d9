"""People as a file that comes in: looked at first, taken whole or not at all, nobody joined silently.

A file that was sent is kept only until it is taken or another is sent; of it the record keeps the hash. It holds who
people are and how to reach them. Nothing of a mouth is in it: a tooth is never read from a bare number in a file.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.utils.translation import override

from planner.patients.forms import NewPatientForm
from planner.patients.models import Patient, PeopleFile
from planner.patients.names import alike
from planner.patients.services import register_patient
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import today
from planner.practice.models import Office, Staff
from planner.practice.table_files import MOST_BYTES, lines_of
from planner.rules.book_reading import TableError, unguarded
from planner.rules.book_tables import Cell
from planner.rules.results import sha256
from planner.trail.errors import Refused
from planner.trail.services import record

COLUMNS: Final = {
    "name": "name",
    "birth date": "birth_date",
    "telephone": "phone",
    "may be contacted": "contact_consent",
    "language": "language",
    "print size": "print_points",
    "woman or man": "sex",
    "decides alone": "can_decide_alone",
    "decision-maker": "decision_maker",
    "sorted as": "sort_key",
    "somebody else": "another",
}
"""Column of a file, and the field of a new patient that it fills."""
NEEDED: Final = ("name", "birth date")
_IF_EMPTY: Final = {"language": "en", "print_points": "11"}
_IF_NO_COLUMN: Final = {"can_decide_alone": "yes"}
MOST_PEOPLE: Final = 2000
MOST_FAULTS: Final = 200
KEPT_FOR: Final = timedelta(days=1)
"""A file that nobody took is gone after this."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, and in which line; 0 where it is the whole file."""

    line: int
    sentence: str


@dataclass(frozen=True, slots=True)
class Like:
    """Somebody a new person could be taken for: on file, or in another line."""

    name: str
    birth_date: date
    public_id: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Newcomer:
    """One line: the person, and everybody easily mistaken for them."""

    line: int
    values: Mapping[str, Any]
    somebody_else: bool
    like: tuple[Like, ...] = ()


@dataclass(slots=True)
class Seen:
    """What a file would bring: people, or faults and then nobody."""

    people: list[Newcomer] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    @property
    def mistakable(self) -> list[Newcomer]:
        """Those who are said to be somebody else than the ones they are like."""
        return [one for one in self.people if one.like]


def keep_people(*, content: bytes, actor: Staff, now: datetime) -> PeopleFile:
    """Keep a file that was sent until it is looked at; files that nobody took go. Raises Refused for none or too large.

    The name of the file is not kept: it may hold somebody's.
    """
    require(actor, Act.CREATE, Thing.IDENTITY, subject=actor.office)
    if not content:
        raise Refused("The file is empty.", field="file")
    if len(content) > MOST_BYTES:
        raise Refused(f"The file has {len(content):,} bytes; it may have {MOST_BYTES:,} at most.", field="file")
    with transaction.atomic():
        own = PeopleFile.objects.filter(office=actor.office)
        (own.filter(sent_by=actor) | own.filter(at__lt=now - KEPT_FOR)).delete()
        kept = PeopleFile.objects.create(
            office=actor.office, data=content, sha256=sha256(content), sent_by=actor, at=now
        )
        record(actor=actor, act="people.file", subject=kept, content={"sha256": kept.sha256}, at=now)
    return kept


def look(file: PeopleFile, now: datetime) -> Seen:
    """Read a kept file to its end and hold everybody against each other and against who is on file: one query."""
    seen = Seen()
    try:
        rows = [(line, cells) for line, cells in lines_of(bytes(file.data))]
        if not rows:
            raise TableError("The file is empty.")
        places = _places([str(name or "").strip().lower() for name in rows[0][1]])
        if len(rows) - 1 > MOST_PEOPLE:
            raise TableError(f"The file has {len(rows) - 1:,} people; {MOST_PEOPLE:,} at most are taken at once.")
        if len(rows) == 1:
            raise TableError("Below its first line the file names nobody.")
    except TableError as error:
        return Seen(faults=[Fault(0, str(error))])
    with override("en"):
        for line, cells in rows[1:]:
            _read(line, cells, places, seen)
    day = today(file.office, now)
    for one in seen.people:
        if one.values["birth_date"] > day:
            born = one.values["birth_date"].isoformat()
            seen.faults.append(Fault(one.line, f"birth date: {born} lies in the future; today is {day.isoformat()}."))
    seen.people = _held_against(seen.people, file.office)
    for one in seen.people:
        if one.like and not one.somebody_else:
            told = "; ".join(_said(other) for other in one.like)
            seen.faults.append(
                Fault(
                    one.line,
                    f"“{one.values['name']}” could be {told}. If it is somebody else, write “yes” under “somebody "
                    "else”; if it is the same person, take this line out: files are never joined here.",
                )
            )
    seen.faults.sort(key=lambda fault: fault.line)
    del seen.faults[MOST_FAULTS:]
    return seen


def take_people(*, file: PeopleFile, seen_sha256: str, actor: Staff, now: datetime) -> tuple[Patient, ...]:
    """Open a file for everybody in it, or for nobody. What is taken is what was looked at; afterwards it is gone.

    Raises Refused with every fault, also where somebody like one of them came on file meanwhile.
    """
    require(actor, Act.CREATE, Thing.IDENTITY, subject=actor.office)
    require_own(actor, file)
    if sha256(bytes(file.data)) != seen_sha256:
        raise Refused("This is not the file that was looked at: look at it again before it is taken.")
    with transaction.atomic():
        # Of two who take it at once the second waits here, and finds it gone.
        if not PeopleFile.objects.select_for_update(of=("self",)).filter(pk=file.pk).exists():
            raise Refused(
                "This file is not here any more: it was taken, or another one was sent. Look whether its people have "
                "files now before you send it again."
            )
        seen = look(file, now)
        if seen.faults:
            faults = [(f"line {fault.line}" if fault.line else "", fault.sentence) for fault in seen.faults]
            raise Refused(f"The file has {len(faults)} faults and nobody of it is taken.", faults=faults)
        made = tuple(_register(one, actor, now) for one in seen.people)
        content = {"sha256": file.sha256, "people": len(made)}
        record(actor=actor, act="people.take", subject=file, content=content, at=now)
        file.delete()
    return made


def _places(head: Sequence[str]) -> dict[str, int]:
    names = list(head)
    while names and not names[-1]:
        names.pop()
    wrong = [f"missing: “{name}”" for name in NEEDED if name not in names]
    wrong += [f"unknown: “{name}”" for name in dict.fromkeys(names) if name not in COLUMNS]
    wrong += [f"there twice: “{name}”" for name in COLUMNS if names.count(name) > 1]
    if wrong:
        raise TableError(
            f"Its first line is not the head of a file of people: {'; '.join(wrong)}. It may have these "
            f"columns, in any order: {', '.join(COLUMNS)}. Nothing about teeth is read from a file."
        )
    return {name: names.index(name) for name in names}


def _read(line: int, cells: Sequence[Cell], places: Mapping[str, int], seen: Seen) -> None:
    if any(cell not in (None, "") for cell in cells[len(places) :]):
        seen.faults.append(Fault(line, f"It has {len(cells)} cells, and the head has {len(places)}."))
        return
    typed = {COLUMNS[name]: _written(cells[place] if place < len(cells) else "") for name, place in places.items()}
    data = {**_IF_NO_COLUMN, **{name: text or _IF_EMPTY.get(name, "") for name, text in typed.items()}}
    for name, text in _IF_EMPTY.items():
        data.setdefault(name, text)
    for column, name in COLUMNS.items():
        if name in ("contact_consent", "can_decide_alone", "another") and data.get(name, "").lower() not in _TRUTH:
            seen.faults.append(Fault(line, f"{column}: “{data[name]}” is neither “yes” nor “no”."))
            return
        if name in _TRUTH_FIELDS:
            data[name] = _TRUTH[data.get(name, "").lower()]
    form = NewPatientForm({name: text for name, text in data.items() if name != "another" or text == "yes"})
    if form.is_valid():
        seen.people.append(Newcomer(line, form.values(), form.cleaned_data["another"]))
        return
    words = {name: column for column, name in COLUMNS.items()}
    for name, faults in form.errors.items():
        written = typed.get(name, "")
        for fault in faults:
            told = f"“{written[:40]}”: " if written and f"“{written}”" not in str(fault) else ""
            seen.faults.append(Fault(line, f"{words.get(name, name)}: {told}{fault}"))


_TRUTH: Final = {"": "", "yes": "yes", "no": "no"}
_TRUTH_FIELDS: Final = ("contact_consent", "can_decide_alone", "another")


def _written(cell: Cell) -> str:
    """A cell as it would be typed into the page; a day of a spreadsheet as a day."""
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    return cell.isoformat() if isinstance(cell, date) else unguarded(str(cell)).strip()


def _held_against(people: Sequence[Newcomer], office: Office) -> list[Newcomer]:
    """Everybody with those born the same day whose names are alike: on file, and in other lines."""
    days = {one.values["birth_date"] for one in people}
    on_file: dict[date, list[Like]] = {}
    for patient in Patient.objects.filter(office_id=office.pk, birth_date__in=days).order_by("sort_key", "id"):
        like = Like(patient.name, patient.birth_date, public_id=patient.public_id)
        on_file.setdefault(patient.birth_date, []).append(like)
    in_lines: dict[date, list[Like]] = {}
    for one in people:
        like = Like(one.values["name"], one.values["birth_date"], line=one.line)
        in_lines.setdefault(like.birth_date, []).append(like)
    return [Newcomer(one.line, one.values, one.somebody_else, _like(one, on_file, in_lines)) for one in people]


def _like(one: Newcomer, on_file: Mapping[date, list[Like]], in_lines: Mapping[date, list[Like]]) -> tuple[Like, ...]:
    born, name = one.values["birth_date"], one.values["name"]
    others = on_file.get(born, []) + [like for like in in_lines[born] if like.line != one.line]
    return tuple(other for other in others if alike(other.name, name))


def _said(like: Like) -> str:
    where = f"in line {like.line}" if like.line else "on file"
    return f"{like.name}, born {like.birth_date.isoformat()}, {where}"


def _register(one: Newcomer, actor: Staff, now: datetime) -> Patient:
    values = dict(one.values)
    named = {name: values.pop(name) for name in ("name", "birth_date", "phone", "contact_consent")}
    sorted_by = values.pop("sort_key", "")
    try:
        return register_patient(**named, sorted_by=sorted_by, about=values, actor=actor, now=now)
    except Refused as refusal:
        raise Refused(f"Line {one.line}: {refusal.sentence} Nobody of the file is taken.") from None
