"""Why an option may be offered, or not, or not yet: in full, in a few words for a table, and in one line."""

import re
from dataclasses import replace

from django.utils.translation import gettext as _

from planner.letters.teeth_said import TeethSaid, joined
from planner.letters.wording import day
from planner.rules.results import OptionShape
from planner.rules.verdicts import Reason, Verdict

_ASKED = re.compile(r"(?P<head>[^:]+): (?P<what>[^:]+?)(?P<tail>, (?:at|en) .+)?\.")
"""``Not known yet: the width, at the tooth.``"""
_FEW = 4
"""More things than these are asked for in a list rather than in a sentence."""
OPEN = (Verdict.WAIT, Verdict.ASK)
"""Verdicts that may change by themselves or by an answer."""


def verdict_words(verdict: Verdict) -> str:
    """What a verdict means to the person it is told to."""
    return {
        Verdict.OFFER: _("We can offer this."),
        Verdict.CARE: _("We can offer this, with care."),
        Verdict.WAIT: _("Not yet."),
        Verdict.ASK: _("We cannot say yet."),
        Verdict.NO: _("We do not offer this."),
    }[verdict]


def reasons(
    option: OptionShape, teeth: TeethSaid, language: str, *, show_private: bool, told_above: bool = False
) -> tuple[str, ...]:
    """Why the verdict is what it is, gravest first; a private reason is named only where nobody else reads it.

    Sentences that ask for several things of the same tooth are made one. With ``told_above`` the paper has said what
    must come first, and it is not said again.
    """
    found = _told(option)
    kept = [reason for reason in found if not (told_above and reason.verdict in OPEN)]
    said = [teeth(sentence) for sentence in _merged(_sentences(option, kept, language, show_private=show_private))]
    if len(kept) < len(found):
        said.append(first_above())
    if any(reason.patient_limit for reason in found):
        said.append(_("You may change your own limits."))
    return tuple(said)


def open_reasons(option: OptionShape, language: str, *, show_private: bool) -> list[str]:
    """What an option waits for or asks for, a sentence each, with the teeth in full."""
    found = [reason for reason in _told(option) if reason.verdict in OPEN]
    return _sentences(replace(option, struck=""), found, language, show_private=show_private)


def short_reason(option: OptionShape, teeth: TeethSaid, language: str, *, show_private: bool) -> str:
    """The gravest reason in a few words for a table's cell, with the earliest day; empty where there is none."""
    if option.struck:
        return teeth.in_short(option.struck)
    first = next(iter(_told(option)), None)
    return "" if first is None else _in_short(first, teeth, language, show_private=show_private)


def one_line(
    option: OptionShape, teeth: TeethSaid, language: str, *, show_private: bool, told_above: bool = False
) -> str:
    """Verdict and the reasons that decided it, each in a few words."""
    if option.struck:
        return f"{verdict_words(Verdict.NO)} {teeth.in_short(option.struck)}"
    told = _told(option)
    gravest = [reason for reason in told if reason.verdict is told[0].verdict]
    if told_above and told and told[0].verdict in OPEN:
        return f"{verdict_words(option.verdict)} {first_above()}"
    short = dict.fromkeys(_in_short(reason, teeth, language, show_private=show_private) for reason in gravest)
    said = [verdict_words(option.verdict), *_merged(list(short))]
    if any(reason.patient_limit for reason in gravest):
        said.append(_("You may change your own limits."))
    return " ".join(said)


def as_lists(sentences: list[str]) -> list[tuple[str, tuple[str, ...]]]:
    """``sentences`` merged; those that ask for many things as a leading line and a list."""
    return [
        (key, ())
        if isinstance(key, str)
        else (f"{key[0]}: {joined(what)}{key[1]}.", ())
        if len(what) <= _FEW
        else (f"{key[0]}{key[1]}:", tuple(what))
        for key, what in _grouped(sentences)
    ]


def first_above() -> str:
    """What stands in the place of reasons that the paper has told at its beginning."""
    return _("What must come first stands above, under “Not now”.")


def _told(option: OptionShape) -> list[Reason]:
    reasons = sorted(option.reasons, key=lambda reason: -reason.verdict.severity)
    return [reason for reason in reasons if reason.verdict is not Verdict.OFFER]


def _sentences(option: OptionShape, found: list[Reason], language: str, *, show_private: bool) -> list[str]:
    said: dict[str, None] = {}
    if option.struck:
        said[option.struck] = None
    for reason in found:
        if reason.private and not show_private:
            said[_private()] = None
            continue
        sentence = reason.words
        if reason.missing_step:
            sentence += " " + _("First: %(step)s.") % {"step": reason.missing_step.rstrip(".")}
        said[sentence + _earliest(reason, language)] = None
    return list(said)


def _in_short(reason: Reason, teeth: TeethSaid, language: str, *, show_private: bool) -> str:
    if reason.private and not show_private:
        return _private()
    return teeth.in_short(reason.words) + _earliest(reason, language)


def _private() -> str:
    return _("A private reason. Your dentist will talk it over with you.")


def _earliest(reason: Reason, language: str) -> str:
    if reason.earliest is None:
        return ""
    return " " + _("Earliest day: %(day)s.") % {"day": day(reason.earliest, language)}


def _merged(sentences: list[str]) -> list[str]:
    """``Not known yet: a, at X.`` and ``Not known yet: b, at X.`` as ``Not known yet: a and b, at X.``"""
    return [key if isinstance(key, str) else f"{key[0]}: {joined(what)}{key[1]}." for key, what in _grouped(sentences)]


def _grouped(sentences: list[str]) -> list[tuple[tuple[str, str] | str, list[str]]]:
    """Sentences that share beginning and end, with what stands between; others as they are."""
    grouped: dict[tuple[str, str] | str, list[str]] = {}
    for sentence in sentences:
        match = _ASKED.fullmatch(sentence)
        if match is None:
            grouped.setdefault(sentence, [])
        else:
            grouped.setdefault((match["head"], match["tail"] or ""), []).append(match["what"])
    return list(grouped.items())
