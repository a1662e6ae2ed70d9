"""One person's rows as resources of HL7 FHIR: what :mod:`planner.rules.fhir` makes of them."""

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from django.db.models import Model

from planner.letters.consent_models import Consent
from planner.letters.consent_standing import lapse_of
from planner.letters.models import Document
from planner.patients.models import Patient, PictureContent
from planner.patients.payers import covers_of
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.models import Answer, Estimate, State
from planner.plans.payer_guesses import latest_guess, read_guess
from planner.records.tables import FileKind
from planner.rules import fhir
from planner.rules.benefit_sheets import GuessSheet, works_of
from planner.rules.consent_states import ConsentState
from planner.rules.fhir import Activity, ClaimLine, Resource
from planner.rules.frozen import thaw
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.rules.results import CasePlan, OptionShape
from planner.rules.signing import CONSENTS, Choice
from planner.rules.teeth import Tooth

_CHOSEN = (Answer.ALL.value, Answer.PART.value)
_PICTURE_TYPES = {"jpeg": "image/jpeg", "jpg": "image/jpeg", "png": "image/png", "webp": "image/webp"}


def bundle_of(patient: Patient, now: datetime) -> Resource:
    """Everything of one person that FHIR has a resource for here, as one collection.

    Documents are hashed one by one; only what is said about them is kept.
    """
    return fhir.bundle(resources_of(patient, now), at=now, key=patient.public_id)


def resources_of(patient: Patient, now: datetime) -> Iterator[Resource]:
    """The office, the person, and then plans, claims, documents and consents, each after what it refers to."""
    office = patient.office
    yield fhir.organization(office.public_id, office.name, office.place)
    yield fhir.patient(
        patient.public_id,
        name=patient.name,
        born=patient.birth_date,
        language=patient.language,
        office=office.public_id,
        phone=patient.phone,
        sex=patient.sex,
    )
    yield from _covers(patient)
    estimates = Estimate.objects.filter(case__patient=patient, frozen__isnull=False)
    for estimate in estimates.select_related("frozen", "checked_by", "case").order_by("pk"):
        yield from _of_estimate(patient, estimate)
    plans = AcceptedPlan.objects.filter(patient=patient).select_related("frozen", "estimate", "created_by")
    for plan in plans.order_by("pk"):
        yield _accepted(patient, plan)
    yield from _documents(patient)
    yield from _consents(patient, now)


def option_key(estimate: Estimate, option: str) -> str:
    """The key of one option of one estimate among resources."""
    return fhir.key_of(estimate.public_id, option)


def path_of(kind: FileKind, row: Model) -> str:
    """Where the bytes of ``row`` lie in a copy. No name of a file names a person."""
    if isinstance(row, Document):
        return f"papers/{row.file_name}"
    if isinstance(row, PictureContent):
        return picture_path(row)
    ending = {"book-files": "bin"}.get(kind.folder, "json")
    return f"{kind.folder}/{getattr(row, 'public_id')}.{ending}"  # noqa: B009 - of several models


def picture_path(row: PictureContent) -> str:
    """Where a picture lies in a copy."""
    return f"pictures/{row.file.kind.replace(' ', '-')}-{row.file.public_id}.{row.file.format.lower()}"


def _covers(patient: Patient) -> Iterator[Resource]:
    for one in covers_of(patient):
        payer = one.held.plan.payer
        yield fhir.organization(f"payer.{one.plan.series}", payer)
        yield fhir.coverage(one.cover.series, of=patient.public_id, payer=f"payer.{one.plan.series}", payer_words=payer)


def _of_estimate(patient: Patient, estimate: Estimate) -> Iterator[Resource]:
    assert estimate.frozen is not None  # by the query
    plan = thaw(bytes(estimate.frozen.content))
    found = [option for option in plan.options if option.key in estimate.options]
    for option in found:
        yield fhir.care_plan(
            option_key(estimate, option.key),
            of=patient.public_id,
            status=_option_status(estimate, option),
            intent="option",
            title=option.name,
            words=option.plain,
            activities=[Activity(line.words, (line.tooth,) if line.tooth else ()) for line in option.work],
            created=estimate.at,
            price=fhir.money(option.estimate.total_cents, plan.currency),
            verdict=option.verdict.value,
            author=estimate.checked_by.full_name if estimate.checked_by else "",
        )
    guess = latest_guess(estimate)
    if guess is not None:
        yield from _claims(patient, estimate, plan, read_guess(guess), guess.at)


def _option_status(estimate: Estimate, option: OptionShape) -> str:
    """A draft as long as nothing is decided; what was chosen lives on as the plan that was accepted."""
    if estimate.state == State.REPLACED:
        return "revoked"
    if estimate.state != State.ANSWERED:
        return "draft"
    chosen = estimate.answer in _CHOSEN and estimate.answered_option == option.key
    return "active" if chosen else "revoked"


