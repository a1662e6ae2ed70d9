"""Figures of the Monday page against a cohort worked out by hand, and against a second, naive reckoning of them."""

from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules import figure_words as words
from planner.rules import figures as f
from planner.rules.figure_rows import Answered, CallMade, Followed, Guessed, Offered, PlanRow, Shown, Timed, VisitKept

JANUARY = (date(2026, 1, 1), date(2026, 1, 31))
MAY = date(2026, 5, 1)


def _shown(
    patient: str, day: int, recommended: tuple[str, int], *others: tuple[str, int], by: str = "D. Lund"
) -> Shown:
    """Amounts in whole units of money."""
    options = tuple(Offered(key, units * 100) for key, units in (recommended, *others) if key != "none")
    return Shown(patient, date(2026, 1, day), by, (Offered("none", 0), *options), recommended[0], "none")


def _yes(patient: str, on: date, kind: str, option: str, units: int, **more: Any) -> Answered:
    return Answered(patient, on, kind, option, units * 100, **more)


WHOLE, PART = "all of an option", "part of an option"
SHOWN = (
    _shown("P1", 8, ("bonding", 1630), ("veneers", 5920)),
    _shown("P2", 9, ("bonding", 1070), ("veneers", 2960)),
    _shown("P3", 12, ("implant", 7900), ("wing-bridge", 2650)),
    _shown("P4", 13, ("whitening", 390)),
    _shown("P5", 14, ("braces-bonding", 6900), ("bonding", 1335)),
    _shown("P6", 15, ("crowns", 3240)),
    _shown("P7", 20, ("bonding", 1570)),
    Shown("P7", date(2026, 2, 20), "D. Lund", (Offered("bonding", 157000),), "bonding"),
    _shown("P8", 31, ("none", 0)),
)
ANSWERS = (
    _yes("P1", date(2026, 1, 15), WHOLE, "bonding", 1630),
    _yes("P2", date(2026, 1, 30), PART, "bonding", 625),
    _yes("P3", date(2026, 2, 10), WHOLE, "wing-bridge", 2650),
    Answered("P4", date(2026, 1, 20), "none, thanks"),
    _yes("P6", date(2026, 1, 25), WHOLE, "crowns", 3240, stopped_before_start=True),
    _yes("P7", date(2026, 3, 1), WHOLE, "bonding", 1570),
    Answered("P8", date(2026, 2, 3), "chose no treatment"),
)


def _by_key(found: f.Cohort) -> dict[str, f.Figure]:
    return {one.definition.key: one for one in f.cohort_figures(found)}


def test_eight_patients_first_shown_in_january_looked_at_on_1_may() -> None:
    """The cohort worked out by hand when the figures were defined; a re-issue is shown 31 days after the first."""
    found = f.cohort(SHOWN, ANSWERS, *JANUARY, MAY)
    assert len(found.people) == 8
    assert found.mature
    assert not f.cohort(SHOWN, ANSWERS, *JANUARY, MAY - timedelta(days=1)).mature
    got = _by_key(found)
    counted = {key: (one.n, one.of, one.percent) for key, one in got.items() if one.of is not None}
    assert counted == {
        "decision": (7, 8, "87.5"),
        "acceptance": (5, 7, "71.4"),
        "full-recommended": (3, 7, "42.9"),
        "full-any": (4, 7, "57.1"),
        "money-gross": (971500, 2270000, "42.8"),
        "money-kept": (647500, 2270000, "28.5"),
        "gentleness": (1, 7, "14.3"),
        "booked-soon": (0, 5, "0.0"),
    }
    # Ten days to forty: the yes that came after a re-issue counts from the first showing.
    assert (got["days-to-yes"].n, got["days-to-yes"].among) == (210, 5)
    assert got["days-to-yes"].beside == "1 without an answer"
    # Below ten nothing but counts is printed.
    assert got["decision"].said == "7 of 8"
    assert got["money-gross"].said == "9715.00 of 22700.00"
    assert {one.part: one.said for one in f.by_option(found)} == {
        "bonding": "3 of 4",
        "veneers": "0 of 2",
        "braces-bonding": "0 of 1",
        "crowns": "1 of 1",
        "implant": "0 of 1",
        "whitening": "0 of 1",
        "wing-bridge": "1 of 1",
    }
    (person,) = f.by_person(found)
    assert (person.part, person.said, person.beside) == ("D. Lund", "5 of 7", "1 of them for 500 or less")


def test_from_ten_on_a_share_is_said() -> None:
    shown = [Shown(f"P{n}", date(2026, 1, 5), "A", (Offered("x", 100),), "x") for n in range(10)]
    found = f.cohort(shown, [_yes("P1", date(2026, 1, 9), WHOLE, "x", 1)], *JANUARY, MAY)
    assert _by_key(found)["acceptance"].said == "10.0 % (1 of 10)"
    assert _by_key(f.cohort(shown[1:], [], *JANUARY, MAY))["acceptance"].said == "0 of 9"


