"""Payers' plans and somebody's covers: written down as told, versioned, and read as typed data for a guess."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.db.models import Max

from planner.patients.models import Patient
from planner.patients.payer_models import BenefitUsed, CoverVersion, PayerAnswer, PayerPlan, PayerQuestion
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import answered_already
from planner.practice.books import current_book, today
from planner.practice.models import Office, Staff
from planner.rules.benefit_plans import BenefitPlan, Cover, HeldPlan, Used, faults_of_plans, private_words
from planner.rules.facts import STORED
from planner.rules.results import sha256, stable_json
from planner.trail.errors import Refused, StaleEdit
from planner.trail.fields import new_public_id
from planner.trail.services import record

_STORED = {"numbering": STORED}


def add_plan(*, office: Office, plan: BenefitPlan, reason: str, actor: Staff, now: datetime) -> PayerPlan:
    """Write down a payer's plan. Raises Refused for another currency, a name there already, or no reason."""
    require(actor, Act.CREATE, Thing.PAYER, subject=office)
    if actor.office_id != office.pk:
        require_own(actor, PayerPlan(office=office))
    _check_currency(office, plan, now)
    if any(row.name == plan.words for row in newest_plans(office)):
        raise Refused(f"{plan.words} is written down already: change that one.", field="name")
    return _save_plan(office, new_public_id(), 1, plan, reason, actor, now)


def change_plan(*, row: PayerPlan, plan: BenefitPlan, reason: str, actor: Staff, now: datetime) -> PayerPlan:
    """Write down the next version of a plan, made from ``row``. Raises Refused, StaleEdit."""
    require_own(actor, row)
    require(actor, Act.EDIT, Thing.PAYER, subject=row)
    _check_currency(row.office, plan, now)
    newest = newest_of(row)
    if newest.number != row.number:
        raise StaleEdit("The plan", yours={}, theirs={}, seen=row.number, version=newest.number)
    try:
        with transaction.atomic():
            return _save_plan(row.office, row.series, row.number + 1, plan, reason, actor, now)
    except IntegrityError:
        raise StaleEdit("The plan", yours={}, theirs={}, seen=row.number, version=row.number + 1) from None


def add_cover(
    *, patient: Patient, plan: PayerPlan, cover: Cover, reason: str, actor: Staff, now: datetime
) -> CoverVersion:
    """Write down that ``patient`` is covered under ``plan``. Raises Refused for a cover that cannot be."""
    require_own(actor, patient)
    require_own(actor, plan)
    require(actor, Act.CREATE, Thing.PAYER, subject=patient)
    return _save_cover(patient, new_public_id(), 1, plan, cover, reason, actor, now)


def change_cover(*, row: CoverVersion, cover: Cover, reason: str, actor: Staff, now: datetime) -> CoverVersion:
    """Write down the next version of a cover, made from ``row``. Raises Refused, StaleEdit."""
    require_own(actor, row)
    require(actor, Act.EDIT, Thing.PAYER, subject=row)
    rows = CoverVersion.objects.filter(patient=row.patient, series=row.series)
    last = int(rows.aggregate(last=Max("number"))["last"])
    if last != row.number:
        raise StaleEdit("The cover", yours={}, theirs={}, seen=row.number, version=last)
    try:
        with transaction.atomic():
            return _save_cover(row.patient, row.series, row.number + 1, row.plan, cover, reason, actor, now)
    except IntegrityError:
        raise StaleEdit("The cover", yours={}, theirs={}, seen=row.number, version=row.number + 1) from None


def tell_used(*, cover: CoverVersion, used: Used, actor: Staff, now: datetime) -> BenefitUsed:
    """Write down what is used of a benefit year, as told. Raises Refused when it cannot be."""
    require_own(actor, cover)
    require(actor, Act.CREATE, Thing.PAYER, subject=cover)
    _check_day(cover.office, used.basis.on, now)
    plan = read_plan(newest_of(cover.plan))
    held = HeldPlan(plan=plan, cover=read_cover(cover), used=(used,))
    _refuse(faults_of_plans([held], plan.currency))
    with transaction.atomic():
        row = BenefitUsed.objects.create(
            office=cover.office,
            patient=cover.patient,
            cover_series=cover.series,
            data=_text(used),
            set_by=actor,
            at=now,
        )
        record(actor=actor, act="payer.used", subject=row, content={"cover": cover.series, "used": _text(used)}, at=now)
    return row


