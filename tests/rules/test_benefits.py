"""What a third party may pay, to the cent.

Sources: the classes ``TestPublished`` and ``TestCoordination`` name theirs in each row. The other sums are worked out
by hand from the rules; they are common practice, no source. The order of payers is that of NAIC model regulation 120,
section 6, and the ADA's guidance on coordination of benefits, both from public summaries.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from planner.rules.benefit_plans import (
    Basis,
    BenefitPlan,
    Cover,
    HeldPlan,
    Used,
    Work,
    faults_of_plans,
    in_order,
    order_questions,
    private_words,
)
from planner.rules.benefit_tests import Dates
from planner.rules.benefits import BenefitError, BenefitGuess, benefit_guess, patient_part
from planner.rules.benefits_paid import paid_less, too_high
from planner.rules.results import plain
from planner.rules.teeth import Tooth

TODAY = date(2026, 3, 2)
YEAR = date(2026, 1, 1)
PHONE = Basis(told="phone", by="Ms Hale", on=TODAY)
MAJOR = {"key": "major", "percent": 50}


def held(
    *,
    classes: Sequence[dict[str, Any]] = (MAJOR,),
    services: Sequence[dict[str, Any]] = ({"service": "crown", "benefit_class": "major"},),
    cover: dict[str, Any] | None = None,
    used: dict[str, Any] | None = None,
    basis: Basis = PHONE,
    **plan: Any,
) -> HeldPlan:
    """A plan that is known in every clause unless a test says otherwise; nothing of the year is used."""
    said = {
        "payer": "Harbour Mutual",
        "name": "Bronze",
        "currency": "CAD",
        "looks_only_excluded": True,
        "missing_before_excluded": True,
        "coordination": "standard",
        "classes": classes,
        "services": services,
        "basis": basis,
    } | plan
    of_cover = {"begins": date(2020, 1, 1), "done_before": (), "basis": basis} | (cover or {})
    gone = {"year_begins": YEAR, "maximum_cents": "0", "deductible_cents": "0", "lifetime_cents": "0"} | (used or {})
    return HeldPlan(
        plan=BenefitPlan.model_validate(said),
        cover=Cover.model_validate(of_cover),
        used=(Used.model_validate(gone | {"basis": basis}),),
    )


def work(service: str = "crown", fee: int = 100000, **more: Any) -> Work:
    values: dict[str, Any] = {
        "service": service,
        "words": service,
        "teeth": (),
        "quantity": 1,
        "fee_cents": fee,
        "starts": TODAY,
        "finishes": TODAY,
        "looks_only": False,
    }
    return Work(**(values | more))


def guess(lines: Sequence[Work], *plans: HeldPlan, born: date | None = date(1979, 3, 2), **more: Any) -> BenefitGuess:
    return benefit_guess(lines, plans, Dates(TODAY, born), currency="CAD", **more)


# ---------------------------------------------------------------- published examples


class TestPublished:
    # State exchange glossary, example of coinsurance: allowed 100, the member's share 20 %.
    def test_share_of_the_allowed_amount(self) -> None:
        found = guess([work(fee=10000)], held(classes=[{"key": "major", "percent": 80}]))
        assert (found.told_cents, patient_part(found, 10000).as_told_cents) == (8000, 2000)

    # The same, where the deductible is not met: the member pays all 100.
    def test_deductible_not_met(self) -> None:
        plan = held(classes=[{"key": "major", "percent": 80}], deductible_cents=500)
        found = guess([work(fee=10000)], plan)
        assert (found.told_cents, patient_part(found, 10000).as_told_cents) == (0, 10000)

    # A published row of a crown under an agreed fee: office 1000, agreed 900, 50 %.
    def test_agreed_fee_of_a_crown(self) -> None:
        plan = held(
            services=[{"service": "crown", "benefit_class": "major", "fee_cents": 900}],
            fees_agreed=True,
            yearly_maximum_cents=5000,
        )
        found = guess([work(fee=100000)], plan)
        part = patient_part(found, 100000)
        assert (found.told_cents, part.as_told_cents, found.given_up_cents) == (45000, 45000, 10000)
        assert part.if_nothing_cents == 100000


class TestConstructed:
    """Worked out from the order allowed, exclusions, alternate, deductible, percentage, maximum.

    Its pieces are in the ADA glossary, a fund's glossary and plan schedules.
    """

    def test_deductible_then_percentage(self) -> None:
        plan = held(deductible_cents=50, yearly_maximum_cents=1500)
        found = guess([work(fee=85000)], plan)
        assert (found.told_cents, patient_part(found, 85000).as_told_cents) == (40000, 45000)
        assert found.left[0].deductible_cents == 0

    def test_class_without_deductible(self) -> None:
        plan = held(
            classes=[{"key": "major", "percent": 100, "deductible": False}],
            deductible_cents=50,
            yearly_maximum_cents=1500,
        )
        assert guess([work(fee=9000)], plan).told_cents == 9000

    def test_deductible_larger_than_the_line(self) -> None:
        plan = held(classes=[{"key": "major", "percent": 80}], deductible_cents=50, yearly_maximum_cents=1500)
        found = guess([work(fee=4000)], plan)
        assert (found.told_cents, found.left[0].deductible_cents) == (0, 1000)

    def test_missing_before_cover(self) -> None:
        found = guess([work(fee=180000, missing_since="always")], held())
        assert found.told_cents == found.likely_high_cents == 0
        assert "test 5: never formed, before cover began on 2020-01-01; pays nothing" in found.lines[0].trail[-1]

    def test_waiting_period(self) -> None:
        waits = [{"key": "major", "percent": 50, "waiting_months": 12}]
        eleven = held(classes=waits, cover={"begins": date(2025, 4, 2)})
        assert guess([work(fee=90000)], eleven).told_cents == 0
        twelve = held(classes=waits, cover={"begins": date(2025, 3, 2)})
        assert guess([work(fee=90000)], twelve).told_cents == 45000

    def test_carried_from_line_to_line_until_the_maximum(self) -> None:
        plan = held(
            classes=[
                {"key": "preventive", "percent": 100, "deductible": False},
                {"key": "basic", "percent": 80},
                MAJOR,
            ],
            services=[
                {"service": "cleaning", "benefit_class": "preventive"},
                {"service": "build-up", "benefit_class": "basic"},
                {"service": "crown", "benefit_class": "major"},
            ],
            deductible_cents=50,
            yearly_maximum_cents=500,
        )
        found = guess([work("cleaning", 9000), work("build-up", 18000), work("crown", 85000)], plan)
        assert [line.told_cents for line in found.lines] == [9000, 10400, 30600]
        assert [line.fee_cents - line.told_cents for line in found.lines] == [0, 7600, 54400]

    def test_fee_above_the_allowed_stays_with_the_patient(self) -> None:
        plan = held(
            services=[{"service": "crown", "benefit_class": "major", "fee_cents": 850}], yearly_maximum_cents=1500
        )
        found = guess([work(fee=120000)], plan)
        assert (found.told_cents, patient_part(found, 120000).as_told_cents) == (42500, 77500)


class TestCoordination:
    """Two payers. The first row is a published crown example with carve-out; the others apply the definitions of
    https://www.ada.org/resources/practice/dental-insurance/ada-guidance-on-coordination-of-benefits to it."""

    @pytest.mark.parametrize(
        ("rule", "fee", "first", "second", "paid"),
        [
            ("carve-out", 50000, 50, 80, (25000, 15000, 10000)),
            ("standard", 50000, 50, 80, (25000, 25000, 0)),
            ("maintenance", 50000, 50, 80, (25000, 20000, 5000)),
            ("non-duplication", 10000, 80, 80, (8000, 0, 2000)),
        ],
    )
    def test_published(self, rule: str, fee: int, first: int, second: int, paid: tuple[int, int, int]) -> None:
        one = held(classes=[{"key": "major", "percent": first}])
        other = held(
            payer="Gull Benefits",
            classes=[{"key": "major", "percent": second}],
            coordination=rule,
            cover={"held_as": "dependant"},
        )
        alone = guess([work(fee=fee)], one).told_cents
        both = guess([work(fee=fee)], other, one).told_cents
        assert (alone, both - alone, fee - both) == paid

    @pytest.mark.parametrize(
        ("rule", "second", "patient"),
        [("standard", 92000, (0, 0)), ("carve-out", 54000, (38000, 38000)), ("unknown", 54000, (0, 38000))],
    )
    def test_two_plan_fees(self, rule: str, second: int, patient: tuple[int, int]) -> None:
        # Fee 1,620; the first pays half of 1,400, the second by itself 80 % of 1,550. Worked out by hand.
        one = held(services=[{"service": "crown", "benefit_class": "major", "fee_cents": 1400}])
        other = held(
            payer="Gull Benefits",
            classes=[{"key": "major", "percent": 80}],
            services=[{"service": "crown", "benefit_class": "major", "fee_cents": 1550}],
            coordination=rule,
            cover={"held_as": "dependant"},
        )
        found = guess([work(fee=162000)], one, other)
        part = patient_part(found, 162000)
        assert found.told_cents == 70000 + second
        assert (part.likely_low_cents, part.likely_high_cents) == patient
        assert bool(found.questions) == (rule == "unknown")

    def test_a_child_and_the_birthday_that_comes_first_in_the_year(self) -> None:
        # NAIC 120 and ADA: month and day decide, not the year of birth.
        mother = held(payer="A", cover={"held_as": "dependant", "holder_birthday": date(1990, 2, 11)})
        father = held(payer="B", cover={"held_as": "dependant", "holder_birthday": date(1970, 9, 30)})
        assert [one.plan.payer for one in in_order([father, mother], child=True)] == ["A", "B"]
        court = held(
            payer="C", cover={"held_as": "dependant", "holder_birthday": date(1970, 12, 1), "court_says_first": True}
        )
        assert in_order([mother, father, court], child=True)[0] is court
        unknown = held(payer="D", cover={"held_as": "dependant"})
        assert in_order([unknown, father], child=True)[0] is father
        assert len(order_questions([unknown, father], child=True)) == 1

    def test_own_plan_before_a_dependants_and_work_before_continued(self) -> None:
        own = held(payer="own", cover={"begins": date(2024, 1, 1)})
        spouse = held(payer="spouse", cover={"held_as": "dependant", "begins": date(2001, 1, 1)})
        continued = held(payer="continued", cover={"continued": True, "begins": date(2001, 1, 1)})
        longer = held(payer="longer", cover={"begins": date(2023, 1, 1)})
        assert [one.plan.payer for one in in_order([spouse, continued, own, longer])] == [
            "longer",
            "own",
            "continued",
            "spouse",
        ]


