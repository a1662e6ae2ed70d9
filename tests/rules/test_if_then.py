"""What is agreed for what may be found: the range of a price, and what of later work was agreed before.

People and prices are invented. The range of the lead case, 1,618.25 and 1,883.25, and the leaking filling of 265 that
needs a signature unless the signed list covers it were worked out by hand; that a price has a range because of unknown
pieces and not of slow hands is common practice, no source.
"""

import json
import re
from collections.abc import Iterator, Sequence
from itertools import permutations, product
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.book import PackageRule, PriceList
from planner.rules.casefile import CaseFileError, case_data, case_schema, validate_case, write_case
from planner.rules.choices import IfThen
from planner.rules.fees import Charge
from planner.rules.frozen import facts_in, thaw
from planner.rules.if_then import not_covered, piece_fault, pieces_for, range_of
from planner.rules.money import Estimate, estimate
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan, FoundShape, stable_json
from planner.rules.teeth import Numbering, Tooth
from tests.rules.books import DAY_ZERO, charge, lead, teeth, tern_row
from tests.rules.stories import facts_of, planned_on, written

BOOK = tern_row()
PRICES = BOOK.price_list_on(DAY_ZERO)
OPTION = "reshape-bond"
NEXT_DOOR: dict[str, Any] = {
    "words": "If the old filling next door leaks, it is changed the same day.",
    "service": "small-addition",
    "teeth": ["23"],
    "quantity": 1,
}


def price(charges: Sequence[Charge], prices: PriceList = PRICES) -> Estimate:
    return estimate(charges, prices, BOOK.tax_rates, DAY_ZERO)


def piece(service: str, quantity: int, *iso: str, tax: str = "reconstructive") -> FoundShape:
    return FoundShape("If so, then so.", service, service[:3].upper(), service, "", teeth(*iso), quantity, tax, "why")


def planned(*entries: Any) -> CasePlan:
    return plan_case(facts_of("lead", {"choices.if_then": list(entries)}), BOOK, planned_on("lead"))


class TestTheRange:
    def test_of_the_lead_case_with_an_old_filling_next_door(self) -> None:
        found = planned(NEXT_DOOR | {"options": [OPTION]}).option(OPTION).estimate
        assert found.total_cents == 161825
        assert found.span is not None
        assert (found.span.low_cents, found.span.planned_cents, found.span.high_cents) == (161825, 161825, 188325)
        assert [(one.service, one.alone_cents) for one in found.span.found] == [("small-addition", 188325)]
        assert found.span.how == (
            "as planned 1618.25",
            "with 1 × Small addition of composite, one side (BNS): 1883.25, 265.00 more",
            "whatever of it is needed, between 1618.25 and 1883.25",
        )
        assert found.most_cents == 188325

    def test_belongs_to_the_options_that_are_named_and_to_no_other(self) -> None:
        plan = planned(NEXT_DOOR | {"options": [OPTION]})
        assert [option.key for option in plan.options if option.estimate.span] == [OPTION]
        every = planned(NEXT_DOOR)
        assert all((option.estimate.span is not None) == bool(option.estimate.lines) for option in every.options)
        assert every.option("none").estimate.most_cents == 0

    def test_a_sentence_without_a_piece_moves_no_figure(self) -> None:
        plain = planned("If the mould does not seat, we stop.")
        assert all(option.estimate.span is None for option in plain.options)
        assert plain.option(OPTION).estimate.most_cents == 161825

    def test_two_pieces_alone_and_together(self) -> None:
        both = [piece("small-addition", 1, "12"), piece("wax-up", 2, "12", "23")]
        found = range_of(lead(), both, PRICES, price)
        assert [one.alone_cents for one in found.found] == [188325, 172825]
        assert (found.low_cents, found.high_cents) == (161825, 199325)

    def test_a_piece_that_completes_a_package_can_make_it_cheaper(self) -> None:
        # From the third build-up on, half is taken off all of them: 3 × 445 / 2 = 667.50, less than two for 890.
        half = PackageRule(code="HLF", words="half", service="build-up", at_least=3, percent=50)  # type: ignore[arg-type]
        prices = PRICES.model_copy(update={"packages": (half,)})
        found = range_of(
            [charge("build-up", 2, "11", "21")],
            [piece("build-up", 1, "22")],
            prices,
            lambda charges: price(charges, prices),
        )
        assert (found.low_cents, found.planned_cents, found.high_cents) == (66750, 89000, 89000)

    @given(data=st.data())
    @settings(max_examples=60, deadline=None)
    def test_lies_around_whatever_turns_out_to_be_needed(self, data: st.DataObject) -> None:
        """Against every combination, tried one by one."""
        percent, at_least = data.draw(st.integers(0, 100)), data.draw(st.integers(2, 5))
        rule = PackageRule(code="P", words="p", service="build-up", at_least=at_least, percent=percent)  # type: ignore[arg-type]
        prices = PRICES.model_copy(update={"packages": (rule,)})
        kinds = st.sampled_from(("looks only", "reconstructive"))
        base = [
            charge("build-up", many, *("11", "21", "22")[:many], tax_class=data.draw(kinds))
            for many in [data.draw(st.integers(1, 3))]
        ]
        # A case has one class for all its added work.
        kind = data.draw(kinds)
        pieces = [
            piece(service, data.draw(st.integers(1, 3)), "12", "23", "13", tax=kind)
            for service in data.draw(st.lists(st.sampled_from(("build-up", "small-addition")), min_size=1, max_size=3))
        ]

        def by(charges: Sequence[Charge]) -> Estimate:
            return price(charges, prices)

        found = range_of(base, pieces, prices, by)
        for counts in product(*(range(one.quantity + 1) for one in pieces)):
            extra = [
                charge(one.service, many, *("12", "23", "13")[:many], tax_class=one.tax_class)
                for one, many in zip(pieces, counts, strict=True)
                if many
            ]
            assert found.low_cents <= by([*base, *extra]).total_cents <= found.high_cents
        assert found.low_cents <= found.planned_cents <= found.high_cents


