"""Papers are made once, kept as they are, and found out when they are not."""

from dataclasses import replace
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.http import Http404

from planner.letters import services
from planner.letters.access import load_document
from planner.letters.issue import Issue
from planner.letters.models import Document
from planner.letters.pdf import Job, PaperError, Rendered
from planner.letters.services import check_documents, issue_of, render_papers
from planner.plans.models import Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.frozen import thaw
from planner.rules.results import sha256
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.letters.conftest import HANDED_OVER, texts
from tests.support import NOW, TODAY, guards_lifted, render_once

pytestmark = pytest.mark.django_db


def make(checked: Estimate, actor: Staff, *kinds: str, **more: object) -> tuple[Document, ...]:
    given: dict[str, object] = {"issue": issue_of(checked), "make": render_once} | more
    assert checked.frozen is not None
    return render_papers(
        frozen=checked.frozen,
        kinds=kinds,
        actor=actor,
        now=NOW,
        estimate=checked,
        **given,  # type: ignore[arg-type]
    )


def test_all_papers_of_a_checked_estimate(checked: Estimate, owner: Staff) -> None:
    made = make(checked, owner, *HANDED_OVER, issue=issue_of(checked, chosen=_bonding(checked)))
    assert [document.kind for document in made] == HANDED_OVER
    for document in made:
        assert document.sha256 == sha256(bytes(document.content))
        assert document.pages == len(texts(bytes(document.content)))
        assert f"{checked.number}, version 1" in texts(bytes(document.content))[0]
    assert check_documents(made) == ()
    assert TrailEntry.objects.filter(act="document.make").count() == 4


def _bonding(estimate: Estimate) -> str:
    """Key of the first option that carries out a space plan."""
    assert estimate.frozen is not None
    return next(option.key for option in thaw(bytes(estimate.frozen.content)).options if option.space_plan)


def test_an_order_for_an_option_that_adds_nothing_is_refused(checked: Estimate, owner: Staff) -> None:
    with pytest.raises(Refused, match="adds nothing to any tooth by shared space: no wax-up is needed"):
        make(checked, owner, "wax-up-order", issue=issue_of(checked, chosen="none"))
    with pytest.raises(Refused, match="say which one the wax-up order is about"):
        make(checked, owner, "wax-up-order")
    assert not Document.objects.exists()


def test_an_order_says_who_orders_and_never_the_patients_name(checked: Estimate, owner: Staff) -> None:
    given = {"actor": owner, "patient": "Zoë Brightwater", "wanted_on": TODAY}
    order = services.ordered(issue_of(checked), note="  Matt,  please. ", **given)
    assert (order.ordered_by, order.wanted_on, order.order_note) == (owner.full_name, TODAY, "Matt, please.")
    for note in ("For brightwater", "ZOE B. wants it matt"):
        with pytest.raises(Refused, match="names the patient"):
            services.ordered(issue_of(checked), note=note, **given)


def test_a_paper_is_never_made_twice(checked: Estimate, owner: Staff) -> None:
    def refuse(_job: Job) -> Rendered:
        raise AssertionError("made again")

    first = make(checked, owner, "estimate")
    assert make(checked, owner, "estimate", make=refuse) == first
    assert Document.objects.count() == 1


def test_a_new_answer_or_print_size_is_another_paper(checked: Estimate, owner: Staff) -> None:
    make(checked, owner, "estimate")
    make(checked, owner, "estimate", points=18)
    make(checked, owner, "estimate", issue=replace(issue_of(checked), dentist_licence="D-1"))
    make(checked, owner, "estimate", paper="Letter")
    assert Document.objects.count() == 4


def test_papers_lead_to_the_offices_address_of_their_day(checked: Estimate, owner: Staff, settings: Any) -> None:
    """Another address is another paper; what was made before keeps the one it was printed with."""
    (before,) = make(checked, owner, "estimate")
    settings.OFFICE_ADDRESS = "https://plans.tern-row.example"
    (after,) = make(checked, owner, "estimate")
    assert after.pk != before.pk
    assert "plans.tern-row.example/verify/" in texts(bytes(after.content))[-1]
    assert "plans.tern-row.example" not in " ".join(texts(bytes(before.content)))
    settings.OFFICE_ADDRESS = ""
    assert make(checked, owner, "estimate") == (before,)


