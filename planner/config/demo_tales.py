"""What became of the invented people after they were shown their estimates: yeses, letters, payments, visits, calls.

Everything goes through the services that the pages use, with the instants of the story. A visit of the past that would
fall on a day on which the office is closed was the open day before; one to come is the next open day, and the loader
says so.
"""

from collections.abc import Callable
from datetime import date, datetime, time

from django.db import transaction

from planner.config.demo_steps import work_by_sheet
from planner.config.demo_teller import Teller, fresh, open_items
from planner.followup.calling import agree_call, call_done, calling_of
from planner.followup.models import AgreedCall, MadeCall, Outcome
from planner.letters.consents import ask_question
from planner.letters.withdrawing import withdraw_consent
from planner.plans.accepted import confirm_prices, finish_plan, rest_plan, stop_plan
from planner.plans.accepted_models import AcceptedPlan, Cause, Item, Route, Waiting
from planner.plans.account import ask_refund
from planner.plans.amending import amend
from planner.plans.earning import earn_month
from planner.plans.items import free_item, wait_item
from planner.plans.models import Estimate
from planner.rules.fees import Charge
from planner.rules.promise import Moment
from planner.rules.signing import Basis
from planner.rules.teeth import Tooth
from planner.visits.services import Booking, book_visit

# ----------------------------------------------------------------------------------------------------- the people


def lead(tell: Teller, estimate: Estimate) -> None:
    """Shown, handed the letter, and named the day on which he may be called; it went by."""
    agree_call(
        estimate=estimate,
        on=tell.day(-1),
        words="You may ring me then, after work.",
        actor=tell.owner,
        now=tell.at(-6, 16, 30),
    )


def zhenya(tell: Teller, estimate: Estimate) -> None:
    """Whitening done, the bonding waits fourteen days after the last night; nobody has given it a date."""
    plan = tell.accept(estimate, -20, "whiten-then-bond")
    consent = tell.hand(estimate, "whiten-then-bond", -20)
    tell.pay(plan, -20, 590, Route.CARD)
    tell.sign(consent, -19, "The trays come first, then two weeks of waiting, then three teeth get wider.")
    trays = tell.book(plan, -19, -15)
    for item in open_items(plan):
        if item.service != "whitening-both":
            _wait(tell, item, Waiting.WHITENING, tell.day(13), tell.at(-19, 13))
    tell.begin(plan, trays)
    work_by_sheet(tell, trays, disturbed="The first impression tore and was taken again.")
    tell.done(plan, ("whitening-both",), tell.at(-1, 20))


def cormac(tell: Teller, estimate: Estimate) -> None:
    """His mother signed; he comes of age before the visit."""
    mother = "Deirdre Adeyemi-Rusk, his mother"
    consent = tell.hand(estimate, "wing-bridge", -38)
    plan = tell.accept(estimate, -35, "wing-bridge", by=mother)
    tell.sign(
        consent,
        -35,
        "Two false teeth on one wing each, until he has stopped growing.",
        signer=mother,
        typed=mother,
        basis=Basis.PARENT,
        other_parent="The father agrees; he was rung during the talk.",
        assent=True,
        assent_words="Yes, I want that.",
    )
    tell.pay(plan, -35, 1890, payer="Deirdre Adeyemi-Rusk")
    tell.book(plan, -30, 30)


def linnea(tell: Teller, estimate: Estimate) -> None:
    """Said yes; neither a date nor the deposit."""
    tell.accept(estimate, -9, "bonding")


def lisbet(tell: Teller, estimate: Estimate) -> None:
    """Done, measured, and reviewed after two weeks: nearly as long as planned, and 8 of 10 to her."""
    plan = tell.accept(estimate, -50, "bonding")
    consent = tell.hand(estimate, "bonding", -50)
    tell.sign(consent, -48, "The corner is built up again, nothing is ground away.")
    tell.pay(plan, -48, 90, Route.CARD)
    visit = tell.book(plan, -47, -40)
    ended = tell.begin(plan, visit)
    work_by_sheet(tell, visit, usual=150)
    tell.done(plan, ("build-up",), ended)
    tell.review(plan, Moment.DONE, ended)
    tell.pay(plan, -39, 355, Route.CARD)
    tell.review(plan, Moment.TWO_WEEKS, tell.at(-26, 9), scores={1: 8})
    finish_plan(plan=plan, seen=fresh(plan).version, review_done=True, actor=tell.owner, now=tell.at(-26, 10))


