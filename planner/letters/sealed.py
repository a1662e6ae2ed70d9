"""Reading again everything that papers rest on, and naming whatever is no longer what it was.

Each check is one function that yields a sentence for every fault and returns how many rows it read; a further table
joins by adding its function to :data:`CHECKS`. Nothing is repaired here: what was changed is for people to look into.
"""

import json
import re
from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass

from planner.letters.account_papers import told_by
from planner.letters.account_said import ACCOUNT_PAPERS
from planner.letters.consent_models import Signature
from planner.letters.models import Document
from planner.letters.services import check_documents
from planner.plans.account_told import lasting, told_again
from planner.plans.arrangement_models import Arrangement
from planner.plans.models import FrozenPlan
from planner.plans.payer_models import PayerGuess
from planner.rules.results import sha256
from planner.trail.models import Erasure, TrailDetail, TrailEntry
from planner.trail.services import verify_chain
from planner.trail.triggers import missing

_AT_ONCE = 50
_BATCH = 500
_HASH = re.compile(r"\b[0-9a-f]{64}\b")

Check = Callable[[], Generator[str, None, int]]


@dataclass(frozen=True, slots=True)
class Read:
    """What one check came to."""

    what: str
    rows: int
    faults: tuple[str, ...]


def read_all() -> tuple[Read, ...]:
    """Every check, in the order of :data:`CHECKS`."""
    return tuple(_read(what, check) for what, check in CHECKS.items())


def _read(what: str, check: Check) -> Read:
    faults: list[str] = []
    found = check()
    while True:
        try:
            faults.append(next(found))
        except StopIteration as end:
            return Read(what, end.value, tuple(faults))


def _plans() -> Generator[str, None, int]:
    count = 0
    for frozen in FrozenPlan.objects.order_by("id").iterator(chunk_size=_AT_ONCE):
        count += 1
        if sha256(bytes(frozen.content)) != frozen.sha256:
            yield f"frozen plan {frozen.public_id}: the stored JSON was changed, its hash differs."
    return count


def _beside_plans() -> Generator[str, None, int]:
    """What was frozen beside a plan: arrangements to pay in parts, and what payers were guessed to add."""
    count, record = 0, what_the_record_says()
    for what, rows in (("arrangement", Arrangement.objects), ("guess of a payer’s part", PayerGuess.objects)):
        for one in rows.order_by("id").iterator(chunk_size=_AT_ONCE):
            count += 1
            if sha256(bytes(one.content)) != one.sha256:
                yield f"{what} {one.public_id}: the stored JSON was changed, its hash differs."
            elif one.sha256 not in record.hashes and one.public_id not in record.erased:
                yield f"{what} {one.public_id}: the record names no such hash; it was changed together with its hash."
    return count


def _issues() -> Generator[str, None, int]:
    """What was passed in beside the plan, of every paper that keeps it; papers about accounts are read apart."""
    count = 0
    rows = (
        Document.objects.exclude(kind__in=ACCOUNT_PAPERS)
        .exclude(issue="")
        .only("kind", "public_id", "issue", "issue_sha256")
    )
    for one in rows.order_by("id").iterator(chunk_size=_AT_ONCE):
        count += 1
        if sha256(one.issue.encode()) != one.issue_sha256:
            yield f"{one.kind} {one.public_id}: what it was made from was changed, its hash differs."
    return count


def _papers() -> Generator[str, None, int]:
    rows = Document.objects.select_related("frozen").order_by("id")
    yield from check_documents(rows.iterator(chunk_size=_AT_ONCE))
    return rows.count()


def _signatures() -> Generator[str, None, int]:
    count = 0
    rows = Signature.objects.select_related("document", "copy").defer("document__content", "copy__content")
    for one in rows.order_by("id").iterator(chunk_size=_AT_ONCE):
        count += 1
        name = f"signature {one.public_id}"
        if sha256(one.content.encode()) != one.sha256:
            yield f"{name}: what was signed was changed, its hash differs."
        elif not _is_json(one.content):
            yield f"{name}: what was signed cannot be read."
        if one.document_sha256 != one.document.sha256:
            yield f"{name}: it names another file than the letter it belongs to."
    return count


