"""Guesses beside an estimate: made when it is checked, frozen, never in the price, and learned from."""

from datetime import timedelta
from typing import Any

import pytest

from planner.patients import payers
from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case, Estimate, FrozenPlan
from planner.plans.payer_guesses import latest_guess, make_guess, off_percent, read_guess, record_paid
from planner.plans.payer_models import PayerGuess
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.benefit_plans import PRIVATE, Basis
from planner.rules.benefit_sheets import Claim, guess_sheet, missing_teeth, thaw_guess, works_of
from planner.rules.mouth import CaseFacts
from planner.rules.results import sha256
from planner.rules.teeth import Tooth
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailEntry
from tests.pages import priced_office
from tests.payers import bronze, cover, desk_of, plan_row, used, with_payer
from tests.support import NOW, TODAY, guards_lifted

pytestmark = pytest.mark.django_db

BONDED = "reshape-bond"


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def desk(owner: Staff) -> Staff:
    return desk_of(owner)


@pytest.fixture
def case(owner: Staff, lead_case: CaseFacts) -> Case:
    return import_case_file(facts=lead_case, actor=owner, now=NOW).case


def checked(case: Case, owner: Staff) -> Estimate:
    plan, book = estimates.compute_plan(case, NOW)
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    draft = estimates.draft_estimate(case=case, **who)
    return estimates.check_estimate(estimate=draft, seen=1, plan_json=plan.to_json(), book=book, **who)


def frozen_of(estimate: Estimate) -> FrozenPlan:
    assert estimate.frozen is not None
    return estimate.frozen


def guess_of(estimate: Estimate) -> PayerGuess:
    found = latest_guess(estimate)
    assert found is not None
    return found


# ---------------------------------------------------------------- beside the price, never in it


def test_checking_freezes_the_guess_and_changes_no_price(case: Case, owner: Staff, desk: Staff) -> None:
    with_payer(case.patient, desk)
    estimate = checked(case, owner)
    row = guess_of(estimate)
    sheet = read_guess(row)
    plan = estimates.read_frozen(frozen_of(estimate))
    assert (row.sha256, row.plan_sha256) == (sha256(bytes(row.content)), frozen_of(estimate).sha256)
    assert thaw_guess(sheet.to_json()) == sheet
    assert sheet.payers == ("Harbour Mutual, Bronze",)
    for one in sheet.options:
        total = plan.option(one.option).estimate.total_cents
        assert one.part.whole_cents == one.part.if_nothing_cents == total
        assert sum(line.fee_cents for line in one.guess.lines) == total - plan.option(one.option).estimate.tax_cents
    # Build-ups of 11, 21, 22 at 422.75 after the package; the plan's fee is 318.00. Worked out by hand:
    # (318.00 − 75.00) × 80 % + 2 × 254.40 = 703.20, of 880.00 left.
    bonded = sheet.of(BONDED)
    assert bonded is not None
    assert bonded.guess.told_cents == 70320
    assert bonded.part.as_told_cents == 161825 - 70320


def test_totals_are_the_same_with_and_without_payers(case: Case, owner: Staff, desk: Staff) -> None:
    without = estimates.compute_plan(case, NOW)[0].to_json()
    with_payer(case.patient, desk)
    assert estimates.compute_plan(case, NOW)[0].to_json() == without
    assert bytes(frozen_of(checked(case, owner)).content) == without


def test_nobody_covered_gets_no_guess(case: Case, owner: Staff, desk: Staff) -> None:
    estimate = checked(case, owner)
    assert latest_guess(estimate) is None
    plan = estimates.read_frozen(frozen_of(estimate))
    with pytest.raises(Refused, match="No cover of this person"):
        make_guess(estimate=estimate, plan=plan, actor=desk, now=NOW)


def test_plans_that_cannot_be_do_not_hold_up_the_check(case: Case, owner: Staff, desk: Staff) -> None:
    row = with_payer(case.patient, desk)
    less = bronze(yearly_maximum_cents=100)
    payers.change_plan(row=row.plan, plan=less, reason="A slip.", actor=desk, now=NOW)
    estimate = checked(case, owner)
    assert estimate.state == "checked"
    assert latest_guess(estimate) is None
    assert TrailEntry.objects.filter(act="payer.no_guess").count() == 1
    plan = estimates.read_frozen(frozen_of(estimate))
    with pytest.raises(Refused, match=r"120\.00 of the yearly maximum is used and it is 100\.00"):
        make_guess(estimate=estimate, plan=plan, actor=desk, now=NOW)


