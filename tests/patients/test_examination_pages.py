"""Pages of examinations: who may, everything carried both ways, what bad input gets, two editors, and their cost."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from planner.patients import services
from planner.patients.examination_forms import Sheet
from planner.patients.examination_layout import more, swapped
from planner.patients.examination_parts import FINDINGS, MEASURES, AllForm, ColumnForm
from planner.patients.examinations import confirm_examination, store_examination, with_lines
from planner.patients.facts import examination_facts, picture_facts
from planner.patients.models import Examination, Patient, PictureReading
from planner.patients.pictures import record_picture
from planner.patients.tooth_fields import spoken
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules import mouth
from planner.rules.mouth import CaseFacts
from planner.rules.teeth import Numbering, Tooth
from planner.trail.models import TrailEntry
from tests.pages import client_of, queries_of, refusals

pytestmark = pytest.mark.django_db

BORN = date(1979, 3, 2)
TODAY = timezone.now().astimezone(ZoneInfo("America/Toronto")).date()
"""The test office's day."""


@pytest.fixture
def patient(owner: Staff) -> Patient:
    """Somebody on file."""
    return services.register_patient(name="Anselm Brightwater", birth_date=BORN, actor=owner, now=timezone.now())


@pytest.fixture
def draft(owner: Staff, patient: Patient, lead_case: CaseFacts) -> Examination:
    """The measurements of the lead case, not confirmed."""
    facts = lead_case.examination.model_copy(update={"confirmed_by": ""})
    return store_examination(patient=patient, facts=facts, actor=owner, now=timezone.now())


def sent(sheet: Sheet) -> dict[str, Any]:
    """What a browser sends back of a form that nobody touched."""
    found: dict[str, Any] = {}
    for form in (*sheet.every_form(), sheet.layout_form):
        for field in form:
            value = field.value()
            if value is True:
                found[field.html_name] = "on"
            elif value is not False and value not in (None, ""):
                found[field.html_name] = str(value)
    return found


def new_url(patient: Patient) -> str:
    return f"/patients/{patient.public_id}/examinations/new/"


def begun(client: Client, url: str, **typed: str) -> dict[str, Any]:
    """The form at ``url`` as sent back, with fields typed otherwise: ``width__11="8.3"``."""
    context = client.get(url).context
    return _typed(context["sheet"], str(context["seen"]), typed)


def fresh(actor: Staff, **typed: str) -> dict[str, Any]:
    """The empty form as ``begun`` would give it, without drawing its five hundred fields first."""
    facts = mouth.Examination(on=TODAY, by=actor.full_name)
    return _typed(Sheet(None, numbering=Numbering.ISO, facts=facts, new=True), "", typed)


def _typed(sheet: Sheet, seen: str, typed: dict[str, str]) -> dict[str, Any]:
    data = sent(sheet) | {"seen": seen, "action": "save"}
    for name, value in typed.items():
        data[at(name)] = value
    return data


def at(name: str) -> str:
    """``width__11`` as the field of that column, ``gap_width__13`` of the gap beside it; others as they are."""
    field, found, number = name.partition("__")
    if not found:
        return name
    key = Tooth.from_iso(number).key
    return f"gap-{key}-{field.removeprefix('gap_')}" if field.startswith("gap_") else f"{key}-{field}"


def said(client: Client, url: str, data: dict[str, Any]) -> str:
    """The page that answers; nothing may have been stored."""
    before = Examination.objects.count(), TrailEntry.objects.exclude(act="patient.view").count()
    response = client.post(url, data)
    assert response.status_code == 200
    assert (Examination.objects.count(), TrailEntry.objects.exclude(act="patient.view").count()) == before
    return response.content.decode()


# Everything is carried


