"""Pages about papers: made once, kept, downloaded byte for byte, and shown only to those who may see their kind."""

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from planner.letters.consent_models import Channel
from planner.letters.consents import answer_question, ask_question, hand_letter
from planner.letters.models import Document
from planner.letters.pdf import Rendered, close_pool
from planner.letters.services import issue_of, render_papers
from planner.plans.casefiles import import_case_file
from planner.plans.checking import check_case
from planner.plans.estimates import compute_plan, draft_estimate
from planner.plans.models import Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.frozen import thaw
from planner.rules.mouth import CaseFacts
from planner.rules.results import OptionShape, sha256
from planner.trail.models import TrailEntry
from planner.trail.triggers import lifted
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.support import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def checked(owner: Staff, lead_case: CaseFacts) -> Estimate:
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    return check_case(case=case, seen_plan=sha256(compute_plan(case, NOW)[0].to_json()), actor=owner, now=NOW)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Papers that take no time: the tests of the papers themselves are elsewhere."""

    def make(**given: Any) -> tuple[Document, ...]:
        return render_papers(**given, make=lambda job: Rendered(f"%PDF-{sha256(job.html.encode())}".encode(), 3, ()))

    monkeypatch.setattr("planner.letters.views.render_papers", make)


@pytest.fixture
def ended() -> Iterator[None]:
    """Ends the worker processes afterwards."""
    yield
    close_pool()


KINDS = ["option-sheet", "estimate", "consent-letter"]


def _url(estimate: Estimate) -> str:
    return f"/letters/of/{estimate.public_id}/"


def _ask(kinds: list[str] = KINDS, **more: str) -> dict[str, Any]:
    return {"kinds": kinds, "points": "11", "chosen": ""} | more


def test_papers_are_made_kept_and_downloaded_byte_for_byte(checked: Estimate, owner: Staff, ended: None) -> None:
    client = client_of(owner)
    done = client.post(_url(checked), _ask(["option-sheet"]))
    assert done["Location"] == _url(checked)
    (paper,) = Document.objects.all()
    page = client.get(f"/letters/{paper.public_id}/").content.decode()
    assert paper.sha256 in page
    assert paper.plan_sha256 in page
    assert "still the one that was made" in page
    assert f'href="/verify/{paper.plan_sha256}/"' in page
    file = client.get(f"/letters/{paper.public_id}/file/")
    assert file.content.startswith(b"%PDF-")
    assert sha256(file.content) == paper.sha256
    assert file["Content-Type"] == "application/pdf"
    assert file["Content-Disposition"] == f'attachment; filename="option-sheet-{paper.public_id}.pdf"'
    assert file["Cache-Control"] == "no-store"
    assert TrailEntry.objects.filter(act="document.download", subject_id=paper.public_id).count() == 1


def test_a_reprint_is_the_same_paper_and_another_size_is_another(checked: Estimate, owner: Staff, quick: None) -> None:
    client = client_of(owner)
    client.post(_url(checked), _ask())
    first = list(Document.objects.order_by("pk").values_list("pk", "kind"))
    assert [kind for _pk, kind in first] == KINDS
    client.post(_url(checked), _ask())
    assert list(Document.objects.order_by("pk").values_list("pk", "kind")) == first
    client.post(_url(checked), _ask(["estimate"], points="24"))
    assert Document.objects.count() == 4
    client.post(_url(checked), _ask(["consent-letter"], chosen="reshaping"))
    assert Document.objects.count() == 5
    listed = client.get(_url(checked)).content.decode()
    assert all(paper.sha256[:12] in listed for paper in Document.objects.all())


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"kinds": []}, "This is missing"),
        ({"kinds": ["invoice"]}, "invoice"),
        ({"points": "13"}, "13"),
        ({"chosen": "ceramic-veneer"}, "ceramic-veneer"),
    ],
)
def test_papers_that_cannot_be_asked_for(
    asked: dict[str, Any], words: str, checked: Estimate, owner: Staff, quick: None
) -> None:
    answer = client_of(owner).post(_url(checked), _ask() | asked)
    assert answer.status_code == 200
    assert words in answer.content.decode()
    assert not Document.objects.exists()


def test_a_changed_file_is_found_out(checked: Estimate, owner: Staff, quick: None) -> None:
    client = client_of(owner)
    client.post(_url(checked), _ask(["estimate"]))
    paper = Document.objects.get()
    with lifted():
        Document.objects.filter(pk=paper.pk).update(content=b"%PDF-other")
    assert "its hash differs" in client.get(f"/letters/{paper.public_id}/").content.decode()


def test_who_sees_and_makes_which_paper(
    checked: Estimate, owner: Staff, outsider: Staff, person: Callable[..., Staff], quick: None
) -> None:
    client_of(owner).post(_url(checked), _ask())
    papers = {paper.kind: paper for paper in Document.objects.all()}
    sheet, letter = papers["option-sheet"].public_id, papers["consent-letter"].public_id
    desk, manager = client_of(person(Role.FRONT_DESK)), client_of(person(Role.MANAGER))
    assistant, keeper, theirs = client_of(person(Role.ASSISTANT)), client_of(person(Role.KEEPER)), client_of(outsider)
    assert client_of(None).get(_url(checked))["Location"].startswith("/sign-in/")
    for client, expected in ((desk, (200, 200, 200)), (manager, (200, 200, 200)), (assistant, (403, 403, 200))):
        answers = [client.get(_url(checked)), client.get(f"/letters/{sheet}/file/"), client.get(f"/letters/{letter}/")]
        assert tuple(answer.status_code for answer in answers) == expected
    for client, status in ((keeper, 403), (theirs, 404)):
        for url in (_url(checked), f"/letters/{sheet}/", f"/letters/{letter}/file/"):
            with refusals() as noted:
                assert client.get(url).status_code == status, url
            assert len(noted) == 1
    # A manager makes estimates, and no letters.
    assert [key for key, _words in manager.get(_url(checked)).context["form"].fields["kinds"].choices] == KINDS[:2]
    refused = manager.post(_url(checked), _ask(["consent-letter"], points="14"))
    assert refused.status_code == 200
    assert Document.objects.count() == 3


def test_a_wax_up_is_ordered_by_initials_and_seen_by_those_who_measure(
    checked: Estimate, owner: Staff, person: Callable[..., Staff], quick: None
) -> None:
    client = client_of(owner)
    assert "wax-up-order" not in client.get(_url(checked)).context["form"].initial["kinds"]
    asked = _ask(["wax-up-order"], chosen=_bonding(checked), wanted_on="12 March 2099", paper="Letter")
    for wrong, words in (
        ({"order_note": f"for {checked.case.patient.name}"}, "names the patient"),
        ({"wanted_on": "1 January 2020"}, "too early"),
        ({"chosen": "reshaping"}, "no wax-up is needed for it"),
    ):
        assert words in client.post(_url(checked), asked | wrong).content.decode(), words
    assert not Document.objects.exists()
    assert client.post(_url(checked), asked)["Location"] == _url(checked)
    paper = Document.objects.get()
    assert (paper.kind, paper.paper, paper.points) == ("wax-up-order", "Letter", 11)
    for role, status in ((Role.ASSISTANT, 200), (Role.FRONT_DESK, 403)):
        assert client_of(person(role)).get(f"/letters/{paper.public_id}/").status_code == status
    # An order and a letter of the same day are two issues: the day it is wanted changes no letter.
    client.post(_url(checked), _ask(["estimate"]))
    client.post(_url(checked), _ask(["estimate"], wanted_on="13 March 2099"))
    assert Document.objects.count() == 2


def _bonding(estimate: Estimate) -> str:
    assert estimate.frozen is not None
    plan = thaw(bytes(estimate.frozen.content))
    return next(one.key for one in plan.options if one.space_plan and one.key in estimate.options)


def test_a_draft_has_no_papers(checked: Estimate, owner: Staff) -> None:
    draft = draft_estimate(case=checked.case, actor=owner, now=NOW)
    page = client_of(owner).get(_url(draft))
    assert page.context["form"] is None
    assert "None is made yet" in page.content.decode()


def test_the_list_of_papers_is_a_part_of_the_estimates_page(checked: Estimate, owner: Staff, quick: None) -> None:
    client = client_of(owner)
    part = client.get(_url(checked), headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in part
    assert "Make the papers" in part
    few = queries_of(client, _url(checked))
    for points in ("11", "14", "18", "24"):
        client.post(_url(checked), _ask(points=points), follow=True)
    assert queries_of(client, _url(checked)) == few


def test_what_stands_beside_the_plan_is_asked_once_and_kept(checked: Estimate, owner: Staff, quick: None) -> None:
    client = client_of(owner)
    facts = {
        "needs": "Hears better on the left.",
        "interpreter": "Rosa Lind, professional",
        "sedation": "on",
        "shared_with": "an orthodontist\n\n a photographer ",
        "own_risks": "Chips are more likely.",
    }
    client.post(_url(checked), _ask(["consent-letter"], **facts))
    issue = json.loads(Document.objects.get().issue)
    assert [issue[name] for name in facts] == [
        "Hears better on the left.",
        "Rosa Lind, professional",
        True,
        ["an orthodontist", "a photographer"],
        ["Chips are more likely."],
    ]
    begun = client.get(_url(checked)).context["form"].initial
    assert begun["needs"] == facts["needs"]
    assert begun["shared_with"] == "an orthodontist\na photographer"
    # Other papers are told nothing of it.
    client.post(_url(checked), _ask(["estimate"], **facts))
    estimate = json.loads(Document.objects.get(kind="estimate").issue)
    assert not estimate.get("needs")
    assert not estimate["own_risks"]


def test_a_letter_about_cutting_for_looks_asks_to_wait_and_carries_answers(
    checked: Estimate, owner: Staff, quick: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert checked.frozen is not None

    # No option of this case cuts a sound tooth for looks only; the kinds themselves are tested with the rules.
    def kinds(one: OptionShape) -> str:
        return "cutting for looks" if one.key == "reshaping" else "taking away"

    monkeypatch.setattr("planner.rules.reflection.kind_of", kinds)
    fast = {"make": lambda job: Rendered(b"%PDF-1", 1, ())}
    given: dict[str, Any] = {"frozen": checked.frozen, "actor": owner, "now": NOW, "estimate": checked} | fast
    for option, days in (("reshaping", 7), ("reshape-bond", 0)):
        (letter,) = render_papers(kinds=["consent-letter"], issue=issue_of(checked, chosen=option), **given)
        assert json.loads(letter.issue)["reflection_days"] == days
    consent = hand_letter(document=letter, to="A.", channel=Channel.PAPER, actor=owner, now=NOW)
    question = ask_question(consent=consent, words="Will it hurt?", asked_by="A.", clinical=True, actor=owner, now=NOW)
    answer_question(question=question, words="A little.", actor=owner, now=NOW)
    client_of(owner).post(_url(checked), _ask(["consent-letter"], chosen="reshape-bond"))
    asked = json.loads(Document.objects.latest("pk").issue)["questions"]
    assert [(one["question"], one["answer"], one["by"]) for one in asked] == [
        ("Will it hurt?", "A little.", "Olive Owner")
    ]
