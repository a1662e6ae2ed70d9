"""A case plan as its page shows it: nothing is computed anew, only laid out, hidden where private, put in words."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from django.conf import settings
from django.utils.functional import Promise
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from planner.practice.fields import day_words
from planner.rules.choices import Override
from planner.rules.evidence import CERTAINTY_WORDS, denominator, whole
from planner.rules.gates import override_fault
from planner.rules.matters import questions
from planner.rules.mouth import CaseFacts, Matters
from planner.rules.results import CasePlan, Chance, EvidenceLine, OptionShape, OverrideShape, PriceLine
from planner.rules.strip import Words, plan_of_today
from planner.rules.strip_svg import SCREEN, strip_svg
from planner.rules.units import format_cents, format_mm
from planner.rules.verdicts import Reason, Verdict

FIRST_REASONS = 3
"""Reasons of one option that are read without opening anything."""
CERTAINTY_SHORT: tuple[tuple[str, str | Promise], ...] = (
    ("published", gettext_lazy("study read")),
    ("abstract", gettext_lazy("summary read")),
    ("secondary", gettext_lazy("quoted elsewhere")),
    ("memory", gettext_lazy("from memory")),
    ("common practice", gettext_lazy("common practice")),
    ("office", gettext_lazy("this office's own")),
)
"""How surely a number is known, short enough to stand beside it; the register says it in full."""


@dataclass(frozen=True, slots=True)
class ShownReason:
    """One reason of a verdict."""

    reason: Reason
    words: str
    private: bool
    """Its words are not for this reader."""
    fixed: str
    """Why no dentist can set it aside, in words; empty when one can, or when there is nothing to set aside."""
    override: OverrideShape | None

    @property
    def may_be_overridden(self) -> bool:
        """Whether a dentist may decide against it and has not yet."""
        stands = self.reason.verdict not in (Verdict.OFFER, Verdict.CARE)
        return stands and not self.fixed and self.override is None


@dataclass(frozen=True, slots=True)
class ShownSource:
    """Where a number comes from, and how surely it is known."""

    line: EvidenceLine
    certainty: str
    short: str
    """The certainty in a word or two, to stand beside a figure."""


@dataclass(frozen=True, slots=True)
class ShownChance:
    """A benefit or risk, with its number and where that comes from."""

    words: str
    number: str
    sources: tuple[ShownSource, ...]


@dataclass(frozen=True, slots=True)
class ShownOwn:
    """Who put an option together, when, why, and from which."""

    by: str
    on: date
    reason: str
    changed_from: str


@dataclass(frozen=True, slots=True)
class ShownMatters:
    """What matters to the patient, and how the option stands on it: each list in the order of the questions."""

    well_a_lot: tuple[str, ...]
    well_a_little: tuple[str, ...]
    least_well_a_lot: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ShownLine:
    """One line of an estimate, with its teeth in the office's numbering and the other one beside it."""

    line: PriceLine
    teeth: str


@dataclass(frozen=True, slots=True)
class ShownOption:
    """One option, ready for its box."""

    option: OptionShape
    recommended: bool
    reasons: tuple[ShownReason, ...]
    benefits: tuple[ShownChance, ...]
    risks: tuple[ShownChance, ...]
    sources: tuple[ShownSource, ...]
    beaten_by: tuple[str, ...]
    elements: tuple[tuple[str, str], ...]
    """The order's elements with this option's values, in the order in which they decide."""
    months: str
    priced: bool
    curve: tuple[str, ...]
    lines: tuple[ShownLine, ...]
    beside: tuple[ShownLine, ...]
    can_be_had: bool
    """Offered or care, and priced."""
    can_be_recommended: bool
    led: Mapping[str, tuple[ShownSource, ...]]
    """The sources behind the figures of a field, by its name; ``upkeep`` for what the years ask for."""
    own: ShownOwn | None
    matters: ShownMatters

    @property
    def wishes_met(self) -> str:
        """How many wishes are met, of how many; a dash where none is written down."""
        wishes = self.option.wishes
        if not wishes:
            return "–"
        return _("%(met)d of %(all)d") % {"met": sum(bool(wish.met) for wish in wishes), "all": len(wishes)}

    @property
    def first_reasons(self) -> tuple[ShownReason, ...]:
        """The reasons read at once: the most severe ones, and every one a dentist decided against."""
        return tuple(one for index, one in enumerate(self.reasons) if index < FIRST_REASONS or one.override)

    @property
    def further_reasons(self) -> tuple[ShownReason, ...]:
        """The other reasons, one click away."""
        return tuple(one for one in self.reasons if one not in self.first_reasons)


@dataclass(frozen=True, slots=True)
class Change:
    """Something that keeps an option from being offered and can change."""

    what: str
    options: tuple[str, ...]
    every: bool
    """Whether it stands in the way of every option."""
    earliest: date | None


