"""Signing a letter: every guard, then the record, the signed copy, and what the signature sets free."""

import json
import secrets
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from planner.letters.consent_models import Consent, Countersignature, Signature
from planner.letters.consent_standing import Before, Facing, before_signing, facing_signature, newest_handing
from planner.letters.consents import held_consent, move, questions_of
from planner.letters.models import Document
from planner.letters.pdf import Job, PaperError, Rendered, render
from planner.letters.sheet_said import sheet_context
from planner.letters.sign_words import intent
from planner.letters.signed_copy import KEY, sheet_job, signed_copy
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.consent_stops import let_items_go_on
from planner.plans.facts import case_facts
from planner.practice.access import Act, Thing, may, require, require_own
from planner.practice.before import done_by
from planner.practice.books import current_book, today
from planner.practice.models import Staff
from planner.rules.consent_states import ConsentState
from planner.rules.mouth import Person
from planner.rules.partial import pieces_of
from planner.rules.results import sha256
from planner.rules.signing import CONSENTS, Choice, Said, Talk, age, entitled, faults, is_minor
from planner.rules.words import ENGLISH, speaking
from planner.trail.errors import Refused
from planner.trail.models import TrailEntry
from planner.trail.services import record


@dataclass(frozen=True, slots=True)
class Around:
    """What is known about the signing beside what was stated: kept as evidence, judged by nobody."""

    device: str = ""
    """Which tablet or desk, and what its browser calls itself."""
    address: str = ""
    read: Mapping[str, Any] = field(default_factory=dict)
    """Which parts were on the screen, when, and how far the letter was scrolled; empty where no script ran."""
    said_again: bool = False
    """Whether whoever is signed in wrote the own password with the very act."""
    electronic_agreed: bool | None = None
    """Whether signing on the screen, rather than on paper, was agreed to after being told of paper; None: not asked."""


def talk_of(clinician: Staff, licence: str, held_on: date | None) -> Talk:
    """The dentist who held the talk, and on which day, as it is stated."""
    dentist = clinician.is_active and may(clinician, Act.APPROVE, Thing.LETTER)
    return Talk(clinician.full_name, clinician.role_words, " ".join(licence.split()), dentist, held_on)


def licence_of(clinician: Staff) -> str:
    """The licence number under which ``clinician`` signed last; empty where there is none yet."""
    last = Countersignature.objects.filter(by=clinician).order_by("-pk").first()
    return last.licence if last else ""


def sign_letter(
    *,
    consent: Consent,
    letter_sha256: str,
    said: Said,
    clinician: Staff,
    around: Around | None = None,
    actor: Staff,
    now: datetime,
    make: Callable[[Job], Rendered] = render,
) -> Signature:
    """Sign the letter whose file has the hash ``letter_sha256``, as ``said``, after a talk with ``clinician``.

    Guards are those of :data:`planner.rules.consent_states.CONSENT` and :func:`planner.rules.signing.faults`. The
    dentist who held the talk countersigns at once when signed in, else with :func:`countersign`. A yes lets items go on
    that stood still. The demonstration calls this after :func:`planner.letters.consents.hand_letter`, with the instant
    of the signing as ``now``: ``said`` needs signer, basis, ``typed`` as the signer, ``id_seen``, ``understood`` and
    ``copy``, and ``talk=talk_of(clinician, licence, held_on)``.

    Rendering takes a second or so and happens outside any transaction. Raises Refused with every fault, NotAllowed.
    """
    require(actor, Act.RUN, Thing.LETTER, subject=consent)
    require_own(actor, consent)
    require_own(actor, clinician)
    known = around or Around()
    # What was stated is judged before anything is drawn; what others may change meanwhile, once, while the row is held.
    facing, person = facing_signature(consent, now), person_of(consent, now)
    letter = facing.document
    _refuse(_wrong(consent, facing, said, person, now))
    if letter.sha256 != letter_sha256:
        raise Refused(_("The letter has changed since it was opened: look at what is new, then sign."), field="letter")
    words = _stated(consent, facing, said, person, clinician, known, actor, now)
    try:
        sheet = make(sheet_job(letter, sheet_context(consent, letter, json.loads(words))))
    except PaperError as error:
        raise Refused(str(error)) from None
    content, pages = signed_copy(bytes(letter.content), sheet.content, words)
    with transaction.atomic():
        held = held_consent(consent)
        # Whatever came between is found here: a question, a newer letter, another handing over.
        before, _person = guard_signing(held, letter_sha256, said, now)
        if _handed(held) != json.loads(words)["handed"] or _asked(held) != json.loads(words)["questions"]:
            raise Refused(_("Something was handed over or asked meanwhile: look at it, then sign."))
        copy = _store(letter, content, pages, words, actor, now)
        signature = Signature.objects.create(
            office=held.office,
            consent=held,
            document=letter,
            document_sha256=letter.sha256,
            copy=copy,
            content=words,
            sha256=sha256(words.encode()),
            signer=said.signer.strip(),
            basis=str(said.basis),
            method=str(said.method),
            choice=str(said.choice),
            pieces=list(said.pieces),
            clinician=clinician,
            signed_on=today(held.office, now),
            by=actor,
            at=now,
        )
        move(held, ConsentState.SIGNED, before.facts)
        if said.choice in CONSENTS:
            _let_go_on(held, signature, actor, now)
        if actor.pk == clinician.pk:
            _countersign(signature, said.talk.licence, actor, now)
        noted = {"letter": letter.sha256, "signature": signature.sha256, "copy": copy.sha256, "choice": said.choice}
        record(actor=actor, act="consent.sign", subject=signature, content=noted, at=now)
    return signature


