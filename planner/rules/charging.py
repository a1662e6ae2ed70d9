"""From a course of treatment to the lines of its estimate: which services, how many, for which teeth.

Each treatment's data file says what it charges for and how that is counted; this module counts. What a line costs is
the price list's business (:mod:`planner.rules.money`).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from planner.rules.book import PriceList
from planner.rules.compose import makes_whole
from planner.rules.courses import Course
from planner.rules.gate_engine import gate_book
from planner.rules.money import Charge
from planner.rules.mouth import Allergy, CaseFacts, Grinding
from planner.rules.teeth import Tooth
from planner.rules.treatment_parts import AfterCare
from planner.rules.treatment_parts import Charge as ChargeRule
from planner.rules.treatments import Combination, Treatment
from planner.rules.words import told


def arches_of(treatment: Treatment) -> int:
    """For how many arches a treatment is made."""
    return 2 if treatment.both_arches else 1


@dataclass(frozen=True, slots=True)
class Charges:
    """What a course asks to be paid for."""

    lines: tuple[Charge, ...]
    beside: tuple[Charge, ...]
    """Part of the compared total, shown apart: what must be done after, such as a night guard."""


def charges_of(
    course: Course,
    facts: CaseFacts,
    prices: PriceList,
    treatments: Mapping[str, Treatment],
    combination: Combination | None,
) -> Charges:
    """The charges of ``course``, in the order of its treatments; one service of one kind stands on one line."""
    counter = _Counter(course, facts, prices, treatments)
    lines: list[Charge] = []
    beside: list[Charge] = []
    for key in course.treatments:
        for rule in treatments[key].charges:
            lines.extend(counter.count(key, rule))
        for care in treatments[key].after:
            beside.extend(counter.after(key, care))
    if combination is not None:
        for rule in combination.charges:
            lines.extend(counter.count(rule.counted_of or course.treatments[-1], rule))
    charged = {charge.service for charge in lines}
    return Charges(_once(lines), _once([charge for charge in beside if charge.service not in charged]))


def _once(charges: list[Charge]) -> tuple[Charge, ...]:
    """Two treatments of one course that ask for the same mould or retainer get one line, the larger."""
    found: dict[tuple[str, int, int], Charge] = {}
    for charge in charges:
        what = charge.service, charge.visit, charge.percent
        known = found.get(what)
        if known is None or charge.quantity > known.quantity:
            found[what] = charge
    return tuple(found.values())


def _ridge_wanted() -> int:
    """Thickness of the ridge below which building it up is planned, tenths of a millimetre."""
    settings = gate_book().settings
    return settings["implant_narrowest"] + settings["implant_ridge_extra"]


class _Counter:
    def __init__(
        self, course: Course, facts: CaseFacts, prices: PriceList, treatments: Mapping[str, Treatment]
    ) -> None:
        self.course = course
        self.facts = facts
        self.prices = prices
        self.treatments = treatments

    def count(self, treatment: str, rule: ChargeRule) -> Iterator[Charge]:
        """The charge of one rule, or nothing when there is nothing to count."""
        if set(rule.not_with) & set(self.course.treatments) or not self._applies(rule.when, treatment):
            return
        if self.treatments[treatment].fills_place and not self.course.places_filled:
            return
        quantity, teeth = self._counted(rule.counted, treatment, rule.when)
        if quantity:
            yield replace(self._charge(rule.service, quantity, teeth), percent=rule.percent)

    def after(self, treatment: str, care: AfterCare) -> Iterator[Charge]:
        """The charge of something that must be done after, where the finding calls for it."""
        if not care.service:
            return
        if care.when == "grinding" and self.facts.examination.bite.grinding not in (
            Grinding.SUSPECTED,
            Grinding.CONFIRMED,
        ):
            return
        if care.when == "retainer worn" and self.facts.examination.orthodontics.state in (None, "none"):
            return
        quantity, teeth = self._counted(care.counted, treatment, "always")
        if quantity:
            yield self._charge(care.service, quantity, teeth)

    def _applies(self, when: str, treatment: str) -> bool:
        if when == "primary tooth removed":
            return any(work.extracted for work in self.course.work)
        if when == "gum disease treated":
            closes = bool(self.course.gaps_closed)
            return closes and self.facts.examination.gums.ever_treated_for_gum_disease is True
        if when == "resin tolerated":
            return self.facts.history.methacrylate is not Allergy.POSITIVE
        if when == "shape planned":
            return not makes_whole(self.course, self.facts)
        if when == "ridge too thin":
            least = _ridge_wanted()
            return any(
                empty.place in self.course.places_filled
                and empty.ridge_thickness is not None
                and empty.ridge_thickness < least
                for empty in self.facts.examination.empty_places
            )
        return True

    def _counted(self, counted: str, treatment: str, when: str) -> tuple[int, tuple[Tooth, ...]]:
        work = [item for item in self.course.work if item.treatment == treatment and item.tooth is not None]
        teeth: list[Tooth] = []
        if when == "primary tooth removed":
            teeth = [item.tooth for item in self.course.work if item.extracted and item.tooth is not None]
        elif counted == "teeth":
            teeth = [item.tooth for item in work if item.tooth and not item.fills_place and not item.extracted]
        elif counted == "teeth with one surface":
            teeth = [item.tooth for item in work if item.tooth and item.surfaces == 1]
        elif counted == "teeth with two surfaces or more":
            teeth = [item.tooth for item in work if item.tooth and item.surfaces >= 2]
        elif counted == "teeth worked":
            teeth = list(dict.fromkeys((*self.course.teeth("reshaping"), *self.course.teeth("bonding"))))
            teeth.sort()
        elif counted == "units":
            teeth = [item.tooth for item in work if item.tooth and not item.extracted]
        elif counted == "places":
            teeth = [item.tooth for item in work if item.tooth and item.fills_place]
        elif counted == "arches":
            return arches_of(self.treatments[treatment]), ()
        else:  # patient, visits
            return 1, ()
        return len(teeth), tuple(teeth)

    def _charge(self, service: str, quantity: int, teeth: tuple[Tooth, ...]) -> Charge:
        charge = Charge(service, quantity, teeth)
        if self.prices.service(service).tax_class != "by line":
            return charge
        choices = self.facts.choices
        return replace(
            charge,
            tax_class="reconstructive" if choices.reconstructive else "looks only",
            tax_reason=choices.tax_reason or told("Nobody has said that it is reconstructive."),
        )