def shown_options(plan: CasePlan, *, show_private: bool) -> tuple[tuple[ShownOption, ...], tuple[ShownOption, ...]]:
    """The options gentlest first: those that stand open, and the rest. The recommended one is always open."""
    shown = [_option(plan, option, show_private) for option in plan.options]
    first = [one for index, one in enumerate(shown) if index < settings.OPTIONS_SHOWN or one.recommended]
    return tuple(first), tuple(one for one in shown if one not in first)


def what_must_change(plan: CasePlan, *, show_private: bool) -> tuple[Change, ...]:
    """Where nothing but doing nothing can be offered today: everything that stands in the way and can change.

    Empty when there is something to offer.
    """
    treating = [option for option in plan.options if option.treatments != ("none",)]
    if any(option.verdict in (Verdict.OFFER, Verdict.CARE) for option in treating):
        return ()
    found: dict[str, tuple[list[str], date | None]] = {}
    for option in treating:
        for reason in option.reasons:
            if reason.verdict in (Verdict.WAIT, Verdict.ASK) or (reason.verdict is Verdict.NO and reason.patient_limit):
                names, _earliest = found.setdefault(_change_words(reason, show_private), ([], reason.earliest))
                names.append(option.name)
    return tuple(
        Change(what, tuple(dict.fromkeys(names)), len(set(names)) == len({each.name for each in treating}), earliest)
        for what, (names, earliest) in found.items()
    )


def strip_of(plan: CasePlan, facts: CaseFacts) -> SafeString | None:
    """The chosen way of sharing the space, else the teeth as they are, larger than life; None when unmeasured."""
    places = {found.tooth: found.place for found in facts.examination.teeth if found.place is not None}
    words = Words(plan.teeth, plan.numbering, places)
    chosen = next((found for found in plan.spaces.plans if found.key == plan.spaces.chosen), None)
    try:
        exam = facts.examination
        today = chosen or plan_of_today(exam.teeth, exam.gaps)
        drawn = strip_svg(today, words, "strip", scale=SCREEN, midline_offset=exam.midline_offset)
    except ValueError:
        return None
    return mark_safe(drawn)  # noqa: S308 - every text in it is escaped there


def _change_words(reason: Reason, show_private: bool) -> str:
    if reason.private and not show_private:
        return _("A private reason; the dentist knows it.")
    words = reason.words
    if reason.missing_step:
        words += " " + _("First: %(step)s.") % {"step": reason.missing_step.rstrip(".")}
    if reason.patient_limit:
        words += " " + _("The patient's own limit; only the patient can raise it.")
    return words


def _option(plan: CasePlan, option: OptionShape, show_private: bool) -> ShownOption:
    lines = {line.key: line for line in plan.evidence}
    names = {each.key: each.name for each in plan.options}
    led = {field: tuple(_source(lines[key]) for key in keys if key in lines) for field, keys in option.word_sources}
    led["upkeep"] = tuple(_source(lines[key]) for key in option.upkeep.sources if key in lines)
    used = dict.fromkeys(option.upkeep.sources)
    used |= dict.fromkeys(key for _field, keys in option.word_sources for key in keys)
    for chance in (*option.benefits, *option.risks):
        used |= dict.fromkeys(_keys(chance))
    of = denominator(
        share
        for chance in (*option.benefits, *option.risks)
        for share in (chance.of_100_low, chance.of_100_high)
        if share is not None
    )
    months = (
        str(option.months_high)
        if option.months_low == option.months_high
        else _("%(low)d to %(high)d") % {"low": option.months_low, "high": option.months_high}
    )
    return ShownOption(
        option=option,
        recommended=option.key == plan.recommended,
        reasons=tuple(_reason(option, reason, show_private) for reason in option.reasons),
        benefits=tuple(_chance(chance, of, lines) for chance in option.benefits),
        risks=tuple(_chance(chance, of, lines) for chance in option.risks),
        sources=tuple(_source(lines[key]) for key in used if key in lines),
        beaten_by=tuple(names[key] for key in option.rank.beaten_by),
        elements=_elements(option),
        months=months,
        priced=bool(option.estimate.lines) or option.verdict in (Verdict.OFFER, Verdict.CARE),
        curve=tuple(_curve(option)),
        lines=tuple(_line(plan, line) for line in option.estimate.lines),
        beside=tuple(_line(plan, line) for line in option.estimate.beside),
        can_be_had=option.verdict in (Verdict.OFFER, Verdict.CARE) and bool(option.estimate.lines),
        can_be_recommended=option.verdict in (Verdict.OFFER, Verdict.CARE) and option.key != plan.recommended,
        led=led,
        own=_own(option, names),
        matters=_matters(option),
    )


def _own(option: OptionShape, names: Mapping[str, str]) -> ShownOwn | None:
    own = option.own
    if own is None:
        return None
    return ShownOwn(own.by, own.on, own.reason, names.get(own.changed_from, own.changed_from))


def _matters(option: OptionShape) -> ShownMatters:
    spanish = (get_language() or "").startswith("es")

    def on(weight: str, standing: str) -> tuple[str, ...]:
        found = (one for one in option.matters if (one.weight, one.standing) == (weight, standing))
        return tuple(one.words_es if spanish else one.words for one in found)

    return ShownMatters(on("a lot", "well"), on("a little", "well"), on("a lot", "least well"))


