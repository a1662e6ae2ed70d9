"""Closed rows of consents: a letter that was handed over, asked about, signed, countersigned and withdrawn."""

from typing import Any

from planner.letters.consent_models import (
    Channel,
    Consent,
    Countersignature,
    Handing,
    Question,
    QuestionAnswer,
    Signature,
    TalkHeld,
    Withdrawal,
)
from planner.letters.models import Document
from planner.plans.models import Estimate
from planner.rules.results import sha256
from tests.closed_rows import Ground, Maker
from tests.plans.closed_rows import CLOSED_ROWS as PLANS
from tests.support import NOW, TODAY


def _consent(ground: Ground, state: str = "withdrawn") -> Consent:
    estimate = PLANS["plans.estimate"](ground)
    assert isinstance(estimate, Estimate)
    return Consent.objects.create(
        office=estimate.office, case=estimate.case, estimate=estimate, option_key="bonding", says_sha256=sha256(b"a"),
        state=state, at=NOW,
    )  # fmt: skip


def _below(ground: Ground) -> dict[str, Any]:
    """What every row below a consent carries."""
    consent = _consent(ground, "letter handed")
    return {"office": consent.office, "consent": consent, "by": ground.owner, "at": NOW}


def _question(ground: Ground) -> Question:
    return Question.objects.create(words="Will it hurt?", asked_by="A. B.", clinical=True, **_below(ground))


def _answer(ground: Ground) -> QuestionAnswer:
    question = _question(ground)
    return QuestionAnswer.objects.create(
        office=question.office, question=question, words="A little.", by=ground.owner, at=NOW
    )


def _talk(ground: Ground) -> TalkHeld:
    return TalkHeld.objects.create(clinician=ground.owner, held_at=NOW, **_below(ground))


def _document(ground: Ground, consent: Consent, number: int) -> Document:
    frozen = consent.estimate.frozen
    assert frozen is not None
    return Document.objects.create(
        office=consent.office, frozen=frozen, estimate=consent.estimate, kind="consent-letter", version_words="1",
        language="en", points=11, paper="A4", issue_sha256=sha256(bytes([number])), plan_sha256=frozen.sha256,
        content=b"%PDF", sha256=sha256(b"%PDF"), pages=1, created_by=ground.owner, at=NOW,
    )  # fmt: skip


def _handing(ground: Ground) -> Handing:
    below = _below(ground)
    document = _document(ground, below["consent"], 1)
    return Handing.objects.create(document=document, to="A. B.", channel=Channel.PAPER, handed_at=NOW, **below)


def _signature(ground: Ground) -> Signature:
    below = _below(ground)
    letter, copy = (_document(ground, below["consent"], number) for number in (1, 2))
    return Signature.objects.create(
        document=letter, document_sha256=letter.sha256, copy=copy, content="{}", sha256=sha256(b"{}"), signer="A. B.",
        basis="self", method="typed name", choice="yes", clinician=ground.owner, signed_on=TODAY, **below,
    )  # fmt: skip


def _countersignature(ground: Ground) -> Countersignature:
    signature = _signature(ground)
    return Countersignature.objects.create(
        office=signature.office, signature=signature, licence="D-1", by=ground.owner, at=NOW
    )


def _withdrawal(ground: Ground) -> Withdrawal:
    return Withdrawal.objects.create(
        words="I want no more of it.", said_by="A. B.", how="by telephone", said_at=NOW, scope="all", **_below(ground)
    )


CLOSED_ROWS: dict[str, Maker] = {
    "letters.consent": _consent,
    "letters.handing": _handing,
    "letters.question": _question,
    "letters.talkheld": _talk,
    "letters.questionanswer": _answer,
    "letters.signature": _signature,
    "letters.countersignature": _countersignature,
    "letters.withdrawal": _withdrawal,
}
