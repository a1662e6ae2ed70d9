"""The acts that two people have before them at once, and what the one who comes second is told."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.urls import reverse

from planner.practice.again import FIELD
from planner.practice.models import Staff
from planner.visits import stepping
from planner.visits.models import Visit
from tests.support import PASSWORD, TODAY
from tests.trust.two_people_begun import SHOWN_TO, hash_of
from tests.trust.two_people_world import World

Typed = dict[str, Any] | Callable[[World], dict[str, Any]]


@dataclass(frozen=True)
class Pressed:
    """One act that two people have before them: its address, where its form is, what is typed."""

    name: str
    url: Callable[[World], str]
    typed: Typed = field(default_factory=dict)
    opened: Callable[[World], str] | None = None
    """Where its form is, if not at its own address."""
    bare: bool = False
    """No page has a form of it any more or yet: what is typed is all that is sent."""
    says: str = ""
    """What the second is told, in part."""
    way: str = ""
    """Which of several acts at this address."""
    who: Callable[[World], tuple[Staff, Staff]] = lambda world: (world.first, world.second)
    """Who presses first and second; twice the same where only one person may, who has it open on two screens."""
    steps: bool = False
    """Nothing stands against the step sheet; consent and facts have tests of their own."""

    def __str__(self) -> str:
        return f"{self.name}-{self.way}" if self.way else self.name

    def sent(self, world: World) -> dict[str, Any]:
        """What is typed."""
        return self.typed(world) if callable(self.typed) else self.typed


def _press(name: str, row: Callable[[World], Any], *rest: str, **more: Any) -> Pressed:
    return Pressed(name, lambda world: reverse(name, args=[row(world).public_id, *rest]), **more)


def _plan(name: str, *rest: str, **more: Any) -> Pressed:
    return _press(f"plans:{name}", lambda world: world.charged, *rest, **more)


def _of_plan(name: str, row: Callable[[World], Any], *rest: str, **more: Any) -> Pressed:
    """An act on ``row`` below an accepted plan."""

    def url(world: World) -> str:
        found = row(world)
        return reverse(f"plans:{name}", args=[found.plan.public_id, found.public_id, *rest])

    return Pressed(f"plans:{name}", url, way=rest[0] if rest else "", **more)


def _join(way: str, row: Callable[[World], Any], says: str, **typed: Any) -> Pressed:
    return _press("patients:joined", row, typed={"way": way} | typed, way=way, says=says)


def _steps(name: str, row: Callable[[World], Visit], **more: Any) -> Pressed:
    at = {"opened": lambda world: reverse("visits:steps", args=[row(world).public_id])}
    return _press(f"visits:{name}", row, steps=True, **at | more)


LATE = "by somebody else"
AGAIN = {FIELD: PASSWORD}
DAY = "2 March 2026"
BY = f"by Fay First on {DAY}"
MOVES = (
    # ------------------------------------------------------------------------------------------------- the office
    _press(
        "practice:proposal", lambda world: world.proposal, typed={"action": "set"},
        says=f"answered already: set {BY}",
    ),
    _press(
        "practice:person_end", lambda world: world.staff, typed={"end-reason": "left"},
        opened=lambda world: reverse("practice:person", args=[world.staff.public_id]), says=LATE,
    ),
    _press(
        "practice:person_codes", lambda world: world.with_codes, typed={"reason": "lost"} | AGAIN,
        opened=lambda world: reverse("practice:person", args=[world.with_codes.public_id]),
        says="were begun anew before: new ones are set up at the next sign-in. Fay First",
    ),
    Pressed(
        "practice:clock_work", lambda world: reverse("practice:clock_work", args=[world.timed]),
        typed={"reason": "as timed"}, says="stand in the book already",
    ),
    _press(
        "records:answer", lambda world: world.copy, typed={"action": "allow"} | AGAIN,
        says=f"answered already: allowed {BY}",
    ),
    # ----------------------------------------------------------------------------------------------- the patients
    _press("patients:people_file", lambda world: world.people, says="There is nothing here"),
    _press(
        "patients:join", lambda world: world.twins[0], says=f"asked for already: asked for {BY}",
        typed=lambda world: {"other": world.twins[1].public_id, "reason": "Same passport."},
    ),
    _join("allow", lambda world: world.joining, f"answered already: allowed {BY}"),
    _join("decline", lambda world: world.joining, f"answered already: declined {BY}", reason="Two people."),
    _join("join", lambda world: world.allowed, f"answered already: joined {BY}"),
    _join("ask_apart", lambda world: world.joined, f"asked for already: asked for {BY}", reason="Two people."),
    _join("apart", lambda world: world.apart, f"answered already: taken apart {BY}"),
    _press(
        "patients:stop", lambda world: world.case.patient, typed={"reason": "moved away"},
        says="Contact is stopped already",
    ),
    _press(
        "patients:examination_confirm", lambda world: world.measured, says="read them again",
        opened=lambda world: reverse("patients:examination", args=[world.measured.public_id]),
    ),
    _press(
        "patients:picture_set_aside", lambda world: world.picture, typed={"reason": "Wrong file."},
        says=f"set aside before: set aside {BY}",
    ),
    _press(
        "patients:picture_erase", lambda world: world.aside, typed={"reason": "Letter of 1 March."},
        says="erased before",
    ),
    _press(
        "patients:payer_answer", lambda world: world.question,
        typed={"words": "They pay half.", "told": "phone", "by": "Ms Hale"},
        says=f"answered already: “They pay half.” {BY}",
    ),
    _press(
        "keeping:person", lambda world: world.forgotten,
        typed={"ground": "the person asks for it", "reason": "Her letter."},
        says=f"asked for this already (asked for {BY})",
    ),
    _press(
        "keeping:asked", lambda world: world.erasing, typed={"action": "erase"} | AGAIN, way="erase",
        says=f"answered already: erased {BY}",
    ),
    _press(
        "keeping:asked", lambda world: world.erasing, typed={"action": "decline", "reason": "A complaint is open."},
        way="decline", says=f"answered already: declined {BY}",
    ),
    _press(
        "story:opening_seen", lambda world: world.opening, typed={"words": "Right so."},
        says=f"looked at it already: looked into {BY}",
    ),
    # --------------------------------------------------------------------------------------- cases and estimates
    _press(
        "plans:check", lambda world: world.case, typed=lambda world: {"plan": hash_of(world.case)}, bare=True,
        says=f"frozen already: estimate 2-1, checked {BY}",
    ),
    _press(
        "plans:show", lambda world: world.shown, typed={"channel": "in person"}, says="Fay First showed the estimate",
    ),
    _press(
        "plans:answer", lambda world: world.shown, typed={"answer": "none, thanks"},
        says=f"answered: “none, thanks”, said by {SHOWN_TO} on {DAY}",
    ),
    _press(
        "plans:reissue", lambda world: world.shown, typed={"reason": "Asked again."},
        says=f"of estimate 1 has begun already: begun {BY}",
    ),
    _press("plans:discard", lambda world: world.draft, typed={"reason": "not wanted"}, says="There is nothing here"),
    _press(
        "plans:accept", lambda world: world.shown, "reshape-bond",
        opened=lambda world: reverse("plans:parts", args=[world.shown.public_id, "reshape-bond"]),
        says=f"answered: “all of an option” (reshape-bond), said by {SHOWN_TO}",
    ),
    _press(
        "plans:payer_paid", lambda world: world.guessed,
        typed={"option": "reshape-bond", "paid": "10.00", "signed": "yes", "reason": "One surface only."},
        says=f"written down already: 10.00 was paid, written down {BY}",
    ),
    _press(
        "plans:allow_discount", lambda world: world.discounted, "discount-1",
        opened=lambda world: reverse("plans:discounts", args=[world.discounted.public_id]), typed=AGAIN,
        says=f"given already: Fay First allowed it on {DAY}",
    ),
    _press(
        "plans:take_back_discount", lambda world: world.discounted, "discount-1", typed={"reason": "Not so."} | AGAIN,
        says="This discount is not there any more. Fay First",
    ),
    # -------------------------------------------------------------------------------------------- accepted plans
    _plan("rest", typed={"reason": "abroad", "look_again_on": "20 March 2026"}, says="resting"),
    _press("plans:resume", lambda world: world.resting, says="It is now: accepted"),
    _plan("stop", typed={"reason": "moves away", "because": "patient"}, says="stopped"),
    _press("plans:finish", lambda world: world.finishing, typed={"review_done": "on"}, says="It is now: finished"),
    _plan("waive", typed={"reason": "known for years"}, says=f"It was waived {BY}"),
    _of_plan("waive_charge", lambda world: world.fee, typed={"reason": "ill"}, says=f"waived already: waived {BY}"),
    _of_plan("void", lambda world: world.receipt, typed={"reason": "a slip"}, says=f"it was taken back {BY}"),
    _of_plan("refund_act", lambda world: world.refund, "allow", says="It is now: allowed"),
    _of_plan("refund_act", lambda world: world.refundable, "pay", says="It is now: paid"),
    _of_plan("refund_act", lambda world: world.refund, "decline", typed={"reason": "no"}, says="It is now: declined"),
    Pressed(
        "plans:agree", lambda world: reverse("plans:agree", args=[world.change.plan.public_id, world.change.number]),
        typed={"capacity": "patient"},
        says=f"agreed to already: {SHOWN_TO} said yes (signed), recorded {BY}",
    ),
    _of_plan("item_act", lambda world: world.face, "wait", typed={"waiting_for": "laboratory"}, says=LATE),
    _of_plan("item_act", lambda world: world.waiting, "free", says="It is now: to do"),
    _of_plan(
        "item_act", lambda world: world.build_up, "done", says="It is now: done",
        who=lambda world: (world.owner, world.owner),  # whoever treats the case
    ),
    _of_plan("item_act", lambda world: world.face, "stage", typed={"stage": "records"}, says="is earned already:"),
    _of_plan("item_act", lambda world: world.month, "month", says="1 of 12 months are earned"),
    _of_plan("item_act", lambda world: world.bill, "bill", typed={"cents": "2410.50"}, says=f"2410.50 written {BY}"),
    # ----------------------------------------------------------------------------------------------------- letters
    _press("letters:hand_over", lambda world: world.shown, says=LATE),
    Pressed(
        "letters:answer_shown",
        lambda world: reverse("letters:answer_shown", args=[world.shown.public_id, world.asked.public_id]),
        typed={"words": "A little."}, says=f"answered {BY}: “A little.”",
    ),
    Pressed(
        "letters:answer",
        lambda world: reverse("letters:answer", args=[world.consent.public_id, world.asked_of_letter.public_id]),
        typed={"words": "A little."}, says=f"answered {BY}: “A little.”",
    ),
    _press(
        "letters:take_over", lambda world: world.shown.case, says=f"Fay First treats this case now (taken over {BY})",
        typed={
            "reason": "She left.", "reviewed": "All of it.", "licence": "D-9001", "told_on": DAY, "told_how": "Rang.",
        },
    ),
    _press(
        "letters:countersign", lambda world: world.signature.consent, typed={"licence": "D-9001"} | AGAIN,
        who=lambda world: (world.first, world.first),
        says=f"countersigned already: countersigned {BY}",
    ),
    _press(
        "letters:withdraw", lambda world: world.consent, typed={"words": "No more.", "how": "by telephone"},
        says=f"{SHOWN_TO} took it back: “No more.”; recorded {BY}",
    ),
    # ------------------------------------------------------------------------------------------------------ visits
    _press(
        "visits:move", lambda world: world.visit, says="It is now: rescheduled. Fay First moved a visit",
        typed={"day": (TODAY + timedelta(days=7)).isoformat(), "reason": "ill", "despite": "asked for"},
    ),
    _press(
        "visits:cancel", lambda world: world.visit, typed={"reason": "ill", "ask_fee": "no", "fee_reason": "ill"},
        says="cancelled a visit",
    ),
    _press("visits:kept", lambda world: world.begun_visit, says="Fay First wrote down that the patient came"),
    _press("visits:no_show", lambda world: world.begun_visit, says="Fay First wrote down that nobody came"),
    _press("visits:label", lambda world: world.arrived, says="It is now: label checked", typed=lambda world: {
        "read_name": world.arrived.label_name, "read_iso": world.arrived.label_iso,
        "read_universal": world.arrived.label_universal,
    }),
    _press("visits:move_case", lambda world: world.work, "not-needed", typed={"note": "changed"}, says="not needed"),
    _press(
        "visits:absence_back", lambda world: world.absence, says="taken back already. Fay First",
        opened=lambda _world: reverse("visits:times"),
    ),
    _press(
        "visits:block_back", lambda world: world.blocked, says="taken back already. Fay First",
        opened=lambda _world: reverse("visits:times"),
    ),
    _steps("steps_begin", lambda world: world.sheet_visit, says="“begun” stands since"),
    _steps("steps_stamp", lambda world: world.sheet.visit, says="“done” stands since", typed=lambda world: {
        "run": stepping.progress_of(world.sheet).lines[0].run.key, "kind": "done",
    }),
    _press("visits:steps_close", lambda world: world.stamped.visit, steps=True, says=f"This visit was closed {BY}"),
    _press(
        "visits:steps_settle", lambda world: world.note, steps=True, typed={"no_change": "1", "words": "seen before"},
        says=f"settled already: “seen before” {BY}",
    ),
    # ----------------------------------------------------------------------------------------------------- results
    Pressed(
        "followup:review_again",
        lambda world: reverse("followup:review_again", args=[world.review.plan.public_id, world.review.public_id]),
        says=f"corrected already (corrected {BY})",
    ),
)  # fmt: skip

PRESSED = {
    "letters:sign": "tests/letters/test_consent_pages.py::TestSigning::"
    "test_the_password_is_asked_before_anything_is_stored",
    "letters:reading": "tests/letters/test_reading_page.py::test_a_dentist_signs_a_reason_here_once",
    "handed_sign": "tests/letters/test_showing_pages.py::TestSigningInHands::"
    "test_it_is_stored_with_name_and_password_of_staff_who_act_and_take_it_back",
    "visits:begin": "tests/visits/test_consent_ties.py::test_booked_without_consent_and_begun_only_with_one",
    "visits:took_adopt": "tests/visits/test_amounts.py::test_pages_ask_show_and_adopt",
}
"""What another test shows of a second press, because it takes more than one form: a signed letter, a day of work."""
