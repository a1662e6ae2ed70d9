"""Papers about an account, put in words: receipt, statement, refund letter, shortfall letter; nothing is computed here.

What they say was read from rows that only grow (:mod:`planner.plans.account_told`) and is frozen with the paper.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.letters.carried import ORIGIN_ALONE
from planner.letters.pdf import PaperError
from planner.letters.sheet import Kind, Sheet
from planner.letters.wording import amount, day, money
from planner.plans.account_told import RECEIPT, REFUND, SHORTFALL, STATEMENT
from planner.practice.access import Act, Thing
from planner.rules.results import sha256
from planner.rules.teeth import Numbering, Tooth

ACCOUNT_PAPERS: Final = frozenset({RECEIPT, STATEMENT, REFUND, SHORTFALL})
"""Papers made from rows of an account beside the frozen plan: each is about one row, or about a day."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a statement, as text."""

    on: str
    what: str
    came: str
    """What came in; empty where nothing did. All amounts without their currency."""
    went: str
    """What went back, was taken back or was carried forward."""
    earned: str
    left: str


def why_not(key: str) -> Callable[[Sheet], str]:
    """A test whether there is such a paper: why not, in one sentence; empty where there is."""

    def test(sheet: Sheet) -> str:
        if _read(sheet).get("paper") != key:
            return _("No row of an account is given, so there is nothing to print about it.")
        return ""

    return test


def receipt(sheet: Sheet) -> dict[str, Any]:
    """What a receipt says. Raises PaperError where none is given, or it belongs to another plan."""
    said, cash = _checked(sheet, RECEIPT)
    return _common(sheet, said) | {
        "amount": cash(said["cents"]),
        "before": cash(said["before_cents"]),
        "so_far": cash(said["so_far_cents"]),
        "route": _route(said["route"]),
    }


def statement(sheet: Sheet) -> dict[str, Any]:
    """What a statement says. Raises PaperError where none is given, or it belongs to another plan."""
    said, cash = _checked(sheet, STATEMENT)
    return _common(sheet, said) | {
        "lines": [_line(sheet, one, cash) for one in said["lines"]],
        **{
            name: cash(said[f"{name}_cents"])
            for name in ("agreed", "came_in", "went_out", "earned", "bills", "charged", "held", "owed", "to_earn")
        },
    }


def refund(sheet: Sheet) -> dict[str, Any]:
    """What goes with money that went back. Raises PaperError where none did, or it belongs to another plan."""
    said, cash = _checked(sheet, REFUND)
    return _common(sheet, said) | {
        "amount": cash(said["cents"]),
        "route": _route(said["route"]),
        "receipt_amount": cash(said["receipt"]["cents"]),
        "receipt_on": _day(sheet, said["receipt"]["on"]),
        **{
            name: cash(said[f"{name}_cents"])
            for name in ("paid_before", "earned", "bills", "charged", "held_before", "held_after")
        },
    }


def shortfall(sheet: Sheet) -> dict[str, Any]:
    """What is written when a payer paid less. Raises PaperError where none did, or it belongs to another plan."""
    said, cash = _checked(sheet, SHORTFALL)
    return {
        "said": said,
        "option": said["name_es"] if sheet.language == "es" and said["name_es"] else said["name"],
        "payers": "; ".join(said["payers"]),
        "on": _day(sheet, said["on"]),
        "guessed_on": _day(sheet, said["guessed_on"]),
        "due": _day(sheet, said["due"]),
        "rests_on": _basis(said["rests_on"]),
        "account_sha256": sha256(sheet.issue.account.encode()),
        **{name: cash(said[f"{name}_cents"]) for name in ("whole", "guessed", "paid", "to_patient")},
    }


def _read(sheet: Sheet) -> dict[str, Any]:
    if not sheet.issue.account:
        return {}
    said: dict[str, Any] = json.loads(sheet.issue.account)
    return said


def _checked(sheet: Sheet, key: str) -> tuple[dict[str, Any], Callable[[int], str]]:
    if refused := why_not(key)(sheet):
        raise PaperError(refused)
    said = _read(sheet)
    if said["plan_sha256"] != sheet.sha256:
        raise PaperError(_("This account belongs to another plan than this one."))
    return said, lambda cents: money(cents, said["currency"], sheet.language)


def _common(sheet: Sheet, said: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "said": said,
        "option": said["name_es"] if sheet.language == "es" and said.get("name_es") else said["name"],
        "on": _day(sheet, said["on"]),
        "accepted_on": _day(sheet, said["accepted_on"]),
        "payer_is_patient": said.get("payer", sheet.plan.patient_name) == sheet.plan.patient_name,
        "account_sha256": sha256(sheet.issue.account.encode()),
    }


