"""A letter handed over, talked about and signed on a tablet: drawn with the mouse, typed by keyboard alone, told what
changed."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.letters.consent_models import Channel, Consent, Signature
from planner.letters.consents import hand_letter, note_talk
from planner.letters.models import Document
from planner.letters.pdf import close_pool
from planner.letters.services import issue_of, render_papers
from planner.plans import estimates
from planner.plans.models import Case, Estimate
from planner.plans.models import Channel as Shown
from planner.practice.fields import day_words
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.services import add_staff
from planner.rules.signing import Method
from tests.browser.conftest import TABLET, look
from tests.browser.test_options import case, owner
from tests.letters.consents import quick
from tests.support import PASSWORD

__all__ = ["case", "owner"]


@pytest.fixture(autouse=True)
def ended() -> Iterator[None]:
    """Ends the worker processes afterwards."""
    yield
    close_pool()


def letter_of(estimate: Estimate, owner: Staff, **more: Any) -> Document:
    """The consent letter, as if made three days ago, so that the time to think it over is over."""
    now = timezone.now() - timedelta(days=3)
    assert estimate.frozen is not None
    (made,) = render_papers(
        frozen=estimate.frozen, kinds=["consent-letter"], issue=issue_of(estimate, chosen="reshape-bond", **more),
        actor=owner, now=now, estimate=estimate, make=quick,
    )  # fmt: skip
    return made


def handed(letter: Document, owner: Staff) -> Consent:
    """The consent to a letter that was handed over three days ago."""
    now = timezone.now() - timedelta(days=3)
    return hand_letter(document=letter, to=letter.frozen.case.patient.name, channel=Channel.PAPER, actor=owner, now=now)


def fill(page: Page, name: str) -> None:
    """What every signing asks for; who signs, and who held the talk, stands there already."""
    expect(page.get_by_label("Name of whoever consents")).to_have_value(name)
    page.get_by_label("Day of the talk").fill(day_words(timezone.now().date() - timedelta(days=2)))
    page.get_by_label("Licence number of that dentist").fill("D-4471")
    page.get_by_label("Said back in the own words").fill("A tip comes off, three teeth get wider.")
    page.get_by_label("Yes, to all of it").check()


def test_drawn_then_told_what_changed_then_typed_by_keyboard_alone(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    who: dict[str, Any] = {"actor": owner, "now": timezone.now() - timedelta(days=4)}
    plan, book = estimates.compute_plan(case, who["now"])
    estimate = estimates.draft_estimate(case=case, **who)
    estimate = estimates.check_estimate(estimate=estimate, seen=1, plan_json=plan.to_json(), book=book, **who)
    estimates.show_estimate(estimate=estimate, seen=2, to="A. B.", channel=Shown.IN_PERSON, **who)
    consent = handed(letter_of(estimate, owner), owner)
    now = timezone.now()
    note_talk(consent=consent, clinician=owner, held_at=now - timedelta(days=2), actor=owner, now=now)
    assistant = add_staff(
        username="asa", full_name="Asa Hand", password=PASSWORD, roles=[Role.ASSISTANT], actor=owner, now=now
    )
    page, name = signed_in(assistant), case.patient.name
    page.goto(f"{live_server.url}/letters/consent/{consent.public_id}/")
    look(page, "consent")
    page.get_by_role("link", name="Write one down").click()
    look(page, "consent-question")
    page.go_back()
    page.get_by_role("link", name="Sign on this screen").click()
    page.set_viewport_size(TABLET)
    fill(page, name)
    page.get_by_label("I draw my signature").check()
    field = page.get_by_role("img", name="Field to draw in")
    field.scroll_into_view_if_needed()
    box = field.bounding_box()
    assert box is not None
    for line in ([(0.1, 0.7), (0.2, 0.3), (0.3, 0.7)], [(0.4, 0.4), (0.6, 0.6), (0.8, 0.5)]):
        for number, (x, y) in enumerate(line):
            page.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"], steps=4)
            if number == 0:
                page.mouse.down()
        page.mouse.up()
    assert field.locator("path").count() == 2
    page.get_by_role("button", name="Undo the last stroke").click()
    assert field.locator("path").count() == 1
    expect(page.get_by_text("Something is drawn.")).to_be_visible()
    look(page, "sign-drawn")

    # A newer letter was handed over on another screen meanwhile.
    newer = letter_of(estimate, owner, own_risks=("You grind your teeth. Chips are more likely.",))
    anew = handed(newer, owner)
    page.get_by_role("button", name="Sign", exact=True).click()
    told = page.get_by_role("alert").filter(has_text="The letter has changed")
    expect(told).to_contain_text("You grind your teeth. Chips are more likely.")
    expect(told).to_contain_text("What weighs in this case")
    expect(page.get_by_label("Said back in the own words")).to_have_value("A tip comes off, three teeth get wider.")
    assert page.get_by_role("img", name="Field to draw in").locator("path").count() == 1
    look(page, "sign-changed")
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.get_by_role("heading", name="Your password once more")).to_be_visible()
    look(page, "again")
    page.get_by_role("link", name="Leave it").click()

    # The same by keyboard alone, with the name typed.
    fill(page, name)
    typed = page.get_by_label("I type my name")
    typed.focus()
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.type(name)
    page.keyboard.press("Enter")
    page.get_by_label("Password of Asa Hand").focus()
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_text("It is signed. Dr Imke Sorrel countersigns it")).to_be_visible(timeout=20_000)
    look(page, "consent-signed")
    signature = Signature.objects.get()
    assert (signature.consent, signature.method, signature.signer) == (anew, Method.TYPED, name)
    with page.expect_download() as download:
        page.get_by_role("link", name="Download the signed letter").click()
    assert download.value.path().read_bytes() == bytes(signature.copy.content)
    page.get_by_role("link", name="Take it back").click()
    look(page, "withdraw")
    page.get_by_label("The words that were used").fill("I want no more of it.")
    page.get_by_label("Told how").fill("in person")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_text("I want no more of it.")).to_be_visible()
    assert console == []
