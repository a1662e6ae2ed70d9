"""Promise against result as a paper for the patient, put in words: nothing is computed here.

What was planned, reached and found was read from rows that only grow and is frozen with the paper.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.letters.carried import ORIGIN_ALONE
from planner.letters.pdf import PaperError
from planner.letters.sheet import Kind, Sheet
from planner.letters.wording import day, millimetres, money, whole_money
from planner.practice.access import Act, Thing
from planner.rules.promise import Condition, Moment
from planner.rules.results import sha256
from planner.rules.teeth import Tooth
from planner.rules.words import mm

KEY: Final = "promise-against-result"


@dataclass(frozen=True, slots=True)
class SizeRow:
    """Width and length of one tooth over time, as text: ``7.1 × 9.3``; empty where nobody took either."""

    tooth: str
    before: str
    planned: str
    reached: str
    now: str


@dataclass(frozen=True, slots=True)
class WishRow:
    """One wish in the patient's words, with what was said of it at each review that asked; 0 to 10."""

    words: str
    scores: tuple[str, ...]
    """One for each column; a dash where it was not asked."""
    said: tuple[tuple[str, str], ...]
    """Review and score, for large print."""


def why_not(sheet: Sheet) -> str:
    """Why there is no such paper to print, in one sentence; empty where there is."""
    if not sheet.issue.result:
        return _("This paper is made from reviews of finished work: print it from there.")
    return ""


def context(sheet: Sheet) -> dict[str, Any]:
    """What the paper says. Raises PaperError where no reviews are given, or they belong to another plan."""
    if refused := why_not(sheet):
        raise PaperError(refused)
    said: dict[str, Any] = json.loads(sheet.issue.result)
    if said["plan_sha256"] != sheet.sha256:
        raise PaperError(_("These reviews belong to another plan than this one."))
    asked = [one for one in said["reviews"] if one["asked"]]
    return {
        "said": said,
        "option": said["name_es"] if sheet.language == "es" and said["name_es"] else said["name"],
        "accepted_on": _day(sheet, said["accepted_on"]),
        "done_on": _day(sheet, said["done_on"]),
        "columns": [_short(sheet, one) for one in asked],
        "wishes": [_wish(sheet, one, asked) for one in said["wishes"]],
        "sizes": [_sizes(sheet, tooth) for tooth in said["teeth"]],
        "dashes": any(None in size for one in said["teeth"] for size in (one["width"], one["length"])),
        "within": millimetres(said["within_tenths"]),
        "happened": _happened(sheet, said["teeth"]),
        "reviews": _reviews(sheet, said["reviews"]),
        "minutes": _minutes(said["minutes"]),
        "money": _money(sheet, said["money"]),
        "years": _years(sheet),
        "next_on": _day(sheet, said["next_on"]),
        "result_sha256": sha256(sheet.issue.result.encode()),
    }


def moments() -> dict[str, str]:
    """Each moment of a review in words."""
    return {
        Moment.DONE: _("when it was done"),
        Moment.TWO_WEEKS: _("after 14 days"),
        Moment.ONE_YEAR: _("after 12 months"),
        Moment.TWO_YEARS: _("after 24 months"),
        Moment.OTHER: _("in between"),
    }


def conditions() -> dict[str, str]:
    """How a tooth can be found, in words."""
    return {
        Condition.WHOLE: _("whole"),
        Condition.CHIPPED: _("chipped, left as it is"),
        Condition.MENDED: _("chipped, and mended"),
        Condition.LOST: _("came off or was taken off"),
    }


def _day(sheet: Sheet, iso: str) -> str:
    return day(date.fromisoformat(iso), sheet.language) if iso else ""


def _moment(sheet: Sheet, said: Mapping[str, Any]) -> str:
    return f"{moments()[said['moment']]} ({_day(sheet, said['on'])})"


def _short(sheet: Sheet, said: Mapping[str, Any]) -> str:
    """The moment alone; its day stands with who measured, unless nothing else tells it from others."""
    return _moment(sheet, said) if said["moment"] == Moment.OTHER else moments()[said["moment"]]


