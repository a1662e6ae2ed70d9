"""May this course be offered to this patient today? Every gate that does not simply pass gives a reason.

:func:`judge` puts the general gates of ``data/gates.toml``, each treatment's own, and the few written in code to one
course. :func:`planner.rules.verdicts.worst` folds the reasons into the verdict. A dentist's override is weighed by
:func:`override_fault` and :func:`after_overrides`; it never makes an offer, at best care.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any, Protocol

from planner.rules.book import OfficeBook
from planner.rules.choices import Override
from planner.rules.courses import Course
from planner.rules.gate_engine import GateBook, ask, check_data, expand, gate_book
from planner.rules.gate_facts import MOUTH, Situation, plain
from planner.rules.gate_rules import Gate, read_gates
from planner.rules.gate_special import special
from planner.rules.mouth import CaseFacts
from planner.rules.verdicts import Reason, Verdict
from planner.rules.words import either, told


class HasGates(Protocol):
    """What a treatment tells about itself here; see :class:`planner.rules.treatments.Treatment`."""

    @property
    def flags(self) -> Sequence[str]: ...

    @property
    def works_on(self) -> str: ...

    @property
    def fills_place(self) -> bool: ...

    @property
    def gates(self) -> Sequence[Mapping[str, Any]]: ...


def judge(
    course: Course,
    facts: CaseFacts,
    book: OfficeBook,
    today: date,
    treatments: Mapping[str, HasGates],
    *,
    visits: int | None = None,
    months: int | None = None,
    longest_visit: int | None = None,
    money_cents: int | None = None,
    earliest_finish: date | None = None,
) -> tuple[Reason, ...]:
    """Every reason against offering ``course`` as it stands, the most severe first; none means ``offer``.

    ``treatments`` is the catalogue. ``visits``, ``months`` (whole, the high end), ``money_cents`` (the compared total)
    and ``earliest_finish`` of the option are held against the patient's own limits and wish where they are handed in,
    ``longest_visit`` (minutes) against what an anxious patient can bear.
    Raises GateError for gates that are not of their form.
    """
    known = gate_book()
    situation = Situation(
        course,
        facts,
        book,
        today,
        known.settings,
        traits_of(treatments) | _taking_out(course),
        visits=visits,
        months=months,
        longest_visit=longest_visit,
        money_cents=money_cents,
        earliest_finish=earliest_finish,
    )
    reasons: list[Reason] = []
    too_old: dict[str, date] = {}
    for gate, about in _gates_for(course, situation, treatments, known):
        answer = ask(gate, situation, known, about)
        reasons += answer.reasons
        too_old |= answer.too_old
    reasons += special(situation, known)
    reasons += (_too_old(name, until, situation, known) for name, until in sorted(too_old.items()))
    if not situation.is_nothing():
        reasons += _without_work(situation, treatments, known)
    return tuple(sorted(reasons, key=lambda reason: -reason.verdict.severity))


def traits_of(treatments: Mapping[str, HasGates]) -> dict[str, frozenset[str]]:
    """Which treatments carry each flag of the catalogue, which fill a place, and which are faces."""
    found: dict[str, set[str]] = {}
    for key, treatment in treatments.items():
        for flag in treatment.flags:
            found.setdefault(flag, set()).add(key)
        if treatment.fills_place:
            found.setdefault("fills a place", set()).add(key)
        if treatment.works_on == "faces":
            found.setdefault("faces", set()).add(key)
    return {flag: frozenset(keys) for flag, keys in found.items()}


def _taking_out(course: Course) -> dict[str, frozenset[str]]:
    """The treatments of the course that take a tooth out: for the gates that is an extraction, whatever it serves."""
    found = frozenset(item.treatment for item in course.work if item.extracted)
    return {"extraction": found} if found else {}


_OWN: dict[int, tuple[Sequence[Mapping[str, Any]], tuple[Gate, ...]]] = {}
"""Gates already read, by the identity of the rows they were read from; the rows are kept, so that none is reused."""


def own_gates(key: str, treatment: HasGates) -> tuple[Gate, ...]:
    """A treatment's own gates, checked. Raises GateError when one is not of the form or looks at an unlisted fact."""
    rows = treatment.gates
    known = _OWN.get(id(rows))
    if known is not None and known[0] is rows:
        return known[1]
    where = f"data/treatments/{key}.toml"
    gates = read_gates(rows, where)
    check_data(gates, gate_book().data, where)
    _OWN[id(rows)] = (rows, gates)
    return gates