class TestWhatItCovers:
    LIST = (piece("small-addition", 1, "21", "22"), piece("index", 1))

    def test_the_leaking_filling_of_the_list_and_nothing_else(self) -> None:
        assert not_covered([charge("small-addition", 1, "21")], self.LIST) == ()
        assert not_covered([charge("index")], self.LIST) == ()
        (too_much,) = not_covered([charge("small-addition", 1, "23")], self.LIST)
        assert too_much == ("small-addition", Tooth.from_iso("23"))
        assert not_covered([charge("build-up", 1, "21")], self.LIST) == (("build-up", Tooth.from_iso("21")),)
        assert not_covered([charge("small-addition", 1, "21")], ()) == (("small-addition", Tooth.from_iso("21")),)

    def test_no_more_than_was_agreed_and_what_was_used_counts(self) -> None:
        assert len(not_covered([charge("small-addition", 2, "21", "22")], self.LIST)) == 1
        used = [charge("small-addition", 1, "22")]
        assert len(not_covered([charge("small-addition", 1, "21")], self.LIST, used)) == 1
        assert len(not_covered([charge("index", 2)], self.LIST)) == 1

    def test_a_tooth_of_two_pieces_goes_where_it_leaves_room(self) -> None:
        agreed = (piece("small-addition", 1, "21", "22"), piece("small-addition", 1, "21"))
        assert not_covered([charge("small-addition", 2, "21", "22")], agreed) == ()

    def test_work_without_a_tooth_is_not_covered_by_one_on_a_tooth_nor_the_other_way(self) -> None:
        assert not_covered([charge("index", 1, "21")], self.LIST)
        assert not_covered([charge("small-addition")], self.LIST)

    @given(data=st.data())
    @settings(max_examples=200, deadline=None)
    def test_covers_exactly_what_can_be_given_to_its_pieces(self, data: st.DataObject) -> None:
        """Against every way of giving the added units to the places there are."""
        places, services = ("11", "21", "22"), ("small-addition", "build-up")
        agreed = [
            piece(
                data.draw(st.sampled_from(services)),
                data.draw(st.integers(1, 2)),
                *data.draw(st.lists(st.sampled_from(places), min_size=1, max_size=2, unique=True)),
            )
            for _ in range(data.draw(st.integers(0, 3)))
        ]
        units = data.draw(st.lists(st.tuples(st.sampled_from(services), st.sampled_from(places)), max_size=4))
        added = [charge(service, 1, tooth) for service, tooth in units]
        beyond = not_covered(added, agreed)
        room = [one for one in agreed for _ in range(one.quantity)]
        assert len(units) - len(beyond) == max(_given(units, room))
        assert all((service, tooth.iso) in units for service, tooth in beyond if tooth is not None)


def _given(units: Sequence[tuple[str, str]], room: Sequence[FoundShape]) -> Iterator[int]:
    yield 0
    slots: list[FoundShape | None] = [*room, *[None] * len(units)]
    for way in permutations(slots, len(units)):
        yield sum(
            one is not None and one.service == service and Tooth.from_iso(tooth) in one.teeth
            for (service, tooth), one in zip(units, way, strict=True)
        )


