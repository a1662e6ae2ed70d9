"""Promise against result as its page lays it out: a line for each length, and what happened to each tooth."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from planner.followup.results import PlanResult
from planner.letters.result_said import conditions, moments
from planner.rules.promise import Size, within
from planner.rules.strip import signed
from planner.rules.teeth import Numbering


@dataclass(frozen=True, slots=True)
class SizeRow:
    """One length of one tooth: tenths of a millimetre, None where nobody took it."""

    tooth: str
    what: str
    size: Size
    off: str
    drift: str
    says: str
    """What that means, in two or three words."""


def shown_result(found: PlanResult, day: date) -> dict[str, Any]:
    """What the page shows of ``found`` on ``day``."""
    numbering = Numbering(found.plan.case.numbering)
    said = conditions()
    return {
        "found": found,
        "sizes": list(_sizes(found, numbering)),
        "within": within(),
        "happened": [
            (one.on, tooth.tooth.label(numbering), said[one.condition])
            for tooth in found.result.teeth
            for one in tooth.happened
        ],
        "looked": [(row, moments()[row.moment]) for row in found.rows],
        "wishes": [
            (one.rank, one.words, [(moments()[moment], on, score) for moment, on, score in one.scores])
            for one in found.result.wishes
        ],
        "next": found.next and (moments()[found.next[0]], found.next[1]),
        "overdue": found.next is not None and found.next[1] < day,
    }


def _sizes(found: PlanResult, numbering: Numbering) -> Iterator[SizeRow]:
    for tooth in found.result.teeth:
        for what, size in ((_("width"), tooth.width), (_("length"), tooth.length)):
            yield SizeRow(
                tooth.tooth.label(numbering),
                what,
                size,
                _signed(size.off),
                _signed(size.drift),
                _says(size),
            )


def _signed(tenths: int | None) -> str:
    return "" if tenths is None else signed(tenths) if tenths else "0.0"


def _says(size: Size) -> str:
    if size.reached is None:
        return _("not measured")
    if size.kept_promise is None:
        return _("no size was agreed")
    if size.changed_since:
        return _("has changed since")
    return _("as planned") if size.kept_promise else _("otherwise than planned")