def _day(sheet: Sheet, iso: str) -> str:
    return day(date.fromisoformat(iso), sheet.language) if iso else ""


def _line(sheet: Sheet, said: Mapping[str, Any], cash: Callable[[int], str]) -> Line:
    paid, earned = said["paid_cents"], said["earned_cents"] + said["bill_cents"] + said["charged_cents"]

    def plain(cents: int) -> str:
        return amount(cents, sheet.language).replace("-", "\u2212")

    return Line(
        on=_day(sheet, said["on"]),
        what=_what(sheet, said, cash),
        came=plain(paid) if paid > 0 else "",
        went=plain(-paid) if paid < 0 else "",
        earned=plain(earned) if earned else "",
        left=plain(said["balance_cents"]),
    )


def _what(sheet: Sheet, said: Mapping[str, Any], cash: Callable[[int], str]) -> str:
    if said["what"] in ("earned", "bill"):
        return _work(sheet, said)
    if said["what"] == "charge":
        return _("Charged beside the work: %(what)s") % {"what": said["words"]}
    if said["what"] == "charge waived":
        return _("Charged no more: %(what)s") % {"what": said["words"]}
    if said["what"] == "waiver":
        return _("The deposit of %(money)s need not be paid first; no money moves") % {
            "money": cash(said["waived_cents"])
        }
    who = {"who": said["payer"], "how": _route(said["route"])}
    words = {
        "receipt": _("Paid by %(who)s, %(how)s"),
        "refund": _("Gone back to %(who)s, %(how)s"),
        "void": _("A receipt of %(who)s, %(how)s, written by mistake and taken back"),
        "carried": _("Carried forward to the plan that took the place of this one; paid by %(who)s, %(how)s"),
        "brought": _("Brought forward from the plan before this one; paid by %(who)s, %(how)s"),
    }[said["what"]] % who
    return f"{words} ({said['reference']})" if said["reference"] else words


def _work(sheet: Sheet, said: Mapping[str, Any]) -> str:
    words = said["words_es"] if sheet.language == "es" and said["words_es"] else said["words"]
    teeth = ", ".join(Tooth.from_key(key).label(Numbering(sheet.plan.numbering)) for key in said["teeth"])
    stage = _stage(said["stage"])
    work = f"{words}: {teeth}" if teeth else words
    return f"{work} ({stage})" if stage else work


def _stage(stage: str) -> str:
    """A stage in words; one that the office named stays as it named it."""
    kind, _space, number = stage.partition(" ")
    if kind == "month" and number.isdecimal():
        return _("month %(n)s") % {"n": number}
    if kind == "correction":
        return _("its price changed")
    return {"finished": _("done"), "bill": _("bill passed on")}.get(stage, stage)


def _basis(told: str) -> str:
    return {
        "written answer": _("from a written answer"),
        "phone": _("from what was said on the telephone"),
        "own guess": _("our own guess"),
    }.get(told, told)


def _route(route: str) -> str:
    return {
        "cash": _("in cash"),
        "card": _("by card"),
        "bank transfer": _("by bank transfer"),
        "cheque": _("by cheque"),
        "other": _("in another way"),
    }.get(route, route)


PAPERS: Final = (
    Kind(
        RECEIPT, gettext_lazy("Receipt"), "letters/receipt.html", receipt,
        made_by=(Act.CREATE, Thing.RECEIPT), seen_by=(Act.VIEW, Thing.RECEIPT), carries=ORIGIN_ALONE,
        why_not=why_not(RECEIPT),
    ),
    Kind(
        STATEMENT, gettext_lazy("Statement of account"), "letters/statement.html", statement,
        made_by=(Act.CREATE, Thing.RECEIPT), seen_by=(Act.VIEW, Thing.RECEIPT), carries=ORIGIN_ALONE,
        why_not=why_not(STATEMENT),
    ),
    Kind(
        REFUND, gettext_lazy("Refund letter"), "letters/refund_letter.html", refund,
        made_by=(Act.CREATE, Thing.REFUND), seen_by=(Act.VIEW, Thing.REFUND), carries=ORIGIN_ALONE,
        why_not=why_not(REFUND),
    ),
    Kind(
        SHORTFALL, gettext_lazy("Payer’s answer"), "letters/shortfall_letter.html", shortfall,
        made_by=(Act.CREATE, Thing.PAYER), seen_by=(Act.VIEW, Thing.PAYER), carries=ORIGIN_ALONE,
        why_not=why_not(SHORTFALL),
    ),
)  # fmt: skip
"""The kinds of paper about an account."""
