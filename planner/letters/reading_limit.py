"""How hard a stored paper is to read, and whether it may be signed as it is.

Measured on the words of the stored file itself: every paragraph, point of a list and sentence in a table that is
meant for the patient. Above the target the dentist is warned; above the ceiling the paper is not signed, unless a
dentist gives a reason in the own name. Those formulas are made for English. Spanish is measured on a scale of its own,
which is no grade and stops nothing; for any other language none is measured, and that is said.
"""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import lru_cache

from django.db import transaction
from django.utils.translation import gettext as _

from planner.letters.finish import StructureError
from planner.letters.models import Document, ReadingReason
from planner.letters.prose import EASE_IN, MEASURED_IN, patient_prose
from planner.letters.read_back import blocks
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.models import Staff
from planner.rules.consent_states import not_to_be_read, too_hard_to_read
from planner.rules.reading import CEILING, TARGET, counted, grade, long_words
from planner.rules.reading_es import Ease, ease
from planner.rules.results import sha256
from planner.trail.errors import Refused
from planner.trail.services import record

_HARDEST = 5
"""Passages that are shown as the hardest."""
_WORTH = 12
"""Words from which on a passage's own grade says something."""


@dataclass(frozen=True, slots=True)
class Reading:
    """How hard one stored paper is to read."""

    grade: Decimal | None
    """Flesch-Kincaid; None where no formula applies to the language."""
    smog: Decimal | None
    words: int
    sentences: int
    long_words: tuple[str, ...]
    hardest: tuple[tuple[Decimal, str], ...]
    """Passages with their own grade, hardest first, where they are above the target."""
    ease: Ease | None = None
    """How easy it is on its language's own scale, where that is no grade; nothing is stopped by it."""

    @property
    def warn(self) -> bool:
        """Above the target."""
        return self.grade is not None and self.grade > TARGET

    @property
    def stop(self) -> bool:
        """Above the ceiling: not to be signed without a reason."""
        return self.grade is not None and self.grade > CEILING


def reading_of(document: Document) -> Reading:
    """How hard ``document`` is to read, measured on its stored bytes. Raises StructureError for what is no paper."""
    return _measured(bytes(document.content), document.language)


@lru_cache(maxsize=32)
def _measured(content: bytes, language: str) -> Reading:
    passages = patient_prose(blocks(content), language)
    if language in EASE_IN and passages:
        easy = ease(passages)
        return Reading(None, None, easy.words, easy.sentences, long_words(passages), (), easy)
    if language not in MEASURED_IN or not passages:
        return Reading(None, None, 0, 0, (), ())
    found = counted(passages)
    each = sorted(((grade([one]), one) for one in passages if len(one.split()) >= _WORTH), reverse=True)
    hard = tuple(pair for pair in each if pair[0] > TARGET)
    return Reading(found.grade, found.smog, found.words, found.sentences, long_words(passages), hard[:_HARDEST])


def reading_allows(document: Document) -> str:
    """Why ``document`` may not be signed for being too hard to read, in one sentence; empty where it may be."""
    try:
        reading = reading_of(document)
    except StructureError:
        return not_to_be_read()
    if not reading.stop or document.reading_reasons.exists():
        return ""
    return too_hard_to_read(reading.grade, CEILING)


def sign_reading_reason(*, document: Document, reason: str, actor: Staff, now: datetime) -> ReadingReason:
    """Let a paper be signed that is too hard to read, for ``reason`` and in the name of ``actor``.

    Raises NotAllowed for anybody who may not approve letters, Refused where the paper is plain enough, no reason is
    given or one was given before.
    """
    require(actor, Act.APPROVE, Thing.LETTER, subject=document)
    require_own(actor, document)
    words = " ".join(reason.split())
    if not words:
        raise Refused(_("Say why this paper may be signed though it is hard to read."), field="reason")
    reading = reading_of(document)
    if reading.grade is None or not reading.stop:
        raise Refused(_("This paper is plain enough to be signed: no reason is needed."), field="reason")
    with transaction.atomic():
        Document.objects.select_for_update(of=("self",)).get(pk=document.pk)
        before = document.reading_reasons.select_related("by").first()
        if before is not None:
            noted = done_by(_("signed"), before.by, before.at, document.office)
            raise Refused(
                _("A reason was given already: “%(reason)s”, %(noted)s.") % {"reason": before.reason, "noted": noted}
            )
        made = ReadingReason.objects.create(
            office=document.office, document=document, grade=reading.grade, reason=words, by=actor, at=now
        )
        content = {"document": document.sha256, "grade": str(reading.grade), "reason": sha256(words.encode())}
        record(actor=actor, act="document.reading_reason", subject=document, content=content, reason=words, at=now)
    return made
