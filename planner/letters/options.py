"""One option as papers say it: every field filled, in the same order and detail for each."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from planner.letters.icons import icon_array
from planner.letters.wording import Shares, millimetres, money, shares, whole_money
from planner.rules.evidence import CERTAINTY_WORDS
from planner.rules.results import CasePlan, Chance, EvidenceLine, OptionShape
from planner.rules.strip import Words
from planner.rules.verdicts import Verdict


@dataclass(frozen=True, slots=True)
class Source:
    """One numbered source of the paper."""

    number: int
    keys: tuple[str, ...]
    """The evidence rows that rest on it."""
    words: tuple[str, ...]
    citation: str
    certainty: str


@dataclass(frozen=True, slots=True)
class ChanceView:
    words: str
    number: str
    """Both ways round, or empty where no number is known."""
    source: str
    icon: str


@dataclass(frozen=True, slots=True)
class ChanceGroup:
    heading: str
    chances: tuple[ChanceView, ...]


@dataclass(frozen=True, slots=True)
class WishView:
    rank: int
    words: str
    answer: str
    why: str


@dataclass(frozen=True, slots=True)
class OptionView:
    key: str
    name: str
    verdict: str
    verdict_words: str
    reasons: tuple[str, ...]
    overrides: tuple[str, ...]
    recommended: bool
    plain: str
    work: tuple[str, ...]
    of: int
    does_not: tuple[str, ...]
    removal: str
    removal_words: str
    reduced: str
    undo: str
    benefits: tuple[ChanceView, ...]
    risks: tuple[ChanceGroup, ...]
    time: str
    visits: str
    lasts: str
    curve: tuple[str, ...]
    you_must: tuple[str, ...]
    upkeep: str
    upkeep_range: str
    upkeep_words: str
    fee: str
    beside: tuple[tuple[str, str], ...]
    compared: str
    later: tuple[str, ...]
    wishes: tuple[WishView, ...]
    wishes_words: str
    decided_by: str


GROUPS = ("common", "sometimes", "rare", "not known")


def verdict_words(verdict: Verdict) -> str:
    """What a verdict means to the person it is told to."""
    return {
        Verdict.OFFER: _("We can offer this."),
        Verdict.CARE: _("We can offer this, with care."),
        Verdict.WAIT: _("Not yet."),
        Verdict.ASK: _("We cannot say yet."),
        Verdict.NO: _("We do not offer this."),
    }[verdict]


def sources(plan: CasePlan, options: Iterable[OptionShape]) -> tuple[Source, ...]:
    """The sources of every number that ``options`` print, numbered in order of first mention."""
    lines = {line.key: line for line in plan.evidence}
    keys: dict[str, None] = {}
    for option in options:
        for chance in (*option.benefits, *option.risks):
            keys |= dict.fromkeys(_keys(chance))
        keys |= dict.fromkeys(option.upkeep.sources)
    grouped: dict[tuple[str, str], list[EvidenceLine]] = {}
    for key in keys:
        line = lines.get(key)
        if line is not None:
            # Rows without a citation stand each for itself.
            grouped.setdefault((line.citation or line.key, line.certainty), []).append(line)
    return tuple(
        Source(
            number,
            tuple(line.key for line in found),
            tuple(_counted(line) for line in found),
            found[0].citation,
            CERTAINTY_WORDS.get(certainty, (certainty,))[0],
        )
        for number, ((_citation, certainty), found) in enumerate(grouped.items(), 1)
    )


def _counted(line: EvidenceLine) -> str:
    return f"{line.words} ({_('counted: %(n)s') % {'n': line.n}})" if line.n else line.words


def _keys(chance: Chance) -> tuple[str, ...]:
    return tuple(key.strip() for key in chance.evidence.split(",") if key.strip())


def option_view(
    plan: CasePlan,
    option: OptionShape,
    words: Words,
    *,
    of: int,
    numbered: tuple[Source, ...] = (),
    show_private: bool,
    language: str,
) -> OptionView:
    """``option`` in words, its numbers of ``of``; private reasons are told only with ``show_private``."""
    nothing = (_("Nothing to say here."),)
    upkeep = option.upkeep
    return OptionView(
        key=option.key,
        name=option.name_es if language == "es" and option.name_es else option.name,
        verdict=option.verdict.value,
        verdict_words=verdict_words(option.verdict),
        reasons=reasons(option, show_private=show_private),
        overrides=tuple(
            _("%(by)s decided on %(on)s to offer it all the same: %(reason)s")
            % {"by": found.by, "on": found.on.isoformat(), "reason": found.reason}
            for found in option.overrides
        ),
        recommended=option.key == plan.recommended,
        plain=option.plain_es if language == "es" and option.plain_es else option.plain,
        work=tuple(line.words for line in option.work if line.tooth is not None),
        of=of,
        does_not=option.does_not or nothing,
        removal=millimetres(option.removal_tenths) if option.removal_tenths else _("nothing"),
        removal_words=option.removal_words,
        reduced=_teeth(option.teeth_reduced),
        undo=option.undo_words,
        benefits=tuple(
            _chance(chance, of, numbered, f"{option.key}-benefit-{index}")
            for index, chance in enumerate(option.benefits)
        ),
        risks=_groups(option, of, numbered),
        time=option.time_words,
        visits=str(option.visits),
        lasts=option.lasts_words or nothing[0],
        curve=_curve(option),
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
        later=option.later or nothing,
        wishes=tuple(WishView(one.rank, one.words, _met(one.met), one.why) for one in option.wishes),
        wishes_words=_wishes_words(option),
        decided_by=option.rank.decided_by,
    )


def reasons(option: OptionShape, *, show_private: bool) -> tuple[str, ...]:
    """Why the verdict is what it is, gravest first; a private reason is named only where nobody else reads it."""
    said: dict[str, None] = {}
    if option.struck:
        said[option.struck] = None
    for reason in sorted(option.reasons, key=lambda reason: -reason.verdict.severity):
        if reason.verdict is Verdict.OFFER:
            continue
        if reason.private and not show_private:
            said[_("A private reason. Your dentist will talk it over with you.")] = None
            continue
        sentence = reason.words
        if reason.missing_step:
            sentence += " " + _("First: %(step)s.") % {"step": reason.missing_step.rstrip(".")}
        if reason.earliest is not None:
            sentence += " " + _("Earliest day: %(day)s.") % {"day": reason.earliest.isoformat()}
        if reason.patient_limit:
            sentence += " " + _("This is your own limit. You may change it.")
        said[sentence] = None
    return tuple(said)


def _range(low: str, high: str) -> str:
    return "" if low == high else _("%(low)s to %(high)s") % {"low": low, "high": high}


def _teeth(count: int) -> str:
    return _("no tooth") if count == 0 else _("1 tooth") if count == 1 else _("%(n)d teeth") % {"n": count}


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


def _groups(option: OptionShape, of: int, numbered: tuple[Source, ...]) -> tuple[ChanceGroup, ...]:
    headings = {
        "common": _("What often happens (10 or more of 100)"),
        "sometimes": _("What sometimes happens (1 to 9 of 100)"),
        "rare": _("What rarely happens (less than 1 of 100)"),
        "not known": _("What may happen; how often is not known"),
    }
    grouped: dict[str, list[ChanceView]] = {kind: [] for kind in GROUPS}
    for index, chance in enumerate(option.risks):
        known = shares(chance, of) is not None
        kind = chance.kind if known and chance.kind in headings else "not known"
        grouped[kind].append(_chance(chance, of, numbered, f"{option.key}-risk-{index}"))
    return tuple(ChanceGroup(headings[kind], tuple(grouped[kind])) for kind in GROUPS)


def _chance(chance: Chance, of: int, numbered: tuple[Source, ...], prefix: str) -> ChanceView:
    found = shares(chance, of)
    if found is None:
        return ChanceView(chance.words, "", "", "")
    number = _both_ways(found, chance)
    return ChanceView(chance.words, number, _source_words(chance, numbered), icon_array(found, prefix, number))


def _both_ways(found: Shares, chance: Chance) -> str:
    group = chance.group or _("people")
    return _("Of %(of)s %(group)s, %(happens)s %(period)s. Of the same %(of)s, %(does_not)s not.") % {
        "of": found.of_words,
        "group": group,
        "happens": found.happens,
        "does_not": found.does_not,
        "period": chance.period or _("(the time is not stated)"),
    }


def _source_words(chance: Chance, numbered: tuple[Source, ...]) -> str:
    named = [one for one in numbered if set(one.keys) & set(_keys(chance))]
    if not named:
        return CERTAINTY_WORDS.get(chance.certainty, (chance.certainty,))[0]
    by_certainty: dict[str, list[str]] = {}
    for one in named:
        by_certainty.setdefault(one.certainty, []).append(str(one.number))
    return "; ".join(
        (_("source %(numbers)s: %(certainty)s") if len(numbers) == 1 else _("sources %(numbers)s: %(certainty)s"))
        % {"numbers": ", ".join(numbers), "certainty": certainty}
        for certainty, numbers in by_certainty.items()
    )


def _curve(option: OptionShape) -> tuple[str, ...]:
    """What is published about how long it lasts, year by year; nothing beyond the last published year."""
    points = [point for point in option.upkeep.curve if not point.extrapolated and point.years > 0]
    said = []
    for point in points:
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
    return tuple(said)


def _years(count: int) -> str:
    return _("1 year") if count == 1 else _("%(n)d years") % {"n": count}
