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
_KEPT: dict[str, "Summary"] = {}
"""By the hash of the plan."""


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
    """The summaries of these frozen plans, by row id: two queries, the second for those that were not read yet."""
    hashes = dict(FrozenPlan.objects.filter(pk__in=set(frozen)).values_list("pk", "sha256"))
    found = {key: _KEPT[digest] for key, digest in hashes.items() if digest in _KEPT}
    for key, content in FrozenPlan.objects.filter(pk__in=hashes.keys() - found.keys()).values_list("pk", "content"):
        found[key] = _read(json.loads(bytes(content)))
    if len(_KEPT) + len(found) > _MOST_KEPT:
        _KEPT.clear()
    _KEPT.update((hashes[key], summary) for key, summary in found.items())
    return found


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
