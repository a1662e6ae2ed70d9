"""Every part of the office book on its page: who may, what a change makes, and that nothing in effect is rewritten."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from babel.numbers import format_currency, format_decimal
from django.test import Client
from django.utils import timezone, translation

from planner.practice import books
from planner.practice.models import BookVersion, LegalProposal, Staff
from planner.practice.roles import Role
from planner.practice.templatetags.money import amount
from planner.rules.book import OfficeBook
from planner.trail.models import TrailEntry
from tests.pages import client_of, priced_office, queries_of, refusals

TABLES = ("materials", "minutes", "packages", "discounts", "stages")
READABLE = (
    *(f"/office/table/{part}/" for part in TABLES),
    "/office/settings/",
    "/office/settings/history/margin_percent/",
    "/office/settings/history/share_cap_mesial.central/",
    "/office/costs/",
)
FOR_MANAGERS = (
    *(f"/office/table/{part}/change/" for part in ("minutes", "packages", "discounts", "stages")),
    "/office/table/materials/row/",
    "/office/table/materials/row/?key=adhesive",
    "/office/prices/next/line/",
    "/office/prices/next/line/?key=build-up",
    *(f"/office/settings/change/{group}/" for group in ("money", "rates", "time", "consent")),
    "/office/settings/propose/",
)
pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def newest(owner: Staff) -> OfficeBook:
    return books.read_book(books.latest_version(owner.office).data)


def shown_in(client: Client, url: str) -> dict[str, Any]:
    """What a browser would send of the page as it stands."""
    context = client.get(url).context
    sent: dict[str, Any] = {}
    for form in (context["form"], context["when"]):
        for field in form:
            value = field.value()
            if value is not None and value is not False:
                sent[field.html_name] = "on" if value is True else value
    return sent


def save(client: Client, url: str, **typed: object) -> Any:
    return client.post(url, shown_in(client, url) | {"reason": "as agreed", "action": "save"} | typed)


def test_who_reads_and_who_changes(owner: Staff, person: Callable[..., Staff]) -> None:
    desk, manager = client_of(person(Role.FRONT_DESK)), client_of(person(Role.MANAGER))
    for url in (*READABLE, *FOR_MANAGERS):
        assert manager.get(url).status_code == 200, url
    for url in READABLE:
        assert desk.get(url).status_code == 200, url
    with refusals() as noted:
        for url in (*FOR_MANAGERS, "/office/settings/limit/"):
            assert desk.get(url).status_code == 403, url
        assert manager.get("/office/settings/limit/").status_code == 403
    assert len(noted) == len(FOR_MANAGERS) + 2
    for url in ("/office/table/people/", "/office/settings/change/all/", "/office/settings/history/office/"):
        assert manager.get(url).status_code == 404
    assert manager.get("/office/table/materials/row/?key=gold").status_code == 404


def test_pages_cost_the_same_with_more_versions_and_rows(owner: Staff) -> None:
    client = client_of(owner)
    before = {url: queries_of(client, url) for url in (*READABLE, *FOR_MANAGERS)}
    assert save(client, "/office/table/materials/row/", **_gauze()).status_code == 302
    assert save(client, "/office/settings/change/rates/", margin_percent="25").status_code == 302
    client.get("/")
    assert {url: queries_of(client, url) for url in (*READABLE, *FOR_MANAGERS)} == before


def _gauze() -> dict[str, str]:
    cells = {
        "key": "gauze",
        "words": "=Gauze",
        "unit": "pad",
        "pack_amount": "200",
        "pack_cents": "8,50",
        "per_visit": "4",
    }
    return {f"0.{name}": value for name, value in cells.items()} | {"0.whole": "on"}


def test_a_material_is_added_changed_and_taken_out(owner: Staff) -> None:
    client = client_of(owner)
    save(client, "/office/table/materials/row/", **_gauze())
    added = newest(owner).materials[-1]
    assert (added.key, added.words, added.pack_cents, added.whole) == ("gauze", "=Gauze", 850, True)
    save(client, "/office/table/materials/row/?key=gauze", **{"0.pack_cents": "9"})
    assert newest(owner).materials[-1].pack_cents == 900
    save(client, "/office/table/materials/row/?key=gauze", **{"0.gone": "on"})
    assert [row.key for row in newest(owner).materials].count("gauze") == 0
    assert BookVersion.objects.count() == 4


def test_what_cannot_be_is_told_at_its_field_and_nothing_typed_is_lost(owner: Staff) -> None:
    client = client_of(owner)
    typed = {"0.pack_amount": "-3", "0.words": "My words", "0.per_tooth": "x"}
    page = save(client, "/office/table/materials/row/?key=adhesive", **typed).content.decode()
    assert "This is not a number" in page
    assert 'value="My words"' in page
    page = save(client, "/office/table/materials/row/?key=adhesive", **{"0.pack_amount": "0"}).content.decode()
    assert "it must be more than 0" in page
    page = save(client, "/office/table/minutes/change/", **{"1.slow": "2"}).content.decode()
    assert "are not in order" in page
    page = save(client, "/office/table/stages/change/", **{"0.percent": "6"}).content.decode()
    assert "together they must come to 100" in page
    page = save(client, "/office/settings/change/time/", slot_minutes="0").content.decode()
    assert "is out of range" in page
    assert BookVersion.objects.count() == 1


def test_minutes_and_limits_of_discounts_are_changed_as_tables(owner: Staff) -> None:
    client = client_of(owner)
    assert save(client, "/office/table/minutes/change/", **{"1.usual": "50"}).status_code == 302
    assert newest(owner).minutes[1].usual == 50
    assert save(client, "/office/table/discounts/change/", **{"0.most_cents": "40"}).status_code == 302
    first = newest(owner).discount_limits[0]
    assert (first.most_cents, first.allowed_by) == (4000, ("desk lead", "dentist", "office manager", "owner dentist"))
    assert (
        newest(owner).discount_limits[1:] == books.read_book(BookVersion.objects.get(number=1).data).discount_limits[1:]
    )


def test_packages_and_lines_make_the_next_list_and_leave_the_one_in_effect(owner: Staff) -> None:
    client = client_of(owner)
    in_effect = newest(owner).price_lists[0]
    assert save(client, "/office/table/packages/change/", **{"0.percent": "7.5"}).status_code == 302
    hour = {
        "0.shape": "per time",
        "0.cents": "325",
        "0.step_minutes": "10",
        "0.cap_cents": "500",
        "0.tax_class": "by line",
    }
    new = {"0.key": "advice", "0.code": "ADV", "0.words": "Advice"} | hour
    assert save(client, "/office/prices/next/line/", **new).status_code == 302
    assert save(client, "/office/prices/next/line/?key=late-cancel", **{"0.gone": "on"}).status_code == 302
    book = newest(owner)
    assert book.price_lists[0] == in_effect
    coming = book.price_lists[-1]
    assert coming.effective > books.today(owner.office, timezone.now())
    assert coming.packages[0].percent.normalize() == 7.5
    advice = coming.service("advice")
    assert (advice.shape, advice.cents, advice.step_minutes, advice.cap_cents) == ("per time", 32500, 10, 50000)
    with pytest.raises(LookupError):
        coming.service("late-cancel")
    page = save(client, "/office/prices/next/line/?key=build-up", **{"0.gone": "on"}).content.decode()
    assert "Treatments ask for “build-up”" in page
    page = save(client, "/office/prices/next/line/?key=build-up", **{"0.shape": "per surface"}).content.decode()
    assert "needs further_cents" in page


def test_settings_show_who_set_them_from_when_and_all_they_were(owner: Staff, person: Callable[..., Staff]) -> None:
    manager = client_of(person(Role.MANAGER, full_name="Mona Manager"))
    sent = {"figures_counted_in": "university clinics", "consent_days": "90"}
    assert save(manager, "/office/settings/change/consent/", **sent).status_code == 302
    assert (newest(owner).figures_counted_in, newest(owner).consent_days) == ("university clinics", 90)
    page = manager.get("/office/settings/").content.decode()
    assert "Mona Manager" in page
    assert "2 values" in page
    past = manager.get("/office/settings/history/consent_days/").context["held"]
    assert [(words, held.number, held.set_by) for held, words in past] == [
        ("90", 2, "Mona Manager"),
        ("180", 1, "Olive Owner"),
    ]
    assert save(manager, "/office/settings/change/rates/", hygiene_cents_per_hour="").status_code == 302
    assert newest(owner).hygiene_cents_per_hour is None


def test_a_limit_of_the_space_is_set_by_a_dentist_and_given_back(owner: Staff) -> None:
    client = client_of(owner)
    url = "/office/settings/limit/"
    assert "0.05 mm is finer" in save(client, url, name="share_min", value="0.05").content.decode()
    assert save(client, url, name="share_min", value="0,4").status_code == 302
    assert save(client, url, name="proportion_floor", value="70").status_code == 302
    assert newest(owner).office_limits == {"share_min": 4, "proportion_floor": 70}
    page = client.get("/office/settings/").content.decode()
    assert "it comes as 0.3" in page.replace("The office&#x27;s own; ", "")
    assert save(client, url, name="share_min", value="").status_code == 302
    assert newest(owner).office_limits == {"proportion_floor": 70}


def test_a_manager_proposes_what_has_legal_weight_and_the_owner_sets_or_declines(
    owner: Staff, person: Callable[..., Staff], outsider: Staff
) -> None:
    manager, client = client_of(person(Role.MANAGER, full_name="Mona Manager")), client_of(owner)
    day = books.today(owner.office, timezone.now())
    for key, value in (("whitening-age", "16"), ("looks only", "15")):
        sent = {"key": key, "value": value, "effective": (day + timedelta(days=5)).isoformat(), "reason": "the new act"}
        assert manager.post("/office/settings/propose/", sent | {"seen": "1"}).status_code == 302
    first, second = LegalProposal.objects.all()
    assert "the new act" in client.get("/office/settings/").content.decode()
    with refusals() as noted:
        assert manager.post(f"/office/settings/proposal/{first.public_id}/", {"action": "set"}).status_code == 403
        assert client_of(outsider).get(f"/office/settings/proposal/{first.public_id}/").status_code == 404
    assert len(noted) == 2
    url = f"/office/settings/proposal/{first.public_id}/"
    assert "Declining needs a reason" in client.post(url, {"action": "decline"}).content.decode()
    assert client.post(url, {"action": "decline", "reason": "not yet law"}).status_code == 302
    assert client.post(f"/office/settings/proposal/{second.public_id}/", {"action": "set"}).status_code == 302
    assert "answered already" in client.post(url, {"action": "set"}).content.decode()
    rate = newest(owner).tax_rates[-1]
    assert (rate.percent, rate.set_by) == (15, "Olive Owner")
    assert "proposed by Mona Manager" in rate.reason
    acts = list(TrailEntry.objects.values_list("act", flat=True))
    assert [acts.count(act) for act in ("legal.propose", "legal.decline", "legal.set")] == [2, 1, 1]


def test_from_cost_to_fee_to_the_cent(owner: Staff) -> None:
    # worked out by hand; see tests/rules/test_office_settings.py
    client = client_of(owner)
    asked = {"yearly": "402000", "chairs": "2", "weeks": "45", "hours": "32", "used": "80"}
    assert client.get("/office/costs/", asked).context["hour_cents"] == 17448
    work = {"dentist": "185", "teeth": "3", "visits": "1", "lab": "165", "listed": "1570"}
    page = client.get("/office/costs/", work).content.decode()
    for text in (
        "1257.80",
        "1,612.57",
        "1,615.00",
        "1,534.52",
        "19.9 %",
        "22.1 %",
        "18.1 %",
        "Mark-up",
        "Margin",
        "78.05",
    ):
        assert text in page, text
    page = client.get("/office/costs/", work | {"teeth": "x"}).content.decode()
    assert "This is not a whole number" in page


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("cents", [0, 5, 99, 123456, 161825, 100000000])
def test_amounts_are_printed_as_the_unicode_locale_data_print_them(language: str, cents: int) -> None:
    # CLDR as Babel carries it: the digits, grouping and decimal sign of the currency's own pattern
    with translation.override(language):
        printed = amount(cents)
    whole = format_currency(cents / 100, "CAD", locale=language, format="#,##0.00")
    assert printed == whole == format_decimal(cents / 100, format="#,##0.00", locale=language)
