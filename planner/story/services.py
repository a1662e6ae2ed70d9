"""What is done on this floor: opening a file in an emergency, looking at that, writing problems down, printing."""

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from planner.patients.models import Patient
from planner.patients.names import plain
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.models import Staff
from planner.story.models import EmergencyOpening, OpeningSeen, Problem, ProblemStep
from planner.trail.errors import Refused
from planner.trail.services import Subject, record, record_refusal


def open_in_emergency(*, patient: Patient, reason: str, actor: Staff, now: datetime) -> EmergencyOpening:
    """Let ``actor`` read the medical side of a file once, whatever their role. The patient's office is told.

    Only somebody who may act in an emergency at all, with a reason typed. Raises Refused, NotAllowed.
    """
    require(actor, Act.RUN, Thing.EMERGENCY, subject=patient)
    _need_words(reason, "reason", _("Say what has happened: the reason is kept, and the manager is told."))
    elsewhere = actor.office.name if actor.office_id != patient.office_id else ""
    with transaction.atomic():
        row = EmergencyOpening.objects.create(
            office=patient.office, patient=patient, reason=reason.strip(), from_office=elsewhere, by=actor, at=now
        )
        record(actor=actor, act="patient.emergency", subject=patient, reason=reason.strip(), at=now)
    actor.opened = None
    return row


def find_elsewhere(*, name: str, birth_date: date, actor: Staff, now: datetime) -> Patient:
    """The one patient of another office with exactly this name and birth date.

    The only place where an office's wall has a door. Nothing is listed: name and day must both be known already.
    Raises Refused, recorded, when there is nobody or more than one; NotAllowed.
    """
    require(actor, Act.RUN, Thing.EMERGENCY)
    rows = Patient.objects.exclude(office=actor.office).filter(birth_date=birth_date).select_related("office")
    found = [one for one in rows if plain(one.name) == plain(name)]
    if len(found) == 1:
        return found[0]
    sentence = _("No single file of another office has this name and birth date: ask how it is written there.")
    subject = Subject("patients.patient", "")
    record_refusal(actor=actor, act="patient.emergency", subject=subject, reason="nobody, or more than one", at=now)
    raise Refused(sentence, field="name")


def opening_seen(*, opening: EmergencyOpening, words: str, actor: Staff, now: datetime) -> OpeningSeen:
    """A manager or owner looked at an emergency opening; nobody does so for their own. Raises Refused, NotAllowed."""
    require_own(actor, opening)
    require(actor, Act.APPROVE, Thing.EMERGENCY, subject=opening)
    if opening.by_id == actor.pk:
        raise Refused(_("It was you who opened the file: somebody else looks at it."))
    with transaction.atomic():
        held = EmergencyOpening.objects.select_for_update().get(pk=opening.pk)
        before = OpeningSeen.objects.filter(opening=held).select_related("by").first()
        if before is not None:
            noted = done_by(_("looked into"), before.by, before.at, held.office)
            raise Refused(
                _("Somebody has looked at it already: %(noted)s (“%(words)s”).")
                % {"noted": noted, "words": before.words}
            )
        row = OpeningSeen.objects.create(office=held.office, opening=held, words=words.strip(), by=actor, at=now)
        record(actor=actor, act="emergency.seen", subject=held, content={"words": row.words}, at=now)
    return row


def unseen_openings(actor: Staff) -> int:
    """How many emergency openings of the office nobody has looked at yet. One query."""
    return EmergencyOpening.objects.filter(office=actor.office, seen__isnull=True).count()


def tell_problem(
    *, patient: Patient, told_at: datetime, told_by: str, how: str, words: str, actor: Staff, now: datetime
) -> Problem:
    """Write down a problem as it was told. Raises Refused for an instant to come or without words, NotAllowed."""
    require_own(actor, patient)
    require(actor, Act.CREATE, Thing.PROBLEM, subject=patient)
    _not_to_come(told_at, now)
    _need_words(told_by, "told_by", _("Say who told it."))
    _need_words(how, "how", _("Say how it was told."))
    _need_words(words, "words", _("Write down what was told, in their words."))
    with transaction.atomic():
        row = Problem.objects.create(
            office=patient.office,
            patient=patient,
            told_at=told_at,
            told_by=told_by.strip(),
            how=how.strip(),
            words=words.strip(),
            by=actor,
            at=now,
        )
        content = {"told_at": told_at.isoformat(), "told_by": row.told_by, "how": row.how}
        record(actor=actor, act="problem.told", subject=row, content=content, at=now)
    return row


def note_step(*, problem: Problem, done_at: datetime, words: str, actor: Staff, now: datetime) -> ProblemStep:
    """Write down what was done about a problem. Raises Refused before it was told or in the future, NotAllowed."""
    require_own(actor, problem)
    require(actor, Act.CREATE, Thing.PROBLEM, subject=problem)
    _not_to_come(done_at, now)
    if done_at < problem.told_at:
        raise Refused(_("That is before the office learned of the problem."), field="hour")
    _need_words(words, "words", _("Say what was done."))
    with transaction.atomic():
        row = ProblemStep.objects.create(
            office=problem.office, problem=problem, done_at=done_at, words=words.strip(), by=actor, at=now
        )
        record(actor=actor, act="problem.step", subject=row, content={"done_at": done_at.isoformat()}, at=now)
    return row


def printed(*, patient: Patient, what: str, sha256: str, pages: int, actor: Staff, now: datetime) -> None:
    """Record that a page of this floor was printed: which, and the hash of the file that went out."""
    require_own(actor, patient)
    with transaction.atomic():
        content = {"what": what, "sha256": sha256, "pages": pages}
        record(actor=actor, act="story.print", subject=patient, content=content, at=now)
    actor.opened = None


def _not_to_come(instant: datetime, now: datetime) -> None:
    if instant > now:
        raise Refused(_("That lies in the future: write the day and hour on which it was."), field="hour")


def _need_words(words: str, field: str, sentence: str) -> None:
    if not words.strip():
        raise Refused(sentence, field=field)