def test_a_patient_seen_before_does_not_begin_anew_and_a_late_yes_does_not_count() -> None:
    before = Shown("P1", date(2025, 12, 3), "A", (Offered("x", 100),), "x")
    again = Shown("P1", date(2026, 1, 7), "B", (Offered("x", 100),), "x")
    assert f.cohort([again, before], [], *JANUARY, MAY).people == ()
    (late,) = f.cohort([again], [_yes("P1", date(2026, 4, 8), WHOLE, "x", 1)], *JANUARY, MAY).people
    assert late.yes is None
    (just,) = f.cohort([again], [_yes("P1", date(2026, 4, 7), WHOLE, "x", 1)], *JANUARY, MAY).people
    assert just.yes is not None


def test_what_is_printed_as_a_definition_is_what_is_computed() -> None:
    found = f.cohort(SHOWN, ANSWERS, *JANUARY, MAY)
    plan = PlanRow("a", "A", "x", "booked", date(2026, 1, 1), 100, 0)
    made = [
        *f.cohort_figures(found),
        *f.by_option(found),
        *f.by_person(found),
        *f.running_figures([plan], MAY),
        *f.minutes_figures([Timed("x", "s", MAY, 1, 10, 10, 8, 12)]),
        *f.payer_figures([Guessed("phone", 100, 100)]),
        f.visit_figure([]),
        f.repair_figure([]),
        f.laboratory_figure([(MAY, MAY), (MAY, MAY + timedelta(1))]),
        f.calls_figure([]),
    ]
    of_blocks = {words.NO_DATE.key, words.NO_DATE_AGE.key}  # in the block that lists them
    assert {one.definition.key for one in made} | of_blocks == {one.key for one in words.DEFINITIONS}
    assert len({one.key for one in words.DEFINITIONS}) == len(words.DEFINITIONS)
    assert all(one.sentence.endswith(".") and one.sentence[0].isupper() for one in words.DEFINITIONS)


def test_stuck_is_thirty_days_without_an_event_or_a_visit_to_come() -> None:
    def plan(**changes: Any) -> PlanRow:
        values: dict[str, Any] = {
            "key": "a", "patient": "A", "option": "x", "state": "under way", "accepted_on": date(2026, 1, 1),
            "agreed_cents": 100, "earned_cents": 40,
        }  # fmt: skip
        return PlanRow(**values | changes)

    assert f.is_stuck(plan(last_event_on=MAY - timedelta(days=30)), MAY)
    assert not f.is_stuck(plan(last_event_on=MAY - timedelta(days=29)), MAY)
    assert not f.is_stuck(plan(next_visit_on=MAY), MAY)
    assert not f.is_stuck(plan(state="resting"), MAY)
    figures = {one.definition.key: one for one in f.running_figures([plan(), plan(paid_cents=50)], MAY)}
    assert (figures["stuck"].n, figures["stuck"].of) == (2, 2)
    assert (figures["earned"].n, figures["to-earn"].n) == (80, 120)
    assert (figures["deposit-cover"].n, figures["deposit-cover"].of) == (10, 200)
    assert plan(paid_cents=100, charged_cents=25).held_cents == 35
    assert plan(paid_cents=50, charged_cents=25).held_cents == 0


def test_visits_minutes_payers_repairs_and_calls() -> None:
    visits = [VisitKept(MAY, "kept")] * 3 + [
        VisitKept(MAY, "no-show"), VisitKept(MAY, "cancelled", 23), VisitKept(MAY, "cancelled", 24),
        VisitKept(MAY, "booked"),
    ]  # fmt: skip
    assert (f.visit_figure(visits).n, f.visit_figure(visits).of) == (3, 5)
    timed = [Timed("bonding", "per tooth", MAY, 1, minutes, 50, 40, 60) for minutes in (50, 55, 61)]
    ratio, band = f.minutes_figures([*timed, Timed("bonding", "per tooth", MAY, 1, 118, 50, 40, 60, True)])
    assert (ratio.n, ratio.said, ratio.beside) == (1100, "1.100 (3)", "too few to advise on: 3 of 8")
    assert (band.n, band.of) == (2, 3)
    # A guess of 448.80 of which 301.20 was paid: two thirds of it.
    middle, close = f.payer_figures([Guessed("own guess", 44880, 30120)])
    assert (middle.n, close.n, close.of) == (671, 0, 1)
    teeth = [Followed(date(2024, 5, 1), date(2026, 5, 1), 1), Followed(date(2025, 5, 1), date(2025, 5, 1))]
    assert (f.repair_figure(teeth).n, f.repair_figure(teeth).beside) == (1, "2.00 tooth-years, 2 teeth")
    assert f.laboratory_figure([(MAY, MAY), (MAY, MAY + timedelta(1))]).said == "1 of 2"
    calls = [CallMade(MAY, MAY + timedelta(2), MAY + timedelta(n)) for n in (0, 2, 3)] + [CallMade(MAY, MAY, None)]
    assert (f.calls_figure(calls).n, f.calls_figure(calls).of) == (2, 4)


