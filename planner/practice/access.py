"""Who may do what: one table, and the two ways of asking it.

Access is by loading. A view gets an object only from :func:`load`, which answers 404 for what belongs to another
office and 403 for an act that the person's roles do not allow, and records both. Services ask :func:`require` again,
so that no second door stands open; :class:`planner.practice.middleware.StaffMiddleware` records what they refuse.
"""

from collections.abc import Mapping
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType
from typing import Any, Final, TypeVar

from django.db import transaction
from django.db.models import Model, QuerySet
from django.http import Http404

from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.trail.errors import NotAllowed
from planner.trail.services import Subject, record, record_refusal


class Act(StrEnum):
    """What can be done to a thing."""

    VIEW = "view"
    CREATE = "create"
    EDIT = "edit"
    APPROVE = "approve"
    RUN = "run"


class Thing(StrEnum):
    """What can be done something to."""

    IDENTITY = "identity"
    JOIN = "joined files"
    FLAGS = "medical flags"
    MEASUREMENTS = "measurements"
    FINDINGS = "findings"
    CASE = "case"
    LOCKS = "locks"
    PICTURES = "pictures"
    LARGE_PICTURES = "large pictures"
    OPTIONS = "options"
    ESTIMATE = "estimate"
    RELEASE = "release"
    LETTER = "letter"
    WITHDRAWAL = "withdrawal"
    BOOK = "office book"
    LEGAL = "legal settings"
    STAFF = "staff"
    TRAIL = "trail"
    STORY = "file story"
    EMERGENCY = "emergency opening"
    PROBLEM = "problem"
    ERASURE = "erasure"
    CASE_FILE = "case file"
    ACCEPTED = "accepted plan"
    AMENDMENT = "amendment"
    ITEM = "item"
    VISIT = "visit"
    DIARY = "diary"
    LABORATORY = "laboratory work"
    RECEIPT = "receipt"
    REFUND = "refund"
    BALANCE = "balance due"
    STOCK = "stock"
    TIMINGS = "timings"
    PAYER = "payer guess"
    CALL = "follow-up call"
    MONDAY = "Monday page"
    STEPS = "step sheet"
    REVIEW = "review"
    RESULTS = "results of work"
    RECORDS = "records out"
    COPY = "patient copy"


# Rows are things, columns are roles in the order of Role. V view, C create, E edit a draft, A approve or sign, R run.
# desk, desk lead, assistant, dentist, manager, owner dentist, system keeper, outside checker
_TABLE: Final = """
identity       | VCE | VCE | V   | V    | VCE | VCE  | -  | V
joined files   | -   | VC  | -   | VR  | VCA | VCRA | -  | V
medical flags  | C   | C   | VCE | VCEA | V   | VCEA | -  | V
measurements   | -   | -   | VC  | VCEA | V   | VCEA | -  | V
findings       | -   | -   | -   | VCA  | V   | VCA  | -  | V
case           | V   | V   | VCE | VCE  | V   | VCE  | -  | V
locks          | -   | -   | V   | VCEA | -   | VCEA | -  | V
pictures       | V   | V   | VC  | VC   | V   | VC   | -  | V
large pictures | -   | V   | V   | V    | V   | V    | -  | V
options        | V   | V   | V   | VA   | V   | VA   | -  | V
estimate       | VC  | VCE | -   | VCE  | VCE | VCE  | -  | V
release        | -   | R   | -   | RA   | -   | RA   | -  | V
letter         | VR  | VR  | VR  | VRA  | V   | VRA  | -  | V
withdrawal     | VC  | VC  | VC  | VC   | VC  | VC   | -  | V
office book    | V   | V   | -   | V    | VCE | VCEA | -  | V
legal settings | V   | V   | V   | V    | VC  | VCA  | -  | V
staff          | -   | -   | -   | -    | VC  | VCEA | VR | V
trail          | -   | -   | V   | V    | V   | V    | V  | V
file story     | -   | -   | -   | -    | VR  | VR   | -  | V
emergency opening| R | R   | R   | R    | RA  | RA   | -  | -
problem        | C   | C   | C   | VC   | VC  | VC   | -  | V
erasure        | -   | -   | -   | -    | VC  | VCRA | -  | V
case file      | -   | -   | V   | VCR  | -   | VCR  | -  | V
accepted plan  | VC  | VCE | V   | VCE  | VCE | VCE  | -  | V
amendment      | V   | V   | V   | VCA  | V   | VCA  | -  | V
item           | VE  | VE  | VE  | VEA  | VE  | VEA  | -  | V
visit          | VCE | VCE | VE  | VCE  | VCE | VCE  | -  | V
diary          | V   | VCE | V   | VCE  | VCE | VCE  | -  | V
laboratory work| VCE | VCE | VCE | VCE  | VCE | VCE  | -  | V
receipt        | VC  | VC  | -   | V    | VCE | VC   | -  | V
refund         | -   | VC  | -   | V    | VCA | VCRA | -  | V
balance due    | -   | -   | -   | V    | VC  | VC   | -  | V
stock          | V   | VCE | VCE | VCE  | VCE | VCE  | -  | V
timings        | -   | -   | VC  | VC   | VC  | VC   | -  | V
payer guess    | VC  | VCE | -   | -    | VCE | V    | -  | V
follow-up call | VC  | VC  | -   | VC   | VC  | VC   | -  | V
Monday page    | V   | V   | -   | V    | V   | V    | -  | V
step sheet     | V   | V   | VC  | VC   | V   | VC   | -  | V
review         | V   | V   | VC  | VC   | V   | VC   | -  | V
results of work| -   | -   | -   | V    | V   | V    | -  | V
records out    | -   | -   | -   | -    | VC  | VA   | VR | V
patient copy   | -   | -   | -   | -    | R   | R    | -  | -
"""