def test_the_form_holds_every_datum_of_an_examination() -> None:
    """A fact that is added to the rules and not to the form is found here."""
    groups = {name for _words, names in FINDINGS.values() for name in names}
    assert set(ColumnForm.base_fields) == {"tooth", "role", *MEASURES, *groups}
    assert set(mouth.ToothFacts.model_fields) == set(ColumnForm.base_fields) | {"place"}
    sheet = Sheet(None, numbering=Numbering.ISO, facts=mouth.Examination(on=TODAY, by=""))
    for name, form in sheet.groups.items():
        fields = {*form.fields, "height_mm"} if name == "growth" else {*form.fields}
        assert fields == set(type(getattr(sheet.facts_before, name)).model_fields)
    gap = next(column.gap for column in sheet.upper if column.gap)
    assert {*gap.fields, "between"} == set(mouth.Gap.model_fields)
    assert set(sheet.absent[0].fields) == set(mouth.AbsentTooth.model_fields)
    assert set(sheet.places[0].fields) == set(mouth.EmptyPlace.model_fields)
    head = {*sheet.head.fields, *sheet.midline.fields}
    lines = {"teeth", "gaps", "absent", "empty_places"}
    assert head | lines | set(sheet.groups) | {"confirmed_by"} == set(mouth.Examination.model_fields)


def full(lead: mouth.Examination) -> mouth.Examination:
    """The lead case's set with something in every corner."""
    read = Tooth.from_iso
    teeth = [
        lead.teeth[0].model_copy(update={"role": "canine", "wear": 2, "wear_cause": "acid", "bone_loss_percent": 30}),
        lead.teeth[1].model_copy(update={"width_again": 79, "edge_removed_before": 3, "guidance_checked": True}),
        *lead.teeth[2:],
        mouth.ToothFacts.model_validate({"tooth": read("14"), "width": "7.1", "wing_enamel_height": "4.2"}),
        mouth.ToothFacts.model_validate({"tooth": read("31"), "length": "8.8", "nerve": "unclear"}),
        mouth.ToothFacts.model_validate({"tooth": read("extra beside 11, mesial"), "width": "4.0"}),
    ]
    gaps = [lead.gaps[0].model_copy(update={"width_again": 6, "new_or_growing": True, "film": None}), *lead.gaps[1:]]
    values = {
        "instrument": "film",
        "film_factor_percent": 110,
        "strip_length": "33.2",
        "absent": [
            *lead.absent,
            mouth.AbsentTooth(tooth=read("24"), cause="lost", lost_on=date(2020, 1, 5), felt=False, localised=True),
        ],
        "empty_places": [
            mouth.EmptyPlace.model_validate(
                {"place": read("24"), "crown_distance": "7.0", "measured_with": "film", "film_factor_percent": 105}
            )
        ],
        "growth": {
            "height_mm": ((date(2024, 1, 5), 1701), (date(2025, 1, 6), 1702)),
            "skull_films": (date(2024, 1, 5), date(2025, 2, 6)),
            "skull_films_changed": False,
        },
        "orthodontics": {"state": "finished", "removed_on": date(2001, 5, 6)},
        "colour": {"on": date(2026, 1, 5), "restorations_in_smile": (read("11"), read("21"))},
    }
    rest = {name: getattr(lead, name) for name in mouth.Examination.model_fields if name not in values}
    rest |= {"midline_offset": "-0.5", "confirmed_by": "", "teeth": tuple(teeth), "gaps": tuple(gaps)}
    rest["strip_length"] = None
    return mouth.Examination.model_validate(rest | values)


@pytest.mark.parametrize("numbering", list(Numbering))
def test_what_is_on_file_comes_back_as_it_was(numbering: Numbering, lead_case: CaseFacts) -> None:
    """Every datum, in each numbering, through the form and back."""
    facts = full(lead_case.examination)
    shown = Sheet(None, numbering=numbering, facts=facts)
    data = _query(sent(shown) | {"right": [question.tick for question in _asked(shown, facts)]})
    sheet = Sheet(data, numbering=numbering, facts=facts)
    assert sheet.check(mouth.Person(name="A", birth_date=BORN), TODAY), list(_errors(sheet))
    assert sheet.facts is not None
    by_tooth = {tooth.tooth: tooth for tooth in sheet.facts.teeth}
    for tooth in facts.teeth:
        assert by_tooth[tooth.tooth].model_dump() == tooth.model_dump()
    assert {gap.between: gap for gap in sheet.facts.gaps} == {gap.between: gap for gap in facts.gaps}
    for name in ("absent", "empty_places", "gums", "decay", "bite", "colour", "growth", "orthodontics", "instrument"):
        assert getattr(sheet.facts, name) == getattr(facts, name), name
    assert (sheet.facts.midline_offset, sheet.facts.strip_length) == (facts.midline_offset, facts.strip_length)
    assert (sheet.facts.on, sheet.facts.by) == (facts.on, facts.by)


