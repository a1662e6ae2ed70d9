"""Two plans of the shared spaces, chosen on the page and drawn above each other."""

from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from planner.plans.space_shown import name_of, strip_words_of
from planner.rules.mouth import CaseFacts
from planner.rules.results import SpacePlanShape, SpaceShape
from planner.rules.segments import front_teeth
from planner.rules.strip import plan_of_today
from planner.rules.strip_compare import ComparedRow, compare_strips, compare_table
from planner.rules.strip_layout import SCREEN

TODAY = "today"


@dataclass(frozen=True, slots=True)
class Compared:
    """What can be chosen, what was chosen, and the two above each other."""

    choices: tuple[tuple[str, str], ...]
    upper: str
    lower: str
    names: tuple[str, str] = ("", "")
    strip: SafeString | None = None
    table: tuple[ComparedRow, ...] = ()
    fault: str = ""


def compared(shape: SpaceShape, facts: CaseFacts, upper: str, lower: str) -> Compared | None:
    """The two plans of these keys above each other; None where there is nothing to choose between.

    Without a choice the first two stand there to be chosen and nothing is drawn.
    """
    plans = {plan.key: plan for plan in _plans(shape, facts)}
    if len(plans) < 2:
        return None
    choices = tuple((key, _("Today") if key == TODAY else name_of(plan)) for key, plan in plans.items())
    if upper not in plans or lower not in plans:
        return Compared(choices, choices[0][0], choices[1][0])
    if upper == lower:
        return Compared(choices, upper, lower, fault=_("Choose two different plans to compare."))
    names = (dict(choices)[upper], dict(choices)[lower])
    words, pair = strip_words_of(facts), (plans[upper], plans[lower])
    offset = facts.examination.midline_offset
    drawing = compare_strips(*pair, words, "compare", names=names, scale=SCREEN, midline_offset=offset)
    strip = mark_safe(drawing)  # noqa: S308 - every text in it is escaped there
    return Compared(choices, upper, lower, names, strip, compare_table(*pair, words))


def _plans(shape: SpaceShape, facts: CaseFacts) -> tuple[SpacePlanShape, ...]:
    """Every plan, and the teeth of today where the plans share out the very gaps that were measured."""
    if not shape.plans:
        return ()
    today = plan_of_today(front_teeth(facts), facts.examination.gaps)
    same = [gap.width_tenths for gap in today.gaps] == [gap.width_tenths for gap in shape.plans[0].gaps]
    return (*shape.plans, *([today] if same else []))
