"""Case files in and out: one file, one transaction, nothing half."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from planner.patients.examinations import store_examination, with_lines
from planner.patients.facts import (
    examination_facts,
    history_facts,
    person_facts,
    person_values,
    picture_facts,
)
from planner.patients.models import Examination, Patient, PictureReading
from planner.patients.names import plain
from planner.patients.pictures import record_picture
from planner.patients.queries import possible_twins
from planner.patients.services import (
    answer_any_change,
    change_patient,
    check_text,
    record_history,
    register_patient,
)
from planner.patients.stored import to_json
from planner.plans.cases import change_case, open_case
from planner.plans.discounting import role_of_asker
from planner.plans.facts import case_choices, case_facts
from planner.plans.models import Case
from planner.plans.treating import refuse_before_take_over
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import today
from planner.practice.models import Staff
from planner.rules.choices import Choices
from planner.rules.contradictions import contradictions
from planner.rules.mouth import CaseFacts, History, Person, Picture
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record


@dataclass(frozen=True, slots=True)
class Imported:
    """What taking in a case file came to."""

    case: Case
    new_patient: bool
    new_case: bool
    twins: tuple[Patient, ...]
    """Other people who could be taken for this one: a page shows them."""


def import_case_file(
    *, facts: CaseFacts, patient: Patient | None = None, sorted_by: str = "", actor: Staff, now: datetime
) -> Imported:
    """Take a case file in: person, history, measurements, pictures and case, all of it or nothing.

    Without ``patient`` the person of the same full name and birth date is taken, else a file is opened. What is there
    already and equal is left alone; what differs is added as new rows, so that nothing of the old is lost; a file that
    says nothing about the history leaves the one on file. Raises Refused with every contradiction, NotAllowed when one
    of the parts is not for ``actor`` to write.
    """
    require(actor, Act.RUN, Thing.CASE_FILE)
    check_text(facts)
    if faults := list(contradictions(facts, today(actor.office, now))):
        raise Refused(" ".join(sentence for _path, sentence in faults), faults=faults)
    if patient is not None:
        require_own(actor, patient)
    if facts.choices != Choices():
        require(actor, Act.EDIT, Thing.LOCKS)
    with transaction.atomic():
        found = patient or _same_person(facts.patient, actor)
        person = _take_person(facts.patient, found, sorted_by, actor, now)
        _take_history(person, facts.history, actor, now)
        pictures = _take_pictures(person, facts.pictures, actor, now)
        case = Case.objects.filter(patient=person, name=facts.case).first()
        examination = _take_examination(person, facts, case, actor, now)
        saved = _take_case(person, facts, case, examination, pictures, actor, now)
        record(actor=actor, act="case.import", subject=saved, content={"name": saved.name}, at=now)
    twins = possible_twins(actor.office, name=person.name, birth_date=person.birth_date, besides=person)
    return Imported(saved, found is None, case is None, twins)


def export_case_file(*, case: Case, actor: Staff, now: datetime) -> CaseFacts:
    """The facts of ``case`` as a case file carries them, and the record that they were taken out."""
    require_own(actor, case)
    require(actor, Act.VIEW, Thing.CASE_FILE, subject=case)
    facts = case_facts(case)
    with transaction.atomic():
        record(actor=actor, act="case.export", subject=case, at=now)
    return facts


def _same_person(person: Person, actor: Staff) -> Patient | None:
    born = Patient.objects.filter(office=actor.office, birth_date=person.birth_date).order_by("id")
    same = [patient for patient in born if plain(patient.name) == plain(person.name)]
    if len(same) > 1:
        raise Refused(
            f"{person.name}, born {person.birth_date.isoformat()}, has {len(same)} files here: say which one is meant.",
            field="patient",
        )
    return same[0] if same else None


def _take_person(person: Person, found: Patient | None, sorted_by: str, actor: Staff, now: datetime) -> Patient:
    values = person_values(person)
    if found is None:
        return register_patient(
            name=person.name,
            birth_date=person.birth_date,
            sorted_by=sorted_by,
            about=values,
            actor=actor,
            now=now,
        )
    if person_facts(found) == person:
        return found
    changes = {"name": person.name, **values}
    return change_patient(patient=found, seen=found.version, changes=changes, actor=actor, now=now)


def _take_history(patient: Patient, facts: History, actor: Staff, now: datetime) -> None:
    on_file = history_facts(patient)
    if facts in (History(), on_file):
        return
    asked_on = facts.any_change_asked_on
    if asked_on is not None and facts == on_file.model_copy(update={"any_change_asked_on": asked_on}):
        answer_any_change(patient=patient, asked_on=asked_on, changed=False, actor=actor, now=now)
    else:
        record_history(patient=patient, facts=facts, actor=actor, now=now)


def _take_pictures(patient: Patient, pictures: Sequence[Picture], actor: Staff, now: datetime) -> list[PictureReading]:
    known = list(PictureReading.objects.filter(patient=patient).order_by("id"))
    taken: list[PictureReading] = []
    for facts in pictures:
        same = next((row for row in known if row not in taken and picture_facts(row) == facts), None)
        taken.append(same or record_picture(patient=patient, facts=facts, actor=actor, now=now))
    return taken


def _take_examination(
    patient: Patient, facts: CaseFacts, case: Case | None, actor: Staff, now: datetime
) -> Examination:
    old = None if case is None else with_lines().get(pk=case.examination_id)
    if old is not None and examination_facts(old) == facts.examination:
        return old
    return store_examination(patient=patient, facts=facts.examination, corrects=old, actor=actor, now=now)


def _same_case(case: Case, facts: CaseFacts, examination: Examination, pictures: list[PictureReading]) -> bool:
    known = case_facts(case)
    parts = ("wishes", "limits", "matters", "numbering", "notes")
    rests_on = [line.picture_id for line in case.case_pictures.all()]
    return (
        all(getattr(known, part) == getattr(facts, part) for part in parts)
        and case.examination_id == examination.pk
        and rests_on == [picture.pk for picture in pictures]
    )


def _take_case(
    patient: Patient,
    facts: CaseFacts,
    case: Case | None,
    examination: Examination,
    pictures: list[PictureReading],
    actor: Staff,
    now: datetime,
) -> Case:
    if case is None:
        case = open_case(
            patient=patient,
            examination=examination,
            name=facts.case,
            wishes=facts.wishes,
            limits=facts.limits,
            matters=facts.matters,
            pictures=pictures,
            numbering=facts.numbering,
            notes=facts.notes,
            actor=actor,
            now=now,
        )
    elif not _same_case(case, facts, examination, pictures):
        case = change_case(
            case=case,
            seen=case.version,
            wishes=facts.wishes,
            limits=facts.limits,
            matters=facts.matters,
            numbering=facts.numbering,
            notes=facts.notes,
            examination=examination,
            pictures=pictures,
            actor=actor,
            now=now,
        )
    choices = _as_asked(facts.choices, case_choices(case), actor)
    if case_choices(case) != choices:
        refuse_before_take_over(case, actor)
        stored = {"choices": to_json(choices)}
        case = save_seen(case, seen=case.version, what="The case", values=stored)
    return case


def _as_asked(choices: Choices, here: Choices, actor: Staff) -> Choices:
    """``choices`` with every discount that was not allowed here waiting again, asked for by whoever brings the file.

    A file allows nothing, and names nobody else as the one who asked: nobody allows what they asked for.
    """
    nobody = {"allowed_by": "", "allowed_role": "", "allowed_on": None, "second_person": ""}
    nobody |= {"asked_by": actor.full_name, "asked_role": role_of_asker(actor)}
    discounts = tuple(one if one in here.discounts else one.model_copy(update=nobody) for one in choices.discounts)
    return choices.model_copy(update={"discounts": discounts})