def _told(page: str) -> list[str]:
    return re.findall(r'<ul class="errorlist".*?</ul>|class="question">.*?</p>', page, re.DOTALL)


def _query(values: dict[str, Any]) -> Any:
    from django.http import QueryDict

    data = QueryDict(mutable=True)
    for name, value in values.items():
        data.setlist(name, value if isinstance(value, list) else [value])
    return data


def _asked(sheet: Sheet, facts: mouth.Examination) -> tuple[Any, ...]:
    again = Sheet(_query(sent(sheet)), numbering=sheet.shown, facts=mouth.Examination(on=TODAY, by=""))
    again.check(mouth.Person(name="A", birth_date=BORN), TODAY)
    return again.questions


def _errors(sheet: Sheet) -> Any:
    for form in sheet.every_form():
        yield from ((form.prefix, name, list(faults)) for name, faults in form.errors.items())
    yield from sheet.open_questions


def test_the_lead_case_is_stored_as_typed(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), new_url(patient)
    typed = begun(client, url, tooth__13=Tooth.from_iso("53").key, tooth__12=Tooth.from_iso("13").key)
    widths, gaps = ("6.4", "7,8", "8.3", "8.4", "5.5", "7.9"), ("0,5", "0.3", "0.8", "0.7", "0.9")
    for number, width in zip(("13", "12", "11", "21", "22", "23"), widths, strict=True):
        typed[at(f"width__{number}")] = width
    for number, gap in zip(("13", "12", "11", "21", "22"), gaps, strict=True):
        typed[at(f"gap_width__{number}")] = gap
    typed |= {"absent0-tooth": "12", "absent0-cause": "never formed", "every-pocket": "3", at("pocket__22"): "4"}
    response = client.post(url, typed)
    facts = examination_facts(with_lines().get())
    assert response["Location"] == f"/patients/examinations/{Examination.objects.get().public_id}/"
    assert [(tooth.tooth.iso, tooth.place and tooth.place.iso, tooth.width) for tooth in facts.teeth] == [
        ("53", "13", 64),
        ("13", "12", 78),
        ("11", None, 83),
        ("21", None, 84),
        ("22", None, 55),
        ("23", None, 79),
    ]
    assert [gap.width for gap in facts.gaps] == [5, 3, 8, 7, 9]
    assert [tooth.pocket for tooth in facts.teeth] == [3, 3, 3, 3, 4, 3], (
        "one answer for every tooth, but its own first"
    )
    assert (facts.by, facts.confirmed_by, facts.on) == (owner.full_name, "", TODAY)


def test_a_gap_across_an_empty_place_is_one_gap(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), new_url(patient)
    data = fresh(owner, tooth__12="nobody", gap_width__12="6.4")
    assert client.post(url, data).status_code == 302
    facts = examination_facts(with_lines().get())
    assert [(gap.between[0].iso, gap.between[1].iso, gap.width) for gap in facts.gaps] == [("13", "11", 64)]
    assert [line.place.iso for line in facts.empty_places] == ["12"]
    data[at("gap_width__13")] = "6.4"
    assert "write their distance once" in said(client, url, data)


