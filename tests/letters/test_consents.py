"""Consents: handed over, asked about, signed, countersigned, withdrawn; what stands against each."""

import io
import json
import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from subprocess import run
from typing import Any

import pikepdf
import pytest

from planner.letters.consent_models import Channel, Signature
from planner.letters.consent_signing import countersign, sign_letter, talk_of
from planner.letters.consent_standing import before_signing, stands_against
from planner.letters.consents import answer_question, ask_question, hand_letter
from planner.letters.models import Document
from planner.letters.sealed import read_all
from planner.letters.services import check_documents
from planner.letters.signed_copy import KEY
from planner.letters.withdrawing import withdraw_consent
from planner.patients.services import record_history
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepting import accept_option
from planner.plans.consent_stops import stands_still
from planner.plans.facts import case_facts
from planner.plans.items import book_item
from planner.plans.models import Estimate
from planner.plans.parts import handed as parts_of
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.consent_states import ConsentState
from planner.rules.mouth import Allergy, CaseFacts
from planner.rules.partial import Piece, pieces_of
from planner.rules.signing import Basis, Choice, Interpreter, Method
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.letters.conftest import texts, words_in_the_margin
from tests.letters.consents import LATER, LICENCE, handed, letter_of, quick, said, shown_estimate, sign
from tests.pages import priced_office
from tests.support import NOW, TODAY, guards_lifted

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def shown(owner: Staff, lead_case: CaseFacts) -> Estimate:
    return shown_estimate(owner, lead_case)


def accepted(shown: Estimate, owner: Staff, option: str = "reshape-bond") -> AcceptedPlan:
    return accept_option(
        estimate=shown,
        seen=shown.version,
        option=option,
        chosen=[piece.key for piece in _pieces(shown, option)],
        by=shown.case.patient.name,
        capacity="patient",
        actor=owner,
        now=NOW,
    )


def _pieces(shown: Estimate, option: str) -> list[Piece]:
    return [piece for piece in pieces_of(parts_of(shown, option).option) if not piece.beside]


class TestHandingOver:
    def test_a_reprint_of_the_same_content_starts_no_time_anew(self, shown: Estimate, owner: Staff) -> None:
        consent = handed(shown, owner)
        assert consent.state == ConsentState.HANDED
        large = letter_of(shown, owner, points=24, now=LATER)
        again = hand_letter(document=large, to="Anselm", channel=Channel.POST, actor=owner, now=LATER)
        assert again.pk == consent.pk
        before = before_signing(again, LATER)
        assert before.document == large
        # Work that takes tooth away: 24 hours, counted from the first handing over.
        assert before.may_sign_from == NOW + timedelta(hours=24)
        assert before.refused == ()

    def test_another_content_replaces_what_was_handed(self, shown: Estimate, owner: Staff) -> None:
        first = handed(shown, owner)
        old = first.handings.get().document
        second = handed(shown, owner, now=LATER, own_risks=("Chips are more likely.",))
        first.refresh_from_db()
        assert (first.state, second.state) == (ConsentState.REPLACED, ConsentState.HANDED)
        assert before_signing(second, LATER).facts.reflection_over is False
        with pytest.raises(Refused, match="newer letter was made"):
            hand_letter(document=old, to="Anselm", channel=Channel.PAPER, actor=owner, now=LATER)

    @pytest.mark.parametrize(
        ("wrong", "words"),
        [
            ({"to": " "}, "to whom"),
            ({"handed_at": NOW + timedelta(days=1)}, "in the future"),
            ({"handed_at": NOW - timedelta(days=1)}, "another paper"),
        ],
    )
    def test_what_cannot_have_been(self, wrong: dict[str, Any], words: str, shown: Estimate, owner: Staff) -> None:
        letter = letter_of(shown, owner)
        asked: dict[str, Any] = {
            "document": letter,
            "to": "Anselm",
            "channel": Channel.PAPER,
            "actor": owner,
            "now": NOW,
        }
        with pytest.raises(Refused, match=words):
            hand_letter(**asked | wrong)


