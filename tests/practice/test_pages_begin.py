"""Opening the first office in the browser: nothing is stored half, nothing typed is lost, and only once."""

import pytest
from django.test import Client

from planner.practice import books
from planner.practice.models import BookVersion, Office, Staff
from planner.practice.roles import Role
from planner.rules.units import parse_money
from planner.trail.models import TrailEntry
from tests.pages import client_of
from tests.support import PASSWORD

pytestmark = pytest.mark.django_db

OWNER = {"full_name": "Dr Ada Quill", "username": "ada", "language": "en", "also_manager": "on"}
OFFICE = {
    "office": "Quill Dental",
    "place": "Lower Heath",
    "currency": "eur",
    "numbering": "universal",
    "time_zone": "Europe/Lisbon",
}
OPENING = {"day0a": "8:30", "day0b": "12", "day0c": "13:15", "day0d": "17", "chairs": "Window\nDoor"}
PEOPLE = {
    "form-TOTAL_FORMS": "2",
    "form-INITIAL_FORMS": "0",
    "form-0-full_name": "Noor Desk",
    "form-0-username": "Noor",
    "form-0-roles": ["front desk", "desk lead"],
    "form-0-language": "es",
    "form-1-language": "en",
}
LEGAL = {
    "age-of-own-consent": "16",
    "leap-day-birthday": "1 March",
    "looks_only": "23",
    "reconstructive": "0",
    "effective": "1 January 2026",
    "set_by": "Dr Ada Quill",
    "reason": "the national law",
}


def _prices(client: Client) -> dict[str, str]:
    form = client.get("/begin/prices/").context["form"]
    shown = {field.html_name: str(field.value()) for field in form if field.value() not in (None, "")}
    return shown | {"build-up.cents": "445,50", "reshape.cents": "60", "reshape.further_cents": "25"}


def _walk(client: Client) -> None:
    for step, sent in (("owner", OWNER), ("office", OFFICE), ("opening", OPENING), ("people", PEOPLE)):
        assert client.post(f"/begin/{step}/", sent).status_code == 302, step
    assert client.post("/begin/prices/", _prices(client))["Location"] == "/begin/legal/"
    assert client.post("/begin/legal/", LEGAL)["Location"] == "/begin/ready/"


def test_without_an_office_signing_in_leads_to_opening_one() -> None:
    assert client_of(None).get("/sign-in/")["Location"] == "/begin/"


def test_the_whole_office_is_opened_at_once() -> None:
    client = client_of(None)
    _walk(client)
    assert not Office.objects.exists()
    assert not Staff.objects.exists()
    response = client.post("/begin/ready/", {"password": PASSWORD, "again": PASSWORD})
    office = Office.objects.get()
    ada, noor = Staff.objects.get(username="ada"), Staff.objects.get(username="noor")
    assert ada.roles == {Role.OWNER, Role.MANAGER}
    assert noor.roles == {Role.FRONT_DESK, Role.DESK_LEAD}
    assert (noor.language, noor.password_once) == ("es", True)
    assert noor.check_password(response.context["given"][0].password)
    book = books.read_book(BookVersion.objects.get(office=office).data)
    assert (book.office, book.currency, book.numbering, book.time_zone) == (
        "Quill Dental",
        "EUR",
        "universal",
        "Europe/Lisbon",
    )
    assert book.chairs == ("Window", "Door")
    assert book.open_weekdays == (0,)
    assert [(str(line.opens), str(line.closes)) for line in book.hours] == [
        ("08:30:00", "12:00:00"),
        ("13:15:00", "17:00:00"),
    ]
    prices = book.price_lists[0]
    assert prices.service("build-up").price == parse_money("445.50")
    assert prices.service("reshape").further_cents == parse_money("25")
    assert prices.service("crown").cents is None
    assert {setting.key: setting.value for setting in book.legal} == {
        "age-of-own-consent": "16",
        "leap-day-birthday": "1 March",
    }
    assert [str(rate.percent) for rate in book.tax_rates] == ["23", "0"]
    assert client.get("/")["Location"] == "/account/codes/", "an owner signs in with codes from the first day"
    assert "begin" not in client.session
    assert list(TrailEntry.objects.values_list("act", flat=True)[:2]) == ["office.open", "book.adopt"]


