"""What the pages of signing and taking back show, and what they begin with."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.http import QueryDict
from django.utils import translation

from planner.letters.consent_models import Consent
from planner.letters.consent_signing import licence_of, person_of
from planner.letters.consent_standing import newest_handing
from planner.letters.consents import OPEN, newer_than
from planner.letters.letter_said import Change, changes, in_words_of, parts_of, version_of
from planner.letters.models import Document
from planner.letters.sheet_said import ticks
from planner.letters.sign_forms import SignForm, who_signs
from planner.letters.sign_words import intent
from planner.letters.wording import day as day_in_words
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepted_shown import item_words
from planner.plans.consent_stops import stands_still
from planner.practice.books import current_book, today
from planner.practice.models import Staff
from planner.rules.item_states import OPEN_ITEM
from planner.rules.mouth import Person
from planner.rules.partial import pieces_of
from planner.rules.signing import age, is_minor
from planner.rules.teeth import Numbering
from planner.trail.errors import Refused


@dataclass(frozen=True, slots=True)
class Ages:
    """How old the patient is on one day, and whether under age; None where the office has not entered that age."""

    day: str
    """In words, in the language of the letter."""
    years: int
    minor: bool | None


@dataclass(frozen=True, slots=True)
class SignPage:
    """The page for signing: the letter in force, the form, and what has changed since it was opened."""

    letter: Document
    form: SignForm
    changed: tuple[Change, ...] | None
    """None where the page was opened on the letter that is in force."""
    newer: Document | None
    context: dict[str, Any]


def in_force(consent: Consent) -> Consent:
    """``consent``, or the one that came in its place: about the same option, or under the same number."""
    if consent.state in OPEN:
        return consent
    rows = Consent.objects.filter(case=consent.case_id, pk__gt=consent.pk, state__in=OPEN)
    for one in rows.select_related("office", "estimate__checked_by", "estimate__frozen", "case__patient__office"):
        if one.option_key == consent.option_key or one.estimate.number == consent.estimate.number:
            return one
    return consent


def sign_page(shown: Consent, people: list[Staff], actor: Staff, now: datetime, data: QueryDict | None) -> SignPage:
    """Everything the page for signing shows, in the language of the letter; what was sent is judged already.

    Raises Refused where no letter was handed over.
    """
    handing = newest_handing(shown)
    if handing is None:
        raise Refused("No letter has been handed over yet.")
    with translation.override(handing.document.language):
        page = _page(shown, handing.document, people, actor, now, data)
        page.form.is_valid()  # Sentences of fields are made now, while its language is spoken.
    return page


def _page(
    shown: Consent, letter: Document, people: list[Staff], actor: Staff, now: datetime, data: QueryDict | None
) -> SignPage:
    day = today(shown.office, now)
    opened = letter.sha256 if data is None else data.get("letter", "")
    changed = None
    if data is not None and opened != letter.sha256:
        changed = _since(opened, letter)
        data = data.copy()
        data["letter"] = letter.sha256
    newer = newer_than(letter)
    person = person_of(shown, now)
    plan = in_words_of(letter)
    option = plan.option(shown.option_key) if shown.option_key else None
    form = SignForm(
        data,
        clinicians=people,
        pieces=[(piece.key, piece.words) for piece in pieces_of(option)] if option else [],
        ticks=asked_apart(letter),
        today=day,
        initial=_first(shown, letter, person, actor),
    )
    context = {
        "consent": shown,
        "case": shown.case,
        "patient": shown.case.patient,
        "letter": letter,
        "version": version_of(letter),
        "form": form,
        "parts": [part for part in parts_of(letter) if part.shown and part.lines],
        "ages": _ages(shown, person, day, letter.language),
        "intent": intent(letter.language),
        "changed": changed,
        "newer": newer,
        "newer_changes": changes(letter, newer) if newer is not None else (),
        "ticks": [form[f"tick_{key}"] for key in form.ticks],
    }
    return SignPage(letter, form, changed, newer, context)


def asked_apart(letter: Document) -> dict[str, str]:
    """What is asked apart at the signing of ``letter``, in its language: data and calming drugs only where it asks."""
    issue: Mapping[str, Any] = json.loads(letter.issue)
    left_out = {key for key, name in (("sharing", "shared_with"), ("sedation", "sedation")) if not issue.get(name)}
    with translation.override(letter.language):
        return {key: words for key, words in ticks().items() if key not in left_out}


def items_to_take_back(consent: Consent) -> list[tuple[Any, str]]:
    """The items of the accepted plan that are neither done nor dropped nor stand still, each with its words."""
    rows = AcceptedPlan.objects.filter(estimate=consent.estimate_id, option_key=consent.option_key)
    plan = rows.select_related("case").first()
    if plan is None:
        return []
    numbering = Numbering(plan.case.numbering)
    items = plan.items.prefetch_related("consent_stops").filter(state__in=OPEN_ITEM)
    return [(item, item_words(item, numbering)) for item in items if not stands_still(item)]


def _since(opened: str, letter: Document) -> tuple[Change, ...]:
    """What has changed since the page was opened on the paper with the hash ``opened``; nothing for an unknown one."""
    rows = Document.objects.filter(sha256=opened, office=letter.office_id, frozen__case_id=letter.frozen.case_id)
    before = rows.exclude(issue="").select_related("frozen", "estimate").first()
    return changes(before, letter) if before is not None else ()


def _first(shown: Consent, letter: Document, person: Person, actor: Staff) -> dict[str, Any]:
    """What the form begins with: what is known is not asked twice."""
    talk = shown.talks.select_related("clinician").order_by("-pk").first()
    clinician = talk.clinician if talk is not None else shown.estimate.checked_by or actor
    issue: Mapping[str, Any] = json.loads(letter.issue)
    return who_signs(person.name, person.can_decide_alone, person.decision_maker) | {
        "letter": letter.sha256,
        "clinician": clinician.public_id,
        "talk_on": talk.held_at.astimezone(shown.office.zone).date() if talk is not None else None,
        "licence": licence_of(clinician) or issue["dentist_licence"],
        "interpreter": issue["interpreter"],
        "interpreted": bool(issue["interpreter"]),
        "assent": person.own_agreement if person.can_decide_alone is False else None,
        "read": "on paper, before this day",
        "copy": "on paper, by hand",
        "method": "typed name",
    }


def _ages(shown: Consent, person: Person, day: date, language: str) -> list[Ages]:
    """The patient's age today, and on the day of each visit that is booked for what was accepted."""
    book = current_book(shown.office, day)
    rows = AcceptedPlan.objects.filter(estimate=shown.estimate_id, option_key=shown.option_key)
    booked = rows.filter(items__booked_for__gte=day).values_list("items__booked_for", flat=True)
    return [
        Ages(day_in_words(one, language), age(person, book, one), is_minor(person, book, one))
        for one in sorted({day, *(visit for visit in booked if visit is not None)})
    ]
