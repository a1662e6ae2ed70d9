"""The names of derived facts: one table that the modules which work them out fill when they are loaded."""

from collections.abc import Callable

from planner.rules.gate_facts import Datum, Situation, Subject

Derived = Callable[[Situation, Subject], Datum]
DERIVED: dict[str, Derived] = {}
"""Every derived fact by the name that ``looks_at`` uses; filled once, at import."""


def named(name: str) -> Callable[[Derived], Derived]:
    """Keep a function as the derived fact ``name``."""

    def keep(function: Derived) -> Derived:
        if name in DERIVED:
            raise ValueError(f'two derived facts are called "{name}"')
        DERIVED[name] = function
        return function

    return keep
