"""The annex of an estimate that lays it against the local duty, with what is missing named."""

import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from planner.letters.sheet import Sheet
from planner.letters.wording import as_on_paper, day
from planner.rules.duty import Annex, annex, covers_through, duties
from planner.rules.results import OptionShape


@dataclass(frozen=True, slots=True)
class DutySaid:
    """The annex, ready to be printed."""

    annex: Annex
    deadline: str
    codes: tuple[tuple[str, str], ...]
    """Words of each service on the estimate, and the office's outside code for it; empty where it keeps none."""

    @property
    def wants_signature(self) -> bool:
        """Whether the duty asks for a line to sign on."""
        return any(item.key == "signature" for item in self.annex.duty.items)


def duty_said(sheet: Sheet, options: tuple[OptionShape, ...]) -> DutySaid | None:
    """What the duty that holds asks of this estimate, or None where none does."""
    if not sheet.issue.duty:
        return None
    facts: dict[str, Any] = json.loads(sheet.issue.duty)
    duty, plan, issue = duties()[facts["duty"]], sheet.plan, sheet.issue
    services = {line.service: line.words for option in options for line in option.estimate.lines}
    codes = tuple((words, facts["codes"].get(service, "")) for service, words in services.items())
    missing_codes = [words for words, code in codes if not code]
    said = {
        "patient": f"{plan.patient_name}, {day(plan.patient_birth_date, sheet.language)}",
        "primary": "; ".join(option.name for option in options if option.estimate.lines),
        "service_on": _day(facts.get("service_on", ""), sheet.language),
        "lines": _("on the lines of each option") if services else "",
        "service_codes": _("listed below") if codes and not missing_codes else "",
        "provider": issue.dentist,
        "provider_number": facts["provider-number"],
        "tax_number": facts["tax-number"],
        "office": f"{plan.office}, {facts['place']}",
        "recurring": facts.get("repeated", ""),
        "scheme": facts["scheme"],
        "guarantee": issue.guarantee or facts["guarantee"],
        "signature": _("below; one copy stays with you"),
    }
    made = annex(
        duty,
        said,
        booked=facts.get("event") == "booked",
        repeated=bool(facts.get("repeated")),
        currency=plan.currency,
    )
    return DutySaid(made, _deadline(facts, sheet), codes if _asks_codes(made) else ())


def _asks_codes(made: Annex) -> bool:
    return any(item.key == "service_codes" for item in made.duty.items)


def _deadline(facts: dict[str, Any], sheet: Sheet) -> str:
    if "event" not in facts:
        return _("When it was asked for or booked is not noted, so no day is reckoned.")
    if not facts["due"]:
        said = _("%(why)s.") % {"why": as_on_paper(facts["due_words"], sheet.language).capitalize()}
    else:
        said = _("Due by %(day)s: %(why)s.") % {
            "day": _day(facts["due"], sheet.language),
            "why": as_on_paper(facts["due_words"], sheet.language),
        }
    if facts.get("anew_by"):
        said += " " + _("If anything expected changes, a new one is due by %(day)s.") % {
            "day": _day(facts["anew_by"], sheet.language)
        }
    if not facts["holidays_listed"]:
        said += " " + _("No holidays are listed by the office: only weekends were left out.")
    through = covers_through(duties()[facts["duty"]], date.fromisoformat(facts["service_on"] or facts["on"]))
    if facts.get("repeated") and through is not None:
        said += " " + _("What is repeated is covered through %(day)s at most; then a new estimate is due.") % {
            "day": day(through, sheet.language)
        }
    return said


def _day(iso: str, language: str) -> str:
    return day(date.fromisoformat(iso), language) if iso else ""
