"""The lead case's plan as bytes, its papers rendered once, and a frozen plan in the database."""

import io
import json
import subprocess
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pypdf
import pytest

from planner.letters.issue import Answered, Issue
from planner.letters.papers import KINDS, job, kind_of
from planner.letters.pdf import Rendered
from planner.plans.arranging import Basis, Payer, Typed, arrangement_data, try_out
from planner.plans.casefiles import import_case_file
from planner.plans.estimates import check_estimate, compute_plan, draft_estimate
from planner.plans.models import Estimate
from planner.practice.models import Staff
from planner.rules.after_care import care_sheet
from planner.rules.benefit_plans import Basis as BenefitBasis
from planner.rules.benefit_plans import HeldPlan
from planner.rules.benefit_sheets import guess_sheet
from planner.rules.mouth import CaseFacts
from planner.rules.results import CasePlan, plain, sha256, stable_json
from planner.rules.treatments import all_treatments
from tests.letters.account_rows import TOLD, account
from tests.letters.sample import DAY_0, case_plan, plan_with, tooth
from tests.payers import bronze, cover, used
from tests.rules.cases import lead_facts
from tests.rules.test_step_sheet import sheet_for
from tests.rules.test_visit_minutes import ADDED, EDGE
from tests.support import NOW, render_once

ISSUE = Issue(
    number="104",
    version=2,
    handed_on=DAY_0 - timedelta(days=2),
    valid_through=DAY_0 + timedelta(days=84),
    dentist="Dr Imke Sorrel",
    dentist_role="owner dentist",
    dentist_licence="D-4471",
    own_risks=("You may grind your teeth at night. Chips are then more likely.",),
    questions=(Answered("Will it hurt?", "Most people need no injection.", "Dr Imke Sorrel", DAY_0),),
)


@cache
def _read(content: bytes) -> list[tuple[str, float]]:
    """Text and rightmost beginning of a piece of text, in points, of each page."""
    found = []
    for page in pypdf.PdfReader(io.BytesIO(content)).pages:
        starts = [0.0]

        def note(
            text: str, cm: list[float], tm: list[float], _font: object, _size: float, starts: list[float] = starts
        ) -> None:
            if text.strip():
                starts.append(tm[4] * cm[0] + tm[5] * cm[2] + cm[4])

        text = page.extract_text(visitor_text=note)
        found.append((" ".join(text.split()), max(starts)))
    return found


def texts(content: bytes) -> list[str]:
    """The text of each page, read by a library that had no part in making it; runs of blanks made one."""
    return [text for text, _start in _read(content)]


def rightmost(content: bytes) -> list[float]:
    """Where the rightmost piece of text begins on each page, in points from the left."""
    return [start for _text, start in _read(content)]


NOT_NOW = "not-now-letter"
AGREEMENT = "instalment-agreement"
STEP_SHEET = "step-sheet"
AFTER_CARE = "after-care"
RESULT = "promise-against-result"
ORTHODONTIST = "request-to-orthodontist"
PAYER = "question-to-payer"
TAKE_HOME = "take-home"
HANDED_OVER = [
    kind
    for kind in KINDS
    if kind not in (NOT_NOW, AGREEMENT, STEP_SHEET, AFTER_CARE, RESULT, ORTHODONTIST, PAYER, TAKE_HOME, *TOLD)
]
"""The papers of a case in which something can be offered, without what is agreed on beside it."""


@cache
def rendered(kind: str, points: int = 11) -> Rendered:
    """A paper of the lead case in one print size, made once for all tests; "not now" of the case held back."""
    plan = plan_with() if kind == NOT_NOW else case_plan()
    return render_once(job(plan.to_json(), kind, replace(ISSUE, **beside(kind)), points=kind_of(kind).points or points))


