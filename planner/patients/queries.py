"""Finding people. Every query stays inside one office."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet

from planner.patients.files import of_person
from planner.patients.models import NameWord, Patient
from planner.patients.names import alike, words
from planner.practice.models import Office

PAGE = 50
_AFTER_ANY_SIGN = "\U0010ffff"


@dataclass(frozen=True, slots=True)
class Page:
    """One page of people. ``after`` is the public id to ask the next page with; empty on the last page."""

    patients: tuple[Patient, ...]
    after: str


def search(
    office: Office, *, text: str = "", birth_date: date | None = None, after: str = "", size: int = PAGE
) -> Page:
    """People of ``office`` by name: every word of ``text`` begins some part of the name, whatever its case and accents.

    Sorted by name; two queries at most, whatever the number of people. An ``after`` that is nobody's starts again.
    """
    found = Patient.objects.filter(office=office)
    if birth_date is not None:
        found = found.filter(birth_date=birth_date)
    for word in words(text)[:6]:
        found = found.filter(pk__in=_with_word(office, word))
    last = Patient.objects.filter(office=office, public_id=after).first() if after else None
    if last is not None:
        # The first bound is redundant and is what lets both databases start reading in the middle of the index.
        found = found.filter(Q(sort_key__gte=last.sort_key) & (Q(sort_key__gt=last.sort_key) | Q(id__gt=last.pk)))
    rows = tuple(found.order_by("sort_key", "id")[: size + 1])
    return Page(rows[:size], rows[size - 1].public_id if len(rows) > size else "")


def _with_word(office: Office, word: str) -> QuerySet[NameWord, int]:
    begins = {"word__gte": word, "word__lt": word + _AFTER_ANY_SIGN, "word__startswith": word}
    return NameWord.objects.filter(office=office, **begins).values_list("patient_id", flat=True)


def possible_twins(
    office: Office, *, name: str, birth_date: date, besides: Patient | None = None
) -> tuple[Patient, ...]:
    """People born on the same day whose name is so like ``name`` that one could be taken for the other.

    Twins share day, surname and often initial; so do two files of one person. A page shows this on both.
    """
    born = Patient.objects.filter(office=office, birth_date=birth_date).order_by("sort_key", "id")
    if besides is not None:
        born = born.exclude(of_person(besides, "pk"))
    return tuple(other for other in born if alike(other.name, name))