def _wish(sheet: Sheet, said: Mapping[str, Any], asked: Iterable[Mapping[str, Any]]) -> WishRow:
    known = {(one["moment"], one["on"]): one["score"] for one in said["scores"]}
    scores = [(_short(sheet, one), known.get((one["moment"], one["on"]))) for one in asked]
    return WishRow(
        said["words"],
        tuple("–" if score is None else str(score) for _moment, score in scores),
        tuple((moment, str(score)) for moment, score in scores if score is not None),
    )


def _sizes(sheet: Sheet, said: Mapping[str, Any]) -> SizeRow:
    both = [
        "" if width is None and length is None else f"{_mm(width)}\u00a0×\u00a0{_mm(length)}"
        for width, length in zip(said["width"], said["length"], strict=True)
    ]
    return SizeRow(sheet.words.both(Tooth.from_key(said["tooth"])), *both)


def _mm(tenths: int | None) -> str:
    return "–" if tenths is None else mm(tenths)


def _happened(sheet: Sheet, teeth: Iterable[Mapping[str, Any]]) -> list[str]:
    rows = [(one["on"], one["condition"], tooth["tooth"]) for tooth in teeth for one in tooth["happened"]]
    return [
        f"{_day(sheet, on)}: {sheet.words.label(Tooth.from_key(tooth))}, {conditions()[condition]}"
        for on, condition, tooth in sorted(rows)
    ]


def _reviews(sheet: Sheet, reviews: Iterable[Mapping[str, Any]]) -> list[str]:
    """Who measured with what, and at which reviews."""
    using = {"caliper": _("with a caliper"), "scan": _("on a scan")}
    found: dict[str, list[str]] = {}
    for one in reviews:
        found.setdefault(f"{one['by']}, {using[one['instrument']]}", []).append(_moment(sheet, one))
    return [f"{who}: {', '.join(when)}" for who, when in found.items()]


def _minutes(said: Mapping[str, Any]) -> str:
    if not said["visits"]:
        return ""
    words = _("planned %(planned)d, taken %(real)d") % {"planned": said["planned"], "real": said["real"]}
    held_up = _("something from outside held it up")
    return f"{words} ({held_up})" if said["disturbed"] else words


def _money(sheet: Sheet, said: Mapping[str, Any]) -> list[tuple[str, str]]:
    def cash(cents: int) -> str:
        return money(cents, sheet.plan.currency, sheet.language)

    rows = [
        (_("Agreed for the work, with all changes"), cash(said["agreed_cents"])),
        (_("Paid for it so far"), cash(said["paid_cents"])),
    ]
    if said["later_cents"]:
        rows.append((_("Agreed for repairs since"), cash(said["later_cents"])))
    if said["free"]:
        rows.append((_("Repairs under our promise, at no charge"), str(said["free"])))
    option = sheet.chosen
    if option is not None and option.upkeep.total_cents:
        words = _("The estimate said: upkeep in %(n)d years, about") % {"n": option.upkeep.years}
        rows.append((words, whole_money(option.upkeep.total_cents, sheet.plan.currency, sheet.language)))
    return rows


def _years(sheet: Sheet) -> list[str]:
    """What studies say of the years to come, as far as they were published, by what was frozen."""
    option = sheet.chosen
    points = [] if option is None else [one for one in option.upkeep.curve if not one.extrapolated and one.years]
    return [
        _("After %(years)d years, of 100 such teeth, about %(n)d had needed nothing done to them; %(others)d had.")
        % {"years": one.years, "n": one.untouched_of_100, "others": 100 - one.untouched_of_100}
        for one in points
        if one.years in (5, 10) and one.untouched_of_100 is not None
    ]


PAPER: Final = Kind(
    KEY,
    gettext_lazy("Promise and result"),
    "letters/result.html",
    context,
    made_by=(Act.CREATE, Thing.REVIEW),
    seen_by=(Act.VIEW, Thing.REVIEW),
    carries=ORIGIN_ALONE,
    why_not=why_not,
)
"""What finished work came to, beside what was planned."""
