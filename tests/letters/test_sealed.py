"""Tampering: whatever is changed behind the program's back is found by ``verify_letters`` and named."""

import io
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection

from planner.letters.consent_models import Consent, Signature
from planner.letters.models import Document
from planner.letters.sealed import CHECKS
from planner.letters.services import issue_of, render_papers
from planner.plans.arrangement_models import Arrangement
from planner.plans.models import Estimate, FrozenPlan
from planner.plans.payer_models import PayerGuess
from planner.practice.models import Staff
from planner.rules.results import sha256
from planner.trail.canonical import canonical_json
from planner.trail.models import TrailDetail, TrailEntry
from planner.trail.services import erase_details, record
from tests.support import NOW, TODAY, guards_lifted, migrated, render_once

pytestmark = pytest.mark.django_db


@pytest.fixture
def letter(checked: Estimate, owner: Staff) -> Document:
    assert checked.frozen is not None
    (made,) = render_papers(
        frozen=checked.frozen,
        kinds=["consent-letter"],
        issue=issue_of(checked, chosen="none"),
        actor=owner,
        now=NOW,
        estimate=checked,
        make=render_once,
    )
    return made


@pytest.fixture
def signature(letter: Document, checked: Estimate, owner: Staff) -> Signature:
    """A signature of the letter, as it is stored and recorded; its copy is another paper of the same plan."""
    assert checked.frozen is not None
    (copy,) = render_papers(
        frozen=checked.frozen,
        kinds=["option-sheet"],
        issue=issue_of(checked),
        actor=owner,
        now=NOW,
        estimate=checked,
        make=render_once,
    )
    consent = Consent.objects.create(
        office=letter.office, case=checked.case, estimate=checked, says_sha256=sha256(b"says"), state="signed", at=NOW
    )
    content = canonical_json({"signer": "Anselm Brightwater", "strokes": [[1, 2, 0], [3, 4, 15]]}).decode()
    made = Signature.objects.create(
        office=letter.office, consent=consent, document=letter, document_sha256=letter.sha256, copy=copy,
        content=content, sha256=sha256(content.encode()), signer="Anselm Brightwater", basis="self",
        method="typed name", choice="yes", clinician=owner, signed_on=TODAY, by=owner, at=NOW,
    )  # fmt: skip
    record(actor=owner, act="consent.sign", subject=made, content={"sha256": made.sha256}, at=NOW)
    return made


def faults() -> str:
    """What the command says; it must fail."""
    with pytest.raises(CommandError) as caught:
        call_command("verify_letters")
    return str(caught.value)


def flipped(content: bytes, at: int) -> bytes:
    changed = bytearray(content)
    changed[at] ^= 1
    return bytes(changed)


