"""When somebody is called about an estimate they have not answered: three times at most, then quiet.

The first call is three open days after the showing, the second ten and the third thirty days after it, each moved to
the next open day. A day that the patient named comes before all of them. Common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from planner.rules.calendar_days import OpenDays
from planner.rules.figure_words import LATE_CALL_OPEN_DAYS

FIRST_OPEN_DAYS: Final = 3
LATER_DAYS: Final = (10, 30)
MOST_CALLS: Final = 1 + len(LATER_DAYS)


@dataclass(frozen=True, slots=True)
class NextCall:
    """The call that is to be made next."""

    due: date
    number: int
    agreed: bool
    """Whether the patient named the day."""


@dataclass(frozen=True, slots=True)
class Contact:
    """What is known of whether somebody may be called at all."""

    answered: bool = False
    """Any answer ends it, a no as much as a yes."""
    expired: bool = False
    stop_all: bool = False
    consented: bool | None = None
    """To being called; None where nobody asked."""
    asked_to_stop: bool = False
    """During a call about this estimate."""

    @property
    def why_not(self) -> str:
        """Why nobody is called, in one sentence; empty where a call may be made."""
        if self.stop_all:
            return "All contact with this person was stopped."
        if self.asked_to_stop:
            return "The patient asked not to be called about this."
        if self.answered:
            return "The patient has answered; nobody is called about it any more."
        if self.consented is False:
            return "The patient does not want to be called."
        if self.consented is None:
            return "Nobody has asked whether the patient may be called."
        if self.expired:
            return "The estimate has expired: a new issue comes first."
        return ""


def due_days(shown_on: date, days: OpenDays) -> tuple[date, ...]:
    """The days of the three calls after a showing."""
    first = days.add_open_days(shown_on, FIRST_OPEN_DAYS)
    return (first, *(days.next_open_day(shown_on + timedelta(days=later)) for later in LATER_DAYS))


def next_call(shown_on: date, made: Sequence[date], agreed: date | None, days: OpenDays) -> NextCall | None:
    """The next call after those ``made``; ``agreed`` is a day the patient named since the last of them.

    After three calls there is none, unless the patient named a day. A later showing of the same estimate does not begin
    anew: ``shown_on`` is the first.
    """
    number = len(made) + 1
    if agreed is not None:
        return NextCall(agreed, number, True)
    if number > MOST_CALLS:
        return None
    due = due_days(shown_on, days)[number - 1]
    # One that was made late does not bring the next one the day after.
    if made and due <= made[-1]:
        due = days.add_open_days(made[-1], FIRST_OPEN_DAYS)
    return NextCall(due, number, False)


def latest_in_time(due: date, days: OpenDays) -> date:
    """The last day on which a call that was due on ``due`` is made in time."""
    return days.add_open_days(due, LATE_CALL_OPEN_DAYS)
