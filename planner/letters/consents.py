"""Handing a letter over, and what is asked and answered about it before anything is signed."""

import json
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext as _

from planner.letters.consent import KEY
from planner.letters.consent_models import Channel, Consent, Handing, Question, QuestionAnswer, TalkHeld
from planner.letters.models import Document
from planner.plans.estimates import read_frozen
from planner.plans.models import Case, Estimate, State
from planner.practice.access import Act, Thing, may, require, require_own
from planner.practice.before import done_by
from planner.practice.books import today
from planner.practice.models import Office, Staff
from planner.rules.consent_states import CONSENT, ConsentFacts, ConsentState
from planner.rules.moves import may_move
from planner.rules.results import sha256
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record

OPEN = (ConsentState.NONE, ConsentState.HANDED, ConsentState.QUESTIONS, ConsentState.SIGNED)
_NOT_SAID = ("handed_on", "questions", "verify_at")
"""What an issue passes in and does not change what the letter lays out."""


def option_of(document: Document) -> str:
    """Key of the option that a letter is about; empty where it is about none. Raises Refused for one made too early."""
    chosen: str = _issue(document)["chosen"]
    return chosen or read_frozen(document.frozen).recommended


def says(document: Document) -> str:
    """The SHA-256 over what a letter lays out: the same for every print size, sheet, language and day of printing."""
    kept = {name: value for name, value in _issue(document).items() if name not in _NOT_SAID}
    return sha256(json.dumps([document.plan_sha256, kept], sort_keys=True, ensure_ascii=False).encode())


def newer_than(document: Document) -> Document | None:
    """A later letter that stands in the place of this one: about the same option or of the same estimate."""
    assert document.estimate is not None
    later = Document.objects.filter(kind=KEY, frozen__case_id=document.frozen.case_id, pk__gt=document.pk)
    said, option = says(document), option_of(document)
    for one in later.exclude(issue="").select_related("frozen", "estimate").defer("content").order_by("-pk"):
        same = one.estimate is not None and one.estimate.number == document.estimate.number
        if says(one) != said and (option_of(one) == option or (same and one.estimate_id != document.estimate_id)):
            return one
    return None


def hand_letter(
    *,
    document: Document,
    to: str,
    channel: Channel,
    handed_at: datetime | None = None,
    actor: Staff,
    now: datetime,
) -> Consent:
    """Record that a letter was handed over; from here the time to think it over runs.

    A paper of the same content (another print size, a reprint) goes on with the consent that is there and starts no
    time anew; another content replaces what was handed before. Raises Refused, NotAllowed.
    """
    require(actor, Act.RUN, Thing.LETTER, subject=document)
    require_own(actor, document)
    when = handed_at or now
    estimate = document.estimate
    if document.kind != KEY or estimate is None or document.frozen.case_id != estimate.case_id:
        raise Refused(_("Only the consent letter of a checked estimate is handed over to be signed."), field="document")
    if estimate.state == State.REPLACED:
        raise Refused(_("This letter belongs to an estimate that was replaced: make it anew."), field="document")
    if when > now:
        raise Refused(_("It cannot have been handed over in the future."), field="handed_at")
    if when < document.at:
        raise Refused(_("It was made after that: what was handed over then was another paper."), field="handed_at")
    if not to.strip():
        raise Refused(_("Say to whom it was handed over."), field="to")
    if newer := newer_than(document):
        day = newer.at.astimezone(document.office.zone).date().isoformat()
        raise Refused(
            _("A newer letter was made on %(day)s: hand that one over.") % {"day": day}, field="document"
        )  # fmt: skip
    said, option = says(document), option_of(document)
    with transaction.atomic():
        # One at a time for a case, so that there is one consent to what is handed over.
        Case.objects.select_for_update().get(pk=estimate.case_id)
        consent = Consent.objects.filter(estimate=estimate, says_sha256=said, state__in=OPEN).first()
        if consent is None:
            consent = _new(estimate, option, said, now)
            consent = move(consent, ConsentState.HANDED, ConsentFacts(letter_sha256=document.sha256))
            _replace_others(consent, actor, now)
            if open_questions(consent):
                consent = move(consent, ConsentState.QUESTIONS, ConsentFacts())
        handing = Handing.objects.create(
            office=document.office,
            consent=consent,
            document=document,
            to=to.strip(),
            channel=channel,
            handed_at=when,
            by=actor,
            at=now,
        )
        content = {"letter": document.sha256, "to": handing.to, "how": str(channel), "at": when.isoformat()}
        record(actor=actor, act="consent.hand", subject=consent, content=content, at=now)
    return consent


