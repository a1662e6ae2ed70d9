"""Slips of laboratory work, as typed, held against the printed papers of the plan."""

import pytest

from planner.letters.agree import compared, every_length
from planner.letters.paper_facts import facts_of_paper
from planner.letters.read_back import printed
from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.rules.papers_agree import About, Contradiction, Paper, contradictions
from planner.rules.teeth import Tooth
from planner.rules.visit_states import LaboratoryState
from planner.visits.laboratory import move_work, order_work
from planner.visits.models import LaboratoryCase
from planner.visits.slips import slip_facts
from tests.letters.conftest import rendered
from tests.support import NOW
from tests.visits.sample import accepted_plan

OPTION = "Adding to three teeth and reshaping one"


def slip(words: str, *, name: str = "Anselm Brightwater", iso: str = "22", universal: str = "10") -> LaboratoryCase:
    return LaboratoryCase(
        pk=7, words=words, laboratory="Mill Lane", label_name=name, label_iso=iso, label_universal=universal
    )


def told(case: LaboratoryCase) -> tuple[Contradiction, ...]:
    """What a slip says otherwise than the letter of the sample does."""
    letter = Paper("Letter", "consent-letter", facts=facts_of_paper(printed(rendered("consent-letter").content), "en"))
    letter = Paper("Letter", "consent-letter", facts=(*letter.facts, *every_length([letter])))
    typed = Paper("Slip", "laboratory-slip", facts=tuple(slip_facts(case, option=OPTION)), for_patient=False)
    return contradictions([letter, typed])


AGREES = (
    slip("Wax-up"),
    slip("Wax-up of 22, to 9.3 mm, 1.0 mm longer than now."),
    slip("Universal 10: 7.1 mm wide; shade A2 by 12 March, back in 14 days at 10 am, 2026-03-16"),
    slip("Upper left lateral incisor, index over 13, 11, 21, 22", iso="13, 11, 21, 22", universal="6, 8, 9, 10"),
    slip("Clear retainer", iso="", universal=""),
)
DIFFERS = {
    "name": (About.NAME, slip("Wax-up", name="Anselma Brightwater")),
    "tooth of no option": (About.TOOTH, slip("Wax-up", iso="12", universal="7")),
    # Universal 22 is the lower left canine: what a workshop makes of the wrong system.
    "number of the other system": (About.TOOTH, slip("Wax-up", universal="22")),
    "typed number": (About.TOOTH, slip("Wax-up of 23")),
    "typed number with its system": (About.TOOTH, slip("Wax-up of Universal 22")),
    "typed name": (About.TOOTH, slip("Wax-up of the upper right lateral incisor")),
    "typed length": (About.LENGTH, slip("Wax-up of 22, 1.5 mm longer than now")),
    "typed length with a comma": (About.LENGTH, slip("Wax-up 7,7 mm wide")),
}


@pytest.mark.parametrize("case", AGREES, ids=[case.words for case in AGREES])
def test_a_slip_that_says_what_the_letter_says(case: LaboratoryCase) -> None:
    assert told(case) == ()


@pytest.mark.parametrize("planted", DIFFERS)
def test_a_planted_difference_is_found_and_the_slip_is_named(planted: str) -> None:
    about, case = DIFFERS[planted]
    found = told(case)
    assert {one.about for one in found} == {about}
    assert "Slip: " in found[0].sentence


@pytest.mark.django_db
def test_slips_of_a_plan_are_compared_until_they_are_not_needed(owner: Staff) -> None:
    plan: AcceptedPlan = accepted_plan(owner, planned=True)
    assert plan.estimate is not None
    who = {"actor": owner, "now": NOW}
    case = order_work(plan=plan, words="Wax-up of 11", laboratory="Mill Lane", teeth=[Tooth.from_iso("22")], **who)
    papers = compared(plan.estimate)
    assert [one.title for one in papers] == ["Laboratory slip to Mill Lane"]
    (found,) = contradictions(papers)
    assert "“11”" in found.sentence
    move_work(case=case, seen=case.version, to=LaboratoryState.DROPPED, note="Ordered for the wrong tooth.", **who)
    assert compared(plan.estimate) == ()
