"""The practice's pages: who may open them, what they say to bad input, and that they cost the same at any size."""

from collections.abc import Callable
from datetime import timedelta
from html import unescape

import pytest
from django.test import Client
from django.utils import timezone

from planner.practice import services
from planner.practice.again import FIELD
from planner.practice.models import BookVersion, Office, Staff
from planner.practice.roles import Role
from planner.trail.models import TrailEntry
from tests.pages import client_of, queries_of, refusals
from tests.support import NOW, PASSWORD

OPEN_TO_ALL_STAFF = ("/", "/account/", "/account/password/")
FOR_THE_OWNER = ("/staff/", "/staff/add/", "/office/opening/", "/office/prices/next/", "/office/legal/")
READABLE_BY_DESK = ("/office/", "/office/prices/1/")
pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("url", [*OPEN_TO_ALL_STAFF, *FOR_THE_OWNER, *READABLE_BY_DESK])
def test_nobody_gets_in_without_signing_in(url: str, office: Office) -> None:
    response = client_of(None).get(url)
    assert (response.status_code, response["Location"]) == (302, f"/sign-in/?next={url}")


@pytest.mark.parametrize("url", [*OPEN_TO_ALL_STAFF, *FOR_THE_OWNER, *READABLE_BY_DESK])
def test_the_owner_opens_every_page(url: str, owner: Staff) -> None:
    response = client_of(owner).get(url)
    assert response.status_code == 200
    assert response["Cache-Control"] == "no-store"


@pytest.mark.parametrize("url", [*OPEN_TO_ALL_STAFF, *READABLE_BY_DESK])
def test_the_desk_opens_what_it_may(url: str, colleague: Staff) -> None:
    assert client_of(colleague).get(url).status_code == 200


@pytest.mark.parametrize("url", FOR_THE_OWNER)
def test_the_desk_is_refused_with_a_sentence_and_a_trail(url: str, colleague: Staff) -> None:
    with refusals() as noted:
        response = client_of(colleague).get(url)
    assert response.status_code == 403
    assert "front desk" in response.content.decode()
    assert len(noted) == 1


@pytest.mark.parametrize("what", ["", "roles/", "end/", "password/"])
def test_people_of_another_office_are_not_there(what: str, owner: Staff, outsider: Staff) -> None:
    url = f"/staff/{owner.public_id}/{what}"
    with refusals() as noted:
        sent = {"roles": ["front desk"], "reason": "no", "seen": "1", "end-seen": "1", "end-reason": "no"}
        response = client_of(outsider).post(url, sent)
    assert response.status_code == 404
    assert len(noted) == 1
    owner.refresh_from_db()
    assert owner.is_active
    assert owner.check_password(PASSWORD)


def test_lists_cost_the_same_at_any_size(owner: Staff, person: Callable[..., Staff]) -> None:
    client = client_of(owner)
    person(Role.ASSISTANT)
    few = queries_of(client, "/staff/")
    for _number in range(8):
        person(Role.FRONT_DESK, Role.ASSISTANT)
    assert queries_of(client, "/staff/") == few


def test_the_office_page_costs_the_same_with_more_price_lists(owner: Staff) -> None:
    client = client_of(owner)
    before = {url: queries_of(client, url) for url in (*READABLE_BY_DESK, "/")}
    _save_prices(client, "build-up", "460")
    client.get("/")  # takes the message of the act off the session
    assert {url: queries_of(client, url) for url in (*READABLE_BY_DESK, "/")} == before


# Signing in


def test_a_wrong_password_keeps_the_name_and_says_what_is_wrong(office: Office) -> None:
    with refusals() as noted:
        response = client_of(None).post("/sign-in/", {"username": "olive", "password": "no"})
    page = response.content.decode()
    assert 'value="olive"' in page
    assert "do not belong together" in page
    assert noted == ["refused.session.begin"]


def test_five_wrong_tries_rest_the_name_here_and_nowhere_else(office: Office, colleague: Staff) -> None:
    client = client_of(None)
    for _try in range(5):
        response = client.post("/sign-in/", {"username": "olive", "password": "no"})
    assert response.status_code == 429
    assert "Too many tries" in response.content.decode()
    assert client.post("/sign-in/", {"username": "olive", "password": PASSWORD}).status_code == 429
    assert client.post("/sign-in/", {"username": "cleo", "password": PASSWORD})["Location"] == "/"
    elsewhere = Client(REMOTE_ADDR="192.0.2.7")
    assert elsewhere.post("/sign-in/", {"username": "olive", "password": PASSWORD})["Location"] == "/"


def test_signing_out_takes_a_post(owner: Staff) -> None:
    client = client_of(owner)
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/")["Location"] == "/sign-in/"
    assert client.get("/").status_code == 302