def ask_question(
    *,
    consent: Consent | None = None,
    estimate: Estimate | None = None,
    words: str,
    asked_by: str,
    clinical: bool,
    owner: Staff | None = None,
    due_on: date | None = None,
    actor: Staff,
    now: datetime,
) -> Question:
    """Write a question about ``consent``, or about ``estimate``, down as it was asked; open, it keeps back a signature.

    ``owner`` sees to it that there is an answer by ``due_on``; left out, the dentist who checked the estimate owns what
    only a dentist answers, and whoever writes it down the rest. Raises Refused, NotAllowed.
    """
    about = consent or estimate
    assert about is not None
    assert consent is None or estimate is None
    require(actor, Act.RUN, Thing.LETTER, subject=about)
    require_own(actor, about)
    if not words.strip():
        raise Refused(_("Write the question down as it was asked."), field="words")
    if not asked_by.strip():
        raise Refused(_("Say who asked."), field="asked_by")
    checked = about.estimate if isinstance(about, Consent) else about
    sees_to_it = owner or (checked.checked_by if clinical else None) or actor
    require_own(actor, sees_to_it)
    if clinical and not may(sees_to_it, Act.APPROVE, Thing.LETTER):
        raise Refused(
            _("%(name)s is no dentist here: a dentist answers what is about treatment or health.")
            % {"name": sees_to_it.full_name},
            field="owner",
        )
    if due_on is not None and due_on < today(about.office, now):
        raise Refused(_("The day by which it is answered is past: write today or later."), field="due_on")
    with transaction.atomic():
        # Whoever hands a letter over holds the case: a question asked meanwhile is found by one of the two.
        Case.objects.select_for_update().get(pk=about.case_id)
        held = held_consent(consent) if consent is not None else None
        if held is not None and held.state not in OPEN:
            raise Refused(_("This consent is over: ask about the letter that is in force."))
        row = Question.objects.create(
            office=about.office,
            consent=held,
            estimate=estimate,
            words=words.strip(),
            asked_by=asked_by.strip(),
            clinical=clinical,
            owner=sees_to_it,
            due_on=due_on,
            by=actor,
            at=now,
        )
        for one in [held] if held is not None else _waiting(row):
            if one.state == ConsentState.HANDED:
                move(one, ConsentState.QUESTIONS, ConsentFacts())
        record(actor=actor, act="consent.ask", subject=about, content={"question": row.public_id}, at=now)
    return row


def answer_question(
    *, question: Question, words: str, seen: int | None = None, actor: Staff, now: datetime
) -> QuestionAnswer:
    """Answer a question; one about treatment or health is a dentist's.

    ``seen`` is how many answers whoever answers has seen: a better one is added knowingly, and a second one that was
    written beside the first is refused once, with what was answered meanwhile. Raises Refused, NotAllowed.
    """
    require(actor, Act.APPROVE if question.clinical else Act.RUN, Thing.LETTER, subject=question)
    require_own(actor, question)
    if not words.strip():
        raise Refused(_("Write down what was answered."), field="words")
    with transaction.atomic():
        Question.objects.select_for_update(of=("self",)).get(pk=question.pk)
        known = list(question.answers.select_related("by"))
        if known and seen is not None and len(known) != seen:
            noted = done_by(_("answered"), known[-1].by, known[-1].at, question.office)
            raise Refused(
                _("This was %(noted)s: “%(words)s” Record yours again if it is to stand beside that.")
                % {"noted": noted, "words": known[-1].words},
                field="words",
            )
        waiting = [held_consent(question.consent)] if question.consent is not None else _waiting(question)
        row = QuestionAnswer.objects.create(
            office=question.office, question=question, words=words.strip(), by=actor, at=now
        )
        for held in waiting:
            if held.state == ConsentState.QUESTIONS and not (left := len(open_questions(held))):
                move(held, ConsentState.HANDED, ConsentFacts(open_questions=left))
        about = question.consent or question.estimate
        record(actor=actor, act="consent.answer", subject=about, content={"question": question.public_id}, at=now)
    return row


