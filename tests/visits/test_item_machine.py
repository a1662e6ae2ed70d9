"""Several people act on an accepted plan and its items, in any order: services and a small model never differ.

The model is written from the table of docs/lifecycles.md and that of docs/who-may-what.md, not from the services.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from planner.plans import accepted, items
from planner.plans.accepted_models import AcceptedPlan, BalanceSheet, Cause, Item, PlanMove, Waiting
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.trail.errors import Refused
from planner.visits.progress import follow_items
from tests.machines import WALKS, did, undone
from tests.plans.sample import plan_of
from tests.rules.books import charge
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db
ALL = {"dentist", "assistant", "lead", "desk", "manager"}
LEADS = {"dentist", "lead", "manager"}
DENTIST = {"dentist"}
ITEM_ACTS = ("wait", "free", "book", "book too early", "finish", "finish tomorrow")
PLAN_ACTS = ("begin", "begin unsigned", "rest", "rest too long", "resume", "stop", "stop without a word", "end")
MAY = (
    dict.fromkeys(("wait", "free", "book", "book too early", "begin", "begin unsigned"), ALL)
    | dict.fromkeys(("finish", "finish tomorrow", "end"), DENTIST)
    | dict.fromkeys(("rest", "rest too long", "resume", "stop", "stop without a word"), LEADS)
)
WHO = (*sorted(ALL), "outsider")
WORK_GOES_ON = ("accepted", "booked", "under way")
CHARGES = (charge("build-up", 1, "11"), charge("build-up", 1, "21"), charge("wax-up", 1, "11"))
MADE_BEFOREHAND = 2
"""The wax-up: of the items, the one that is not done in the mouth."""


@dataclass
class Model:
    """The plan and its items, as the tables of moves have them."""

    plan: str = "accepted"
    rested_from: str = ""
    items: list[str] = field(default_factory=lambda: ["to do"] * len(CHARGES))
    earliest: set[int] = field(default_factory=set)
    """Items that were said to have to wait until next week."""
    began: bool = False

    def allows(self, act: str, which: int, who: str, stale: bool) -> bool:
        """Whether ``act`` of ``who`` is done; where it is, the model moves on."""
        if who not in MAY[act] or stale:
            return False
        done = self._item(act, which) if act in ITEM_ACTS else self._plan(act)
        if done and act in ("wait", "free", "book", "book too early"):
            # The plan follows its visits, both ways.
            if self.plan == "accepted" and "booked" in self.items:
                self.plan = "booked"
            elif self.plan == "booked" and "booked" not in self.items:
                self.plan = "accepted"
        return done

    def _item(self, act: str, which: int) -> bool:
        state = self.items[which]
        if state in ("done", "dropped"):
            return False
        if act == "wait":
            self.items[which] = "waiting for"
            self.earliest.add(which)
        elif act == "free":
            if state == "to do":
                return False
            self.items[which] = "to do"
        elif act == "book":
            if self.plan not in WORK_GOES_ON:
                return False
            self.items[which] = "booked"
        elif act == "book too early":
            if self.plan not in WORK_GOES_ON or which in self.earliest:
                return False
            self.items[which] = "booked"
        else:
            in_time = self.plan == "under way" or (which == MADE_BEFOREHAND and self.plan in WORK_GOES_ON)
            if act == "finish tomorrow" or state == "waiting for" or not in_time:
                return False
            self.items[which] = "done"
        return True

    def _plan(self, act: str) -> bool:
        if act == "begin":
            if self.plan != "booked":
                return False
            self.plan, self.began = "under way", True
        elif act == "rest":
            if self.plan not in WORK_GOES_ON:
                return False
            self.rested_from, self.plan = self.plan, "resting"
        elif act == "resume":
            if self.plan != "resting":
                return False
            self.plan = self.rested_from
        elif act == "stop":
            if self.plan not in (*WORK_GOES_ON, "resting"):
                return False
            self.plan = "stopped early"
            self.items = [state if state == "done" else "dropped" for state in self.items]
        elif act == "end":
            if self.plan != "under way" or not set(self.items) <= {"done", "dropped"}:
                return False
            self.plan = "finished"
        else:
            return False
        return True


class Office:
    """The services, called as people of the office would."""

    def __init__(self, plan: AcceptedPlan, people: dict[str, Staff]) -> None:
        self.plan, self.people = plan, people

    def does(self, act: str, which: int, who: str, stale: bool) -> bool:
        """Whether the services did it."""
        by = {"actor": self.people[who], "now": NOW}
        plan = AcceptedPlan.objects.select_related("office", "case", "book", "frozen").get(pk=self.plan.pk)
        if act in ITEM_ACTS:
            return did(lambda: self._item(act, plan.items.get(position=which), stale, by))
        return did(lambda: self._plan(act, {"plan": plan, "seen": plan.version - stale} | by))

    def _item(self, act: str, item: Item, stale: bool, by: dict[str, Any]) -> None:
        given: dict[str, Any] = {"item": item, "seen": item.version - stale} | by
        if act == "wait":
            week = TODAY + timedelta(days=7)
            items.wait_item(waiting_for=Waiting.LABORATORY, earliest=week, **given)
        elif act == "free":
            items.free_item(**given)
        elif act in ("book", "book too early"):
            items.book_item(visit_on=TODAY + timedelta(days=8 if act == "book" else 3), **given)
        else:
            items.finish_item(done_on=TODAY + timedelta(days=act == "finish tomorrow"), **given)
            return
        follow_items(plan=self.plan, **by)

    def _plan(self, act: str, given: dict[str, Any]) -> None:
        if act.startswith("begin"):
            consent = "" if act == "begin" else "Nothing is signed."
            accepted.begin_plan(consent=consent, history_asked_on=TODAY, **given)
        elif act.startswith("rest") and act != "resume":
            days = 30 if act == "rest" else 91
            accepted.rest_plan(reason="travels", look_again_on=TODAY + timedelta(days=days), **given)
        elif act == "resume":
            accepted.resume_plan(**given)
        elif act.startswith("stop"):
            why = "moves away" if act == "stop" else " "
            accepted.stop_plan(because=Cause.PATIENT, reason=why, make_safe="polished", **given)
        elif act == "end":
            accepted.finish_plan(review_done=True, **given)
        else:
            raise Refused(act)


@pytest.fixture
def plan(owner: Staff, lead_case: CaseFacts) -> AcceptedPlan:
    """An accepted plan of three items with their prices, and no deposit."""
    return plan_of(owner, lead_case, *CHARGES)


def test_no_order_of_acts_makes_services_and_model_differ(
    plan: AcceptedPlan, owner: Staff, outsider: Staff, person: Callable[..., Staff]
) -> None:
    roles = {
        "lead": Role.DESK_LEAD, "desk": Role.FRONT_DESK, "assistant": Role.ASSISTANT, "manager": Role.MANAGER,
    }  # fmt: skip
    people = {"dentist": owner, "outsider": outsider} | {name: person(role) for name, role in roles.items()}
    begun = [("book", 0, "desk"), ("begin", 0, "assistant")]
    whole = [*begun, *(("finish", which, "dentist") for which in range(len(CHARGES))), ("end", 0, "dentist")]
    acts = st.tuples(
        st.sampled_from(ITEM_ACTS + PLAN_ACTS), st.integers(0, len(CHARGES) - 1), st.sampled_from(WHO),
        st.sampled_from([False] * 6 + [True]),
    )  # fmt: skip

    @WALKS
    @given(st.lists(acts, min_size=1, max_size=16))
    @example([(*act, False) for act in [*whole, ("stop", 0, "manager")]])
    @example([(*act, False) for act in [*begun, ("rest", 0, "lead"), ("book", 1, "desk"), ("resume", 0, "lead")]])
    @example([(*act, False) for act in [*begun, ("finish", 1, "dentist"), ("stop", 0, "lead"), ("free", 0, "desk")]])
    @example([(*act, False) for act in [("wait", 1, "desk"), ("book too early", 1, "desk"), ("finish", 2, "dentist")]])
    @example([(*act, False) for act in [begun[0], ("rest", 0, "lead"), ("free", 0, "desk"), ("resume", 0, "lead")]])
    def run(walk: list[tuple[str, int, str, bool]]) -> None:
        with undone():
            model, office = Model(), Office(plan, people)
            for act, which, who, stale in walk:
                done = office.does(act, which, who, stale)
                assert done == model.allows(act, which, who, stale), (act, which, who, stale, walk)
                _compare(plan, model, walk)

    run()


def _compare(plan: AcceptedPlan, model: Model, walk: object) -> None:
    saved = AcceptedPlan.objects.get(pk=plan.pk)
    assert saved.state == model.plan, walk
    assert list(saved.items.order_by("position").values_list("state", flat=True)) == model.items, walk
    assert BalanceSheet.objects.filter(plan=saved).exists() == (model.plan == "stopped early"), walk
    moves = list(PlanMove.objects.filter(plan=saved).order_by("pk").values_list("before", "after"))
    assert [after for _before, after in moves[:-1]] == [before for before, _after in moves[1:]], walk
    assert (("booked", "under way") in moves) == model.began, walk