def test_a_new_answer_makes_a_new_guess_and_the_old_one_stays(case: Case, owner: Staff, desk: Staff) -> None:
    held = with_payer(case.patient, desk)
    estimate = checked(case, owner)
    plan = estimates.read_frozen(frozen_of(estimate))
    who: dict[str, Any] = {"estimate": estimate, "plan": plan, "actor": desk, "now": NOW}
    assert make_guess(**who) == guess_of(estimate)
    payers.tell_used(cover=held, used=used(maximum_cents="900"), actor=desk, now=NOW)
    new = make_guess(**who)
    assert PayerGuess.objects.filter(estimate=estimate).count() == 2
    found = read_guess(new).of(BONDED)
    assert found is not None
    assert found.guess.told_cents == 10000
    only_looks = make_guess(**who, claim=Claim(looks_only=(Tooth.from_iso("11"), Tooth.from_iso("21"))))
    found = read_guess(only_looks).of(BONDED)
    assert found is not None
    assert [line.told_cents for line in found.guess.lines if line.service == "build-up"] == [0, 0, 10000]
    with pytest.raises(Refused, match="the finish comes after the start") as caught:
        make_guess(**who, claim=Claim(starts=TODAY, finishes=TODAY - timedelta(days=1)))
    assert caught.value.field == "finishes"


def test_a_spoiled_guess_is_refused(case: Case, owner: Staff, desk: Staff) -> None:
    with_payer(case.patient, desk)
    row = guess_of(checked(case, owner))
    with guards_lifted():
        PayerGuess.objects.filter(pk=row.pk).update(content=b"{}")
    row.refresh_from_db()
    with pytest.raises(Refused, match="its hash differs"):
        read_guess(row)


def test_a_payer_is_told_nothing_of_the_history(case: Case, owner: Staff, desk: Staff, lead_case: CaseFacts) -> None:
    held = with_payer(case.patient, desk)
    text = bytes(guess_of(checked(case, owner)).content).decode().casefold()
    assert not [word for word in PRIVATE if word in text]
    for said in ("Does pregnancy matter?", "HbA1c 8.1: is a bridge paid?", "An eating disorder: paid?"):
        with pytest.raises(Refused, match="A payer is never told"):
            payers.ask_payer(cover=held, words=said, due=TODAY, actor=desk, now=NOW)


def test_an_absent_tooth_under_a_bridge_is_told_as_missing(case: Case) -> None:
    plan, _book = estimates.compute_plan(case, NOW)
    assert missing_teeth(plan) == {Tooth.from_iso("12").key: "always"}
    bridge = works_of(plan, plan.option("braces-then-wing-bridge"), TODAY, TODAY)
    assert [work.missing_since for work in bridge if work.service == "wing-bridge"] == ["always"]
    sheet = guess_sheet(plan, "", ("none", BONDED), (), TODAY)
    assert [one.option for one in sheet.options] == [BONDED]


# ---------------------------------------------------------------- what was paid in the end


def test_less_paid_moves_to_the_patient_who_signed_and_widens_own_guesses(
    case: Case, owner: Staff, desk: Staff
) -> None:
    own = Basis(told="own guess", by="Rhea Osgood", on=TODAY)
    row = plan_row(desk, basis=own)
    payers.add_cover(patient=case.patient, plan=row, cover=cover(), reason="Card seen.", actor=desk, now=NOW)
    estimate = checked(case, owner)
    first = guess_of(estimate)
    assert read_guess(first).of(BONDED).guess.told_cents == 0  # type: ignore[union-attr]
    (held,) = payers.covers_of(case.patient)
    payers.tell_used(cover=held.cover, used=used(), actor=desk, now=NOW)
    plan = estimates.read_frozen(frozen_of(estimate))
    guess = make_guess(estimate=estimate, plan=plan, actor=desk, now=NOW)
    given: dict[str, Any] = {"guess": guess, "option": BONDED, "on": TODAY, "actor": desk, "now": NOW}
    with pytest.raises(Refused, match="payer's reason is missing"):
        record_paid(paid_cents=35160, signed_if_nothing=True, reason="", **given)
    paid, short = record_paid(paid_cents=35160, signed_if_nothing=True, reason="one surface only", **given)
    assert (paid.guessed_cents, paid.to_patient_cents, short.off_percent) == (70320, 35160, 50)
    with pytest.raises(Refused, match="written down already"):
        record_paid(paid_cents=35160, signed_if_nothing=True, reason="again", **given)
    assert off_percent(owner.office) == {"own guess": 50}
    wider = read_guess(make_guess(estimate=estimate, plan=plan, actor=desk, now=NOW)).of(BONDED)
    assert wider is not None
    assert (wider.guess.told_cents, wider.guess.likely_low_cents, wider.guess.off_percent) == (70320, 35160, 50)