@pytest.mark.django_db
def test_an_empty_house_is_not_said_to_hold(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("verify_letters")
    assert capsys.readouterr().out == "There is nothing to read yet.\n"


def test_what_was_left_alone_holds(signature: Signature, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("verify_letters")
    said = capsys.readouterr().out
    assert "1 frozen plans, 2 stored papers, 1 signatures, 3 papers and signatures as recorded" in said
    assert "2 inputs of papers" in said


@pytest.mark.parametrize("where", [0, 9, 0.3, 0.5, 0.9, -1])
def test_a_flipped_byte_in_a_file(letter: Document, where: float) -> None:
    content = bytes(letter.content)
    at = int(len(content) * where) if isinstance(where, float) else where
    with guards_lifted():
        Document.objects.filter(pk=letter.pk).update(content=flipped(content, at))
    assert f"consent-letter {letter.public_id}: the stored file was changed" in faults()


def test_a_flipped_byte_in_the_frozen_json(letter: Document) -> None:
    frozen = letter.frozen
    with guards_lifted():
        FrozenPlan.objects.filter(pk=frozen.pk).update(content=flipped(bytes(frozen.content), 100))
    said = faults()
    assert f"frozen plan {frozen.public_id}: the stored JSON was changed" in said
    assert f"consent-letter {letter.public_id}: the frozen plan is not the one" in said


def test_a_file_with_other_data_inside_and_a_hash_that_fits(letter: Document) -> None:
    with pikepdf.open(io.BytesIO(bytes(letter.content))) as file:
        file.attachments["case-plan.json"] = pikepdf.AttachedFileSpec(file, b'{"a":1}', filename="case-plan.json")
        buffer = io.BytesIO()
        file.save(buffer)
    with guards_lifted():
        Document.objects.filter(pk=letter.pk).update(content=buffer.getvalue(), sha256=sha256(buffer.getvalue()))
    said = faults()
    assert "the data inside is not the frozen plan" in said
    assert f"paper {letter.public_id}: the record names no such hash" in said


def test_a_file_and_its_hash_changed_together(letter: Document) -> None:
    """The data inside are left whole: only the record tells."""
    with pikepdf.open(io.BytesIO(bytes(letter.content))) as file:
        file.docinfo["/Title"] = "Another letter"
        buffer = io.BytesIO()
        file.save(buffer)
    with guards_lifted():
        Document.objects.filter(pk=letter.pk).update(content=buffer.getvalue(), sha256=sha256(buffer.getvalue()))
    assert faults().splitlines()[1:] == [
        f"paper {letter.public_id}: the record names no such hash; it was changed together with its hash."
    ]


def test_a_paper_that_is_gone(letter: Document) -> None:
    public_id = letter.public_id
    with guards_lifted():
        Document.objects.filter(pk=letter.pk).delete()
    assert f"paper {public_id}: the record tells of it, and it is gone." in faults()


def test_a_flipped_byte_in_a_signature(signature: Signature) -> None:
    changed = flipped(signature.content.encode(), 30).decode()
    with guards_lifted():
        Signature.objects.filter(pk=signature.pk).update(content=changed)
    assert f"signature {signature.public_id}: what was signed was changed" in faults()


def test_a_signature_changed_together_with_its_hash(signature: Signature) -> None:
    other = canonical_json({"signer": "Anselm Brightwater", "strokes": []}).decode()
    with guards_lifted():
        Signature.objects.filter(pk=signature.pk).update(content=other, sha256=sha256(other.encode()))
    assert f"signature {signature.public_id}: the record names no such hash" in faults()


def test_a_signature_moved_to_another_letter(signature: Signature) -> None:
    with guards_lifted():
        Signature.objects.filter(pk=signature.pk).update(document=signature.copy)
    assert f"signature {signature.public_id}: it names another file than the letter" in faults()


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda entry: TrailEntry.objects.filter(pk=entry.pk).update(role="nobody"), "was changed: its hash"),
        (
            lambda entry: TrailDetail.objects.filter(entry=entry).update(
                content=entry.detail.content.replace("consent-letter", "consent-lettes")
            ),
            "The content beside entry",
        ),
        (lambda entry: TrailDetail.objects.filter(entry=entry).delete(), "is gone and no entry says"),
    ],
)
def test_a_flipped_byte_in_the_record(letter: Document, spoil: Callable[[TrailEntry], object], sentence: str) -> None:
    entry = TrailEntry.objects.get(act="document.make", subject_id=letter.public_id)
    with guards_lifted():
        spoil(entry)
    said = faults()
    assert sentence in said
    assert str(entry.sequence) in said


def test_content_that_was_erased_as_the_law_asks_is_no_fault(letter: Document, owner: Staff) -> None:
    entries = TrailEntry.objects.filter(subject_id=letter.public_id)
    erase_details(entries=entries, actor=owner, reason="request of 1 March 2026", now=NOW)
    call_command("verify_letters")


def test_a_guard_that_is_missing(letter: Document) -> None:
    with connection.cursor() as cursor:
        drop = 'DROP TRIGGER "guard_letters_document_update"'
        cursor.execute(drop if connection.vendor == "sqlite" else f'{drop} ON "letters_document"')
    try:
        assert "guard_letters_document_update is missing" in faults()
    finally:
        with guards_lifted():
            pass  # they are all made again


