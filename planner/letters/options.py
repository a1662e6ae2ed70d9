"""One option as papers say it: every field filled, in the same order and detail for each."""

from collections.abc import Mapping
from dataclasses import dataclass

from babel.numbers import format_decimal
from django.utils.translation import gettext as _

from planner.letters.chances import (
    ChanceGroup,
    ChanceView,
    benefits_of,
    both_ways_round,
    counted_both_ways,
    none_of,
    risks_of,
)
from planner.letters.reasons import reasons, short_reason, verdict_words
from planner.letters.sources import Source, leading_to
from planner.letters.teeth_said import TeethSaid
from planner.letters.wording import day, millimetres, money, whole_money
from planner.rules.results import CasePlan, OptionShape
from planner.rules.strip import Words
from planner.rules.teeth import Tooth
from planner.rules.words import spoken

HORIZON = 10
"""The one number of years at which the letter says of every option how many still hold."""
LATER = (5, 10)
"""Years at which it is told how many still hold; the last published one where none of these is."""


@dataclass(frozen=True, slots=True)
class WishView:
    rank: int
    words: str
    answer: str
    why: str


@dataclass(frozen=True, slots=True)
class OptionView:
    """An option in words. What stands in a table's cell is short; what stands in the detail is whole."""

    key: str
    letter: str
    """``A`` for the first that is told, by which pictures name it."""
    name: str
    verdict: str
    verdict_words: str
    short_reason: str
    reasons: tuple[str, ...]
    overrides: tuple[str, ...]
    recommended: bool
    plain: str
    work: tuple[str, ...]
    site: str
    """The teeth it is about, by their numbers in the office's own numbering."""
    of: int
    does_not: tuple[str, ...]
    removal: tuple[str, ...]
    short_removal: str
    """Empty where nothing is taken off."""
    undo: str
    short_undo: str
    benefits: ChanceGroup
    risks: tuple[ChanceGroup, ...]
    no_risks: str
    """Of which kinds of risk none is known, in one sentence; empty where there is something of each."""
    time: str
    visits: str
    lasts: str
    curve: tuple[str, ...]
    at_ten: str
    """How many still hold at the one horizon that all options are told for; that there are no data, where so."""
    you_must: tuple[str, ...]
    upkeep: str
    upkeep_range: str
    upkeep_words: str
    fee: str
    beside: tuple[tuple[str, str], ...]
    compared: str
    not_included: tuple[str, ...]
    later: tuple[str, ...]
    wishes: tuple[WishView, ...]
    wishes_words: str
    matters: str
    """What matters a lot to the patient and it does well on."""
    sources: Mapping[str, str]
    """``(source 3)`` by field, where a field's words carry numbers from studies."""
    reasons_again: str = ""
    """Beside the verdict, where the reasons are those of an option told before."""
    lasts_here: str = ""
    """How long it lasts, as far as it stands among the option's fields."""
    counted: tuple[str, ...] = ()
    """What its words count, as they say it: by another group or another time than its chances."""
    counted_apart: tuple[str, ...] = ()
    """What of this stands in the annex, and not among the option's fields."""

    @property
    def counted_risks(self) -> tuple[ChanceView, ...]:
        """The bad sides that were counted, the most frequent kind first."""
        return tuple(chance for group in self.risks for chance in group.counted)

    @property
    def told_risks(self) -> tuple[ChanceView, ...]:
        """The bad sides of which no number is known."""
        return tuple(chance for group in self.risks for chance in group.told)


