"""Facts survive the database: what goes in as typed facts comes out as the same typed facts."""

from datetime import date
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.patients import facts as adapters
from planner.patients.examinations import store_examination, with_lines
from planner.patients.models import Examination, Patient
from planner.patients.pictures import record_picture
from planner.patients.services import record_history, register_patient
from planner.practice.models import Staff
from planner.rules import mouth
from planner.rules.mouth import CaseFacts
from planner.rules.teeth import UPPER_PERMANENT, Tooth
from planner.rules.units import format_mm
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db
QUICK = settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)

TEXT = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=12).map(str.strip)
YES = st.none() | st.booleans()
DAYS = st.dates(date(2020, 1, 1), TODAY)


def mm(low: int, high: int) -> st.SearchStrategy[str]:
    return st.integers(low, high).map(format_mm)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


@st.composite
def tooth_lines(draw: st.DrawFn, tooth: Tooth) -> mouth.ToothFacts:
    given = st.fixed_dictionaries(
        {"tooth": st.just(tooth)},
        optional={
            "role": maybe(st.sampled_from(["central", "lateral", "canine", "premolar"])),
            "width": mm(10, 160),
            "width_again": mm(10, 160),
            "length": mm(10, 160),
            "neck_width": mm(10, 160),
            "contact_height": mm(0, 160),
            "double": st.booleans(),
            "undersized": st.booleans(),
            "crown_lost_percent": maybe(st.integers(0, 100)),
            "nerve": maybe(st.sampled_from(["responds", "negative", "unclear"])),
            "wear_cause": TEXT,
            "edge_removed_before": mm(0, 20),
            "enamel_percent": maybe(st.sampled_from([0, 25, 50, 75, 100])),
            "dark": YES,
            "not_to_be_touched": st.booleans(),
        },
    )
    return mouth.ToothFacts.model_validate(draw(given))


@st.composite
def examinations(draw: st.DrawFn) -> mouth.Examination:
    teeth = draw(st.lists(st.sampled_from(UPPER_PERMANENT[4:12]), unique=True, max_size=6))
    absent = draw(st.lists(st.sampled_from(UPPER_PERMANENT[:4]), unique=True, max_size=2))
    together = sorted(teeth)
    gaps = [
        mouth.Gap.model_validate(
            {"between": pair, "width": draw(mm(3, 40)), "may_stay": draw(st.booleans()), "new_or_growing": draw(YES)}
        )
        for pair in pairwise(together)
        if pair[1].arch_index - pair[0].arch_index == 1
    ]
    return mouth.Examination.model_validate(
        {
            "on": draw(DAYS),
            "by": draw(TEXT),
            "instrument": draw(st.sampled_from(["caliper", "scan"])),
            "confirmed_by": draw(TEXT),
            "teeth": [draw(tooth_lines(tooth)) for tooth in teeth],
            "gaps": gaps,
            "absent": [
                {
                    "tooth": tooth,
                    "cause": draw(st.sampled_from(["never formed", "lost", "presumed"])),
                    "felt": draw(YES),
                }
                for tooth in absent
            ],
            "midline_offset": draw(mm(0, 30)),
            "strip_length": draw(maybe(mm(300, 600))),
            "gums": {"probed_whole_mouth": draw(YES), "bleeding_percent": draw(maybe(st.integers(0, 100)))},
            "bite": {"overjet": draw(maybe(mm(0, 90))), "grinding": draw(maybe(st.sampled_from(["no", "suspected"])))},
            "colour": {"shade": draw(TEXT), "restorations_in_smile": teeth[:2]},
            "growth": {"height_mm": [(draw(DAYS), draw(st.integers(400, 2500)))]},
            "orthodontics": {"state": draw(st.sampled_from(["none", "finished"]))},
        }
    )


@pytest.fixture
def patient(owner: Staff) -> Patient:
    return register_patient(name="Ann O'Hara", birth_date=date(1980, 2, 29), actor=owner, now=NOW)


