"""Reviews of finished work: writing them down, correcting them, what the page shows and what the paper says."""

import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planner.followup.page import monday_page
from planner.followup.reading_reviews import reviews_due
from planner.followup.result_papers import make_result_paper, result_told
from planner.followup.results import promised_of, result_of
from planner.followup.review_models import Review, ReviewTooth, ReviewWish
from planner.followup.reviewing import note_review
from planner.followup.sealed_results import result_papers_hold
from planner.letters.agree import papers_disagree
from planner.letters.pdf import Job, Rendered
from planner.letters.sealed import CHECKS
from planner.patients.models import Instrument
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepting import Promise, accept_repair
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.promise import Condition, Moment, SeenTooth
from planner.rules.teeth import Tooth
from planner.trail.errors import NotAllowed, Refused
from tests.followup.reviewed import CENTRAL, DONE, LATERAL, done_plan, planned, reviewed, seen
from tests.pages import client_of, priced_office, queries_of
from tests.rules.books import charge
from tests.support import NOW, TODAY, guards_lifted

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return done_plan(owner)


def drawn(what: Job) -> Rendered:
    """Stands for the renderer, which has tests of its own: the words of the paper."""
    return Rendered(what.html.encode(), 1, ())


def test_the_promise_is_what_the_step_sheet_says(plan: AcceptedPlan) -> None:
    """The lead case as worked out by hand for the invented office: 13 shortened, 11, 21 and 22 built up."""
    promised = {one.tooth.iso: one for one in promised_of(plan)}
    assert list(promised) == ["13", "11", "21", "22"]
    sizes = {iso: (one.width_before, one.width, one.length_before, one.length) for iso, one in promised.items()}
    assert sizes["13"] == (78, 78, 101, 96)
    assert sizes["22"] == (55, 71, 83, 93)
    assert promised["22"].lengthened == 10
    assert sizes["11"][:2] == (83, 89)
    assert sizes["21"][:2] == (84, 89)


def test_a_dropped_tooth_promises_nothing(plan: AcceptedPlan) -> None:
    dropped = plan.items.filter(teeth=[Tooth.from_iso("11").key])
    with guards_lifted():
        dropped.update(state="dropped", done_on=None, dropped_because="patient")
    assert [one.tooth.iso for one in promised_of(plan)] == ["13", "21", "22"]


def test_what_is_written_down_stays_and_a_correction_counts_in_its_place(
    owner: Staff, plan: AcceptedPlan, person: Callable[..., Staff]
) -> None:
    wrong = reviewed(owner, plan, teeth={LATERAL: SeenTooth(Condition.WHOLE, 75, 95)})
    right = note_review(plan=plan, seen=seen(), corrects=wrong, actor=person(Role.ASSISTANT), now=NOW)
    found = result_of(plan)
    assert [row.pk for row in found.rows] == [right.pk]
    (lateral,) = [one for one in found.result.teeth if one.tooth == LATERAL]
    assert (lateral.width.planned, lateral.width.reached, lateral.width.now) == (71, 70, None)
    assert Review.objects.count() == 2
    with pytest.raises(Refused, match="corrected already"):
        note_review(plan=plan, seen=seen(), corrects=wrong, actor=owner, now=NOW)


