"""Cases: opened, edited, and decided upon. Every decision of the dentist carries a reason and a name."""

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from planner.patients.files import files_of, refuse_closed
from planner.patients.models import Examination, Patient, PictureReading
from planner.patients.services import check_text
from planner.patients.stored import list_to_json, to_json
from planner.plans.facts import case_choices
from planner.plans.models import Case, CasePicture
from planner.plans.treating import refuse_before_take_over
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import today
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.choices import Choices, Lock, Override, Striking, SurfaceChoice
from planner.rules.mouth import Limits, Matters, Wish
from planner.rules.teeth import Numbering, Tooth
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record


def open_case(
    *,
    patient: Patient,
    examination: Examination,
    name: str,
    wishes: Sequence[Wish] = (),
    limits: Limits | None = None,
    matters: Matters | None = None,
    pictures: Sequence[PictureReading] = (),
    numbering: Numbering = Numbering.ISO,
    notes: str = "",
    actor: Staff,
    now: datetime,
) -> Case:
    """Open a case for ``patient`` on one set of measurements. Raises Refused for a name that is taken or empty."""
    require_own(actor, patient)
    require(actor, Act.CREATE, Thing.CASE, subject=patient)
    values = _values(
        name=name,
        wishes=wishes,
        limits=limits or Limits(),
        matters=matters or Matters(),
        numbering=numbering,
        notes=notes,
    )
    refuse_closed(patient)
    _same_patient(patient, examination, pictures)
    try:
        with transaction.atomic():
            case = Case.objects.create(
                office=patient.office, patient=patient, examination=examination, at=now, **values
            )
            _write_pictures(case, pictures)
            content = {"name": case.name, "examination": examination.public_id}
            record(actor=actor, act="case.open", subject=case, content=content, at=now)
    except IntegrityError:
        raise Refused(
            f'{patient.name} has a case called "{name}" already: choose another name.', field="name"
        ) from None
    return case


def change_case(
    *,
    case: Case,
    seen: int,
    name: str | None = None,
    wishes: Sequence[Wish] | None = None,
    limits: Limits | None = None,
    matters: Matters | None = None,
    numbering: Numbering | None = None,
    notes: str | None = None,
    examination: Examination | None = None,
    pictures: Sequence[PictureReading] | None = None,
    actor: Staff,
    now: datetime,
) -> Case:
    """Save what is given and leave the rest.

    Raises Refused, also for a dentist while another one treats the case; StaleEdit when somebody else saved first;
    NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.EDIT, Thing.CASE, subject=case)
    refuse_before_take_over(case, actor)
    given = {
        "name": name,
        "wishes": wishes,
        "limits": limits,
        "matters": matters,
        "numbering": numbering,
        "notes": notes,
    }
    values = _values(**{field: value for field, value in given.items() if value is not None})
    _same_patient(case.patient, examination, pictures or ())
    if examination is not None:
        values["examination"] = examination
    try:
        with transaction.atomic():
            saved = save_seen(case, seen=seen, what="The case", values=values)
            if pictures is not None:
                _write_pictures(saved, pictures)
            content = {"before": _plain(case, values), "after": _plain(saved, values), "version": saved.version}
            if pictures is not None:
                content["pictures"] = [picture.public_id for picture in pictures]
            record(actor=actor, act="case.change", subject=saved, content=content, at=now)
    except IntegrityError:
        raise Refused(f'There is a case called "{name}" already: choose another name.', field="name") from None
    return saved


def set_lock(*, case: Case, seen: int, lock: Lock, actor: Staff, now: datetime) -> Case:
    """Fix one value before the spaces are shared, in the name of ``actor``; an earlier lock on the same value goes.

    Raises Refused without a reason, StaleEdit, NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.EDIT, Thing.LOCKS, subject=case)
    _need_reason(lock.reason, "A lock")
    signed = lock.model_copy(update={"by": actor.full_name, "on": today(case.office, now)})
    before = [old for old in case_choices(case).locks if _of_lock(old) == _of_lock(lock)]

    def change(choices: Choices) -> Choices:
        kept = tuple(old for old in choices.locks if _of_lock(old) != _of_lock(lock))
        return choices.model_copy(update={"locks": (*kept, signed)})

    content = {"before": list_to_json(tuple(before)), "after": to_json(signed)}
    return decide(case, seen, change, "case.lock", lock.reason, content, actor, now)