# ---------------------------------------------------------------- writing down


def test_versions_and_who_may(case: Case, owner: Staff, desk: Staff, outsider: Staff, person: Any) -> None:
    held = with_payer(case.patient, desk)
    newer = payers.change_cover(row=held, cover=cover(continued=True), reason="Left work.", actor=desk, now=NOW)
    assert (newer.series, newer.number) == (held.series, 2)
    with pytest.raises(StaleEdit):
        payers.change_cover(row=held, cover=cover(), reason="Once more.", actor=desk, now=NOW)
    changed = payers.change_plan(row=held.plan, plan=bronze(name="Silver"), reason="New.", actor=desk, now=NOW)
    with pytest.raises(StaleEdit):
        payers.change_plan(row=held.plan, plan=bronze(), reason="Once more.", actor=desk, now=NOW)
    (one,) = payers.covers_of(case.patient)
    assert (one.cover, one.plan, one.held.cover.continued) == (newer, changed, True)
    front = person(Role.FRONT_DESK)
    payers.add_plan(office=owner.office, plan=bronze(name="Gold"), reason="Phone.", actor=front, now=NOW)
    for actor in (front, owner, person(Role.DENTIST), outsider):
        with pytest.raises(NotAllowed):
            payers.change_plan(row=changed, plan=bronze(), reason="No.", actor=actor, now=NOW)
    for actor in (owner, person(Role.ASSISTANT), person(Role.KEEPER)):
        with pytest.raises(NotAllowed):
            payers.add_plan(office=owner.office, plan=bronze(name="Tin"), reason="No.", actor=actor, now=NOW)


def test_what_cannot_be_written_down(case: Case, desk: Staff) -> None:
    held = with_payer(case.patient, desk)
    who: dict[str, Any] = {"actor": desk, "now": NOW}
    office = desk.office
    with pytest.raises(Refused, match="written down already"):
        payers.add_plan(office=office, plan=bronze(), reason="Twice.", **who)
    with pytest.raises(Refused, match="two currencies"):
        payers.add_plan(office=office, plan=bronze(name="Far", currency="USD"), reason="x", **who)
    with pytest.raises(Refused, match="stays in the record"):
        payers.add_plan(office=office, plan=bronze(name="Tin"), reason=" ", **who)
    later = Basis(told="phone", by="Ms Hale", on=TODAY + timedelta(days=1))
    with pytest.raises(Refused, match="lies in the future"):
        payers.add_plan(office=office, plan=bronze(name="Tin", basis=later), reason="x", **who)
    with pytest.raises(Refused, match="is there twice"):
        payers.add_cover(patient=case.patient, plan=held.plan, cover=cover(), reason="Twice.", **who)
    with pytest.raises(Refused, match=r"1200\.00 of the yearly maximum is used and it is 1000\.00"):
        payers.tell_used(cover=held, used=used(maximum_cents="1200"), **who)
    with pytest.raises(Refused, match="This day is over"):
        payers.ask_payer(cover=held, words="Paid?", due=TODAY - timedelta(days=1), **who)
    question = payers.ask_payer(cover=held, words="Paid?", due=TODAY, **who)
    answer: dict[str, Any] = {"question": question, "words": "Yes.", "told": "phone", "by": "Ms Hale", "on": TODAY}
    payers.note_answer(**answer, **who)
    with pytest.raises(Refused, match="answered already"):
        payers.note_answer(**answer, **who)


def test_reading_covers_takes_as_many_queries_for_two_as_for_one(case: Case, desk: Staff, queries: Any) -> None:
    with_payer(case.patient, desk)
    with queries.counted() as one:
        payers.covers_of(case.patient)
    other = payers.add_plan(office=desk.office, plan=bronze(payer="Gull"), reason="x", actor=desk, now=NOW)
    given: dict[str, Any] = {
        "plan": other,
        "cover": cover(held_as="dependant"),
        "reason": "x",
        "actor": desk,
        "now": NOW,
    }
    payers.add_cover(patient=case.patient, **given)
    with queries.counted() as two:
        assert len(payers.covers_of(case.patient)) == 2
    assert len(one) == len(two) == 3
