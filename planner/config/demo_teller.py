"""Who acts in the stories of the invented office, when, and the acts that come up again: each through its service."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from types import MappingProxyType
from typing import Any

from planner.config.demo_letters import Ahead
from planner.followup.results import promised_of
from planner.followup.reviewing import Seen, note_review
from planner.letters.consent import KEY
from planner.letters.consent_models import Channel, Consent
from planner.letters.consent_signing import sign_letter, talk_of
from planner.letters.consent_standing import stands_against
from planner.letters.consents import hand_letter, note_talk
from planner.letters.services import render_papers
from planner.patients.services import answer_any_change
from planner.plans.accepted import begin_plan
from planner.plans.accepted_models import AcceptedPlan, Item, Route
from planner.plans.accepting import accept_option
from planner.plans.account import receive
from planner.plans.estimates import read_frozen
from planner.plans.items import finish_item
from planner.plans.models import Estimate
from planner.practice.books import current_book
from planner.practice.models import Staff
from planner.rules.calendar_days import OpenDays
from planner.rules.partial import whole_of
from planner.rules.promise import Condition, Moment, SeenTooth
from planner.rules.signing import Basis, Choice, Method, Said
from planner.rules.teeth import Tooth
from planner.visits.models import Visit
from planner.visits.reading import plan_visits
from planner.visits.services import Booking, book_visit, mark_kept

LICENCE = "WH-20417"
"""Of the invented dentist."""


@dataclass
class Teller:
    """Who acts in the stories, and the office's clock."""

    owner: Staff
    desk: Staff
    assistant: Staff
    zero: date
    ahead: Ahead
    moved: list[str] = field(default_factory=list)
    """Visits to come that fell on a closed day, in words."""

    def at(self, days: int, hour: int, minute: int = 0) -> datetime:
        """The instant at which the office's clock shows that hour, days from day zero."""
        return datetime.combine(self.day(days), time(hour, minute), self.owner.office.zone)

    def day(self, days: int) -> date:
        """That day, counted from day zero."""
        return self.zero + timedelta(days=days)

    def open_day(self, days: int) -> int:
        """The day itself where the office is open, else the open day before it (past) or after it (to come)."""
        wanted = self.day(days)
        open_days = OpenDays.of(current_book(self.owner.office, self.zero))
        found = open_days.next_open_day(wanted) if days >= 0 else open_days.last_open_day(wanted)
        return (found - self.zero).days

    # ------------------------------------------------------------------------------------------------- acts

    def accept(
        self, estimate: Estimate, days: int, option: str, *, by: str = "", also: tuple[str, ...] = ()
    ) -> AcceptedPlan:
        """A yes to the whole of an option, and to what of it stands beside."""
        assert estimate.frozen is not None
        pieces = whole_of(read_frozen(estimate.frozen).option(option))
        return accept_option(
            estimate=estimate,
            seen=estimate.version,
            option=option,
            chosen=(*pieces, *also),
            by=by or estimate.case.patient.name,
            capacity="decision-maker" if by else "patient",
            actor=self.desk,
            now=self.at(days, 11),
        )

    def review(
        self, plan: AcceptedPlan, moment: Moment, now: datetime, *, scores: Mapping[int, int] = MappingProxyType({})
    ) -> None:
        """Every tooth of the plan whole, as wide as planned and a tenth of a millimetre shorter."""
        teeth = {
            one.tooth: SeenTooth(Condition.WHOLE, one.width, None if one.length is None else one.length - 1)
            for one in promised_of(plan)
        }
        seen = Seen(
            moment=moment,
            on=now.astimezone(self.owner.office.zone).date(),
            measured_by=self.owner.full_name,
            teeth=teeth,
            scores=scores,
        )
        note_review(plan=fresh(plan), seen=seen, actor=self.owner, now=now)

    def hand(self, estimate: Estimate, option: str, days: int) -> Consent:
        """The consent letter about an option, handed over on paper."""
        assert estimate.frozen is not None
        now = self.at(days, 16, 30)
        (letter,) = render_papers(
            frozen=estimate.frozen,
            kinds=[KEY],
            issue=self.ahead.issue(estimate, option, self.day(days)),
            actor=self.owner,
            now=now,
            estimate=estimate,
            language=read_frozen(estimate.frozen).language,
            make=self.ahead.make,
        )
        to = estimate.case.patient.name
        return hand_letter(document=letter, to=to, channel=Channel.PAPER, actor=self.desk, now=now)

    def sign(self, consent: Consent, days: int, said_back: str, **changes: Any) -> None:
        """The patient signs by typing the name, after a talk with the dentist, who countersigns."""
        name = consent.case.patient.name
        talked = self.at(days, 16, 30)
        note_talk(consent=consent, clinician=self.owner, held_at=talked, actor=self.owner, now=talked)
        stated: dict[str, Any] = {
            "signer": name,
            "typed": name,
            "basis": Basis.SELF,
            "method": Method.TYPED,
            "choice": Choice.ALL,
            "talk": talk_of(self.owner, LICENCE, self.day(days)),
            "id_seen": "known in person",
            "understood": said_back,
            "copy": "on paper",
            "ticks": {"photos": True, "photos_shown": False},
        }
        document = consent.handings.order_by("-pk")[0].document
        sign_letter(
            consent=consent,
            letter_sha256=document.sha256,
            said=Said(**stated | changes),
            clinician=self.owner,
            actor=self.owner,
            now=self.at(days, 17),
        )

    def pay(self, plan: AcceptedPlan, days: int, units: int, route: Route = Route.TRANSFER, payer: str = "") -> None:
        """A receipt, in whole units of money."""
        receive(
            plan=plan,
            cents=units * 100,
            payer=payer or plan.patient.name,
            route=route,
            on=self.day(days),
            actor=self.desk,
            now=self.at(days, 12),
        )

    def book(self, plan: AcceptedPlan, made: int, days: int) -> Visit:
        """A visit of the course, booked on the day ``made`` for the day ``days``, with the items that belong to it."""
        now = self.at(made, 12, 30)
        known = plan_visits(plan, None, now)
        work = next(one for one in known.steps if one.kind == "work")
        held = self.open_day(days)
        if held != days and days >= 0:
            self.moved.append(f"{plan.patient.name}, {work.words}: the office is closed on day {days}, so day {held}")
        booking = Booking(
            clinician=self.owner,
            chair="Chair 1",
            day=self.day(held),
            hour=time(8, 30),
            minutes=min(work.time.booked if work.time else 30, 210),
            words=work.words,
            key=work.key,
            items=known.items_of(work),
            eight_in_ten=work.time.eight_in_ten if work.time else None,
        )
        return book_visit(plan=plan, booking=booking, actor=self.desk, now=now).visit

    def begin(self, plan: AcceptedPlan, visit: Visit) -> datetime:
        """The patient comes to the first visit, is asked whether anything changed, and treatment starts."""
        now = visit.starts
        day = now.astimezone(self.owner.office.zone).date()
        answer_any_change(patient=plan.patient, asked_on=day, changed=False, actor=self.owner, now=now)
        against = stands_against(plan, now)
        begin_plan(
            plan=plan,
            seen=fresh(plan).version,
            consent=" ".join(against),
            history_asked_on=day,
            actor=self.owner,
            now=now,
        )
        mark_kept(visit=visit, seen=visit.version, actor=self.desk, now=visit.ends)
        return visit.ends

    def done(self, plan: AcceptedPlan, services: tuple[str, ...], now: datetime, teeth: tuple[str, ...] = ()) -> None:
        """Items of these services are done; where ``teeth`` are named, of those only."""
        keys = {Tooth.from_iso(tooth).key for tooth in teeth}
        for item in open_items(plan):
            if item.service in services and (not teeth or not item.teeth or keys.intersection(item.teeth)):
                finish_item(item=item, seen=item.version, actor=self.owner, now=now)


def open_items(plan: AcceptedPlan) -> list[Item]:
    """Items neither done nor dropped, as they are saved now."""
    states = ("to do", "waiting for", "booked")
    return list(plan.items.filter(state__in=states).select_related("office", "plan").order_by("position"))


def fresh(plan: AcceptedPlan) -> AcceptedPlan:
    """The plan as it is saved now."""
    return AcceptedPlan.objects.get(pk=plan.pk)