def _source(line: EvidenceLine) -> ShownSource:
    words = CERTAINTY_WORDS.get(line.certainty, (line.certainty,))[0]
    return ShownSource(line, words, str(dict(CERTAINTY_SHORT).get(line.certainty, line.certainty)))


def _line(plan: CasePlan, line: PriceLine) -> ShownLine:
    words = Words(plan.teeth, plan.numbering)
    return ShownLine(line, ", ".join(f"{words.number(tooth)} ({words.other_number(tooth)})" for tooth in line.teeth))


def _reason(option: OptionShape, reason: Reason, show_private: bool) -> ShownReason:
    hidden = reason.private and not show_private
    made = next((one for one in option.overrides if one.gate == reason.gate), None)
    # A second dentist can be named on the form, so that wanting one is no reason that it cannot be done.
    trial = Override.model_construct(
        option=option.key, gate=reason.gate, by="?", second_dentist="??", reason="", on=date.min
    )
    return ShownReason(
        reason=reason,
        words=_("A private reason; the dentist knows it.") if hidden else reason.words,
        private=hidden,
        fixed=override_fault(reason, trial),
        override=made,
    )


def _keys(chance: Chance) -> list[str]:
    return [key.strip() for key in chance.evidence.split(",") if key.strip()]


def _chance(chance: Chance, of: int, lines: dict[str, EvidenceLine]) -> ShownChance:
    low = chance.of_100_low if chance.of_100_low is not None else chance.of_100_high
    high = chance.of_100_high if chance.of_100_high is not None else low
    number = ""
    if low is not None and high is not None:
        least, most = whole(low, of), whole(high, of)
        many = str(least) if least == most else _("%(low)d to %(high)d") % {"low": least, "high": most}
        parts = _("%(many)s of %(of)d %(group)s %(period)s")
        number = parts % {"many": many, "of": of, "group": chance.group, "period": chance.period}
    return ShownChance(
        chance.words, " ".join(number.split()), tuple(_source(lines[key]) for key in _keys(chance) if key in lines)
    )


def _elements(option: OptionShape) -> tuple[tuple[str, str], ...]:
    rank = option.rank
    return (
        (_("an operation"), _("yes") if rank.surgery else _("no")),
        (_("teeth that lose more than half a millimetre for good"), str(rank.teeth_reduced)),
        (_("lasting harm expected, of 100 people"), f"{rank.lasting_harm_of_100:.1f}"),
        (_("millimetres removed beyond half a millimetre a tooth"), format_mm(rank.removed_beyond_tenths)),
        (_("teeth touched"), str(rank.teeth_touched)),
        (_("can it be undone"), (_("fully"), _("nearly"), _("not at all"))[rank.undo]),
        (_("months, at most"), str(rank.months)),
        (_("visits"), str(rank.visits)),
    )


def _curve(option: OptionShape) -> Iterator[str]:
    for point in option.upkeep.curve:
        parts = []
        if point.still_in_place_of_100 is not None:
            parts.append(_("%(n)d of 100 still in place") % {"n": point.still_in_place_of_100})
        if point.untouched_of_100 is not None:
            parts.append(_("%(n)d of 100 never touched") % {"n": point.untouched_of_100})
        if parts:
            yield _("After %(years)d years: %(parts)s.") % {"years": point.years, "parts": ", ".join(parts)}


def matters_words(matters: Matters) -> tuple[tuple[str, str], ...]:
    """What was answered, question and answer, in the order of the questions; what was not asked is left out."""
    spanish = (get_language() or "").startswith("es")
    said = {"a lot": _("matters a lot"), "a little": _("matters a little"), "not": _("does not matter")}
    return tuple(
        (one.words_es if spanish else one.words, said[answer])
        for one in questions()
        if (answer := getattr(matters, one.key)) is not None
    )


def limits_words(facts: CaseFacts, currency: str) -> tuple[tuple[str, str], ...]:
    """The patient's own limits, label and value; only those that were named."""
    limits = facts.limits
    said: list[tuple[str, str]] = []
    if limits.removal is not None:
        said.append((_("most that may come off any one tooth"), f"{format_mm(limits.removal)} mm"))
    if limits.teeth_reduced is not None:
        said.append((_("most teeth that may be made smaller for good"), str(limits.teeth_reduced)))
    if limits.visits is not None:
        said.append((_("most visits"), str(limits.visits)))
    if limits.months is not None:
        said.append((_("most months"), str(limits.months)))
    if limits.money is not None:
        said.append((_("most money"), f"{currency} {format_cents(limits.money)}"))
    if limits.wish_by is not None:
        firm = _("firm") if limits.wish_by_firm else _("hoped for")
        said.append((_("finished by"), f"{day_words(limits.wish_by)} ({limits.wish_by_words or '–'}; {firm})"))
    return tuple(said)
