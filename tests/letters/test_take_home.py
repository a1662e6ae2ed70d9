"""The paper that is taken home of a showing: what stands on it, in which language, and that it says what others say."""

import json
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from planner.letters.paper_facts import facts_of_paper, rows_of
from planner.letters.papers import KINDS, job
from planner.letters.parts_said import parts_said
from planner.letters.pdf import PaperError
from planner.letters.read_back import Printed, printed
from planner.letters.take_home_said import KEY
from planner.plans.models import Answer
from planner.rules.papers_agree import About, Paper, contradictions
from tests.letters.conftest import ISSUE, rendered, shown
from tests.letters.sample import case_plan


def words(told: Mapping[str, Any], language: str = "en") -> str:
    html = job(case_plan().to_json(), KEY, replace(ISSUE, showing=json.dumps(told)), language=language).html
    return " ".join(re.sub(r"<style.*?</style>|<[^>]+>", " ", html, flags=re.DOTALL).replace("\xa0", " ").split())


def paper(kind: str, said: Printed | None = None) -> Paper:
    facts = facts_of_paper(said or printed(rendered(kind).content), "en")
    return Paper(str(KINDS[kind].title), kind, "104, version 2", "en", facts, for_patient=True)


def test_it_holds_options_money_questions_and_what_comes_next() -> None:
    said = words(json.loads(shown()))
    for part in (
        "We went through this with you on 2 March 2026 (Devraj Lund).",
        "No treatment, keep watching",
        "CAD 1,618.25",
        "Deposit to book the first visit, part of the total",
        "Repairs after the first year.",
        "The prices hold through 25 May 2026",
        "“Will it hurt my nerve?” Nothing is drilled. (Dr Imke Sorrel, 2 March 2026)",
        "“May my aunt come along?” Still open. Devraj Lund gives you an answer by 5 March 2026.",
        "We ring you on 7 March 2026, as you said we may.",
    ):
        assert part in said, part


def test_a_call_whose_day_is_past_is_not_promised_for_it() -> None:
    told = json.loads(shown())
    assert ISSUE.handed_on is not None
    told["days"] = {"call": (ISSUE.handed_on - timedelta(days=1)).isoformat()}
    assert "We ring you in the next days, as you said we may." in words(told)
    told["days"] = {"call": ISSUE.handed_on.isoformat()}
    assert "We ring you on 28 February 2026, as you said we may." in words(told)


def test_the_schedule_is_there_in_full() -> None:
    told = json.loads(shown())["parts"]
    made = parts_said(told, case_plan(), "en")
    # 1,618.25 less the deposit of 560.00, in five monthly parts at 8.24 % a year.
    assert [one.on for one in made.parts] == [
        "before the first visit is booked", "2 April 2026", "2 May 2026", "2 June 2026", "2 July 2026", "2 August 2026",
    ]  # fmt: skip
    cents = [int(re.sub(r"\D", "", one.amount)) for one in made.parts]
    assert cents[0] == 56000
    assert sum(cents) == 164015
    assert made.parts[-1].left == "CAD\xa00.00"
    assert dict(made.sums)["All you pay, deposit included"] == "CAD\xa01,640.15"
    assert dict(made.sums)["Interest, by the year"] == "8.24\xa0%"
    said = words(json.loads(shown()))
    assert all(one.amount.replace("\xa0", " ") in said for one in made.parts)


def test_after_a_yes_it_says_what_was_paid_and_the_next_visit_instead() -> None:
    told = json.loads(shown())
    told["answer"] = {"kind": Answer.ALL, "on": "2026-03-03"}
    told["days"] = {"visit": "2026-03-12T08:30"}
    told["account"] = {
        "name": "x", "agreed_cents": 161825, "paid_cents": 56000, "held_cents": 40000, "owed_cents": 0,
        "to_pay_cents": 105825, "deposit_due_cents": 0,
    }  # fmt: skip
    said = words(told)
    for part in ("You said yes on 3 March 2026.", "12 March 2026 at 08:30", "Paid so far CAD 560.00",
                 "still to be done CAD 400.00", "Still to pay in all CAD 1,058.25"):  # fmt: skip
        assert part in said, part
    assert "as you said we may" not in said
    told["answer"]["kind"] = Answer.NO_TREATMENT
    assert "You said yes" not in words(told)


def test_it_states_what_the_estimate_and_the_option_sheet_state_and_a_changed_price_is_found() -> None:
    rest = [paper(kind) for kind in ("estimate", "option-sheet")]
    assert contradictions((*rest, paper(KEY))) == ()
    said = printed(rendered(KEY).content)
    rows = {row[0].row: row for row in rows_of(said.blocks)}
    read = 0
    for number, block in enumerate(said.blocks):
        # The example of paying in parts says its own price, which an agreement may change.
        if "1,618.25" not in block.text or rows[block.row][0].text.startswith("Price of the treatment"):
            continue
        blocks = list(said.blocks)
        blocks[number] = replace(block, text=block.text.replace("1,618.25", "1,681.25"))
        found = contradictions((*rest, paper(KEY, replace(said, blocks=tuple(blocks)))))
        assert [one.about for one in found] == [About.PRICE], block
        read += 1
    assert read == 3, "side by side, in the list of totals, and below its own heading"


def test_without_a_showing_or_for_another_plan_there_is_none() -> None:
    with pytest.raises(PaperError, match="made where the estimate is shown"):
        job(case_plan().to_json(), KEY, ISSUE)
    other = json.loads(shown()) | {"plan_sha256": "0" * 64}
    with pytest.raises(PaperError, match="another plan"):
        words(other)


def test_where_parts_are_not_arranged_no_schedule_is_shown() -> None:
    told = json.loads(shown()) | {"parts": {"state": "not here"}}
    said = words(told)
    assert "Paying in parts is not arranged here." in said
    assert "An example" not in said