def countersign(*, signature: Signature, licence: str, actor: Staff, now: datetime) -> Countersignature:
    """The dentist who held the talk confirms what was signed. Raises Refused, NotAllowed."""
    require(actor, Act.APPROVE, Thing.LETTER, subject=signature)
    require_own(actor, signature)
    if actor.pk != signature.clinician_id:
        raise Refused(_("%(name)s held the talk and countersigns.") % {"name": signature.clinician.full_name})
    if not licence.strip():
        raise Refused(_("Write your licence number."), field="licence")
    with transaction.atomic():
        held_consent(signature.consent)
        row = Countersignature.objects.filter(signature=signature).select_related("by").first()
        if row is not None:
            who = done_by(_("countersigned"), row.by, row.at, row.office)
            raise Refused(_("It is countersigned already: %(who)s.") % {"who": who})
        return _countersign(signature, " ".join(licence.split()), actor, now)


def person_of(consent: Consent, now: datetime) -> Person:
    """Who the letter is about, as known today."""
    return case_facts(consent.case, today(consent.office, now)).patient


def guard_signing(consent: Consent, letter_sha256: str, said: Said, now: datetime) -> tuple[Before, Person]:
    """What stands before the signature, and who it is about.

    Raises Refused with everything that is against it, in the language of the letter.
    """
    person = person_of(consent, now)
    book, day = current_book(consent.office, today(consent.office, now)), today(consent.office, now)
    handing = newest_handing(consent)
    waits = said.choice in CONSENTS
    with speaking(handing.document.language if handing is not None else ENGLISH):
        may_sign = entitled(person, said.signer, said.basis, book, day)
        before = before_signing(consent, now, signed_sha256=letter_sha256, signer_entitled=may_sign, waits=waits)
        wrong = _wrong(consent, before, said, person, now)
        wrong += [("", sentence) for sentence in before.refused if sentence not in {words for _field, words in wrong}]
    _refuse(wrong)
    return before, person


def nothing_to_sign(consent: Consent) -> str:
    """Why ``consent`` is not signed any more."""
    return _("Nothing is to be signed here: the consent is %(state)s.") % {"state": consent.state}


def _wrong(consent: Consent, facing: Facing, said: Said, person: Person, now: datetime) -> list[tuple[str, str]]:
    """What is wrong with what was stated, by the input at fault. Raises Refused where nothing is to be signed."""
    if consent.state == ConsentState.SIGNED:
        raise Refused(_("This letter is signed already."))
    if consent.state in (ConsentState.WITHDRAWN, ConsentState.REPLACED):
        raise Refused(nothing_to_sign(consent))
    day = today(consent.office, now)
    with speaking(facing.document.language):
        wrong = list(faults(said, person, current_book(consent.office, day), day))
    if said.choice == Choice.PART and facing.option is not None:
        known = {piece.key for piece in pieces_of(facing.option)}
        if odd := sorted(set(said.pieces) - known):
            wrong.append(("pieces", _("“%(piece)s” is no piece of this option.") % {"piece": odd[0]}))
    return wrong


def _refuse(wrong: list[tuple[str, str]]) -> None:
    if wrong:
        raise Refused(" ".join(words for _field, words in wrong), field=wrong[0][0], faults=wrong)


