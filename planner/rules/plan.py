"""The one call that the pages, the command line and the tests share: facts and office book in, case plan out."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from functools import cache
from importlib import resources

from planner.rules import segments, space_told
from planner.rules.book import OfficeBook
from planner.rules.casefile import case_data
from planner.rules.catalogue import Catalogue, shipped
from planner.rules.choices import OwnOption
from planner.rules.compose import compose, makes_whole
from planner.rules.courses import Course
from planner.rules.evidence import Evidence
from planner.rules.gate_facts import age_on
from planner.rules.gates import override_fault, swaps
from planner.rules.if_then import agreed_notes
from planner.rules.matters import marked
from planner.rules.mouth import CaseFacts
from planner.rules.options import Desk, Judged, judged, option_of
from planner.rules.own_courses import as_locks, has_amounts, own_notes
from planner.rules.raised import care_words, raised_lock
from planner.rules.ranking import rank
from planner.rules.results import CasePlan, EvidenceLine, OptionShape, SpaceShape, ToothWords, sha256, stable_json
from planner.rules.space_model import Locks, SpaceError
from planner.rules.space_remeasure import remeasure
from planner.rules.space_results import SpaceResult, SpaceVerdict
from planner.rules.standing import with_roles
from planner.rules.teeth import Numbering, Tooth
from planner.rules.translated import other_words
from planner.rules.treatments import Treatment
from planner.rules.verdicts import Reason, Verdict
from planner.rules.wishes import meets_all
from planner.rules.words import ENGLISH, either, languages, speaking, the, told

NOTHING_TO_SHARE = "nothing to share"
MEASURE_FIRST = "measure first"


def plan_case(
    facts: CaseFacts,
    book: OfficeBook,
    today: date,
    *,
    sensitivity: bool = False,
    catalogue: Catalogue | None = None,
) -> CasePlan:
    """Everything there is to say about one case on one day with one office book.

    The same input gives the same plan to the byte. ``sensitivity`` adds which measurements decide, which solves the
    spaces a hundred times over and is left to those who ask. ``catalogue`` is what is shipped unless an office has
    treatments of its own. A patient who reads another language than English gets the plan's texts in that one beside
    it; one without texts here gets English. Raises LookupError when the book has no price list in
    force on ``today`` and ValueError when the office set a space limit that the model does not know.
    """
    known = catalogue or shipped()
    with speaking(ENGLISH):
        plan = _plan(facts, book, today, sensitivity, known)
    language = facts.patient.language
    if language == ENGLISH or language not in languages():
        return plan
    with speaking(language) as untranslated:
        otherwise = _plan(facts, book, today, sensitivity, known)
    return replace(plan, other_words=(other_words(plan, otherwise, language, tuple(untranslated)),))


def _plan(facts: CaseFacts, book: OfficeBook, today: date, sensitivity: bool, known: Catalogue) -> CasePlan:
    """The case plan in the language that is spoken."""
    written, facts = case_data(facts), with_roles(facts)
    desk, spaces, courses = _courses(facts, book, today, known, sensitivity)
    options = rank([option_of(course, desk, against) for course, against in courses])
    recommended, why = _recommended(options, facts, desk.treatments)
    options = marked(options, facts.matters)
    return CasePlan(
        case=facts.case,
        planned_on=today,
        numbering=facts.numbering.value,
        office=book.office,
        office_place=book.place,
        currency=book.currency,
        price_list_version=desk.prices.version,
        estimate_days=book.estimate_days,
        patient_name=facts.patient.name,
        patient_birth_date=facts.patient.birth_date,
        patient_age=age_on(facts.patient.birth_date, today),
        language=facts.patient.language,
        print_points=facts.patient.print_points,
        teeth=_tooth_words(facts),
        spaces=spaces,
        options=options,
        recommended=recommended,
        recommended_why=why,
        notes=(
            *own_notes(facts, desk.treatments, desk.combinations),
            *_notes(options, facts, today),
            *agreed_notes(facts, desk.prices, {option.key for option in options}),
        ),
        swaps=swaps(facts),
        evidence=tuple(_evidence(options, known.evidence)),
        facts=written,
        facts_sha256=sha256(stable_json(written)),
        rules_sha256=rules_hash(known.own_sha256),
        book_sha256=sha256(stable_json(book)),
    )


def verdicts(
    facts: CaseFacts, book: OfficeBook, today: date, *, only: str = "", catalogue: Catalogue | None = None
) -> dict[str, Judged]:
    """Whether each course may be offered, by its key: what ``plan_case`` says of it, without outlook and order.

    ``only`` asks about one of them. Raises as ``plan_case`` does.
    """
    desk, _, courses = _courses(with_roles(facts), book, today, catalogue or shipped(), False)
    return {course.key: judged(course, desk, against) for course, against in courses if only in ("", course.key)}


def _courses(
    facts: CaseFacts, book: OfficeBook, today: date, known: Catalogue, sensitivity: bool
) -> tuple[Desk, SpaceShape, list[tuple[Course, tuple[Reason, ...]]]]:
    """What options are made from: the desk, the spaces, and every course with what the spaces say against it."""
    result, spaces = _spaces(facts, book, sensitivity)
    desk = Desk(facts, book, today, book.price_list_on(today), known.treatments, known.combinations)
    courses = compose(facts, result, desk.treatments, desk.combinations, today)
    return desk, spaces, [(course, tuple(_held_against(course, desk, spaces, result))) for course in courses]


def share_spaces(facts: CaseFacts, book: OfficeBook, *, sensitivity: bool = False) -> SpaceShape:
    """Only the spaces of a case, for a page that redraws while values change. Raises ValueError as plan_case does."""
    return _spaces(facts, book, sensitivity)[1]


def rules_hash(own_sha256: str = "") -> str:
    """The SHA-256 over every rule and data file of this package and an office's own: which rules were in force."""
    return sha256(f"{_package_hash()} {own_sha256}".encode()) if own_sha256 else _package_hash()


