"""Twenty questions after a complaint: each answered from rows, each with its page, and "nothing on record" said."""

import io
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from PIL import Image

from planner.letters.consents import answer_question, ask_question
from planner.patients.models import Patient
from planner.patients.pictures import add_picture
from planner.patients.services import record_history
from planner.plans.accepting import accept_option
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.practice import stock
from planner.practice.models import Staff
from planner.practice.stock import Arrival
from planner.rules.frozen import facts_in
from planner.rules.mouth import Allergy, CaseFacts, History
from planner.rules.partial import whole_of
from planner.rules.step_sheet import StepSheet
from planner.story.answers import answers
from planner.story.ground import Ground
from planner.story.services import note_step, tell_problem
from planner.visits import step_drawing, stepping
from planner.visits.services import Booking, book_visit, mark_kept
from planner.visits.step_models import NoteKind
from tests.letters.consents import handed, shown_estimate, sign
from tests.pages import client_of, priced_office
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db
SIGNED = NOW + timedelta(days=2)


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


def said(ground: Ground) -> dict[int, str]:
    """The answers in words, by the number of the question."""
    return {one.number: " | ".join(line.words for line in one.lines) or one.none for one in answers(ground)}


def test_without_data_each_question_says_so(owner: Staff, lead_case: CaseFacts) -> None:
    """A case that was only taken in: what it was measured by and wished for is there, and nothing is made up."""
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    told = answers(Ground(case.patient, case, NOW))
    assert [one.number for one in told] == list(range(1, 21))
    with_data = {one.number for one in told if one.lines}
    assert with_data <= {1, 2, 15, 17}
    assert {1, 2} <= with_data
    assert all(one.none.endswith(".") for one in told)


def _whole_story(owner: Staff, lead_case: CaseFacts, monkeypatch: pytest.MonkeyPatch) -> tuple[Patient, Case]:
    """Shown, read, asked about, signed, accepted, worked on, photographed, complained about."""
    shown = shown_estimate(owner, lead_case)
    case, patient = shown.case, shown.case.patient
    consent = handed(shown, owner)
    question = ask_question(
        consent=consent, words="Will it hurt?", asked_by=patient.name, clinical=True, actor=owner, now=NOW
    )
    answer_question(question=question, words="Hardly.", actor=owner, now=NOW)
    sign(consent, owner)
    assert shown.frozen is not None
    plan_read = Ground(patient, case, NOW).plan
    assert plan_read is not None
    option = plan_read.option(consent.option_key)
    shown.refresh_from_db()
    plan = accept_option(
        estimate=shown, seen=shown.version, option=option.key, chosen=whole_of(option), by=patient.name,
        capacity="patient", actor=owner, now=SIGNED,
    )  # fmt: skip
    booking = Booking(
        clinician=owner, chair="Chair 1", day=TODAY + timedelta(days=3), hour=NOW.astimezone(owner.office.zone).time(),
        minutes=120, words="Bonding", key="bonding.bonding", items=tuple(plan.items.filter(treatment="bonding")),
    )  # fmt: skip
    visit = book_visit(plan=plan, booking=booking, actor=owner, now=SIGNED).visit
    monkeypatch.setattr(step_drawing, "stops_of", lambda _visit, _now: ())
    copy = stepping.begin(visit=visit, actor=owner, now=visit.starts)
    lot = Arrival("etch-gel", "L-77", 1, Decimal(5), "ml", TODAY + timedelta(days=90), TODAY)
    acid = stock.receive(arrival=lot, actor=owner, now=NOW)
    sheet: StepSheet = stepping.progress_of(copy).sheet
    run = f"bonding.A12@{sheet.teeth[0].tooth.key}"
    stepping.note_lot(copy=copy, run=run, lot=acid, actor=owner, now=visit.starts)
    stepping.note(copy=copy, kind=NoteKind.FOUND, words="Old filling.", actor=owner, now=visit.starts)
    mark_kept(visit=visit, seen=visit.version, actor=owner, now=visit.ends)
    after = visit.ends + timedelta(days=1)
    for shade, on in ((0, TODAY), (99, after.date())):
        dots = io.BytesIO()
        Image.new("L", (64, 64), shade).save(dots, "PNG")
        about = {"with_scale": True}
        add_picture(
            patient=patient, content=dots.getvalue(), kind="photo", on=on, about=about, actor=owner, now=after
        )  # fmt: skip
    told: dict[str, Any] = {"told_by": patient.name, "how": "by telephone", "words": "It is rough."}
    problem = tell_problem(patient=patient, told_at=after, actor=owner, now=after + timedelta(hours=1), **told)
    note_step(
        problem=problem, done_at=after + timedelta(hours=2), words="Asked to come in.", actor=owner,
        now=after + timedelta(hours=2),
    )  # fmt: skip
    return patient, case


