"""Everything that the forms and acts of two people are about, made by the case that needs it and gone with it.

What every case begins with is made once for all of them: ``two_people_begun.py``.
"""

import functools
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any

from planner.followup.review_models import Review
from planner.keeping.erasing import ask_to_erase
from planner.keeping.models import EraseRequest, Ground
from planner.letters.consent_models import Consent, Countersignature, Question, Signature
from planner.letters.consents import ask_question
from planner.letters.models import Document
from planner.patients import payers
from planner.patients.examinations import store_examination
from planner.patients.facts import examination_facts
from planner.patients.join_models import JoinedFile
from planner.patients.joining import allow_joining, ask_apart, ask_to_join, carry_out
from planner.patients.models import Examination, Patient, PeopleFile, PictureFile
from planner.patients.payer_models import CoverVersion, PayerPlan, PayerQuestion
from planner.patients.people_files import keep_people
from planner.patients.pictures import add_picture, set_aside
from planner.patients.services import register_patient
from planner.plans import account, charges, estimates
from planner.plans.accepted import rest_plan
from planner.plans.accepted_models import AcceptedPlan, Amendment, Item, Payment, Refund, Route
from planner.plans.accepting import accept_option
from planner.plans.amending import amend
from planner.plans.charge_models import PlanCharge
from planner.plans.checking import check_case
from planner.plans.discounting import Wanted, ask_discount
from planner.plans.models import Case, Estimate
from planner.practice import codes, one_time
from planner.practice.models import LegalProposal, Staff
from planner.practice.proposals import propose
from planner.practice.roles import Role
from planner.practice.timings import Timed, note_timing
from planner.records.models import OfficeCopy
from planner.records.services import ask_copy
from planner.rules.partial import whole_of
from planner.rules.results import sha256
from planner.rules.teeth import Tooth
from planner.story.models import EmergencyOpening
from planner.story.services import open_in_emergency
from planner.visits import diary, laboratory, stepping
from planner.visits import services as booked
from planner.visits.models import Absence, BlockedTime, LaboratoryCase, Visit
from planner.visits.step_models import ChairNote, NoteKind, StampKind, StepSheetCopy
from tests.followup.reviewed import done_plan, reviewed
from tests.payers import bronze, cover, with_payer
from tests.plans.sample import item_of, plan_of, under_way
from tests.records.sample import dots
from tests.rules.books import charge
from tests.support import NOW, TODAY, guards_lifted
from tests.trust.two_people_begun import Begun, hash_of, somebody
from tests.visits.sample import accepted_plan, lead_facts

BORN = date(1980, 2, 29)