@cache
def _package_hash() -> str:
    """The SHA-256 over every rule and every data file of this package, by name."""
    root = resources.files("planner.rules")
    parts: list[str] = []
    pending = [("", root)]
    while pending:
        prefix, folder = pending.pop()
        for item in folder.iterdir():
            if item.is_dir() and item.name != "__pycache__":
                pending.append((f"{prefix}{item.name}/", item))
            elif item.name.endswith((".py", ".toml")):
                parts.append(f"{prefix}{item.name} {sha256(item.read_bytes())}")
    return sha256("\n".join(sorted(parts)).encode())


def _spaces(facts: CaseFacts, book: OfficeBook, sensitivity: bool) -> tuple[SpaceResult | None, SpaceShape]:
    limits = segments.limits_of(book.office_limits, facts.choices)
    try:
        segment = segments.segment_of(facts)
        open_gaps = any(gap and not place for gap, place in zip(segment.gaps, segment.places, strict=True))
        if not open_gaps and all(tooth.locks == Locks() for tooth in segment.teeth):
            words = told(
                "But for the empty place the upper front teeth touch; there is no space to share. "
                "Where an edge is to get longer or shorter, the dentist says by how much."
                if any(segment.places)
                else "The upper front teeth touch; there is no space to share. "
                "Where an edge is to get longer or shorter, the dentist says by how much."
            )
            return None, SpaceShape(NOTHING_TO_SHARE, words)
        result = segments.shared(segment, segments.limit_changes(book.office_limits, facts.choices))
    except segments.MeasureFirst as error:
        return None, SpaceShape(MEASURE_FIRST, told("Not everything is measured yet."), questions=error.questions)
    except SpaceError as error:
        asked = (space_told.in_full(f"{error}.", facts),)
        return None, SpaceShape(MEASURE_FIRST, told("The record of the teeth needs another look."), questions=asked)
    again = remeasure(segment, limits) if sensitivity and result.offered else ()
    return result, space_told.space_shape(result, facts, limits, again)


