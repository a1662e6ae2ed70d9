"""The plans' app."""

from django.apps import AppConfig

from planner.trail.triggers import Guard

_PINNED = ("case_id", "number", "issue", "frozen_id", "book_id", "valid_through", "options", "checked_by_id")
_STAYS = " AND ".join(f"NEW.{column} = OLD.{column}" for column in _PINNED)


def _same(columns: str) -> str:
    """That nothing in ``columns`` changes, which may be empty."""
    # "IS NOT DISTINCT FROM" in the words of both databases; older SQLite does not know it.
    pairs = ((f"NEW.{column}", f"OLD.{column}") for column in columns.split())
    return " AND ".join(f"(({new} = {old}) OR ({new} IS NULL AND {old} IS NULL)) IS TRUE" for new, old in pairs)


_AGREED = _same(
    "office_id patient_id case_id estimate_id frozen_id book_id price_list_version option_key name part accepted_on "
    "accepted_by accepted_as price_held_through total_cents deposit_cents follows_id follows_as created_by_id at"
)
_ITEM = _same(
    "office_id plan_id position line amendment_id service code words words_es treatment teeth quantity charge "
    "tax_class tax_reason tax_percent earns months"
)
_REFUND = _same("office_id plan_id receipt_id cents reason asked_by_id asked_at")


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
        # What was agreed stays; only how far it is moves on, and an end is an end.
        Guard("AcceptedPlan", update_if=f"OLD.state NOT IN ('finished', 'stopped early', 'changed') AND {_AGREED}"),
        Guard("Item", update_if=f"OLD.state NOT IN ('done', 'dropped') AND {_ITEM}"),
        Guard("Refund", update_if=f"OLD.state NOT IN ('paid', 'declined') AND {_REFUND}"),
        "TakeOver",
        "OtherSay",
        "PlanMove",
        "PriceHold",
        "Amendment",
        "Agreement",
        "ItemPrice",
        "StageEarned",
        "ConsentStop",
        "Payment",
        "PlanCharge",
        "BalanceSheet",
        "BalanceCall",
        "Arrangement",
        "PriceRequest",
        "PayerGuess",
        "PayerPaid",
    )