def test_a_one_time_password_leads_to_an_own_one_and_nowhere_else(owner: Staff) -> None:
    response = client_of(owner).post(
        "/staff/add/", {"full_name": "Ines Assist", "username": "ines", "roles": ["assistant"], "language": "en"}
    )
    once = response.context["given"][0].password
    assert once in response.content.decode()
    client = client_of(None)
    client.post("/sign-in/", {"username": "ines", "password": once})
    for url in ("/", "/account/", "/patients/"):
        assert client.get(url)["Location"] == "/account/password/"
    new = "a wholly own sentence"
    assert "Password in use" not in client.get("/account/password/").content.decode(), "it is used up already"
    client.post("/account/password/", {"password": new, "again": new})
    assert client.get("/").status_code == 200
    ines = Staff.objects.get(username="ines")
    assert ines.check_password(new)
    assert not ines.password_once


def test_a_new_one_time_password_ends_the_old_sessions(owner: Staff, colleague: Staff) -> None:
    theirs = client_of(colleague)
    assert theirs.get("/").status_code == 200
    response = client_of(owner).post(f"/staff/{colleague.public_id}/password/", {FIELD: PASSWORD})
    assert theirs.get("/").status_code == 302
    colleague.refresh_from_db()
    assert colleague.check_password(response.context["given"][0].password)
    assert colleague.password_once
    assert TrailEntry.objects.filter(act="staff.once", subject_id=colleague.public_id).exists()


# People


def test_bad_input_about_a_person_keeps_the_rest(owner: Staff) -> None:
    sent = {"full_name": "Ines Assist", "username": "i n e s", "roles": ["outside checker"], "language": "es"}
    page = client_of(owner).post("/staff/add/", sent).content.decode()
    assert 'value="Ines Assist"' in page
    assert "“i n e s” has a blank inside" in page
    sent["username"] = "ines"
    page = client_of(owner).post("/staff/add/", sent).content.decode()
    assert "access ends on a day" in page
    assert not Staff.objects.filter(username="ines").exists()


def test_roles_change_with_a_reason_and_a_second_editor_is_told(owner: Staff, colleague: Staff) -> None:
    client = client_of(owner)
    url = f"/staff/{colleague.public_id}/roles/"
    sent = {"roles": ["desk lead"], "reason": "", "seen": "1"}
    assert "This is missing" in client.post(url, sent).content.decode()
    assert client.post(url, sent | {"reason": "leads now"}).status_code == 302
    page = client.post(url, sent | {"roles": ["assistant"], "reason": "again"}).content.decode()
    assert "changed by somebody else" in page
    assert Staff.objects.get(pk=colleague.pk).role_words == "desk lead"


def test_ending_access_shuts_every_screen_at_once(owner: Staff, colleague: Staff) -> None:
    theirs = client_of(colleague)
    assert theirs.get("/").status_code == 200
    sent = {"end-reason": "left", "end-seen": str(colleague.version)}
    assert client_of(owner).post(f"/staff/{colleague.public_id}/end/", sent).status_code == 302
    assert theirs.get("/").status_code == 302


# The office book


def _save_prices(client: Client, key: str, price: str, **more: str) -> None:
    sent = _prices_as_shown(client) | {f"{key}.cents": price, "reason": "yearly rise", "action": "save"} | more
    response = client.post("/office/prices/next/", sent)
    assert response.status_code == 302, response.context["form"].errors


def _prices_as_shown(client: Client) -> dict[str, str]:
    context = client.get("/office/prices/next/").context
    fields = [*context["form"], *context["when"]]
    return {field.html_name: str(field.value()) for field in fields if field.value() not in (None, "")}


def test_the_price_list_in_effect_is_never_edited(owner: Staff) -> None:
    client = client_of(owner)
    _save_prices(client, "build-up", "460,50")
    first, second = client.get("/office/prices/1/"), client.get("/office/prices/2/")
    assert "445.00" in first.content.decode()
    assert first.context["in_force"]
    assert "460.50" in second.content.decode()
    assert second.context["to_come"]
    # The list still to come may be changed, and is then the same list.
    _save_prices(client, "build-up", "470")
    assert "470.00" in client.get("/office/prices/2/").content.decode()
    assert client.get("/office/prices/3/").status_code == 404


def test_a_price_list_to_come_keeps_its_day_where_only_a_price_is_changed(owner: Staff) -> None:
    client = client_of(owner)
    later = timezone.localdate(timezone=owner.office.zone) + timedelta(days=30)
    assert client.get("/office/prices/next/").context["when"].initial["effective"] < later
    sent = _prices_as_shown(client) | {"build-up.cents": "460", "reason": "rise", "effective": later.isoformat()}
    client.post("/office/prices/next/", sent | {"action": "save"})
    _save_prices(client, "build-up", "470")
    coming = client.get("/office/prices/2/").context["prices"]
    assert coming.effective == later
    line = client.get("/office/prices/next/line/?key=build-up")
    assert line.context["when"].initial["effective"] == later


def test_a_setting_that_is_not_set_says_what_holds(owner: Staff) -> None:
    text = client_of(owner).get("/office/").content.decode()
    label, _value, unset = next(row for row in client_of(owner).get("/office/").context["legal"] if row[2])
    assert f"not set: {unset}" in unescape(text), label


