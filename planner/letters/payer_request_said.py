"""The question to a payer before any work, as a letter: what is planned, what it costs, and what would be paid of it.

The office's own short codes stand on it and no national code; a form that a payer asks for is filled in beside it.
"""

from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.letters.carried import ORIGIN_ALONE
from planner.letters.payers_said import guess_of
from planner.letters.pdf import PaperError
from planner.letters.sheet import Kind, Sheet
from planner.letters.wording import money
from planner.practice.access import Act, Thing
from planner.rules.words import ENGLISH

KEY: Final = "question-to-payer"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the fee, as text."""

    code: str
    words: str
    teeth: str
    quantity: int
    net: str


def why_not(sheet: Sheet) -> str:
    """Why there is nothing to ask a payer, in one sentence; empty where there is."""
    if not sheet.issue.payer_guess:
        return _("No payer is written down beside this estimate: there is nobody to ask.")
    if sheet.chosen is None:
        return _("No option is recommended: say which one the payer is asked about.")
    if not sheet.chosen.estimate.lines:
        return _('"%(option)s" costs nothing: there is nothing to ask a payer.') % {"option": sheet.chosen.name}
    return ""


def context(sheet: Sheet) -> dict[str, Any]:
    """What the letter says. Raises PaperError where nobody is to be asked, or other prices were guessed from."""
    if refused := why_not(sheet):
        raise PaperError(refused)
    option, language, currency = sheet.chosen, sheet.language, sheet.plan.currency
    guess = guess_of(sheet.issue.payer_guess, sheet.plan)
    assert option is not None  # by why_not
    assert guess is not None
    return {
        "own_language": _own_language(sheet),
        "payers": guess.payers,
        "option": option.name,
        "lines": [
            Line(
                line.code,
                line.words,
                ", ".join(sheet.words.label(tooth) for tooth in line.teeth),
                line.quantity,
                money(line.net_cents, currency, language),
            )
            for line in option.estimate.lines
        ],
        "tax": money(option.estimate.tax_cents, currency, language) if option.estimate.tax_cents else "",
        "total": money(option.estimate.total_cents, currency, language),
    }


def _own_language(sheet: Sheet) -> str:
    """The language in which the patient reads what the patient signs on this paper."""
    known = (ENGLISH, *(found.language for found in sheet.plan.other_words))
    return sheet.plan.language if sheet.plan.language in known else ENGLISH


PAPER: Final = Kind(
    KEY,
    gettext_lazy("Question to a payer before treatment"),
    "letters/payer_request.html",
    context,
    made_by=(Act.CREATE, Thing.PAYER),
    seen_by=(Act.VIEW, Thing.PAYER),
    carries=ORIGIN_ALONE,
    language=ENGLISH,
    why_not=why_not,
)