def test_no_password_is_kept_in_the_session() -> None:
    client = client_of(None)
    _walk(client)
    client.post("/begin/ready/", {"password": "short", "again": "short"})
    assert "short" not in str(dict(client.session.items()))


@pytest.mark.parametrize("step", ["office", "opening", "people", "prices", "legal", "ready"])
def test_no_step_is_reached_before_those_it_rests_on(step: str) -> None:
    assert client_of(None).get(f"/begin/{step}/")["Location"] == "/begin/owner/"


@pytest.mark.parametrize(
    ("step", "sent", "said"),
    [
        ("owner", OWNER | {"username": "ada quill"}, "“ada quill” has a blank inside"),
        ("office", OFFICE | {"currency": "euros"}, "“euros” is no currency"),
        ("office", OFFICE | {"time_zone": ""}, "This is missing"),
        ("opening", OPENING | {"closed_days": "yesterday"}, "“yesterday” is not read as a day"),
        ("opening", {"chairs": "Window"}, "No weekday has opening hours"),
        ("people", PEOPLE | {"form-1-full_name": "Only A. Name"}, "Write a sign-in name"),
        ("people", PEOPLE | {"form-0-username": "ADA"}, "“ada” is taken already"),
        ("legal", LEGAL | {"age-of-own-consent": "sixteen"}, "not a whole number of years"),
        ("legal", LEGAL | {"looks_only": "many"}, "not a percentage"),
    ],
)
def test_what_is_typed_wrong_is_named_and_everything_typed_is_kept(step: str, sent: dict[str, str], said: str) -> None:
    client = client_of(None)
    _walk(client)
    response = client.post(f"/begin/{step}/", sent)
    assert response.status_code == 200
    assert said in response.content.decode()
    later = client.get(f"/begin/{step}/").content.decode()
    for value in sent.values():
        if isinstance(value, str) and value not in ("on", ""):
            assert value.split("\n")[0] in later
    assert not Office.objects.exists()


def test_two_lines_cannot_have_one_code_and_prices_stay() -> None:
    client = client_of(None)
    _walk(client)
    sent = _prices(client) | {"crown.code": "BND"}
    response = client.post("/begin/prices/", sent)
    assert "stands for" in response.content.decode()
    assert 'value="445,50"' in response.content.decode()


def test_more_lines_for_people_keep_what_is_typed() -> None:
    client = client_of(None)
    _walk(client)
    response = client.post("/begin/people/", PEOPLE | {"action": "more"})
    assert len(response.context["form"].forms) == 5
    assert 'value="Noor Desk"' in response.content.decode()
    broken = client.post("/begin/people/", PEOPLE | {"form-TOTAL_FORMS": "many", "action": "more"})
    assert broken.status_code == 200


def test_a_refusal_at_the_end_stores_nothing_and_keeps_everything() -> None:
    client = client_of(None)
    _walk(client)
    assert (
        "at least 12 characters"
        in client.post("/begin/ready/", {"password": "too short", "again": "too short"}).content.decode()
    )
    assert (
        "two new passwords differ"
        in client.post("/begin/ready/", {"password": PASSWORD, "again": PASSWORD + "x"}).content.decode()
    )
    assert not Office.objects.exists()
    assert not Staff.objects.exists()
    assert not TrailEntry.objects.exists()
    client.post("/begin/ready/", {"password": PASSWORD, "again": PASSWORD})
    assert Office.objects.get().name == "Quill Dental"


def test_a_second_office_is_refused_on_every_page(owner: Staff) -> None:
    for step in ("", "owner/", "ready/"):
        response = client_of(None).post(f"/begin/{step}", OWNER)
        assert response.status_code == 403
        assert "has an office already" in response.content.decode()
    assert Office.objects.count() == 1


def test_two_browsers_that_end_together_open_one_office() -> None:
    one, other = client_of(None), client_of(None)
    _walk(one)
    _walk(other)
    one.post("/begin/ready/", {"password": PASSWORD, "again": PASSWORD})
    late = other.post("/begin/ready/", {"password": PASSWORD, "again": PASSWORD})
    assert late.status_code == 403
    assert Office.objects.count() == 1