def _gates_for(
    course: Course, situation: Situation, treatments: Mapping[str, HasGates], known: GateBook
) -> Iterable[tuple[Gate, frozenset[str]]]:
    planned = frozenset(course.treatments)
    for gate in known.gates:
        if situation.is_nothing():
            if gate.none_words:
                yield gate, planned
            continue
        about = planned & expand(gate.treatments, situation) if gate.treatments else planned
        if about:
            yield gate, about
    for key in course.treatments:
        if key in treatments:
            for gate in own_gates(key, treatments[key]):
                yield gate, frozenset({key})


def _too_old(name: str, until: date, situation: Situation, known: GateBook) -> Reason:
    shelf = known.shelves[name]
    # The date is that of the part of the examination the shelf names; roots differ from tooth to tooth.
    found = None if shelf.dated == "pictures" else plain(situation, shelf.dated, MOUTH).value
    if found is None and shelf.dated.startswith("examination."):
        found = situation.facts.examination.on
    what = either(shelf.words, shelf.words_es)
    if found:
        words = told("Too old to rely on since {day}: {what} of {found}.", day=until, what=what, found=found)
    else:
        words = told("Too old to rely on since {day}: {what}.", day=until, what=what)
    return Reason(
        f"shelf.{name}",
        Verdict.ASK,
        words,
        f"{shelf.dated} = {found or 'read too long ago'}",
        source=shelf.source,
        certainty=shelf.certainty,
    )


def _without_work(situation: Situation, treatments: Mapping[str, HasGates], known: GateBook) -> Iterable[Reason]:
    coded = known.coded["work"]
    for key in situation.course.treatments:
        words = ""
        if key not in treatments:
            words = told('The treatment "{key}" is not in the catalogue, so nothing is known about it.', key=key)
        elif not treatments[key].fills_place and not any(item.treatment == key for item in situation.course.work):
            words = told("Not known yet: which tooth is worked on.")
        if words:
            yield Reason(
                "work", Verdict.ASK, words, f"course.work = {key}", source=coded.source, certainty=coded.certainty
            )


def swaps(facts: CaseFacts) -> tuple[str, ...]:
    """What is exchanged or left out for this patient's allergies, one line each for the step sheet."""
    found: dict[str, None] = {}
    for gate in gate_book().gates:
        value: object = facts
        if not any(level.swap for level in gate.levels):
            continue
        for part in gate.looks_at.split("."):
            value = getattr(value, part)
        for level in gate.levels:
            if level.swap and value is not None and level.holds(value):
                found[level.swap] = None
    return tuple(found)


def override_fault(reason: Reason, override: Override) -> str:
    """Why ``override`` cannot set ``reason`` aside, one sentence; nothing when it can."""
    if reason.never_overridable:
        return "Nobody can override this: the law, a lawful yes, an acute problem or a missing fee stands in the way."
    if reason.patient_limit:
        return "This is the patient's own limit; only the patient can raise it."
    if not override.by.strip():
        return "An override stands in a dentist's name, and none is given."
    second = override.second_dentist.strip()
    if reason.second_dentist and (not second or second.casefold() == override.by.strip().casefold()):
        return "This takes a second dentist by name, and a paragraph in the letter."
    return ""


def after_overrides(
    reasons: Iterable[Reason], overrides: Iterable[Override], option: str, today: date
) -> tuple[Verdict, tuple[tuple[Reason, Override], ...]]:
    """The verdict once the dentist's overrides are weighed, and which reason each one set aside.

    A reason that is set aside still counts as care: it stays visible. Only overrides of this option and this gate that
    were made by ``today`` count.
    """
    made = [each for each in overrides if each.option == option and each.on <= today]
    used: list[tuple[Reason, Override]] = []
    standing: list[Verdict] = []
    for reason in reasons:
        fitting = next((each for each in made if each.gate == reason.gate and not override_fault(reason, each)), None)
        if fitting is None or reason.verdict is Verdict.CARE:
            standing.append(reason.verdict)
        else:
            standing.append(Verdict.CARE)
        if fitting is not None:
            used.append((reason, fitting))
    return max(standing, key=lambda verdict: verdict.severity, default=Verdict.OFFER), tuple(used)
