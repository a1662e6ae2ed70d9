"""From rows to typed facts and back. Nothing is decided here, and nothing is lost: every adapter has its inverse."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import reduce

from planner.patients.files import of_person
from planner.patients.join_models import JoinedFile
from planner.patients.models import (
    PLACE_LENGTHS,
    TOOTH_LENGTHS,
    AbsentReading,
    AnyChange,
    Examination,
    GapReading,
    HistoryForm,
    Patient,
    PictureReading,
    PlaceReading,
    ToothReading,
)
from planner.patients.stored import from_json, key, mm, to_json, tooth
from planner.rules import mouth
from planner.rules.facts import Facts
from planner.rules.joining import stricter

GROUPS: Mapping[str, type[Facts]] = {
    "gums": mouth.Gums,
    "decay": mouth.Decay,
    "bite": mouth.Bite,
    "colour": mouth.Colour,
    "growth": mouth.Growth,
    "orthodontics": mouth.Orthodontics,
}
"""The mouth-wide groups of an examination, by column."""

_TOOTH_COLUMNS = {"tooth", "place", "role", *TOOTH_LENGTHS}
_HISTORY_COLUMNS = {"signed_on", "any_change_asked_on"}
LINES = ("teeth", "gaps", "absent", "empty_places")
"""What to prefetch with an examination."""


def person_facts(patient: Patient) -> mouth.Person:
    """The person as the computation needs them."""
    return mouth.Person.model_validate(
        {
            "name": patient.name,
            "birth_date": patient.birth_date,
            "sex": patient.sex or None,
            "language": patient.language,
            "print_points": patient.print_points,
            "can_decide_alone": patient.can_decide_alone,
            "decision_maker": patient.decision_maker,
            "own_agreement": patient.own_agreement,
        }
    )


def person_values(person: mouth.Person) -> dict[str, object]:
    """The columns of a patient that a case file carries, the name apart."""
    return {
        "birth_date": person.birth_date,
        "sex": "" if person.sex is None else person.sex.value,
        "language": person.language,
        "print_points": person.print_points,
        "can_decide_alone": person.can_decide_alone,
        "decision_maker": person.decision_maker,
        "own_agreement": person.own_agreement,
    }


def history_json(facts: mouth.History) -> dict[str, object]:
    """What the column ``facts`` of a history form keeps."""
    return to_json(facts, leave_out=_HISTORY_COLUMNS)


def form_facts(form: HistoryForm | None, answers: Iterable[AnyChange]) -> mouth.History:
    """The history of a form and of the answers to "any change?" since. No form: nothing was asked.

    After the answer that something has changed, the form counts as not asked again until a new one is signed.
    """
    if form is None:
        return mouth.History()
    last = max(answers, key=lambda answer: answer.pk, default=None)
    asked = None if last is None or last.changed else last.asked_on
    dates = {"signed_on": form.signed_on, "any_change_asked_on": asked}
    return from_json(mouth.History, form.facts | dates)


def history_facts(patient: Patient, on: date | None = None) -> mouth.History:
    """The newest history of ``patient``, or the one that was newest on the day ``on``.

    Where two files were joined, the stricter of the newest form of each holds until a form is signed after that.
    """
    forms = HistoryForm.objects.filter(of_person(patient)).order_by("-id")
    answers = AnyChange.objects.all()
    if on is not None:
        forms = forms.exclude(signed_on__gt=on)
        answers = answers.filter(asked_on__lte=on)
    newest: dict[int, HistoryForm] = {}
    for form in forms:
        newest.setdefault(form.patient_id, form)
    rows = _not_replaced(list(newest.values()))
    if not rows:
        return mouth.History()
    rows.sort(key=lambda form: (form.signed_on or date.min, form.pk), reverse=True)
    told = [form_facts(form, answers.filter(form=form)) for form in rows]
    return reduce(stricter, told)


def _not_replaced(forms: list[HistoryForm]) -> list[HistoryForm]:
    """Of the newest form of each joined file, newest first: the newest alone, if it came after the joining."""
    if len(forms) < 2:
        return forms
    people = [form.patient_id for form in forms]
    done = JoinedFile.objects.filter(joined__in=people, done_at__isnull=False, apart_at=None).order_by("-done_at")
    last = done.values_list("done_at", flat=True).first()
    return forms[:1] if last is not None and forms[0].at > last else forms


def picture_facts(picture: PictureReading) -> mouth.Picture:
    """One reading of a picture."""
    return from_json(
        mouth.Picture,
        {
            "kind": picture.kind,
            "on": picture.on,
            "reader": picture.reader,
            "absent": picture.absent,
            "roots_of": picture.roots_of,
            "reading": picture.reading,
        },
    )


def picture_values(facts: mouth.Picture) -> dict[str, object]:
    """The columns of a picture reading."""
    return {
        "kind": facts.kind,
        "on": facts.on,
        "reader": facts.reader,
        "absent": [found.key for found in facts.absent],
        "roots_of": [found.key for found in facts.roots_of],
        "reading": facts.reading,
    }


def examination_facts(examination: Examination) -> mouth.Examination:
    """One set of measurements. Fetch it with ``prefetch_related(*LINES)`` to ask the database once for each kind."""
    return mouth.Examination.model_validate(
        {
            "on": examination.on,
            "by": examination.by,
            "instrument": examination.instrument,
            "film_factor_percent": examination.film_factor_percent,
            "confirmed_by": examination.confirmed_by,
            "teeth": tuple(_tooth_facts(line) for line in examination.teeth.all()),
            "gaps": tuple(_gap_facts(line) for line in examination.gaps.all()),
            "absent": tuple(_absent_facts(line) for line in examination.absent.all()),
            "empty_places": tuple(_place_facts(line) for line in examination.empty_places.all()),
            "midline_offset": mm(examination.midline_offset),
            "strip_length": mm(examination.strip_length),
            **{name: from_json(kind, getattr(examination, name)) for name, kind in GROUPS.items()},
        }
    )


def examination_values(facts: mouth.Examination) -> dict[str, object]:
    """The columns of an examination itself; its lines are :func:`examination_lines`."""
    return {
        "on": facts.on,
        "by": facts.by,
        "instrument": facts.instrument,
        "film_factor_percent": facts.film_factor_percent,
        "confirmed_by": facts.confirmed_by,
        "midline_offset": facts.midline_offset,
        "strip_length": facts.strip_length,
        **{name: to_json(getattr(facts, name)) for name in GROUPS},
    }


def examination_lines(
    facts: mouth.Examination, examination: Examination
) -> tuple[Sequence[ToothReading], Sequence[GapReading], Sequence[AbsentReading], Sequence[PlaceReading]]:
    """The lines of an examination, not saved yet."""
    own = {"examination": examination, "office_id": examination.office_id}
    teeth = [
        ToothReading(
            **own,
            position=position,
            tooth=line.tooth.key,
            place=key(line.place),
            role=line.role or "",
            findings=to_json(line, leave_out=_TOOTH_COLUMNS),
            **{name: getattr(line, name) for name in TOOTH_LENGTHS},
        )
        for position, line in enumerate(facts.teeth)
    ]
    gaps = [
        GapReading(
            **own,
            position=position,
            first=line.between[0].key,
            second=line.between[1].key,
            width=line.width,
            width_again=line.width_again,
            film=line.film or "",
            may_stay=line.may_stay,
            new_or_growing=line.new_or_growing,
            contact_to_bone=line.contact_to_bone,
            connector_height=line.connector_height,
        )
        for position, line in enumerate(facts.gaps)
    ]
    absent = [
        AbsentReading(
            **own,
            position=position,
            tooth=line.tooth.key,
            cause=line.cause,
            lost_on=line.lost_on,
            palpation_note=line.palpation_note,
            felt=line.felt,
            localised=line.localised,
        )
        for position, line in enumerate(facts.absent)
    ]
    places = [
        PlaceReading(
            **own,
            position=position,
            place=line.place.key,
            measured_with=line.measured_with or "",
            film_factor_percent=line.film_factor_percent,
            **{name: getattr(line, name) for name in PLACE_LENGTHS},
        )
        for position, line in enumerate(facts.empty_places)
    ]
    return teeth, gaps, absent, places


def _tooth_facts(line: ToothReading) -> mouth.ToothFacts:
    lengths = {name: mm(getattr(line, name)) for name in TOOTH_LENGTHS}
    named = {"tooth": tooth(line.tooth), "place": tooth(line.place), "role": line.role or None}
    return from_json(mouth.ToothFacts, line.findings | named | lengths)


def _gap_facts(line: GapReading) -> mouth.Gap:
    return mouth.Gap.model_validate(
        {
            "between": (tooth(line.first), tooth(line.second)),
            "width": mm(line.width),
            "width_again": mm(line.width_again),
            "film": line.film or None,
            "may_stay": line.may_stay,
            "new_or_growing": line.new_or_growing,
            "contact_to_bone": mm(line.contact_to_bone),
            "connector_height": mm(line.connector_height),
        }
    )


def _absent_facts(line: AbsentReading) -> mouth.AbsentTooth:
    return mouth.AbsentTooth.model_validate(
        {
            "tooth": tooth(line.tooth),
            "cause": line.cause,
            "lost_on": line.lost_on,
            "palpation_note": line.palpation_note,
            "felt": line.felt,
            "localised": line.localised,
        }
    )


def _place_facts(line: PlaceReading) -> mouth.EmptyPlace:
    return mouth.EmptyPlace.model_validate(
        {
            "place": tooth(line.place),
            "measured_with": line.measured_with or None,
            "film_factor_percent": line.film_factor_percent,
            **{name: mm(getattr(line, name)) for name in PLACE_LENGTHS},
        }
    )


def pictures_facts(pictures: Iterable[PictureReading]) -> tuple[mouth.Picture, ...]:
    """Several readings, in the order given."""
    return tuple(picture_facts(picture) for picture in pictures)
