"""Which entries of the trail are about one patient's file.

An entry names its subject by kind and public id. Everything that has a public id and leads to a patient by its foreign
keys is part of that patient's file; which tables these are is found from the models themselves, so that a new one is
never forgotten.
"""

from collections import deque
from collections.abc import Iterator
from functools import cache, reduce
from operator import or_

from django.apps import apps
from django.db.models import CharField, ForeignKey, Model, Q, QuerySet, Value

from planner.patients.files import files_of
from planner.patients.models import Patient
from planner.trail.fields import Public
from planner.trail.models import TrailEntry


@cache
def ways_to_patient() -> tuple[tuple[type[Model], str], ...]:
    """Every table of a patient's file with the shortest way to the patient, such as ``visit__patient``."""
    found = []
    for model in apps.get_models():
        if issubclass(model, Public) and model is not Patient and (way := _way(model)):
            found.append((model, way))
    return tuple(found)


def _way(model: type[Model]) -> str:
    """The shortest way of foreign keys from ``model`` to the patient; empty when there is none."""
    queue: deque[tuple[type[Model], str]] = deque([(model, "")])
    seen = {model}
    while queue:
        here, way = queue.popleft()
        for name, other in _keys(here):
            longer = f"{way}__{name}" if way else name
            if other is Patient:
                return longer
            if other not in seen:
                seen.add(other)
                queue.append((other, longer))
    return ""


def _keys(model: type[Model]) -> Iterator[tuple[str, type[Model]]]:
    for field in model._meta.get_fields():
        # A key that may be empty ties a row of the office to a patient by chance, such as a move of stock to a visit.
        if isinstance(field, ForeignKey) and not field.null and isinstance(field.related_model, type):
            yield field.name, field.related_model


def entries_of_file(patient: Patient) -> QuerySet[TrailEntry]:
    """Every entry about this file, also what people of other offices tried. One query is made here, one by the caller.

    The ids are gathered first, because both databases look entries up by id in the index and neither does so for a
    condition that is itself a query.
    """
    about = Q(subject_kind=Patient._meta.label_lower, subject_id=patient.public_id)
    kinds: dict[str, list[str]] = {}
    for kind, public_id in _ids(patient):
        kinds.setdefault(kind, []).append(public_id)
    for kind, ids in kinds.items():
        about |= Q(subject_kind=kind, subject_id__in=ids)
    return TrailEntry.objects.filter(about)


def entries_of_person(patient: Patient) -> QuerySet[TrailEntry]:
    """Every entry about this file and about those that were joined to it. Two queries more for each of them."""
    return reduce(or_, map(entries_of_file, files_of(patient)))


def _ids(patient: Patient) -> Iterator[tuple[str, str]]:
    parts = []
    for model, way in ways_to_patient():
        rows = model._default_manager.filter(**{way: patient.pk}).order_by()
        kind = Value(model._meta.label_lower, output_field=CharField())
        parts.append(rows.annotate(of_kind=kind).values_list("of_kind", "public_id"))
    yield from parts[0].union(*parts[1:], all=True)
