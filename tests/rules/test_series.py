"""The visits of a course in the diary: order, waits and closed days hold whatever else is booked.

The waits are those of the treatments' own files; 14 days between the last whitening night and bonding: Savian and
others 2021, as in the register of evidence.
"""

from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.booking import Absent, Diary, NotBefore, Stretch, Taken, Wanted, conflicts
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.catalogue import shipped
from planner.rules.courses import Course, Work
from planner.rules.mouth import CaseFacts
from planner.rules.options import Desk
from planner.rules.series import PROPOSED_AT_ONCE, SeriesStep, Settled, propose_series, series_of, waits_of, without
from planner.rules.teeth import Tooth
from tests.rules.books import DAY_ZERO, tern_row

BOOK = tern_row()
ZONE = ZoneInfo(BOOK.time_zone)
ANN = "ann"
NOW = datetime.combine(DAY_ZERO, time(8), ZONE).astimezone(UTC)


@cache
def facts() -> CaseFacts:
    path = Path(__file__).parents[2] / "fixtures" / "cases" / "lead.json"
    return validate_case(resolve_days(parse_case(path.read_bytes()), DAY_ZERO), DAY_ZERO)


def steps_of(*work: tuple[str, str], key: str = "") -> tuple[SeriesStep, ...]:
    """The series of a course of (treatment, ISO number or nothing) in calendar order."""
    treatments = tuple(dict.fromkeys(treatment for treatment, _ in work))
    lines = tuple(Work(treatment, Tooth.from_iso(iso) if iso else None) for treatment, iso in work)
    course = Course(key or "x", treatments, lines)
    catalogue = shipped()
    prices = BOOK.price_list_on(DAY_ZERO)
    desk = Desk(facts(), BOOK, DAY_ZERO, prices, catalogue.treatments, catalogue.combinations)
    parts = tuple(catalogue.treatments[each] for each in treatments)
    return series_of(course, parts, desk.combination(course), facts(), BOOK, DAY_ZERO)


def diary(**changes: object) -> Diary:
    return Diary.of(BOOK, names={ANN: "Dr Ann"}, **changes)  # type: ignore[arg-type]


def propose(steps: tuple[SeriesStep, ...], known: Diary | None = None, **more: object):  # type: ignore[no-untyped-def]
    values: dict[str, object] = {"clinician": ANN, "patient": "p", "accepted_on": DAY_ZERO, "now": NOW}
    return propose_series(steps, known or diary(), **(values | more))  # type: ignore[arg-type]


WHITEN = steps_of(("whitening", ""), ("bonding", "11"), ("bonding", "21"))
WING = steps_of(("wing-bridge", "22"))
FOUR = steps_of(*(("bonding", iso) for iso in ("12", "11", "21", "22")), ("bonding", "13"), ("bonding", "23"))
BRACES = steps_of(("braces", ""))


def test_each_visit_of_whitening_and_bonding_waits_for_the_one_before() -> None:
    assert [step.key for step in WHITEN if step.kind != "order"] == [
        "whitening.trays",
        "whitening.fit",
        "whitening.review",
        "bonding.bonding",
        "bonding.review",
    ]
    found = {each.step.key: each for each in propose(WHITEN)}
    review = found["whitening.review"].slots[0].starts
    assert found["bonding.bonding"].earliest == review.astimezone(ZONE).date() + timedelta(days=14)
    assert any("14 days after" in reason for reason in found["bonding.bonding"].reasons)


def test_work_too_long_for_one_visit_is_split_and_pairs_stay_together() -> None:
    parts = [step for step in FOUR if step.key.startswith("bonding.bonding#")]
    assert len(parts) > 1
    for step in parts:
        assert step.time is not None
        assert step.time.booked <= BOOK.visit_limit_minutes
        centrals = [tooth for tooth in step.teeth if tooth.position == 1]
        assert len(centrals) in (0, 2)
    assert sorted(tooth.iso for step in parts for tooth in step.teeth) == ["11", "12", "13", "21", "22", "23"]
    days = [each.slots[0].starts.astimezone(ZONE).date() for each in propose(FOUR)]
    assert days == sorted(set(days)), "parts of one piece of work are never on one day"


def test_repeated_visits_come_one_by_one_and_the_far_ones_have_a_day_only() -> None:
    found = propose(BRACES)
    assert len(found) > PROPOSED_AT_ONCE
    assert all(each.slots for each in found[:PROPOSED_AT_ONCE])
    assert not any(each.slots for each in found[PROPOSED_AT_ONCE:])
    earliest = [each.earliest for each in found]
    assert earliest == sorted(earliest)


def test_laboratory_work_that_is_ordered_counts_instead_of_the_usual_days() -> None:
    usual = {each.step.key: each for each in propose(WING)}
    assert usual["wing-bridge.fit"].step.laboratory
    settled = {"wing-bridge.preparation": Settled(NOW + timedelta(hours=1), NOW + timedelta(hours=2))}
    due = DAY_ZERO + timedelta(days=30)
    late = propose(WING, settled=settled, laboratory_due={"wing-bridge.fit": due})[0]
    assert late.earliest == due
    assert f"Laboratory work is due on {due.isoformat()}." in late.reasons
    early = propose(WING, settled=settled, laboratory_due={"wing-bridge.fit": DAY_ZERO})[0]
    assert early.earliest < usual["wing-bridge.fit"].earliest
    assert early.earliest >= DAY_ZERO + timedelta(days=shipped().treatments["wing-bridge"].visit("fit").min_days)