@pytest.mark.parametrize(
    ("change", "field", "why"),
    [
        ({"days": 500}, "on", "still to come"),
        ({"days": -1}, "on", "Nothing was done yet"),
        ({"measured_by": " "}, "measured_by", "who measured"),
        ({"instrument": Instrument.FILM}, "instrument", "a film enlarges"),
        ({"teeth": {}, "scores": {}}, "", "Nothing was seen"),
        ({"teeth": {Tooth.from_iso("41"): SeenTooth()}}, "", "no tooth of this plan"),
        ({"scores": {7: 5}}, "", "no wish 7"),
        ({"scores": {1: 11}}, "wish_1", "0 to 10"),
        ({"teeth": {LATERAL: SeenTooth(Condition.WHOLE, 97, 96)}}, "sure", "outside"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(
    owner: Staff, plan: AcceptedPlan, change: dict[str, Any], field: str, why: str
) -> None:
    with pytest.raises(Refused) as refused:
        reviewed(owner, plan, **change)
    assert why in refused.value.sentence
    assert refused.value.field == field
    assert not Review.objects.exists()


def test_a_slip_that_was_measured_again_is_kept(owner: Staff, plan: AcceptedPlan) -> None:
    made = reviewed(owner, plan, teeth={LATERAL: SeenTooth(Condition.WHOLE, 88, 96)}, sure=True)
    assert made.teeth.get().width == 88


def test_one_review_of_each_moment_and_any_number_in_between(owner: Staff, plan: AcceptedPlan) -> None:
    reviewed(owner, plan)
    with pytest.raises(Refused, match="written down already"):
        reviewed(owner, plan)
    reviewed(owner, plan, Moment.OTHER, 60)
    reviewed(owner, plan, Moment.OTHER, 90)
    assert result_of(plan).next == (Moment.ONE_YEAR, DONE + timedelta(days=365))


def test_before_anything_is_done_there_is_nothing_to_review(owner: Staff, person: Callable[..., Staff]) -> None:
    plan = planned(owner)
    with pytest.raises(Refused, match="no finished work"):
        reviewed(owner, plan)
    with pytest.raises(NotAllowed):
        reviewed(person(Role.MANAGER), plan)
    page = client_of(owner).get(f"/monday/result/{plan.public_id}/").content.decode()
    assert "there is no finished work to review" in page


def test_chips_repairs_and_money_feed_it(owner: Staff, plan: AcceptedPlan) -> None:
    """A corner mended under promise in the fifth month, and a chip seen after a year: both are said, once each."""
    accept_repair(
        plan=plan, charges=[charge("small-repair", 1, "22")], by=plan.patient.name, capacity="patient",
        reason="a corner chipped", promise=Promise(minutes=30, material_cents=1200), actor=owner, now=NOW,
    )  # fmt: skip
    reviewed(owner, plan, Moment.ONE_YEAR, 370, teeth={CENTRAL: SeenTooth(Condition.CHIPPED)})
    found = result_of(plan)
    happened = {tooth.tooth.iso: [str(one.condition) for one in tooth.happened] for tooth in found.result.teeth}
    assert happened["21"] == ["chipped, left as it is"]
    assert happened["22"] == ["chipped, mended at this visit"]
    # 30 minutes of chair and 12.00 of material: 325 an hour, as the invented office reckons.
    assert (found.result.later_cents, found.result.office_cents) == (0, 17450)
    page = client_of(owner).get(f"/monday/result/{plan.public_id}/").content.decode()
    assert "174.50" in page


def test_the_page_takes_a_review_and_asks_back_what_looks_like_a_slip(owner: Staff, plan: AcceptedPlan) -> None:
    client, url = client_of(owner), f"/monday/result/{plan.public_id}/review/"
    assert 'value="when it was done"' in client.get(url).content.decode()
    sent = {
        "moment": "after 14 days", "on": (DONE + timedelta(days=14)).isoformat(), "measured_by": "Chair 1",
        "instrument": "scan", "condition_3": "whole", "width_3": "9.7", "length_3": "9,6", "wish_1": "9",
    }  # fmt: skip
    asked = client.post(url, sent).content.decode()
    assert "What looks like a slip" in asked
    assert 'value="9.7"' in asked
    assert not Review.objects.exists()
    unsaid = client.post(url, sent | {"condition_3": ""}).content.decode()
    assert "say how it was found" in unsaid
    assert client.post(url, sent | {"width_3": "7.0"}).status_code == 302
    made = Review.objects.get()
    assert (made.teeth.get().width, made.teeth.get().length) == (70, 96)
    again = client.get(f"{url}{made.public_id}/").content.decode()
    assert 'value="7.0"' in again
    client.post(f"{url}{made.public_id}/", sent | {"width_3": "6.9"})
    page = client.get(f"/monday/result/{plan.public_id}/").content.decode()
    assert "Corrected since" in page
    assert "−0.2" in page
    assert client.get(f"{url}nothing/").status_code == 404


def test_who_may_see_and_who_may_write(
    owner: Staff, outsider: Staff, plan: AcceptedPlan, person: Callable[..., Staff]
) -> None:
    url = f"/monday/result/{plan.public_id}/"
    desk, assistant = client_of(person(Role.FRONT_DESK)), client_of(person(Role.ASSISTANT))
    assert desk.get(url).status_code == 200
    assert desk.get(f"{url}review/").status_code == 403
    assert assistant.get(f"{url}review/").status_code == 200
    assert client_of(outsider).get(url).status_code == 404


def test_queries_of_the_page_do_not_grow_with_reviews(owner: Staff, plan: AcceptedPlan) -> None:
    client, url = client_of(owner), f"/monday/result/{plan.public_id}/"
    reviewed(owner, plan)
    few = queries_of(client, url)
    for days in range(20, 60, 5):
        reviewed(owner, plan, Moment.OTHER, days)
    assert queries_of(client, url) == few


def test_the_paper_says_what_stands_in_the_rows_and_is_made_once(owner: Staff, plan: AcceptedPlan) -> None:
    with pytest.raises(Refused, match="No review"):
        result_told(result_of(plan))
    reviewed(owner, plan)
    reviewed(owner, plan, Moment.ONE_YEAR, 366, teeth={LATERAL: SeenTooth(Condition.MENDED, 66, 95)}, scores={1: 7})
    document = make_result_paper(found=result_of(plan), actor=owner, now=NOW, make=drawn)
    said = bytes(document.content).decode()
    for words in ("7.1\u00a0×\u00a09.3", "7.0\u00a0×\u00a09.5", "6.6\u00a0×\u00a09.5", "chipped, and mended"):
        assert words in said, words
    assert "after 12 months" in said
    told = json.loads(json.loads(document.issue)["result"])
    assert told["plan"] == plan.public_id
    assert told["next_on"] == (DONE + timedelta(days=730)).isoformat()
    assert make_result_paper(found=result_of(plan), actor=owner, now=NOW, make=drawn).pk == document.pk
    # What was reached is not what was planned: that is no contradiction between papers.
    assert plan.estimate is not None
    assert not papers_disagree(plan.estimate)
    page = client_of(owner).get(f"/monday/result/{plan.public_id}/paper/").content.decode()
    assert "Made before" in page
    assert TODAY > DONE


def test_a_review_that_is_due_stands_on_the_monday_page_until_it_is_held_or_let_go(
    plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
) -> None:
    """14 days, 12 and 24 months after the last of it was done: common practice, no source."""

    def due(days: int, who: Staff = owner) -> list[tuple[str, int | None]]:
        with guards_lifted():
            plan.items.update(done_on=TODAY - timedelta(days=days))
        page = monday_page(actor=who, now=NOW)
        (block,) = [one for one in page.blocks if one.key == "calls"]
        return [(row.words, row.days) for row in block.rows if row.act == "review"]

    two_weeks = f"review after 14 days: {plan.name}"
    assert due(13) == []
    assert due(14) == [(two_weeks, 0)]
    assert due(104) == [(two_weeks, 90)]
    assert due(105) == []
    assert due(365) == [(f"review after 12 months: {plan.name}", 0)]
    assert due(730) == [(f"review after 24 months: {plan.name}", 0)]
    assert due(821) == []
    # To a dentist only of own patients, to the desk none: what came of work is not for it to see.
    assert due(365, person(Role.DENTIST)) == []
    assert due(365, person(Role.FRONT_DESK)) == []
    # One that was held is no longer asked for, nor is one before it.
    assert due(400) == [(f"review after 12 months: {plan.name}", 35)]
    first = reviewed(owner, plan, Moment.ONE_YEAR, 370)
    assert due(20) == []
    assert due(400) == []
    note_review(plan=plan, seen=seen(Moment.OTHER, 370), corrects=first, actor=owner, now=NOW)
    assert due(400) == [(f"review after 12 months: {plan.name}", 35)]
    # The line leads to the page on which it is written down.
    page = client_of(owner).get("/monday/").content.decode()
    assert f'href="/monday/result/{plan.public_id}/"' in page


def test_unfinished_work_and_repairs_are_asked_no_review(plan: AcceptedPlan, owner: Staff) -> None:
    day = TODAY - timedelta(days=400 - 365)
    assert len(reviews_due(owner.office, day)) == 1
    with guards_lifted():
        AcceptedPlan.objects.filter(pk=plan.pk).update(state="under way")
    assert reviews_due(owner.office, day) == ()


def test_the_queries_for_reviews_due_are_two_however_many_there_are(plan: AcceptedPlan, owner: Staff) -> None:
    day = TODAY - timedelta(days=400 - 365)
    for number in range(3):
        with CaptureQueriesContext(connection) as queries:
            assert len(reviews_due(owner.office, day)) == number + 1
        assert len(queries) == 2
        done_plan(owner, name=f"Person {number}")


def test_a_paper_is_held_against_the_reviews_as_they_stood(plan: AcceptedPlan, owner: Staff) -> None:
    reviewed(owner, plan)
    paper = make_result_paper(found=result_of(plan), actor=owner, now=NOW, make=drawn)

    def faults() -> list[str]:
        found = result_papers_hold()
        said = list(found)
        return [one for one in said if paper.public_id in one]

    assert CHECKS["papers of what came of work"] is result_papers_hold
    assert faults() == []
    # Written later, and put right later: the paper says what was known then.
    with time_machine.travel(NOW + timedelta(days=1), tick=False):
        later = NOW + timedelta(days=1)
        note_review(plan=plan, seen=seen(Moment.ONE_YEAR, 365), actor=owner, now=later)
        old = Review.objects.get(moment=str(Moment.TWO_WEEKS))
        note_review(plan=plan, seen=seen(scores={1: 2}), corrects=old, actor=owner, now=later)
    assert faults() == []
    said = [f"promise-against-result {paper.public_id}: the reviews no longer say what this paper says."]
    changes: list[tuple[type[Any], dict[str, Any], dict[str, Any]]] = [
        (ReviewTooth, {"review": old, "tooth": CENTRAL.key}, {"width": 90}),
        (ReviewTooth, {"review": old, "tooth": LATERAL.key}, {"condition": str(Condition.CHIPPED)}),
        (ReviewWish, {"review": old, "rank": 1}, {"score": 3}),
        (Review, {"pk": old.pk}, {"measured_by": "Somebody else"}),
    ]
    for model, which, change in changes:
        row = model.objects.get(**which)
        before = {name: getattr(row, name) for name in change}
        with guards_lifted():
            model.objects.filter(pk=row.pk).update(**change)
            assert faults() == said, change
            model.objects.filter(pk=row.pk).update(**before)
    assert faults() == []