def option_view(
    plan: CasePlan,
    option: OptionShape,
    words: Words,
    *,
    of: int,
    numbered: tuple[Source, ...] = (),
    show_private: bool,
    told_above: bool = False,
    letter: str = "",
    language: str,
) -> OptionView:
    """``option`` in words, its numbers of ``of`` and called ``letter`` in pictures.

    Private reasons are told only with ``show_private``.

    A tooth is named in full where the option first says it, reading from the top, and by its numbers below. With
    ``told_above`` the paper has already said what must come first.
    """
    nothing = (_("Nothing to say here."),)
    upkeep, teeth = option.upkeep, TeethSaid(words)
    led = {field: leading_to(keys, numbered) for field, keys in option.word_sources}
    led["upkeep"] = leading_to(upkeep.sources, numbered)
    risks = risks_of(option, of, numbered)
    counted = counted_both_ways(option, of)
    return OptionView(
        key=option.key,
        letter=letter,
        name=name_of(option, language),
        verdict=option.verdict.value,
        verdict_words=verdict_words(option.verdict),
        short_reason=short_reason(option, teeth, language, show_private=show_private),
        reasons=reasons(option, teeth, language, show_private=show_private, told_above=told_above),
        overrides=decided(option, language),
        recommended=option.key == plan.recommended,
        plain=option.plain_es if language == "es" and option.plain_es else option.plain,
        work=teeth.lines(line.words for line in option.work if line.tooth is not None),
        site=", ".join(words.number(tooth) for tooth in option.teeth_touched),
        of=of,
        does_not=option.does_not or nothing,
        removal=_removal(option, words, teeth),
        short_removal=_short_removal(option),
        undo=option.undo_words,
        short_undo=(_("Yes"), _("Nearly"), _("No"))[option.undo],
        benefits=benefits_of(option, of, numbered),
        risks=risks,
        no_risks=none_of(risks),
        time=option.time_words,
        visits=str(option.visits),
        lasts=both_ways_round(option.lasts_words, counted) or nothing[0],
        curve=_curve(option),
        at_ten=_at_horizon(option, of),
        you_must=option.you_must or nothing,
        upkeep=whole_money(upkeep.total_cents, plan.currency, language),
        upkeep_range=_range(
            whole_money(upkeep.low_cents, plan.currency, language),
            whole_money(upkeep.high_cents, plan.currency, language),
        ),
        upkeep_words=upkeep.words,
        fee=money(option.estimate.total_cents, plan.currency, language),
        beside=tuple((line.words, money(line.total_cents, plan.currency, language)) for line in option.estimate.beside),
        compared=money(option.estimate.compared_cents, plan.currency, language),
        not_included=option.estimate.not_included,
        later=tuple(both_ways_round(line, counted) for line in option.later) or nothing,
        wishes=tuple(WishView(one.rank, one.words, _met(one.met), teeth.by_number(one.why)) for one in option.wishes),
        wishes_words=_wishes_words(option),
        matters=_matters(option, language),
        sources=led,
        counted=tuple(said for _sentence, said in counted),
    )


def decided(option: OptionShape, language: str) -> tuple[str, ...]:
    """What a dentist decided about this option, a sentence each: it stands wherever the option does."""
    said = [
        _("%(by)s decided on %(on)s to offer it all the same: %(reason)s")
        % {"by": found.by, "on": day(found.on, language), "reason": found.reason}
        for found in option.overrides
    ]
    if option.own is not None:
        own = {"by": option.own.by, "on": day(option.own.on, language), "reason": option.own.reason}
        said.append(_("Put together by %(by)s on %(on)s: %(reason)s") % own)
    return tuple(said)


def _matters(option: OptionShape, language: str) -> str:
    """What matters a lot to the patient and this option does well on; empty where nothing was asked or none does."""
    found = [one for one in option.matters if (one.weight, one.standing) == ("a lot", "well")]
    return "; ".join(one.words_es if language == "es" else one.words for one in found)


def name_of(option: OptionShape, language: str) -> str:
    """The option's name in ``language``, in English where there is no other."""
    return option.name_es if language == "es" and option.name_es else option.name


def _range(low: str, high: str) -> str:
    return "" if low == high else _("%(low)s to %(high)s") % {"low": low, "high": high}


def _teeth(count: int) -> str:
    return _("no tooth") if count == 0 else _("1 tooth") if count == 1 else _("%(n)d teeth") % {"n": count}


def _taken_off(option: OptionShape) -> dict[Tooth, int]:
    """Tenths of a millimetre off each tooth that is cut."""
    off: dict[Tooth, int] = {}
    for line in option.work:
        if line.tooth is not None and line.removal_tenths:
            off[line.tooth] = off.get(line.tooth, 0) + line.removal_tenths
    return off


def _removal(option: OptionShape, words: Words, teeth: TeethSaid) -> tuple[str, ...]:
    """What is taken off or out, tooth by tooth, and what of it does not come back."""
    by_depth: dict[int, list[str]] = {}
    for tooth, tenths in _taken_off(option).items():
        by_depth.setdefault(tenths, []).append(words.label(tooth))
    lost = [words.label(line.tooth) for line in option.work if line.extracted and line.tooth is not None]
    said = [
        _("Up to %(mm)s off the %(teeth)s.") % {"mm": millimetres(tenths), "teeth": "; ".join(labels)}
        for tenths, labels in by_depth.items()
    ]
    said += [_("The %(tooth)s is taken out.") % {"tooth": label} for label in lost]
    smaller = option.teeth_reduced - len(lost)
    if smaller:
        said.append(_("Made smaller for good: %(teeth)s.") % {"teeth": _teeth(smaller)})
    return tuple(teeth(sentence) for sentence in said or [option.removal_words])


