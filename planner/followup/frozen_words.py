"""What figures need of a frozen plan: its options with totals, which was recommended, which takes least away.

A frozen plan never changes, so each is read once in the life of a process.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass

from planner.plans.models import Estimate, FrozenPlan
from planner.rules.figure_rows import Offered

_MAY_BE_HAD = ("offer", "care")
_MOST_KEPT = 5000
_KEPT: dict[int, "Summary"] = {}


@dataclass(frozen=True, slots=True)
class Summary:
    """The options of a frozen plan in short."""

    options: tuple[Offered, ...]
    recommended: str
    gentlest: str
    names: tuple[tuple[str, str], ...]

    def of(self, estimate: Estimate) -> tuple[Offered, ...]:
        """The options that an estimate hands over."""
        return tuple(one for one in self.options if one.key in estimate.options)

    def value(self, estimate: Estimate) -> int:
        """What an estimate may come to: the recommended option, or the dearest handed over where none is."""
        handed = {one.key: one.cents for one in self.of(estimate)}
        return handed.get(self.recommended) or max(handed.values(), default=0)

    def name(self, key: str) -> str:
        """The name of an option, as on the estimate."""
        return dict(self.names).get(key, key)


def summaries(frozen: Iterable[int]) -> dict[int, Summary]:
    """The summaries of these frozen plans, by row id: one query for those that were not read yet."""
    wanted = set(frozen)
    rows = FrozenPlan.objects.filter(pk__in=wanted - _KEPT.keys()).values_list("pk", "content")
    if len(_KEPT) + len(wanted) > _MOST_KEPT:
        _KEPT.clear()
        rows = FrozenPlan.objects.filter(pk__in=wanted).values_list("pk", "content")
    for key, content in rows:
        _KEPT[key] = _read(json.loads(bytes(content)))
    return {key: _KEPT[key] for key in wanted if key in _KEPT}


def _read(plan: dict) -> Summary:  # type: ignore[type-arg]
    options, names = [], []
    gentlest = ""
    for option in plan["options"]:
        cents = sum(line["total_cents"] for line in option["estimate"]["lines"])
        may = option["verdict"] in _MAY_BE_HAD
        options.append(Offered(option["key"], cents, may))
        names.append((option["key"], option["name"]))
        if may and not gentlest and option["treatments"] != ["none"]:
            gentlest = option["key"]  # they stand gentlest first
    return Summary(tuple(options), plan["recommended"], gentlest, tuple(names))
