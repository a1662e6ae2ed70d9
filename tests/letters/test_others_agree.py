"""Separated parents disagree: who else must agree, and what a no holds up."""

from collections.abc import Callable

import pytest
from django.urls import reverse

from planner.letters.consent_standing import before_signing, stands_against
from planner.plans.accepting import accept_option
from planner.plans.items import book_item
from planner.plans.models import Case, Estimate
from planner.plans.others_agree import disputed, wanting, wanting_in, write_say
from planner.plans.others_models import OtherSay
from planner.plans.parts import handed as parts_of
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.rules.others_agree import Say, may_follow, standings
from planner.rules.partial import pieces_of
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.letters.consents import LATER, handed, shown_estimate, sign
from tests.pages import client_of, priced_office
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db
FATHER = "Bo Marsh, father"
NO = f"{FATHER} disagrees: nothing is signed, booked or begun until it is settled."


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def shown(owner: Staff, lead_case: CaseFacts) -> Estimate:
    return shown_estimate(owner, lead_case)


def say(case: Case, actor: Staff, said: Say, words: str = "As he told us.", person: str = FATHER) -> OtherSay:
    return write_say(case=case, person=person, said=said, words=words, actor=actor, now=NOW)


def test_each_thing_said_follows_something() -> None:
    """A yes answers a question, and a no ends by being settled and not by a later yes."""
    rows = [("A", str(Say.WANTED)), ("b", str(Say.DISAGREES))]
    allowed = {
        person: {said for said in Say if may_follow(rows, person, said)} for person in ("a", " B ", "somebody new")
    }
    assert allowed == {
        "a": {Say.AGREES, Say.DISAGREES, Say.SETTLED},
        " B ": {Say.SETTLED},
        "somebody new": {Say.WANTED, Say.DISAGREES},
    }
    assert standings([*rows, ("B", str(Say.SETTLED))])["b"] == ("B", Say.SETTLED)


def test_nothing_is_signed_before_who_else_must_agree_has_agreed(shown: Estimate, owner: Staff) -> None:
    consent, case = handed(shown, owner), shown.case
    say(case, owner, Say.WANTED, "Both hold custody.")
    waits = f"{FATHER} must agree too, and has not yet."
    assert before_signing(consent, LATER).refused == (waits,)
    with pytest.raises(Refused, match="must agree too"):
        sign(consent, owner)
    page = client_of(owner).get(reverse("letters:consent", args=[consent.public_id])).content.decode()
    assert waits in page
    assert reverse("letters:others_agree", args=[case.public_id]) in page
    say(case, owner, Say.AGREES)
    assert before_signing(consent, LATER).refused == ()
    sign(consent, owner)


def test_a_no_holds_the_plan_until_it_is_settled(shown: Estimate, owner: Staff, person: Callable[..., Staff]) -> None:
    """Nothing is accepted, signed, booked or begun; whoever hears it writes it, and a dentist writes how it ended."""
    consent, case, desk = handed(shown, owner), shown.case, person(Role.FRONT_DESK)
    option = "reshape-bond"
    chosen = [piece.key for piece in pieces_of(parts_of(shown, option).option) if not piece.beside]

    def accept() -> object:
        return accept_option(
            estimate=shown, seen=shown.version, option=option, chosen=chosen, by=case.patient.name,
            capacity="patient", actor=owner, now=NOW,
        )  # fmt: skip

    say(case, desk, Say.DISAGREES, "He rang: not before he has seen a second dentist.")
    with pytest.raises(Refused, match="disagrees"):
        accept()
    with pytest.raises(Refused, match="disagrees"):
        sign(consent, owner)
    with pytest.raises(Refused, match="ends by being settled"):
        say(case, desk, Say.AGREES)
    with pytest.raises(NotAllowed):
        say(case, desk, Say.SETTLED)
    say(case, owner, Say.SETTLED, "Both signed the agreement of 3 May; copy seen by Dr Owner.")
    assert disputed(case.pk) == wanting(case.pk) == ()
    plan = accept()
    sign(consent, owner)
    assert stands_against(plan, LATER) == ()  # type: ignore[arg-type]
    # Told after the signature: it does not hold, nothing is booked, and settling it makes it hold again.
    say(case, desk, Say.DISAGREES)
    assert stands_against(plan, LATER)[0] == NO  # type: ignore[arg-type]
    item = plan.items.first()  # type: ignore[attr-defined]
    with pytest.raises(Refused, match="disagrees"):
        book_item(item=item, seen=item.version, visit_on=TODAY, actor=owner, now=NOW)
    assert wanting_in({case.pk}) == {case.pk: (NO,)}
    say(case, owner, Say.SETTLED)
    book_item(item=item, seen=item.version, visit_on=TODAY, actor=owner, now=NOW)
    assert TrailEntry.objects.filter(act="others.say").count() == 4


def test_the_page_writes_it_down_and_says_what_cannot_be(shown: Estimate, owner: Staff) -> None:
    client, address = client_of(owner), reverse("letters:others_agree", args=[shown.case.public_id])
    sent = {"person": FATHER, "said": "disagrees", "words": "By letter, 2 May."}
    assert client.post(address, sent | {"words": ""}).status_code == 200
    assert not OtherSay.objects.exists()
    assert client.post(address, sent).status_code == 302
    refused = client.post(address, sent).content.decode()
    assert "ends by being settled" in refused
    assert "By letter, 2 May." in refused
    assert NO in client.get(address).content.decode()
    assert NO in client.get(reverse("letters:consents", args=[shown.case.public_id])).content.decode()