class TestQuestions:
    def test_an_open_question_keeps_from_signing(
        self, shown: Estimate, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        consent, desk = handed(shown, owner), person(Role.FRONT_DESK)
        who: dict[str, Any] = {"asked_by": "Anselm", "actor": desk, "now": NOW}
        asked = ask_question(consent=consent, words="Will it hurt?", clinical=True, **who)
        consent.refresh_from_db()
        assert consent.state == ConsentState.QUESTIONS
        with pytest.raises(Refused, match="Questions are open: 1"):
            sign(consent, owner)
        with pytest.raises(NotAllowed):
            answer_question(question=asked, words="No.", actor=desk, now=NOW)
        answer_question(question=asked, words="Rarely.", actor=owner, now=NOW)
        consent.refresh_from_db()
        assert consent.state == ConsentState.HANDED
        other = ask_question(consent=consent, words="May I pay later?", clinical=False, **who)
        answer_question(question=other, words="Yes.", actor=desk, now=NOW)
        signature = sign(consent, owner)
        assert "Will it hurt?" in signature.content


class TestSigning:
    def test_letter_record_and_signed_copy_are_three_rows(self, shown: Estimate, owner: Staff, tmp_path: Any) -> None:
        consent = handed(shown, owner)
        signature = sign(consent, owner, method=Method.DRAWN, strokes=(((10, 100, 0), (700, 120, 90)),))
        consent.refresh_from_db()
        letter, copy = signature.document, signature.copy
        assert consent.state == ConsentState.SIGNED
        assert signature.document_sha256 == letter.sha256
        assert copy.kind == KEY
        text = " ".join(texts(bytes(copy.content))).replace(" ", "")
        assert letter.sha256 in text
        assert "Itisnocertifiedsignature" in text
        # The letter lies inside byte for byte, and coreutils agree on its hash.
        with pikepdf.open(io.BytesIO(bytes(copy.content))) as pdf:
            inside = pdf.attachments["letter.pdf"].get_file().read_bytes()
            assert len(pdf.pages) == copy.pages > letter.pages
            assert pdf.attachments["signature.json"].get_file().read_bytes().decode() == signature.content
        (tmp_path / "letter.pdf").write_bytes(inside)
        told = run(["sha256sum", tmp_path / "letter.pdf"], capture_output=True, text=True, check=True).stdout
        assert told.split()[0] == letter.sha256
        (tmp_path / "copy.pdf").write_bytes(bytes(copy.content))
        run(["qpdf", "--check", tmp_path / "copy.pdf"], check=True, capture_output=True)
        assert check_documents([copy]) == ()
        assert not words_in_the_margin(bytes(copy.content), tmp_path)
        assert signature.countersignature.licence == LICENCE
        entry = TrailEntry.objects.get(act="consent.sign")
        assert signature.sha256 in entry.detail.content

    def test_in_large_print_hashes_are_whole_too(self, shown: Estimate, owner: Staff, tmp_path: Path) -> None:
        copy = sign(handed(shown, owner, points=24), owner).copy
        assert copy.points == 24
        assert not words_in_the_margin(bytes(copy.content), tmp_path)

    def test_everything_that_is_kept_as_evidence_stands_in_it(self, shown: Estimate, owner: Staff) -> None:
        stated = json.loads(sign(handed(shown, owner), owner).content)
        assert stated["patient"] == {
            "name": "Anselm Brightwater", "birth_date": stated["patient"]["birth_date"], "age": 47, "minor": False
        }  # fmt: skip
        assert stated["zone"] == "America/Toronto"
        assert stated["wait"]["hours"] == 24
        assert stated["handed"][0]["how"] == "on paper, by hand"
        assert stated["trail"]["sequence"] > 0
        assert stated["said"]["ticks"] == {"photos": True, "photos_shown": False}

    def test_a_form_about_another_letter_is_refused(self, shown: Estimate, owner: Staff) -> None:
        consent = handed(shown, owner)
        words = said(owner, consent.case.patient.name)
        with pytest.raises(Refused, match="changed since it was opened"):
            sign_letter(
                consent=consent, letter_sha256="0" * 64, said=words, clinician=owner, actor=owner, now=LATER, make=quick
            )

    def test_too_early_too_late_and_twice(self, shown: Estimate, owner: Staff) -> None:
        consent = handed(shown, owner)
        with pytest.raises(Refused, match="think it over"):
            sign(consent, owner, now=NOW + timedelta(hours=23))
        with pytest.raises(Refused, match="estimate is not in date"):
            sign(consent, owner, now=NOW + timedelta(days=91))
        sign(consent, owner)
        consent.refresh_from_db()
        with pytest.raises(Refused, match="signed already"):
            sign(consent, owner)

    def test_every_fault_is_told_at_once(self, shown: Estimate, owner: Staff) -> None:
        with pytest.raises(Refused) as caught:
            sign(handed(shown, owner), owner, signer="Somebody Else", typed="x", id_seen="", copy="")
        assert {field for field, _words in caught.value.faults} >= {"signer", "typed", "id_seen", "copy"}

    @pytest.mark.parametrize(
        ("changes", "field", "sentence"),
        [
            (
                {"signer": "Rosa Brightwater", "typed": "Rosa Brightwater"},
                "signer",
                "Who consents for nobody else signs with the own name: Anselm Brightwater.",
            ),
            (
                {"signer": "Rosa Brightwater", "typed": "Rosa Brightwater", "basis": Basis.PARENT},
                "signer",
                "Anselm Brightwater decides alone: the yes is the patient's own.",
            ),
            (
                {"interpreter": Interpreter("Tilda", adult=False, relation="daughter")},
                "interpreter_adult",
                "Tilda is a child and never interprets a consent: find an adult.",
            ),
        ],
        ids=["somebody else's name", "a parent of an adult", "a child interprets"],
    )
    def test_who_may_not_sign_or_interpret_is_refused_with_a_sentence(
        self, changes: dict[str, Any], field: str, sentence: str, shown: Estimate, owner: Staff
    ) -> None:
        consent = handed(shown, owner)
        with pytest.raises(Refused, match=re.escape(sentence)) as caught:
            sign(consent, owner, **changes)
        assert field in {at for at, _words in caught.value.faults}
        consent.refresh_from_db()
        assert consent.state == ConsentState.HANDED
        assert not Signature.objects.exists()

    def test_an_assistant_holds_no_talk_and_the_dentist_countersigns(
        self, shown: Estimate, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        consent, assistant = handed(shown, owner), person(Role.ASSISTANT)
        with pytest.raises(Refused, match="is no dentist here"):
            sign(consent, owner, talk=talk_of(assistant, LICENCE, TODAY))
        letter = consent.handings.get().document
        signature = sign_letter(
            consent=consent,
            letter_sha256=letter.sha256,
            said=said(owner, consent.case.patient.name),
            clinician=owner,
            actor=assistant,
            now=LATER,
            make=quick,
        )
        plan = accepted(shown, owner)
        assert stands_against(plan, LATER) == ("The dentist who held the talk has not countersigned yet.",)
        countersign(signature=signature, licence=LICENCE, actor=owner, now=LATER)
        assert stands_against(plan, LATER) == ()
        with pytest.raises(Refused, match="countersigned already"):
            countersign(signature=signature, licence=LICENCE, actor=owner, now=LATER)

    def test_a_flipped_letter_inside_or_word_is_found(self, shown: Estimate, owner: Staff) -> None:
        signature = sign(handed(shown, owner), owner)
        assert not [fault for one in read_all() for fault in one.faults]
        with guards_lifted():
            words = signature.content.replace("known in person", "seen passport x")
            type(signature).objects.filter(pk=signature.pk).update(content=words)
        found = " ".join(fault for one in read_all() for fault in one.faults)
        assert "what was signed was changed" in found
        assert "what was stated at the signing is not what stands inside" in found


class TestWhatHolds:
    def test_without_a_signature_treatment_rests_on_nothing(self, shown: Estimate, owner: Staff) -> None:
        plan = accepted(shown, owner)
        assert stands_against(plan, LATER) == ("No consent letter has been handed over for this plan.",)
        consent = handed(shown, owner)
        assert stands_against(plan, LATER) == ("The consent letter is not signed yet.",)
        sign(consent, owner)
        assert stands_against(plan, LATER) == ()

    def test_it_lapses_after_the_offices_days_without_a_start(self, shown: Estimate, owner: Staff) -> None:
        plan = accepted(shown, owner)
        sign(handed(shown, owner), owner)
        signed_on = TODAY + timedelta(days=2)
        assert stands_against(plan, LATER, on=signed_on + timedelta(days=180)) == ()
        (words,) = stands_against(plan, LATER, on=signed_on + timedelta(days=181))
        assert "without a start" in words

    def test_it_lapses_when_an_allergy_is_declared_after_it_was_signed(self, shown: Estimate, owner: Staff) -> None:
        plan = accepted(shown, owner)
        sign(handed(shown, owner), owner)
        changed = {"signed_on": LATER.date(), "methacrylate": Allergy.POSITIVE}
        history = case_facts(plan.case).history.model_copy(update=changed)
        record_history(patient=plan.case.patient, facts=history, actor=owner, now=LATER)
        assert "Facts have changed since it was signed" in stands_against(plan, LATER)[0]

    def test_a_no_is_no_consent(self, shown: Estimate, owner: Staff) -> None:
        plan = accepted(shown, owner)
        sign(handed(shown, owner), owner, choice=Choice.LATER)
        assert stands_against(plan, LATER) == ("What was signed is: not now.",)

    def test_a_yes_to_a_part_is_no_yes_to_the_whole(self, shown: Estimate, owner: Staff) -> None:
        plan = accepted(shown, owner)
        piece = _pieces(shown, "reshape-bond")[0].key
        sign(handed(shown, owner), owner, choice=Choice.PART, pieces=(piece,))
        assert "another part" in stands_against(plan, LATER)[0]


class TestTakingBack:
    def test_all_of_it_stands_still_at_once_until_signed_anew(
        self, shown: Estimate, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        plan = accepted(shown, owner)
        consent = handed(shown, owner)
        sign(consent, owner)
        who: dict[str, Any] = {"said_by": "Anselm", "how": "by e-mail on a Sunday", "now": LATER}
        row = withdraw_consent(
            consent=consent, words="I changed my mind.", actor=person(Role.MANAGER), explained="Nothing begun.", **who
        )  # fmt: skip
        consent.refresh_from_db()
        assert (consent.state, row.scope, len(row.items)) == (ConsentState.WITHDRAWN, "all", plan.items.count())
        item = plan.items.first()
        assert item is not None
        with pytest.raises(Refused, match="Consent has been withdrawn"):
            book_item(item=item, seen=item.version, visit_on=TODAY + timedelta(9), actor=owner, now=LATER)
        assert stands_against(plan, LATER) == ("Consent to this plan was withdrawn.",)
        with pytest.raises(Refused, match="is over"):
            withdraw_consent(consent=consent, words="Again.", actor=owner, **who)
        # The very same letter, handed over anew, begins anew, with its time to think.
        letter = consent.handings.get().document
        anew = hand_letter(document=letter, to="Anselm", channel=Channel.PAPER, actor=owner, now=LATER)
        assert anew.pk != consent.pk
        sign(anew, owner, now=LATER + timedelta(days=2))
        assert stands_against(plan, LATER + timedelta(days=2)) == ()
        assert not any(stands_still(one) for one in plan.items.all())

    def test_some_items_stand_still_and_the_rest_goes_on(self, shown: Estimate, owner: Staff) -> None:
        plan = accepted(shown, owner)
        consent = handed(shown, owner)
        sign(consent, owner)
        first, second, *_rest = plan.items.all()
        withdraw_consent(
            consent=consent, words="Not the pointed one.", said_by="Anselm", how="at the chair", items=[first],
            actor=owner, now=LATER,
        )  # fmt: skip
        consent.refresh_from_db()
        assert consent.state == ConsentState.SIGNED
        assert stands_still(first)
        assert not stands_still(second)
        assert stands_against(plan, LATER) == ()

    def test_the_keeper_of_the_system_records_nothing(
        self, shown: Estimate, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        consent = handed(shown, owner)
        with pytest.raises(NotAllowed):
            withdraw_consent(
                consent=consent, words="No.", said_by="A.", how="call", actor=person(Role.KEEPER), now=LATER
            )

    @pytest.mark.parametrize("gone", ["words", "said_by", "how"])
    def test_its_words_are_needed(self, gone: str, shown: Estimate, owner: Staff) -> None:
        given: dict[str, Any] = {"words": "No.", "said_by": "A.", "how": "call"} | {gone: " "}
        with pytest.raises(Refused) as caught:
            withdraw_consent(consent=handed(shown, owner), actor=owner, now=LATER, **given)
        assert caught.value.field == gone


def test_papers_of_the_estimate_that_were_changed_keep_from_signing(shown: Estimate, owner: Staff) -> None:
    consent = handed(shown, owner)
    with guards_lifted():
        Document.objects.filter(pk=consent.handings.get().document_id).update(pages=1)
    assert "pages; 1 were made" in " ".join(before_signing(consent, LATER).refused)