def marguerite(tell: Teller, estimate: Estimate) -> None:
    """Called three times, not decided, and the estimate runs out."""
    while (known := calling_of(estimate, tell.zero)).next is not None and len(known.made) < 3:
        days = (known.next.due - tell.zero).days
        call_done(
            estimate=estimate,
            seen=known.next.number,
            outcome=Outcome.SPOKE,
            spoke_with=estimate.case.patient.name,
            words="Still thinking it over.",
            actor=tell.desk,
            now=tell.at(days, 11),
        )


def rafael(tell: Teller, estimate: Estimate) -> None:
    """The guard comes first as a trial; the faces rest, and nobody looked again when it was time."""
    plan = tell.accept(estimate, -64, "direct-face", also=("beside.night-guard",))
    consent = tell.hand(estimate, "direct-face", -63)
    tell.pay(plan, -63, 1300)
    tell.sign(consent, -57, "Primero la férula. Después seis carillas, si la férula no muestra marcas nuevas.")
    visit = tell.book(plan, -57, -50)
    ended = tell.begin(plan, visit)
    tell.done(plan, ("night-guard",), ended)
    days = (ended.astimezone(tell.owner.office.zone).date() - tell.zero).days
    _free_all(tell, plan, ended)
    rest_plan(
        plan=plan,
        seen=fresh(plan).version,
        reason="The guard is worn for six weeks first.",
        look_again_on=tell.day(-4),
        actor=tell.owner,
        now=tell.at(days, 18),
    )


def nikhil(tell: Teller, estimate: Estimate) -> None:
    """A visit in three days; the letter is not signed, two questions are open, the deposit is not paid."""
    plan = tell.accept(estimate, -12, "wing-bridge")
    consent = tell.hand(estimate, "wing-bridge", -12)
    for words, clinical in (
        ("Will the wing show when I laugh?", True),
        ("May I pay the deposit in two parts?", False),
    ):
        ask_question(
            consent=consent,
            words=words,
            asked_by=plan.patient.name,
            clinical=clinical,
            due_on=tell.day(-1),
            actor=tell.desk,
            now=tell.at(-11, 10),
        )
    tell.book(plan, -10, 3)


def hamish(tell: Teller, estimate: Estimate) -> None:
    """Aligners under way for six months, paid in parts; the retainers wait until their end."""
    plan = tell.accept(estimate, -200, "braces")
    consent = tell.hand(estimate, "braces", -200)
    tell.pay(plan, -199, 1560)
    tell.sign(consent, -197, "The gap is closed with aligners; afterwards a wire holds it for good.")
    visit = tell.book(plan, -196, -189)
    tell.begin(plan, visit)
    work_by_sheet(tell, visit)
    for item in open_items(plan):
        if item.service != "aligners-both":
            _wait(tell, item, Waiting.PATIENT, tell.day(350), tell.at(-188, 10))
    (course,) = [item for item in open_items(plan) if item.service == "aligners-both"]
    for month in range(1, 7):
        days = -189 + 30 * month
        earn_month(item=course, month=month, on=tell.day(days), actor=tell.owner, now=tell.at(days, 10))
    for month in (2, 4, 6):
        tell.pay(plan, -189 + 30 * month + 1, 190)
    confirm_prices(plan=plan, reason="Agreed when the course began.", actor=tell.owner, now=tell.at(-20, 10))
    _check(tell, plan, 10)


