"""Case files in and out: what goes in comes out, all of it or nothing."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.patients.models import Examination, HistoryForm, Patient, PictureReading
from planner.patients.services import register_patient
from planner.plans import casefiles
from planner.plans.casefiles import export_case_file, import_case_file
from planner.plans.facts import case_facts, deciding_hash, facts_hash
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.casefile import case_data
from planner.rules.mouth import CaseFacts, History
from planner.rules.teeth import Numbering
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db
TABLES = (Patient, HistoryForm, Examination, PictureReading, Case, TrailEntry)


def changed(facts: CaseFacts, **values: Any) -> CaseFacts:
    return facts.model_copy(update=values)


def counts() -> list[int]:
    return [table.objects.count() for table in TABLES]


def test_the_lead_case_comes_out_as_it_went_in(owner: Staff, lead_case: CaseFacts) -> None:
    taken = import_case_file(facts=lead_case, actor=owner, now=NOW)
    assert (taken.new_patient, taken.new_case, taken.twins) == (True, True, ())
    assert export_case_file(case=taken.case, actor=owner, now=NOW) == lead_case
    assert case_facts(taken.case, TODAY) == lead_case
    assert TrailEntry.objects.order_by("-sequence")[0].act == "case.export"


def test_taking_the_same_file_in_again_adds_nothing_but_the_entry(owner: Staff, lead_case: CaseFacts) -> None:
    first = import_case_file(facts=lead_case, actor=owner, now=NOW)
    before = counts()
    again = import_case_file(facts=lead_case, actor=owner, now=NOW)
    assert (again.case, again.new_patient, again.new_case) == (first.case, False, False)
    assert counts() == [*before[:-1], before[-1] + 1]
    assert again.case.version == first.case.version


TEXT = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=30).map(str.strip)


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(notes=TEXT, words=TEXT, numbering=st.sampled_from(Numbering), months=st.integers(0, 120))
def test_a_changed_file_changes_the_case_and_comes_out_again(
    owner: Staff, lead_case: CaseFacts, notes: str, words: str, numbering: Numbering, months: int
) -> None:
    wishes = (lead_case.wishes[0].model_copy(update={"words": words}), *lead_case.wishes[1:])
    limits = lead_case.limits.model_copy(update={"months": months})
    facts = changed(lead_case, notes=notes, numbering=numbering, wishes=wishes, limits=limits)
    taken = import_case_file(facts=facts, actor=owner, now=NOW)
    assert export_case_file(case=taken.case, actor=owner, now=NOW) == facts


def test_other_measurements_are_a_new_set_and_the_old_stays(owner: Staff, lead_case: CaseFacts) -> None:
    first = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    again = lead_case.examination.model_copy(update={"by": "somebody else"})
    second = import_case_file(facts=changed(lead_case, examination=again), actor=owner, now=NOW).case
    assert second == first
    assert second.examination.corrects == first.examination
    assert Examination.objects.count() == 2


def test_a_file_without_history_leaves_the_one_on_file(owner: Staff, lead_case: CaseFacts) -> None:
    import_case_file(facts=lead_case, actor=owner, now=NOW)
    case = import_case_file(facts=changed(lead_case, history=History()), actor=owner, now=NOW).case
    assert case_facts(case).history == lead_case.history
    asked = lead_case.history.model_copy(update={"any_change_asked_on": TODAY})
    case = import_case_file(facts=changed(lead_case, history=asked), actor=owner, now=NOW).case
    assert case_facts(case).history == asked
    assert HistoryForm.objects.count() == 1, "an answer is no new form"


def test_nothing_is_kept_when_the_last_step_fails(
    owner: Staff, lead_case: CaseFacts, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = counts()

    def fail(**_values: object) -> None:
        raise Refused("the disk is full")

    monkeypatch.setattr(casefiles, "record", fail)
    with pytest.raises(Refused):
        import_case_file(facts=lead_case, actor=owner, now=NOW)
    assert counts() == before


def test_every_contradiction_is_listed(owner: Staff, lead_case: CaseFacts) -> None:
    tomorrow = TODAY + timedelta(days=1)
    person = lead_case.patient.model_copy(update={"birth_date": tomorrow})
    examination = lead_case.examination.model_copy(update={"on": tomorrow})
    with pytest.raises(Refused) as caught:
        import_case_file(facts=changed(lead_case, patient=person, examination=examination), actor=owner, now=NOW)
    assert {path for path, _ in caught.value.faults} >= {"patient.birth_date", "examination.on"}


def test_it_will_not_guess_between_two_files_of_one_name(owner: Staff, lead_case: CaseFacts) -> None:
    who = lead_case.patient
    files = [register_patient(name=who.name.upper(), birth_date=who.birth_date, actor=owner, now=NOW) for _ in range(2)]
    with pytest.raises(Refused, match="has 2 files here"):
        import_case_file(facts=lead_case, actor=owner, now=NOW)
    taken = import_case_file(facts=lead_case, patient=files[1], actor=owner, now=NOW)
    assert taken.case.patient == files[1]
    assert taken.twins == (files[0],)


def test_who_may(
    owner: Staff, colleague: Staff, outsider: Staff, person: Callable[..., Staff], lead_case: CaseFacts
) -> None:
    with pytest.raises(NotAllowed, match="run case file"):
        import_case_file(facts=lead_case, actor=colleague, now=NOW)
    with pytest.raises(NotAllowed, match="create identity"):
        import_case_file(facts=lead_case, actor=person(Role.DENTIST), now=NOW)
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    with pytest.raises(NotAllowed, match="another office"):
        export_case_file(case=case, actor=outsider, now=NOW)
    with pytest.raises(NotAllowed, match="another office"):
        import_case_file(facts=lead_case, patient=case.patient, actor=outsider, now=NOW)
    assert import_case_file(facts=lead_case, actor=outsider, now=NOW).new_patient, "an office knows only its own people"


def test_gathering_the_facts_takes_ten_queries(owner: Staff, lead_case: CaseFacts, queries: Any) -> None:
    case = Case.objects.get(pk=import_case_file(facts=lead_case, actor=owner, now=NOW).case.pk)
    with queries.counted() as found:
        case_facts(case)
    assert len(found) == 10


def test_only_deciding_facts_decide(lead_case: CaseFacts) -> None:
    plain = deciding_hash(case_data(lead_case))
    asked = lead_case.history.model_copy(update={"any_change_asked_on": TODAY})
    large = lead_case.patient.model_copy(update={"print_points": 24, "language": "es"})
    same = changed(lead_case, history=asked, patient=large, notes="rang twice")
    assert deciding_hash(case_data(same)) == plain
    assert facts_hash(same) != facts_hash(lead_case)
    latex = lead_case.history.model_copy(update={"latex": True})
    assert deciding_hash(case_data(changed(lead_case, history=latex))) != plain
    assert deciding_hash(case_data(changed(lead_case, wishes=()))) != plain