def test_each_is_answered_from_what_happened(
    owner: Staff, lead_case: CaseFacts, monkeypatch: pytest.MonkeyPatch
) -> None:
    patient, case = _whole_story(owner, lead_case, monkeypatch)
    ground = Ground(patient, case, NOW + timedelta(days=30))
    found = said(ground)
    first_wish = min(lead_case.wishes, key=lambda wish: wish.rank)
    wanted = {
        1: ["The plan rests on this set", "with a caliper", "Measured a second time: the width of"],
        2: [f"1. “{first_wish.words}”"],
        3: ["Doing nothing was among them.", "in person", f"to {patient.name}"],
        5: [ground.frozen.rules_sha256 if ground.frozen else "?"],
        7: ["in English, 11 points", "2 days after the letter that was signed was handed over"],
        8: ["“Will it hurt?”", "before signing: “Hardly.”"],
        9: [f"{patient.name} signed on", "by right of: self", "of age", "Countersigned by Olive Owner"],
        10: ["no interpreter was named"],
        12: ["found", "Old filling.", "not on the list agreed beforehand", "not settled by a dentist"],
        13: ["in date", "Priced with version 1 of the office book"],
        15: ["the first visit of work"],
        16: ["etch-gel, lot L-77, to be used by"],
        17: ["Olive Owner"],
        18: ["before the work", "after the work", "at one scale"],
        20: ["“It is rough.”", "Written down 1 hour later", "Within 24 hours", "Asked to come in."],
    }
    for number, parts in wanted.items():
        for part in parts:
            assert part in found[number], (number, part, found[number])
    assert found[4] == "No option was struck."
    assert found[14] == "Nothing was guessed about payers."
    assert found[19] == "Nothing is on record."
    # What is promised to come off is what the frozen plan says, to the tenth of a millimetre.
    assert ground.plan is not None
    option = ground.plan.option(ground.chosen)
    taken = [line for line in option.work if line.removal_tenths]
    promised = [line for line in found[11].split(" | ") if line.startswith("Promised")]
    assert len(promised) == len(taken)
    assert facts_in(ground.plan).patient.name == patient.name
    _every_line_leads_somewhere(owner, ground)


def _every_line_leads_somewhere(owner: Staff, ground: Ground) -> None:
    client = client_of(owner)
    urls = {line.url for one in answers(ground) for line in one.lines if line.url}
    assert len(urls) >= 6
    assert {url: client.get(url).status_code for url in urls} == dict.fromkeys(urls, 200)


def test_allergies_are_those_of_that_day_and_not_of_later(owner: Staff, lead_case: CaseFacts) -> None:
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    later = History(signed_on=TODAY + timedelta(days=1), methacrylate=Allergy.POSITIVE, latex=False)
    record_history(patient=case.patient, facts=later, actor=owner, now=NOW + timedelta(days=1))
    assert "methacrylate: positive" in said(Ground(case.patient, case, NOW + timedelta(days=2)))[15]
    before = said(Ground(case.patient, case, NOW + timedelta(minutes=1)))[15]
    assert "methacrylate: positive" not in before
