"""An estimate as it is put before a patient: page by page, gentlest first, doing nothing first of all, then the money.

The pages at the desk, those on a screen in the patient's hands and the papers taken home are drawn from the same frozen
plan by the same functions, in the patient's language.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils import timezone, translation

from planner.letters.cancelling_said import cancelling_said
from planner.letters.choosing import NOTHING, can_be_done
from planner.letters.explained import Card, Told, cards
from planner.letters.if_then_said import agreed_lines
from planner.letters.letter_pictures import Picture, strips
from planner.letters.not_now import NotNow, not_now
from planner.letters.options import option_view
from planner.letters.papers import languages_of, sheet_of
from planner.letters.parts_said import PartsSaid, account_said, parts_said
from planner.letters.payers_said import PayersSaid, guess_of, payers_said
from planner.letters.pricing import not_included_anywhere, priced_with_payers
from planner.letters.services import estimate_issue
from planner.letters.sheet import Sheet
from planner.letters.showing_told import money_told
from planner.letters.side_by_side import others
from planner.letters.translated import Translated, translated
from planner.letters.wording import day, direction
from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate
from planner.rules.mouth import Wish
from planner.rules.results import OptionShape, sha256
from planner.rules.verdicts import Verdict
from planner.rules.words import ENGLISH, speaking


@dataclass(frozen=True, slots=True)
class Shown:
    """One option's page."""

    told: Told
    strip: Picture | None
    cards: tuple[Card, ...]


@dataclass(frozen=True, slots=True)
class Presentation:
    """All pages of one estimate. Page 0 is the beginning, then one for each option, then the money."""

    language: str
    direction: str
    patient: str
    wishes: tuple[Wish, ...]
    today: Picture | None
    options: tuple[Shown, ...]
    others: tuple[tuple[str, str], ...]
    """What is not on a page of its own: its name, and in one line why."""
    not_now: NotNow | None
    recommended: str
    recommended_why: str
    payers: PayersSaid | None
    not_included: tuple[str, ...]
    agreed: tuple[str, ...]
    parts: PartsSaid
    account: tuple[tuple[str, str], ...]
    """What is agreed, paid and held; empty before a yes."""
    cancelling: str
    valid_through: str
    price_list: int
    note: Translated | None

    @property
    def last(self) -> int:
        """The number of the page about money."""
        return len(self.options) + 1

    def option_on(self, page: int) -> Shown | None:
        """The option on ``page``; None for the beginning and the money."""
        return self.options[page - 1] if 1 <= page < self.last else None


def language_of(estimate: Estimate) -> str:
    """The patient's own language where the frozen plan carries it, else English."""
    assert estimate.frozen is not None
    plan = read_frozen(estimate.frozen)
    return plan.language if plan.language in languages_of(plan) else ENGLISH


@contextmanager
def speaking_to(estimate: Estimate) -> Iterator[str]:
    """Say everything in the patient's language, in the zone of the office, within the block."""
    language = language_of(estimate)
    with translation.override(language), speaking(language), timezone.override(estimate.office.zone):
        yield language


def presentation(estimate: Estimate, now: datetime) -> Presentation:
    """The pages of a checked estimate; to be called within :func:`speaking_to`. Raises PaperError."""
    assert estimate.frozen is not None
    language = language_of(estimate)
    sheet = sheet_of(bytes(estimate.frozen.content), estimate_issue(estimate, now), None, language)
    plan = sheet.plan
    shapes = [option for option in plan.options if option.key in estimate.options and _is_shown(option)]
    nowhere = not_included_anywhere(tuple(option for option in shapes if option.estimate.lines))
    guess = guess_of(sheet.issue.payer_guess, plan)
    prices = priced_with_payers(sheet, tuple(shapes), nowhere)
    told = []
    for shape, price in zip(shapes, prices, strict=True):
        view = option_view(
            plan, shape, sheet.words, of=100, show_private=False, told_above=not can_be_done(plan), language=language
        )
        told.append(Told(shape, view, price))
    beside = money_told(estimate, now)
    parts = parts_said(beside["parts"], plan, language)
    recommended = next((one.view.name for one in told if one.option.key == plan.recommended), "")
    return Presentation(
        language=language,
        direction=direction(language),
        patient=plan.patient_name,
        wishes=tuple(sorted(sheet.facts.wishes, key=lambda wish: wish.rank)),
        today=strips(sheet).today,
        options=tuple(
            Shown(one, _strip(sheet, one.option), cards(plan, one, told[at - 1] if at else None, parts.lines, language))
            for at, one in enumerate(told)
        ),
        others=tuple(others(sheet, shapes, show_private=False)),
        not_now=not_now(plan, sheet.words, language, show_private=False),
        recommended=recommended,
        recommended_why=plan.recommended_why if recommended else "",
        payers=payers_said(guess, sha256(sheet.issue.payer_guess.encode()), language) if guess is not None else None,
        not_included=nowhere,
        agreed=tuple(agreed_lines(sheet.facts, None, sheet.words, language)),
        parts=parts,
        account=account_said(beside["account"], plan, language),
        cancelling=cancelling_said(sheet.issue.cancelling, plan.currency, language),
        valid_through=day(estimate.valid_through, language) if estimate.valid_through else "",
        price_list=plan.price_list_version,
        note=translated(plan, language),
    )


def _is_shown(option: OptionShape) -> bool:
    return option.key == NOTHING or (option.verdict in (Verdict.OFFER, Verdict.CARE) and not option.struck)


def _strip(sheet: Sheet, option: OptionShape) -> Picture | None:
    """The teeth as this option plans them, where it shares the space."""
    if not option.space_plan:
        return None
    return strips(replace(sheet, issue=replace(sheet.issue, chosen=option.key))).then
