"""An accepted plan of one item without working anything out: what the Monday page reads of one."""

from datetime import date, timedelta

from planner.patients.models import Patient
from planner.plans.accepted_models import AcceptedPlan, Item, ItemPrice
from planner.plans.accepted_rows import write_move
from planner.plans.models import Answer, State
from planner.practice.models import Staff
from planner.rules.plan_states import PlanState
from tests.followup.sample import shown_estimate
from tests.support import NOW, TODAY


def accepted(
    owner: Staff,
    patient: Patient,
    *,
    cents: int = 44500,
    deposit: int = 0,
    accepted_on: date = TODAY - timedelta(days=5),
    by: Staff | None = None,
    state: PlanState = PlanState.ACCEPTED,
    items: int = 1,
    done_on: date | None = None,
) -> AcceptedPlan:
    """A yes to build-ups of ``cents`` each, shown by ``by`` a day before."""
    shown_on = accepted_on - timedelta(days=1)
    estimate = shown_estimate(owner, patient, on=shown_on, by=by)
    estimate.state, estimate.answer = State.ANSWERED, Answer.ALL
    estimate.answered_on, estimate.answered_by, estimate.answered_option = accepted_on, patient.name, "bonding"
    estimate.save()
    assert estimate.frozen is not None
    assert estimate.book is not None
    plan = AcceptedPlan.objects.create(
        office=owner.office,
        patient=patient,
        case=estimate.case,
        estimate=estimate,
        frozen=estimate.frozen,
        book=estimate.book,
        price_list_version=7,
        option_key="bonding",
        name="Bonding",
        accepted_on=accepted_on,
        accepted_by=patient.name,
        accepted_as="patient",
        price_held_through=accepted_on + timedelta(days=183),
        total_cents=items * cents,
        deposit_cents=deposit,
        state=state,
        created_by=owner,
        at=NOW - (TODAY - accepted_on),
    )
    write_move(plan, "", PlanState.ACCEPTED, accepted_on, "", owner, NOW - (TODAY - accepted_on))
    for position in range(items):
        item = Item.objects.create(
            office=owner.office,
            plan=plan,
            position=position,
            line=position,
            service="build-up",
            code="BND",
            words="Build-up",
            treatment="bonding",
            teeth=["upper-left-central-incisor"],
            tax_class="reconstructive",
            tax_percent=0,
            earns="finished",
            state="to do" if done_on is None else "done",
            done_on=done_on,
        )
        ItemPrice.objects.create(
            office=owner.office,
            item=item,
            gross_cents=cents,
            taken_off_cents=0,
            net_cents=cents,
            tax_cents=0,
            total_cents=cents,
        )
    return plan