# ---------------------------------------------------------------- worked out by hand: common practice, no source

BONDING = [{"key": "basic", "percent": 80}]
BONDED: list[dict[str, Any]] = [
    {"service": "build-up", "benefit_class": "basic", "fee_cents": 318},
    {"service": "reshape", "benefit_class": "basic"},
    {"service": "wax-up"},
]


def three_build_ups() -> list[Work]:
    """Build-ups of 12, 22 and 14, reshaping of 11, three wax-ups: 1,630.00; 14 and 11 are for looks only."""
    return [
        work("build-up", 44500, teeth=("p12",), tooth_words="12"),
        work("build-up", 44500, teeth=("p22",), tooth_words="22"),
        work("build-up", 44500, teeth=("p14",), tooth_words="14", looks_only=True),
        work("reshape", 6000, teeth=("p11",), looks_only=True),
        work("wax-up", 23500),
    ]


def bonding_plan(**more: Any) -> HeldPlan:
    return held(
        classes=BONDING,
        services=BONDED,
        deductible_cents=75,
        yearly_maximum_cents=1000,
        used={"maximum_cents": "120"},
        **more,
    )


class TestGuess:
    def test_the_plans_fee_less_the_deductible_and_not_a_share_of_the_offices_fee(self) -> None:
        found = guess(three_build_ups(), bonding_plan())
        part = patient_part(found, 163000)
        assert found.told_cents == 44880
        assert (part.as_told_cents, part.if_nothing_cents) == (118120, 163000)
        quick = 163000 - 89000 * 80 // 100
        assert part.as_told_cents - quick == 26320
        assert found.lines[0].trail == (
            "Harbour Mutual, Bronze: test 8: allowed 318.00 = the plan's fee, less than the office's 445.00",
            "Harbour Mutual, Bronze: test 10: deductible 75.00 taken off, 75.00 was left",
            "Harbour Mutual, Bronze: test 11: 80 % of 243.00 = 194.40 (class basic)",
            "Harbour Mutual, Bronze: test 12: 880.00 left of the year from 2026-01-01",
            "Harbour Mutual, Bronze: test 15: pays 194.40",
        )
        assert "for looks only" in found.lines[2].trail[-1]
        assert "does not pay toward this service" in found.lines[4].trail[-1]

    @pytest.mark.parametrize(("excluded", "december", "january"), [(False, 50000, 111250), (None, 0, 0), (True, 0, 0)])
    def test_a_bridge_at_the_end_of_the_year(self, excluded: bool | None, december: int, january: int) -> None:
        done = date(2026, 12, 18)
        plan = held(
            services=[{"service": "wing-bridge", "benefit_class": "major", "fee_cents": 2300}],
            deductible_cents=75,
            yearly_maximum_cents=1500,
            used={"maximum_cents": "1000", "deductible_cents": "75"},
            missing_before_excluded=excluded,
        )
        bridge = work("wing-bridge", 265000, starts=done, finishes=done, missing_since="always")
        found = guess([bridge], plan)
        if excluded:
            assert (found.told_cents, found.likely_high_cents, found.other_days) == (0, 0, ())
            return
        (later,) = found.other_days
        assert later.on == date(2027, 1, 1)
        assert (found.told_cents, later.told_cents) == (december, january)
        if excluded is None:
            assert (found.told_cents, found.likely_high_cents, later.best_cents) == (0, 50000, 111250)
            assert found.questions == (
                "Harbour Mutual, Bronze: ask whether it pays to replace a tooth that was missing before cover began.",
            )

    def test_the_day_of_service_is_start_or_finish_as_the_plan_says(self) -> None:
        across = work(starts=date(2026, 12, 10), finishes=date(2027, 1, 7))
        gone = {"maximum_cents": "1500"}
        common: dict[str, Any] = {"yearly_maximum_cents": 1500, "used": gone}
        assert guess([across], held(day_counts="start", **common)).told_cents == 0
        assert guess([across], held(day_counts="finish", **common)).told_cents == 50000

    def test_paid_less_than_guessed(self) -> None:
        found = paid_less(44880, 30120, signed_if_nothing=True, reason="one surface only", on=TODAY)
        assert (found.to_patient_cents, found.office_bears_cents, found.off_percent) == (14760, 0, 33)
        assert found.statement_due == TODAY + timedelta(days=30)
        unsigned = paid_less(44880, 30120, signed_if_nothing=False, reason="one surface only", on=TODAY)
        assert (unsigned.to_patient_cents, unsigned.office_bears_cents) == (0, 14760)
        with pytest.raises(ValueError, match="payer's reason is missing"):
            paid_less(44880, 30120, signed_if_nothing=True, reason=" ", on=TODAY)
        assert paid_less(100, 150, signed_if_nothing=True, reason="", on=TODAY).short_cents == 0

    def test_an_own_guess_that_was_off_widens_the_next(self) -> None:
        off = too_high([("own guess", 44880, 30120), ("phone", 10000, 12000), ("phone", 0, 5)])
        assert off == {"own guess": 33, "phone": 0}
        own = bonding_plan(basis=Basis(told="own guess", by="Rhea Osgood", on=TODAY))
        found = guess(three_build_ups(), own, off_percent=off)
        assert (found.told_cents, found.likely_low_cents, found.likely_high_cents) == (44880, 30070, 44880)
        told = guess(three_build_ups(), bonding_plan(), off_percent=off)
        assert told.likely_low_cents == told.told_cents == 44880

    def test_the_middle_of_many_outcomes(self) -> None:
        paid = [("phone", 100, 90), ("phone", 100, 80), ("phone", 100, 20), ("phone", 100, 100)]
        assert too_high(paid) == {"phone": 15}  # type: ignore[arg-type]

    def test_other_accepted_work_uses_the_maximum_first(self) -> None:
        plan = held(yearly_maximum_cents=600)
        other = work(fee=80000, starts=TODAY + timedelta(days=60), finishes=TODAY + timedelta(days=60))
        found = guess([work()], plan, other_open=[other])
        assert (found.others[0].told_cents, found.told_cents) == (40000, 20000)
        assert found.left[0].maximum_cents == 0

    @pytest.mark.parametrize(
        ("plan", "one", "said"),
        [
            ({"cover": {"ends": date(2026, 3, 1)}}, {}, "test 1: the day of service is 2026-03-02"),
            ({"cover": {"begins": date(2026, 3, 3)}}, {}, "test 1:"),
            ({"classes": [MAJOR | {"oldest": 17}]}, {}, "test 3: 47 years old"),
            (
                {"classes": [MAJOR | {"youngest": 48}]},
                {},
                "test 3: 47 years old on the day of service; it pays from 48",
            ),
            ({}, {"looks_only": True}, "test 4: for looks only"),
            ({}, {"missing_since": date(2019, 12, 31)}, "test 5: missing since 2019-12-31"),
            (
                {
                    "services": [
                        {"service": "crown", "benefit_class": "major", "limit": {"times": 1, "months": 60}},
                    ],
                    "cover": {
                        "done_before": [{"service": "crown", "tooth": Tooth.from_iso("11"), "on": date(2021, 3, 3)}]
                    },
                },
                {"teeth": ("p21",)},
                "test 6: it pays 1 in 60 months and has paid 1",
            ),
            (
                {
                    "services": [{"service": "crown", "benefit_class": "major", "prior_answer": True}],
                    "cover": {"answers": [{"service": "crown", "pays": False, "on": date(2026, 2, 1)}]},
                },
                {},
                "test 7: the payer's answer of 2026-02-01 says no",
            ),
        ],
    )
    def test_each_test_may_end_at_nothing(self, plan: dict[str, Any], one: dict[str, Any], said: str) -> None:
        found = guess([work(**one)], held(**plan))
        assert found.told_cents == found.likely_high_cents == 0
        assert said in found.lines[0].trail[-1]
        assert not found.questions

    def test_a_limit_counts_tooth_by_tooth_and_frees_itself(self) -> None:
        limit = {"times": 1, "months": 60, "same_tooth": True}
        services: list[dict[str, Any]] = [{"service": "crown", "benefit_class": "major", "limit": limit}]
        before: dict[str, Any] = {
            "done_before": [{"service": "crown", "tooth": Tooth.from_iso("11"), "on": date(2021, 3, 3)}]
        }
        plan = held(services=services, cover=before)
        key = plan.cover.done_before[0].tooth.key  # type: ignore[index,union-attr]
        same, other = work(teeth=(key,)), work(teeth=("elsewhere",))
        assert (guess([same], plan).told_cents, guess([other], plan).told_cents) == (0, 50000)
        day_after: dict[str, Any] = {"starts": date(2026, 3, 3), "finishes": date(2026, 3, 3)}
        assert guess([work(teeth=(key,), **day_after)], plan).told_cents == 50000
        assert [line.told_cents for line in guess([other, other], plan).lines] == [50000, 0]

    def test_a_cheaper_service_counts_instead(self) -> None:
        services: list[dict[str, Any]] = [
            {"service": "crown", "benefit_class": "major", "swap": "build-up"},
            {"service": "build-up", "benefit_class": "major", "fee_cents": 318},
        ]
        found = guess([work()], held(services=services))
        assert found.told_cents == 15900
        assert 'test 9: the fee of "build-up" counts instead: allowed 318.00' in found.lines[0].trail[1]

    def test_lifetime_maximum_beside_the_yearly_one(self) -> None:
        course = {"key": "major", "percent": 50, "to_yearly_maximum": False, "to_lifetime_maximum": True}
        plan = held(
            classes=[course], lifetime_maximum_cents=2500, yearly_maximum_cents=100, used={"lifetime_cents": "400"}
        )
        found = guess([work(fee=640000)], plan)
        assert (found.told_cents, found.left[0].maximum_cents) == (210000, 10000)

    @pytest.mark.parametrize(
        ("plan", "one", "asks"),
        [
            ({"looks_only_excluded": None}, {"looks_only": True}, "whether it pays toward work that is for looks only"),
            ({}, {"looks_only": None}, "whether this work is for looks only"),
            ({"classes": [MAJOR | {"oldest": 60}]}, {}, "the birth date"),
            ({}, {"missing_since": "not known"}, "since when the tooth has been missing"),
            (
                {
                    "services": [{"service": "crown", "benefit_class": "major", "limit": {"times": 1, "months": 60}}],
                    "cover": {"done_before": None},
                },
                {},
                "how often it has paid toward this in 60 months",
            ),
            (
                {"services": [{"service": "crown", "benefit_class": "major", "prior_answer": True}]},
                {},
                "in writing whether it pays",
            ),
            (
                {"yearly_maximum_cents": 1500, "used": {"maximum_cents": None}},
                {},
                "how much of the yearly maximum of 1500.00 is used in the year from 2026-01-01",
            ),
        ],
    )
    def test_what_nobody_answered_pays_nothing_and_is_asked(
        self, plan: dict[str, Any], one: dict[str, Any], asks: str
    ) -> None:
        found = guess([work(**one)], held(**plan), born=None)
        assert (found.told_cents, found.likely_low_cents, found.likely_high_cents) == (0, 0, 50000)
        (question,) = found.questions
        assert asks in question

    def test_a_service_the_plan_was_not_asked_about(self) -> None:
        found = guess([work("index")], held())
        assert (found.told_cents, found.likely_high_cents) == (0, 0)
        assert found.questions == ('Harbour Mutual, Bronze: ask whether it pays toward "index".',)

    def test_a_deductible_nobody_told_of_is_taken_off_as_told(self) -> None:
        found = guess([work()], held(deductible_cents=100, used={"deductible_cents": None}))
        assert (found.told_cents, found.likely_high_cents) == (45000, 50000)

    def test_nobody_covered_is_no_fault(self) -> None:
        found = guess([work()])
        assert (found.told_cents, found.rests_on, found.lines[0].trail) == (0, "own guess", ())


