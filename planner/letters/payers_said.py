"""What payers may add, on the estimate: three figures under each whole price, drawn from the frozen guess alone."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from planner.letters.pdf import PaperError
from planner.letters.wording import day, money
from planner.rules.benefit_sheets import SAID, SAID_ES, GuessSheet, OptionGuess, thaw_guess
from planner.rules.results import CasePlan


@dataclass(frozen=True, slots=True)
class Figure:
    """One of the three figures: what payers add, and what is left for the patient."""

    name: str
    added: str
    left: str


@dataclass(frozen=True, slots=True)
class PayersView:
    """The block under one option's price."""

    key: str
    figures: tuple[Figure, ...]
    other_days: tuple[str, ...]
    given_up: str


@dataclass(frozen=True, slots=True)
class PayersSaid:
    """What is said once for all options."""

    said: str
    payers: str
    made_on: str
    basis: tuple[str, ...]
    questions: tuple[str, ...]
    off: str
    sha256: str


def guess_of(text: str, plan: CasePlan) -> GuessSheet | None:
    """The frozen guess that an issue carries; None where it carries none.

    Raises PaperError when it is no guess, or says other prices than the plan.
    """
    if not text:
        return None
    try:
        sheet = thaw_guess(text.encode())
    except ValueError as error:
        raise PaperError(f"The guess beside this estimate cannot be read: {error}.") from None
    prices = {option.key: option.estimate.total_cents for option in plan.options}
    for one in sheet.options:
        if prices.get(one.option) != one.part.whole_cents:
            raise PaperError("The guess beside this estimate was made from other prices: make it anew.")
    return sheet


def payers_view(found: OptionGuess, currency: str, language: str) -> PayersView:
    """The three figures of one option, and what another day would change."""
    part, guess = found.part, found.guess

    def one_sum(cents: int) -> str:
        return money(cents, currency, language)

    def sum_of(low: int, high: int) -> str:
        if low == high:
            return one_sum(low)
        return _("%(low)s to %(high)s") % {"low": one_sum(low), "high": one_sum(high)}

    return PayersView(
        key=found.option,
        figures=(
            Figure(
                _("As told"), sum_of(guess.told_cents, guess.told_cents), sum_of(part.as_told_cents, part.as_told_cents)
            ),
            Figure(
                _("Likely"),
                sum_of(guess.likely_low_cents, guess.likely_high_cents),
                sum_of(part.likely_low_cents, part.likely_high_cents),
            ),
            Figure(_("If they pay nothing"), one_sum(0), one_sum(part.if_nothing_cents)),
        ),
        other_days=tuple(
            _("If the last of it is done on %(day)s instead of %(planned)s, they may add %(sum)s.")
            % {
                "day": day(other.on, language),
                "planned": day(found.finishes, language),
                "sum": sum_of(other.told_cents, other.best_cents),
            }
            for other in guess.other_days
        ),
        given_up=money(guess.given_up_cents, currency, language) if guess.given_up_cents else "",
    )


def payers_said(sheet: GuessSheet, sha256: str, language: str) -> PayersSaid:
    """Who was asked, on what the guess rests, and what nobody has answered yet."""
    guesses = [one.guess for one in sheet.options]
    off = max((one.off_percent for one in guesses), default=0)
    return PayersSaid(
        said=SAID_ES if language == "es" else SAID,
        payers="; ".join(sheet.payers),
        made_on=day(sheet.made_on, language),
        basis=tuple(dict.fromkeys(words for one in guesses for words in one.basis)),
        questions=tuple(dict.fromkeys(words for one in guesses for words in one.questions)),
        off=_("Guesses of this kind have been %(n)d %% too high here.") % {"n": off} if off else "",
        sha256=sha256,
    )