# Bad input


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"width__11": "83"}, "83.0 mm is no width of a tooth"),
        ({"width__11": "85 mm"}, "“85 mm”|&quot;85 mm&quot; is not a length"),
        ({"width__11": "-8.3"}, "-8.3 mm is no width"),
        ({"width__11": "8.35"}, "finer than can be measured"),
        ({"gap_width__13": "-0.5"}, "-0.5 mm is no gap"),
        ({"gap_width__13": "0.0", "gap_film__13": "tight"}, "answers the question about a gap of 0.1 or 0.2 mm"),
        ({"gap_may_stay__13": "on"}, "The gap itself is missing"),
        ({"tooth__12": "upper-right-canine"}, "is recorded twice; it stands in the form under 13 already"),
        ({"tooth__12": "nobody", "width__12": "6.4"}, "No tooth stands in 12&#x27;s place, yet something was measured"),
        ({"tooth__12": "no-such-tooth", "gap_width__13": "0.5"}, "no-such-tooth is not one of the available choices"),
        ({"tooth__12": "", "decay__12": "yes"}, "Which tooth stands in 12&#x27;s place?"),
        ({"absent0-tooth": "11"}, "is declared absent and was measured as well"),
        ({"absent0-tooth": "99"}, "is no ISO tooth number"),
        ({"absent0-tooth": "9"}, "Universal 9 is the upper left central incisor"),
        ({"absent0-tooth": "12", "numbering": ""}, "12 is the upper right lateral incisor (Universal 7); Universal 12"),
        ({"absent0-felt": "yes"}, "Which tooth is absent?"),
        ({"places0-place": "11"}, "is called empty, but the"),
        ({"head-on": "1 May 2222"}, "lies in the future"),
        ({"head-on": "1 May 1970"}, "The birth date 1979-03-02 lies after the examination"),
        ({"gums-on": "1 May 2222"}, "lies in the future"),
        ({"colour-restorations_in_smile": "11, 77, 21"}, "77"),
        ({"heights0-height": "1700"}, "On which day was this height taken?"),
        ({"heights0-height": "17", "heights0-day": "2 May 2020"}, "between 400 and 2500"),
        ({"every-pocket": "16"}, "“16” is not a whole number between 0 and 15"),
        ({"head-instrument": "spoon"}, "spoon"),
        ({"midline-midline_offset": "55"}, "is out of range"),
    ],
)
def test_bad_input_is_named_and_everything_typed_is_kept(
    typed: dict[str, str], sentence: str, owner: Staff, patient: Patient
) -> None:
    client, url = client_of(owner), new_url(patient)
    data = fresh(owner, **typed, length__22="8.3", gap_width__22="0.9")
    page = said(client, url, data)
    assert any(part in page for part in sentence.split("|")), _told(page)
    assert 'role="alert"' in page
    assert 'value="8.3"' in page
    assert 'value="0.9"' in page
    for name, value in typed.items():
        if name.startswith(("width", "gap_width")):
            assert f'name="{at(name)}" value="{value}"' in page


@pytest.mark.parametrize(
    ("typed", "question"),
    [
        ({"width__11": "11.2", "length__11": "12.0"}, "outside the usual 7.0 to 10.5 mm"),
        ({"width__11": "10.4", "length__11": "8.4"}, "are width and length swapped?"),
        ({"width__11": "8.0", "width__21": "9.3"}, "are the sides swapped?"),
        ({"width__11": "8.3", "width_again__11": "8.7"}, "please measure a third time"),
        ({"gap_width__11": "0.8", "gap_width_again__11": "1.2"}, "please measure a third time"),
        ({"head-instrument": "film"}, "by how much it enlarges is not said"),
    ],
)
def test_a_likely_slip_is_asked_and_passes_with_its_tick(
    typed: dict[str, str], question: str, owner: Staff, patient: Patient
) -> None:
    client, url = client_of(owner), new_url(patient)
    data = fresh(owner, **typed)
    assert question in said(client, url, data)
    response = client.post(url, data)
    ticks = [asked.tick for asked in response.context["sheet"].open_questions]
    other = data | {at("width__11"): "11.3", at("length__11"): "12.5", "right": ticks}
    assert "11.3 mm" in said(client, url, other), "a tick is for its own value"
    assert client.post(url, data | {"right": ticks}).status_code == 302
    stored = Examination.objects.get()
    again = begun(client, f"/patients/examinations/{stored.public_id}/edit/")
    assert client.post(f"/patients/examinations/{stored.public_id}/edit/", again).status_code == 302, "asked once"