def note_talk(
    *, consent: Consent, clinician: Staff, held_at: datetime, words: str = "", actor: Staff, now: datetime
) -> TalkHeld:
    """Record that a dentist talked the letter over with the patient. Raises Refused, NotAllowed."""
    require(actor, Act.RUN, Thing.LETTER, subject=consent)
    require_own(actor, consent)
    require_own(actor, clinician)
    if not may(clinician, Act.APPROVE, Thing.LETTER):
        raise Refused(
            _("%(name)s is no dentist here: the treating dentist holds the talk.") % {"name": clinician.full_name},
            field="clinician",
        )
    if held_at > now:
        raise Refused(_("It cannot have been held in the future."), field="held_on")
    with transaction.atomic():
        held = held_consent(consent)
        if held.state not in OPEN:
            raise Refused(_("This consent is over: talk about the letter that is in force."))
        row = TalkHeld.objects.create(
            office=held.office,
            consent=held,
            clinician=clinician,
            held_at=held_at,
            words=words.strip(),
            by=actor,
            at=now,
        )
        content = {"clinician": clinician.public_id, "at": held_at.isoformat()}
        record(actor=actor, act="consent.talk", subject=held, content=content, at=now)
    return row


def open_questions(consent: Consent) -> list[Question]:
    """Questions that nobody has answered yet, oldest first."""
    return list(questions_of(consent).filter(answers__isnull=True))


def questions_of(consent: Consent) -> QuerySet[Question]:
    """What was asked about the letter, and before that about its estimate, whichever issue was shown; oldest first."""
    return Question.objects.filter(Q(consent=consent) | Q(**_of_number(consent.estimate))).order_by("pk")


def questions_about(estimate: Estimate) -> QuerySet[Question]:
    """What was asked about an estimate and its letters, over all issues; oldest first."""
    letters = Q(consent__estimate__office=estimate.office_id, consent__estimate__number=estimate.number)
    return Question.objects.filter(letters | Q(**_of_number(estimate))).order_by("pk")


MOST_LISTED = 100


def still_open(office: Office) -> list[Question]:
    """What nobody has answered, the earliest day first and those without a day last.

    About a consent that is over, or somebody with whom all contact was stopped, nothing is left to answer.
    """
    rows = Question.objects.filter(office=office, answers__isnull=True)
    rows = rows.filter(Q(consent__state__in=OPEN) | Q(estimate__isnull=False))
    stopped = Q(consent__case__patient__stop_all=True) | Q(estimate__case__patient__stop_all=True)
    rows = rows.exclude(stopped)
    rows = rows.select_related("owner", "consent__estimate__case__patient", "estimate__case__patient")
    return list(rows.order_by(F("due_on").asc(nulls_last=True), "pk")[:MOST_LISTED])


def _of_number(estimate: Estimate) -> dict[str, Any]:
    return {"estimate__office": estimate.office_id, "estimate__number": estimate.number}


def _waiting(question: Question) -> list[Consent]:
    """The consents that a question about an estimate holds up, held."""
    assert question.estimate is not None
    rows = Consent.objects.filter(**_of_number(question.estimate), state__in=OPEN)
    return [held_consent(one) for one in rows.order_by("pk")]


def held_consent(consent: Consent) -> Consent:
    """The consent as it is saved, held until the transaction ends."""
    rows = Consent.objects.select_for_update(of=("self",)).select_related("office", "estimate", "case__patient")
    return rows.get(pk=consent.pk)


def move(consent: Consent, to: ConsentState, facts: ConsentFacts) -> Consent:
    """Move a consent that is held, if every guard allows it. Raises Refused with every reason."""
    if refused := may_move(CONSENT, consent.state, to, facts):
        raise Refused(" ".join(refused))
    return save_seen(consent, seen=consent.version, what="The consent", values={"state": str(to)})


def _issue(document: Document) -> dict[str, Any]:
    if not document.issue:
        raise Refused(_("This letter was made before its input was kept: make it anew, then hand it over."))
    read: dict[str, Any] = json.loads(document.issue)
    return read


def _new(estimate: Estimate, option: str, said: str, now: datetime) -> Consent:
    if refused := may_move(CONSENT, "", ConsentState.NONE, ConsentFacts()):
        raise Refused(" ".join(refused))
    return Consent.objects.create(
        office=estimate.office,
        case=estimate.case,
        estimate=estimate,
        option_key=option,
        says_sha256=said,
        state=str(ConsentState.NONE),
        at=now,
    )


def _replace_others(consent: Consent, actor: Staff, now: datetime) -> None:
    """What was handed before about the same option, or under the same number, is replaced."""
    before = Consent.objects.filter(case=consent.case, state__in=OPEN).exclude(pk=consent.pk)
    for other in before.select_related("estimate"):
        if other.option_key == consent.option_key or other.estimate.number == consent.estimate.number:
            move(other, ConsentState.REPLACED, ConsentFacts(next_letter_handed=True))
            record(actor=actor, act="consent.replace", subject=other, content={"by": consent.public_id}, at=now)
