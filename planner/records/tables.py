"""What goes out: every table of the program once, how its rows lead to a patient, and what of it stays.

A test holds the list to the models: a new table is entered here, or it goes red.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.apps import apps
from django.db.models import BinaryField, Field, Model, Q, QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from planner.patients.models import Patient
from planner.practice.models import Office

SECRET: Final = frozenset({"practice.Staff.password", "practice.Staff.last_login", "practice.Staff.password_once"})
"""Columns that go out nowhere."""
NOT_OUT: Final = {
    "patients.NameWord": "words of names for finding people; they follow from the names",
    "practice.SignedIn": "who is signed in at this moment, on which screen; it goes when that ends",
    "practice.Press": "which forms were sent today, so that none is done twice; hashes that name nobody",
    "practice.CodeSecret": "secrets by which people sign in",
    "practice.RecoveryCode": "secrets by which people sign in",
    "patients.PictureContent": "its bytes go out as files",
    "patients.PeopleFile": "a file that is being looked at; it is gone when it is taken, or after a day",
}
"""Tables that go out nowhere, and why."""


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a copy."""

    label: str
    path: str
    """From a row to its patient, as a query writes it; ``|`` between several ways, empty for what belongs to none."""
    words: str | Promise
    """What its rows are; for patients in both languages."""

    @property
    def model(self) -> type[Model]:
        return apps.get_model(self.label)

    @property
    def name(self) -> str:
        """Of its two files, without their endings."""
        return self.label.lower()

    @property
    def paths(self) -> tuple[str, ...]:
        """The ways from a row to its patient."""
        return tuple(path.strip() for path in self.path.split("|") if path.strip())

    @property
    def columns(self) -> "tuple[Field[Any, Any], ...]":
        """What stands in the files: no bytes, which are files of their own, no secret, and no office, which is one."""
        return tuple(
            field
            for field in self.model._meta.concrete_fields
            if not isinstance(field, BinaryField)
            and f"{self.label}.{field.name}" not in SECRET
            and field.name not in ("id", "office")
        )

    def rows(self, office: Office, patient: Patient | None) -> QuerySet[Model]:
        """The rows of the office, or of one patient, in the order in which they were written.

        What was set aside as a wrong picture belongs to nobody's own copy: it may show somebody else.
        """
        found = self.model._default_manager.order_by("pk")
        if self.label == "practice.Office":
            return found.filter(pk=office.pk)
        found = found.filter(office=office)
        if patient is None:
            return found
        ways = Q()
        for path in self.paths:
            ways |= Q(**{path: patient.pk})
        found = found.filter(ways)
        return found.exclude(**{_SET_ASIDE[self.label]: False}) if self.label in _SET_ASIDE else found


_SET_ASIDE: Final = {
    "patients.PictureFile": "set_aside__isnull",
    "patients.PictureReading": "file__set_aside__isnull",
    "patients.PictureSetAside": "file__set_aside__isnull",
    "plans.CasePicture": "picture__file__set_aside__isnull",
}

