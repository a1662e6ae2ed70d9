"""How hard a stored paper is to read, measured on its file; when it may not be signed, and who may let it pass."""

import io
import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pikepdf
import pypdf
import pytest
import textstat

from planner.letters.models import Document, ReadingReason
from planner.letters.pdf import Job, Rendered
from planner.letters.prose import patient_prose
from planner.letters.read_back import blocks
from planner.letters.reading_limit import reading_allows, reading_of, sign_reading_reason
from planner.letters.services import issue_of, render_papers
from planner.plans.models import Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.reading import CEILING, TARGET, grade
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.letters.conftest import rendered
from tests.support import NOW, render_once

HARD = (
    "Irreversible circumferential preparation of the anterior dentition necessitates rehabilitation with indirect "
    "ceramic restorations whose longevity is determined by occlusal parafunction and periodontal maintenance."
)


def letter(checked: Estimate, owner: Staff, hard: int = 0) -> Document:
    """The lead case's letter as stored, with ``hard`` sentences of jargon among the risks."""
    assert checked.frozen is not None
    issue = replace(issue_of(checked), own_risks=tuple(f"{number}. {HARD}" for number in range(hard)))
    (made,) = render_papers(
        frozen=checked.frozen, kinds=["consent-letter"], issue=issue, actor=owner, now=NOW, estimate=checked,
        make=render_once,
    )  # fmt: skip
    return made


def test_the_words_read_back_are_those_of_the_file() -> None:
    """The same words that pypdf, which had no part in it, finds on the pages; head and foot stand on pages only."""
    content = rendered("consent-letter").content
    back = "".join("".join(block.text for block in blocks(content)).split())
    pages = "".join("".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages).split())
    for sentence in ("Thisletterisyours.Readitathome.", "Isignofmyownfreewill.", "Whatdoingnothingmeans"):
        assert sentence in back
        assert sentence in pages
    assert len(back) > 0.75 * len(pages)


def test_the_structure_is_the_one_that_poppler_reads(tmp_path: Path) -> None:
    """``pdfinfo -struct-text`` of Debian's poppler-utils walks the same tree; it takes long over a letter."""
    content = rendered("estimate").content
    path = tmp_path / "estimate.pdf"
    path.write_bytes(content)
    found = subprocess.run(["pdfinfo", "-struct-text", str(path)], capture_output=True, text=True, check=True).stdout
    shown = re.findall(r'^ *"(.*)"$', found, re.M)
    theirs = "".join("".join(shown).split())
    paragraphs = [block.text for block in blocks(content) if block.kind in ("P", "LBody")]
    missing = [text for text in paragraphs if "".join(text.split()) not in theirs]
    assert len(paragraphs) > 20
    assert not missing


@pytest.mark.parametrize("points", [11, 24])
def test_the_letter_is_plain_by_textstat_too(points: int) -> None:
    """textstat 0.7.8 with the CMU dictionary on the words of the file: grade 6 at most, SMOG 9 (PMC4794850)."""
    passages = patient_prose(blocks(rendered("consent-letter", points).content), "en")
    assert len(passages) > 100
    text = " ".join(one if one[-1] in ".!?" else f"{one}." for one in passages)
    assert textstat.flesch_kincaid_grade(text) <= float(TARGET)
    assert textstat.smog_index(text) <= 9


@pytest.mark.parametrize("points", [11, 24])
def test_the_letter_prints_the_grade_that_is_measured_on_it(points: int) -> None:
    found = blocks(rendered("consent-letter", points).content)
    printed = re.search(r"Reading grade \(Flesch-Kincaid\): ([\d.]+)\.", " ".join(block.text for block in found))
    assert printed is not None
    assert Decimal(printed[1]) == grade(patient_prose(found, "en"))


def test_titles_of_studies_are_not_read_through_by_the_patient() -> None:
    passages = patient_prose(blocks(rendered("consent-letter").content), "en")
    assert not [one for one in passages if "J Dent" in one]
    assert [one for one in passages if "Nobody else paid for it" in one]


@pytest.mark.django_db
def test_a_plain_letter_may_be_signed_and_needs_no_reason(checked: Estimate, owner: Staff) -> None:
    made = letter(checked, owner)
    reading = reading_of(made)
    assert reading.grade is not None
    assert reading.grade <= TARGET
    assert not reading.warn
    assert reading_allows(made) == ""
    with pytest.raises(Refused, match="plain enough"):
        sign_reading_reason(document=made, reason="Why not.", actor=owner, now=NOW)


@pytest.mark.django_db
def test_between_target_and_ceiling_there_is_a_warning(checked: Estimate, owner: Staff) -> None:
    made = letter(checked, owner, 60)
    reading = reading_of(made)
    assert reading.warn
    assert reading.grade is not None
    assert TARGET < reading.grade <= CEILING
    assert reading_allows(made) == ""
    assert reading.hardest[0][0] > 20
    assert "rehabilitation" in reading.long_words
    assert "restorations" not in reading.long_words, "twelve letters are not long"


@pytest.mark.django_db
def test_a_letter_too_hard_is_not_signed_until_a_dentist_gives_a_reason(
    checked: Estimate, owner: Staff, person: Callable[..., Staff]
) -> None:
    made = letter(checked, owner, 400)
    assert reading_of(made).stop
    assert "too hard to read" in reading_allows(made)
    desk = person(Role.DESK_LEAD)
    with pytest.raises(NotAllowed):
        sign_reading_reason(document=made, reason="It will do.", actor=desk, now=NOW)
    with pytest.raises(Refused, match="Say why"):
        sign_reading_reason(document=made, reason="  ", actor=owner, now=NOW)
    sign_reading_reason(document=made, reason="Read aloud, twice.", actor=owner, now=NOW)
    assert reading_allows(made) == ""
    entry = TrailEntry.objects.latest("sequence")
    assert (entry.act, entry.actor_id) == ("document.reading_reason", owner.pk)
    assert ReadingReason.objects.get().grade == reading_of(made).grade


@pytest.mark.django_db
def test_a_file_whose_words_cannot_be_read_is_not_signed(checked: Estimate, owner: Staff) -> None:
    assert checked.frozen is not None

    def make(what: Job) -> Rendered:
        with pikepdf.open(io.BytesIO(render_once(what).content)) as file:
            del file.Root.StructTreeRoot
            out = io.BytesIO()
            file.save(out)
        return Rendered(out.getvalue(), 3, ())

    (made,) = render_papers(
        frozen=checked.frozen, kinds=["estimate"], issue=issue_of(checked), actor=owner, now=NOW, make=make
    )
    assert "cannot be read back" in reading_allows(made)