def ask_payer(*, cover: CoverVersion, words: str, due: date, actor: Staff, now: datetime) -> PayerQuestion:
    """Note a question to a payer, to be answered by a day.

    Raises Refused for an empty question, a day in the past, or words that no payer is told.
    """
    require_own(actor, cover)
    require(actor, Act.CREATE, Thing.PAYER, subject=cover)
    said = " ".join(words.split())
    if not said:
        raise Refused("Say what the payer is asked.", field="words")
    if found := private_words(said):
        raise Refused(f'A payer is never told of this ("{found}…"): ask without it.', field="words")
    if due < today(cover.office, now):
        raise Refused("This day is over: choose today or a later day.", field="due")
    with transaction.atomic():
        row = PayerQuestion.objects.create(
            office=cover.office, patient=cover.patient, cover=cover, words=said, due=due, asked_by=actor, at=now
        )
        content = {"words": said, "due": due.isoformat()}
        record(actor=actor, act="payer.ask", subject=row, content=content, at=now)
    return row


def note_answer(
    *, question: PayerQuestion, words: str, told: str, by: str, on: date, actor: Staff, now: datetime
) -> PayerAnswer:
    """Note what a payer answered, who said it, how and when. Raises Refused when it was answered already."""
    require_own(actor, question)
    require(actor, Act.CREATE, Thing.PAYER, subject=question)
    _check_day(question.office, on, now, field="on")
    said, who = " ".join(words.split()), " ".join(by.split())
    for name, text in (("words", said), ("by", who)):
        if not text:
            raise Refused("This is missing: write what was answered, and who said it.", field=name)
    try:
        with transaction.atomic():
            row = PayerAnswer.objects.create(
                office=question.office,
                question=question,
                words=said,
                told=told,
                by=who,
                on=on,
                entered_by=actor,
                at=now,
            )
            content = {"words": said, "told": told, "by": who, "on": on.isoformat()}
            record(actor=actor, act="payer.answer", subject=row, content=content, at=now)
    except IntegrityError:
        known = PayerAnswer.objects.select_related("entered_by").get(question=question)
        said = answered_already(f"“{known.words}”", known.entered_by, known.at, question.office)
        raise Refused(f"{said} Ask a new question.", field="words") from None
    return row


# ---------------------------------------------------------------- reading


@dataclass(frozen=True, slots=True)
class Held:
    """Somebody's cover in its newest version, with the plan it is under and what is told to be used."""

    cover: CoverVersion
    plan: PayerPlan
    held: HeldPlan


def newest_plans(office: Office) -> tuple[PayerPlan, ...]:
    """The newest version of every plan of the office, by name: one query."""
    newest: dict[str, PayerPlan] = {}
    for row in PayerPlan.objects.filter(office=office).select_related("set_by").order_by("number"):
        newest[row.series] = row
    return tuple(sorted(newest.values(), key=lambda row: (row.name.casefold(), row.pk)))


def newest_of(row: PayerPlan) -> PayerPlan:
    """The newest version of the plan that ``row`` is a version of."""
    rows = PayerPlan.objects.filter(office=row.office_id, series=row.series)
    return rows.select_related("office").order_by("-number")[0]


def covers_of(patient: Patient) -> tuple[Held, ...]:
    """Somebody's covers, each in its newest version with the newest version of its plan: three queries."""
    newest: dict[str, CoverVersion] = {}
    rows = CoverVersion.objects.filter(patient=patient).select_related("plan", "set_by", "office").order_by("number")
    for row in rows:
        newest[row.series] = row
    if not newest:
        return ()
    plans = _newest_in(patient.office_id, {row.plan.series for row in newest.values()})
    used: dict[str, list[Used]] = defaultdict(list)
    for told in BenefitUsed.objects.filter(patient=patient).order_by("id"):
        used[told.cover_series].append(Used.model_validate_json(told.data))
    found = []
    for row in sorted(newest.values(), key=lambda row: row.pk):
        plan = plans[row.plan.series]
        told_used = tuple(_latest_by_year(used[row.series]))
        found.append(Held(row, plan, HeldPlan(plan=read_plan(plan), cover=read_cover(row), used=told_used)))
    return tuple(found)


