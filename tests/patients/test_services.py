"""What is done to people's files: who may, what is refused with which sentence, what the trail says."""

import json
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.http import Http404

from planner.patients import examinations
from planner.patients.access import load_examination, load_patient
from planner.patients.facts import examination_facts, history_facts
from planner.patients.models import Examination, HistoryForm, Patient, Status, ToothReading
from planner.patients.pictures import record_picture
from planner.patients.queries import possible_twins, search
from planner.patients.services import (
    answer_any_change,
    change_patient,
    record_history,
    register_patient,
    set_stop_all,
    viewed,
)
from planner.practice.access import Act, Thing
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules import mouth
from planner.rules.teeth import Tooth
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailEntry
from planner.trail.services import verify_chain
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db
BORN = date(1980, 2, 29)


def register(actor: Staff, name: str = "Ann O'Hara", born: date = BORN, **values: Any) -> Patient:
    return register_patient(name=name, birth_date=born, actor=actor, now=NOW, **values)


def measured(**values: Any) -> mouth.Examination:
    tooth = {"tooth": Tooth.from_iso("11"), "width": "8.3"}
    return mouth.Examination.model_validate({"on": TODAY, "by": "Olive", "teeth": [tooth]} | values)


def last_act() -> TrailEntry:
    return TrailEntry.objects.order_by("-sequence")[0]


class TestIdentity:
    def test_a_name_stays_as_the_person_writes_it(self, colleague: Staff) -> None:
        patient = register(colleague, name="  María-José   d'Ávila ")
        assert (patient.name, patient.sort_key) == ("María-José d'Ávila", "davila maria jose")
        assert last_act().act == "patient.register"
        assert json.loads(last_act().detail.content)["birth_date"] == "1980-02-29"

    @pytest.mark.parametrize("name", ["Cher", "صباح", "山田 太郎", "O'Neill-van der Bergh " + "x" * 60])
    def test_names_of_every_kind_are_taken_and_found(self, owner: Staff, name: str) -> None:
        patient = register(owner, name=name)
        assert patient in search(owner.office, text=name.split()[-1][:3]).patients

    @pytest.mark.parametrize(
        ("values", "sentence"),
        [
            ({"name": "  "}, "needs the person's name"),
            ({"name": "A\x00nn"}, "invisible sign"),
            ({"born": TODAY + timedelta(days=1)}, "lies in the future; today is 2026-03-02"),
            ({"phone": "1" * 41}, "longer than 40"),
            ({"name": "x" * 201}, "name: .*200"),
            ({"about": {"language": "fr"}}, "language: "),
            ({"about": {"shoe_size": 44}}, 'no "shoe_size"'),
        ],
    )
    def test_what_cannot_be_taken_gets_a_sentence(self, owner: Staff, values: dict[str, Any], sentence: str) -> None:
        with pytest.raises(Refused, match=sentence):
            register(owner, **values)
        assert not Patient.objects.exists()

    def test_the_second_editor_gets_both_versions_and_nothing_is_lost(self, owner: Staff, colleague: Staff) -> None:
        patient = register(owner, phone="1")
        change_patient(patient=patient, seen=1, changes={"phone": "2"}, actor=owner, now=NOW)
        with pytest.raises(StaleEdit) as caught:
            change_patient(patient=patient, seen=1, changes={"phone": "3"}, actor=colleague, now=NOW)
        assert (caught.value.yours, caught.value.theirs) == ({"phone": "3"}, {"phone": "2"})
        assert (caught.value.seen, caught.value.version) == (1, 2)
        patient.refresh_from_db()
        assert (patient.phone, patient.version) == ("2", 2)
        assert last_act().act == "patient.change", "the refused edit left no entry"

    def test_a_changed_name_is_found_by_the_new_one_only(self, owner: Staff) -> None:
        patient = register(owner)
        change_patient(patient=patient, seen=1, changes={"name": "Ann Smith"}, actor=owner, now=NOW)
        assert search(owner.office, text="smith").patients == (patient,)
        assert search(owner.office, text="ohara").patients == ()

    def test_stopping_contact_needs_a_reason(self, owner: Staff) -> None:
        patient = register(owner)
        with pytest.raises(Refused, match="needs a reason"):
            set_stop_all(patient=patient, seen=1, stop=True, reason="", actor=owner, now=NOW)
        assert set_stop_all(patient=patient, seen=1, stop=True, reason="died", actor=owner, now=NOW).stop_all
        assert (last_act().act, last_act().reason) == ("patient.stop_all", "died")

    def test_a_look_is_one_entry(self, colleague: Staff) -> None:
        patient = register(colleague)
        viewed(patient=patient, actor=colleague, now=NOW)
        entry = last_act()
        assert (entry.act, entry.subject_id, entry.actor_name, entry.role) == (
            "patient.view",
            patient.public_id,
            "Cleo Colleague",
            "front desk",
        )

    def test_the_database_refuses_what_the_service_would(self, owner: Staff) -> None:
        patient = register(owner)
        for spoiled in ({"language": "fr"}, {"print_points": 12}, {"name": ""}, {"sex": "x"}):
            with pytest.raises(IntegrityError), transaction.atomic():
                Patient.objects.filter(pk=patient.pk).update(**spoiled)


