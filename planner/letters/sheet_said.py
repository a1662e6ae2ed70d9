"""What the signature sheet says: who, by what right, when and how, and everything that is kept as evidence of it."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import formats, translation
from django.utils.translation import gettext as _

from planner.letters.check_this import HowToCheck
from planner.letters.consent_models import Consent
from planner.letters.letter_said import in_words_of, version_of
from planner.letters.models import Document
from planner.letters.sign_words import on_the_sheet
from planner.letters.signed_copy import LETTER_INSIDE, SIGNED_COPY
from planner.letters.wording import day, roles_said
from planner.rules.partial import pieces_of
from planner.rules.reflection import source_said
from planner.rules.results import CasePlan
from planner.rules.strokes import HIGH, WIDE, svg_path
from planner.rules.words import speaking

Row = tuple[str, str]


def ticks() -> dict[str, str]:
    """What is asked apart, each with its own answer, by key."""
    return {
        "photos": _("Photographs for the record"),
        "photos_shown": _("Photographs shown to others"),
        "sharing": _("Data sent to whoever helps with the work"),
        "sedation": _("Calming drugs"),
    }


def sheet_context(consent: Consent, letter: Document, stated: Mapping[str, Any]) -> dict[str, Any]:
    """The signature sheet of what was ``stated`` at a signing; see ``consent_signing.sign_letter``."""
    language = letter.language
    with translation.override(language), speaking(language):
        at = datetime.fromisoformat(stated["at"]).astimezone(ZoneInfo(stated["zone"]))
        said, patient = stated["said"], stated["patient"]
        return {
            "title": SIGNED_COPY.title,
            "office": consent.office.name,
            "office_place": consent.office.place,
            "patient": patient["name"],
            "born": day(date.fromisoformat(patient["birth_date"]), language),
            "version": version_of(letter),
            "handed_on": day(at.date(), language),
            "short_hash": letter.sha256[:16],
            "sha256": letter.sha256,
            "check": HowToCheck(letter.sha256, LETTER_INSIDE, whole=True),
            "said": said,
            "method": on_the_sheet(said["method"]),
            "intent": stated["intent"],
            "letter": letter,
            "at": _moment(at, language),
            "path": svg_path(tuple(tuple(tuple(point) for point in stroke) for stroke in said["strokes"])),
            "wide": WIDE,
            "high": HIGH,
            "who": list(_who(stated, language)),
            "decided": list(_decided(stated, in_words_of(letter))),
            "evidence": list(_evidence(stated, language)),
            "questions": stated["questions"],
        }


def _who(stated: Mapping[str, Any], language: str) -> Iterator[Row]:
    said, patient, clinician = stated["said"], stated["patient"], stated["clinician"]
    minor = {True: _("under age"), False: _("of age"), None: _("age of majority not entered")}[patient["minor"]]
    # A text within a formatted string is not found for translation: each is said before.
    aged = _("%(n)d years old that day") % {"n": patient["age"]}
    yield _("Patient"), f"{patient['name']}, {aged}, {minor}"
    yield _("Who consents"), f"{said['signer']} ({on_the_sheet(said['basis'])})"
    yield _("Known by"), on_the_sheet(said["id_seen"])
    if said["proof"]:
        yield _("Rests on"), said["proof"]
    if said["other_parent"]:
        yield _("Other parent"), said["other_parent"]
    if said["assent"] is not None:
        yield _("The patient's own agreement"), " ".join(filter(None, (_yes(said["assent"]), said["assent_words"])))
    if said["interpreter"]:
        one = said["interpreter"]
        yield _("Interpreter"), ", ".join((f"{one['name']} ({one['relation']})", _("an adult")))
    if said["capacity_doubted"]:
        yield _("Capacity"), f"{said['capacity_note']} ({said['capacity_by']}, {said['capacity_on']})"
    held = f", {day(date.fromisoformat(clinician['held_on']), language)}" if clinician.get("held_on") else ""
    licence = _("licence %(number)s") % {"number": clinician["licence"]}
    by = f"{clinician['clinician']}, {roles_said(clinician['role'])}, {licence}{held}"
    yield _("Talk held by"), by
    if said["witnesses"]:
        yield _("Witness"), "; ".join(said["witnesses"])
    again = ", " + _("password asked again") if stated["around"].get("said_again") else ""
    yield (
        _("At the screen for the office"),
        f"{stated['staff']['name']} ({roles_said(stated['staff']['roles'])}){again}",
    )


def _decided(stated: Mapping[str, Any], plan: CasePlan) -> Iterator[Row]:
    said, letter = stated["said"], stated["letter"]
    chosen = on_the_sheet(said["choice"])
    option = plan.option(letter["option"]) if letter["option"] else None
    yield _("Choice"), f"{chosen}: {option.name}" if option is not None else chosen
    if said["pieces"] and option is not None:
        yield _("Of it"), "; ".join(one.words for one in pieces_of(option) if one.key in said["pieces"])
    if said["understood"]:
        yield _("Said back in own words"), said["understood"]
    for key, words in ticks().items():
        if key in said["ticks"]:
            yield words, _yes(said["ticks"][key])
    yield _("Copy"), on_the_sheet(said["copy"])


def _evidence(stated: Mapping[str, Any], language: str) -> Iterator[Row]:
    letter, around, zone = stated["letter"], stated["around"], ZoneInfo(stated["zone"])
    yield _("Letter, SHA-256 of its file"), letter["sha256"]
    yield _("Frozen plan, SHA-256"), letter["plan_sha256"]
    yield _("Rules and evidence, SHA-256"), letter["rules_sha256"]
    clock = _("clock of the server")
    yield _("Time"), f"{stated['at']} ({stated['zone']}, {clock})"
    for one in stated["handed"]:
        when = _moment(datetime.fromisoformat(one["at"]).astimezone(zone), language)
        yield _("Letter handed over"), f"{when}, {one['to']}, {on_the_sheet(one['how'])}"
    if stated["wait"]:
        wait = stated["wait"]
        words = _("%(n)d hours (%(kind)s); %(source)s")
        yield (
            _("Time to think it over"),
            words % {"n": wait["hours"], "kind": on_the_sheet(wait["kind"]), "source": source_said(wait["source"])},
        )
    yield _("Signed how"), on_the_sheet(stated["said"]["method"])
    read = around["read"]
    if read.get("how"):
        yield _("Letter read"), on_the_sheet(read["how"])
    if read.get("seconds") is not None and read.get("all"):
        seen = _("%(seen)s of %(all)s parts were on the screen, for %(seconds)s seconds in all")
        yield _("Read on the screen"), seen % {one: read.get(one, "–") for one in ("seen", "all", "seconds")}
    else:
        yield _("Read on the screen"), _("not recorded")
    if around["electronic_agreed"] is not None:
        yield _("Signing on the screen agreed to, paper offered"), _yes(around["electronic_agreed"])
    yield _("Device"), around["device"] or "–"
    yield _("Address"), around["address"] or "–"
    yield _("Record before this one"), f"{stated['trail']['sequence']}, {stated['trail']['hash'] or '–'}"


def _yes(value: bool | None) -> str:
    return {True: _("yes"), False: _("no"), None: _("not asked")}[value]


def _moment(at: datetime, language: str) -> str:
    return f"{day(at.date(), language)}, {formats.time_format(at.time(), 'H:i')}"