def test_a_flipped_byte_in_what_a_paper_was_made_from(letter: Document) -> None:
    changed = flipped(letter.issue.encode(), 40).decode()
    with guards_lifted():
        Document.objects.filter(pk=letter.pk).update(issue=changed)
    assert f"consent-letter {letter.public_id}: what it was made from was changed" in faults()


@pytest.mark.parametrize("table", [Arrangement, PayerGuess])
def test_a_flipped_byte_in_what_is_frozen_beside_a_plan(
    table: Any, letter: Document, checked: Estimate, owner: Staff, capsys: pytest.CaptureFixture[str]
) -> None:
    content = b'{"currency":"CAD"}'
    named: dict[str, Any] = (
        {"number": 1, "by": owner} if table is Arrangement else {"made_by": owner, "plan_sha256": "0"}
    )
    one = table.objects.create(
        office=checked.office, estimate=checked, content=content, sha256=sha256(content), at=NOW, **named
    )
    record(actor=owner, act="test.frozen", subject=one, content={"sha256": one.sha256}, at=NOW)
    call_command("verify_letters")
    assert "1 arrangements and guesses" in capsys.readouterr().out
    other = flipped(content, 3)
    with guards_lifted():
        table.objects.filter(pk=one.pk).update(content=other)
    assert f"{one.public_id}: the stored JSON was changed" in faults()
    with guards_lifted():
        table.objects.filter(pk=one.pk).update(sha256=sha256(other))
    assert f"{one.public_id}: the record names no such hash" in faults()


def test_every_stored_table_of_papers_with_a_hash_is_read_again() -> None:
    """A further one is noticed here. Pictures, books and answers of payers are no papers."""
    hashed = {
        model.__name__
        for label in ("plans", "letters", "visits", "followup")
        for model in apps.get_app_config(label).get_models()
        if {"content", "sha256"} <= {field.name for field in model._meta.get_fields()}
    }
    assert hashed == {"FrozenPlan", "Document", "Signature", "Arrangement", "PayerGuess", "StepSheetCopy"}
    assert {"frozen plans", "stored papers", "signatures", "arrangements and guesses", "step sheets"} <= set(CHECKS)


def test_a_further_table_joins_by_one_function(letter: Document, monkeypatch: pytest.MonkeyPatch) -> None:
    def odd():  # type: ignore[no-untyped-def]
        yield "row 7 is off."
        return 7

    monkeypatch.setitem(CHECKS, "odd rows", odd)
    assert "row 7 is off." in faults()


def test_stored_hashes_are_those_of_sha256sum(letter: Document, tmp_path: Path) -> None:
    """GNU coreutils' sha256sum on the bytes as stored, and on the data inside as qpdf takes them out."""
    path = tmp_path / "letter.pdf"
    path.write_bytes(bytes(letter.content))
    inside = subprocess.run(["qpdf", "--show-attachment=case-plan.json", str(path)], capture_output=True, check=True)
    (tmp_path / "case-plan.json").write_bytes(inside.stdout)
    for name, expected in (("letter.pdf", letter.sha256), ("case-plan.json", letter.plan_sha256)):
        found = subprocess.run(["sha256sum", name], cwd=tmp_path, capture_output=True, text=True, check=True).stdout
        assert found.split()[0] == expected


def test_the_command_exits_with_a_status_that_a_night_job_sees(tmp_path: Path) -> None:
    """In a process and a database of its own: 0 on an empty one, not 0 when a guard was taken away."""
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("LEASTWAYS_", "DATABASE_"))}
    environment |= {"LEASTWAYS_VAR": str(tmp_path), "LEASTWAYS_PLAIN_HTTP": "1"}

    def run(*command: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, *command], cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True
        )

    migrated(tmp_path / "leastways.sqlite3")
    assert run("manage.py", "verify_letters").returncode == 0
    drop = 'import sqlite3; sqlite3.connect("leastways.sqlite3").execute("DROP TRIGGER guard_letters_document_delete")'
    subprocess.run([sys.executable, "-c", drop], cwd=tmp_path, check=True)
    done = run("manage.py", "verify_letters")
    assert done.returncode != 0
    assert "guard_letters_document_delete is missing" in done.stderr