@dataclass
class World:
    """What the forms and acts are about."""

    begun: Begun
    owner: Staff = field(init=False)
    first: Staff = field(init=False)
    second: Staff = field(init=False)
    case: Case = field(init=False)

    def __post_init__(self) -> None:
        people = Staff.objects.select_related("office")
        self.owner, self.first, self.second = (
            people.get(pk=key) for key in (self.begun.owner, self.begun.first, self.begun.second)
        )
        self.case = Case.objects.select_related("patient", "office").get(pk=self.begun.case)

    @property
    def by_owner(self) -> dict[str, Any]:
        return {"actor": self.owner, "now": NOW}

    @property
    def by_first(self) -> dict[str, Any]:
        return {"actor": self.first, "now": NOW}

    # ------------------------------------------------------------------------------------------------- the office

    @functools.cached_property
    def staff(self) -> Staff:
        """Somebody whose roles change, and whose telephone is lost."""
        return somebody(self.owner, Role.ASSISTANT, full_name="Asa Assistant")

    @functools.cached_property
    def with_codes(self) -> Staff:
        """The same, signing in by one-time codes."""
        secret = one_time.new_secret()
        typed = one_time.code_at(secret, one_time.step_of(NOW))
        codes.set_up(staff=self.staff, secret=secret, typed=typed, now=NOW)
        return self.staff

    @functools.cached_property
    def proposal(self) -> LegalProposal:
        given = {"key": "whitening-age", "value": "17", "reason": "Advice.", "effective": TODAY + timedelta(days=1)}
        return propose(**given, **self.by_owner)  # type: ignore[arg-type]

    @functools.cached_property
    def timed(self) -> str:
        """Work that was timed once."""
        note_timing(timed=Timed("bonding.bonding.finish", 1, 20, TODAY, self.owner), **self.by_owner)
        return "bonding.bonding.finish"

    @functools.cached_property
    def copy(self) -> OfficeCopy:
        asker = somebody(self.owner, Role.MANAGER, full_name="Ada Asker")
        return ask_copy(reason="We change programs.", actor=asker, now=NOW)

    # ------------------------------------------------------------------------------------------------ the patients

    @functools.cached_property
    def people(self) -> PeopleFile:
        content = b"name,birth date\nAna de la Cruz,2 March 1980\n"
        return keep_people(content=content, **self.by_owner)

    @functools.cached_property
    def twins(self) -> tuple[Patient, Patient]:
        """Two files of one person."""
        ann, anne = (register_patient(name=name, birth_date=BORN, **self.by_owner) for name in ("Ann B", "Ann B."))
        return ann, anne

    @functools.cached_property
    def joining(self) -> JoinedFile:
        kept, other = self.twins
        return ask_to_join(kept=kept, joined=other, reason="Same passport.", **self.by_owner)

    @functools.cached_property
    def allowed(self) -> JoinedFile:
        return allow_joining(join=self.joining, take=(), **self.by_owner)

    @functools.cached_property
    def joined(self) -> JoinedFile:
        return carry_out(join=self.allowed, **self.by_first)

    @functools.cached_property
    def apart(self) -> JoinedFile:
        """Two joined files that somebody asks to take apart."""
        return ask_apart(join=self.joined, reason="Mother and daughter.", **self.by_owner)

    @functools.cached_property
    def picture(self) -> PictureFile:
        given: dict[str, Any] = {"content": dots(40), "kind": "photo", "on": TODAY}
        return add_picture(patient=self.case.patient, **given, **self.by_owner)

    @functools.cached_property
    def aside(self) -> PictureFile:
        set_aside(picture=self.picture, reason="Shows somebody else.", **self.by_owner)
        return self.picture

    @functools.cached_property
    def measured(self) -> Examination:
        """A draft of the same measurements."""
        facts = examination_facts(self.case.examination).model_copy(update={"confirmed_by": ""})
        return store_examination(patient=self.case.patient, facts=facts, **self.by_owner)

    @functools.cached_property
    def payer(self) -> PayerPlan:
        return payers.add_plan(office=self.owner.office, plan=bronze(), reason="told", **self.by_first)

    @functools.cached_property
    def cover(self) -> CoverVersion:
        given = {"patient": self.case.patient, "plan": self.payer, "cover": cover()}
        return payers.add_cover(**given, reason="told", **self.by_first)  # type: ignore[arg-type]

    @functools.cached_property
    def question(self) -> PayerQuestion:
        return payers.ask_payer(cover=self.cover, words="Do you pay?", due=TODAY, **self.by_first)

    @functools.cached_property
    def opening(self) -> EmergencyOpening:
        return open_in_emergency(patient=self.case.patient, reason="Fainted.", **self.by_owner)

    @functools.cached_property
    def forgotten(self) -> Patient:
        """Somebody whose file may go at once: nothing was ever done or signed."""
        return register_patient(name="Old File", birth_date=BORN, **self.by_owner)

    @functools.cached_property
    def erasing(self) -> EraseRequest:
        given = {"patient": self.forgotten, "ground": Ground.ASKED, "reason": "Letter of 1 March."}
        return ask_to_erase(**given, **self.by_owner)  # type: ignore[arg-type]

    # ----------------------------------------------------------------------------------------- cases and estimates

    @functools.cached_property
    def draft(self) -> Estimate:
        return estimates.draft_estimate(case=self.case, options=("none",), **self.by_owner)

    @functools.cached_property
    def shown(self) -> Estimate:
        """An estimate that was shown to somebody else than the person of the case."""
        rows = Estimate.objects.select_related("office", "case__patient", "case__office", "frozen")
        return rows.get(pk=self.begun.shown)

    @functools.cached_property
    def guessed(self) -> Estimate:
        """An estimate with a payer's guess beside it."""
        with_payer(self.case.patient, self.first)
        return check_case(case=self.case, seen_plan=hash_of(self.case), **self.by_owner)

    @functools.cached_property
    def discounted(self) -> Case:
        """The lead case with a discount that waits for the manager."""
        asker = somebody(self.owner, Role.DENTIST, full_name="Ada Asker")
        wanted = Wanted(option="reshape-bond", kind="courtesy", percent=Decimal(12), reason="Known for years.")
        return ask_discount(case=self.case, seen=self.case.version, wanted=wanted, actor=asker, now=NOW)

    # ---------------------------------------------------------------------------------------------- accepted plans

    @functools.cached_property
    def charged(self) -> AcceptedPlan:
        """An accepted plan of two charges, its deposit not paid."""
        return AcceptedPlan.objects.select_related("office", "patient", "case", "book").get(pk=self.begun.charged)

    @functools.cached_property
    def accepted(self) -> AcceptedPlan:
        """What was said yes to of the estimate that was shown."""
        assert self.shown.frozen is not None
        option = estimates.read_frozen(self.shown.frozen).option("reshape-bond")
        given: dict[str, Any] = {"option": option.key, "chosen": whole_of(option), "capacity": "patient"}
        person = self.shown.case.patient.name
        return accept_option(estimate=self.shown, seen=self.shown.version, by=person, **given, **self.by_owner)

    @functools.cached_property
    def build_up(self) -> Item:
        """Work of that which is to do."""
        return item_of(under_way(self.accepted, self.owner, NOW), "build-up", "22")

    @functools.cached_property
    def working(self) -> AcceptedPlan:
        """The same, under way."""
        return under_way(self.charged, self.owner, NOW)

    @functools.cached_property
    def course(self) -> AcceptedPlan:
        """A course of twelve months, under way."""
        return under_way(plan_of(self.owner, lead_facts(), charge("aligners-both"), months=12), self.owner, NOW)

    @functools.cached_property
    def resting(self) -> AcceptedPlan:
        plan = self.accepted
        look = TODAY + timedelta(days=20)
        return rest_plan(plan=plan, seen=plan.version, reason="abroad", look_again_on=look, **self.by_owner)

    @functools.cached_property
    def finishing(self) -> AcceptedPlan:
        """A plan under way of which everything is done."""
        with guards_lifted():
            self.working.items.update(state="done", done_on=TODAY)
        return self.working

    @functools.cached_property
    def face(self) -> Item:
        """Work that is to do, earned in stages."""
        return item_of(self.working, "ceramic-face")

    @functools.cached_property
    def waiting(self) -> Item:
        with guards_lifted():
            Item.objects.filter(pk=self.face.pk).update(state="waiting for", waiting_for="laboratory")
        return Item.objects.get(pk=self.face.pk)

    @functools.cached_property
    def bill(self) -> Item:
        return item_of(self.working, "implant-placing")

    @functools.cached_property
    def month(self) -> Item:
        return item_of(self.course, "aligners-both")

    @functools.cached_property
    def receipt(self) -> Payment:
        given: dict[str, Any] = {"cents": 30000, "payer": "Grandmother", "route": Route.CARD}
        return account.receive(plan=self.charged, **given, **self.by_owner)

    @functools.cached_property
    def refund(self) -> Refund:
        given: dict[str, Any] = {"receipt": self.receipt, "cents": 20000, "reason": "moves away"}
        return account.ask_refund(plan=self.charged, **given, **self.by_owner)

    @functools.cached_property
    def refundable(self) -> Refund:
        """A refund that somebody allowed."""
        other = somebody(self.owner, Role.OWNER, full_name="Otto Other")
        return account.allow_refund(refund=self.refund, seen=self.refund.version, actor=other, now=NOW)

    @functools.cached_property
    def fee(self) -> PlanCharge:
        given: dict[str, Any] = {"code": "LATE", "words": "Late cancelling", "price_list_version": 7, "cents": 5000}
        return charges.write_charge(plan=self.charged, **given, **self.by_owner)

    @functools.cached_property
    def change(self) -> Amendment:
        """A line that a change adds, not agreed to yet."""
        given: dict[str, Any] = {"cause": "finding", "reason": "found", "added": [charge("small-repair", 1, "22")]}
        return amend(plan=self.accepted, **given, **self.by_owner)

    # ------------------------------------------------------------------------------------------------------- visits

    @functools.cached_property
    def plan(self) -> AcceptedPlan:
        """An accepted plan of which visits are booked."""
        return accepted_plan(self.owner)

    def booking(self, clinician: Staff, **more: Any) -> booked.Booking:
        return booked.Booking(clinician, "Chair 1", TODAY + timedelta(days=3), time(9), 60, "Bonding", **more)

    @functools.cached_property
    def visit(self) -> Visit:
        return booked.book_visit(plan=self.plan, booking=self.booking(self.first), **self.by_first).visit

    @functools.cached_property
    def begun_visit(self) -> Visit:
        """A visit whose hour has come."""
        with guards_lifted():
            starts = NOW - timedelta(hours=1)
            Visit.objects.filter(pk=self.visit.pk).update(starts=starts, ends=starts + timedelta(minutes=60))
        return self.visit

    @functools.cached_property
    def work(self) -> LaboratoryCase:
        given: dict[str, Any] = {"teeth": [Tooth.from_iso("22")], "words": "wax-up", "laboratory": "The laboratory"}
        return laboratory.order_work(plan=self.plan, **given, **self.by_first)

    @functools.cached_property
    def arrived(self) -> LaboratoryCase:
        """Work that has come from the laboratory."""
        with guards_lifted():
            LaboratoryCase.objects.filter(pk=self.work.pk).update(state="received")
        return self.work

    @functools.cached_property
    def absence(self) -> Absence:
        day = TODAY + timedelta(days=9)
        return diary.add_absence(clinician=self.owner, first=day, last=day, **self.by_first)[0]

    @functools.cached_property
    def blocked(self) -> BlockedTime:
        given: dict[str, Any] = {
            "day": TODAY + timedelta(days=4),
            "opens": time(9),
            "closes": time(10),
            "words": "Talk",
        }
        return diary.block_time(office=self.owner.office, clinician=self.owner, chair="", **given, **self.by_first)

    @functools.cached_property
    def sheet_visit(self) -> Visit:
        """A visit with a step sheet."""
        plan = accepted_plan(self.owner, planned=True)
        asked = self.booking(
            self.first, items=tuple(plan.items.all()[:4]), key="bonding.bonding", despite="a short day"
        )
        return booked.book_visit(plan=plan, booking=asked, **self.by_first).visit

    @functools.cached_property
    def sheet(self) -> StepSheetCopy:
        return stepping.begin(visit=self.sheet_visit, **self.by_owner)

    @functools.cached_property
    def stamped(self) -> StepSheetCopy:
        """A sheet of which every step is left out."""
        for line in stepping.progress_of(self.sheet).lines:
            given: dict[str, Any] = {"run": line.run.key, "kind": StampKind.LEFT_OUT, "reason": "not today"}
            stepping.stamp(copy=self.sheet, **given, **self.by_owner)
        return self.sheet

    @functools.cached_property
    def note(self) -> ChairNote:
        return stepping.note(copy=self.sheet, kind=NoteKind.FOUND, words="a crack", **self.by_owner)

    # ------------------------------------------------------------------------------------------ letters and results

    @functools.cached_property
    def asked(self) -> Question:
        """What was asked while an estimate was shown."""
        given: dict[str, Any] = {"words": "Will it hurt?", "asked_by": "Anselm", "clinical": True}
        return ask_question(estimate=self.shown, **given, **self.by_owner)

    @functools.cached_property
    def consent(self) -> Consent:
        """A consent to a letter that was handed over; the paper itself is of no matter here."""
        given: dict[str, Any] = {"option_key": "reshape-bond", "says_sha256": sha256(b"a"), "state": "letter handed"}
        return Consent.objects.create(
            office=self.owner.office, case=self.shown.case, estimate=self.shown, at=NOW, **given
        )

    @functools.cached_property
    def asked_of_letter(self) -> Question:
        given: dict[str, Any] = {"words": "Will it hurt?", "asked_by": "Anselm", "clinical": True}
        return ask_question(consent=self.consent, **given, **self.by_owner)

    @functools.cached_property
    def signature(self) -> Signature:
        """What was signed after a talk with the first of the two, not countersigned yet."""
        letter, copy = (self._paper(number) for number in (1, 2))
        Consent.objects.filter(pk=self.consent.pk).update(state="signed")
        assert not Countersignature.objects.exists()
        return Signature.objects.create(
            office=self.owner.office, consent=self.consent, document=letter, document_sha256=letter.sha256, copy=copy,
            content="{}", sha256=sha256(b"{}"), signer="Anselm", basis="self", method="typed name", choice="yes",
            clinician=self.first, signed_on=TODAY, by=self.first, at=NOW,
        )  # fmt: skip

    def _paper(self, number: int) -> Document:
        frozen = self.shown.frozen
        assert frozen is not None
        return Document.objects.create(
            office=self.owner.office, frozen=frozen, estimate=self.shown, kind="consent-letter", version_words="1",
            language="en", points=11, paper="A4", issue_sha256=sha256(bytes([number])), plan_sha256=frozen.sha256,
            content=b"%PDF", sha256=sha256(b"%PDF"), pages=1, created_by=self.owner, at=NOW,
        )  # fmt: skip

    @functools.cached_property
    def review(self) -> Review:
        return reviewed(self.owner, done_plan(self.owner))