class TestDoors:
    def test_one_opens_and_another_office_finds_nothing(self, owner: Staff, colleague: Staff, outsider: Staff) -> None:
        patient = register(owner)
        for actor in (owner, colleague):
            assert load_patient(actor=actor, public_id=patient.public_id, now=NOW) == patient
        with pytest.raises(Http404):
            load_patient(actor=outsider, public_id=patient.public_id, now=NOW)
        entry = last_act()
        assert (entry.act, entry.reason, entry.office) == ("refused.identity.view", "another office", outsider.office)
        before = TrailEntry.objects.count()
        with pytest.raises(Http404):
            load_patient(actor=owner, public_id="nobody", now=NOW)
        assert TrailEntry.objects.count() == before + 1, "trying ids is noted, also when nothing has them"
        assert last_act().reason == "nothing has this id"

    def test_an_act_the_role_does_not_allow_is_refused_and_recorded(self, owner: Staff, colleague: Staff) -> None:
        patient = register(owner)
        examination = examinations.store_examination(patient=patient, facts=measured(), actor=owner, now=NOW)
        with pytest.raises(NotAllowed, match="To view measurements is not among what front desk may do"):
            load_examination(actor=colleague, public_id=examination.public_id, now=NOW)
        assert (last_act().act, last_act().subject_id) == ("refused.measurements.view", examination.public_id)
        with pytest.raises(NotAllowed):
            load_patient(actor=colleague, public_id=patient.public_id, act=Act.VIEW, thing=Thing.FLAGS, now=NOW)
        assert verify_chain().faults == ()

    def test_every_service_shuts_out_another_office(self, owner: Staff, outsider: Staff) -> None:
        patient = register(owner)
        examination = examinations.store_examination(patient=patient, facts=measured(), actor=owner, now=NOW)
        who = {"actor": outsider, "now": NOW}
        picture = mouth.Picture.model_validate({"kind": "photo", "on": TODAY, "reader": "O"})
        acts: list[Callable[[], object]] = [
            lambda: change_patient(patient=patient, seen=1, changes={"phone": "2"}, **who),
            lambda: set_stop_all(patient=patient, seen=1, stop=True, reason="r", **who),
            lambda: record_history(patient=patient, facts=mouth.History(), **who),
            lambda: answer_any_change(patient=patient, asked_on=TODAY, changed=False, **who),
            lambda: record_picture(patient=patient, facts=picture, **who),
            lambda: examinations.store_examination(patient=patient, facts=measured(), **who),
            lambda: examinations.change_examination(examination=examination, seen=1, facts=measured(), **who),
            lambda: examinations.confirm_examination(examination=examination, seen=1, **who),
        ]
        for act in acts:
            with pytest.raises(NotAllowed, match="another office"):
                act()


