"""What was found, in plain sentences, from the facts that a plan was computed from."""

import re
from dataclasses import dataclass

from django.utils.translation import gettext as _

from planner.letters.wording import day, millimetres
from planner.rules.mouth import CaseFacts, Grinding, ToothFacts
from planner.rules.results import CasePlan, SpacePlanShape
from planner.rules.strip import Words, strip_table
from planner.rules.teeth import Numbering, Tooth


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found on one tooth or place."""

    tooth: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Measured:
    """One tooth's measured size, as text."""

    tooth: str
    width: str
    length: str


def facts_of(plan: CasePlan) -> CaseFacts:
    """The facts that ``plan`` carries, as typed facts again."""
    numbering = Numbering(plan.facts.get("numbering", Numbering.ISO))
    return CaseFacts.model_validate(plan.facts, context={"numbering": numbering})


def words_of(plan: CasePlan, facts: CaseFacts) -> Words:
    """How the plan's teeth are written, with the places of those that stand in another's."""
    places = {found.tooth: found.place for found in facts.examination.teeth if found.place is not None}
    return Words(plan.teeth, plan.numbering, places)


def findings(facts: CaseFacts, words: Words, language: str) -> tuple[Finding, ...]:
    """Tooth by tooth, only where there is something to say; absent teeth first."""
    found = [
        Finding(words.label(absent.tooth), (_absent(absent.cause), *_pictures_of(absent.tooth, facts, language)))
        for absent in facts.examination.absent
    ]
    for tooth in facts.examination.teeth:
        sentences = _of_tooth(tooth, words)
        if sentences:
            found.append(Finding(words.label(tooth.tooth), sentences))
    return tuple(found)


def _absent(cause: str) -> str:
    return {
        "never formed": _("This tooth never formed."),
        "lost": _("This tooth was lost."),
        "not erupted": _("This tooth is still in the bone."),
        "presumed": _("This tooth is not to be seen. It is not proven that it is absent."),
    }[cause]


def _pictures_of(tooth: Tooth, facts: CaseFacts, language: str) -> tuple[str, ...]:
    return tuple(
        _("An X-ray of %(day)s shows it.") % {"day": day(picture.on, language)}
        for picture in facts.pictures
        if tooth in picture.absent
    )


def _of_tooth(tooth: ToothFacts, words: Words) -> tuple[str, ...]:
    said = []
    if tooth.tooth.is_primary:
        said.append(_("This is a baby tooth."))
    if tooth.place is not None and tooth.place != tooth.tooth:
        said.append(_("It stands in the place of the %(place)s.") % {"place": words.label(tooth.place)})
    if tooth.undersized and tooth.width is not None:
        said.append(_("It is smaller than usual: %(width)s wide.") % {"width": millimetres(tooth.width)})
    if tooth.mobility:
        said.append(_("It is a bit loose (grade %(grade)d of 3).") % {"grade": tooth.mobility})
    if tooth.decay:
        said.append(_("It has decay."))
    if tooth.pocket is not None and tooth.pocket >= 4:
        said.append(_("The gum pocket beside it is %(depth)d mm deep.") % {"depth": tooth.pocket})
    if tooth.crowned:
        said.append(_("It has a crown."))
    elif tooth.restored:
        said.append(_("It has a filling."))
    if tooth.root_treated:
        said.append(_("Its root was treated."))
    if tooth.trauma:
        said.append(_("It was hit in the past."))
    if tooth.nerve == "negative":
        said.append(_("Its nerve did not answer the test."))
    elif tooth.nerve == "unclear":
        said.append(_("The test of its nerve was not clear."))
    if tooth.wear:
        said.append(_("It is worn (grade %(grade)d of 4).") % {"grade": tooth.wear})
    if tooth.root_short:
        said.append(_("Its root is short."))
    return tuple(said)