def test_a_posted_number_of_nonsense_never_breaks_the_page(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), new_url(patient)
    data = fresh(owner)
    data |= {name: "²\x00½" for name in data if name not in ("action", "seen")}
    data |= {"layout-upper_right": "999", "layout-absent": "-4", "absent0-tooth": "x" * 5000}
    assert client.post(url, data).status_code == 200
    for action in ("redraw", "swap", "more:upper_right", "more:nothing", "what", ""):
        assert client.post(url, data | {"action": action}).status_code == 200
    assert client.post(url, {}).status_code == 200


# Laying out


def test_buttons_lay_the_form_out_and_store_nothing(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), new_url(patient)
    data = fresh(owner, width__13="7.7", **{"absent0-tooth": "15"})
    for action, name in (
        ("more:upper_right", "upper-right-first-premolar-width"),
        ("more:lower", "lower-left-canine-width"),
        ("more:others", "other0-width"),
        ("more:absent", "absent1-tooth"),
    ):
        page = said(client, url, data | {"action": action})
        assert f'name="{name}"' in page
        assert 'value="7.7"' in page
        assert 'value="15"' in page
    part = client.post(url, data | {"action": "redraw"}, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in part


def test_the_sides_are_exchanged(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), new_url(patient)
    data = fresh(owner, tooth__13=Tooth.from_iso("53").key, width__13="6.4", gap_width__13="0.5", width__11="8.3")
    sheet = client.post(url, data | {"action": "swap"}).context["sheet"]
    shown = sent(sheet)
    assert shown[at("tooth__23")] == Tooth.from_iso("63").key
    assert (shown[at("width__23")], shown[at("width__21")]) == ("6.4", "8.3")
    assert shown[at("gap_width__22")] == "0.5"
    assert at("width__13") not in shown


@given(
    st.dictionaries(
        st.sampled_from(
            [at(f"{what}__{n}") for n in ("13", "12", "11", "21", "22") for what in ("width", "gap_width")]
        ),
        st.sampled_from(["6.4", "8.3", "0.5"]),
    ),
    st.integers(3, 8),
    st.integers(3, 8),
)
def test_exchanging_twice_changes_nothing(typed: dict[str, str], right: int, left: int) -> None:
    layout = {"layout-upper_right": str(right), "layout-upper_left": str(left)}
    data = more(_query(typed | layout), "nothing")
    assert swapped(swapped(data)).dict() == data.dict()


# Reading back


def test_a_value_is_read_back_and_asked_about_at_once(owner: Staff, patient: Patient) -> None:
    client = client_of(owner)
    url = f"/patients/{patient.public_id}/examinations/look/"
    data = begun(client, new_url(patient), width__11="83", width__21="8,5")
    page = said(client, url, data | {"look": at("width__21")})
    assert "eight point five" in page
    assert "83.0 mm is no width of a tooth" in page
    assert said(client, url, data | {"look": "nothing-here"})
    assert client.post(url, {}).status_code == 200


@pytest.mark.parametrize(
    ("tenths", "words"),
    [
        (85, "eight point five"),
        (0, "nought point nought"),
        (112, "eleven point two"),
        (340, "thirty-four point nought"),
    ],
)
def test_lengths_in_words(tenths: int, words: str) -> None:
    assert spoken(tenths) == words


@given(st.integers(0, 999))
def test_every_length_has_words_of_its_own(tenths: int) -> None:
    assert spoken(tenths) != spoken(tenths + 1)
    assert not any(sign.isdigit() for sign in spoken(tenths))


# Editing, confirming, correcting


def test_two_editors_of_a_draft_get_both_versions(owner: Staff, draft: Examination) -> None:
    client, url = client_of(owner), f"/patients/examinations/{draft.public_id}/edit/"
    mine, theirs = begun(client, url, width__22="5.7"), begun(client, url, width__22="5.6", length__23="10.5")
    assert client.post(url, theirs).status_code == 302
    response = client.post(url, mine)
    assert response.status_code == 200
    rows = {label: (saved, typed) for _id, label, saved, typed in response.context["differences"]}
    assert rows == {"22: width": ("5.6", "5.7"), "23: length": ("10.5", "10.4")}
    assert examination_facts(with_lines().get()).teeth[4].width == 56
    again = sent(response.context["sheet"]) | {"seen": str(response.context["seen"]), "action": "save"}
    assert client.post(url, again).status_code == 302
    assert examination_facts(with_lines().get()).teeth[4].width == 57


def test_a_draft_is_confirmed_by_a_dentist_and_then_only_copied(
    owner: Staff, patient: Patient, draft: Examination, person: Callable[..., Staff]
) -> None:
    page, edit = f"/patients/examinations/{draft.public_id}/", f"/patients/examinations/{draft.public_id}/edit/"
    assistant = person(Role.ASSISTANT)
    with refusals() as noted:
        assert client_of(assistant).post(f"{page}confirm/", {"seen": "1"}).status_code == 403
    assert noted == ["refused.measurements.approve"]
    assert "Confirm in my name" not in client_of(assistant).get(page).content.decode()
    client = client_of(owner)
    assert "changed these measurements" in client.post(f"{page}confirm/", {"seen": "7"}, follow=True).content.decode()
    client.post(f"{page}confirm/", {"seen": "1"})
    draft.refresh_from_db()
    assert (draft.status, draft.confirmed_by) == ("confirmed", owner.full_name)
    assert client.get(edit)["Location"] == page
    copy = f"{new_url(patient)}?from={draft.public_id}"
    data = begun(client, copy, width__22="5.8")
    assert client.post(copy, data | {"action": "confirm"}).status_code == 302
    new = with_lines().exclude(pk=draft.pk).get()
    assert (new.corrects_id, new.status, examination_facts(new).teeth[4].width) == (draft.pk, "confirmed", 58)
    assert examination_facts(with_lines().get(pk=draft.pk)).teeth[4].width == 55
    assert "corrects this one" in client.get(page).content.decode()


def test_an_assistant_cannot_confirm_by_saving(patient: Patient, person: Callable[..., Staff]) -> None:
    client = client_of(person(Role.ASSISTANT))
    data = begun(client, new_url(patient))
    assert client.post(new_url(patient), data | {"action": "confirm"}).status_code == 403
    assert not Examination.objects.exists()
    assert client.post(new_url(patient), data).status_code == 302


# Pictures


def test_a_picture_is_read_and_corrected_by_a_new_reading(owner: Staff, patient: Patient) -> None:
    client, url = client_of(owner), f"/patients/{patient.public_id}/pictures/new/"
    data = {
        "numbering": "iso",
        "kind": "panoramic",
        "on": "5 January 2026",
        "reader": "Dr Sorrel",
        "absent": "12",
        "roots_of": "13, 53",
        "reading": "12 was never formed.",
    }
    for field, value, sentence in (
        ("on", "1 May 2222", "lies in the future"),
        ("on", "1 May 1970", "before the birth date"),
        ("absent", "12, 99", "is no ISO tooth number"),
        ("reader", "", "This is missing"),
        ("numbering", "", "Which system is meant?"),
    ):
        assert sentence in client.post(url, data | {field: value}).content.decode()
    assert not PictureReading.objects.exists()
    assert client.post(url, data).status_code == 302
    first = PictureReading.objects.get()
    assert [tooth.iso for tooth in picture_facts(first).roots_of] == ["13", "53"]
    copy = client.get(f"{url}?from={first.public_id}")
    assert copy.context["form"]["absent"].value() == "12"
    client.post(f"{url}?from={first.public_id}", data | {"absent": ""})
    page = client.get(f"/patients/{patient.public_id}/pictures/").content.decode()
    assert page.count("A later reading corrects this one") == 1
    assert client.get(f"{url}?from=nothing").status_code == 404


# Who may


PAGES = ("examinations/new/", "pictures/", "pictures/new/")


@pytest.mark.parametrize(
    ("role", "statuses"),
    [
        (Role.FRONT_DESK, (403, 200, 403, 403, 403)),
        (Role.ASSISTANT, (200, 200, 200, 200, 302)),
        (Role.DENTIST, (200, 200, 200, 200, 302)),
        (Role.MANAGER, (403, 200, 403, 200, 403)),
        (Role.KEEPER, (403, 403, 403, 403, 403)),
    ],
)
def test_each_role_gets_as_far_as_it_may(
    role: Role,
    statuses: tuple[int, ...],
    patient: Patient,
    draft: Examination,
    person: Callable[..., Staff],
    owner: Staff,
) -> None:
    confirm_examination(examination=draft, seen=1, actor=owner, now=timezone.now())
    urls = [f"/patients/{patient.public_id}/{page}" for page in PAGES]
    urls += [f"/patients/examinations/{draft.public_id}/{page}" for page in ("", "edit/")]
    with refusals() as noted:
        assert tuple(client_of(person(role)).get(url).status_code for url in urls) == statuses
    assert len(noted) == statuses.count(403)


def test_another_office_finds_nothing(outsider: Staff, patient: Patient, draft: Examination, owner: Staff) -> None:
    client = client_of(outsider)
    urls = [f"/patients/{patient.public_id}/{page}" for page in (*PAGES, "examinations/look/")]
    urls += [f"/patients/examinations/{draft.public_id}/{page}" for page in ("", "edit/", "confirm/")]
    for url in urls:
        assert client.get(url).status_code == 404
        assert client.post(url, {}).status_code == 404
        assert client_of(None).get(url)["Location"] == f"/sign-in/?next={url}"
    theirs = services.register_patient(name="Otto", birth_date=BORN, actor=outsider, now=timezone.now())
    assert client.get(f"{new_url(theirs)}?from={draft.public_id}").status_code == 404
    mine = services.register_patient(name="Somebody else", birth_date=BORN, actor=owner, now=timezone.now())
    assert client_of(owner).get(f"{new_url(mine)}?from={draft.public_id}").status_code == 404


def test_opening_a_set_is_recorded_and_no_copy_is_kept(owner: Staff, draft: Examination) -> None:
    before = TrailEntry.objects.filter(act="patient.view").count()
    response = client_of(owner).get(f"/patients/examinations/{draft.public_id}/")
    assert response["Cache-Control"] == "no-store"
    assert TrailEntry.objects.filter(act="patient.view").count() == before + 1


def test_pages_cost_the_same_at_any_size(owner: Staff, patient: Patient, lead_case: CaseFacts) -> None:
    client = client_of(owner)
    who = {"patient": patient, "actor": owner, "now": timezone.now()}
    small = store_examination(facts=mouth.Examination(on=TODAY, by=""), **who)  # type: ignore[arg-type]
    large = store_examination(facts=full(lead_case.examination), **who)  # type: ignore[arg-type]
    for page in ("", "edit/"):
        sizes = {queries_of(client, f"/patients/examinations/{one.public_id}/{page}") for one in (small, large)}
        assert len(sizes) == 1
    copies = {queries_of(client, f"{new_url(patient)}?from={one.public_id}") for one in (small, large)}
    assert len(copies) == 1
    before = queries_of(client, f"/patients/{patient.public_id}/pictures/")
    for number in range(8):
        facts = mouth.Picture(kind="photo", on=TODAY - timedelta(days=number), reader="O")
        record_picture(facts=facts, **who)  # type: ignore[arg-type]
    assert queries_of(client, f"/patients/{patient.public_id}/pictures/") == before


def test_every_tooth_answers_are_only_for_cells_that_can_be_empty() -> None:
    assert "not_to_be_touched" not in AllForm().fields
    assert "pocket" in AllForm().fields
