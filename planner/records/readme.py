"""The plain words inside a copy: what it is, what each file holds, and how to check that nothing was changed.

A patient's own copy speaks the patient's language; the copy of the office is in English.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Protocol

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, override

from planner.letters.wording import day
from planner.patients.models import Patient
from planner.practice.models import Office
from planner.records.tables import FOLDERS, tables
from planner.rules.fhir import SYSTEMS


class Told(Protocol):
    """A file of the copy, as far as the words need it."""

    @property
    def name(self) -> str: ...
    @property
    def rows(self) -> int | None: ...
    @property
    def as_recorded(self) -> bool | None: ...


def readme(office: Office, patient: Patient | None, now: datetime, entries: Iterable[Told]) -> str:
    """The text of ``README.txt``."""
    with override(patient.language if patient is not None else "en"):
        return _text(office, patient, now, tuple(entries))


def fhir_readme() -> str:
    """The text beside the FHIR files: for whoever writes a program that reads them, so in English."""
    lines = [
        "Collections of HL7 FHIR, release 4B (4.3.0), as JSON. Addresses of files are paths inside this copy.",
        "Courses that were offered are CarePlans with the intent option; what was accepted has the intent plan.",
        "A Claim is a draft with the use predetermination: nothing was sent to anybody.",
        "A tooth goes by HL7's code system ex-tooth where that has it, else by our own keys.",
        "Attachment.hash is SHA-1 in base64, as the standard has it; SHA-256 stands beside it as an extension.",
        "",
        "Names of our own:",
        "",
        *(f"{system}\n    {words}" for system, words in SYSTEMS.items()),
    ]
    return "\n".join(lines) + "\n"


def _text(office: Office, patient: Patient | None, now: datetime, entries: tuple[Told, ...]) -> str:
    on = now.astimezone(office.zone).date()
    on_day = day(on, patient.language if patient is not None else "en")
    names = [entry.name for entry in entries]
    lines = [*_head(office, patient, on_day), "", _("What is in it"), ""]
    for folder, words in FOLDERS.items():
        inside = sum(name.startswith(f"{folder}/") for name in names)
        if inside:
            told = ngettext("%(count)s file", "%(count)s files", inside) % {"count": inside}
            lines += [f"{folder}/ ({told})", f"    {words}."]
    if "who-opened.csv" in names:
        lines += ["who-opened.csv, who-opened.json"]
        lines += ["    " + _("Who opened or changed what in your file, who was refused, and when.")]
    lines += ["manifest.json, SHA256SUMS", "    " + _("Every file with its SHA-256.") + " " + _how_to_check(), ""]
    lines += [_("The tables, one by one"), ""]
    if patient is None:
        lines += ["Where these words say “you”, the patient is meant.", ""]
    rows = {entry.name: entry.rows for entry in entries}
    for table in tables(patient):
        count = rows.get(f"tables/{table.name}.json")
        if count is not None:
            lines.append(f"{table.name} ({count}): {table.words}.")
    if patient is not None:
        lines += ["", _("A table of which no row is about you is left out.")]
    lines += ["", _("How the tables are written"), ""]
    lines += [f"- {words}" for words in _habits(patient)]
    spoilt = [entry.name for entry in entries if entry.as_recorded is False]
    if spoilt:
        lines += ["", _("These files are not what was recorded when they were made; ask the office about them:"), ""]
        lines += [f"- {name}" for name in spoilt]
    return "\n".join(lines) + "\n"


def _head(office: Office, patient: Patient | None, on_day: str) -> list[str]:
    if patient is None:
        return [
            f"Everything that {office.name}, {office.place}, keeps, as of {on_day}.",
            "",
            "It holds health data of many people in the clear. Keep it as locally required: encrypted, locked away,",
            "and no longer than the law asks for. Passwords are not in it, nor pictures that were set aside, nor",
            "anything that was erased before this day; what is erased later stays in this copy unless it is erased",
            "here too.",
        ]
    about = {"office": office.name, "place": office.place, "day": on_day, "name": patient.name}
    return [
        _("Everything that %(office)s, %(place)s, keeps about %(name)s, as of %(day)s.") % about,
        "",
        _("These files hold health data that nobody else need see. Keep them where only you can open them."),
        _("They are a copy: the office keeps its own, and what you do with these files changes nothing there."),
        _("If something in here is wrong, or you do not understand it, ask the office."),
    ]


def _how_to_check() -> str:
    return _("To check them, run “sha256sum -c SHA256SUMS” in the folder where you unpacked them.")


def _habits(patient: Patient | None) -> list[str]:
    found = [
        _("Lengths are whole tenths of a millimetre, money whole cents, moments in UTC."),
        _("A tooth is written in words, such as “upper-right-central-incisor”, so that no number is mistaken."),
        _("An empty cell means that nobody recorded it, never that all was well."),
        _("A column that names another row holds the “public_id” of that row."),
        _("A cell that begins like a formula has an apostrophe before it, so that no spreadsheet runs it."),
    ]
    if patient is None:
        found.append(
            "In trail.trailentry and trail.traildetail numbers stand as they are kept, because the hashes are over "
            "them: an entry's hash is the SHA-256 of its columns as canonical JSON, a digest that of salt, line break "
            "and content."
        )
    return found