def beside(kind: str) -> dict[str, str]:
    """What stands beside the plan on a paper of this kind and on no other."""
    made = {
        AGREEMENT: ("arrangement", arrangement),
        STEP_SHEET: ("steps", drawn_up),
        AFTER_CARE: ("care", taken_home),
        RESULT: ("result", after_two_years),
        PAYER: ("payer_guess", guessed),
        TAKE_HOME: ("showing", shown),
    }
    if kind in TOLD:
        return {"account": account(kind)}
    return {made[kind][0]: made[kind][1]()} if kind in made else {}


@cache
def shown() -> str:
    """What was asked and offered when the lead case was shown, as it is frozen."""
    said = {
        "plan_sha256": sha256(case_plan().to_json()),
        "shown_on": DAY_0.isoformat(),
        "shown_by": "Devraj Lund",
        "answer": {},
        "questions": [
            {
                "words": "Will it hurt my nerve?",
                "asked_by": "Anselm",
                "answers": [{"words": "Nothing is drilled.", "by": "Dr Imke Sorrel", "on": DAY_0.isoformat()}],
                "owner": "Dr Imke Sorrel",
                "due_on": "",
                "clinical": True,
            },
            {
                "words": "May my aunt come along?",
                "asked_by": "Anselm",
                "answers": [],
                "owner": "Devraj Lund",
                "due_on": (DAY_0 + timedelta(days=3)).isoformat(),
                "clinical": False,
            },
        ],
        "days": {"call": (DAY_0 + timedelta(days=5)).isoformat()},
        "parts": {"state": "offered", "at_most": 6, "arrangement": json.loads(arrangement())},
        "account": {},
    }
    return stable_json(said).decode()


@cache
def guessed() -> str:
    """What an invented payer is guessed to add to the lead case's options, as it is frozen."""
    return guess_for(case_plan())


def guess_for(plan: CasePlan) -> str:
    """What an invented payer is guessed to add to the options of ``plan``, as it is frozen."""
    content = plan.to_json()
    own = BenefitBasis(told="own guess", by="Rhea Osgood", on=DAY_0)
    held = HeldPlan(plan=bronze(basis=own), cover=cover(basis=own), used=(used(basis=own),))
    keys = [option.key for option in plan.options]
    return guess_sheet(plan, sha256(content), keys, [held], DAY_0).to_json().decode()


@cache
def taken_home() -> str:
    """What the lead case takes home after its bonding."""
    known = all_treatments()
    sheet = care_sheet([(known["reshaping"], "reshaping"), (known["bonding"], "bonding")])
    about = {"visit": "Bonding", "day": "2026-03-12", "next": "2026-03-26"}
    return stable_json(plain(sheet) | about | {"plan_sha256": sha256(case_plan().to_json())}).decode()


@cache
def after_two_years() -> str:
    """What the lead case's bonding came to after two years, as it is frozen: one corner chipped and was mended."""
    reviews = [
        ("when it was done", "2026-03-12", False),
        ("after 14 days", "2026-03-26", True),
        ("after 12 months", "2027-03-15", True),
        ("after 24 months", "2028-03-13", True),
    ]
    sizes = {
        "13": ([78, 78, 78, 78], [101, 96, 96, 96], []),
        "11": ([83, 89, 89, 88], [105, 105, 105, 105], []),
        "21": ([84, 89, 90, 90], [106, 106, 106, 106], []),
        "22": ([55, 71, 70, 70], [83, 93, 94, 91], [("2027-01-20", "chipped, mended at this visit")]),
    }
    wishes = [
        (1, "the gap beside my left front tooth", (9, 9, 8)),
        (2, "the pointed one on the right", (8, 8, 8)),
        (3, "I don't want healthy teeth ground down", (10, 10, 10)),
    ]
    asked = [(moment, on) for moment, on, asked in reviews if asked]
    said = {
        "format": "leastways-result",
        "version": 1,
        "plan": "plan-1",
        "plan_sha256": sha256(case_plan().to_json()),
        "name": "Adding to three teeth and reshaping one",
        "name_es": "",
        "accepted_on": "2026-03-03",
        "on": "2028-03-13",
        "done_on": "2026-03-12",
        "is_open": False,
        "within_tenths": 2,
        "looked": True,
        "reviews": [
            {"moment": moment, "on": on, "by": "Dr Imke Sorrel", "instrument": "caliper", "asked": asked}
            for moment, on, asked in reviews
        ],
        "teeth": [
            {
                "tooth": tooth(iso).key,
                "width": width,
                "length": length,
                "happened": [{"on": on, "condition": condition} for on, condition in happened],
            }
            for iso, (width, length, happened) in sizes.items()
        ],
        "wishes": [
            {
                "rank": rank,
                "words": words,
                "scores": [
                    {"moment": moment, "on": on, "score": score}
                    for (moment, on), score in zip(asked, scores, strict=True)
                ],
            }
            for rank, words, scores in wishes
        ],
        "minutes": {"planned": 194, "real": 209, "visits": 1, "disturbed": False},
        "money": {"agreed_cents": 161825, "paid_cents": 161825, "later_cents": 0, "free": 1},
        "next_on": "",
    }
    return stable_json(said).decode()


