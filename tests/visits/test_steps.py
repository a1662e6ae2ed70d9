"""Working by the step sheet: what forbids it, stamps, lots, what was found, and the minutes that are learnt from."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from planner.letters.models import Document
from planner.letters.sealed import read_all
from planner.plans import still_holds
from planner.plans.accepted_models import AcceptedPlan
from planner.practice import stock
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.stock import Arrival
from planner.practice.stock_models import StockLot, WorkTiming
from planner.rules.mouth import Allergy
from planner.rules.results import sha256
from planner.rules.verdicts import Reason, Verdict
from planner.trail.errors import NotAllowed, Refused
from planner.visits import services, step_drawing, stepping
from planner.visits.models import Visit
from planner.visits.step_drawing import Stop
from planner.visits.step_models import NoteKind, StampKind, StepSheetCopy
from tests.letters.test_sealed import flipped
from tests.support import NOW, TODAY, guards_lifted, render_once
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db
Make = Callable[..., services.Booking]
LATER = NOW + timedelta(days=3)


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted_plan(owner, planned=True)


@pytest.fixture
def visit(plan: AcceptedPlan, owner: Staff, booking: Make) -> Visit:
    asked = booking(items=tuple(plan.items.all()[:4]), key="bonding.bonding", eight_in_ten=207)
    return services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit


@pytest.fixture
def allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing stands against the sheet: consent and facts have tests of their own."""
    monkeypatch.setattr(step_drawing, "stops_of", lambda _visit, _now: ())


@pytest.fixture
def begun(visit: Visit, owner: Staff, allowed: None) -> StepSheetCopy:
    return stepping.begin(visit=visit, actor=owner, now=LATER)


def read_faults() -> list[str]:
    """Everything that reading again whatever papers rest on finds."""
    return [fault for one in read_all() for fault in one.faults]


def lot_of(owner: Staff, material: str, unit: str, expires: date | None = None) -> StockLot:
    arrival = Arrival(material, "L-1", 1, Decimal(5), unit, expires or TODAY + timedelta(days=90), TODAY)
    return stock.receive(arrival=arrival, actor=owner, now=NOW)


# --------------------------------------------------------------------------------------------------- what forbids it


def test_without_a_signed_letter_nothing_is_printed_and_it_says_what_settles_it(visit: Visit, owner: Staff) -> None:
    with pytest.raises(Refused, match=r"No consent letter has been handed over.*signed and countersigned"):
        step_drawing.print_sheet(visit=visit, actor=owner, now=NOW)
    assert not StepSheetCopy.objects.exists()


def test_an_allergy_declared_later_forbids_it(visit: Visit, monkeypatch: pytest.MonkeyPatch) -> None:
    known = step_drawing.case_facts(visit.plan.case, TODAY)
    history = known.history.model_copy(update={"methacrylate": Allergy.POSITIVE})
    allergic = known.model_copy(update={"history": history})
    monkeypatch.setattr(step_drawing, "case_facts", lambda _case, _day: allergic)
    stops = step_drawing._allergy_stops(visit, NOW)
    assert [stop.where for stop in stops] == ["history"]
    assert "methacrylate" in stops[0].why


def test_a_visit_that_fell_away_has_no_sheet(visit: Visit, owner: Staff) -> None:
    gone = services.cancel_visit(visit=visit, seen=1, reason="ill", ask_fee=True, actor=owner, now=NOW)
    assert Stop("The visit is cancelled.", "Book a visit.", "plan") in step_drawing.stops_of(gone, NOW)


def test_a_repair_or_a_visit_without_steps_is_refused_in_words(owner: Staff, booking: Make) -> None:
    bare = accepted_plan(owner)
    visit = services.book_visit(plan=bare, booking=booking(), actor=owner, now=NOW).visit
    with pytest.raises(Refused, match="no option of an estimate"):
        step_drawing.draw(visit, NOW)