def _accounts() -> Generator[str, None, int]:
    """Hold every paper about an account against the rows it was made from, read as far as it had read."""
    count = 0
    rows = Document.objects.filter(kind__in=ACCOUNT_PAPERS).defer("content").order_by("id")
    for one in rows.iterator(chunk_size=_AT_ONCE):
        count += 1
        name = f"{one.kind} {one.public_id}"
        if sha256(one.issue.encode()) != one.issue_sha256:
            yield f"{name}: what it was made from was changed, its hash differs."
            continue
        told = told_by(one)
        again = told_again(told)
        if again is None or lasting(again) != lasting(told):
            yield f"{name}: the account no longer says what this paper says."
    return count


def _is_json(text: str) -> bool:
    try:
        return isinstance(json.loads(text), dict)
    except ValueError:
        return False


def _recorded() -> Generator[str, None, int]:
    """Hold papers and signatures against the record: a row changed together with its hash is found only here."""
    record = what_the_record_says()
    papers = {one: (sha, {one}) for one, sha in Document.objects.values_list("public_id", "sha256").iterator()}
    signed = Signature.objects.values_list("public_id", "sha256", "consent__public_id")
    signatures = {one: (sha, {one, consent}) for one, sha, consent in signed.iterator()}
    for what, kind, rows in (("paper", PAPER, papers), ("signature", SIGNATURE, signatures)):
        for public_id, (stored, subjects) in rows.items():
            if stored not in record.hashes and not subjects & record.erased:
                yield f"{what} {public_id}: the record names no such hash; it was changed together with its hash."
        for public_id in sorted(record.subjects[kind] - set(rows) - _erased_papers()):
            yield f"{what} {public_id}: the record tells of it, and it is gone."
    return len(papers) + len(signatures)


def _erased_papers() -> set[str]:
    """Public ids of papers and signatures that went with the whole file of a person; the record tells of that too."""
    return {str(public_id) for papers in Erasure.objects.values_list("papers", flat=True) for public_id, _sha in papers}


@dataclass(frozen=True, slots=True)
class Recorded:
    """What the record says that papers and signatures are held against."""

    hashes: frozenset[str]
    """Every SHA-256 named in its content."""
    subjects: Mapping[str, frozenset[str]]
    """Public ids of what it tells of, by kind."""
    erased: frozenset[str]
    """Public ids of what content was erased about, as the law may ask for."""


PAPER, SIGNATURE = "letters.document", "letters.signature"


def what_the_record_says() -> Recorded:
    """The whole record read once, for the hashes and subjects that stored rows are held against."""
    hashes: set[str] = set()
    subjects: dict[str, set[str]] = {PAPER: set(), SIGNATURE: set()}
    erased: set[str] = set()
    after = 0
    while batch := list(TrailEntry.objects.filter(sequence__gt=after).order_by("sequence")[:_BATCH]):
        details = TrailDetail.objects.in_bulk([entry.sequence for entry in batch])
        for entry in batch:
            if entry.subject_kind in subjects:
                subjects[entry.subject_kind].add(entry.subject_id)
            if entry.sequence in details:
                hashes.update(_HASH.findall(details[entry.sequence].content))
            elif entry.digest:
                erased.add(entry.subject_id)
        after = batch[-1].sequence
    return Recorded(frozenset(hashes), {kind: frozenset(ids) for kind, ids in subjects.items()}, frozenset(erased))


def _chain() -> Generator[str, None, int]:
    report = verify_chain()
    yield from report.faults
    return report.entries


def _guards() -> Generator[str, None, int]:
    yield from (f"The trigger {name} is missing: run migrate." for name in missing())
    return 0


CHECKS: dict[str, Check] = {
    "frozen plans": _plans,
    "stored papers": _papers,
    "signatures": _signatures,
    "papers about accounts": _accounts,
    "papers and signatures as recorded": _recorded,
    "arrangements and guesses": _beside_plans,
    "inputs of papers": _issues,
    "entries of the record": _chain,
    "guards of the database": _guards,
}
