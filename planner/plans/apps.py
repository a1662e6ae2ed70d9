"""The plans' app."""

from django.apps import AppConfig

from planner.trail.triggers import Guard

_PINNED = ("case_id", "number", "issue", "frozen_id", "book_id", "valid_through", "options", "checked_by_id")
_STAYS = " AND ".join(f"NEW.{column} = OLD.{column}" for column in _PINNED)


class PlansConfig(AppConfig):
    name = "planner.plans"
    label = "plans"
    append_only = (
        "FrozenPlan",
        "Showing",
        Guard(
            "Estimate",
            # From the check on, what it says stays, and it only moves on: shown, answered, or replaced.
            update_if=(
                f"OLD.state = 'draft' OR ({_STAYS} AND ("
                "(OLD.state = 'checked' AND NEW.state IN ('shown', 'replaced')) OR "
                "(OLD.state = 'shown' AND NEW.state IN ('shown', 'answered', 'replaced') "
                "AND NEW.shown_on = OLD.shown_on)))"
            ),
            delete_if="OLD.state = 'draft'",
        ),
    )
