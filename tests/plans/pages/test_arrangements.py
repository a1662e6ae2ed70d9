"""Paying in parts on the page: tried out live, refused in sentences, agreed on after the yes and frozen."""

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from planner.plans import estimates
from planner.plans.arrangement_models import Arrangement, PriceRequest
from planner.plans.models import Answer, Channel, Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.results import sha256
from planner.trail.models import TrailEntry
from tests.pages import client_of, queries_of
from tests.plans.pages.conftest import OPTION
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def accepted(checked: Estimate, owner: Staff) -> Estimate:
    """The checked estimate, shown and said yes to."""
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    shown = estimates.show_estimate(
        estimate=checked, seen=checked.version, to="Anselm Brightwater", channel=Channel.IN_PERSON, **who
    )
    return estimates.answer_estimate(
        estimate=shown, seen=shown.version, answer=Answer.ALL, by="Anselm Brightwater", option=OPTION, **who
    )


def url(estimate: Estimate) -> str:
    return f"/plans/estimate/{estimate.public_id}/instalments/"


def typed(**more: str) -> dict[str, str]:
    return {
        "deposit_cents": "560.00",
        "count": "4",
        "first_due": "2026-03-31",
        "yearly_percent": "0",
        "payer": "Marguerite Brightwater",
        "capacity": "a parent",
        "address": "12 Mill Lane",
    } | more


def live(client: Client, estimate: Estimate, **more: str) -> str:
    asked = {name: value for name, value in typed(**more).items() if name not in ("payer", "capacity", "address")}
    return client.get(url(estimate), asked | {"option": OPTION}, HTTP_HX_REQUEST="true").content.decode()


def test_it_is_worked_out_while_it_is_typed_and_nothing_is_kept(checked: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    page = client.get(url(checked)).content.decode()
    assert "Nobody has said yes to this estimate" in page
    assert "Agreed: keep it" not in page
    part = live(client, checked)
    assert "<html" not in part
    assert "264.56" in part
    assert "264.57" in part, "the last one takes the remainder"
    assert "30 April 2026" in part
    assert "31 May 2026" in part
    assert "8.24 %" not in part
    with_interest = live(client, checked, yearly_percent="8.24", count="5", fitted_on="2026-04-20")
    assert "Regulation Z" in with_interest
    assert "European Union" in with_interest
    assert "ask local counsel which disclosures" in with_interest
    assert "after the work from the laboratory is fitted" in with_interest
    assert not Arrangement.objects.exists()


REFUSED = (
    ({"count": "0"}, "0 instalments are none"),
    ({"count": "7"}, "this office agrees to 6 at most"),
    ({"count": "four"}, "not a whole number"),
    ({"deposit_cents": "-5"}, "below zero"),
    ({"deposit_cents": "1618.25"}, "leaves nothing"),
    ({"first_due": "2026-03-01"}, "before the yes of 2026-03-02"),
    ({"yearly_percent": "-1"}, "A yearly rate of -1"),
    ({"payer": " "}, "Say who pays"),
)


def test_refusals_keep_what_was_typed(accepted: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    for more, sentence in REFUSED:
        page = client.post(url(accepted), typed(**more))
        assert page.status_code == 200
        assert sentence in page.content.decode()
        assert "12 Mill Lane" in page.content.decode()
    assert not Arrangement.objects.exists()


def test_what_is_agreed_is_frozen_and_another_one_says_why(accepted: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    tried = client.post(url(accepted), typed() | {"try": "1"})
    assert "264.57" in tried.content.decode()
    assert not Arrangement.objects.exists(), "tried, not agreed"
    assert client.post(url(accepted), typed()).status_code == 302
    (agreed,) = Arrangement.objects.all()
    said = json.loads(bytes(agreed.content))
    assert agreed.sha256 == sha256(bytes(agreed.content))
    assert (said["payer"], said["price_cents"], said["plan_sha256"]) == (
        "Marguerite Brightwater",
        161825,
        accepted.frozen.sha256,  # type: ignore[union-attr]
    )
    assert [due["cents"] for due in said["dues"]] == [26456, 26456, 26456, 26457]
    assert "say why this one replaces it" in client.post(url(accepted), typed(count="3")).content.decode()
    client.post(url(accepted), typed(count="3", reason="Payer asked for three."))
    assert [(one.number, one.reason) for one in Arrangement.objects.order_by("number")] == [
        (1, ""),
        (2, "Payer asked for three."),
    ]
    assert TrailEntry.objects.filter(act="arrangement.agree").count() == 2
    assert "agreement 2" in client.get(f"/plans/estimate/{accepted.public_id}/").content.decode()


def test_when_the_price_was_asked_for_is_noted(checked: Estimate, owner: Staff) -> None:
    client, asked = client_of(owner), f"/plans/estimate/{checked.public_id}/asked-on/"
    day = TODAY.isoformat()
    assert "A booking is for a day" in client.post(asked, {"event": "booked", "on": day}).content.decode()
    before = client.post(asked, {"event": "booked", "on": day, "service_on": (TODAY - timedelta(days=1)).isoformat()})
    assert "lies before the booking" in before.content.decode()
    client.post(asked, {"event": "booked", "on": day, "service_on": (TODAY + timedelta(days=14)).isoformat()})
    assert PriceRequest.objects.get().service_on == TODAY + timedelta(days=14)
    assert "for 16 March 2026" in client.get(f"/plans/estimate/{checked.public_id}/").content.decode()


def test_who_gets_in(accepted: Estimate, colleague: Staff, outsider: Staff, person: Callable[..., Staff]) -> None:
    assert client_of(person(Role.ASSISTANT)).get(url(accepted)).status_code == 403
    assert client_of(outsider).get(url(accepted)).status_code == 404
    assert client_of(colleague).get(url(accepted)).status_code == 200


def test_the_page_asks_the_same_of_the_database(accepted: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    client.post(url(accepted), typed())
    few = queries_of(client, url(accepted))
    for count in ("2", "3"):
        client.post(url(accepted), typed(count=count, reason="Asked for."))
    assert queries_of(client, url(accepted)) == few