class TestHistory:
    def test_the_newest_form_holds_and_the_older_stay(self, owner: Staff, colleague: Staff) -> None:
        patient = register(owner)
        assert history_facts(patient) == mouth.History(), "nothing was asked"
        for days, latex in ((30, False), (3, True)):
            facts = mouth.History(signed_on=TODAY - timedelta(days=days), latex=latex)
            record_history(patient=patient, facts=facts, signed_by="Ann", actor=colleague, now=NOW)
        assert history_facts(patient).latex is True
        assert history_facts(patient, TODAY - timedelta(days=10)).latex is False
        assert HistoryForm.objects.count() == 2

    def test_a_form_from_the_future_or_from_before_the_one_on_file_is_refused(self, owner: Staff) -> None:
        patient = register(owner)
        record_history(patient=patient, facts=mouth.History(signed_on=TODAY), actor=owner, now=NOW)
        for day, sentence in ((1, "future"), (-1, "the newer one holds")):
            facts = mouth.History(signed_on=TODAY + timedelta(days=day))
            with pytest.raises(Refused, match=sentence):
                record_history(patient=patient, facts=facts, actor=owner, now=NOW)

    def test_after_a_change_the_history_counts_as_not_asked(self, owner: Staff) -> None:
        patient = register(owner)
        with pytest.raises(Refused, match="No signed history"):
            answer_any_change(patient=patient, asked_on=TODAY, changed=False, actor=owner, now=NOW)
        record_history(patient=patient, facts=mouth.History(signed_on=TODAY), actor=owner, now=NOW)
        answer_any_change(patient=patient, asked_on=TODAY, changed=False, actor=owner, now=NOW)
        assert history_facts(patient).any_change_asked_on == TODAY
        with pytest.raises(Refused, match="what has changed"):
            answer_any_change(patient=patient, asked_on=TODAY, changed=True, actor=owner, now=NOW)
        answer_any_change(patient=patient, asked_on=TODAY, changed=True, note="new pill", actor=owner, now=NOW)
        assert history_facts(patient).any_change_asked_on is None
        with pytest.raises(Refused, match="future"):
            answer_any_change(patient=patient, asked_on=TODAY + timedelta(days=1), changed=False, actor=owner, now=NOW)


class TestExaminations:
    def test_an_assistant_measures_and_a_dentist_confirms(
        self, owner: Staff, person: Callable[..., Staff], colleague: Staff
    ) -> None:
        assistant, patient = person(Role.ASSISTANT), register(owner)
        with pytest.raises(NotAllowed):
            examinations.store_examination(patient=patient, facts=measured(), actor=colleague, now=NOW)
        with pytest.raises(NotAllowed, match="approve measurements"):
            examinations.store_examination(
                patient=patient, facts=measured(confirmed_by="Olive Owner"), actor=assistant, now=NOW
            )
        draft = examinations.store_examination(patient=patient, facts=measured(), actor=assistant, now=NOW)
        assert draft.status == Status.DRAFT
        with pytest.raises(NotAllowed):
            examinations.confirm_examination(examination=draft, seen=1, actor=assistant, now=NOW)
        confirmed = examinations.confirm_examination(examination=draft, seen=1, actor=owner, now=NOW)
        assert (confirmed.status, confirmed.confirmed_by) == (Status.CONFIRMED, "Olive Owner")
        changed = examinations.change_examination(
            examination=confirmed, seen=2, facts=measured(), actor=assistant, now=NOW
        )
        assert changed.status == Status.DRAFT, "what was changed is confirmed again"

    def test_every_contradiction_is_listed_and_nothing_is_kept(self, owner: Staff) -> None:
        patient = register(owner)
        teeth = [{"tooth": Tooth.from_iso("11"), "width": "83.0"}, {"tooth": Tooth.from_iso("11"), "width": "8.3"}]
        with pytest.raises(Refused) as caught:
            examinations.store_examination(patient=patient, facts=measured(teeth=teeth), actor=owner, now=NOW)
        assert [path for path, _ in caught.value.faults][:2] == [
            "examination.teeth[0].width",
            "examination.teeth[1].tooth",
        ]
        assert not Examination.objects.exists()

    @pytest.mark.parametrize(
        ("values", "path"),
        [
            ({"strip_length": "250.0"}, "examination.strip_length"),
            ({"midline_offset": "-41.0"}, "examination.midline_offset"),
            ({"empty_places": [{"place": Tooth.from_iso("12"), "ridge_thickness": "50.0"}]}, "ridge_thickness"),
        ],
    )
    def test_a_length_that_no_mouth_has_gets_its_path(self, owner: Staff, values: dict[str, Any], path: str) -> None:
        with pytest.raises(Refused) as caught:
            examinations.store_examination(patient=register(owner), facts=measured(**values), actor=owner, now=NOW)
        assert any(path in found for found, _ in caught.value.faults)

    def test_a_used_set_is_closed_for_good_and_corrected_by_a_new_one(self, owner: Staff) -> None:
        patient = register(owner)
        draft = examinations.store_examination(patient=patient, facts=measured(), actor=owner, now=NOW)
        with pytest.raises(Refused, match="not confirmed"):
            examinations.close_examination(examination=draft, actor=owner, now=NOW)
        confirmed = examinations.confirm_examination(examination=draft, seen=1, actor=owner, now=NOW)
        used = examinations.close_examination(examination=confirmed, actor=owner, now=NOW)
        assert examinations.close_examination(examination=used, actor=owner, now=NOW) == used
        for act in (
            lambda: examinations.change_examination(examination=used, seen=3, facts=measured(), actor=owner, now=NOW),
            lambda: examinations.confirm_examination(examination=used, seen=3, actor=owner, now=NOW),
        ):
            with pytest.raises(Refused, match="a correction is a new set"):
                act()
        with pytest.raises(IntegrityError), transaction.atomic():
            ToothReading.objects.create(examination=used, office=patient.office, position=9, tooth="upper-left-canine")
        new = examinations.store_examination(
            patient=patient, facts=measured(by="Olive again"), corrects=used, actor=owner, now=NOW
        )
        assert new.corrects == used
        assert examination_facts(used).by == "Olive"

    def test_two_editors_of_one_set(self, owner: Staff) -> None:
        draft = examinations.store_examination(patient=register(owner), facts=measured(), actor=owner, now=NOW)
        examinations.change_examination(examination=draft, seen=1, facts=measured(by="first"), actor=owner, now=NOW)
        with pytest.raises(StaleEdit) as caught:
            examinations.change_examination(
                examination=draft, seen=1, facts=measured(by="second", teeth=[]), actor=owner, now=NOW
            )
        assert (caught.value.theirs["by"], caught.value.yours["by"]) == ("first", "second")
        draft.refresh_from_db()
        assert examination_facts(draft).by == "first"
        assert len(examination_facts(draft).teeth) == 1, "the lines of the first editor stand"


