"""What the answers after a complaint are read from: one case with all its rows, in a fixed number of queries."""

from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property

from django.db.models import Prefetch, QuerySet

from planner.letters.consent_models import Consent, Question, QuestionAnswer, Signature
from planner.letters.models import Document
from planner.patients.files import of_person
from planner.patients.models import Examination, HistoryForm, Patient, PictureFile
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.estimates import read_frozen
from planner.plans.models import Case, Estimate, FrozenPlan
from planner.plans.payer_models import PayerGuess
from planner.practice.books import today
from planner.rules.frozen import FrozenPlanError, facts_in
from planner.rules.mouth import CaseFacts
from planner.rules.results import CasePlan
from planner.rules.teeth import Numbering
from planner.rules.visit_states import VisitState
from planner.story.file_rows import entries_of_person
from planner.story.models import Problem
from planner.story.opened import OpenedList, who_opened
from planner.trail.acts import Kind, entries_of_kind
from planner.trail.errors import Refused
from planner.trail.models import TrailEntry
from planner.visits.models import Visit
from planner.visits.step_models import ChairNote, StepLot

MOST_CHANGES = 400
"""Acts after a problem that are looked through; a week in one file holds far fewer."""


@dataclass(frozen=True)
class Ground:
    """One case of one person, with what stands in every file of theirs. Each list is one query, made when it is first
    asked for.
    """

    patient: Patient
    case: Case
    now: datetime

    @property
    def day(self) -> date:
        """Today in the office."""
        return today(self.patient.office, self.now)

    @property
    def numbering(self) -> Numbering:
        """How teeth are written for this case."""
        return Numbering(self.case.numbering)

    @cached_property
    def accepted(self) -> list[AcceptedPlan]:
        """What was accepted, newest first."""
        rows = AcceptedPlan.objects.filter(case=self.case).select_related("estimate", "frozen", "book__set_by")
        return list(rows.prefetch_related("price_holds__by").order_by("-pk"))

    @cached_property
    def estimates(self) -> list[Estimate]:
        """Every issue of every estimate of the case, newest first."""
        rows = Estimate.objects.filter(case=self.case).select_related("frozen__frozen_by", "book__set_by", "checked_by")
        return list(rows.prefetch_related("showings__shown_by").order_by("-pk"))

    @cached_property
    def estimate(self) -> Estimate | None:
        """The estimate that was accepted, else the newest that was shown, else the newest with a frozen plan."""
        of_plan = [one.estimate_id for one in self.accepted if one.estimate_id]
        ranked = sorted(self.estimates, key=lambda one: (one.pk in of_plan, bool(one.shown_on), bool(one.frozen_id)))
        return ranked[-1] if ranked and ranked[-1].frozen_id else None

    @property
    def frozen(self) -> FrozenPlan | None:
        """The plan that the patient was shown."""
        return self.estimate.frozen if self.estimate is not None else None

    @cached_property
    def plan(self) -> CasePlan | None:
        """That plan read back; None where nothing was frozen or the stored bytes cannot be read."""
        try:
            return read_frozen(self.frozen) if self.frozen is not None else None
        except (Refused, FrozenPlanError):
            return None

    @cached_property
    def facts(self) -> CaseFacts | None:
        """The facts that it was computed from."""
        return facts_in(self.plan) if self.plan is not None else None

    @property
    def chosen(self) -> str:
        """Key of the option that was accepted, else of the one a letter was about, else of the recommended one."""
        if self.accepted:
            return self.accepted[0].option_key
        if self.consents:
            return self.consents[0].option_key
        return self.plan.recommended if self.plan is not None else ""

    @cached_property
    def examinations(self) -> list[Examination]:
        """Every set of measurements of the person, newest first."""
        rows = Examination.objects.filter(of_person(self.patient)).select_related("entered_by")
        return list(rows.prefetch_related("teeth", "gaps").order_by("-on", "-pk"))

    @property
    def rests_on(self) -> Examination | None:
        """The set that the plan rests on."""
        wanted = self.frozen.examination_id if self.frozen is not None else self.case.examination_id
        return next((one for one in self.examinations if one.pk == wanted), None)

    @cached_property
    def consents(self) -> list[Consent]:
        """Every consent of the case, newest first, with handings, questions, talks and withdrawals."""
        answered = Prefetch("answers", QuestionAnswer.objects.select_related("by").order_by("pk"))
        questions = Prefetch("questions", Question.objects.select_related("by").prefetch_related(answered))
        rows = Consent.objects.filter(case=self.case).select_related("estimate").order_by("-pk")
        return list(
            rows.prefetch_related(
                "handings__document", "handings__by", "talks__clinician", "withdrawals__by", questions
            )
        )

    @cached_property
    def signatures(self) -> list[Signature]:
        """Every signature of the case, newest first."""
        rows = Signature.objects.filter(consent__case=self.case)
        return list(rows.select_related("document", "copy", "clinician", "countersignature__by").order_by("-pk"))

    @cached_property
    def visits(self) -> list[Visit]:
        """Visits of what was accepted, in order of time."""
        rows = Visit.objects.filter(plan__case=self.case).select_related("clinician").prefetch_related("moves")
        return list(rows.order_by("starts", "pk"))

    @property
    def first_kept(self) -> Visit | None:
        """The first visit to which the patient came for work."""
        kept = (one for one in self.visits if one.state == VisitState.KEPT.value and one.kind == "work")
        return next(kept, None)

    @cached_property
    def notes(self) -> list[ChairNote]:
        """What was written down at the chair, in order."""
        rows = ChairNote.objects.filter(sheet__visit__plan__case=self.case).select_related("sheet__visit", "by")
        return list(rows.select_related("settled__by", "settled__amendment").order_by("pk"))

    @cached_property
    def lots(self) -> list[StepLot]:
        """Which lots were opened, in order."""
        rows = StepLot.objects.filter(sheet__visit__plan__case=self.case)
        return list(rows.select_related("lot", "sheet__visit", "by").order_by("pk"))

    @cached_property
    def guesses(self) -> list[PayerGuess]:
        """What was guessed of payers beside the estimate, newest first."""
        return list(PayerGuess.objects.filter(estimate__case=self.case).select_related("made_by", "estimate"))

    @cached_property
    def histories(self) -> list[HistoryForm]:
        """Every signed medical history, newest first, with what was answered since."""
        rows = HistoryForm.objects.filter(of_person(self.patient)).select_related("entered_by")
        return list(rows.prefetch_related("answers__asked_by").order_by("-pk"))

    @cached_property
    def pictures(self) -> list[PictureFile]:
        """Photographs, oldest first."""
        rows = PictureFile.objects.filter(of_person(self.patient), kind="photo").select_related("set_aside")
        return list(rows.order_by("on", "pk"))

    @cached_property
    def care_sheets(self) -> list[Document]:
        """After-care sheets that were printed, oldest first."""
        rows = Document.objects.filter(frozen__case=self.case, kind="after-care").defer("content")
        return list(rows.select_related("created_by").order_by("pk"))

    @cached_property
    def problems(self) -> list[Problem]:
        """Problems as they were told, oldest first, with what was done."""
        rows = Problem.objects.filter(of_person(self.patient)).select_related("by")
        return list(rows.prefetch_related("steps__by").order_by("told_at", "pk"))

    @cached_property
    def entries(self) -> QuerySet[TrailEntry]:
        """The trail's entries about this file, and about those that were joined to it."""
        return entries_of_person(self.patient)

    @cached_property
    def opened(self) -> OpenedList:
        """Who opened the file."""
        return who_opened(self.patient, self.entries)

    @cached_property
    def changes(self) -> list[TrailEntry]:
        """What was done in the file since the first problem was told, oldest first."""
        if not self.problems:
            return []
        since = min(one.told_at for one in self.problems)
        rows = self.entries.filter(entries_of_kind(Kind.CHANGE), at__gte=since).exclude(act__startswith="problem.")
        return list(rows.order_by("sequence")[:MOST_CHANGES])