class TestBadInput:
    def ask(self, **changes: Any) -> str:
        facts = facts_of("lead", {"choices.if_then": [NEXT_DOOR | changes]})
        (entry,) = facts.choices.if_then
        assert isinstance(entry, IfThen)
        said = piece_fault(entry, facts, PRICES)
        assert bool(said) == (not pieces_for(OPTION, facts, PRICES))
        return said

    def test_a_service_the_list_does_not_have(self) -> None:
        assert self.ask(service="root canal") == 'Price list 7 has no service "root canal".'

    def test_a_tooth_that_is_not_there(self) -> None:
        assert "is recorded as absent" in self.ask(teeth=["12"])

    def test_work_by_teeth_without_a_tooth(self) -> None:
        assert "say for which teeth" in self.ask(teeth=[])

    def test_a_quantity_the_fee_does_not_take(self) -> None:
        assert "can stand once on a line" in self.ask(service="whitening-both", teeth=[], quantity=2)

    def test_what_is_right_has_no_fault(self) -> None:
        assert self.ask() == ""

    @pytest.mark.parametrize("quantity", [0, -1, 1_000_000_000_000, 1e12, "many", None, 1.5])
    def test_a_quantity_that_is_none(self, quantity: object) -> None:
        data = written("lead")
        data["choices"]["if_then"] = [NEXT_DOOR | {"quantity": quantity}]
        with pytest.raises(CaseFileError) as refused:
            validate_case(data, DAY_ZERO)
        (fault,) = refused.value.faults
        assert fault.path == "choices.if_then[0].quantity"
        assert str(quantity) in fault.sentence

    @pytest.mark.parametrize("entry", [7, None, [], {"words": "no service"}, {"service": "index"}, {"word": "x"}])
    def test_an_entry_that_is_neither_sentence_nor_piece(self, entry: object) -> None:
        data = written("lead")
        data["choices"]["if_then"] = [entry]
        with pytest.raises(CaseFileError):
            validate_case(data, DAY_ZERO)

    def test_the_plan_says_what_covers_nothing(self) -> None:
        plan = planned(NEXT_DOOR | {"service": "gold"}, NEXT_DOOR | {"options": ["veneers"]})
        assert any('covers nothing and stands in no range. Price list 7 has no service "gold"' in x for x in plan.notes)
        assert any("“veneers”, which is not among these options" in x for x in plan.notes)
        assert plan.option(OPTION).estimate.span is None


class TestFiles:
    def test_old_plans_with_plain_sentences_are_read_as_they_were(self) -> None:
        """As frozen before pieces were priced: sentences only, no range, and no word on what tax was taken of."""
        old = planned("If a, then b.", "If c, then d.")
        content = stable_json(old).replace(b'"span":null,', b"").replace(b'"tax_base":"after discounts",', b"")
        content = re.sub(rb',"taxed_cents":\d+', b"", content)
        assert b'"if_then":["If a, then b.","If c, then d."]' in content
        assert not any(name in content for name in (b"span", b"tax_base", b"taxed_cents"))
        plan = thaw(content)
        assert facts_in(plan).choices.if_then == ("If a, then b.", "If c, then d.")
        assert plan.option(OPTION).estimate.span is None
        assert plan.option(OPTION).estimate.most_cents == 161825
        assert plan.option(OPTION).estimate.tax_base == "after discounts"
        assert all(line.tax_base_cents == line.net_cents for line in plan.option(OPTION).estimate.lines)

    def test_new_plans_are_read_back_the_same(self) -> None:
        plan = planned("If a, then b.", NEXT_DOOR | {"options": [OPTION]})
        assert thaw(plan.to_json()) == plan
        assert (
            facts_in(plan).choices
            == facts_of("lead", {"choices.if_then": ["If a, then b.", NEXT_DOOR | {"options": [OPTION]}]}).choices
        )

    def test_a_sentence_stays_a_sentence_in_the_file_so_that_old_hashes_hold(self) -> None:
        facts = facts_of("lead", {"choices.if_then": ["If a, then b."]})
        assert case_data(facts)["choices"]["if_then"] == ["If a, then b."]

    def test_the_piece_is_written_in_the_numbering_of_the_file(self) -> None:
        facts = facts_of("lead", {"choices.if_then": ["So.", NEXT_DOOR]})
        american = facts.model_copy(update={"numbering": Numbering.UNIVERSAL})
        said = json.loads(write_case(american))["choices"]["if_then"]
        assert said == ["So.", {"words": NEXT_DOOR["words"], "service": "small-addition", "teeth": ["11"]}]
        jsonschema.validate(json.loads(write_case(american)), case_schema())
