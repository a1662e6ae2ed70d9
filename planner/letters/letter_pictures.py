"""The pictures of the consent letter, each with its text: teeth now and then, the days ahead, what the years cost.

All of them are drawn from the frozen plan; the title of each is the text that a reader who cannot see it is told.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from planner.letters.findings import Planned, planned
from planner.letters.options import OptionView
from planner.letters.sheet import Sheet
from planner.letters.wording import day, whole_money
from planner.rules.results import CasePlan, OptionShape, SpacePlanShape
from planner.rules.strip import geometry, midline, plan_of_today, strip_sentences
from planner.rules.strip_svg import enlargement_on_paper, strip_in_large_print, strip_svg
from planner.rules.timeline_svg import Course, timeline_svg
from planner.rules.years_svg import MARKS, At, AxisWords, Curve, money_svg

_BRIEF = 2
"""How many times true size the plan is drawn where the figures stand elsewhere."""


_SMALL = 11
"""The print size, in points, up to which the lettering of a strip is large enough."""
MM_PER_POINT = 25.4 / 72


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its caption and the table that stands behind it."""

    svg: SafeString
    caption: str
    table: tuple[Planned, ...] = ()
    told: tuple[str, ...] = ()
    """What it shows, line by line, for those whom its lettering is too small for."""


@dataclass(frozen=True, slots=True)
class Strips:
    """The teeth of today and as planned: small ones for the letter, whole ones with all figures for its annex."""

    today: Picture | None
    then: Picture | None
    whole: tuple[Picture, ...]


def strips(sheet: Sheet) -> Strips:
    """The strips of the case; nothing where no width was measured."""
    exam = sheet.facts.examination
    if not any(tooth.width is not None for tooth in exam.teeth):
        return Strips(None, None, ())
    now, offset = plan_of_today(exam.teeth, exam.gaps), exam.midline_offset
    if sheet.points > _SMALL:
        return _large_strips(sheet, now, offset)
    said = _("Your teeth today, at real size. All figures are millimetres.")
    today = strip_svg(now, sheet.words, "now", midline_offset=offset, check_bar=False, brief=True)
    whole = [Picture(_safe(strip_svg(now, sheet.words, "today", midline_offset=offset)), said)]
    then = None
    shared = sheet.space_plan
    if shared is not None:
        times = enlargement_on_paper(shared)
        small = min(times, _BRIEF)
        drawn = strip_svg(
            shared, sheet.words, "then", scale=small, midline_offset=offset, check_bar=False, brief=True
        )  # fmt: skip
        then = Picture(_safe(drawn), _planned_words(small))
        drawn = strip_svg(shared, sheet.words, "planned", scale=times, midline_offset=offset, check_bar=False)
        whole.append(Picture(_safe(drawn), _planned_words(times), planned(shared, sheet.words)))
    return Strips(Picture(_safe(today), said), then, tuple(whole))


def _large_strips(sheet: Sheet, now: SpacePlanShape, offset: int | None) -> Strips:
    """The strips in letters as large as the text beside them, with all else that they show said in lines."""

    def drawn(plan: SpacePlanShape, prefix: str, scale: int) -> SafeString:
        lettering = sheet.points * MM_PER_POINT
        return _safe(strip_in_large_print(plan, sheet.words, prefix, lettering, scale=scale, midline_offset=offset))

    def lines(plan: SpacePlanShape) -> tuple[str, ...]:
        return strip_sentences(plan, sheet.words, midline(plan, geometry(plan), offset))

    times, said = enlargement_on_paper(now), _("Your teeth today, %(times)d times real size.")
    today = Picture(drawn(now, "now", times), said % {"times": times}, told=lines(now))
    whole = [replace(today, svg=drawn(now, "today", times), told=())]
    then, shared = None, sheet.space_plan
    if shared is not None:
        times = enlargement_on_paper(shared)
        caption = _planned_words(times)
        then = Picture(drawn(shared, "then", times), caption, told=lines(shared))
        whole.append(Picture(drawn(shared, "planned", times), caption, planned(shared, sheet.words)))
    return Strips(today, then, tuple(whole))


