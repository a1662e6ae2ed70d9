"""Speed, as ratios measured side by side in one run. Absolute times are printed to read, never asserted.

python tools/bench.py
"""

import sys
from datetime import date
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

import numpy as np  # noqa: E402

from planner.rules.acceptance import charge_of  # noqa: E402
from planner.rules.book import OfficeBook  # noqa: E402
from planner.rules.bookfile import load_book  # noqa: E402
from planner.rules.casefile import parse_case, resolve_days, validate_case  # noqa: E402
from planner.rules.discounts import given_on  # noqa: E402
from planner.rules.money import estimate  # noqa: E402
from planner.rules.mouth import CaseFacts  # noqa: E402
from planner.rules.outlook import Figures, asked_for, figures_of  # noqa: E402
from planner.rules.over_years import YEARS, is_charged, over_years  # noqa: E402
from planner.rules.plan import plan_case, share_spaces, verdicts  # noqa: E402
from planner.rules.results import CasePlan, OptionShape  # noqa: E402
from planner.rules.segments import segment_of  # noqa: E402
from planner.rules.settling import deposit  # noqa: E402
from planner.rules.spaces import share_space  # noqa: E402
from planner.rules.treatments import treatment  # noqa: E402
from planner.rules.upkeep import DRAWS, cost_over_years  # noqa: E402
from tools.timing import median_ms  # noqa: E402

DAY = date(2026, 3, 2)


def priced(plan: CasePlan, keys: list[str], figures: Figures, book: OfficeBook) -> None:
    """Expected upkeep and its range of every option over thirty years."""
    prices = book.price_list_on(plan.planned_on)
    for option in plan.options:
        if option.key in keys:
            parts = [treatment(key) for key in option.treatments]
            cost_over_years(asked_for(parts, option.work, figures), YEARS, lambda key: prices.service(key).price)


def chances_of(
    option: OptionShape, figures: Figures, book: OfficeBook
) -> tuple[np.ndarray, list[int], list[int]] | None:
    """Chances by line and year, units and prices of what luck brings in an option; None where nothing is left to it."""
    asked = asked_for([treatment(key) for key in option.treatments], option.work, figures)
    lucky = [demand for demand in asked if demand.line.every_months is None]
    if not lucky:
        return None
    chances = [[float(each.chance(each.hazards(year))) for year in range(1, YEARS + 1)] for each in lucky]
    prices = book.price_list_on(DAY)
    return (
        np.array(chances),
        [each.count for each in lucky],
        [prices.service(each.line.service).price for each in lucky],
    )


def simulate(chances: np.ndarray, counts: list[int], prices: list[int]) -> np.ndarray:
    """A plain simulation of the same draw: a binomial throw for every line, draw and year, then the two bounds."""
    dice = np.random.default_rng(1)
    paid = np.zeros((DRAWS, YEARS))
    for row, count, price in zip(chances, counts, prices, strict=True):
        paid += price * dice.binomial(count, row, size=(DRAWS, YEARS))
    bounds: np.ndarray = np.percentile(paid.cumsum(axis=1), [10, 90], axis=0)
    return bounds


def estimates(plan: CasePlan, facts: CaseFacts, book: OfficeBook) -> list[int]:
    """The estimate of every option from what is charged for: packages, discounts, tax line by line, deposit; totals."""
    prices, made = book.price_list_on(DAY), []
    for option in plan.options:
        charges = [charge_of(line) for line in option.estimate.lines]
        given = given_on(option.key, facts.choices.discounts, tuple(one.service for one in charges))
        found = estimate(charges, prices, book.tax_rates, DAY, given, limits=book.discount_limits)
        made.append(found.total_cents + deposit(found, book).cents)
    return made


def by_hand(plan: CasePlan, book: OfficeBook) -> list[int]:
    """The same fees multiplied and added up as on the back of an envelope: no package, discount, tax or reason."""
    prices = book.price_list_on(DAY)
    return [
        sum(line.quantity * (prices.service(line.service).price or 0) for line in option.estimate.lines)
        for option in plan.options
    ]


def main() -> int:
    from tests.rules.highs_model import HighsModel

    def reference() -> None:
        model = HighsModel(segment)
        model.fewest_teeth(), model.best_proportion(), model.smallest_shares()

    def side_by_side() -> None:
        over_years(plan, facts, book, keys, figures)

    def simulated() -> None:
        for chances, counts, prices in draws:
            simulate(chances, counts, prices)

    book = load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), DAY)
    data = resolve_days(parse_case((ROOT / "fixtures/cases/lead.json").read_bytes()), DAY)
    facts = validate_case(data, DAY)
    segment = segment_of(facts)
    plan = plan_case(facts, book, DAY)
    keys = [option.key for option in plan.options if is_charged(option)]
    figures = figures_of(facts, book)
    draws = [one for option in plan.options if option.key in keys and (one := chances_of(option, figures, book))]
    rows = {
        "case plan, lead case": median_ms(lambda: plan_case(facts, book, DAY), 7),
        "all verdicts of the case, spaces known": median_ms(lambda: verdicts(facts, book, DAY), 9),
        "spaces alone, as a page redraws them": median_ms(lambda: share_spaces(facts, book), 15),
        "which measurements decide": median_ms(lambda: share_spaces(facts, book, sensitivity=True), 3),
        "three space plans, exact search": median_ms(lambda: share_space(segment), 15),
        "the same by a general integer solver": median_ms(reference, 3),
    }
    base = rows["three space plans, exact search"]
    years = {
        f"{len(keys)} options over thirty years": median_ms(side_by_side, 9),
        "of that, money with its range": median_ms(lambda: priced(plan, keys, figures, book), 9),
        "the same draw thrown with numpy": median_ms(simulated, 9),
    }
    money = {
        f"estimates of {len(plan.options)} options": median_ms(lambda: estimates(plan, facts, book), 15),
        "the same fees added up by hand": median_ms(lambda: by_hand(plan, book), 15),
        "full estimate of all options, facts to totals": rows["case plan, lead case"],
    }
    print(f"{'':46}{'median ms':>10}{'ratio to by hand':>20}")
    for name, milliseconds in money.items():
        print(f"{name:46}{milliseconds:10.2f}{milliseconds / money['the same fees added up by hand']:20.1f}")
    print(f"{'':42}{'median ms':>10}{'ratio to exact search':>24}")
    for name, milliseconds in rows.items():
        print(f"{name:42}{milliseconds:10.1f}{milliseconds / base:24.1f}")
    thrown = years["the same draw thrown with numpy"]
    print(f"{'':42}{'median ms':>10}{'ratio to numpy':>24}")
    for name, milliseconds in years.items():
        print(f"{name:42}{milliseconds:10.1f}{milliseconds / thrown:24.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
