"""Parts of the options of a shown estimate, at the prices and with the facts that were frozen; nothing is stored."""

from dataclasses import dataclass

from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate
from planner.practice.books import read_book
from planner.practice.catalogue import in_force
from planner.rules.book import OfficeBook
from planner.rules.frozen import facts_in
from planner.rules.mouth import CaseFacts
from planner.rules.partial import Best, Partial, best_within, explore
from planner.rules.results import CasePlan, OptionShape
from planner.trail.errors import Refused


@dataclass(frozen=True, slots=True)
class Handed:
    """One option of an estimate with everything it was computed from."""

    plan: CasePlan
    facts: CaseFacts
    book: OfficeBook
    option: OptionShape

    def part(self, chosen: tuple[str, ...]) -> Partial:
        """What taking only ``chosen`` comes to. Raises Refused for a piece the option does not have."""
        try:
            return explore(
                self.facts,
                self.book,
                self.plan.planned_on,
                self.option,
                chosen,
                spaces=self.plan.spaces,
                catalogue=in_force().catalogue,
            )
        except (ValueError, LookupError) as error:
            raise Refused(f"{str(error)[0].upper()}{str(error)[1:]}.", field="pieces") from None

    def best(self, budget_cents: int) -> Best:
        """The best part for so much. Raises Refused for a budget below zero or an option of too many pieces."""
        try:
            return best_within(
                self.facts,
                self.book,
                self.plan.planned_on,
                self.option,
                budget_cents,
                spaces=self.plan.spaces,
                catalogue=in_force().catalogue,
            )
        except (ValueError, LookupError) as error:
            raise Refused(f"{str(error)[0].upper()}{str(error)[1:]}.", field="budget") from None


def handed(estimate: Estimate, option_key: str) -> Handed:
    """The option ``option_key`` of a checked estimate. Raises Refused when it is not among those handed over."""
    if estimate.frozen is None or estimate.book is None or option_key not in estimate.options:
        raise Refused("A yes is to one of the options on the estimate: say which one.", field="option")
    plan = read_frozen(estimate.frozen)
    return Handed(plan, facts_in(plan), read_book(estimate.book.data), plan.option(option_key))
