"""The instalment agreement: an arrangement as it was frozen, put in words; nothing of it is computed here."""

import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from planner.letters.options import name_of
from planner.letters.pdf import PaperError
from planner.letters.sheet import Sheet
from planner.letters.wording import as_on_paper, day, money
from planner.rules.partial import part_of
from planner.rules.results import sha256
from planner.rules.words import decimal

KEY = "instalment-agreement"


@dataclass(frozen=True, slots=True)
class DueLine:
    """One due, as text."""

    name: str
    on: str
    amount: str
    interest: str
    left: str


def why_not(sheet: Sheet) -> str:
    """Why there is no agreement to print, in one sentence; empty where there is one."""
    if not sheet.issue.arrangement:
        return _("No instalments were agreed on for this estimate, so there is no agreement to print.")
    return ""


def context(sheet: Sheet) -> dict[str, Any]:
    """What the agreement says. Raises PaperError where none was made, or it belongs to another plan."""
    if refused := why_not(sheet):
        raise PaperError(refused)
    said: dict[str, Any] = json.loads(sheet.issue.arrangement)
    if said["plan_sha256"] != sheet.sha256:
        raise PaperError(_("The arrangement was made for another plan than this one."))
    language = sheet.language

    def cash(cents: int) -> str:
        return money(cents, said["currency"], language)

    agreed_on = _day(said["agreed_on"], language)
    first = DueLine(_("Deposit"), agreed_on, cash(said["deposit_cents"]), "–", cash(said["financed_cents"]))
    dues = [
        DueLine(
            str(due["number"]),
            _day(due["on"], language),
            cash(due["cents"]),
            cash(due["interest_cents"]),
            cash(due["left_cents"]),
        )
        for due in said["dues"]
    ]
    return {
        "said": said,
        "option": _name(sheet, said),
        "payer_is_patient": said["payer"] == sheet.plan.patient_name,
        "agreed_on": agreed_on,
        "accepted_on": _day(said["accepted_on"], language),
        "dues": [first, *dues] if said["deposit_cents"] else dues,
        "with_interest": bool(said["charge_cents"]),
        "total": cash(said["total_cents"]),
        "deposit": cash(said["deposit_cents"]),
        "financed": cash(said["financed_cents"]),
        "charge": cash(said["charge_cents"]),
        "paid": cash(said["paid_cents"]),
        "price": cash(said["price_cents"]),
        "rates": [rate | {"percent": decimal(rate["percent"])} for rate in _in_language(said, "rates", language)],
        "how": [as_on_paper(step, language) for step in _in_language(said, "how", language)],
        "to_ask": [as_on_paper(line, language) for line in (*said["warnings"], *said["questions"])],
        "arrangement_sha256": sha256(sheet.issue.arrangement.encode()),
    }


def _in_language(said: dict[str, Any], what: str, language: str) -> list[Any]:
    """Words of an arrangement as they were frozen for ``language``; in English where there are none."""
    found: list[Any] = said.get(f"{what}_{language}") or said[what]
    return found


def _name(sheet: Sheet, said: dict[str, Any]) -> str:
    """What is paid for, as the other papers in this language call it."""
    option = next((one for one in sheet.plan.options if one.key == said["option"]), None)
    if option is None:
        return str(said["option_name"])
    name = name_of(option, sheet.language)
    return part_of(name, sheet.language) if said.get("part") else name


def _day(iso: str, language: str) -> str:
    return day(date.fromisoformat(iso), language) if iso else ""
