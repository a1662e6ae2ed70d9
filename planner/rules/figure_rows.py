"""What the Monday page is reckoned from: plain rows of things that happened, handed in by whoever keeps them.

Money is whole cents with tax, days are the office's own. Nothing here is counted yet.
"""

from dataclasses import dataclass
from datetime import date
from typing import Final

ALL, PART, NONE, NO_TREATMENT, ELSEWHERE = (
    "all of an option",
    "part of an option",
    "none, thanks",
    "chose no treatment",
    "other place",
)
YES: Final = frozenset((ALL, PART))


@dataclass(frozen=True, slots=True)
class Offered:
    """One option put before somebody."""

    key: str
    cents: int
    may_be_had: bool = True
    """Whether its verdict was offer or care."""


@dataclass(frozen=True, slots=True)
class Shown:
    """An estimate put before a patient, on one occasion."""

    patient: str
    on: date
    by: str
    options: tuple[Offered, ...]
    recommended: str = ""
    """Key of the recommended option; empty where none was, or where it is to leave things as they are."""
    gentlest: str = ""
    """Key of the option that takes least away among those that may be had and are treatment."""

    @property
    def recommended_cents(self) -> int:
        """What the recommended option comes to; 0 where none with a price is recommended."""
        return next((one.cents for one in self.options if one.key == self.recommended), 0)


@dataclass(frozen=True, slots=True)
class Answered:
    """What a patient said to an estimate."""

    patient: str
    on: date
    kind: str
    option: str = ""
    cents: int = 0
    """Of what was accepted, at the accepted price."""
    stopped_before_start: bool = False
    """Whether the accepted plan was stopped before its first item was done."""
    bookable_at_once: bool = True
    """Whether anything of it could be given a visit on the day of the yes."""
    booked_on: date | None = None
    """The day on which its first visit was put into the diary."""


@dataclass(frozen=True, slots=True)
class PlanRow:
    """An accepted plan that is not over."""

    key: str
    patient: str
    option: str
    """Its name, in words."""
    state: str
    accepted_on: date
    agreed_cents: int
    earned_cents: int
    bills_cents: int = 0
    charged_cents: int = 0
    """Charged beside the work and not waived, such as a fee for cancelling late."""
    paid_cents: int = 0
    deposit_cents: int = 0
    deposit_waived: bool = False
    started: bool = False
    """Whether treatment has begun."""
    bookable_again_on: date | None = None
    """The last day on which it was taken up again or a visit of it fell away."""
    look_again_on: date | None = None
    last_event_on: date | None = None
    next_visit_on: date | None = None
    held_through: date | None = None
    """The last day on which the accepted prices are held."""
    consent_through: date | None = None
    """The last day on which a signed consent holds without a start; None for none, or once treatment has started."""

    @property
    def to_earn_cents(self) -> int:
        return self.agreed_cents - self.earned_cents - self.bills_cents

    @property
    def held_cents(self) -> int:
        """Paid and neither earned nor charged: owed to the patient."""
        return max(self.paid_cents - self.earned_cents - self.bills_cents - self.charged_cents, 0)

    @property
    def deposit_due_cents(self) -> int:
        return 0 if self.deposit_waived else max(self.deposit_cents - self.paid_cents, 0)


@dataclass(frozen=True, slots=True)
class ItemRow:
    """An open item of a plan that is not over."""

    plan: str
    words: str
    state: str
    cents: int
    earliest: date | None = None
    added_on: date | None = None
    """Where an amendment added it: the day of that."""
    stands_still: bool = False
    """Consent to it is withdrawn, or the change that added it is not agreed to."""


@dataclass(frozen=True, slots=True)
class VisitAhead:
    """A visit that is booked, and what it lacks, one sentence each."""

    key: str
    plan: str
    patient: str
    words: str
    on: date
    lacks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CallRow:
    """A patient who is to be called about an estimate, as far as the calls have got."""

    estimate: str
    patient: str
    due: date
    number: int
    """1 for the first call."""
    agreed: bool = False
    """Whether the patient named the day."""
    who: str = ""
    """Who is to call; empty where nobody who is still here showed it."""


@dataclass(frozen=True, slots=True)
class ReviewDue:
    """Finished work that is to be looked at again."""

    plan: str
    patient: str
    option: str
    moment: str
    """Which review, such as ``after 14 days``."""
    due: date


@dataclass(frozen=True, slots=True)
class CallMade:
    """A call that was due on a day, and the day on which it was made; ``latest`` is the last day that is in time."""

    due: date
    latest: date
    made: date | None


@dataclass(frozen=True, slots=True)
class Ending:
    """Something that holds through a day and no longer."""

    key: str
    kind: str
    """``estimate``, ``prices``, ``consent``, ``comes of age`` or ``benefit year``."""
    patient: str
    through: date
    cents: int | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Owed:
    """A refund that is owed on a plan that is over."""

    key: str
    patient: str
    cents: int
    since: date
    asked: str = ""
    """How far a refund that was asked for is."""


@dataclass(frozen=True, slots=True)
class Timed:
    """A block of work that was timed, beside what was planned for it: minutes, shared among ``units``."""

    option: str
    step: str
    on: date
    units: int
    minutes: int
    planned_minutes: int
    """The mean of one unit times the units, in whole minutes half-up."""
    low_minutes: int
    high_minutes: int
    """The band from the 10th to the 90th of 100, within which about eight of ten should lie."""
    disturbed: bool = False


@dataclass(frozen=True, slots=True)
class VisitKept:
    """A visit that has reached its hour, or was to."""

    on: date
    state: str
    cancelled_hours_before: int | None = None


@dataclass(frozen=True, slots=True)
class Guessed:
    """What a payer was guessed to pay, and what it paid in the end."""

    basis: str
    guessed_cents: int
    paid_cents: int


@dataclass(frozen=True, slots=True)
class Repaired:
    """A repair of finished work."""

    key: str
    patient: str
    words: str
    on: date
    cents: int
    days_after: int
    """Since the work was finished."""


@dataclass(frozen=True, slots=True)
class Followed:
    """One tooth the office has worked on, and through which day it was followed."""

    done_on: date
    seen_on: date
    repairs: int = 0