@cache
def drawn_up() -> str:
    """The step sheet of the lead case's bonding, as it is kept."""
    return stable_json(
        {
            "sheet": plain(sheet_for(lead_facts(), EDGE, *ADDED)),
            "visit": {
                "id": "0",
                "words": "Bonding",
                "day": "2026-03-12",
                "from": "08:30",
                "to": "12:00",
                "chair": "Chair 1",
                "clinician": "Dr Imke Sorrel",
            },
            "if_then": ["Decay under the edge of 22: a small filling in the same visit."],
            "plan_sha256": sha256(case_plan().to_json()),
        }
    ).decode()


@cache
def arrangement() -> str:
    """Five instalments with interest for the lead case, paid by somebody else, as they are frozen."""
    plan = case_plan()
    option = plan.option(plan.recommended)
    total, deposit = option.estimate.total_cents, option.estimate.deposit_cents
    basis = Basis(
        option.key, option.name, total, deposit, DAY_0, "", plan.currency, plan.currency, "us", 6, "", "", DAY_0
    )
    made = try_out(basis, Typed(deposit, 5, DAY_0 + timedelta(days=31), Decimal("8.24"), DAY_0 + timedelta(days=60)))
    payer = Payer("Marguerite Brightwater", "a parent", "12 Mill Lane")
    return stable_json(arrangement_data("104-2", sha256(plan.to_json()), basis, made, payer)).decode()


@pytest.fixture(scope="session")
def plan_json() -> bytes:
    return case_plan().to_json()


@pytest.fixture(scope="session")
def papers() -> dict[str, Rendered]:
    """Every kind of paper of the lead case."""
    return {kind: rendered(kind) for kind in KINDS}


@pytest.fixture
def checked(owner: Staff, lead_case: CaseFacts) -> Estimate:
    """A checked estimate of the lead case in the test office."""
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    plan, book = compute_plan(case, NOW)
    draft = draft_estimate(case=case, actor=owner, now=NOW)
    return check_estimate(estimate=draft, seen=1, plan_json=plan.to_json(), book=book, actor=owner, now=NOW)


_XHTML = "{http://www.w3.org/1999/xhtml}"
_MM = 72 / 25.4


def words_in_the_margin(content: bytes, folder: Path) -> list[str]:
    """Words that run into the right margin, by the places that poppler finds: what runs over the edge is lost."""
    path = folder / "paper.pdf"
    path.write_bytes(content)
    found = subprocess.run(["pdftotext", "-bbox", str(path), "-"], capture_output=True, text=True, check=True).stdout
    over = []
    for page in ElementTree.fromstring(found).iter(f"{_XHTML}page"):
        words = list(page.iter(f"{_XHTML}word"))
        assert words
        edge = float(page.get("width", "")) - 12 * _MM
        over += [word.text or "" for word in words if float(word.get("xMax", "")) > edge]
    return over