PATIENTS: Final = (
    Table("patients.Patient", "pk", _("You: name, birth date, telephone, language, contact")),
    Table("patients.JoinedFile", "kept | joined", _("Whether two files of yours were joined, and by whom")),
    Table("patients.HistoryForm", "patient", _("Medical histories as they were signed")),
    Table("patients.AnyChange", "form__patient", _("Answers to “has anything changed since you signed?”")),
    Table("patients.Examination", "patient", _("Examinations: who measured, when, with what")),
    Table("patients.ToothReading", "examination__patient", _("What was measured and found at each tooth")),
    Table("patients.GapReading", "examination__patient", _("Gaps between teeth")),
    Table("patients.AbsentReading", "examination__patient", _("Teeth that are not there")),
    Table("patients.PlaceReading", "examination__patient", _("Places where no tooth stands")),
    Table("patients.PictureFile", "patient", _("Photographs and X-rays; the pictures are in the folder “pictures”")),
    Table("patients.PictureReading", "patient", _("What a dentist saw in a picture")),
    Table("patients.PictureSetAside", "file__patient", _("Pictures that count no more, and why")),
    Table("patients.CoverVersion", "patient", _("Covers of yours: who may pay for part of it")),
    Table("patients.BenefitUsed", "patient", _("What of a cover was used up, as it was told")),
    Table("patients.PayerQuestion", "patient", _("Questions to those who may pay")),
    Table("patients.PayerAnswer", "question__patient", _("Their answers")),
    Table("plans.Case", "patient", _("Your wishes, and what was decided around them")),
    Table("plans.CasePicture", "case__patient", _("Which readings of pictures a plan rests on")),
    Table(
        "plans.FrozenPlan", "case__patient", _("Plans as checked by a dentist; each is a file in the folder “plans”")
    ),
    Table("plans.Estimate", "case__patient", _("Estimates: number, version, what you answered")),
    Table("plans.Showing", "estimate__case__patient", _("When and how an estimate was shown to you")),
    Table("plans.Arrangement", "estimate__case__patient", _("Paying in parts")),
    Table("plans.PriceRequest", "estimate__case__patient", _("When you asked for a price, or for a day")),
    Table("plans.PayerGuess", "estimate__case__patient", _("Guesses of what a payer adds; in the folder “payers”")),
    Table("plans.PayerPaid", "guess__estimate__case__patient", _("What a payer paid in the end")),
    Table("plans.AcceptedPlan", "patient", _("Treatments that you said yes to, with the prices of that day")),
    Table("plans.PlanMove", "plan__patient", _("How far each of them came, and when")),
    Table("plans.PriceHold", "plan__patient", _("Until when prices were confirmed")),
    Table("plans.Amendment", "plan__patient", _("Changes to what was agreed")),
    Table("plans.Agreement", "amendment__plan__patient", _("Who agreed to a change")),
    Table("plans.Item", "plan__patient", _("The pieces of work, one by one")),
    Table("plans.ItemPrice", "item__plan__patient", _("What each piece costs")),
    Table("plans.TakeOver", "case__patient", _("When another dentist took your case over")),
    Table("plans.OtherSay", "case__patient", _("Who else must agree to a treatment, and what they said")),
    Table("plans.ConsentStop", "item__plan__patient", _("Pieces that may not begin because consent was taken back")),
    Table("plans.StageEarned", "item__plan__patient", _("What was earned by work that was done")),
    Table("plans.Payment", "plan__patient", _("What came in, and what went back")),
    Table("plans.Refund", "plan__patient", _("Money to go back")),
    Table("plans.PlanCharge", "plan__patient", _("What was charged beside the work")),
    Table("plans.BalanceSheet", "plan__patient", _("How the account stood when a treatment ended early")),
    Table("plans.BalanceCall", "sheet__plan__patient", _("Calls about what was owed then")),
    Table("letters.Document", "frozen__case__patient", _("Papers; the files are in the folder “papers”")),
    Table(
        "letters.ReadingReason", "document__frozen__case__patient", _("Why a paper that is hard to read was let pass")
    ),
    Table("letters.Consent", "case__patient", _("Consents, and how far each is")),
    Table("letters.Handing", "consent__case__patient", _("When and how a letter was handed over")),
    Table(
        "letters.Question",
        "consent__case__patient | estimate__case__patient",
        _("Questions you asked about a letter or an estimate"),
    ),
    Table(
        "letters.QuestionAnswer",
        "question__consent__case__patient | question__estimate__case__patient",
        _("What was answered"),
    ),
    Table("letters.TalkHeld", "consent__case__patient", _("Talks about a letter")),
    Table("letters.Signature", "consent__case__patient", _("What was signed, word for word, with its hash")),
    Table("letters.Countersignature", "signature__consent__case__patient", _("The dentist's own signature beside it")),
    Table("letters.Withdrawal", "consent__case__patient", _("Consents taken back, in the words used")),
    Table("visits.Visit", "patient", _("Visits: when, with whom, what for")),
    Table("visits.VisitMove", "visit__patient", _("How visits were booked, moved, kept or missed")),
    Table("visits.VisitItem", "visit__patient", _("Which pieces of work a visit was for")),
    Table("visits.LateFee", "visit__patient", _("Fees for late cancelling, asked or waived")),
    Table("visits.LaboratoryCase", "patient", _("Work made in a laboratory")),
    Table("visits.LaboratoryMove", "case__patient", _("When laboratory work was sent and came back")),
    Table("visits.StepSheetCopy", "visit__patient", _("Step by step, what was to be done at a visit")),
    Table("visits.StepStamp", "sheet__visit__patient", _("When each step was done")),
    Table("visits.StepLot", "sheet__visit__patient", _("Which material, with its lot number")),
    Table("visits.StepAmount", "sheet__visit__patient", _("How much material a visit used")),
    Table("visits.ChairNote", "sheet__visit__patient", _("What was found or done otherwise at a visit")),
    Table("visits.NoteSettled", "note__sheet__visit__patient", _("What followed from such a note")),
    Table("visits.StepsClosed", "sheet__visit__patient", _("When the sheet of a visit was closed")),
    Table("followup.AgreedCall", "estimate__case__patient", _("Days on which you said you may be called")),
    Table("followup.MadeCall", "estimate__case__patient", _("Calls about an estimate")),
    Table("story.EmergencyOpening", "patient", _("Openings of your file in an emergency, and why")),
    Table("story.OpeningSeen", "opening__patient", _("Who looked at such an opening afterwards")),
    Table("story.Problem", "patient", _("Problems and complaints, as they were told")),
    Table("story.ProblemStep", "problem__patient", _("What was done about them")),
    Table("followup.Review", "plan__patient", _("Reviews of finished work")),
    Table("followup.ReviewTooth", "review__plan__patient", _("How each tooth was found at a review")),
    Table("followup.ReviewWish", "review__plan__patient", _("How far you said a wish is met")),
)
"""Tables whose rows belong to somebody: a patient's own copy holds these."""
OFFICE: Final = (
    Table("practice.Office", "", "the office"),
    Table("practice.Staff", "", "people who sign in, without their passwords"),
    Table("practice.StaffRole", "", "what each of them may be"),
    Table("practice.BookVersion", "", "the office book: prices, minutes, materials, settings, version by version"),
    Table("practice.BookFile", "", "files that were sent to be taken into the book; in the folder “book-files”"),
    Table("practice.LegalProposal", "", "settings with legal weight that were proposed, and the answers"),
    Table("practice.StockLot", "", "lots of materials that came in"),
    Table("practice.StockMove", "", "what was taken from them, and when"),
    Table("practice.WorkTiming", "", "how long pieces of work took"),
    Table("practice.MinutesAdopted", "", "minutes that were taken into the book from that"),
    Table("patients.PayerPlan", "", "plans of payers, as they were told"),
    Table("visits.Chair", "", "chairs"),
    Table("visits.WorkWeek", "", "who works when"),
    Table("visits.Absence", "", "who was away"),
    Table("visits.BlockedTime", "", "times that were kept free"),
    Table("records.OfficeCopy", "", "copies of the office that were asked for"),
    Table("trail.TrailEntry", "", "the record of who did what, chained by hashes"),
    Table("trail.TrailDetail", "", "what each entry was about, with the salt of its digest"),
    Table("trail.Erasure", "", "files that were erased: by whom, why, the hashes of their papers"),
    Table("keeping.EraseRequest", "", "questions whether a file may be erased, and their answers"),
)
"""Tables of the office itself: only the copy of the whole office holds these."""
RAW: Final = frozenset({"trail.TrailEntry", "trail.TrailDetail"})
"""Tables of which numbers stand as they are kept, office and people too: the hashes are over them."""


