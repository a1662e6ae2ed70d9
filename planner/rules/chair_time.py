"""Minutes in the chair of what the years ask for."""

from decimal import Decimal

from planner.rules.book import OfficeBook
from planner.rules.clock import Blocks, Span, office_blocks
from planner.rules.settings import read_settings
from planner.rules.treatment_parts import Visit
from planner.rules.upkeep import Demand


def minutes_of(demand: Demand, book: OfficeBook) -> Decimal:
    """Mean minutes of one service that ``demand`` asks for, unrounded.

    From ``data/chair_minutes.toml``; a service that is not listed there takes the working visits of its own treatment
    for one tooth or place, in the office's own minutes where the book has any.
    """
    known = read_settings("chair_minutes.toml").get(demand.line.service)
    if known is not None:
        return _decimal(Span(*known.value))
    treatment = demand.treatment
    visits = (visit for visit in treatment.visits if visit.kind == "work" and not visit.optional)
    return sum((_one_unit(treatment.key, visit, book) for visit in visits), Decimal(0))


def _one_unit(treatment: str, visit: Visit, book: OfficeBook) -> Decimal:
    start = Blocks(treatment, visit.key, 1, Span(*visit.set_up), Span(*visit.per_tooth), Span(*visit.finish))
    blocks = office_blocks(book, start)
    times = 1 if visit.times is None else visit.times.value
    return times * (_decimal(blocks.set_up) + _decimal(blocks.per_tooth) + _decimal(blocks.finish))


def _decimal(span: Span) -> Decimal:
    mean = span.mean
    return Decimal(mean.numerator) / mean.denominator
