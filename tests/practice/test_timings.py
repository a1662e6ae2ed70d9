"""The office's own clock. The twelve timings and the disturbed one are those of the demonstration, made up."""

from datetime import timedelta
from typing import Any

import pytest

from planner.practice import books, services
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.stock_models import WorkTiming
from planner.practice.timings import OwnClock, Timed, adopt, block_of, note_timing, own_clocks
from planner.rules.clock import Span
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from tests.pages import client_of, priced_office, queries_of
from tests.support import NOW, PASSWORD, TODAY

pytestmark = pytest.mark.django_db

BLOCK = "bonding.bonding.per-tooth"
MINUTES = (52, 49, 61, 44, 58, 55, 47, 63, 50, 56, 53, 48)


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def timed(owner: Staff, minutes: int, **changes: Any) -> Timed:
    first: dict[str, Any] = {"block": BLOCK, "teeth": 1, "minutes": minutes, "on": TODAY, "worked": owner}
    return Timed(**(first | changes))


def note_all(owner: Staff) -> None:
    for place, minutes in enumerate(MINUTES):
        on = TODAY - timedelta(days=40 - place)
        note_timing(timed=timed(owner, minutes, on=on), actor=owner, now=NOW)
    note_timing(timed=timed(owner, 118, disturbed=True, why="fire alarm"), actor=owner, now=NOW)


def clock_of(owner: Staff) -> OwnClock:
    (found,) = own_clocks(owner.office, books.read_book(books.latest_version(owner.office).data))
    return found


def test_twelve_visits_propose_and_the_disturbed_one_is_kept_and_not_used(owner: Staff) -> None:
    note_all(owner)
    found = clock_of(owner)
    assert found.proposal is not None
    assert (found.figures["start"], found.proposal.count, found.figures["own"]) == ("47.5", 12, "53.0")
    assert (found.figures["proposed"], found.disturbed) == ("50.5", 1)
    assert found.proposal.span == Span(37, 48, 74)
    assert [word for *_rest, word in found.rows].count("counts") == 12
    # Nothing changed by itself
    assert books.latest_version(owner.office).number == 1


def test_adopting_makes_a_new_book_and_learns_from_no_timing_twice(owner: Staff) -> None:
    note_all(owner)
    found = clock_of(owner)
    who: dict[str, Any] = {"effective": TODAY, "reason": "twelve visits", "actor": owner, "now": NOW}
    with pytest.raises(StaleEdit):
        adopt(clock=found, span=Span(37, 48, 74), seen=7, **who)
    version = adopt(clock=found, span=Span(37, 48, 74), seen=1, **who)
    book = books.read_book(version.data)
    row = next(row for row in book.minutes if (row.treatment, row.block) == ("bonding", "per tooth"))
    assert (row.fast, row.usual, row.slow) == (37, 48, 74)
    assert "12 own timings, mean 53.0 min, adopted by Olive Owner" in row.source
    assert len(book.minutes) == 4
    again = clock_of(owner)
    assert (again.figures["start"], again.proposal) == ("50.5", None)
    assert {word for *_rest, word in again.rows} == {"in the book already", "kept, not learnt from"}
    note_timing(timed=timed(owner, 159, teeth=3), actor=owner, now=NOW)
    later = clock_of(owner).proposal
    assert later is not None
    assert (later.count, later.own_mean) == (1, 53)


def test_a_block_the_book_does_not_name_gets_a_row_of_its_own(owner: Staff) -> None:
    note_timing(timed=timed(owner, 18, block="bonding.review.set-up"), actor=owner, now=NOW)
    found = clock_of(owner)
    assert found.block.source == ""
    assert found.proposal is not None
    version = adopt(
        clock=found, span=found.proposal.span, seen=1, effective=TODAY, reason="first", actor=owner, now=NOW
    )
    assert len(books.read_book(version.data).minutes) == 5


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"block": "juggling.juggling.per-tooth"}, "no work that takes minutes"),
        ({"minutes": 0}, "not one visit"),
        ({"minutes": 10**12}, "not one visit"),
        ({"teeth": 0}, "does not fit this work"),
        ({"block": "bonding.bonding.set-up", "teeth": 2}, "does not fit this work"),
        ({"on": TODAY + timedelta(days=1)}, "still to come"),
        ({"disturbed": True}, "Say what disturbed it"),
    ],
)
def test_what_cannot_have_been_timed_is_refused(owner: Staff, changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(Refused, match=sentence):
        note_timing(timed=timed(owner, **({"minutes": 50} | changes)), actor=owner, now=NOW)
    assert not WorkTiming.objects.exists()


def test_dentists_see_proposals_and_only_who_may_change_the_book_adopts(owner: Staff) -> None:
    note_all(owner)

    def person(role: Role) -> Staff:
        name = role.value.replace(" ", "")
        return services.add_staff(
            username=name, full_name=name.title(), password=PASSWORD, roles=[role], actor=owner, now=NOW
        )

    dentist, manager, desk = (person(role) for role in (Role.DENTIST, Role.MANAGER, Role.FRONT_DESK))
    with pytest.raises(NotAllowed):
        adopt(
            clock=clock_of(owner),
            span=Span(37, 48, 74),
            seen=1,
            effective=TODAY,
            reason="mine",
            actor=dentist,
            now=NOW,
        )
    url = f"/office/clock/{BLOCK}/"
    assert "Adopt" not in client_of(dentist).get(url).content.decode()
    assert client_of(dentist).post(url, {}).status_code == 403
    assert client_of(desk).get("/office/clock/").status_code == 403
    page = client_of(manager).get(url).content.decode()
    assert "50.5 min" in page
    assert "7 of 12 between 40.0 and 55.0 min" in page
    wrong = client_of(manager).post(url, {"fast": "50", "usual": "48", "slow": "74", "reason": "x", "seen": "1"})
    assert "Minutes stand as fast, usual, slow" in wrong.content.decode()
    done = client_of(manager).post(url, {"fast": "37", "usual": "48", "slow": "74", "reason": "12 visits", "seen": "1"})
    assert done.status_code == 302
    assert books.latest_version(owner.office).number == 2


def test_a_timing_is_written_down_on_the_page(owner: Staff) -> None:
    client = client_of(owner)
    typed = {"block": BLOCK, "teeth": "3", "minutes": "159", "on": "2026-03-02", "worked": owner.public_id, "why": ""}
    assert "Say what disturbed it" in client.post("/office/clock/note/", typed | {"disturbed": "on"}).content.decode()
    assert (
        "whole number from 1 to 600" in client.post("/office/clock/note/", typed | {"minutes": "1e12"}).content.decode()
    )
    assert client.post("/office/clock/note/", typed).status_code == 302
    assert client.get("/office/clock/nothing.here.set-up/").status_code == 404
    before = queries_of(client, "/office/clock/")
    note_all(owner)
    assert queries_of(client, "/office/clock/") == before


def test_blocks_carry_what_the_book_says() -> None:
    book = books.read_book(books.latest_version(priced_office().office).data)
    block = block_of(book, BLOCK)
    assert block is not None
    assert (block.start, block.by_tooth, block.source) == (Span(35, 45, 70), True, "Dr Imke Sorrel's starting values")
    assert block_of(book, "bonding.nowhere.finish") is None