def test_a_record_that_only_grew_old_stops_a_plan_at_its_start_and_not_half_way(
    visit: Visit, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = Reason("shelf.gums", Verdict.ASK, "Too old: the gum record.")
    allergy = Reason("G14", Verdict.NO, "An allergy to resin.")
    option = SimpleNamespace(verdict=Verdict.NO, reasons=(old, allergy))
    computed = SimpleNamespace(option=lambda _key: option)
    monkeypatch.setattr(still_holds, "compute_plan", lambda _case, _now: (computed, None))
    assert [stop.why for stop in step_drawing._fact_stops(visit, NOW)] == [old.words, allergy.words]
    visit.plan.state = "under way"
    assert [stop.why for stop in step_drawing._fact_stops(visit, NOW)] == [allergy.words]


# ------------------------------------------------------------------------------------------------------ drawing up


def test_the_sheet_is_that_of_the_items_of_the_visit(plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
    only_22 = tuple(item for item in plan.items.all() if item.words == "Build-up 22")
    asked = booking(items=only_22, key="bonding.bonding", minutes=120)
    visit = services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit
    sheet = step_drawing.draw(visit, NOW)
    assert [row.tooth.iso for row in sheet.teeth] == ["22"]
    assert all(step.key.startswith("bonding.") for step in sheet.steps)


def test_what_is_drawn_up_twice_is_one_row_and_says_what_it_hashes(visit: Visit, owner: Staff, allowed: None) -> None:
    one = step_drawing.draw_up(visit=visit, actor=owner, now=NOW)
    two = step_drawing.draw_up(visit=visit, actor=owner, now=LATER)
    assert one.pk == two.pk
    assert one.sha256 == sha256(one.content.encode())
    assert step_drawing.read_copy(one) == step_drawing.draw(visit, NOW)


def test_a_flipped_byte_in_what_was_drawn_up_is_found_and_named(
    visit: Visit, owner: Staff, allowed: None, capsys: pytest.CaptureFixture[str]
) -> None:
    one = step_drawing.draw_up(visit=visit, actor=owner, now=NOW)
    call_command("verify_letters")
    assert "1 step sheets" in capsys.readouterr().out
    other = flipped(one.content.encode(), 40).decode()
    with guards_lifted():
        StepSheetCopy.objects.filter(pk=one.pk).update(content=other)
    with pytest.raises(CommandError, match=f"step sheet {one.public_id}: what was drawn up was changed"):
        call_command("verify_letters")
    with guards_lifted():
        StepSheetCopy.objects.filter(pk=one.pk).update(sha256=sha256(other.encode()))
    with pytest.raises(CommandError, match=f"step sheet {one.public_id}: the record names no such hash"):
        call_command("verify_letters")


def test_a_flipped_byte_in_a_printed_sheet_is_found_and_named(visit: Visit, owner: Staff, allowed: None) -> None:
    paper = step_drawing.print_sheet(visit=visit, actor=owner, now=NOW, make=render_once)
    assert read_faults() == []
    with guards_lifted():
        Document.objects.filter(pk=paper.pk).update(content=flipped(bytes(paper.content), len(paper.content) // 2))
    assert [fault for fault in read_faults() if f"step-sheet {paper.public_id}" in fault]


def test_who_may_work_by_it(visit: Visit, person: Callable[..., Staff], allowed: None) -> None:
    assert stepping.begin(visit=visit, actor=person(Role.ASSISTANT), now=LATER).number == 1
    with pytest.raises(NotAllowed):
        stepping.begin(visit=visit, actor=person(Role.FRONT_DESK), now=LATER)


# -------------------------------------------------------------------------------------------------------- stamping


def test_done_is_stamped_with_its_instant_once_and_back_takes_it_back(begun: StepSheetCopy, owner: Staff) -> None:
    who: dict[str, Any] = {"copy": begun, "run": "bonding.A01", "actor": owner}
    first = stepping.stamp(kind=StampKind.DONE, now=LATER + timedelta(minutes=4), **who)
    again = stepping.stamp(kind=StampKind.DONE, now=LATER + timedelta(minutes=5), **who)
    assert first.pk == again.pk
    shown = stepping.progress_of(begun)
    assert shown.lines[0].seconds == 240
    assert shown.next is shown.lines[1]
    stepping.stamp(kind=StampKind.BACK, now=LATER + timedelta(minutes=6), **who)
    shown = stepping.progress_of(begun)
    assert shown.next is shown.lines[0]
    assert begun.stamps.count() == 3, "nothing is deleted"


def test_what_cannot_be_stamped_is_refused_with_a_sentence(begun: StepSheetCopy, owner: Staff) -> None:
    who: dict[str, Any] = {"copy": begun, "actor": owner, "now": LATER}
    with pytest.raises(Refused, match="not on the sheet"):
        stepping.stamp(run="bonding.A99", kind=StampKind.DONE, **who)
    with pytest.raises(Refused, match="why it is left out"):
        stepping.stamp(run="bonding.A06", kind=StampKind.LEFT_OUT, **who)
    with pytest.raises(Refused, match="nothing to take back"):
        stepping.stamp(run="bonding.A06", kind=StampKind.BACK, **who)
    assert stepping.stamp(run="bonding.A06", kind=StampKind.LEFT_OUT, reason="not needed", **who).reason == "not needed"


def test_after_a_withdrawal_only_what_makes_safe_is_stamped(
    begun: StepSheetCopy, owner: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stepping, "withdrawn", lambda _visit: True)
    who: dict[str, Any] = {"copy": begun, "run": "bonding.A01", "kind": StampKind.DONE, "actor": owner, "now": LATER}
    with pytest.raises(Refused, match="Consent was withdrawn"):
        stepping.stamp(**who)
    assert stepping.stamp(reason="edge smoothed", **who).reason == "edge smoothed"


def test_a_lot_is_one_of_the_shelf_that_the_step_uses_and_has_not_expired(begun: StepSheetCopy, owner: Staff) -> None:
    tooth = stepping.progress_of(begun).sheet.teeth[0].tooth
    acid = lot_of(owner, "etch-gel", "ml")
    who: dict[str, Any] = {"copy": begun, "actor": owner, "now": LATER}
    made = stepping.note_lot(run=f"bonding.A12@{tooth.key}", lot=acid, **who)
    assert stepping.note_lot(run=f"bonding.A12@{tooth.key}", lot=acid, **who).pk == made.pk
    with pytest.raises(Refused, match="does not use that material"):
        stepping.note_lot(run="bonding.A01", lot=acid, **who)
    with pytest.raises(Refused, match="expired"):
        stepping.note_lot(
            run=f"bonding.A12@{tooth.key}", lot=acid, copy=begun, actor=owner, now=LATER + timedelta(days=200)
        )


# ------------------------------------------------------------------------------------------ found, instead, left out


def test_a_line_of_the_agreed_list_is_taken_word_for_word(
    begun: StepSheetCopy, owner: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stepping, "agreed_list", lambda _visit: ["Decay found: a small filling."])
    who: dict[str, Any] = {"copy": begun, "kind": NoteKind.FOUND, "actor": owner, "now": LATER}
    assert stepping.note(agreed="Decay found: a small filling.", **who).words == ""
    with pytest.raises(Refused, match="not on the list"):
        stepping.note(agreed="Decay found: a crown.", **who)
    with pytest.raises(Refused, match="Say in a word"):
        stepping.note(**who)


def test_only_a_dentist_settles_a_note_and_once(
    begun: StepSheetCopy, owner: Staff, person: Callable[..., Staff]
) -> None:
    note = stepping.note(copy=begun, kind=NoteKind.FOUND, words="a crack", actor=owner, now=LATER)
    with pytest.raises(NotAllowed):
        stepping.settle(note=note, words="it stays", actor=person(Role.ASSISTANT), now=LATER)
    with pytest.raises(Refused, match="why the plan does not change"):
        stepping.settle(note=note, actor=owner, now=LATER)
    stepping.settle(note=note, words="seen before", actor=owner, now=LATER)
    with pytest.raises(Refused, match="settled already"):
        stepping.settle(note=note, words="again", actor=owner, now=LATER)


# ----------------------------------------------------------------------------------------------- minutes to learn from


def _work_through(copy: StepSheetCopy, actor: Staff, minutes: int) -> None:
    now = LATER
    for line in stepping.progress_of(copy).lines:
        if line.run.step.only_if:
            continue
        now += timedelta(minutes=minutes)
        stepping.stamp(copy=copy, run=line.run.key, kind=StampKind.DONE, actor=actor, now=now)


@pytest.mark.parametrize("disturbed", [False, True])
def test_real_minutes_reach_the_offices_own_clock(begun: StepSheetCopy, owner: Staff, disturbed: bool) -> None:
    with pytest.raises(Refused, match="Still open"):
        stepping.close(copy=begun, disturbed=False, why="", actor=owner, now=LATER)
    _work_through(begun, owner, 3)
    after = LATER + timedelta(hours=6)
    if disturbed:
        with pytest.raises(Refused, match="what disturbed it"):
            stepping.close(copy=begun, disturbed=True, why="", actor=owner, now=after)
    stepping.close(copy=begun, disturbed=disturbed, why="fire alarm" if disturbed else "", actor=owner, now=after)
    rows = {f"{row.treatment}.{row.block}": row for row in WorkTiming.objects.all()}
    # Three minutes from each tap to the next.
    lines = stepping.progress_of(begun).lines
    for name in ("set-up", "per-tooth", "finish"):
        count = sum(line.run.step.block == f"bonding.bonding.{name}" and not line.run.step.only_if for line in lines)
        assert rows[f"bonding.{name.replace('per-', 'per ')}"].minutes == 3 * count
    assert rows["bonding.per tooth"].teeth == 3
    assert rows["reshaping.per tooth"].teeth == 1
    assert {row.disturbed for row in rows.values()} == {disturbed}


def test_a_block_of_which_a_step_was_left_out_is_not_learnt_from(begun: StepSheetCopy, owner: Staff) -> None:
    _work_through(begun, owner, 1)
    who: dict[str, Any] = {"copy": begun, "actor": owner, "now": LATER + timedelta(hours=5)}
    stepping.stamp(run="bonding.A24", kind=StampKind.LEFT_OUT, reason="no camera", **who)
    stepping.close(disturbed=False, why="", **who)
    assert "finish" not in set(WorkTiming.objects.filter(treatment="bonding").values_list("block", flat=True))
    with pytest.raises(Refused, match="closed"):
        stepping.stamp(run="bonding.A01", kind=StampKind.BACK, **who)