def gaps(facts: CaseFacts, words: Words) -> tuple[str, ...]:
    """Every gap that was measured: its width and the teeth beside it."""
    return tuple(
        _("%(width)s between %(right)s and %(left)s")
        % {
            "right": words.both(gap.between[0]),
            "left": words.both(gap.between[1]),
            "width": millimetres(gap.width),
        }
        for gap in facts.examination.gaps
        if gap.width
    )


@dataclass(frozen=True, slots=True)
class Planned:
    """One tooth's line of the table behind the picture of a plan, as text in millimetres."""

    tooth: str
    stands: str
    width_now: str
    added_right: str
    added_left: str
    width_after: str
    length_now: str
    length_after: str


def planned(plan: SpacePlanShape, words: Words) -> tuple[Planned, ...]:
    """What a space plan makes of every tooth."""
    found = []
    for shape, row in zip(plan.teeth, strip_table(plan, words).teeth, strict=True):
        place = (words.places or {}).get(shape.tooth, shape.tooth)
        stands = _("in the place of %(place)s") % {"place": words.both(place)} if place != shape.tooth else ""
        found.append(
            Planned(
                row.tooth,
                stands,
                row.width_now,
                row.added_right,
                row.added_left,
                row.width_after,
                row.length_now,
                row.length_after,
            )
        )
    return tuple(found)


def numbering_words(words: Words) -> str:
    """Which of a tooth's two numbers is which."""
    first, second = (
        ("Universal", "ISO") if words.numbering == Numbering.UNIVERSAL else (_own(words.numbering), "Universal")
    )
    return _("Each tooth has two numbers here: first %(first)s, then %(second)s.") % {"first": first, "second": second}


def _own(numbering: str) -> str:
    return "Palmer" if numbering == Numbering.PALMER else "ISO"


def measured(facts: CaseFacts, words: Words) -> tuple[Measured, ...]:
    """The measured size of every tooth."""
    missing = _("not measured")
    return tuple(
        Measured(
            words.label(tooth.tooth),
            millimetres(tooth.width) if tooth.width is not None else missing,
            millimetres(tooth.length) if tooth.length is not None else missing,
        )
        for tooth in facts.examination.teeth
    )


def mouth(facts: CaseFacts, words: Words, language: str) -> tuple[str, ...]:
    """What was found in the whole mouth, with what an X-ray was read to say."""
    exam = facts.examination
    said = []
    if exam.gums.bleeding_percent is not None:
        said.append(_("Your gums bled at %(n)d of 100 places that we touched.") % {"n": exam.gums.bleeding_percent})
    if exam.gums.ever_treated_for_gum_disease:
        said.append(_("You were treated for gum disease in the past."))
    if exam.decay.open_lesions is not None:
        count = exam.decay.open_lesions
        said.append(_("We found no open decay.") if count == 0 else _("We found decay in %(n)d places.") % {"n": count})
    if exam.bite.grinding is Grinding.SUSPECTED:
        said.append(_("You may grind your teeth."))
    elif exam.bite.grinding is Grinding.CONFIRMED:
        said.append(_("You grind your teeth."))
    for picture in facts.pictures:
        if picture.reading:
            said.append(
                _("X-ray or picture of %(day)s, read by %(reader)s: %(reading)s")
                % {"day": day(picture.on, language), "reader": picture.reader, "reading": picture.reading}
                + _whose_numbers(picture.reading, words)
            )
    return tuple(said)


def _whose_numbers(text: str, words: Words) -> str:
    """The system, names and both numbers of the teeth that somebody typed into ``text``; empty where there are none.

    What was read and signed is not rewritten; what a bare number in it means stands behind it.
    """
    typed = dict.fromkeys(re.findall(r"\w+", text))
    teeth = {words.number(tooth): words.label(tooth) for tooth in map(Tooth.from_key, words.teeth)}
    named = "; ".join(teeth[number] for number in typed if number in teeth)
    if not named:
        return ""
    system = "Universal" if words.numbering == Numbering.UNIVERSAL else _own(words.numbering)
    return " " + _("(Tooth numbers are %(system)s: %(teeth)s.)") % {"system": system, "teeth": named}
