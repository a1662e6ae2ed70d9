"""What each figure of the Monday page is: the sentence that is printed beside it, and the days and bounds in it.

:mod:`planner.rules.figures` computes each under its definition, so that what is printed is what is counted.
"""

from dataclasses import dataclass
from typing import Final, Literal

ANSWER_DAYS: Final = 90
"""An answer counts for this many days after the first showing."""
BOOKED_DAYS: Final = 14
STUCK_DAYS: Final = 30
FEW: Final = 10
"""Among fewer than these only counts are printed; common practice, no source."""
ADVICE_FROM: Final = 8
"""Among fewer timings than these nothing is advised; common practice, no source."""
SMALL_CENTS: Final = 50_000
"""A recommended option up to this counts as small, so that people with other patients are not compared by it."""
LATE_CALL_OPEN_DAYS: Final = 2

Unit = Literal["people", "plans", "money", "days", "ratio", "visits", "calls", "tooth-years", "things"]


@dataclass(frozen=True, slots=True)
class Definition:
    """What a figure is: its key, its name, and the sentence that says what is counted among what."""

    key: str
    name: str
    sentence: str
    unit: Unit = "people"


DECISION = Definition(
    "decision",
    "Decided",
    "Patients who gave any answer within 90 days of the first showing, among those first shown in these months; "
    "to choose no treatment is an answer.",
)
ACCEPTANCE = Definition(
    "acceptance",
    "Said yes",
    "Patients who accepted at least one priced item within 90 days of the first showing, among those to whom a priced "
    "option was recommended. One patient counts once; a new issue does not begin anew.",
)
FULL = Definition(
    "full-recommended",
    "Took the whole recommended option",
    "Patients who accepted all of the recommended option within 90 days, among those to whom a priced option was "
    "recommended.",
)
FULL_ANY = Definition(
    "full-any",
    "Took a whole option",
    "Patients who accepted all of any option within 90 days, among those to whom a priced option was recommended.",
)
GROSS = Definition(
    "money-gross",
    "Accepted value",
    "What was accepted, at its accepted price, against the value of the recommended option of each patient. "
    "Alternatives are never added up: they exclude each other.",
    "money",
)
KEPT = Definition(
    "money-kept",
    "Accepted value, kept",
    "Accepted value less what was stopped before its first item was done, against the value of the recommended "
    "options.",
    "money",
)
BY_OPTION = Definition(
    "by-option",
    "Yes to an option",
    "Patients who accepted any of the option within 90 days, among those to whom it was shown as one that may be had. "
    "The rows do not add up to 100 %: many see several.",
)
BY_PERSON = Definition(
    "by-person",
    "Said yes, by who showed it",
    "As “said yes”, by who showed the estimate first, not by who treats. Beside it, for how many the recommended "
    "option comes to 500 or less: whoever shows small things hears yes more often.",
)
GENTLE = Definition(
    "gentleness",
    "Gentlest way chosen",
    "Patients who chose no treatment or accepted the option that takes least away of those they might have, among "
    "those who answered.",
)
DAYS_TO_YES = Definition(
    "days-to-yes",
    "Days to a yes",
    "The middle of the days from the first showing to the yes, among those who said yes within 90 days; beside it, how "
    "many have not answered.",
    "days",
)
BOOKED_SOON = Definition(
    "booked-soon",
    "Booked within 14 days",
    "Accepted plans whose first visit was put into the diary within 14 days of the yes, among those of which something "
    "could be booked on the day of the yes.",
    "plans",
)
NO_DATE = Definition(
    "no-date",
    "Yes, but no date",
    "The value of items that are to do, or wait for a day at most 14 days off, in plans that are accepted, booked or "
    "under way. Resting plans, items that wait for something else and items without consent are left out.",
    "money",
)
NO_DATE_AGE = Definition(
    "no-date-age",
    "Age of it",
    "Days since the later of the yes and the day from which it could be booked; the oldest item of the plan counts.",
    "days",
)
STUCK = Definition(
    "stuck",
    "Stuck",
    "Plans that are booked or under way, without a visit to come, in which nothing happened for 30 days, among all "
    "that are booked or under way. Something happened: the plan moved, a visit was booked, moved, kept or cancelled, "
    "money came or went, a stage was earned, a change was made.",
    "plans",
)
EARNED = Definition(
    "earned",
    "Earned",
    "What has been earned of plans that are not over, by the day of service and not by the day of payment.",
    "money",
)
TO_EARN = Definition(
    "to-earn",
    "To earn",
    "What was accepted and changed since, less what is earned, billed by others or dropped, of plans that are not "
    "over.",
    "money",
)
COVER = Definition(
    "deposit-cover",
    "Deposit cover",
    "What is held of plans that have not begun, against their value.",
    "money",
)
KEPT_VISITS = Definition(
    "kept-visits",
    "Visits kept",
    "Visits to which the patient came, among those of the last 90 days that reached their hour and were not cancelled "
    "or moved at least 24 hours before.",
    "visits",
)
MINUTES = Definition(
    "minutes-ratio",
    "Minutes, real against planned",
    "The middle of real minutes divided by the planned mean, over the timings of the last twelve months that nothing "
    "disturbed. Nothing is advised on fewer than 8.",
    "ratio",
)
IN_BAND = Definition(
    "minutes-band",
    "Minutes within the 10 to 90 band",
    "Timings that lie between the minutes below which 10 and 90 of 100 should, by the office book, among those that "
    "nothing disturbed; about 80 % should.",
    "things",
)
PAYER = Definition(
    "payer-ratio",
    "Payers, paid against guessed",
    "The middle of what was paid divided by what was guessed, over guesses with a final answer, by what the guess "
    "rested on.",
    "ratio",
)
PAYER_CLOSE = Definition(
    "payer-close",
    "Guesses within a tenth",
    "Guesses that lie within 10 % of what was paid, among those with a final answer.",
    "things",
)
LABORATORY = Definition(
    "laboratory-in-time",
    "Laboratory work back in time",
    "Pieces of laboratory work that came back by the day on which they were due, among those received in the last 90 "
    "days.",
    "things",
)
REPAIRS = Definition(
    "repairs",
    "Repairs",
    "Repairs, beside the tooth-years followed, of teeth worked on in the last twelve months: years, not teeth. One "
    "that was mended at a review counts too. A tooth is followed until its patient was last seen, and no longer.",
    "tooth-years",
)
ON_TIME = Definition(
    "calls-on-time",
    "Calls made in time",
    "Follow-up calls made by the second working day after they were due, among those due in the last 90 days.",
    "calls",
)

DEFINITIONS: Final[tuple[Definition, ...]] = (
    DECISION,
    ACCEPTANCE,
    FULL,
    FULL_ANY,
    GROSS,
    KEPT,
    BY_OPTION,
    BY_PERSON,
    GENTLE,
    DAYS_TO_YES,
    NO_DATE,
    NO_DATE_AGE,
    BOOKED_SOON,
    STUCK,
    EARNED,
    TO_EARN,
    COVER,
    KEPT_VISITS,
    MINUTES,
    IN_BAND,
    PAYER,
    PAYER_CLOSE,
    LABORATORY,
    REPAIRS,
    ON_TIME,
)
