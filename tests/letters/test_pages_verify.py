"""The page that papers lead to: open to anybody, tells nothing of a patient, keeps nothing, rests after some misses."""

import io
import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from planner.letters import known
from planner.letters.known import papers_of
from planner.letters.models import Document
from planner.letters.pdf import Rendered
from planner.letters.services import issue_of, render_papers
from planner.plans.models import Estimate, State
from planner.practice.models import Staff
from planner.rules.results import sha256
from planner.trail.models import TrailDetail, TrailEntry
from tests.pages import client_of, queries_of
from tests.support import NOW, render_once

pytestmark = pytest.mark.django_db


def _make(checked: Estimate, owner: Staff, *kinds: str, make: Callable[..., Rendered]) -> tuple[Document, ...]:
    assert checked.frozen is not None
    return render_papers(
        frozen=checked.frozen, kinds=kinds, issue=issue_of(checked), actor=owner, now=NOW, estimate=checked, make=make
    )


@pytest.fixture
def papers(checked: Estimate, owner: Staff) -> tuple[Document, ...]:
    """Two papers that took no time."""
    return _make(
        checked,
        owner,
        "option-sheet",
        "consent-letter",
        make=lambda job: Rendered(f"%PDF-{sha256(job.html.encode())}".encode(), 3, ()),
    )


def _url(number: str = "") -> str:
    return f"/verify/{number}/" if number else "/verify/"


def _send(client: Client, content: bytes, number: str = "") -> str:
    answer = client.post(_url(number), {"file": SimpleUploadedFile("paper.pdf", content)})
    assert answer.status_code == 200
    return answer.content.decode()


def test_anybody_sees_the_papers_of_some_data_and_nothing_of_the_patient(
    papers: tuple[Document, ...], checked: Estimate
) -> None:
    patient = checked.case.patient
    page = client_of(None).get(_url(papers[0].plan_sha256))
    said = page.content.decode()
    assert page.status_code == 200
    for paper in papers:
        assert paper.sha256 in said
        assert paper.version_words in said
    assert "Your options" in said
    assert "2 March 2026" in said
    assert "Test office" in said
    assert patient.birth_date is not None
    for private in (*patient.name.split(), str(patient.birth_date.year), "Olive", "diastema", "fee"):
        # As a word of its own: hashes stand on the page, and one may well hold "fee".
        assert not re.search(rf"\b{re.escape(private)}\b", said, re.IGNORECASE), private
    assert page["Cache-Control"] == "no-store"
    assert "sha256sum" in said


def test_a_number_that_stands_for_nothing_gets_the_same_page(papers: tuple[Document, ...]) -> None:
    page = client_of(None).get(_url("0" * 64))
    assert page.status_code == 200
    said = page.content.decode()
    assert "No paper is listed here" in said
    assert "Compare the file" in said
    assert papers[0].sha256 not in said


def test_a_number_may_be_typed_with_blanks_and_capitals(papers: tuple[Document, ...]) -> None:
    number = papers[0].plan_sha256
    typed = " ".join(number[at : at + 8].upper() for at in range(0, 64, 8))
    assert client_of(None).get(_url(), {"number": typed})["Location"] == _url(number)
    wrong = client_of(None).get(_url(), {"number": "<b>12</b>"}).content.decode()
    assert "is not the number of a paper" in wrong
    assert "&lt;b&gt;12&lt;/b&gt;" in wrong
    assert 'value="&lt;b&gt;12&lt;/b&gt;"' in wrong
    assert "is not the number of a paper" in client_of(None).get("/verify/zz/").content.decode()


def test_a_file_is_compared_by_its_hash_alone(papers: tuple[Document, ...]) -> None:
    number = papers[0].plan_sha256
    client = client_of(None)
    for where in ("", number):
        assert "one that we made, to the last sign" in _send(client, bytes(papers[1].content), where)
    changed = bytearray(papers[1].content)
    changed[7] ^= 1
    said = _send(client, bytes(changed), number)
    assert "We made no file like this one" in said
    assert sha256(bytes(changed)) in said
    assert "made from other data" in _send(client, bytes(papers[1].content), "f" * 64)


def test_the_computed_hash_is_that_of_sha256sum(papers: tuple[Document, ...], tmp_path: Path) -> None:
    """GNU coreutils' sha256sum, on a file that comes in several pieces."""
    content = bytes(range(256)) * 1024
    path = tmp_path / "paper.pdf"
    path.write_bytes(content)
    outside = subprocess.run(["sha256sum", str(path)], capture_output=True, text=True, check=True).stdout.split()[0]
    assert outside in _send(client_of(None), content)


