"""What an estimate says about cancelling a visit, from the terms it was checked with."""

import json
from typing import Any

from django.utils.translation import gettext as _

from planner.letters.wording import money


def cancelling_said(terms: str, currency: str, language: str) -> str:
    """``terms``, JSON, in words for the patient; empty where none were noted, as on a paper made without an office."""
    if not terms:
        return ""
    facts: dict[str, Any] = json.loads(terms)
    if facts["cents"] is None:
        return _("The office asks for nothing when a visit is cancelled.")
    return _(
        "If you cancel less than %(hours)d hours before a visit of %(minutes)d minutes or more, the office may ask "
        "for %(fee)s. It asks for nothing when it changes the visit itself."
    ) % {"minutes": facts["minutes"], "hours": facts["hours"], "fee": money(facts["cents"], currency, language)}
