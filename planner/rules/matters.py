"""What matters to the patient, and which options do well on it: marks beside the order, which they never change.

The questions lie in ``data/matters.toml``. An option does well on one when, of all that may still come to be done, none
does better; it does least well when none does worse. Where the figure is not known (no study, no fee) nothing is said,
and where all options are alike there is nothing to mark.

Source of asking: the values item of the IPDAS yardstick (Joseph-Williams and others 2014, Med Decis Making 34:699-710).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Literal

from pydantic import ValidationError

from planner.rules.evidence import DATA, DataFault, Knowledge, read_toml, told
from planner.rules.mouth import Matters
from planner.rules.outlook import UPKEEP_YEARS
from planner.rules.results import MatterShape, OptionShape, Standing
from planner.rules.verdicts import Verdict

Figure = Literal[
    "tooth lost",
    "undo",
    "lasting harm",
    "visits",
    "months",
    "money now",
    "money over the years",
    "no longer in place",
    "wishes not met",
]
Measured = tuple[object, ...] | None
"""What options are compared by, smaller being better; None where it is not known."""


class Question(Knowledge):
    """One question of the form."""

    key: str
    figure: Figure
    words: str
    words_es: str


@cache
def questions() -> tuple[Question, ...]:
    """The questions in the order they are asked. Raises DataFault when one asks for what no answer is kept for."""
    path = DATA / "matters.toml"
    try:
        found = tuple(Question.model_validate(table) for table in read_toml(path)["questions"])
    except ValidationError as fault:
        raise told(path, fault) from None
    if [one.key for one in found] != list(Matters.model_fields):
        raise DataFault(f"{path.name}: the questions are not those that answers are kept for, in their order")
    return found


def marked(options: Sequence[OptionShape], matters: Matters) -> tuple[OptionShape, ...]:
    """The same options in the same order, each told how it stands on what matters to the patient."""
    asked = [(one, weight) for one in questions() if (weight := getattr(matters, one.key)) in ("a lot", "a little")]
    open_ones = [option for option in options if option.verdict is not Verdict.NO]
    treating = [option for option in open_ones if option.key != "none"]
    told_of: dict[str, list[MatterShape]] = {option.key: [] for option in options}
    for question, weight in asked:
        figures = {option.key: _FIGURES[question.figure](option) for option in open_ones}
        known = [figure for option in treating if (figure := figures[option.key]) is not None]
        for option in open_ones:
            standing = _standing(figures[option.key], known)
            shape = MatterShape(question.key, weight, standing, question.words, question.words_es)
            told_of[option.key].append(shape)
    return tuple(replace(option, matters=tuple(told_of[option.key])) for option in options)


def _standing(figure: Measured, known: Sequence[tuple[object, ...]]) -> Standing:
    if figure is None or not known:
        return "not known"
    best, worst = min(known), max(known)
    if best == worst and figure == best:
        return "alike"
    if figure <= best:
        return "well"
    return "least well" if figure >= worst else "between"


def _money(option: OptionShape, years: bool) -> Measured:
    if any(reason.gate == "price" for reason in option.reasons):
        return None
    return (option.estimate.compared_cents + (option.upkeep.total_cents if years else 0),)


def _gone(option: OptionShape) -> Measured:
    point = next((point for point in option.upkeep.curve if point.years == UPKEEP_YEARS), None)
    if point is None or point.still_in_place_of_100 is None:
        return None
    return (100 - point.still_in_place_of_100,)


def _unmet(option: OptionShape) -> Measured:
    computed = [wish for wish in option.wishes if wish.met is not None]
    return (sum(not wish.met for wish in computed),) if computed else None


_FIGURES: Mapping[Figure, Callable[[OptionShape], Measured]] = {
    "tooth lost": lambda option: (option.rank.teeth_reduced, option.removal_tenths),
    "undo": lambda option: (option.undo,),
    "lasting harm": lambda option: (option.rank.surgery, option.rank.lasting_harm_of_100),
    "visits": lambda option: (option.visits,),
    "months": lambda option: (option.months_high,),
    "money now": lambda option: _money(option, years=False),
    "money over the years": lambda option: _money(option, years=True),
    "no longer in place": _gone,
    "wishes not met": _unmet,
}