# ---------------------------------------------------------------- bad input


class TestFaults:
    @pytest.mark.parametrize(
        ("plans", "sentence"),
        [
            (
                [held(yearly_maximum_cents=500, used={"maximum_cents": "600"})],
                "600.00 of the yearly maximum is used and it is 500.00",
            ),
            ([held(deductible_cents=50, used={"deductible_cents": "75"})], "75.00 of the deductible is used"),
            ([held(currency="USD")], "counts in USD and the office in CAD: two currencies are not added"),
            ([held(), held()], "is there twice from 2020-01-01 on"),
            ([held(used={"year_begins": date(2026, 2, 1)})], "the plan's year begins on 01-01"),
            (
                [held(cover={"court_says_first": True}), held(payer="B", cover={"court_says_first": True})],
                "only one plan that pays first",
            ),
        ],
    )
    def test_plans_that_cannot_be(self, plans: list[HeldPlan], sentence: str) -> None:
        (fault,) = faults_of_plans(plans, "CAD")
        assert sentence in fault
        with pytest.raises(BenefitError) as caught:
            guess([work()], *plans)
        assert caught.value.faults == (fault,)

    @pytest.mark.parametrize(
        ("values", "sentence"),
        [
            ({"classes": [{"key": "major", "percent": 101}]}, "less than or equal to 100"),
            ({"classes": [{"key": "major", "percent": -1}]}, "greater than or equal to 0"),
            ({"deductible_cents": "-5"}, "below zero is not a price"),
            ({"cover": {"begins": date(2026, 2, 1), "ends": date(2026, 1, 1)}}, "the end comes after"),
            ({"classes": [MAJOR, MAJOR]}, 'the class "major" is there twice'),
            (
                {"services": [{"service": "crown", "benefit_class": "minor"}]},
                'in class "minor", which the plan has not',
            ),
            (
                {"services": [{"service": "crown", "benefit_class": "major", "swap": "x"}]},
                'swapped for "x": name another service',
            ),
            ({"classes": [MAJOR | {"youngest": 20, "oldest": 10}]}, "ages are reversed"),
            ({"year_begins": "02-30"}, "year_begins"),
        ],
    )
    def test_plans_that_contradict_themselves(self, values: dict[str, Any], sentence: str) -> None:
        with pytest.raises(ValidationError, match=sentence):
            held(**values)

    def test_work_with_its_days_reversed(self) -> None:
        with pytest.raises(ValueError, match="the finish comes after the start"):
            work(finishes=TODAY - timedelta(days=1))

    def test_words_no_payer_is_told(self) -> None:
        assert private_words("Is it paid during PREGNANCY?") == "pregnan"
        assert private_words("HbA1c of 8") == "hba1c"
        assert private_words("Is a wing bridge paid?") == ""