def _held_against(course: Course, desk: Desk, spaces: SpaceShape, result: SpaceResult | None) -> Iterator[Reason]:
    """What sharing the space says about a course; an own option is held against a sharing with its amounts fixed."""
    own, facts = desk.own(course), desk.facts
    parts = desk.parts(course)
    if any(part.works_on == "teeth moved" for part in parts):
        return
    if not any(part.adds for part in parts):
        # Which teeth a face or a crown goes on follows from the spaces: where these cannot be worked out yet, it may
        # be more teeth than are seen so far.
        if own is None and spaces.verdict == MEASURE_FIRST and any(part.covers for part in parts):
            yield from _space_reasons(course, spaces, result, facts)
        return
    if result is None and spaces.verdict == NOTHING_TO_SHARE and all(part.works_on != "spaces" for part in parts):
        # A face covers the whole tooth: how long it gets is tried on, and no space depends on it.
        return
    if own is None:
        yield from _space_reasons(course, spaces, result, facts)
    elif not has_amounts(own, desk.treatments):
        if result is not None:
            words = told(
                "How much is added on each side is not said, so whether the space can be shared so cannot be judged."
            )
            yield _space_reason(Verdict.ASK, words, f"choices.own_options.{own.key}")
    else:
        yield from amounts_held(own, course, desk)[0]


def amounts_held(own: OwnOption, course: Course, desk: Desk) -> tuple[tuple[Reason, ...], SpaceShape]:
    """What sharing the space says when every amount of ``own`` is fixed, and how the spaces then stand."""
    facts = desk.facts
    fixed, shape = _spaces(as_locks(own, facts, desk.treatments), desk.book, sensitivity=False)
    plans = [*fixed.offered, *([fixed.part_closing] if fixed.part_closing else [])] if fixed else []
    held = replace(course, space_plan=space_told.plan_key(plans[0])) if plans else course
    return tuple(_space_reasons(held, shape, fixed, facts)), shape


def _space_reasons(
    course: Course, spaces: SpaceShape, result: SpaceResult | None, facts: CaseFacts
) -> Iterator[Reason]:
    """What sharing the space says about a course that adds without moving teeth."""
    if result is None and spaces.verdict == NOTHING_TO_SHARE and makes_whole(course, facts):
        return
    sentence = spaces.sentence if result is None else space_told.in_full(result.sentence, facts)
    chosen = None
    if result is not None:
        plans = [*result.offered, *([result.part_closing] if result.part_closing else [])]
        chosen = next((plan for plan in plans if space_told.plan_key(plan) == course.space_plan), None)
    if chosen is None:
        open_question = result is None or result.verdict in (SpaceVerdict.ASK_FILM, SpaceVerdict.MEASURE_AGAIN)
        verdict = Verdict.ASK if open_question else Verdict.NO
        asked = spaces.questions if result is None else ()
        yield _space_reason(verdict, " ".join((sentence, *asked)), "examination.teeth, examination.gaps")
        return
    if not chosen.goals:
        words = told("Only a part can be closed by adding: {why}", why=f"{sentence[0].lower()}{sentence[1:]}")
        yield _space_reason(Verdict.CARE, words, "examination.gaps")
    for care in chosen.cares:
        words = space_told.in_full(care, facts)
        yield _space_reason(Verdict.CARE, f"{words[0].upper()}{words[1:]}.", f"spaces.plans.{course.space_plan}")
    raised = raised_lock(facts)
    if raised is not None and raised.tooth is not None and raised.tooth.key in chosen.touched:
        words = care_words(raised, the(raised.tooth.label(facts.numbering)))
        yield _space_reason(Verdict.CARE, words, "choices.locks")


def _space_reason(verdict: Verdict, words: str, datum: str) -> Reason:
    source = "the space-sharing model of this program"
    return Reason("spaces", verdict, words, datum, source=source, certainty="common practice")