def _planned_words(times: int) -> str:
    said = _("Your teeth as planned, %(times)d times real size. What we add is hatched. All figures are millimetres.")
    return said % {"times": times}


def ahead(
    plan: CasePlan, options: Sequence[OptionShape], views: Sequence[OptionView], language: str, large: int | None
) -> Picture | None:
    """The days of every course that is told, on one line of time; None where none has a day.

    ``large``: the print size, in points, in which what is told of them stands below; None where it stands in the
    drawing.
    """
    courses, told = [], []
    for option, view in zip(options, views, strict=True):
        calendar = option.calendar
        if calendar is None:
            courses.append(Course(view.letter, (), view.time))
            told.append(f"{view.letter}, {view.name}: {view.time}")
            continue
        steps = tuple(dict.fromkeys(row.earliest for row in calendar.rows if not row.key.endswith(".ordered")))
        done = _("%(time)s; done by %(day)s") % {"time": view.time, "day": day(calendar.finish, language)}
        courses.append(Course(view.letter, (*steps, calendar.finish), done))
        told.append(f"{view.letter}, {view.name}: {done}")
    if not any(course.steps for course in courses):
        return None
    title = _("How long each option takes from a yes on %(day)s, at the earliest. %(told)s.")
    title %= {"day": day(plan.planned_on, language), "told": "; ".join(told)}
    lettering = large * MM_PER_POINT if large is not None else None
    svg = timeline_svg(courses, plan.planned_on, _("months"), title, "ahead", lettering)
    caption = _("The days ahead, at the earliest. A dot is a step, the square is the last look. The letters are those of the options.")  # fmt: skip  # noqa: E501
    return Picture(_safe(svg), caption, told=tuple(told))


@dataclass(frozen=True, slots=True)
class YearsRow:
    """What one option comes to over the years, in whole amounts."""

    letter: str
    name: str
    start: str
    by_year: tuple[tuple[int, str], ...]
    """Years and what it has come to by then."""


@dataclass(frozen=True, slots=True)
class Years:
    """Cost over the years: the picture and the table behind it."""

    picture: Picture
    years: tuple[int, ...]
    rows: tuple[YearsRow, ...]


_TABLE_YEARS = (1, 5, 10)


def cost_over_years(
    plan: CasePlan, options: Sequence[OptionShape], views: Sequence[OptionView], language: str
) -> Years | None:
    """Fee and upkeep of every option that is told, year by year; None where a plan does not carry the years."""
    found = [pair for pair in zip(options, views, strict=True) if pair[0].upkeep.so_far]
    if not found:
        return None
    horizon = min(option.upkeep.so_far[-1].year for option, _view in found)
    shown = tuple(year for year in _TABLE_YEARS if year <= horizon)
    curves, rows, told = [], [], []
    for index, (option, view) in enumerate(found):
        start = option.estimate.compared_cents
        by_year = {0: start} | {at.year: start + at.cents for at in option.upkeep.so_far}
        beyond = {at.year for at in option.upkeep.so_far if at.extrapolated}
        points = tuple(At(year, float(by_year[year]), beyond=year in beyond) for year in range(horizon + 1))
        marked = tuple(float(year) for year in (0, *shown))
        curves.append(Curve(view.letter, points, view.recommended, MARKS[index % len(MARKS)], marked))
        said = tuple((year, whole_money(by_year[year], plan.currency, language)) for year in shown)
        rows.append(YearsRow(view.letter, view.name, whole_money(start, plan.currency, language), said))
        told.append(f"{view.letter}, {view.name}: {said[-1][1]}")
    title = _("What each option comes to over %(years)d years, fee and upkeep. After %(years)d years: %(told)s.") % {
        "years": horizon,
        "told": "; ".join(told),
    }
    words = AxisWords(title, plan.currency, _("years"), _("no data"))
    svg = money_svg(curves, words, "cost", horizon, lambda cents: whole_money(cents, "", language).strip())
    caption = _("Fee and upkeep over the years, at today’s prices. A dashed line goes on beyond what was studied.")
    return Years(Picture(_safe(svg), caption), shown, tuple(rows))


def _safe(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308  (all text in a drawing is escaped where it is drawn)