# ---------------------------------------------------------------- what is always true

AMOUNTS = st.integers(0, 300000)
LINES = st.lists(
    st.builds(
        lambda fee, day, looks, missing: work(
            fee=fee, starts=TODAY, finishes=TODAY + timedelta(days=day), looks_only=looks, missing_since=missing
        ),
        AMOUNTS,
        st.integers(0, 700),
        st.sampled_from([True, False, None]),
        st.sampled_from([None, "always", "not known", date(2015, 1, 1), date(2025, 1, 1)]),
    ),
    max_size=5,
)
YES_NO = st.sampled_from([True, False, None])


@st.composite
def plans(draw: st.DrawFn, payer: str = "A") -> HeldPlan:
    most = draw(st.one_of(st.none(), st.integers(0, 2000)))
    told = draw(st.booleans())
    return held(
        payer=payer,
        classes=[{"key": "major", "percent": draw(st.integers(0, 100)), "deductible": draw(st.booleans())}],
        services=[
            {
                "service": "crown",
                "benefit_class": "major",
                "fee_cents": draw(st.one_of(st.none(), st.integers(0, 3000))),
                "prior_answer": draw(st.booleans()),
            }
        ],
        deductible_cents=draw(st.integers(0, 200)),
        yearly_maximum_cents=most,
        used={"maximum_cents": str(draw(st.integers(0, most or 0)))} if told else {"maximum_cents": None},
        looks_only_excluded=draw(YES_NO),
        missing_before_excluded=draw(YES_NO),
        coordination=draw(st.sampled_from(["standard", "maintenance", "non-duplication", "carve-out", "unknown"])),
        day_counts=draw(st.sampled_from(["start", "finish"])),
        cover={"held_as": draw(st.sampled_from(["member", "dependant"]))},
    )