def read_plan(row: PayerPlan) -> BenefitPlan:
    """The plan, typed."""
    return BenefitPlan.model_validate_json(row.data, context=_STORED)


def read_cover(row: CoverVersion) -> Cover:
    """The cover, typed."""
    return Cover.model_validate_json(row.data, context=_STORED)


def _newest_in(office_id: int, series: set[str]) -> dict[str, PayerPlan]:
    rows = PayerPlan.objects.filter(office=office_id, series__in=series).order_by("number")
    return {row.series: row for row in rows}


def _latest_by_year(told: Iterable[Used]) -> Iterable[Used]:
    """For every benefit year what was told last; a correction on the same day comes later and counts."""
    by_year: dict[date, Used] = {}
    for one in told:
        known = by_year.get(one.year_begins)
        if known is None or one.basis.on >= known.basis.on:
            by_year[one.year_begins] = one
    return by_year.values()


# ---------------------------------------------------------------- saving


def _save_plan(
    office: Office, series: str, number: int, plan: BenefitPlan, reason: str, actor: Staff, now: datetime
) -> PayerPlan:
    _check_reason(reason)
    _check_day(office, plan.basis.on, now)
    text = _text(plan)
    with transaction.atomic():
        row = PayerPlan.objects.create(
            office=office,
            series=series,
            number=number,
            name=plan.words,
            data=text,
            sha256=sha256(text.encode()),
            reason=reason.strip(),
            set_by=actor,
            at=now,
        )
        content = {"name": plan.words, "number": number, "sha256": row.sha256}
        record(actor=actor, act="payer.plan", subject=row, content=content, reason=reason.strip(), at=now)
    return row


def _save_cover(
    patient: Patient,
    series: str,
    number: int,
    plan: PayerPlan,
    cover: Cover,
    reason: str,
    actor: Staff,
    now: datetime,
) -> CoverVersion:
    _check_reason(reason)
    _check_day(patient.office, cover.basis.on, now)
    others = [one.held for one in covers_of(patient) if one.cover.series != series]
    mine = HeldPlan(plan=read_plan(newest_of(plan)), cover=cover)
    currency = current_book(patient.office, today(patient.office, now)).currency
    _refuse(faults_of_plans([*others, mine], currency))
    text = _text(cover)
    with transaction.atomic():
        row = CoverVersion.objects.create(
            office=patient.office,
            patient=patient,
            series=series,
            number=number,
            plan=plan,
            data=text,
            sha256=sha256(text.encode()),
            reason=reason.strip(),
            set_by=actor,
            at=now,
        )
        content = {"plan": plan.name, "number": number, "cover": text}
        record(actor=actor, act="payer.cover", subject=row, content=content, reason=reason.strip(), at=now)
    return row


def _text(value: BenefitPlan | Cover | Used) -> str:
    return stable_json(value).decode()


def _refuse(faults: tuple[str, ...]) -> None:
    if faults:
        raise Refused(" ".join(faults), faults=[("", fault) for fault in faults])


def _check_currency(office: Office, plan: BenefitPlan, now: datetime) -> None:
    currency = current_book(office, today(office, now)).currency
    if plan.currency != currency:
        raise Refused(f"The plan counts in {plan.currency} and the office in {currency}: two currencies are not added.")


def _check_reason(reason: str) -> None:
    if not reason.strip():
        raise Refused("Say why this is written down or changed; it stays in the record.", field="reason")


def _check_day(office: Office, day: date, now: datetime, *, field: str = "told_on") -> None:
    if day > today(office, now):
        raise Refused(f"{day.isoformat()} lies in the future: nobody can have said it then.", field=field)