def _stated(
    consent: Consent,
    facing: Facing,
    said: Said,
    person: Person,
    clinician: Staff,
    around: Around,
    actor: Staff,
    now: datetime,
) -> str:
    """Everything that is kept about the signing, as canonical JSON."""
    letter, day = facing.document, today(consent.office, now)
    book = current_book(consent.office, day)
    chain = TrailEntry.objects.order_by("-sequence").values_list("sequence", "hash").first() or (0, "")
    stated = {
        "format": "leastways-signature",
        "version": 1,
        "salt": secrets.token_hex(16),
        "letter": {
            "document": letter.public_id,
            "sha256": letter.sha256,
            "plan_sha256": letter.plan_sha256,
            "issue_sha256": letter.issue_sha256,
            "rules_sha256": letter.frozen.rules_sha256,
            "version": letter.version_words,
            "language": letter.language,
            "points": letter.points,
            "pages": letter.pages,
            "option": consent.option_key,
            "option_words": facing.option.name if facing.option else "",
        },
        "intent": intent(letter.language),
        "patient": {
            "name": person.name,
            "birth_date": person.birth_date.isoformat(),
            "age": age(person, book, day),
            "minor": is_minor(person, book, day),
        },
        "said": _plain_said(said, facing),
        "clinician": {"staff": clinician.public_id} | asdict(said.talk),
        "staff": {"staff": actor.public_id, "name": actor.full_name, "roles": actor.role_words},
        "handed": _handed(consent),
        "questions": _asked(consent),
        "wait": asdict(facing.wait) if facing.wait else None,
        "around": {
            "device": around.device,
            "address": around.address,
            "read": dict(around.read),
            "said_again": around.said_again,
            "electronic_agreed": around.electronic_agreed,
        },
        "at": now.astimezone(UTC).isoformat(),
        "zone": consent.office.time_zone,
        "clock": "server",
        "trail": {"sequence": chain[0], "hash": chain[1]},
    }
    return json.dumps(stated, sort_keys=True, ensure_ascii=False, separators=(",", ":"), default=str)


def _handed(consent: Consent) -> list[dict[str, str]]:
    return [
        {"to": row.to, "how": row.channel, "at": row.handed_at.astimezone(UTC).isoformat()}
        for row in consent.handings.all()
    ]


def _asked(consent: Consent) -> list[dict[str, Any]]:
    return [
        {"asked": row.words, "by": row.asked_by, "answers": [[one.words, one.by.full_name] for one in answers]}
        for row in questions_of(consent).prefetch_related("answers__by")
        for answers in [list(row.answers.all())]
    ]


def _plain_said(said: Said, facing: Facing) -> dict[str, Any]:
    plain = asdict(said)
    del plain["talk"]
    words = {piece.key: piece.words for piece in pieces_of(facing.option)} if facing.option else {}
    return plain | {"piece_words": [words[key] for key in said.pieces if key in words]}


def _store(letter: Document, content: bytes, pages: int, words: str, actor: Staff, now: datetime) -> Document:
    copy = Document.objects.create(
        office=letter.office,
        frozen=letter.frozen,
        estimate=letter.estimate,
        kind=KEY,
        version_words=letter.version_words,
        language=letter.language,
        points=letter.points,
        paper=letter.paper,
        # What was signed is what this paper was made of beside the letter.
        issue_sha256=sha256(words.encode()),
        plan_sha256=letter.plan_sha256,
        content=content,
        sha256=sha256(content),
        pages=pages,
        created_by=actor,
        at=now,
    )
    noted = {"kind": KEY, "sha256": copy.sha256, "plan": copy.plan_sha256}
    record(actor=actor, act="document.make", subject=copy, content=noted, at=now)
    return copy


def _let_go_on(consent: Consent, signature: Signature, actor: Staff, now: datetime) -> None:
    for plan in AcceptedPlan.objects.filter(estimate=consent.estimate, option_key=consent.option_key):
        let_items_go_on(plan=plan, words=f"signed: {signature.choice}", actor=actor, now=now)


def _countersign(signature: Signature, licence: str, actor: Staff, now: datetime) -> Countersignature:
    row = Countersignature.objects.create(
        office=signature.office, signature=signature, by=actor, licence=licence, at=now
    )
    noted = {"signature": signature.sha256, "licence": licence}
    record(actor=actor, act="consent.countersign", subject=signature, content=noted, at=now)
    return row