def _read_table(table: str) -> Mapping[tuple[Thing, Role], frozenset[Act]]:
    letters = {act.value[0].upper(): act for act in Act}
    cells: dict[tuple[Thing, Role], frozenset[Act]] = {}
    for line in table.strip().splitlines():
        thing, *columns = (cell.strip() for cell in line.split("|"))
        if any(Thing(thing) is known for known, _role in cells):
            raise ValueError(f'"{thing}" stands in the table twice; the later line would silently hold.')
        for role, cell in zip(Role, columns, strict=True):
            cells[Thing(thing), role] = frozenset(letters[letter] for letter in cell.replace("-", ""))
    return MappingProxyType(cells)


BEYOND: Final = (
    ("Nobody allows a discount they asked for, where asking is recorded.", "plans.discounting.allow_discount"),
    ("A price for the own family wants a second person's agreement.", "plans.discounting.allow_discount"),
    ("Nobody allows a refund they asked for, and whoever allowed it does not pay it.", "plans.account.pay_refund"),
    ("Nobody answers the change of a legal setting they proposed.", "practice.proposals.answer"),
    ("Nobody allows the copy of the whole office they asked for.", "records.services.answer_copy"),
    ("Whoever set a picture aside does not erase it, where the office has another owner dentist.",
     "patients.pictures.erase_picture"),
    ("Nobody agrees to an erasing they asked for.", "keeping.erasing.erase"),
    ("Nobody makes a password for one sign-in for themselves.", "practice.services.give_once"),
    ("Nobody changes their own roles or ends their own access.", "practice.services.change_roles"),
    ("Who is owner, manager or system keeper is decided by an owner dentist.", "practice.services.add_staff"),
    ("An office keeps at least one owner dentist.", "practice.services.end_access"),
    ("An outside checker has no other role, and a last day.", "practice.services.add_staff"),
    ("Two files are joined, and taken apart, by two people: who allowed or asked for it does not carry it out.",
     "patients.joining.carry_out"),
    ("A second dentist edits a case, decides in it, changes its accepted plan and marks its work done only after "
     "taking it over. Step sheets, chair notes, histories, measurements, problems and stopping a plan stay open to "
     "whoever is there.", "plans.treating.refuse_before_take_over"),
    ("A clinical question is answered by a dentist.", "letters.consents.answer_question"),
    ("A signature is countersigned by the dentist who held the talk.", "letters.consent_signing.countersign"),
    ("A setting with legal weight is set by an owner dentist; others propose it.", "practice.books.change_book"),
    ("A manager, an owner and a checker read the whole record of acts; a dentist or an assistant what they did "
     "themselves; a system keeper that something was done, without words or patients.", "story.access.trail_scope"),
    ("A file may be opened in an emergency by anybody of the staff, once, with the reason typed; the manager is told, "
     "and nobody looks into their own.", "story.services.open_in_emergency"),
)  # fmt: skip
"""Rules that no cell can say: a sentence, and the function below ``planner`` that holds it."""