def clear_lock(
    *,
    case: Case,
    seen: int,
    what: str,
    tooth: Tooth | None = None,
    between: tuple[Tooth, Tooth] | None = None,
    reason: str,
    actor: Staff,
    now: datetime,
) -> Case:
    """Let a locked value go. Raises Refused without a reason or when nothing is locked there, StaleEdit, NotAllowed."""
    require_own(actor, case)
    require(actor, Act.EDIT, Thing.LOCKS, subject=case)
    _need_reason(reason, "Letting a lock go")
    which = (tooth, None if between is None else frozenset(between), what)
    gone = tuple(old for old in case_choices(case).locks if _of_lock(old) == which)
    if not gone:
        raise Refused(f'No "{what}" is locked there.')

    def change(choices: Choices) -> Choices:
        return choices.model_copy(update={"locks": tuple(old for old in choices.locks if _of_lock(old) != which)})

    return decide(case, seen, change, "case.unlock", reason, {"before": list_to_json(gone)}, actor, now)


def override_gate(*, case: Case, seen: int, override: Override, actor: Staff, now: datetime) -> Case:
    """Decide against a verdict, in the name of ``actor``; it stays visible wherever the option is shown.

    Which verdicts nobody may override is decided by the rules when the plan is computed. Raises Refused, StaleEdit,
    NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.CREATE, Thing.FINDINGS, subject=case)
    signed = override.model_copy(update={"by": actor.full_name, "on": today(case.office, now)})
    if signed.second_dentist and signed.second_dentist.casefold() == actor.full_name.casefold():
        raise Refused("The second dentist is somebody else than the first.", field="second_dentist")
    if signed.second_dentist and not _dentist_here(signed.second_dentist, actor):
        words = (
            f"No dentist of this office is called {signed.second_dentist}: where there is no second, the verdict stays."
        )
        raise Refused(words, field="second_dentist")

    def change(choices: Choices) -> Choices:
        kept = (old for old in choices.overrides if (old.option, old.gate) != (override.option, override.gate))
        return choices.model_copy(update={"overrides": (*kept, signed)})

    return decide(case, seen, change, "case.override", override.reason, {"after": to_json(signed)}, actor, now)


def _dentist_here(name: str, actor: Staff) -> bool:
    """Whether a dentist of that name works in the office of ``actor`` today."""
    here = Staff.objects.filter(office=actor.office_id, is_active=True, role_rows__role=Role.DENTIST)
    return here.filter(full_name__iexact=name.strip()).exists()


def withdraw_override(
    *, case: Case, seen: int, option: str, gate: str, reason: str, actor: Staff, now: datetime
) -> Case:
    """Let a verdict hold again. Raises Refused without a reason or an override, StaleEdit, NotAllowed."""
    require_own(actor, case)
    require(actor, Act.CREATE, Thing.FINDINGS, subject=case)
    _need_reason(reason, "Withdrawing an override")
    gone = tuple(old for old in case_choices(case).overrides if (old.option, old.gate) == (option, gate))
    if not gone:
        raise Refused(f"{gate} is not overridden for this option.")

    def change(choices: Choices) -> Choices:
        kept = tuple(old for old in choices.overrides if old not in gone)
        return choices.model_copy(update={"overrides": kept})

    return decide(case, seen, change, "case.override_withdrawn", reason, {"before": list_to_json(gone)}, actor, now)


def strike_option(*, case: Case, seen: int, option: str, reason: str, actor: Staff, now: datetime) -> Case:
    """Strike an option: it is still listed, with the reason. Raises Refused without a reason, StaleEdit, NotAllowed."""
    striking = _striking(case, option, reason, actor)

    def change(choices: Choices) -> Choices:
        kept = (old for old in choices.struck if old.option != option)
        back = None if choices.recommended and choices.recommended.option == option else choices.recommended
        return choices.model_copy(update={"struck": (*kept, striking), "recommended": back})

    return decide(case, seen, change, "case.strike", reason, {"option": option}, actor, now)


def restore_option(*, case: Case, seen: int, option: str, reason: str, actor: Staff, now: datetime) -> Case:
    """Take back a striking. Raises Refused without a reason or when it is not struck, StaleEdit, NotAllowed."""
    _striking(case, option, reason, actor)
    if all(old.option != option for old in case_choices(case).struck):
        raise Refused("This option is not struck.")

    def change(choices: Choices) -> Choices:
        return choices.model_copy(update={"struck": tuple(old for old in choices.struck if old.option != option)})

    return decide(case, seen, change, "case.restore", reason, {"option": option}, actor, now)


def recommend_option(*, case: Case, seen: int, option: str, reason: str, actor: Staff, now: datetime) -> Case:
    """Recommend one option in the name of ``actor``. Raises Refused for a struck one, StaleEdit, NotAllowed."""
    choice = _striking(case, option, reason, actor)
    if any(old.option == option for old in case_choices(case).struck):
        raise Refused("A struck option cannot be recommended: take the striking back first.")

    def change(choices: Choices) -> Choices:
        return choices.model_copy(update={"recommended": choice})

    return decide(case, seen, change, "case.recommend", reason, {"option": option}, actor, now)


def set_surfaces(*, case: Case, seen: int, choice: SurfaceChoice, actor: Staff, now: datetime) -> Case:
    """Count an addition as so many surfaces, otherwise than the default. Raises Refused, StaleEdit, NotAllowed."""
    require_own(actor, case)
    require(actor, Act.CREATE, Thing.FINDINGS, subject=case)
    _need_reason(choice.reason, "Counting surfaces otherwise")

    def change(choices: Choices) -> Choices:
        kept = (old for old in choices.surfaces if old.tooth != choice.tooth)
        return choices.model_copy(update={"surfaces": (*kept, choice)})

    return decide(case, seen, change, "case.surfaces", choice.reason, {"after": to_json(choice)}, actor, now)


def set_line_class(*, case: Case, seen: int, reconstructive: bool, reason: str, actor: Staff, now: datetime) -> Case:
    """Say whether additions are reconstructive or for looks only, for tax. Raises Refused, StaleEdit, NotAllowed."""
    require_own(actor, case)
    require(actor, Act.EDIT, Thing.ESTIMATE, subject=case)
    _need_reason(reason, "The class of the lines")

    def change(choices: Choices) -> Choices:
        return choices.model_copy(update={"reconstructive": reconstructive, "tax_reason": reason.strip()})

    return decide(case, seen, change, "case.line_class", reason, {"reconstructive": reconstructive}, actor, now)


def decide(
    case: Case,
    seen: int,
    change: Callable[[Choices], Choices],
    act: str,
    reason: str,
    content: dict[str, Any],
    actor: Staff,
    now: datetime,
) -> Case:
    """Change what was decided around the computation, and record it. Raises StaleEdit; asks for no permission.

    Raises Refused when ``actor`` is a dentist and another one treats the case; taking something off its price is for
    whoever may allow that.
    """
    if not act.startswith("discount."):
        refuse_before_take_over(case, actor)
    # Validated once more as a whole, because model_copy does not.
    changed = change(case_choices(case))
    check_text(changed)
    stored = to_json(Choices.model_validate(dict(changed)))
    with transaction.atomic():
        saved = save_seen(case, seen=seen, what="The case", values={"choices": stored})
        record(actor=actor, act=act, subject=saved, content=content, reason=reason.strip(), at=now)
    return saved


def _striking(case: Case, option: str, reason: str, actor: Staff) -> Striking:
    require_own(actor, case)
    require(actor, Act.APPROVE, Thing.OPTIONS, subject=case)
    _need_reason(reason, "Recommending or striking an option")
    return Striking(option=option, reason=reason, by=actor.full_name)


def _of_lock(lock: Lock) -> tuple[Tooth | None, frozenset[Tooth] | None, str]:
    return lock.tooth, None if lock.between is None else frozenset(lock.between), lock.what


def _need_reason(reason: str, what: str) -> None:
    if not reason.strip():
        raise Refused(f"{what} needs a reason.", field="reason")


def _values(**given: Any) -> dict[str, Any]:
    values: dict[str, Any] = {}
    if "name" in given:
        values["name"] = given["name"].strip()
        if not 1 <= len(values["name"]) <= 80:
            raise Refused("A case needs a name of up to 80 signs.", field="name")
    if "notes" in given:
        values["notes"] = given["notes"].strip()
        if len(values["notes"]) > 2000:
            raise Refused("The notes are longer than 2,000 signs.", field="notes")
    for name in values:
        if "\x00" in values[name]:
            raise Refused("This holds an invisible sign (number zero): type it again.", field=name)
    if "wishes" in given:
        for wish in given["wishes"]:
            check_text(wish)
        values["wishes"] = list_to_json(tuple(given["wishes"]))
    if "limits" in given:
        check_text(given["limits"])
        values["limits"] = to_json(given["limits"])
    if "matters" in given:
        values["matters"] = to_json(given["matters"])
    if "numbering" in given:
        values["numbering"] = Numbering(given["numbering"]).value
    return values


def _plain(case: Case, names: Iterable[str]) -> dict[str, Any]:
    found = {name: getattr(case, name) for name in names}
    return {name: value.public_id if isinstance(value, Examination) else value for name, value in found.items()}


def _same_patient(patient: Patient, examination: Examination | None, pictures: Sequence[PictureReading]) -> None:
    of_others = {row.patient_id for row in (examination, *pictures) if row is not None} - {patient.pk}
    if of_others:
        of_others -= {one.pk for one in files_of(patient)}
    if examination is not None and examination.patient_id in of_others:
        raise Refused("These measurements are another person's.", field="examination")
    if any(picture.patient_id in of_others for picture in pictures):
        raise Refused("One of these pictures is another person's.", field="pictures")


def _write_pictures(case: Case, pictures: Sequence[PictureReading]) -> None:
    CasePicture.objects.filter(case=case).delete()
    CasePicture.objects.bulk_create(
        CasePicture(office=case.office, case=case, picture=picture, position=position)
        for position, picture in enumerate(pictures)
    )