def _short_removal(option: OptionShape) -> str:
    """``up to 1.5 mm off 4 teeth``; empty where nothing is."""
    off, lost = _taken_off(option), sum(line.extracted for line in option.work)
    crowned = {line.tooth for line in option.work if line.crown_percent_high and line.tooth not in off}
    said = []
    if off:
        said.append(_("up to %(mm)s off %(teeth)s") % {"mm": millimetres(max(off.values())), "teeth": _teeth(len(off))})
    if crowned:
        most = max(line.crown_percent_high for line in option.work)
        said.append(
            _("up to %(most)d of 100 parts of the crown of %(teeth)s") % {"most": most, "teeth": _teeth(len(crowned))}
        )
    if lost:
        said.append(_("%(teeth)s taken out") % {"teeth": _teeth(lost)})
    return ", ".join(said)


def _met(met: bool | None) -> str:
    return _("cannot be said") if met is None else _("yes") if met else _("no")


def _wishes_words(option: OptionShape) -> str:
    known = [one for one in option.wishes if one.met is not None]
    if not known:
        return _("cannot be said")
    met = [str(one.rank) for one in known if one.met]
    if len(met) == len(known) == len(option.wishes):
        return _("all %(n)d") % {"n": len(met)} if len(met) > 1 else _("yes")
    return _("%(met)d of %(all)d") % {"met": len(met), "all": len(option.wishes)} + (
        f" ({', '.join(met)})" if met else ""
    )


def _curve(option: OptionShape) -> tuple[str, ...]:
    """What is published about how long it lasts; nothing beyond the last published year."""
    points = [point for point in option.upkeep.curve if not point.extrapolated and point.years > 0]
    said = []
    for point in [point for point in points if point.years in LATER] or points[-1:]:
        parts = []
        if point.still_in_place_of_100 is not None:
            kept = point.still_in_place_of_100
            parts.append(_("%(kept)d still in place, %(lost)d not") % {"kept": kept, "lost": 100 - kept})
        if point.untouched_of_100 is not None:
            kept = point.untouched_of_100
            parts.append(_("%(kept)d never touched, %(lost)d mended or renewed") % {"kept": kept, "lost": 100 - kept})
        if parts:
            said.append(
                _("After %(years)s: of 100, %(parts)s.") % {"years": _years(point.years), "parts": "; ".join(parts)}
            )
    if said:
        last = max(point.years for point in points)
        said.append(_("After more than %(years)s: no data.") % {"years": _years(last)})
        if option.upkeep.curve_words:
            said.append(option.upkeep.curve_words)
    return tuple(said)


def _at_horizon(option: OptionShape, of: int) -> str:
    """Of ``of``, how many are still there and how many were never touched after :data:`HORIZON` years, both ways round.

    Where only fewer years were studied it says that there are no data and gives the last that were; where nothing was
    counted, the words alone.
    """
    points = sorted(
        (point for point in option.upkeep.curve if not point.extrapolated and 0 < point.years <= HORIZON),
        key=lambda point: point.years,
    )
    kinds = (
        ([(at.years, at.still_in_place_of_100) for at in points], _("%(kept)d still in place, %(lost)d not")),
        ([(at.years, at.untouched_of_100) for at in points], _("%(kept)d never touched, %(lost)d mended or renewed")),
    )
    by_year: dict[int, list[str]] = {}
    for found, words in kinds:
        known = [(years, kept) for years, kept in found if kept is not None]
        if known:
            years, kept = known[-1]
            times = of // 100
            by_year.setdefault(years, []).append(words % {"kept": kept * times, "lost": of - kept * times})
    if not by_year:
        return ""
    said = []
    for years in sorted(by_year, reverse=True):
        parts = {"years": _years(years), "of": format_decimal(of, locale=spoken()), "parts": "; ".join(by_year[years])}
        if years == HORIZON:
            said.append(_("After %(years)s, of %(of)s: %(parts)s.") % parts)
        else:
            said.append(_("After %(years)s, of %(of)s: %(parts)s; no data for later years.") % parts)
    return " ".join(said)


def _years(count: int) -> str:
    return _("1 year") if count == 1 else _("%(n)d years") % {"n": count}