WHY: Final = (
    "An owner dentist may write receipts: in a small office nobody else is there to take the money. What is wrong is "
    "voided beside it, never changed.",
    "A dentist sees receipts: a plan counts as booked only once its deposit has come or is waived by name.",
    "A manager sees letters and writes none: the manager answers for what left the office.",
    "An amendment is written by a dentist alone. It is priced by the list of the day of acceptance, so that nobody "
    "types an amount and there is none for a manager to approve. The desk drafts none, because it says what is done in "
    "a mouth; the chair's part is a note on the step sheet.",
)
"""Where an office might expect another cell: why the table says what it says."""

IN_A_FILE: Final = frozenset(
    {
        Thing.IDENTITY, Thing.JOIN, Thing.FLAGS, Thing.MEASUREMENTS, Thing.FINDINGS, Thing.CASE, Thing.LOCKS,
        Thing.PICTURES,
        Thing.LARGE_PICTURES, Thing.OPTIONS, Thing.ESTIMATE, Thing.RELEASE, Thing.LETTER, Thing.WITHDRAWAL,
        Thing.CASE_FILE, Thing.ACCEPTED, Thing.AMENDMENT, Thing.ITEM, Thing.VISIT, Thing.LABORATORY, Thing.RECEIPT,
        Thing.REFUND, Thing.BALANCE, Thing.PAYER, Thing.CALL, Thing.STEPS, Thing.STORY,
        Thing.EMERGENCY, Thing.PROBLEM, Thing.ERASURE, Thing.REVIEW, Thing.COPY,
    }
)  # fmt: skip
"""What stands in the file of one patient: a page that shows it is recorded as an opening of the file."""

MATRIX: Final = _read_table(_TABLE)
"""Every (thing, role) with the acts it allows; all of them are there."""


def may(actor: Staff, act: Act, thing: Thing) -> bool:
    """Whether one of the roles of ``actor`` allows ``act`` on ``thing`` within the own office."""
    return actor.is_active and any(act in MATRIX[thing, role] for role in actor.roles)


def require(actor: Staff, act: Act, thing: Thing, *, subject: Model | Subject | None = None) -> None:
    """Raise NotAllowed, which names act and thing, unless ``actor`` may. For services; a view loads instead."""
    if not may(actor, act, thing):
        raise _not_allowed(actor, act, thing, subject)


def require_own(actor: Staff, row: Model) -> None:
    """Raise NotAllowed when ``row`` belongs to another office: the last wall, should a view forget to load."""
    if getattr(row, "office_id", None) != actor.office_id:
        raise NotAllowed("This belongs to another office.", act="cross.office", subject=row)


Row = TypeVar("Row", bound=Model)


def load(rows: QuerySet[Row], public_id: str, *, actor: Staff, act: Act, thing: Thing, now: datetime) -> Row:
    """The row with this public id, if it is in the office of ``actor`` and ``actor`` may do ``act`` to such a thing.

    Raises Http404 when it is not there or belongs to another office, NotAllowed (403) when the act is not allowed; a
    refusal is recorded at once, so call this outside any transaction.
    """
    row = rows.filter(public_id=public_id).first()
    if row is None or getattr(row, "office_id", None) != actor.office_id:
        record_refusal(
            actor=actor,
            act=f"{thing}.{act}".replace(" ", "_"),
            subject=Subject(rows.model._meta.label_lower, public_id[:40]),
            reason="nothing has this id" if row is None else "another office",
            at=now,
        )
        raise Http404
    if not may(actor, act, thing):
        refusal = _not_allowed(actor, act, thing, row)
        write_refusal(refusal, actor=actor, now=now)
        raise refusal
    if thing in IN_A_FILE:
        actor.opened = row
    return row


def record_opened(actor: Staff, *, page: str, now: datetime) -> None:
    """Record the opening of what was loaded last from somebody's file, unless the view recorded it itself.

    ``page`` is the name of the address. Called once a page was drawn: what nobody got to see was not opened.
    """
    row, actor.opened = actor.opened, None
    if row is not None:
        with transaction.atomic():
            record(actor=actor, act="patient.view", subject=row, content={"page": page}, at=now)


def write_refusal(refusal: NotAllowed, *, actor: Staff, now: datetime) -> None:
    """Record a refusal in its own transaction, once."""
    if not refusal.recorded:
        record_refusal(actor=actor, act=refusal.act, subject=refusal.subject, reason=refusal.sentence, at=now)
        refusal.recorded = True


def _not_allowed(actor: Staff, act: Act, thing: Thing, subject: Any) -> NotAllowed:
    roles = actor.role_words or "nobody"
    return NotAllowed(
        f"To {act} {thing} is not among what {roles} may do here.",
        act=f"{thing}.{act}".replace(" ", "_"),
        subject=subject,
    )
