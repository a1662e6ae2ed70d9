"""The steps of one visit in the order in which they are worked, also where two treatments are done at it.

Each treatment's own steps form a graph. Where a visit holds several, a step may name steps of the others that come
before or after it, and what is done once a visit (who is sitting there?) is asked for by one of them alone.
"""

from collections.abc import Iterable, Sequence

from planner.rules.clock import order_steps
from planner.rules.treatment_parts import Step
from planner.rules.treatments import Treatment

Named = tuple[Treatment, Step]


def key_of(named: Named) -> str:
    """``bonding.A12``: a step within everything that is known."""
    return f"{named[0].key}.{named[1].id}"


def steps_of_visit(done: Sequence[tuple[Treatment, str]]) -> tuple[Named, ...]:
    """The steps of a visit, given what is done at it as (treatment, key of its visit), the visit's own last.

    Among steps that may come next, those of the treatment given first come first. Raises StepOrderError for steps that
    wait for each other in a circle.
    """
    known = [(part, step) for part, visit in done for step in part.steps_in_order(visit)]
    stands_for = _once(known)
    nodes = [named for named in known if stands_for[key_of(named)] == key_of(named)]
    after: dict[str, list[str]] = {key_of(named): [] for named in nodes}
    for part, step in known:
        me = stands_for[f"{part.key}.{step.id}"]
        if me == f"{part.key}.{step.id}":
            before = [*(f"{part.key}.{one}" for one in step.after), *step.others_first]
            after[me] += _known(before, stands_for, me)
        for other in _known(step.others_then, stands_for, me):
            after[other].append(me)
    by_key = {key_of(named): named for named in nodes}
    return tuple(by_key[key] for key in order_steps([(key, after[key]) for key in by_key]))


def _once(known: Sequence[Named]) -> dict[str, str]:
    """Which step stands for each: of those done once a visit, that of the visit's own treatment, which comes last."""
    chosen = {named[1].once: key_of(named) for named in known if named[1].once}
    return {key_of(named): chosen.get(named[1].once, key_of(named)) for named in known}


def _known(keys: Iterable[str], stands_for: dict[str, str], me: str) -> list[str]:
    return [stands_for[key] for key in keys if key in stands_for and stands_for[key] != me]