def test_a_price_list_begins_tomorrow_at_the_earliest(owner: Staff) -> None:
    client = client_of(owner)
    today = timezone.localdate(timezone=owner.office.zone).isoformat()
    sent = _prices_as_shown(client) | {"reason": "rise", "effective": today, "action": "save"}
    response = client.post("/office/prices/next/", sent)
    assert "is too early" in response.content.decode()
    assert BookVersion.objects.count() == 1


@pytest.mark.parametrize(
    ("price", "said"),
    [
        ("0", "looks like a price and is none"),
        ("4e", "is not an amount"),
        ("1,480.00", "grouped"),
        ("-3", "below zero"),
    ],
)
def test_a_price_that_is_none_is_asked_back(price: str, said: str, owner: Staff) -> None:
    client = client_of(owner)
    sent = _prices_as_shown(client) | {"build-up.cents": price, "reason": "my reason", "action": "preview"}
    page = client.post("/office/prices/next/", sent).content.decode()
    assert said in page
    assert f'value="{price}"' in page
    assert 'value="my reason"' in page


def test_a_preview_stores_nothing_and_shows_before_and_after(owner: Staff) -> None:
    client = client_of(owner)
    sent = _prices_as_shown(client) | {"build-up.cents": "460", "reason": "rise", "action": "preview"}
    response = client.post("/office/prices/next/", sent)
    change = response.context["changes"][0]
    assert ("445.00" in change.before, "460.00" in change.after) == (True, True)
    assert BookVersion.objects.count() == 1


def test_the_second_editor_of_the_book_sees_both_and_loses_nothing(owner: Staff) -> None:
    client = client_of(owner)
    mine = _prices_as_shown(client) | {"build-up.cents": "480", "reason": "mine", "action": "save"}
    _save_prices(client, "build-up", "460")
    response = client.post("/office/prices/next/", mine)
    assert "changed by somebody else" in response.content.decode()
    change = response.context["changes"][0]
    assert ("460.00" in change.before, "480.00" in change.after) == (True, True)
    again = dict(response.context["typed"]) | {"seen": response.context["seen"], "action": "save"}
    assert client.post("/office/prices/next/", again).status_code == 302
    assert "480.00" in client.get("/office/prices/2/").content.decode()


def test_opening_hours_come_in_pairs_and_in_order(owner: Staff) -> None:
    client = client_of(owner)
    sent = {"day0a": "9", "day0b": "8", "day1a": "9", "day2a": "25:00", "chairs": "Window", "action": "save"}
    page = client.post("/office/opening/", sent | {"effective": "x", "reason": "r", "seen": "1"}).content.decode()
    for sentence in (
        "closes before it opens",
        "Opening and closing go together",
        "“25:00” is not an hour of the day",
        "“x” is not read as a day",
    ):
        assert sentence in page
    for typed in ('value="25:00"', 'value="x"', "Window"):
        assert typed in page


def test_a_legal_setting_and_a_tax_are_set_in_ones_name(owner: Staff, person: Callable[..., Staff]) -> None:
    client = client_of(owner)
    when = client.get("/office/legal/").context["when"]
    sent = {
        "seen": when["seen"].value(),
        "effective": "31 December 2035",
        "reason": "the law",
        "action": "save",
    }
    wrong = client.post("/office/legal/", sent | {"key": "age-of-own-consent", "value": "about 16"})
    assert "“about 16” is not a whole number of years" in wrong.content.decode()
    assert client.post("/office/legal/", sent | {"key": "age-of-own-consent", "value": "16"}).status_code == 302
    sent["seen"] = 2
    assert client.post("/office/legal/", sent | {"key": "looks only", "value": "7,5"}).status_code == 302
    data = BookVersion.objects.get(number=3).data
    assert '"value":"16"' in data
    assert '"percent":"7.5"' in data
    assert data.count("Olive Owner") == 2
    assert client_of(person(Role.MANAGER)).get("/office/legal/").status_code == 403


# What errors say


def test_an_address_that_is_nothing_says_so(owner: Staff) -> None:
    response = client_of(owner).get("/nothing/here/")
    assert response.status_code == 404
    assert "There is nothing here" in response.content.decode()


def test_a_fault_of_the_program_shows_no_code(owner: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_args: object, **_values: object) -> None:
        raise RuntimeError("inside of the program")

    monkeypatch.setattr("planner.practice.books.today", broken)
    client = client_of(owner)
    client.raise_request_exception = False
    response = client.get("/")
    assert response.status_code == 500
    assert "Something broke in the program" in response.content.decode()
    assert "inside of the program" not in response.content.decode()


def test_a_form_from_before_signing_in_is_refused_in_words(owner: Staff) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner, backend="planner.practice.backends.StaffBackend")
    response = client.post("/sign-out/")
    assert response.status_code == 403
    assert "The page was too old" in response.content.decode()


def test_a_one_time_password_is_off_unless_asked_for(owner: Staff) -> None:
    staff = services.add_staff(
        username="uma", full_name="Uma", password=PASSWORD, roles=[Role.ASSISTANT], actor=owner, now=NOW
    )
    assert not Staff.objects.get(pk=staff.pk).password_once
