"""Slips of laboratory work, read as somebody typed them, to be held against the printed papers of the plan."""

import re
from collections.abc import Iterator
from typing import Any

from planner.letters.agree import LENGTHS
from planner.letters.paper_lines import PLACES
from planner.letters.reading_words import lengths, named
from planner.plans.models import Estimate
from planner.rules.papers_agree import About, Fact, Paper
from planner.rules.teeth import Numbering, Tooth, ToothNumberError
from planner.rules.units import format_mm
from planner.rules.visit_states import LaboratoryState
from planner.visits.models import LaboratoryCase

_MEASURES = r"(?:mm|cm|%|°|days?|weeks?|months?|years?|hours?|min(?:utes)?|h\b|am\b|pm\b|teeth|pieces|units|copies)"
_MONTHS = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)"
_NUMBER = re.compile(
    rf"(?<![\w.,:/+−-])(?P<system>ISO |Universal |#)?(?P<number>\d{{1,2}})(?![\w:/-]|[.,]\d| ?{_MEASURES}| {_MONTHS})",
    re.IGNORECASE,
)


def slips_of(*, estimate: Estimate, **_kwargs: Any) -> tuple[Paper, ...]:
    """The slips of laboratory work ordered for plans of ``estimate``, but for work that is not needed any more."""
    rows = LaboratoryCase.objects.filter(plan__estimate=estimate).exclude(state=LaboratoryState.DROPPED.value)
    return tuple(
        Paper(
            title=f"Laboratory slip to {case.laboratory}",
            kind="laboratory-slip",
            facts=tuple(slip_facts(case, option=case.plan.name)),
            for_patient=False,
        )
        for case in rows.select_related("plan").order_by("pk")
    )


def slip_facts(case: LaboratoryCase, *, option: str) -> Iterator[Fact]:
    """What a slip states: whom it is for, which teeth in every way it writes them, and lengths typed into its words."""
    name = case.label_name
    yield Fact(About.NAME, ("patient",), "the patient’s name", name, name)
    labelled = _label(case.label_iso, Numbering.ISO)
    if labelled:
        yield _teeth(("label", str(case.pk)), f"the teeth on the slip to {case.laboratory}", labelled, case.label_iso)
        universal = _label(case.label_universal, Numbering.UNIVERSAL)
        said = f"Universal {case.label_universal}"
        yield _teeth(("label", str(case.pk)), "the teeth on the slip", universal, said)
        yield _teeth((PLACES, option), f"the teeth that “{option}” works on", labelled, case.label_iso, part=True)
    text = f"{case.words}. {case.sketch}"
    for said, readings, _at in _typed(text):
        if labelled and not set(readings) & set(labelled):
            yield _teeth(("label", str(case.pk)), "the teeth on the slip", readings[:1], f"“{said}”", part=True)
    for tooth, tenths in _typed_lengths(text, labelled):
        value = frozenset({str(tenths)})
        said = f"{format_mm(tenths)} mm"
        yield Fact(About.LENGTH, (LENGTHS, tooth.key), f"lengths of the {tooth.name}", value, said, part=True)


def _teeth(key: tuple[str, ...], what: str, teeth: tuple[Tooth, ...], said: str, *, part: bool = False) -> Fact:
    return Fact(About.TOOTH, key, what, frozenset(tooth.key for tooth in teeth), said, part=part)


def _label(text: str, numbering: Numbering) -> tuple[Tooth, ...]:
    read = Tooth.from_iso if numbering == Numbering.ISO else Tooth.from_universal
    return tuple(read(part.strip()) for part in text.split(",") if part.strip())


def _typed(text: str) -> Iterator[tuple[str, tuple[Tooth, ...], int]]:
    """Each tooth somebody typed: as typed, every tooth it may mean, and where. A bare number may mean two."""
    found = []
    for match in _NUMBER.finditer(text):
        system = (match["system"] or "").strip().upper()
        if not system and len(match["number"]) == 1:
            continue
        readings = []
        if system != "UNIVERSAL":
            readings += _one(match["number"], Numbering.ISO)
        if system != "ISO":
            readings += _one(match["number"], Numbering.UNIVERSAL)
        if readings:
            found.append((match[0].strip(), tuple(readings), match.start()))
    at = 0
    for tooth in named(text):
        at = text.casefold().index(tooth.name, at)
        found.append((tooth.name, (tooth,), at))
        at += 1
    yield from sorted(found, key=lambda one: one[2])


def _one(number: str, numbering: Numbering) -> list[Tooth]:
    try:
        return [Tooth.from_iso(number) if numbering == Numbering.ISO else Tooth.from_universal(number)]
    except ToothNumberError:
        return []


def _typed_lengths(text: str, labelled: tuple[Tooth, ...]) -> Iterator[tuple[Tooth, int]]:
    """Each length that was typed, with the tooth named before it in the same sentence; the only one if none is."""
    for sentence in re.split(r"[;\n]|\.(?!\d)", text):
        marks = [(at, readings) for _said, readings, at in _typed(sentence)]
        for match in re.finditer(r"\d+(?:[.,]\d)?\s?mm\b", sentence):
            before = [readings for at, readings in marks if at < match.start()]
            meant = [tooth for tooth in before[-1] if tooth in labelled] if before else list(labelled)
            if len(meant) == 1:
                yield meant[0], lengths(match[0])[0]
