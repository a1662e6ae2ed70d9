"""What may be said to anybody about stored papers: which there are of some data, and whether a file is one of them.

Nobody is signed in here. The hash of the data is printed on the paper and cannot be guessed, so whoever has it has the
paper. Nothing that is answered names a patient or says anything about one, and nothing that is sent is kept.
"""

import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.db import transaction
from django.utils.translation import gettext as _

from planner.letters import (
    care_said,
    instalments_said,
    payer_request_said,
    result_said,
    step_sheet_said,
    take_home_said,
)
from planner.letters.account_said import ACCOUNT_PAPERS
from planner.letters.consent import KEY as LETTER
from planner.letters.consent_models import Consent
from planner.letters.consents import option_of, says
from planner.letters.models import Document
from planner.letters.papers import KINDS
from planner.plans.models import State
from planner.rules.consent_states import ConsentState
from planner.trail.services import record, record_refusal

LARGEST = 10 * 1024 * 1024
"""Bytes of a file that is compared; papers are far below one million."""
UNLISTED = frozenset(
    {
        instalments_said.KEY,
        step_sheet_said.KEY,
        care_said.KEY,
        result_said.KEY,
        payer_request_said.KEY,
        take_home_said.KEY,
        *ACCOUNT_PAPERS,
    }
)
"""Told only to whoever has the file: a workshop's order leads here too, and how somebody pays, what was asked, what is
done when or what came of it is not its business."""
_NUMBER = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class KnownPaper:
    """One stored paper, as anybody may know it."""

    title: Any
    version: str
    office: str
    made_on: date
    pages: int
    sha256: str
    """Of the file."""
    plan_sha256: str
    holds: str
    """Whether it still counts, in words that say nothing about anybody."""


def plain_number(typed: str) -> str:
    """The hash that somebody typed or scanned, blanks and capitals forgiven; empty when it is none."""
    found = re.sub(r"[\s.:-]", "", typed).lower()
    return found if _NUMBER.fullmatch(found) else ""


def papers_of(plan_sha256: str) -> tuple[KnownPaper, ...]:
    """The papers made from the data with this hash, oldest first: three queries, however many there are."""
    found = Document.objects.filter(plan_sha256=plan_sha256).exclude(kind__in=UNLISTED)
    return _known(found.order_by("at", "id"))


def paper_with(sha256: str) -> KnownPaper | None:
    """The paper whose file has this hash, if there is one."""
    return next(iter(_known(Document.objects.filter(sha256=sha256).order_by("at", "id")[:1])), None)


def _known(documents: Any) -> tuple[KnownPaper, ...]:
    rows = list(documents.select_related("office", "estimate").defer("content"))
    ended = (ConsentState.WITHDRAWN, ConsentState.REPLACED)
    over = set(
        Consent.objects.filter(handings__document__in=[row.pk for row in rows], state__in=ended).values_list(
            "handings__document", flat=True
        )
    )
    later = _later_letters(rows)
    return tuple(_paper(row, row.pk in over, row.pk in later) for row in rows)


def _later_letters(rows: Sequence[Document]) -> set[int]:
    """Those of ``rows`` that are consent letters in whose place a later one of the same data was made: it says
    something else about the same option. Another print size or language says the same. One query.
    """
    kept = Document.objects.filter(kind=LETTER, plan_sha256__in={row.plan_sha256 for row in rows}).exclude(issue="")
    newest: dict[tuple[int | None, str], str] = {}
    about: dict[int, tuple[tuple[int | None, str], str]] = {}
    for one in kept.select_related("frozen").defer("content").order_by("pk"):
        key, said = (one.estimate_id, option_of(one)), says(one)
        newest[key] = said
        about[one.pk] = (key, said)
    return {row.pk for row in rows if row.pk in about and newest[about[row.pk][0]] != about[row.pk][1]}


def _paper(row: Document, over: bool, later: bool) -> KnownPaper:
    kind = KINDS.get(row.kind)
    return KnownPaper(
        title=kind.title if kind is not None else row.kind.replace("-", " ").capitalize(),
        version=row.version_words,
        office=row.office.name,
        made_on=row.at.astimezone(row.office.zone).date(),
        pages=row.pages,
        sha256=row.sha256,
        plan_sha256=row.plan_sha256,
        holds=_holds(row, over, later),
    )


def _holds(row: Document, over: bool, later: bool) -> str:
    if row.kind in ACCOUNT_PAPERS:
        return _("as the account stood on its day")
    if later or (row.estimate is not None and row.estimate.state == State.REPLACED):
        return _("replaced by a later version")
    # Replaced or taken back: which of them is between the patient and the office.
    return _("no longer in force: ask the office") if over else _("the newest we know of")


def note_check(papers: Iterable[KnownPaper], now: datetime) -> None:
    """Record that somebody checked a paper: when, and of which office, if any; not who, and not what was sent."""
    first = next(iter(papers), None)
    document = Document.objects.defer("content").filter(sha256=first.sha256).first() if first is not None else None
    if document is None:
        record_refusal(actor=None, act="document.check", reason="no such paper is known here", at=now)
        return
    with transaction.atomic():
        record(actor=None, act="document.check", subject=document, office_id=document.office_id, at=now)


class HashedUpload(FileUploadHandler):
    """Hashes a file as it comes in and keeps none of it: neither in memory nor on the disk."""

    def __init__(self, request: Any = None) -> None:
        super().__init__(request)
        self.sha256 = ""
        """Of the file that was sent whole; empty as long as none was."""
        self.too_large = False
        self._hash = hashlib.sha256()
        self._bytes = 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        """Take one piece."""
        self._bytes += len(raw_data)
        if self._bytes > LARGEST:
            self.too_large = True
            raise SkipFile
        self._hash.update(raw_data)

    def file_complete(self, file_size: int) -> None:
        """The file came whole."""
        if self._bytes and not self.too_large:
            self.sha256 = self._hash.hexdigest()
