"""Options that a dentist puts together: kept with reason and name, refused where they contradict themselves."""

from collections.abc import Sequence
from datetime import datetime

from planner.patients.stored import to_json
from planner.plans.cases import decide
from planner.plans.facts import case_choices, case_facts
from planner.plans.models import Case
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import today
from planner.practice.catalogue import in_force
from planner.practice.models import Staff
from planner.rules.choices import Choices, OwnOption, OwnWork
from planner.rules.own_courses import own_faults
from planner.trail.errors import Refused

MOST = 20
"""Own options of one case; more than a handful nobody can compare."""


def keep_own_option(
    *,
    case: Case,
    seen: int,
    work: Sequence[OwnWork],
    key: str = "",
    changed_from: str = "",
    reason: str,
    actor: Staff,
    now: datetime,
) -> Case:
    """Keep an option put together by ``actor``; with ``key`` the one of that name is changed, and keeps its name.

    Raises Refused without a reason or with every sentence why it contradicts itself, StaleEdit, NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.APPROVE, Thing.OPTIONS, subject=case)
    if not reason.strip():
        raise Refused("An option put together by hand needs a reason.", field="reason")
    if not work:
        raise Refused("Nothing is chosen yet: say what is done, and to which tooth.")
    known = case_choices(case).own_options
    before = next((one for one in known if one.key == key), None)
    if key and before is None:
        raise Refused(f'This case has no option of its own called "{key}".')
    if before is None and len(known) >= MOST:
        raise Refused(f"This case has {MOST} options of its own already: change one of them.")
    own = OwnOption(
        key=key or f"own-{max((one.number for one in known), default=0) + 1}",
        work=tuple(work),
        changed_from=before.changed_from if before else changed_from,
        reason=reason.strip(),
        by=actor.full_name,
        on=today(case.office, now),
    )
    catalogue = in_force().catalogue
    if faults := own_faults(own, case_facts(case), catalogue.treatments, catalogue.combinations):
        raise Refused(" ".join(faults), faults=[("", fault) for fault in faults])

    def change(choices: Choices) -> Choices:
        kept = [own if one.key == own.key else one for one in choices.own_options]
        return choices.model_copy(update={"own_options": tuple(kept if before else [*kept, own])})

    content = {"before": to_json(before) if before else None, "after": to_json(own)}
    return decide(case, seen, change, "case.own_option", own.reason, content, actor, now)
