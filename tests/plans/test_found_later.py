"""What is found between showing and yes, or between yes and the visit, holds up what rests on the old facts."""

from typing import Any

import pytest

from planner.patients.examinations import store_examination
from planner.patients.models import Examination
from planner.plans import estimates
from planner.plans.cases import change_case
from planner.plans.facts import case_facts
from planner.plans.models import Answer, Case, Channel, Estimate
from planner.practice.models import Staff
from planner.rules.mouth import ToothFacts
from planner.rules.teeth import Tooth
from planner.trail.errors import Refused
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def shown(checked: Estimate, owner: Staff) -> Estimate:
    return estimates.show_estimate(
        estimate=checked, seen=checked.version, to="Anselm Brightwater", channel=Channel.IN_PERSON, actor=owner, now=NOW
    )


def measured_anew(case: Case, owner: Staff, **changes: Any) -> None:
    """A new confirmed set of measurements of the same mouth, with what was found."""
    facts = case_facts(case).examination.model_copy(update=changes)
    store_examination(patient=case.patient, facts=facts, actor=owner, now=NOW)


def held_up(shown: Estimate, owner: Staff) -> None:
    """Nobody can show it again or say yes to it."""
    now_known = Estimate.objects.get(pk=shown.pk)
    assert estimates.facts_changed(now_known, TODAY)
    with pytest.raises(Refused, match="have changed since"):
        estimates.show_estimate(
            estimate=now_known, seen=now_known.version, to="A. B.", channel=Channel.CALL, actor=owner, now=NOW
        )
    with pytest.raises(Refused, match="a dentist checks a new issue first"):
        estimates.answer_estimate(
            estimate=now_known, seen=now_known.version, answer=Answer.ALL, by="Anselm Brightwater",
            option=now_known.options[1], actor=owner, now=NOW,
        )  # fmt: skip


def test_an_extra_tooth_found_on_a_film_after_showing(shown: Estimate, owner: Staff) -> None:
    """It may stand where a root is to move, so nothing is acceptable until it was looked at."""
    extra = ToothFacts(tooth=Tooth.from_universal("57"))
    teeth = case_facts(shown.case).examination.teeth
    assert not estimates.facts_changed(shown, TODAY)
    measured_anew(shown.case, owner, teeth=(*teeth, extra))
    held_up(shown, owner)


def test_a_tooth_chipped_between_plan_and_visit_is_measured_and_planned_anew(shown: Estimate, owner: Staff) -> None:
    before, _book = estimates.compute_plan(shown.case, NOW)
    teeth = tuple(
        one.model_copy(update={"length": one.length - 8, "length_again": None})
        if one.tooth.iso == "21" and one.length is not None
        else one
        for one in case_facts(shown.case).examination.teeth
    )
    measured_anew(shown.case, owner, teeth=teeth)
    held_up(shown, owner)
    # Nothing is taken over silently: a person takes the new set into the case, and the plan is worked out from it.
    newest = Examination.objects.order_by("-pk")[0]
    case = change_case(case=shown.case, seen=shown.case.version, examination=newest, actor=owner, now=NOW)
    after, _book = estimates.compute_plan(case, NOW)
    assert after.to_json() != before.to_json()