def wanjiru(tell: Teller, estimate: Estimate) -> None:
    """Paid in full; two teeth done, one of them with less than planned; then she wants no more, and money goes back."""
    plan = tell.accept(estimate, -25, "bonding")
    tell.pay(plan, -25, 1810)
    consent = tell.hand(estimate, "bonding", -20)
    tell.sign(consent, -12, "Four teeth get a little wider; nothing comes off.")
    visit = tell.book(plan, -11, -7)
    ended = tell.begin(plan, visit)
    left_central = Tooth.from_iso("21")
    (build_up,) = [item for item in open_items(plan) if item.service == "build-up"]
    amend(
        plan=plan,
        cause=Cause.FINDING,
        reason="The far side of 21 is left as it is: alone it would leave a gap of 0.3 mm that traps food.",
        dropped=(build_up,),
        added=(
            Charge(
                service="small-addition",
                quantity=1,
                teeth=(left_central,),
                tax_class="reconstructive",
                tax_reason="as on the estimate",
            ),
        ),
        actor=tell.owner,
        now=ended,
    )
    tell.done(plan, ("wax-up", "index"), ended)
    tell.done(plan, ("small-addition",), ended, teeth=("11", "21"))
    now = tell.at(-5, 15)
    consent.refresh_from_db()
    words = "I do not want any more of it. It is good as it is now."
    withdraw_consent(
        consent=consent,
        words=words,
        said_by=plan.patient.name,
        how="by telephone",
        explained="What is open can stay as it is; the two teeth done are polished and safe.",
        actor=tell.desk,
        now=now,
    )
    stop_plan(
        plan=plan,
        seen=fresh(plan).version,
        because=Cause.PATIENT,
        reason=words,
        make_safe="Both teeth that were done are closed, polished and can be flossed.",
        actor=tell.owner,
        now=now,
    )
    receipt = plan.payments.get()
    ask_refund(
        plan=fresh(plan),
        receipt=receipt,
        cents=99000,
        reason="Paid and not earned when she stopped.",
        actor=tell.desk,
        now=now,
    )


TALES: dict[str, Callable[[Teller, Estimate], None]] = {
    "lead.json": lead,
    "zhenya.json": zhenya,
    "cormac.json": cormac,
    "linnea.json": linnea,
    "lisbet.json": lisbet,
    "marguerite.json": marguerite,
    "rafael.json": rafael,
    "nikhil.json": nikhil,
    "hamish.json": hamish,
    "wanjiru.json": wanjiru,
}
LETTERS: dict[str, tuple[str, int]] = {
    "zhenya.json": ("whiten-then-bond", -20),
    "cormac.json": ("wing-bridge", -38),
    "lisbet.json": ("bonding", -50),
    "rafael.json": ("direct-face", -63),
    "nikhil.json": ("wing-bridge", -12),
    "hamish.json": ("braces", -200),
    "wanjiru.json": ("bonding", -20),
}
"""Whose consent letter is about which option, and on which day it was handed over."""


def is_told(estimate: Estimate) -> bool:
    """Whether this story was told already."""
    return (
        AcceptedPlan.objects.filter(estimate=estimate).exists()
        or AgreedCall.objects.filter(estimate=estimate).exists()
        or MadeCall.objects.filter(estimate=estimate).exists()
    )


def tell_tale(tell: Teller, file: str, estimate: Estimate) -> None:
    """Everything that happened to one estimate, or nothing of it if it was told before."""
    if file in TALES and not is_told(estimate):
        with transaction.atomic():
            TALES[file](tell, estimate)


def _wait(tell: Teller, item: Item, what: Waiting, earliest: date, now: datetime) -> None:
    wait_item(item=item, seen=item.version, waiting_for=what, earliest=earliest, actor=tell.desk, now=now)


def _free_all(tell: Teller, plan: AcceptedPlan, now: datetime) -> None:
    for item in open_items(plan):
        if item.state == "booked":
            free_item(item=item, seen=item.version, actor=tell.desk, now=now)


def _check(tell: Teller, plan: AcceptedPlan, days: int) -> None:
    """The next look at a course that goes on: a visit beside the steps that are worked out."""
    held = tell.open_day(days)
    if held != days:
        tell.moved.append(f"{plan.patient.name}, next aligners: the office is closed on day {days}, so day {held}")
    booking = Booking(
        clinician=tell.owner,
        chair="Chair 2",
        day=tell.day(held),
        hour=time(14, 0),
        minutes=20,
        words="Next aligners",
    )
    book_visit(plan=plan, booking=booking, actor=tell.desk, now=tell.at(-20, 11))