class TestFinding:
    def test_it_finds_by_any_part_in_any_order_and_case(self, owner: Staff, outsider: Staff) -> None:
        zoe, other = register(owner, "Zoë Brightwater-Lund"), register(owner, "Zoran Lindt")
        register(outsider, "Zoë Brightwater-Lund")
        assert search(owner.office, text="ZOE").patients == (zoe,)
        assert search(owner.office, text="lu bri").patients == (zoe,)
        assert set(search(owner.office, text="zo").patients) == {zoe, other}
        assert search(owner.office, text="rightwater").patients == ()
        assert search(owner.office, text="%").patients == search(owner.office).patients
        assert search(owner.office, birth_date=date(1980, 3, 1)).patients == ()
        assert len(search(owner.office, birth_date=BORN).patients) == 2

    def test_pages_together_are_everybody_once_and_in_order(self, owner: Staff) -> None:
        for number in range(7):
            register(owner, f"Person {'ABBBCDE'[number]}")
        seen, after = [], ""
        while True:
            page = search(owner.office, text="person", after=after, size=2)
            seen += page.patients
            after = page.after
            if not after:
                break
        assert seen == list(Patient.objects.order_by("sort_key", "id"))
        assert len(seen) == 7

    def test_it_asks_as_often_for_many_as_for_few(self, owner: Staff, queries: Any) -> None:
        counts = []
        for number in (2, 20):
            for extra in range(number):
                register(owner, f"Ann Number{extra}")
            after = search(owner.office, text="ann", size=1).after
            with queries.counted() as found:
                search(owner.office, text="ann", after=after, size=5)
            counts.append(len(found))
        assert counts == [2, 2]

    def test_it_warns_of_twins_and_of_two_files_of_one_person(self, owner: Staff, outsider: Staff) -> None:
        ann = register(owner, "Ann Brook")
        amy = register(owner, "Amy Brook")
        register(owner, "Peter Vandenberg")
        register(owner, "Ann Brook", date(1981, 1, 1))
        register(outsider, "Ann Brook")
        twins = possible_twins(owner.office, name=ann.name, birth_date=ann.birth_date, besides=ann)
        assert twins == (amy,)
        assert possible_twins(owner.office, name="Anne Brooke", birth_date=BORN) == (ann,)