def test_what_is_sent_is_neither_kept_nor_written_anywhere(
    papers: tuple[Document, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_arguments: object, **_more: object) -> None:
        raise AssertionError("written to the disk")

    monkeypatch.setattr("tempfile.NamedTemporaryFile", refuse)
    monkeypatch.setattr("django.core.files.uploadhandler.TemporaryUploadedFile", refuse)
    before = Document.objects.count()
    _send(client_of(None), b"x" * 4_000_000)
    assert Document.objects.count() == before


def test_a_file_that_is_too_large_missing_or_empty_is_said_in_words(
    papers: tuple[Document, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    client = client_of(None)
    assert "No file came" in client.post(_url()).content.decode()
    assert "No file came" in client.post(_url(), {"file": io.BytesIO(b"")}).content.decode()
    monkeypatch.setattr("planner.letters.known.LARGEST", 1000)
    said = _send(client, b"x" * 2000)
    assert "larger than" in said
    monkeypatch.setattr("planner.letters.verify_views.LARGEST", 1000)
    answer = client.post(_url(), {"file": SimpleUploadedFile("paper.pdf", b"x" * 100_000)})
    assert answer.status_code == 413
    assert "larger than" in answer.content.decode()


def test_sending_a_file_needs_the_pages_own_token(papers: tuple[Document, ...]) -> None:
    strict = Client(enforce_csrf_checks=True)
    file = {"file": SimpleUploadedFile("paper.pdf", bytes(papers[0].content))}
    assert strict.post(_url(), file).status_code == 403
    strict.get(_url())
    token = strict.cookies["leastways-csrf"].value
    file = {"file": SimpleUploadedFile("paper.pdf", bytes(papers[0].content)), "csrfmiddlewaretoken": token}
    assert "one that we made" in strict.post(_url(), file).content.decode()


def test_each_check_is_noted_without_content_and_without_a_name(papers: tuple[Document, ...], owner: Staff) -> None:
    before = TrailEntry.objects.count()
    client = client_of(None)
    client.get(_url(papers[0].plan_sha256))
    client.get(_url("1" * 64))
    _send(client, bytes(papers[1].content))
    rows = list(TrailEntry.objects.filter(sequence__gt=before).order_by("sequence"))
    assert [row.act for row in rows] == ["document.check", "refused.document.check", "document.check"]
    assert [row.office_id for row in rows] == [owner.office_id, None, owner.office_id]
    assert rows[2].subject_id == papers[1].public_id
    assert {row.actor_id for row in rows} == {None}
    assert not TrailDetail.objects.filter(entry__in=rows).exists()


def test_five_misses_from_one_place_rest_the_page_there_and_signing_in_stays_open(
    papers: tuple[Document, ...], owner: Staff
) -> None:
    client = client_of(None)
    for number in range(5):
        assert client.get(_url(f"{number:064x}")).status_code == 200
    rests = client.get(_url(papers[0].plan_sha256))
    assert rests.status_code == 429
    assert "checking rests here for 15 minutes" in rests.content.decode()
    assert client.post(_url(), {"file": SimpleUploadedFile("p.pdf", b"x")}).status_code == 429
    assert client.get("/sign-in/").status_code == 200
    assert Client(REMOTE_ADDR="192.0.2.7").get(_url(papers[0].plan_sha256)).status_code == 200


def test_papers_that_fit_are_no_misses(papers: tuple[Document, ...]) -> None:
    client = client_of(None)
    for _time in range(7):
        assert client.get(_url(papers[0].plan_sha256)).status_code == 200


def test_a_replaced_estimate_says_so(papers: tuple[Document, ...], checked: Estimate) -> None:
    assert "the newest we know of" in client_of(None).get(_url(papers[0].plan_sha256)).content.decode()
    Estimate.objects.filter(pk=checked.pk).update(state=State.REPLACED)
    said = client_of(None).get(_url(papers[0].plan_sha256)).content.decode()
    assert "replaced by a later version" in said
    assert "the newest we know of" not in said


def test_of_two_letters_of_the_same_data_the_later_one_counts(
    papers: tuple[Document, ...], checked: Estimate, owner: Staff
) -> None:
    assert checked.frozen is not None
    given: dict[str, Any] = {"frozen": checked.frozen, "kinds": ["consent-letter"], "actor": owner, "now": NOW}
    made = {"estimate": checked, "make": lambda job: Rendered(f"%PDF-{sha256(job.html.encode())}".encode(), 3, ())}
    (other,) = render_papers(issue=issue_of(checked, chosen="reshaping"), **given, **made)
    (large,) = render_papers(issue=issue_of(checked), points=24, **given, **made)
    (later,) = render_papers(issue=issue_of(checked, guarantee="Two years."), **given, **made)
    holds = {one.sha256: one.holds for one in papers_of(checked.frozen.sha256)}
    newest = "the newest we know of"
    assert holds == {
        papers[0].sha256: newest,
        papers[1].sha256: "replaced by a later version",
        other.sha256: newest,
        large.sha256: "replaced by a later version",
        later.sha256: newest,
    }


def test_how_somebody_pays_is_told_only_to_whoever_has_the_file(
    papers: tuple[Document, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(known, "UNLISTED", frozenset({"option-sheet"}))
    said = client_of(None).get(_url(papers[0].plan_sha256)).content.decode()
    assert papers[0].sha256 not in said
    assert papers[1].sha256 in said
    assert "Your options" in _send(client_of(None), bytes(papers[0].content))


def test_the_number_of_queries_does_not_grow(papers: tuple[Document, ...], checked: Estimate, owner: Staff) -> None:
    url = _url(papers[0].plan_sha256)
    few = queries_of(client_of(None), url)
    _make(checked, owner, "estimate", make=render_once)
    assert queries_of(client_of(None), url) == few
