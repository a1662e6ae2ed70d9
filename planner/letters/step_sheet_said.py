"""The step sheet as a paper: what was drawn up for a visit, put into words; nothing of it is computed here.

Its lines are so large that they are read at arm's length (:mod:`planner.rules.legible` says how large). Work that goes
tooth by tooth begins a page of its own, since all of such a visit does not fit on one at that size; nothing is made
smaller. What is looked up or written down stands on the last page, to be read close up.
"""

import json
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from planner.letters.pdf import PaperError
from planner.letters.sheet import Sheet
from planner.letters.wording import day, millimetres
from planner.rules.step_sheet import SheetStep, SheetTooth, StepSheet, Use, sheet_of
from planner.rules.strip import Words, signed
from planner.rules.units import format_mm

KEY = "step-sheet"
POINTS = 18
"""The print size next above what :func:`planner.rules.legible.sheet_points` asks for."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the sheet."""

    words: str
    who: str
    timers: str
    minutes: str
    boxes: tuple[str, ...]
    """A box for each tooth where the step goes tooth by tooth, else one without words."""


@dataclass(frozen=True, slots=True)
class Part:
    """Rows under one heading; a heading stands only over what goes tooth by tooth at several teeth."""

    heading: str
    by_tooth: bool
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class ToothRow:
    """What one tooth becomes, as text."""

    tooth: str
    shares: str
    size: str
    tape: str
    stop: str
    why_not: str


def why_not(sheet: Sheet) -> str:
    """Why there is no step sheet to print, in one sentence; empty where there is."""
    if not sheet.issue.steps:
        return _("A step sheet belongs to a visit: print it from there.")
    return ""


def context(sheet: Sheet) -> dict[str, Any]:
    """What the sheet says. Raises PaperError where none was drawn up, or it belongs to another plan."""
    if refused := why_not(sheet):
        raise PaperError(refused)
    said: dict[str, Any] = json.loads(sheet.issue.steps)
    if said["plan_sha256"] != sheet.sha256:
        raise PaperError(_("The step sheet was drawn up for another plan than this one."))
    drawn, words, visit = sheet_of(said["sheet"]), sheet.words, said["visit"]
    teeth = [_tooth(row, words) for row in drawn.teeth]
    parts = _parts(drawn, words)
    return {
        "visit": visit,
        "day": day(date.fromisoformat(visit["day"]), sheet.language),
        "drawn": drawn,
        "cautions": drawn.cautions,
        "teeth": teeth,
        "named": [words.label(row.tooth) for row in drawn.teeth],
        "parts": parts,
        "gaps_open": [
            _("%(gap)s between %(right)s and %(left)s stays open on purpose")
            % {"gap": millimetres(open_), "right": words.both(right), "left": words.both(left)}
            for right, left, open_ in drawn.gaps_open
        ],
        "lots": _lots(drawn),
        "details": [step for step in drawn.steps if step.checks or step.record],
        "if_then": said["if_then"],
        "light": drawn.light,
    }


def _parts(drawn: StepSheet, words: Words) -> list[Part]:
    """The steps in order, those that go tooth by tooth under a heading of their own."""
    built = [row for row in drawn.teeth if row.built]
    found: list[Part] = []
    heading = _("One tooth to the end, then the next: %(teeth)s") % {
        "teeth": ", ".join(words.number(row.tooth) for row in built)
    }
    for step in drawn.steps:
        several = step.tooth_by_tooth and len(built) > 1
        row = _row(step, tuple(words.number(row.tooth) for row in built) if several else ("",))
        if found and found[-1].by_tooth == step.tooth_by_tooth:
            found[-1] = replace(found[-1], rows=(*found[-1].rows, row))
        else:
            found.append(Part(heading if several else "", step.tooth_by_tooth, (row,)))
    return found


def _row(step: SheetStep, boxes: tuple[str, ...]) -> Row:
    who = {"dentist": _("D"), "assistant": _("A"), "patient": _("P"), "laboratory": _("L")}
    only = _(" (only if: %(finding)s)") % {"finding": step.only_if} if step.only_if else ""
    minutes = "" if step.only_if else str(max(1, round(step.seconds / 60)))
    return Row(f"{step.short}{only}", who.get(step.who, _("D+A")), " · ".join(step.timers), minutes, boxes)


def _tooth(row: SheetTooth, words: Words) -> ToothRow:
    shares = []
    if row.mesial:
        shares.append(_("mesial %(mm)s") % {"mm": signed(row.mesial)})
    if row.distal:
        shares.append(_("distal %(mm)s") % {"mm": signed(row.distal)})
    if row.edge:
        shares.append(_("edge %(mm)s") % {"mm": signed(row.edge)})
    sizes = []
    if row.width and row.width_after != row.width:
        sizes.append(_("wide %(now)s → %(then)s") % _sizes(row.width, row.width_after))
    if row.length and row.length_after != row.length:
        sizes.append(_("long %(now)s → %(then)s") % _sizes(row.length, row.length_after))
    stop = "" if row.may_stop is None else _("may stop after it") if row.may_stop else _("do NOT stop after it")
    return ToothRow(
        words.both(row.tooth),
        ", ".join(shares),
        ", ".join(sizes),
        ", ".join(words.number(tooth) for tooth in row.tape),
        stop,
        " ".join(row.why_not),
    )


def _sizes(now: int, then: int) -> dict[str, str]:
    return {"now": format_mm(now), "then": format_mm(then)}


def _lots(drawn: StepSheet) -> list[Use]:
    """Each material once, with its amount for the visit."""
    found: dict[str, Use] = {}
    for step in drawn.steps:
        for use in step.uses:
            if use.amount or use.material not in found:
                found[use.material] = use
    return list(found.values())