def _recommended(
    options: tuple[OptionShape, ...], facts: CaseFacts, treatments: Mapping[str, Treatment]
) -> tuple[str, str]:
    """The dentist's choice, else the gentlest option that is offered or care and meets every wish for good."""
    choice = facts.choices.recommended
    chosen = next((option for option in options if choice is not None and option.key == choice.option), None)
    if choice is not None and chosen is not None and chosen.verdict is not Verdict.NO:
        return chosen.key, told("Recommended by {by}: {reason}", by=choice.by, reason=choice.reason)
    asked: list[str] = []
    for option in options:
        if not meets_all(option.wishes) or any(treatments[key].interim for key in option.treatments):
            continue
        if option.verdict in (Verdict.OFFER, Verdict.CARE):
            if asked and (option.rank.surgery or option.teeth_reduced):
                words = "{option} is gentler and would answer every wish: what it asks has to be answered first."
                return "", told(words, option=asked[0])
            said = told(
                "The gentlest option that can be offered and answers every wish."
                if all(answer.met is not None for answer in option.wishes)
                else "The gentlest option that can be offered and answers every wish that could be computed."
            )
            if asked:
                said += " " + told("Gentler, and not to be judged yet: {options}.", options=", ".join(asked))
            return option.key, said
        if option.verdict is Verdict.ASK:
            asked.append(f"“{either(option.name, option.name_es)}”")
    return "", told("No option that can be offered today answers every wish that could be computed.")


def _notes(options: tuple[OptionShape, ...], facts: CaseFacts, today: date) -> Iterator[str]:
    """Decisions of the dentist that this plan could not follow, and why: none is passed over in silence."""
    known = {option.key: option for option in options}
    choices = facts.choices
    if (choice := choices.recommended) is not None:
        if choice.option not in known:
            yield f'The recommended option "{choice.option}" is not among these options.'
        elif known[choice.option].verdict is Verdict.NO:
            yield f'"{known[choice.option].name}" is recommended but not offered, so it is not recommended here.'
    for struck in choices.struck:
        if struck.option not in known:
            yield f'The struck option "{struck.option}" is not among these options.'
    for made in choices.overrides:
        option = known.get(made.option)
        reasons = [reason for reason in option.reasons if reason.gate == made.gate] if option else []
        what = f'The override of "{made.gate}" on "{option.name if option else made.option}"'
        if made.on > today:
            yield f"{what} is dated {made.on.isoformat()} and holds from then."
        elif not reasons:
            yield f"{what} meets nothing that stands in the way here."
        else:
            yield from dict.fromkeys(f"{what} is not taken: {why}" for r in reasons if (why := override_fault(r, made)))


def _tooth_words(facts: CaseFacts) -> dict[str, ToothWords]:
    """Every tooth a plan may mention: recorded, absent, their places and their twins."""
    teeth: set[Tooth] = set()
    for found in facts.examination.teeth:
        teeth |= {found.tooth, found.tooth.twin}
        teeth |= {found.place} if found.place else set()
    teeth |= {absent.tooth for absent in facts.examination.absent}
    teeth |= {empty.place for empty in facts.examination.empty_places}
    teeth |= {tooth for wish in facts.wishes for target in wish.targets for tooth in target.teeth}
    for tooth in tuple(teeth):
        if tooth.is_primary and not tooth.is_extra:
            teeth.add(replace(tooth, is_primary=False))
    return {
        tooth.key: ToothWords(
            tooth.name, tooth.iso, tooth.universal, tooth.palmer, tooth.label(Numbering(facts.numbering))
        )
        for tooth in sorted(teeth)
    }


def _evidence(options: tuple[OptionShape, ...], rows: Mapping[str, Evidence]) -> Iterator[EvidenceLine]:
    """Every evidence row behind a number that an option prints, once, by key."""
    used: set[str] = set()
    for option in options:
        used |= set(option.upkeep.sources)
        used |= {key for _, keys in option.word_sources for key in keys}
        for chance in (*option.benefits, *option.risks):
            used |= set(chance.evidence.split(", ")) - {""}
    for key in sorted(used):
        row = rows[key]
        yield EvidenceLine(
            key=row.key,
            words=row.words,
            value=str(row.value),
            unit=row.unit,
            low="" if row.low is None else str(row.low),
            high="" if row.high is None else str(row.high),
            n="" if row.n is None else str(row.n),
            years="" if row.years is None else str(row.years),
            citation=row.citation,
            doi=row.doi,
            certainty=row.certainty,
            words_es=row.words_es,
        )