@QUICK
@given(facts=examinations())
def test_an_examination_comes_back_as_it_was(owner: Staff, patient: Patient, facts: mouth.Examination) -> None:
    stored = store_examination(patient=patient, facts=facts, actor=owner, now=NOW)
    assert adapters.examination_facts(with_lines().get(pk=stored.pk)) == facts


HISTORIES = st.fixed_dictionaries(
    {},
    optional={
        "methacrylate": maybe(st.sampled_from(["no", "suspected", "positive"])),
        "latex": YES,
        "bone_drug": maybe(st.sampled_from(["none", "cancer dose"])),
        "hba1c_tenths": maybe(st.integers(30, 200)),
        "due_on": maybe(DAYS),
        "weight_kg": maybe(st.integers(10, 300)),
        "any_change_asked_on": maybe(DAYS),
        "signed_on": st.just(TODAY),
    },
)


@QUICK
@given(data=HISTORIES)
def test_a_history_comes_back_as_it_was(owner: Staff, patient: Patient, data: dict[str, Any]) -> None:
    facts = mouth.History.model_validate(data)
    record_history(patient=patient, facts=facts, actor=owner, now=NOW)
    assert adapters.history_facts(patient) == facts


@QUICK
@given(kind=st.sampled_from(["small film", "photo"]), day=DAYS, reader=TEXT, reading=TEXT)
def test_a_picture_comes_back_as_it_was(
    owner: Staff, patient: Patient, kind: str, day: date, reader: str, reading: str
) -> None:
    facts = mouth.Picture.model_validate(
        {
            "kind": kind,
            "on": day,
            "reader": reader,
            "absent": [Tooth.from_iso("12")],
            "roots_of": [Tooth.from_iso("53"), Tooth.from_iso("13")],
            "reading": reading,
        }
    )
    assert adapters.picture_facts(record_picture(patient=patient, facts=facts, actor=owner, now=NOW)) == facts


def test_the_lead_case_comes_back_as_it_was(owner: Staff, lead_case: CaseFacts) -> None:
    patient = register_patient(
        name=lead_case.patient.name,
        birth_date=lead_case.patient.birth_date,
        about={
            name: value for name, value in adapters.person_values(lead_case.patient).items() if name != "birth_date"
        },
        actor=owner,
        now=NOW,
    )
    assert adapters.person_facts(patient) == lead_case.patient
    stored = store_examination(patient=patient, facts=lead_case.examination, actor=owner, now=NOW)
    assert adapters.examination_facts(with_lines().get(pk=stored.pk)) == lead_case.examination


def test_teeth_are_kept_by_key_and_never_by_number(owner: Staff, patient: Patient) -> None:
    facts = mouth.Examination.model_validate(
        {
            "on": TODAY,
            "by": "Olive",
            "teeth": [{"tooth": Tooth.from_iso("11"), "place": Tooth.from_iso("12"), "width": "8.3"}],
        }
    )
    stored = store_examination(patient=patient, facts=facts, actor=owner, now=NOW)
    line = Examination.objects.get(pk=stored.pk).teeth.get()
    assert (line.tooth, line.place) == ("upper-right-central-incisor", "upper-right-lateral-incisor")
    assert (line.width, line.findings) == (83, {}), "whole tenths, and nothing that was not recorded"


def test_reading_an_examination_takes_as_many_queries_for_many_teeth_as_for_one(
    owner: Staff, patient: Patient, queries: Any
) -> None:
    counts = []
    for number in (1, 10):
        teeth = [{"tooth": tooth, "width": "8.0"} for tooth in UPPER_PERMANENT[3 : 3 + number]]
        facts = mouth.Examination.model_validate({"on": TODAY, "by": "Olive", "teeth": teeth})
        stored = store_examination(patient=patient, facts=facts, actor=owner, now=NOW)
        with queries.counted() as found:
            adapters.examination_facts(with_lines().get(pk=stored.pk))
        counts.append(len(found))
    assert counts == [5, 5]