@settings(max_examples=60, deadline=None)
@given(LINES, plans(), plans("B"))
def test_never_more_than_the_fee_and_the_figures_stand_in_order(
    lines: list[Work], one: HeldPlan, other: HeldPlan
) -> None:
    found = guess(lines, one, other)
    for line in found.lines:
        assert 0 <= line.told_cents <= line.fee_cents
        assert line.told_cents <= line.best_cents <= line.fee_cents
    total = sum(line.fee_cents for line in lines) + 1234
    part = patient_part(found, total)
    assert 0 <= part.likely_low_cents <= part.likely_high_cents <= part.if_nothing_cents == part.whole_cents == total
    assert found.likely_low_cents <= found.told_cents <= found.likely_high_cents
    plain(found)


@settings(max_examples=40, deadline=None)
@given(LINES, plans())
def test_one_plan_never_pays_more_than_is_left_of_its_year(lines: list[Work], one: HeldPlan) -> None:
    found = guess(lines, one)
    most = one.plan.yearly_maximum_cents
    if most is None:
        return
    assert all(left.maximum_cents is not None and 0 <= left.maximum_cents <= most for left in found.left)
    assert found.told_cents <= most * max(len({left.year_begins for left in found.left}), 1)


@settings(max_examples=40, deadline=None)
@given(st.lists(AMOUNTS, min_size=1, max_size=5), plans(), st.randoms(use_true_random=False))
def test_lines_of_one_class_on_one_day_come_to_the_same_in_any_order(
    fees: list[int], one: HeldPlan, random: Any
) -> None:
    lines = [work(fee=fee) for fee in fees]
    shuffled = random.sample(lines, len(lines))
    # Each line is rounded by itself, so that the totals differ by the rounding at most.
    assert abs(guess(lines, one).told_cents - guess(shuffled, one).told_cents) <= len(fees)


@settings(max_examples=40, deadline=None)
@given(LINES, plans(), st.integers(1, 99))
def test_more_percent_never_pays_less(lines: list[Work], one: HeldPlan, percent: int) -> None:
    def at(share: int) -> int:
        group = one.plan.classes[0].model_copy(update={"percent": share})
        plan = one.plan.model_copy(update={"classes": (group,)})
        return guess(lines, one.model_copy(update={"plan": plan})).told_cents

    assert at(percent) <= at(percent + 1)
