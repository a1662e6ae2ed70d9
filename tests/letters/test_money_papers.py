"""What the papers say about money: the estimate's facts, how totals were worked out, the duty, the agreement."""

import json
from dataclasses import replace
from typing import Any

import pytest
from babel.dates import format_date
from babel.numbers import format_currency

from planner.letters.carried import payer_json
from planner.letters.papers import job
from planner.letters.pdf import PaperError
from planner.letters.pricing import tax_reasons
from planner.letters.wording import amount, as_on_paper, day, money
from planner.rules.casefile import validate_case
from planner.rules.plan import plan_case
from planner.rules.results import sha256
from tests.letters.conftest import AGREEMENT, ISSUE, arrangement, rendered, texts
from tests.letters.sample import DAY_0, case_plan
from tests.rules.test_casefile import TODAY, lead
from tests.rules.test_duration import BOOK

DUTY: dict[str, Any] = {
    "duty": "us",
    "place": "Wexcombe Harbour",
    "codes": {},
    "provider-number": "",
    "tax-number": "12-3456",
    "scheme": "",
    "guarantee": "",
    "event": "booked",
    "on": "2026-03-02",
    "service_on": "2026-03-16",
    "repeated": "",
    "due": "2026-03-05",
    "due_words": "booked on 2026-03-02, 10 business days ahead: within 3 business days",
    "holidays_listed": 0,
    "anew_by": "2026-03-13",
}


@pytest.fixture(scope="module")
def computed() -> bytes:
    return plan_case(validate_case(lead(), TODAY), BOOK, TODAY).to_json()


def estimate_of(plan_json: bytes, *, cancelling: str = "", **facts: Any) -> str:
    key = json.loads(plan_json)["recommended"]
    duty = json.dumps(DUTY | facts) if facts else ""
    html = job(plan_json, "estimate", replace(ISSUE, priced=(key,), duty=duty, cancelling=cancelling)).html
    return " ".join(html.split())


def test_every_fact_of_an_estimate_stands_on_it(computed: bytes) -> None:
    # Common practice, no source: what an estimate tells, one by one
    html = estimate_of(computed, cancelling='{"hours": 48, "minutes": 120, "cents": 9000}')
    for fact in (
        "104, version 2",
        "Dr Imke Sorrel",
        "not an invoice",
        f"the end of {day(ISSUE.valid_through, 'en')}",  # type: ignore[arg-type]
        "by the clock of the office",
        "price list version 7",
        "Not included",
        "reconstructive",
        "Why the tax is as it is: reconstructive (RSH, BND, WAX, IDX): A tooth that never formed, and its small "
        "counterpart; reconstructive (NGD): set in the price list.",
        "Deposit to book the first visit",
        "falls due part by part, as the work is done",
        "less than 48 hours before a visit of 120 minutes or more, the office may ask for CAD 90.00",
        "without your new signature",
        "What an insurer or another payer may add is not taken off here",
    ):
        assert fact in html, fact


def test_terms_of_cancelling_are_said_only_where_somebody_noted_them(computed: bytes) -> None:
    assert "The office asks for nothing when a visit is cancelled." in estimate_of(
        computed, cancelling='{"cents": null}'
    )
    assert "cancel" not in estimate_of(computed)


def test_every_class_of_tax_has_its_reason_once() -> None:
    said = lead()
    said["choices"]["tax_reason"] = ""
    said["choices"]["reconstructive"] = False
    plan = plan_case(validate_case(said, TODAY), BOOK, TODAY)
    bonding = plan.option(plan.recommended)
    assert tax_reasons((bonding, bonding)) == (
        "looks only (RSH, BND, WAX, IDX): Nobody has said that it is reconstructive",
        "reconstructive (NGD): set in the price list",
    )
    html = estimate_of(plan.to_json())
    assert (
        "Why the tax is as it is: looks only (RSH, BND, WAX, IDX): Nobody has said that it is reconstructive; " in html
    )


def test_every_line_tells_its_arithmetic(computed: bytes) -> None:
    html = estimate_of(computed)
    for step in (
        "3 × 445.00 = 1,335.00; − 66.75 package PKG = 1,268.25",
        "3 package PKG: 3 or more build-ups in one plan, −5 % of 1,335.00 = −66.75",
        "4 × 55.00 = 220.00",
        "7 total: 1,618.25 + tax 0.00 = 1,618.25",
        "Deposit: + 20 % of the rest",
    ):
        assert step in html, step


