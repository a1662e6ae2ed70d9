"""One person has two files: joined by two people, read as one, and taken apart exactly as they were."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.forms.models import model_to_dict
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from planner.patients.examinations import store_examination
from planner.patients.facts import history_facts
from planner.patients.files import files_of, refuse_closed
from planner.patients.join_models import JoinedFile
from planner.patients.joining import (
    allow_joining,
    ask_apart,
    ask_to_join,
    carry_out,
    decline_joining,
    take_apart,
)
from planner.patients.models import Patient
from planner.patients.names import label_name
from planner.patients.queries import possible_twins, search
from planner.patients.services import (
    answer_any_change,
    change_patient,
    record_history,
    register_patient,
    set_stop_all,
)
from planner.plans.casefiles import import_case_file
from planner.plans.cases import open_case
from planner.plans.estimates import draft_estimate
from planner.plans.facts import case_facts
from planner.plans.queries import cases_of
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.joining import CHOSEN, DECIDES, apart_values, joined_values, stricter
from planner.rules.mouth import Allergy, CaseFacts, History
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.pages import client_of
from tests.patients.joined import join_files
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db
BORN = date(1980, 2, 29)
LATER = NOW + timedelta(days=1)

VALUES = st.fixed_dictionaries(
    {name: st.sampled_from(["a", "b", ""]) for name in (*CHOSEN, "sort_key", "decision_maker")}
    | {name: st.sampled_from([True, False, None]) for name in ("contact_consent", *DECIDES[::2])}
)
FLAGS = ("latex", "nickel", "peroxide", "pregnant", "bleeding_or_thinner", "highest_risk_heart")
FORMS = st.builds(
    History,
    **{name: st.sampled_from([True, False, None]) for name in FLAGS},
    methacrylate=st.sampled_from([None, *Allergy]),
    bone_drug=st.sampled_from([None, "none", "osteoporosis dose", "cancer dose", "other"]),
    jaw_radiation=st.sampled_from([None, "none", "under 50 Gy", "50 Gy or more", "dose unknown"]),
    nicotine_per_day=st.none() | st.integers(0, 40),
    signed_on=st.dates(date(2020, 1, 1), date(2026, 1, 1)),
)


class TestTheRule:
    @given(VALUES, VALUES, st.sets(st.sampled_from(CHOSEN)))
    def test_what_is_joined_comes_apart_exactly_as_it_was(
        self, kept: dict[str, Any], other: dict[str, Any], take: set[str]
    ) -> None:
        after = joined_values(kept, other, take)
        before = {name: kept[name] for name in after}
        joined = kept | after
        assert joined | apart_values(before, after, joined) == kept

    @given(VALUES, VALUES, st.sets(st.sampled_from(CHOSEN)))
    def test_the_stricter_of_contact_and_of_who_decides_holds(
        self, kept: dict[str, Any], other: dict[str, Any], take: set[str]
    ) -> None:
        joined = kept | joined_values(kept, other, take)
        for name in ("contact_consent", "can_decide_alone"):
            answers = {kept[name], other[name]}
            assert joined[name] is (False if False in answers else None if None in answers else True)

    @given(FORMS, FORMS)
    def test_of_two_answers_about_health_the_stricter_holds(self, one: History, two: History) -> None:
        found = stricter(one, two)
        for name in FLAGS:
            answers = {getattr(one, name), getattr(two, name)}
            assert getattr(found, name) is (True if True in answers else False if False in answers else None)
        for name in ("methacrylate", "bone_drug", "jaw_radiation", "nicotine_per_day"):
            assert getattr(found, name) == getattr(stricter(two, one), name)
            assert getattr(found, name) in (getattr(one, name), getattr(two, name))
        assert found.signed_on == one.signed_on
        assert stricter(one, one) == one

    def test_what_was_corrected_since_stays(self) -> None:
        assert apart_values({"name": "A", "phone": "1"}, {"name": "B", "phone": "2"}, {"name": "B", "phone": "3"}) == {
            "name": "A"
        }

    def test_a_label_says_the_first_name_in_capitals(self) -> None:
        assert label_name("Linnea Vantongeren", "vantongeren linnea") == "LINNEA Vantongeren"
        assert label_name("Nagy Ilona", "nagy ilona") == "Nagy ILONA"
        assert label_name("Cher", "cher") == "Cher"


def register(owner: Staff, name: str, **about: Any) -> Patient:
    return register_patient(name=name, birth_date=BORN, phone="0170 555 0199", about=about, actor=owner, now=NOW)


@pytest.fixture
def manager(person: Callable[..., Staff]) -> Staff:
    return person(Role.MANAGER)


@pytest.fixture
def dentist(person: Callable[..., Staff]) -> Staff:
    return person(Role.DENTIST)


@pytest.fixture
def pair(owner: Staff) -> tuple[Patient, Patient]:
    """One person under two spellings; the other file tells of an allergy and wants no contact."""
    kept, other = register(owner, "Ann Brook"), register(owner, "Anne Brook")
    other.contact_consent, other.phone = False, "0170 555 0100"
    other.save()
    for one, allergy, day in ((other, Allergy.POSITIVE, 20), (kept, Allergy.NO, 2)):
        facts = History(signed_on=TODAY - timedelta(days=day), methacrylate=allergy)
        record_history(patient=one, facts=facts, actor=owner, now=NOW)
    return kept, other


def rows(*people: Patient) -> list[dict[str, Any]]:
    return [model_to_dict(Patient.objects.get(pk=one.pk)) for one in people]


def test_two_files_are_joined_by_two_people_and_taken_apart_exactly_as_they_were(
    pair: tuple[Patient, Patient], owner: Staff, manager: Staff, dentist: Staff
) -> None:
    kept, other = pair
    before, told = rows(*pair), [history_facts(one) for one in pair]
    row = join_files(*pair, owner, manager, dentist, "name", "phone")
    now = Patient.objects.get(pk=kept.pk)
    assert (now.name, now.phone, now.contact_consent) == ("Anne Brook", "0170 555 0100", False)
    assert rows(other) == before[1:]
    assert files_of(kept) == files_of(other) == tuple(pair)
    assert search(owner.office, text="anne").patients == (now, other)
    row = ask_apart(join=row, reason="Mother and daughter.", actor=manager, now=LATER)
    with pytest.raises(NotAllowed):
        take_apart(join=row, actor=manager, now=LATER)
    take_apart(join=row, actor=dentist, now=LATER)
    assert rows(*pair) == before
    assert [history_facts(one) for one in pair] == told
    assert files_of(kept) == (kept,)
    assert [one.name for one in search(owner.office, text="anne").patients] == ["Anne Brook"]
    told_in_both = TrailEntry.objects.filter(act="join.apart", subject_id__in=[one.public_id for one in pair])
    assert told_in_both.count() == 2


def test_an_allergy_told_in_either_file_holds_until_a_new_form_is_signed(
    pair: tuple[Patient, Patient], owner: Staff, manager: Staff, dentist: Staff
) -> None:
    kept, other = pair
    assert history_facts(kept).methacrylate is Allergy.NO
    join_files(*pair, owner, manager, dentist)
    for one in pair:
        assert history_facts(one).methacrylate is Allergy.POSITIVE
        assert history_facts(one).signed_on == TODAY - timedelta(days=2)
    with pytest.raises(Refused, match="Ann Brook: go on in that one"):
        record_history(patient=other, facts=History(signed_on=TODAY), actor=owner, now=LATER)
    answer_any_change(patient=kept, asked_on=TODAY, changed=False, actor=owner, now=NOW)
    facts = History(signed_on=TODAY, methacrylate=Allergy.SUSPECTED)
    record_history(patient=kept, facts=facts, actor=owner, now=LATER)
    assert history_facts(other).methacrylate is Allergy.SUSPECTED


def test_who_joins_and_when_it_is_final(
    pair: tuple[Patient, Patient], owner: Staff, manager: Staff, dentist: Staff, person: Callable[..., Staff]
) -> None:
    lead, desk = person(Role.DESK_LEAD), person(Role.FRONT_DESK)
    ask: dict[str, Any] = {"kept": pair[0], "joined": pair[1], "reason": "Same passport.", "now": NOW}
    with pytest.raises(NotAllowed):
        ask_to_join(**ask, actor=desk)
    row = ask_to_join(**ask, actor=lead)
    with pytest.raises(Refused, match="asked for already"):
        ask_to_join(**ask, actor=manager)
    for nobody in (lead, dentist):
        with pytest.raises(NotAllowed):
            allow_joining(join=row, take=(), actor=nobody, now=NOW)
    with pytest.raises(Refused, match="Nobody has allowed"):
        carry_out(join=row, actor=dentist, now=NOW)
    at_once, row = row, allow_joining(join=row, take=(), actor=owner, now=NOW)
    with pytest.raises(Refused, match="answered already: allowed by Olive Owner"):
        decline_joining(join=at_once, reason="Two people.", actor=manager, now=NOW)
    with pytest.raises(Refused, match="Two persons"):
        carry_out(join=row, actor=owner, now=NOW)
    with pytest.raises(NotAllowed):
        carry_out(join=row, actor=manager, now=NOW)
    row = carry_out(join=row, actor=dentist, now=NOW)
    with pytest.raises(Refused, match="final after 30 days"):
        ask_apart(join=row, reason="Late.", actor=manager, now=NOW + timedelta(days=30, seconds=1))
    row = ask_apart(join=row, reason="In time.", actor=owner, now=NOW + timedelta(days=30))
    with pytest.raises(Refused, match="Two persons"):
        take_apart(join=row, actor=owner, now=LATER)


def test_a_no_and_what_is_never_joined(
    pair: tuple[Patient, Patient], owner: Staff, outsider: Staff, manager: Staff
) -> None:
    kept, other = pair
    ask: dict[str, Any] = {"reason": "Same passport.", "actor": manager, "now": NOW}
    with pytest.raises(Refused, match="another file"):
        ask_to_join(kept=kept, joined=kept, **ask)
    with pytest.raises(NotAllowed):
        ask_to_join(kept=kept, joined=register(outsider, "Ann Brook"), **ask)
    other = set_stop_all(patient=other, seen=other.version, stop=True, reason="She died.", actor=owner, now=NOW)
    with pytest.raises(Refused, match="all contact is stopped"):
        ask_to_join(kept=kept, joined=other, **ask)
    kept = set_stop_all(patient=kept, seen=kept.version, stop=True, reason="She died.", actor=owner, now=NOW)
    row = ask_to_join(kept=kept, joined=other, **ask)
    with pytest.raises(Refused, match="Say why"):
        decline_joining(join=row, reason=" ", actor=manager, now=NOW)
    decline_joining(join=row, reason="Two people.", actor=manager, now=NOW)
    assert files_of(kept) == (kept,)


def test_nothing_new_is_begun_in_the_closed_file_and_both_are_read(
    lead_case: CaseFacts, owner: Staff, manager: Staff, dentist: Staff
) -> None:
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    other = case.patient
    kept = register_patient(name=other.name, birth_date=other.birth_date, actor=owner, now=NOW)
    join_files(kept, other, owner, manager, dentist)
    assert cases_of(kept) == cases_of(other) == (case,)
    assert possible_twins(owner.office, name=kept.name, birth_date=kept.birth_date, besides=kept) == ()
    new: dict[str, Callable[[], object]] = {
        "estimate": lambda: draft_estimate(case=case, actor=owner, now=NOW),
        "case": lambda: open_case(patient=other, examination=case.examination, name="B", actor=owner, now=NOW),
        "examination": lambda: store_examination(
            patient=other, facts=lead_case.examination, actor=owner, now=NOW
        ),
        "identity": lambda: change_patient(
            patient=other, seen=other.version, changes={"phone": "1"}, actor=owner, now=NOW
        ),
    }  # fmt: skip
    for begun in new.values():
        with pytest.raises(Refused, match="nothing new is begun here"):
            begun()
    refuse_closed(kept)
    # On measurements of the closed file a case of the kept one is opened.
    made = open_case(patient=kept, examination=case.examination, name="Goes on", actor=owner, now=NOW)
    assert case_facts(made).history == case_facts(case).history != History()
    draft_estimate(case=made, actor=owner, now=NOW)
    stopped = set_stop_all(patient=kept, seen=kept.version, stop=True, reason="Moved away.", actor=owner, now=NOW)
    assert stopped.stop_all
    assert Patient.objects.get(pk=other.pk).stop_all


def test_the_pages_lead_through_it(
    pair: tuple[Patient, Patient], owner: Staff, manager: Staff, dentist: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, other = pair

    def at(moment: datetime) -> None:
        monkeypatch.setattr("django.utils.timezone.now", lambda: moment)

    at(NOW)
    file = reverse("patients:patient", args=[kept.public_id])
    assert "Easily mistaken for" in client_of(owner).get(file).content.decode()
    ask = reverse("patients:join", args=[kept.public_id])
    assert client_of(manager).post(ask, {"other": other.public_id, "reason": ""}).status_code == 200
    assert client_of(manager).post(ask, {"other": other.public_id, "reason": "Passport."}).status_code == 302
    page = reverse("patients:joined", args=[JoinedFile.objects.get().public_id])
    sent = {"way": "allow", "take_phone": "other", "take_name": "kept"}
    assert client_of(manager).post(page, sent).status_code == 302
    assert client_of(dentist).post(page, {"way": "join"}).status_code == 302
    row = JoinedFile.objects.get()
    assert (row.holds, row.take, row.after) == (True, ["phone"], {"phone": "0170 555 0100", "contact_consent": False})
    assert "Joined on" in client_of(owner).get(file).content.decode()
    closed = client_of(owner).get(reverse("patients:patient", args=[other.public_id])).content.decode()
    assert "This file is closed." in closed
    assert "It can be taken apart through" in client_of(manager).get(page).content.decode()
    assert client_of(manager).post(page, {"way": "ask_apart", "reason": "Two people."}).status_code == 302
    assert client_of(dentist).post(page, {"way": "apart"}).status_code == 302
    assert "Taken apart by" in client_of(manager).get(page).content.decode()
