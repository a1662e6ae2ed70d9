"""Closed rows of the patients' floor: histories and pictures as they are, measurements once a plan rests on them."""

import io
from collections.abc import Callable

from django.db.models import Model
from PIL import Image

from planner.patients.examinations import close_examination
from planner.patients.join_models import JoinedFile
from planner.patients.joining import ask_to_join, decline_joining
from planner.patients.models import (
    AbsentReading,
    AnyChange,
    Examination,
    GapReading,
    HistoryForm,
    PictureContent,
    PictureFile,
    PictureReading,
    PictureSetAside,
    PlaceReading,
    ToothReading,
)
from planner.patients.payer_models import BenefitUsed, CoverVersion, PayerAnswer, PayerPlan, PayerQuestion
from planner.patients.pictures import add_picture, set_aside
from planner.patients.services import register_patient
from planner.plans.casefiles import import_case_file
from planner.rules.mouth import EmptyPlace
from planner.rules.teeth import Tooth
from tests.closed_rows import Ground, Maker
from tests.payers import desk_of, with_payer
from tests.support import NOW, TODAY


def _first(model: type[Model]) -> Callable[[Ground], Model]:
    def make(ground: Ground) -> Model:
        place = EmptyPlace(place=Tooth.from_iso("36"))
        facts = ground.lead_case
        if not facts.examination.empty_places:
            examination = facts.examination.model_copy(update={"empty_places": (place,)})
            facts = facts.model_copy(update={"examination": examination})
        case = import_case_file(facts=facts, actor=ground.owner, now=NOW).case
        close_examination(examination=case.examination, actor=ground.owner, now=NOW)
        row = model._default_manager.first()
        assert row is not None
        return row

    return make


def _joined(ground: Ground) -> JoinedFile:
    kept, other = (
        register_patient(name=name, birth_date=TODAY, actor=ground.owner, now=NOW) for name in ("Ann B", "Anne B")
    )
    asked = ask_to_join(kept=kept, joined=other, reason="Same passport.", actor=ground.owner, now=NOW)
    return decline_joining(join=asked, reason="Two people.", actor=ground.owner, now=NOW)


def _of_a_picture(model: type[Model]) -> Callable[[Ground], Model]:
    def make(ground: Ground) -> Model:
        case = import_case_file(facts=ground.lead_case, actor=ground.owner, now=NOW).case
        dots = io.BytesIO()
        Image.new("L", (64, 64)).save(dots, "PNG")
        picture = add_picture(
            patient=case.patient, content=dots.getvalue(), kind="photo", on=TODAY, actor=ground.owner, now=NOW
        )
        if model is PictureSetAside:
            set_aside(picture=picture, reason="Wrong file.", actor=ground.owner, now=NOW)
        return model._default_manager.get()

    return make


def _of_payers(model: type[Model]) -> Callable[[Ground], Model]:
    def make(ground: Ground) -> Model:
        case = import_case_file(facts=ground.lead_case, actor=ground.owner, now=NOW).case
        with_payer(case.patient, desk_of(ground.owner))
        row = model._default_manager.first()
        assert row is not None
        return row

    return make


CLOSED_ROWS: dict[str, Maker] = (
    {"patients.joinedfile": _joined}
    | {model._meta.label_lower: _of_a_picture(model) for model in (PictureFile, PictureContent, PictureSetAside)}
    | {
        model._meta.label_lower: _first(model)
        for model in (
            HistoryForm,
            AnyChange,
            PictureReading,
            Examination,
            ToothReading,
            GapReading,
            AbsentReading,
            PlaceReading,
        )
    }
    | {
        model._meta.label_lower: _of_payers(model)
        for model in (PayerPlan, CoverVersion, BenefitUsed, PayerQuestion, PayerAnswer)
    }
)
