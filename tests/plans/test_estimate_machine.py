"""Several people act on the estimates of one case, in any order: services and a small model never differ.

The model is written from the table of docs/lifecycles.md and that of docs/who-may-what.md, not from the services.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Answer, Case, Channel, Estimate
from planner.practice.models import BookVersion, Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.trail.errors import Refused
from tests.machines import WALKS, did, undone
from tests.pages import priced_office
from tests.support import NOW

pytestmark = pytest.mark.django_db
LATE = NOW + timedelta(days=400)
"""Past the last day on which any estimate of these holds."""
MAKES = {"dentist", "colleague", "lead", "desk", "manager"}
EDITS = {"dentist", "colleague", "lead", "manager"}
MAY = {
    "draft": MAKES,
    "reissue": MAKES,
    "options": EDITS,
    "discard": EDITS,
    "check": {"dentist", "colleague"},
    "show": {"dentist", "colleague", "lead"},
    "show late": {"dentist", "colleague", "lead"},
    "say yes": EDITS,
    "say yes late": EDITS,
    "say no": EDITS,
    "say no late": EDITS,
}
LOOK_BACK = "look at the issue before"
WHO = ("dentist", "colleague", "lead", "desk", "assistant", "manager", "outsider")
Key = tuple[int, int]


@dataclass
class Model:
    """The state of every estimate, by number and issue, and which of them is looked at."""

    states: dict[Key, str] = field(default_factory=dict)
    now_at: Key | None = None
    treats: str = ""
    """The dentist who checked first; from then on the other one checks nothing without taking the case over."""

    def allows(self, act: str, who: str, stale: bool) -> bool:
        """Whether ``act`` of ``who`` is done; where it is, the model moves on."""
        if who not in MAY[act]:
            return False
        if act == "draft":
            self.now_at = (max([0, *(number for number, _issue in self.states)]) + 1, 1)
            self.states[self.now_at] = "draft"
            return True
        if self.now_at is None or (stale and act not in ("reissue", "discard")):
            return False
        if act == "check" and self.treats not in ("", who):
            return False
        done = self._moves(act, self.now_at, self.states[self.now_at])
        if done and act == "check":
            self.treats = who
        return done

    def _moves(self, act: str, key: Key, state: str) -> bool:
        number, issue = key
        if act in ("options", "discard", "check") and state != "draft":
            return False
        if act == "discard":
            del self.states[key]
            self.now_at = (number, issue - 1) if issue > 1 else None
        elif act == "check":
            self.states[key] = "checked"
            for older in range(1, issue):
                if self.states.get((number, older)) in ("checked", "shown"):
                    self.states[number, older] = "replaced"
        elif act == "reissue":
            if state not in ("checked", "shown") or (number, issue + 1) in self.states:
                return False
            self.now_at = (number, issue + 1)
            self.states[self.now_at] = "draft"
        elif act in ("show", "show late"):
            if state not in ("checked", "shown") or act == "show late":
                return False
            self.states[key] = "shown"
        elif act != "options":
            # A no is heard whatever the date.
            if state != "shown" or act == "say yes late":
                return False
            self.states[key] = "answered"
        return True

    def look_back(self) -> None:
        """Look at the issue before, where there is one."""
        if self.now_at and (before := (self.now_at[0], self.now_at[1] - 1)) in self.states:
            self.now_at = before


class Office:
    """The services, called as people of the office would."""

    def __init__(self, case: Case, people: dict[str, Staff], plan: bytes, book: BookVersion) -> None:
        self.case, self.people, self.plan, self.book = case, people, plan, book

    def does(self, act: str, who: str, stale: bool, key: Key | None) -> bool:
        """Whether the services did it."""
        return did(lambda: self._does(act, stale, key, {"actor": self.people[who], "now": self._when(act)}))

    def _when(self, act: str) -> datetime:
        return LATE if act.endswith(" late") else NOW

    def _does(self, act: str, stale: bool, key: Key | None, by: dict[str, Any]) -> None:
        if act == "draft":
            estimates.draft_estimate(case=self.case, **by)
            return
        if key is None:
            raise Refused("there is none")
        estimate = Estimate.objects.select_related("case", "office").get(
            office=self.case.office, number=key[0], issue=key[1]
        )
        if act == "reissue":
            estimates.reissue_estimate(estimate=estimate, reason="asked again", **by)
        elif act == "discard":
            estimates.discard_draft(estimate=estimate, reason="by mistake", **by)
        else:
            self._edits(act, {"estimate": estimate, "seen": estimate.version - stale} | by)

    def _edits(self, act: str, given: dict[str, Any]) -> None:
        options: list[str] = given["estimate"].options
        if act == "options":
            estimates.choose_options(options=(), **given)
        elif act == "check":
            estimates.check_estimate(plan_json=self.plan, book=self.book, **given)
        elif act.startswith("show"):
            estimates.show_estimate(to="A. B.", channel=Channel.IN_PERSON, **given)
        elif act.startswith("say yes"):
            estimates.answer_estimate(answer=Answer.ALL, by="A. B.", option=(options or [""])[0], **given)
        else:
            estimates.answer_estimate(answer=Answer.NONE, by="A. B.", **given)


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


def test_no_order_of_acts_makes_services_and_model_differ(
    owner: Staff, outsider: Staff, person: Callable[..., Staff], lead_case: CaseFacts
) -> None:
    roles = {
        "colleague": Role.DENTIST, "lead": Role.DESK_LEAD, "desk": Role.FRONT_DESK, "assistant": Role.ASSISTANT,
        "manager": Role.MANAGER,
    }  # fmt: skip
    people = {"dentist": owner, "outsider": outsider} | {name: person(role) for name, role in roles.items()}
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    plan, book = estimates.compute_plan(case, NOW)
    content = plan.to_json()
    yes = [("draft", "desk"), ("check", "dentist"), ("show", "lead"), ("say yes", "manager")]
    again = [("reissue", "desk"), (LOOK_BACK, "desk"), ("show", "lead"), ("reissue", "lead"), ("say no late", "lead")]
    acts = st.tuples(st.sampled_from([*MAY, LOOK_BACK]), st.sampled_from(WHO), st.sampled_from([False] * 5 + [True]))

    @WALKS
    @given(st.lists(acts, min_size=1, max_size=14))
    @example([(act, who, False) for act, who in yes])
    @example([(act, who, False) for act, who in [*yes[:2], *again]])
    @example([(act, who, False) for act, who in [*yes[:3], ("reissue", "desk"), ("check", "dentist"), *again]])
    @example([(act, who, True) for act, who in yes])
    @example([(act, who, False) for act, who in [*yes[:1], ("check", "colleague"), *yes[:2]]])
    def run(walk: list[tuple[str, str, bool]]) -> None:
        with undone():
            model, office = Model(), Office(case, people, content, book)
            for act, who, stale in walk:
                if act == LOOK_BACK:
                    model.look_back()
                    continue
                at = model.now_at
                assert office.does(act, who, stale, at) == model.allows(act, who, stale), (act, who, stale, walk)
                found = Estimate.objects.values_list("number", "issue", "state")
                assert {(number, issue): state for number, issue, state in found} == model.states, walk

    run()