def test_what_is_booked_stays_and_what_comes_after_is_reckoned_from_it() -> None:
    day = datetime.combine(DAY_ZERO + timedelta(days=42), time(9), ZONE)
    found = propose(WHITEN, settled={"whitening.trays": Settled(day, day + timedelta(hours=1))})
    assert "whitening.trays" not in {each.step.key for each in found}
    assert found[0].step.key == "whitening.fit"
    assert found[0].earliest > day.date()


def test_a_step_left_out_hands_its_waits_on() -> None:
    kept = without(WHITEN, ["whitening.review"])
    bonding = next(step for step in kept if step.key == "bonding.bonding")
    assert "whitening.fit" in {key for key, _ in bonding.after}


def test_what_an_item_waits_for_is_said() -> None:
    wait = NotBefore(DAY_ZERO + timedelta(days=60), "gum re-measure")
    steps = tuple(SeriesStep(s.key, s.words, s.after, s.kind, s.time, waits=(wait,)) for s in WING[:1])
    found = propose(steps)[0]
    assert found.earliest == wait.day
    assert found.reasons == ("Gum re-measure: 2026-05-01.",)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"chairs": ()}, "The office book names no chair: type them with the opening hours."),
        ({"hours": ()}, "The office book says no opening hours: type them first."),
    ],
)
def test_why_nothing_is_proposed(change: dict[str, object], words: str) -> None:
    book = BOOK.model_copy(update=change)
    found = propose(WING, Diary.of(book, names={ANN: "Dr Ann"}))
    assert found[0].slots == ()
    assert found[0].sentence == words


def test_somebody_who_is_never_there_is_named() -> None:
    away = diary(absent=[Absent(ANN, DAY_ZERO, DAY_ZERO + timedelta(days=1000))])
    assert propose(WING, away)[0].sentence.startswith("Dr Ann has no ")


def test_laboratory_work_that_is_here_early_shortens_no_other_wait() -> None:
    found = {each.step.key: each for each in propose(WHITEN, laboratory_due={"bonding.bonding": DAY_ZERO})}
    review = found["whitening.review"].slots[0].starts.astimezone(ZONE).date()
    assert found["bonding.bonding"].earliest == review + timedelta(days=14)


def test_what_is_booked_holds_a_visit_from_both_sides() -> None:
    """Moving the last look at the shade may neither come before the nights nor push bonding out of its wait."""
    first, last = (datetime.combine(DAY_ZERO + timedelta(days=ahead), time(9), ZONE) for ahead in (10, 50))
    settled = {
        "whitening.fit": Settled(first, first + timedelta(minutes=30)),
        "bonding.bonding": Settled(last, last + timedelta(hours=3)),
    }
    step = next(each for each in WHITEN if each.key == "whitening.review")
    waits, holds = waits_of(step, WHITEN, diary(), accepted_on=DAY_ZERO, settled=settled)
    assert max(wait.day for wait in waits) == first.date() + timedelta(days=14)
    assert min(hold.day for hold in holds) == last.date() - timedelta(days=14)
    wanted = Wanted(ANN, "Chair 1", "p", last - timedelta(days=6), 20, waits=waits, holds=holds)
    found = [each.words for each in conflicts(wanted, diary(), NOW)]
    assert found[0].startswith("Not after 2026-04-07: 14 days must lie between it and “Bonding”")


TAKEN = st.builds(
    lambda day, hour, length, who, chair: Taken(
        Stretch(
            (begins := datetime.combine(DAY_ZERO + timedelta(days=day), time(hour), ZONE).astimezone(UTC)),
            begins + timedelta(minutes=length),
        ),
        who,
        chair,
    ),
    st.integers(0, 60),
    st.integers(7, 17),
    st.integers(5, 600),
    st.sampled_from([ANN, ""]),
    st.sampled_from([*BOOK.chairs, ""]),
)


@given(st.sampled_from([WHITEN, WING, FOUR]), st.lists(TAKEN, max_size=25))
@settings(max_examples=25, deadline=None)
def test_order_and_waits_hold_whatever_is_booked(steps: tuple[SeriesStep, ...], busy: list[Taken]) -> None:
    known = diary(taken=busy)
    found = {each.step.key: each for each in propose(steps, known)}
    days: dict[str, date] = {}
    for key, each in found.items():
        slot = each.slots[0]
        assert each.step.time is not None
        assert slot.minutes == each.step.time.booked
        assert conflicts(Wanted(ANN, slot.chair, "p", slot.starts, slot.minutes), known, NOW) == ()
        days[key] = slot.starts.astimezone(ZONE).date()
        for before, least in each.step.after:
            if before in days:
                assert days[key] >= days[before] + timedelta(days=least)
                assert slot.starts >= found[before].slots[0].ends
