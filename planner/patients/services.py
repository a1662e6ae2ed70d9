"""What is done to people's files: registering, correcting, histories, and who looked."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction
from pydantic import ValidationError

from planner.patients.facts import history_facts, history_json, person_facts
from planner.patients.files import files_of, of_person, refuse_closed
from planner.patients.models import AnyChange, HistoryForm, NameWord, Patient
from planner.patients.names import plain, sort_key, words
from planner.patients.signals import contact_stopped
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import today
from planner.practice.models import Staff
from planner.rules.facts import Facts
from planner.rules.mouth import History, Person
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record

_EDITABLE = frozenset(
    {
        "name",
        "sort_key",
        "birth_date",
        "phone",
        "language",
        "print_points",
        "contact_consent",
        "sex",
        "can_decide_alone",
        "decision_maker",
        "own_agreement",
    }
)


def register_patient(
    *,
    name: str,
    birth_date: date,
    phone: str = "",
    contact_consent: bool | None = None,
    sorted_by: str = "",
    about: Mapping[str, Any] | None = None,
    actor: Staff,
    now: datetime,
) -> Patient:
    """Open a file for somebody. ``about`` holds further columns, such as language or print size.

    Raises Refused for a value that cannot be taken. Look at :func:`planner.patients.queries.possible_twins` first.
    """
    require(actor, Act.CREATE, Thing.IDENTITY)
    values = {
        **(about or {}),
        "name": " ".join(name.split()),
        "birth_date": birth_date,
        "phone": phone.strip(),
        "contact_consent": contact_consent,
    }
    values["sort_key"] = plain(sorted_by) or sort_key(values["name"]) or values["name"]
    patient = Patient(office=actor.office, created_at=now, **_checked(values, today(actor.office, now)))
    _check_person(patient)
    with transaction.atomic():
        patient.save(force_insert=True)
        rewrite_words(patient)
        record(actor=actor, act="patient.register", subject=patient, content=_plain(values), at=now)
    return patient


def change_patient(*, patient: Patient, seen: int, changes: Mapping[str, Any], actor: Staff, now: datetime) -> Patient:
    """Correct what stands in somebody's file. ``changes`` names columns of the patient.

    Raises Refused for a value that cannot be taken, StaleEdit when somebody else saved first.
    """
    require_own(actor, patient)
    require(actor, Act.EDIT, Thing.IDENTITY, subject=patient)
    refuse_closed(patient)
    values = _checked(dict(changes), today(patient.office, now))
    if "name" in values:
        values["name"] = " ".join(values["name"].split())
        values.setdefault("sort_key", sort_key(values["name"]) or values["name"])
    trial = Patient.objects.get(pk=patient.pk)
    before = {name: getattr(trial, name) for name in values}
    for name, value in values.items():
        setattr(trial, name, value)
    _check_person(trial)
    with transaction.atomic():
        saved = save_seen(patient, seen=seen, what="The patient's file", values=values)
        if "name" in values:
            rewrite_words(saved)
        content = {"before": _plain(before), "after": _plain(values), "version": saved.version}
        record(actor=actor, act="patient.change", subject=saved, content=content, at=now)
    return saved


def set_stop_all(*, patient: Patient, seen: int, stop: bool, reason: str, actor: Staff, now: datetime) -> Patient:
    """Stop (or allow again) every reminder and call at once. Raises Refused without a reason, StaleEdit."""
    require_own(actor, patient)
    require(actor, Act.EDIT, Thing.IDENTITY, subject=patient)
    _need_reason(reason, "Stopping or allowing all contact")
    with transaction.atomic():
        saved = save_seen(patient, seen=seen, what="The patient's file", values={"stop_all": stop})
        act = "patient.stop_all" if stop else "patient.contact_again"
        record(actor=actor, act=act, subject=saved, reason=reason, at=now)
        if stop:
            contact_stopped.send(sender=Patient, patient=saved, reason=reason, actor=actor, now=now)
        # Another file of the same person is not called either.
        for other in files_of(saved):
            if other.stop_all != stop:
                set_stop_all(patient=other, seen=other.version, stop=stop, reason=reason, actor=actor, now=now)
    return saved


def viewed(*, patient: Patient, actor: Staff, now: datetime, reason: str = "") -> None:
    """Record that somebody opened the file: one short insert, after the page was rendered."""
    with transaction.atomic():
        record(actor=actor, act="patient.view", subject=patient, reason=reason, at=now)
    actor.opened = None


def record_history(
    *, patient: Patient, facts: History, signed_by: str = "", actor: Staff, now: datetime
) -> HistoryForm:
    """Add a medical history form, as signed. It holds from now on; the forms before it stay readable.

    Raises Refused for a form signed in the future or before the one on file.
    """
    require_own(actor, patient)
    require(actor, Act.CREATE, Thing.FLAGS, subject=patient)
    refuse_closed(patient)
    day = today(patient.office, now)
    newest = history_facts(patient).signed_on
    for field, value in (("signed_on", facts.signed_on), ("any_change_asked_on", facts.any_change_asked_on)):
        if value is not None and value > day:
            raise Refused(f"{value.isoformat()} lies in the future: today is {day.isoformat()}.", field=field)
    if newest is not None and facts.signed_on is not None and facts.signed_on < newest:
        raise Refused(
            f"A form signed on {newest.isoformat()} is on file, and this one was signed before it, on "
            f"{facts.signed_on.isoformat()}: the newer one holds.",
            field="signed_on",
        )
    check_text(facts)
    with transaction.atomic():
        form = HistoryForm.objects.create(
            office=patient.office,
            patient=patient,
            signed_on=facts.signed_on,
            signed_by=signed_by.strip(),
            facts=history_json(facts),
            entered_by=actor,
            at=now,
        )
        if facts.any_change_asked_on is not None:
            _answer(form, facts.any_change_asked_on, False, "", actor, now)
        record(actor=actor, act="history.sign", subject=patient, content={"form": form.public_id}, at=now)
    return form


def answer_any_change(
    *, patient: Patient, asked_on: date, changed: bool, note: str = "", actor: Staff, now: datetime
) -> AnyChange:
    """Add the answer to "has anything changed?". When something has, a new form is needed before anything is decided.

    Raises Refused when no form is on file, for a day in the future, or when something changed and the note says not
    what.
    """
    require_own(actor, patient)
    require(actor, Act.CREATE, Thing.FLAGS, subject=patient)
    refuse_closed(patient)
    day = today(patient.office, now)
    if asked_on > day:
        raise Refused(f"{asked_on.isoformat()} lies in the future: today is {day.isoformat()}.", field="asked_on")
    if changed and not note.strip():
        raise Refused("Say what has changed, in the person's words.", field="note")
    form = HistoryForm.objects.filter(of_person(patient)).order_by("-id").first()
    if form is None:
        raise Refused("No signed history is on file: let the person fill in the form first.")
    with transaction.atomic():
        answer = _answer(form, asked_on, changed, note.strip(), actor, now)
        content = {"changed": changed, "answer": answer.public_id}
        record(actor=actor, act="history.any_change", subject=patient, content=content, at=now)
    return answer


def check_text(facts: Facts) -> None:
    """Raise Refused when a text holds the sign of number zero, which no page shows and PostgreSQL does not keep."""
    if "\\u0000" in facts.model_dump_json():
        raise Refused("A text holds an invisible sign (number zero) that cannot be kept: type the text again.")


def _answer(form: HistoryForm, asked_on: date, changed: bool, note: str, actor: Staff, now: datetime) -> AnyChange:
    return AnyChange.objects.create(
        office=form.office, form=form, asked_on=asked_on, changed=changed, note=note, asked_by=actor, at=now
    )


def _checked(values: dict[str, Any], day: date) -> dict[str, Any]:
    unknown = sorted(set(values) - _EDITABLE)
    if unknown:
        raise Refused(f'A patient\'s file has no "{unknown[0]}".', field=unknown[0])
    for name in ("name", "sort_key", "phone", "decision_maker"):
        if "\x00" in values.get(name, ""):
            raise Refused("This holds an invisible sign (number zero): type it again.", field=name)
    if "name" in values and not values["name"].strip():
        raise Refused("The file needs the person's name, written as the person writes it.", field="name")
    if "birth_date" in values and values["birth_date"] > day:
        raise Refused(
            f"The birth date {values['birth_date'].isoformat()} lies in the future; today is {day.isoformat()}.",
            field="birth_date",
        )
    if len(values.get("phone", "")) > 40:
        raise Refused("The telephone number is longer than 40 signs.", field="phone")
    return values


def _check_person(patient: Patient) -> Person:
    """The same checks as on a case file, so that every file can be written out as one."""
    try:
        return person_facts(patient)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        field = str(first["loc"][0])
        raise Refused(f"{field.replace('_', ' ')}: {first['msg']}.", field=field) from None


def rewrite_words(patient: Patient) -> None:
    """The words of the name, by which it is searched, anew."""
    NameWord.objects.filter(patient=patient).delete()
    NameWord.objects.bulk_create(
        NameWord(office=patient.office, patient=patient, word=word) for word in words(patient.name)
    )


def _plain(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value.isoformat() if isinstance(value, date) else value for name, value in values.items()}


def _need_reason(reason: str, what: str) -> None:
    if not reason.strip():
        raise Refused(f"{what} needs a reason.", field="reason")
