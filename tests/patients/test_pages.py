"""Pages about people: who may open them, what they say to bad input, two editors at once, and their cost."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client
from django.utils import timezone

from planner.patients import services
from planner.patients.facts import history_facts
from planner.patients.models import AnyChange, HistoryForm, Patient
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import History
from planner.trail.models import TrailDetail, TrailEntry
from tests.pages import client_of, queries_of, refusals

pytestmark = pytest.mark.django_db

PAGES = ("", "change/", "stop/", "history/", "history/new/", "any-change/")
NEW = {
    "name": "Zoë  O'Brien-Ng",
    "birth_date": "29 February 1996",
    "phone": "416 555 0199",
    "contact_consent": "no",
    "language": "es",
    "print_points": "18",
    "can_decide_alone": "yes",
}


@pytest.fixture
def patient(owner: Staff) -> Patient:
    """Somebody on file, with a signed history."""
    patient = _patient(owner, "Anselm Brightwater")
    facts = History(signed_on=date(2026, 1, 5), latex=True, nickel=False)
    services.record_history(patient=patient, facts=facts, actor=owner, now=timezone.now())
    return patient


def _patient(owner: Staff, name: str, born: date = date(1979, 3, 2)) -> Patient:
    return services.register_patient(name=name, birth_date=born, actor=owner, now=timezone.now())


def _shown(client: Client, url: str) -> dict[str, str]:
    """What the form of a page holds, as a browser would send it back."""
    form = client.get(url).context["form"]
    return {field.html_name: str(field.value()) for field in form if str(field.value()) not in ("None", "False", "")}


# Who may


@pytest.mark.parametrize("page", PAGES)
def test_nobody_gets_in_without_signing_in(page: str, patient: Patient) -> None:
    url = f"/patients/{patient.public_id}/{page}"
    assert client_of(None).get(url)["Location"] == f"/sign-in/?next={url}"


@pytest.mark.parametrize("page", PAGES)
def test_another_office_finds_nothing_and_leaves_a_trace(page: str, patient: Patient, outsider: Staff) -> None:
    with refusals() as noted:
        response = client_of(outsider).get(f"/patients/{patient.public_id}/{page}")
    assert response.status_code == 404
    assert "Brightwater" not in response.content.decode()
    assert len(noted) == 1


def test_another_offices_search_finds_nobody(patient: Patient, outsider: Staff) -> None:
    response = client_of(outsider).post("/patients/", {"q": "brightwater"})
    assert "Nobody is found" in response.content.decode()
    after = client_of(outsider).post("/patients/", {"q": "", "after": patient.public_id})
    assert "Nobody is on file yet" in after.content.decode()


@pytest.mark.parametrize(
    ("role", "page", "status"),
    [
        (Role.ASSISTANT, "", 200),
        (Role.ASSISTANT, "change/", 403),
        (Role.ASSISTANT, "stop/", 403),
        (Role.ASSISTANT, "history/new/", 200),
        (Role.FRONT_DESK, "change/", 200),
        (Role.FRONT_DESK, "history/", 403),
        (Role.FRONT_DESK, "history/new/", 200),
        (Role.FRONT_DESK, "any-change/", 200),
        (Role.MANAGER, "history/", 200),
        (Role.MANAGER, "history/new/", 403),
        (Role.KEEPER, "", 403),
    ],
)
def test_each_role_gets_as_far_as_it_may(
    role: Role, page: str, status: int, patient: Patient, person: Callable[..., Staff]
) -> None:
    with refusals() as noted:
        response = client_of(person(role)).get(f"/patients/{patient.public_id}/{page}")
    assert response.status_code == status
    assert len(noted) == (status == 403)


@pytest.mark.parametrize("url", ["/patients/", "/patients/new/"])
def test_the_system_keeper_sees_no_people(url: str, person: Callable[..., Staff]) -> None:
    with refusals() as noted:
        assert client_of(person(Role.KEEPER)).get(url).status_code == 403
    assert len(noted) == 1


def test_the_desk_enters_a_history_without_reading_the_last_one(patient: Patient, colleague: Staff) -> None:
    response = client_of(colleague).get(f"/patients/{patient.public_id}/history/new/")
    assert response.context["form"]["latex"].value() == ""
    page = client_of(colleague).get(f"/patients/{patient.public_id}/").content.decode()
    assert "5 January 2026" in page
    assert "Read the history" not in page


def test_opening_a_file_is_recorded(patient: Patient, colleague: Staff) -> None:
    client_of(colleague).get(f"/patients/{patient.public_id}/")
    entry = TrailEntry.objects.filter(act="patient.view").get()
    assert (entry.actor_id, entry.subject_id) == (colleague.pk, patient.public_id)


# Finding


def test_a_search_is_posted_so_that_no_name_stands_in_an_address(owner: Staff, patient: Patient) -> None:
    _patient(owner, "Mara Conaill", date(1990, 7, 14))
    client = client_of(owner)
    page = client.post("/patients/", {"q": "BRIGHT"}).content.decode()
    assert ("Anselm Brightwater" in page, "Mara Conaill" in page) == (True, False)
    page = client.post("/patients/", {"q": "14 July 1990"}).content.decode()
    assert ("Anselm Brightwater" in page, "Mara Conaill" in page) == (False, True)
    # An address with a name in it is not a search.
    assert "Mara Conaill" in client.get("/patients/?q=bright").content.decode()


def test_the_part_for_htmx_is_the_part_of_the_page(owner: Staff, patient: Patient) -> None:
    client = client_of(owner)
    whole = client.post("/patients/", {"q": "bright"}).content.decode()
    part = client.post("/patients/", {"q": "bright"}, headers={"HX-Request": "true"}).content.decode()
    assert "<html" in whole
    assert "<html" not in part
    assert patient.public_id in whole
    assert patient.public_id in part
    nobody = client_of(None).post("/patients/", {"q": "bright"}, headers={"HX-Request": "true"})
    assert (nobody.status_code, nobody["HX-Redirect"]) == (200, "/sign-in/?next=/patients/")
    assert patient.public_id not in nobody.content.decode()


def test_pages_of_people_follow_each_other_without_a_gap(owner: Staff) -> None:
    for number in range(53):
        _patient(owner, f"Person Name{number:02d}")
    client = client_of(owner)
    first = client.post("/patients/", {"q": "name"}).context["page"]
    second = client.post("/patients/", {"q": "name", "after": first.after}).context["page"]
    names = [one.name for one in (*first.patients, *second.patients)]
    assert names == [f"Person Name{number:02d}" for number in range(53)]
    assert second.after == ""


def test_pages_cost_the_same_at_any_size(owner: Staff, patient: Patient) -> None:
    client = client_of(owner)
    urls = [f"/patients/{patient.public_id}/{page}" for page in PAGES] + ["/patients/"]
    before = {url: queries_of(client, url) for url in urls}
    for number in range(12):
        _patient(owner, f"Anton Brightwater{number}")
        signed = History(signed_on=date(2026, 1, 6 + number))
        services.record_history(patient=patient, facts=signed, actor=owner, now=timezone.now())
        services.answer_any_change(
            patient=patient, asked_on=date(2026, 2, 1), changed=False, actor=owner, now=timezone.now()
        )
    assert {url: queries_of(client, url) for url in urls} == before


# Registering


def test_somebody_is_registered_as_written(owner: Staff) -> None:
    response = client_of(owner).post("/patients/new/", NEW)
    patient = Patient.objects.get()
    assert response["Location"] == f"/patients/{patient.public_id}/"
    assert patient.name == "Zoë O'Brien-Ng"
    assert patient.birth_date == date(1996, 2, 29)
    assert (patient.language, patient.print_points, patient.contact_consent) == ("es", 18, False)
    assert patient.own_agreement is None
    assert patient.sort_key == "ng zoe obrien"


@pytest.mark.parametrize("name", ["Plato", "محمد الفاتح", "N'Golo", "X Æ", "A" * 60, "<b>Bold</b> & Co"])
def test_names_of_every_kind_are_taken_and_shown_as_written(name: str, owner: Staff) -> None:
    client = client_of(owner)
    response = client.post("/patients/new/", NEW | {"name": name}, follow=True)
    assert response.status_code == 200
    assert response.context["patient"].name == name
    assert "<b>Bold" not in response.content.decode()


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("name", "", "This is missing"),
        ("birth_date", "3/4/1979", "can be read as two different days"),
        ("birth_date", "30 February 1979", "is not in the calendar"),
        ("birth_date", "1 May 1820", "is too early"),
        ("birth_date", "1 May 2222", "lies in the future"),
        ("birth_date", "soon", "“soon” is not read as a day"),
        ("phone", "1" * 41, "at most 40"),
        ("print_points", "12", "12"),
    ],
)
def test_bad_input_is_named_and_the_rest_is_kept(field: str, value: str, said: str, owner: Staff) -> None:
    sent = NEW | {field: value}
    response = client_of(owner).post("/patients/new/", sent)
    page = response.content.decode()
    assert said in page
    for name in ("name", "birth_date", "phone"):
        if sent[name]:
            assert response.context["form"][name].value() == sent[name]
    assert 'role="alert"' in page
    assert not Patient.objects.exists()


def test_a_possible_twin_is_shown_before_a_file_is_opened(owner: Staff) -> None:
    client = client_of(owner)
    client.post("/patients/new/", NEW | {"name": "Mara Conaill"})
    twin = NEW | {"name": "Mira Conaill", "phone": "416 555 0007"}
    response = client.post("/patients/new/", twin)
    assert "telephone ending 0199" in response.content.decode()
    assert Patient.objects.count() == 1
    assert client.post("/patients/new/", twin | {"another": "on"}).status_code == 302
    for patient in Patient.objects.all():
        assert "Easily mistaken for" in client.get(f"/patients/{patient.public_id}/").content.decode()


def test_looking_first_proposes_the_sort_key_and_stores_nothing(owner: Staff) -> None:
    client = client_of(owner)
    whole = client.post("/patients/new/look/", {"name": "Zoë Ng", "birth_date": "soon"})
    assert "Sorted as “ng zoe”" in whole.content.decode()
    assert 'value="soon"' in whole.content.decode()
    part = client.post("/patients/new/look/", {"name": "Zoë Ng"}, headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert client.get("/patients/new/look/")["Location"] == "/patients/new/"
    assert not Patient.objects.exists()


# Correcting


def test_the_second_editor_gets_both_versions_and_nothing_is_lost(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), f"/patients/{patient.public_id}/change/"
    mine, theirs = _shown(client, url), _shown(client, url)
    assert client.post(url, theirs | {"phone": "111"}).status_code == 302
    response = client.post(url, mine | {"phone": "222", "decision_maker": "Aunt"})
    labels = {str(field.label): (theirs, yours) for field, _was, theirs, yours in response.context["rows"]}
    assert labels == {"Telephone": ("111", "222"), "Who decides with or for this person": ("–", "Aunt")}
    patient.refresh_from_db()
    assert patient.phone == "111"
    again = {field.html_name: str(field.value()) for field in response.context["form"] if field.value()}
    assert client.post(url, again).status_code == 302
    patient.refresh_from_db()
    assert (patient.phone, patient.decision_maker, patient.version) == ("222", "Aunt", 3)


def test_a_new_name_gets_a_new_sort_key_unless_one_is_typed(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), f"/patients/{patient.public_id}/change/"
    client.post(url, _shown(client, url) | {"name": "Anselm Stillwater"})
    patient.refresh_from_db()
    assert patient.sort_key == "stillwater anselm"
    client.post(url, _shown(client, url) | {"name": "Anselm von Stillwater", "sort_key": "von stillwater anselm"})
    patient.refresh_from_db()
    assert patient.sort_key == "von stillwater anselm"


def test_contact_stops_at_once_with_a_reason(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), f"/patients/{patient.public_id}/stop/"
    assert "This is missing" in client.post(url, {"reason": "", "seen": "1"}).content.decode()
    assert client.post(url, {"reason": "complaint open", "seen": "1", "to": "stop"}).status_code == 302
    assert "No contact of any kind" in client.get(f"/patients/{patient.public_id}/").content.decode()
    again = client.post(url, {"reason": "again", "seen": "1", "to": "stop"}).content.decode()
    assert "Contact is stopped already." in again


# History


def test_every_question_of_a_history_is_on_the_form_with_not_asked_as_an_answer(owner: Staff, patient: Patient) -> None:
    form = client_of(owner).get(f"/patients/{patient.public_id}/history/new/").context["form"]
    # "Any change?" is asked on each day of treatment, on a page of its own.
    assert set(form.fields) - {"signed_by"} == set(History.model_fields) - {"any_change_asked_on"}
    shown = {field.name for _words, fields in form.parts() for field in fields} | {"signed_on"}
    assert shown == set(form.fields) - {"signed_by"}
    for name in set(form.fields) - {"signed_on", "signed_by"}:
        assert not form.fields[name].required, name


FILLED = {
    "signed_on": "5 March 2026",
    "signed_by": "Anselm Brightwater",
    "urgent_problem": "no",
    "jaw_pain": "no",
    "methacrylate": "suspected",
    "latex": "yes",
    "nickel": "no",
    "peroxide": "no",
    "chlorhexidine": "no",
    "sulphite": "no",
    "antibiotics": "yes",
    "highest_risk_heart": "no",
    "bleeding_or_thinner": "yes",
    "steroid_or_low_immunity": "no",
    "asthma": "no",
    "epilepsy": "no",
    "untreated_reflux": "yes",
    "diabetes": "yes",
    "hba1c_tenths": "7,8",
    "hba1c_on": "1.2.2026",
    "bone_drug": "osteoporosis dose",
    "bone_drug_years": "4",
    "earlier_jaw_death": "no",
    "jaw_radiation": "under 50 Gy",
    "pregnant": "yes",
    "due_on": "2027-01-31",
    "breast_feeding": "no",
    "nicotine_per_day": "0",
    "weight_kg": "71",
    "looks_worry": "no",
    "smile_treatments_disliked": "2",
}


def test_a_full_form_becomes_the_very_facts_and_reads_back(owner: Staff, patient: Patient) -> None:
    client = client_of(owner)
    assert client.post(f"/patients/{patient.public_id}/history/new/", FILLED).status_code == 302
    expected = History(
        signed_on=date(2026, 3, 5),
        urgent_problem=False,
        jaw_pain=False,
        methacrylate="suspected",
        latex=True,
        nickel=False,
        peroxide=False,
        chlorhexidine=False,
        sulphite=False,
        antibiotics=True,
        highest_risk_heart=False,
        bleeding_or_thinner=True,
        steroid_or_low_immunity=False,
        asthma=False,
        epilepsy=False,
        untreated_reflux=True,
        diabetes=True,
        hba1c_tenths=78,
        hba1c_on=date(2026, 2, 1),
        bone_drug="osteoporosis dose",
        bone_drug_years=4,
        earlier_jaw_death=False,
        jaw_radiation="under 50 Gy",
        pregnant=True,
        due_on=date(2027, 1, 31),
        breast_feeding=False,
        nicotine_per_day=0,
        weight_kg=71,
        looks_worry=False,
        smile_treatments_disliked=2,
    )
    assert history_facts(patient) == expected
    # The next form begins with these answers, and sent back as shown it says the same.
    url = f"/patients/{patient.public_id}/history/new/"
    assert client.post(url, _shown(client, url) | {"signed_on": "6 March 2026"}).status_code == 302
    assert history_facts(patient) == expected.model_copy(update={"signed_on": date(2026, 3, 6)})
    assert HistoryForm.objects.filter(patient=patient).count() == 3


def test_an_empty_form_asked_nothing(owner: Staff, patient: Patient) -> None:
    sent = {"signed_on": "6 March 2026"}
    assert client_of(owner).post(f"/patients/{patient.public_id}/history/new/", sent).status_code == 302
    assert history_facts(patient) == History(signed_on=date(2026, 3, 6))


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("hba1c_tenths", "78", "not a number with one decimal between 3.0 and 20.0"),
        ("weight_kg", "7", "not a whole number between 10 and 300"),
        ("nicotine_per_day", "few", "not a whole number between 0 and 200"),
        ("signed_on", "5 March 2222", "is too late"),
        ("signed_on", "5 January 2020", "the newer one holds"),
        ("pregnant", "no", "is not answered with yes"),
        ("bone_drug", "none", "no such medicine is named"),
        ("hba1c_on", "", "Write the day this HbA1c was measured"),
        ("jaw_radiation", "plenty", "plenty"),
    ],
)
def test_a_history_that_cannot_be_is_asked_back_whole(
    field: str, value: str, said: str, owner: Staff, patient: Patient
) -> None:
    response = client_of(owner).post(f"/patients/{patient.public_id}/history/new/", FILLED | {field: value})
    assert response.status_code == 200
    assert said in response.content.decode()
    form = response.context["form"]
    for name, typed in (FILLED | {field: value}).items():
        assert form[name].value() == typed
    assert HistoryForm.objects.count() == 1


def test_any_change_is_kept_for_the_day_and_a_change_asks_for_a_new_form(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), f"/patients/{patient.public_id}/any-change/"
    today = timezone.localdate(timezone=owner.office.zone)
    assert client.post(url, {"asked_on": today.isoformat(), "changed": "no"}).status_code == 302
    assert history_facts(patient).any_change_asked_on == today
    missing = client.post(url, {"asked_on": today.isoformat(), "changed": "yes", "note": " "})
    assert "Say what has changed" in missing.content.decode()
    sent = {"asked_on": today.isoformat(), "changed": "yes", "note": "a new heart pill"}
    assert client.post(url, sent)["Location"] == f"/patients/{patient.public_id}/history/new/"
    assert history_facts(patient).any_change_asked_on is None
    assert AnyChange.objects.count() == 2
    assert "a new heart pill" in client.get(f"/patients/{patient.public_id}/history/").content.decode()
    # What somebody said about their health stands beside the trail's content at most by reference.
    assert not TrailDetail.objects.filter(content__contains="heart pill").exists()


def test_earlier_forms_stay_readable_and_say_that_a_newer_one_holds(owner: Staff, patient: Patient) -> None:
    first = HistoryForm.objects.get()
    services.record_history(patient=patient, facts=History(signed_on=date(2026, 2, 2)), actor=owner, now=timezone.now())
    client = client_of(owner)
    page = client.get(f"/patients/{patient.public_id}/history/{first.public_id}/").content.decode()
    assert "A newer one holds" in page
    other = _patient(owner, "Somebody Else")
    assert client.get(f"/patients/{other.public_id}/history/{first.public_id}/").status_code == 404