# ------------------------------------------------------------------------------------- reckoned a second time

OPTIONS = ("bond", "face", "crown")
DAY = st.integers(0, 150).map(lambda n: date(2026, 1, 1) + timedelta(days=n))


@st.composite
def _offices(draw: st.DrawFn) -> tuple[list[Shown], list[Answered]]:
    shown, answered = [], []
    for number in range(draw(st.integers(0, 12))):
        patient = f"P{number % 9}"
        keys = draw(st.lists(st.sampled_from(OPTIONS), max_size=3, unique=True))
        options = tuple(Offered(key, draw(st.integers(0, 9)) * 100, draw(st.booleans())) for key in keys)
        recommended = draw(st.sampled_from(["", *keys]))
        shown.append(Shown(patient, draw(DAY), draw(st.sampled_from("AB")), options, recommended, "bond"))
    for number in range(draw(st.integers(0, 12))):
        kind = draw(st.sampled_from((WHOLE, PART, "none, thanks", "chose no treatment", "other place")))
        yes = kind in (WHOLE, PART)
        option, cents = (draw(st.sampled_from(OPTIONS)), draw(st.integers(1, 900))) if yes else ("", 0)
        answered.append(Answered(f"P{number % 9}", draw(DAY), kind, option, cents, draw(st.booleans())))
    return shown, answered


def _naive(shown: list[Shown], answered: list[Answered], first: date, last: date, on: date) -> dict[str, Any]:
    """Patient by patient and day by day, with nothing of the code that is tested."""
    got: dict[str, Any] = dict.fromkeys(
        ("patients", "decided", "asked", "yes", "full", "any", "gross", "kept", "worth", "gentle"), 0
    )
    options: dict[str, list[int]] = {}
    for patient in sorted({row.patient for row in shown}):
        begun, row_of = None, None
        for row in shown:
            if row.patient == patient and row.on <= on and (begun is None or row.on < begun):
                begun, row_of = row.on, row
        if begun is None or row_of is None or begun < first or begun > last:
            continue
        got["patients"] += 1
        said = [
            a for a in answered if a.patient == patient and a.on >= begun and (a.on - begun).days <= 90 and a.on <= on
        ]
        yes = [a for a in said if a.kind.endswith("of an option")]
        price = 0
        for option in row_of.options:
            if option.key == row_of.recommended:
                price = option.cents
        got["decided"] += 1 if said else 0
        if said and not yes and any(a.kind == "chose no treatment" for a in said):
            got["gentle"] += 1
        if any(a.option == "bond" for a in yes):
            got["gentle"] += 1
        seen = set()
        for row in shown:
            if row.patient == patient and row.on <= on and (row.on - begun).days <= 90:
                seen |= {o.key for o in row.options if o.may_be_had and o.cents > 0}
        for key in seen:
            options.setdefault(key, [0, 0])
            options[key][1] += 1
            options[key][0] += 1 if [a for a in yes if a.option == key] else 0
        if price:
            got["asked"] += 1
            got["worth"] += price
            got["yes"] += 1 if yes else 0
            got["full"] += 1 if [a for a in yes if a.kind == WHOLE and a.option == row_of.recommended] else 0
            got["any"] += 1 if [a for a in yes if a.kind == WHOLE] else 0
            got["gross"] += sum(a.cents for a in yes)
            got["kept"] += sum(a.cents for a in yes if not a.stopped_before_start)
    return got | {"options": {key: tuple(pair) for key, pair in options.items()}}


@settings(max_examples=150, deadline=None)
@given(_offices())
def test_a_second_naive_reckoning_agrees(office: tuple[list[Shown], list[Answered]]) -> None:
    first, last, on = date(2026, 1, 10), date(2026, 2, 20), date(2026, 5, 1)
    found = f.cohort(*office, first, last, on)
    got, want = _by_key(found), _naive(*office, first, last, on)
    assert (got["decision"].n, got["decision"].of) == (want["decided"], want["patients"])
    assert (got["acceptance"].n, got["acceptance"].of) == (want["yes"], want["asked"])
    assert (got["full-recommended"].n, got["full-any"].n) == (want["full"], want["any"])
    assert (got["money-gross"].n, got["money-kept"].n, got["money-gross"].of) == (
        want["gross"], want["kept"], want["worth"],
    )  # fmt: skip
    assert (got["gentleness"].n, got["gentleness"].of) == (want["gentle"], want["decided"])
    assert {one.part: (one.n, one.of) for one in f.by_option(found)} == want["options"]
    for one in (*got.values(), *f.by_option(found), *f.by_person(found)):
        if one.share is not None:
            assert one.definition.unit == "money" or Fraction(0) <= one.share <= 1
            assert ("%" in one.said) == (one.among >= 10)