def test_what_the_duty_asks_and_nobody_said_is_named(computed: bytes) -> None:
    assert "Good faith estimate" not in estimate_of(computed), "no duty, no annex"
    html = estimate_of(computed, place="Wexcombe Harbour")
    missing = html.split("Missing on this estimate")[1].split("</ul>")[0]
    for words in ("expected service code", "diagnosis code", "national identifier"):
        assert words in missing
    assert "tax number" not in missing
    assert "Due by 5 March 2026: booked on 2 March 2026, 10 business days ahead: within 3 business days." in html
    assert "a new one is due by 13 March 2026" in html
    assert "No holidays are listed by the office" in html
    assert "Not legal advice." in html
    assert "at least CAD 400.00 above" in html


def test_codes_are_the_offices_own_and_blank_where_it_keeps_none(computed: bytes) -> None:
    some = estimate_of(computed, codes={"wax-up": "X-17"})
    assert "X-17" in some
    assert "expected service code" in some.split("Missing on this estimate")[1].split("</ul>")[0]
    plan = json.loads(computed)
    option = next(one for one in plan["options"] if one["key"] == plan["recommended"])
    every = {line["service"]: f"X-{number}" for number, line in enumerate(option["estimate"]["lines"])}
    full = estimate_of(computed, codes=every)
    assert "expected service code" not in full.split("Missing on this estimate")[1].split("</ul>")[0]


def test_the_written_plan_of_the_united_kingdom_has_a_line_to_sign(computed: bytes) -> None:
    html = estimate_of(computed, duty="uk", scheme="All of it is private.", due="", due_words="no day is set for it")
    assert "Patient’s signature, date" in html
    assert "All of it is private." in html
    assert "whether the work is guaranteed" in html.split("Missing on this estimate")[1].split("</ul>")[0]
    assert "dispute" not in html


def test_the_agreement_tells_who_pays_what_when_and_at_which_rate() -> None:
    text = " ".join(texts(rendered(AGREEMENT).content))
    for part in (
        "Marguerite Brightwater (a parent)",
        "For the treatment of Anselm Brightwater",
        "Annual percentage rate, United States (Regulation Z, nominal)",
        "accurate within 1/8 of a percentage point",
        "All you pay, deposit included",
        "You may pay any part or all of it early",
        "No fee or penalty is added",
        "Withdrawing.",
        "Not legal advice.",
        "More than 4 instalments in writing",
        "after the work from the laboratory is fitted on 1 May 2026",
        "2 August 2026",
    ):
        assert part in text, part
    said = json.loads(arrangement())
    assert money(said["price_cents"], said["currency"], "en").replace("\u00a0", " ") in text
    assert sha256(arrangement().encode())[:40] in text.replace(" ", "")


def test_the_offices_own_words_stand_on_it() -> None:
    said = json.loads(arrangement()) | {
        "late": "We ring you after ten days.",
        "withdrawal": "Within 14 days.",
        "rates": [],
    }
    html = job(case_plan().to_json(), AGREEMENT, replace(ISSUE, arrangement=json.dumps(said))).html
    assert "We ring you after ten days." in html
    assert "Within 14 days." in html
    assert "No fee or penalty is added" not in html


def test_without_an_arrangement_or_for_another_plan_there_is_none(computed: bytes) -> None:
    with pytest.raises(PaperError, match="No instalments were agreed"):
        job(case_plan().to_json(), AGREEMENT, ISSUE)
    with pytest.raises(PaperError, match="another plan"):
        job(computed, AGREEMENT, replace(ISSUE, arrangement=arrangement()))


def test_who_pays_gets_no_findings() -> None:
    carried = json.loads(payer_json(case_plan().to_json()))
    assert carried.keys() == {"format", "version", "planned_on", "currency", "options", "whole_plan_sha256"}
    assert all(option.keys() == {"key", "name", "total_cents"} for option in carried["options"])


def test_the_same_arrangement_gives_the_same_paper() -> None:
    asked = replace(ISSUE, arrangement=arrangement())
    plan = case_plan().to_json()
    assert job(plan, AGREEMENT, asked) == job(plan, AGREEMENT, asked)


@pytest.mark.parametrize("language", ["en", "es"])
def test_amounts_and_days_print_as_the_common_locale_data_prints_them(language: str) -> None:
    # Unicode CLDR, by Babel
    for cents in (0, 5, 66_75, 161_825, 1_234_567_89):
        plain = format_currency(cents / 100, "CAD", format="#,##0.00", locale=language)
        assert amount(cents, language) == plain
        assert money(cents, "CAD", language) == f"CAD\u00a0{plain}"
    # The long form of CLDR has "de" between in Spanish; in English its comma is left out here.
    written = format_date(DAY_0, "long" if language == "es" else "d MMMM y", locale=language)
    assert as_on_paper("1335.00 on 2026-03-02", language) == f"{amount(133500, language)} on {written}"