def _claims(
    patient: Patient, estimate: Estimate, plan: CasePlan, sheet: GuessSheet, made: datetime
) -> Iterator[Resource]:
    covers = {one.held.plan.words: one.cover.series for one in covers_of(patient)}
    paying = [covers[words] for words in sheet.payers if words in covers]
    for one in sheet.options:
        option = plan.option(one.option)
        codes = {line.service: line.code for line in option.estimate.lines}
        lines = [
            ClaimLine(
                codes.get(work.service, ""),
                work.words,
                tuple(Tooth.from_key(key) for key in work.teeth),
                work.quantity,
                work.fee_cents,
            )
            for work in works_of(plan, option, one.starts, one.finishes)
        ]
        if paying and lines:
            yield fhir.predetermination(
                fhir.key_of("claim", estimate.public_id, option.key),
                of=patient.public_id,
                office=estimate.office.public_id,
                coverages=paying,
                currency=plan.currency,
                lines=lines,
                created=made,
                option=option.name,
            )


def _accepted(patient: Patient, plan: AcceptedPlan) -> Resource:
    currency = thaw(bytes(plan.frozen.content)).currency
    state = PlanState(plan.state)
    activities = [
        Activity(
            item.words,
            tuple(Tooth.from_key(key) for key in item.teeth),
            fhir.ITEM_STATUS[ItemState(item.state)],
            item.done_on or item.booked_for,
        )
        for item in plan.items.order_by("position", "pk")
    ]
    of_option = plan.estimate is not None and plan.option_key in plan.estimate.options
    return fhir.care_plan(
        plan.public_id,
        of=patient.public_id,
        status=fhir.PLAN_STATUS[state],
        intent="plan",
        title=plan.name,
        activities=activities,
        created=plan.at,
        price=fhir.money(plan.total_cents, currency),
        based_on=option_key(plan.estimate, plan.option_key) if of_option and plan.estimate else "",
        author=plan.created_by.full_name,
    )


def _documents(patient: Patient) -> Iterator[Resource]:
    office = patient.office.public_id
    rows = (
        Document.objects.filter(frozen__case__patient=patient).select_related("created_by", "estimate").order_by("pk")
    )
    for row in rows.iterator(chunk_size=1):
        yield fhir.document(
            row.public_id,
            of=patient.public_id,
            office=office,
            kind=row.kind.replace("-", " "),
            title=f"{row.kind.replace('-', ' ')} {row.version_words}",
            at=row.at,
            content=bytes(row.content),
            content_type="application/pdf",
            path=f"papers/{row.file_name}",
            language=row.language,
            author=row.created_by.full_name,
            current=row.estimate is None or row.estimate.state != State.REPLACED,
        )
    pictures = PictureContent.objects.filter(file__patient=patient, file__set_aside__isnull=True)
    for one in pictures.select_related("file__entered_by").order_by("pk").iterator(chunk_size=1):
        yield fhir.document(
            one.file.public_id,
            of=patient.public_id,
            office=office,
            kind=one.file.kind,
            title=f"{one.file.kind} of {one.file.on.isoformat()}",
            at=one.file.at,
            content=bytes(one.original),
            content_type=_PICTURE_TYPES.get(one.file.format.lower(), "application/octet-stream"),
            path=picture_path(one),
            author=one.file.taken_by or one.file.entered_by.full_name,
        )


def _consents(patient: Patient, now: datetime) -> Iterator[Resource]:
    related = ("signature", "office", "estimate__frozen", "estimate__case__patient")
    rows = Consent.objects.filter(case__patient=patient).select_related(*related)
    for one in rows.order_by("pk"):
        signature: Any = getattr(one, "signature", None)
        handing = one.handings.order_by("-pk").values_list("document__public_id", "handed_at").first()
        source = signature.copy.public_id if signature else handing[0] if handing else ""
        choice = Choice(signature.choice) if signature else None
        lapsed, until = _ends(one, choice, now)
        yield fhir.consent(
            one.public_id,
            of=patient.public_id,
            status=fhir.consent_status(ConsentState(one.state), choice, lapsed=lapsed),
            words=f"Consent to dental treatment{f': {choice.value}' if choice else ''}",
            at=signature.at if signature else handing[1] if handing else one.at,
            source=source,
            signer=signature.signer if signature else "",
            until=until,
            office=patient.office.public_id,
        )


def _ends(consent: Consent, choice: Choice | None, now: datetime) -> tuple[bool, date | datetime | None]:
    """Whether a consent has lapsed, and when it ends or ended: taken back, replaced by a further letter, or by date."""
    if consent.state == ConsentState.WITHDRAWN:
        return False, consent.withdrawals.filter(scope="all").order_by("pk").values_list("said_at", flat=True).last()
    if consent.state == ConsentState.REPLACED:
        later = Consent.objects.filter(case=consent.case_id, pk__gt=consent.pk).order_by("pk")
        return False, later.values_list("at", flat=True).first()
    if consent.state == ConsentState.SIGNED and choice in CONSENTS:
        found = lapse_of(consent, now)
        return found.lapsed, found.last_day
    return False, None
