"""What the account of the lead case says, as papers freeze it: rows as the account tells them, without a database."""

from typing import Any

from planner.plans.account_told import RECEIPT, REFUND, SHORTFALL, STATEMENT, told_json
from planner.rules.results import sha256
from tests.letters.sample import case_plan

_PAYER = {"payer": "Marguerite Brightwater", "route": "bank transfer"}
_TEETH = {"11": "upper-right-central-incisor", "22": "upper-left-lateral-incisor"}


def _about(paper: str) -> dict[str, Any]:
    plan = case_plan()
    return {
        "format": "leastways-account",
        "version": 1,
        "paper": paper,
        "plan": "plan-1",
        "plan_sha256": sha256(plan.to_json()),
        "currency": plan.currency,
        "name": "Bonding with reshaping",
        "accepted_on": "2026-03-03",
        "accepted_by": plan.patient_name,
    }


def _line(on: str, balance: int, **said: Any) -> dict[str, Any]:
    rest = {"paid_cents": 0, "earned_cents": 0, "bill_cents": 0, "charged_cents": 0, "reference": "", **_PAYER}
    return rest | {"on": on, "balance_cents": balance} | said


def _work(on: str, cents: int, balance: int, words: str, *teeth: str, stage: str = "finished") -> dict[str, Any]:
    said = {"words": words, "words_es": "", "teeth": [_TEETH[tooth] for tooth in teeth], "stage": stage}
    key = "bill_cents" if stage == "bill" else "earned_cents"
    return _line(on, balance, what="bill" if stage == "bill" else "earned", **said, **{key: cents})


LINES = [
    _line("2026-03-03", 56000, what="receipt", paid_cents=56000, reference="17"),
    _work("2026-03-05", 22000, 34000, "Wax-up, per tooth", "11", "22"),
    _line("2026-03-06", 54000, what="brought", paid_cents=20000),
    _line("2026-03-09", 54000, what="waiver", waived_cents=1000),
    _work("2026-03-10", 26500, 27500, "Three-dimensional picture, by the scan centre", stage="bill"),
    _work("2026-03-24", 42275, -14775, "Composite build-up, both sides or edge", "22"),
    _line("2026-03-25", 30225, what="receipt", paid_cents=45000, route="card"),
    _line("2026-03-26", 15225, what="refund", paid_cents=-15000),
]
TOLD: dict[str, dict[str, Any]] = {
    RECEIPT: _about(RECEIPT)
    | _PAYER
    | {
        "row": "row-1",
        "number": "row-1",
        "cents": 45000,
        "reference": "18",
        "on": "2026-03-25",
        "by": "Lena Lead",
        "before_cents": 76000,
        "so_far_cents": 121000,
    },
    STATEMENT: _about(STATEMENT)
    | {
        "on": "2026-03-27",
        "read": {"payments": 5, "earned": 3, "charges": 0},
        "lines": LINES,
        "came_in_cents": 121000,
        "went_out_cents": 15000,
        "earned_cents": 64275,
        "bills_cents": 26500,
        "charged_cents": 0,
        "held_cents": 15225,
        "owed_cents": 0,
        "agreed_cents": 188325,
        "to_earn_cents": 97550,
    },
    REFUND: _about(REFUND)
    | _PAYER
    | {
        "row": "refund-1",
        "number": "row-9",
        "cents": 15000,
        "on": "2026-03-26",
        "reason": "One tooth is left as it is.",
        "asked_by": "Lena Lead",
        "allowed_by": "Oona Castellane",
        "paid_by": "Dr Imke Sorrel",
        "receipt": {"number": "row-1", "cents": 56000, "on": "2026-03-03"},
        "paid_before_cents": 121000,
        "earned_cents": 64275,
        "bills_cents": 26500,
        "charged_cents": 0,
        "held_before_cents": 30225,
        "held_after_cents": 15225,
    },
    SHORTFALL: {
        "format": "leastways-account",
        "version": 1,
        "paper": SHORTFALL,
        "row": "paid-1",
        "plan_sha256": sha256(case_plan().to_json()),
        "currency": case_plan().currency,
        "name": "Bonding with reshaping",
        "name_es": "",
        "payers": ["Bronze Cover"],
        "guessed_on": "2026-02-24",
        "rests_on": "own guess",
        "whole_cents": 161825,
        "guessed_cents": 44880,
        "paid_cents": 30120,
        "to_patient_cents": 14760,
        "reason": "The second tooth is for looks only.",
        "on": "2026-06-02",
        "due": "2026-07-02",
        "by": "Lena Lead",
    },
}
"""By kind of paper."""


def account(kind: str, **changes: Any) -> str:
    """What a paper of this kind says, as it is frozen; empty for papers that say nothing of an account."""
    return told_json(TOLD[kind] | changes) if kind in TOLD else ""