def tables(patient: Patient | None) -> tuple[Table, ...]:
    """The tables of a patient's own copy, or of the whole office's."""
    return PATIENTS if patient is not None else PATIENTS + OFFICE


@dataclass(frozen=True, slots=True)
class FileKind:
    """Bytes that go out as files of their own: one per row, one row in memory at a time."""

    label: str
    column: str
    folder: str
    path: str
    """From the row to its patient; empty for what belongs to none."""
    hashed: str
    """Where the row keeps the SHA-256 of these bytes; empty where it keeps none."""
    set_aside: str = ""

    def rows(self, office: Office, patient: Patient | None) -> QuerySet[Model]:
        """The rows that have such bytes. Pictures that were set aside are shown to nobody, so they stay."""
        found: QuerySet[Model] = apps.get_model(self.label)._default_manager.filter(office=office).order_by("pk")
        found = found.filter(**{f"{self.column}__isnull": False})
        if self.set_aside:
            found = found.filter(**{self.set_aside: True})
        return found if patient is None else found.filter(**{self.path: patient.pk})


FILES: Final = (
    FileKind("letters.Document", "content", "papers", "frozen__case__patient", "sha256"),
    FileKind(
        "patients.PictureContent", "original", "pictures", "file__patient", "file__sha256", "file__set_aside__isnull"
    ),
    FileKind("plans.FrozenPlan", "content", "plans", "case__patient", "sha256"),
    FileKind("plans.AcceptedPlan", "part", "parts", "patient", ""),
    FileKind("plans.Arrangement", "content", "instalments", "estimate__case__patient", "sha256"),
    FileKind("plans.PayerGuess", "content", "payers", "estimate__case__patient", "sha256"),
    FileKind("practice.BookFile", "data", "book-files", "", "sha256"),
)
MADE_AGAIN: Final = frozenset(
    {"patients.PictureContent.shown", "patients.PictureContent.small", "patients.PeopleFile.data"}
)
"""Bytes that go out nowhere: they are made from others, or are gone in a day."""


def file_kinds(patient: Patient | None) -> Iterator[FileKind]:
    """The kinds of files of a patient's own copy, or of the whole office's."""
    return (kind for kind in FILES if patient is None or kind.path)


FOLDERS: Final[Mapping[str, str | Promise]] = {
    "papers": _("Papers as they were made, PDF: letters, estimates, receipts, signed copies"),
    "pictures": _("Photographs and X-rays, as they came"),
    "plans": _("Plans as a dentist checked them, JSON; papers print the hash of these files"),
    "parts": _("Where a part of an option was accepted: that part as it was worked out, JSON"),
    "instalments": _("Agreements to pay in parts, JSON"),
    "payers": _("Guesses of what a payer adds, JSON"),
    "book-files": "Files that were sent to be taken into the office book, as they came",
    "tables": _("Every row kept about you, each table twice: JSON for programs, CSV for spreadsheets"),
    "fhir": _("The same for other programs, by the open standard HL7 FHIR, release 4B"),
}
"""What is in each folder of a copy."""
