"""The four lifecycles, kept apart: estimate, accepted plan, item, consent.

That the four are apart and how they run is the project's own design; the periods are the office's settings.
"""

from typing import Final

from planner.rules.consent_states import CONSENT, ConsentFacts
from planner.rules.estimate_states import ESTIMATE, EstimateFacts
from planner.rules.item_states import ITEM, ItemFacts
from planner.rules.moves import Machine
from planner.rules.plan_states import PLAN, PlanFacts

MACHINES: Final[
    tuple[Machine[EstimateFacts] | Machine[PlanFacts] | Machine[ItemFacts] | Machine[ConsentFacts], ...]
] = (
    ESTIMATE,
    PLAN,
    ITEM,
    CONSENT,
)