def test_two_at_once_end_with_one_paper(checked: Estimate, owner: Staff) -> None:
    """While one person's paper is being made, somebody else makes the same one: the first saved counts."""
    other: list[Document] = []

    def meanwhile(job: Job) -> Rendered:
        other.extend(make(checked, owner, "estimate"))
        return render_once(job)

    assert make(checked, owner, "estimate", make=meanwhile) == tuple(other)


def test_a_changed_file_is_found(checked: Estimate, owner: Staff) -> None:
    (document,) = make(checked, owner, "consent-letter")
    spoiled = bytes(document.content).replace(b"%PDF-1.7", b"%PDF-1.6")
    with guards_lifted():
        Document.objects.filter(pk=document.pk).update(content=spoiled)
    with pytest.raises(CommandError, match="the stored file was changed"):
        call_command("verify_letters")


def test_a_paper_of_another_plan_is_found(checked: Estimate, owner: Staff) -> None:
    """Somebody puts another paper, with a matching hash, in its place."""
    letter, estimate = make(checked, owner, "consent-letter", "estimate")
    swapped = bytes(estimate.content)
    with guards_lifted():
        Document.objects.filter(pk=letter.pk).update(content=swapped, sha256=sha256(swapped))
    faults = " ".join(check_documents(Document.objects.filter(pk=letter.pk)))
    assert "pages" in faults
    assert "the data inside is not the frozen plan" in faults


def test_verify_letters_counts(checked: Estimate, owner: Staff, capsys: pytest.CaptureFixture[str]) -> None:
    make(checked, owner, "estimate")
    call_command("verify_letters")
    assert "1 stored papers" in capsys.readouterr().out


def test_what_cannot_be_printed_is_refused_in_words(checked: Estimate, owner: Staff) -> None:
    def fails(_job: Job) -> Rendered:
        raise PaperError("Papers cannot be made on this machine.")

    with pytest.raises(Refused, match="cannot be made on this machine"):
        make(checked, owner, "estimate", make=fails)
    assert Document.objects.count() == 0


def test_who_may_make_which(checked: Estimate, person, outsider: Staff) -> None:  # type: ignore[no-untyped-def]
    make(checked, person(Role.FRONT_DESK), "consent-letter")
    with pytest.raises(NotAllowed):
        make(checked, person(Role.MANAGER), "consent-letter")
    with pytest.raises(NotAllowed):
        make(checked, person(Role.ASSISTANT), "estimate")
    with pytest.raises(NotAllowed):
        make(checked, outsider, "estimate")


def test_a_paper_is_loaded_only_by_those_who_may(checked: Estimate, owner: Staff, person, outsider: Staff) -> None:  # type: ignore[no-untyped-def]
    letter, estimate = make(checked, owner, "consent-letter", "estimate")
    assert load_document(actor=owner, public_id=letter.public_id, now=NOW) == letter
    assistant = person(Role.ASSISTANT)
    assert load_document(actor=assistant, public_id=letter.public_id, now=NOW) == letter
    with pytest.raises(NotAllowed):
        load_document(actor=assistant, public_id=estimate.public_id, now=NOW)
    with pytest.raises(NotAllowed):
        load_document(actor=person(Role.KEEPER), public_id=letter.public_id, now=NOW)
    with pytest.raises(Http404):
        load_document(actor=outsider, public_id=letter.public_id, now=NOW)


def test_an_estimate_of_another_plan_is_refused(checked: Estimate, owner: Staff) -> None:
    other = Estimate(office=checked.office, number=9, issue=1, frozen_id=None)
    assert checked.frozen is not None
    with pytest.raises(Refused, match="another plan"):
        render_papers(
            frozen=checked.frozen,
            kinds=["estimate"],
            issue=Issue(),
            actor=owner,
            now=NOW,
            estimate=other,
            make=render_once,
        )
