"""What is agreed: who may say yes, items that come to exactly their lines, changes at the accepted list, the account.

People and prices are invented; sums were worked out by hand. How parts of a fee are earned is common practice, no
source.
"""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.acceptance import Amended, amended, charge_of, drafts, right_person
from planner.rules.discounts import Discount
from planner.rules.fees import Charge
from planner.rules.money import Estimate
from planner.rules.mouth import Person
from planner.rules.options import price_line
from planner.rules.settling import Account
from tests.rules.books import DAY_ZERO, by_line, charge, priced, tern_row

BOOK = tern_row()
PRICES = BOOK.price_list_on(DAY_ZERO)
TEETH = ("13", "12", "11", "21", "22", "23")
BY_TOOTH = ("build-up", "small-addition", "direct-face", "ceramic-face", "crown", "reshape")


class TestWhoMaySayYes:
    GROWN: dict[str, Any] = {"name": "Ada  Byrne", "birth_date": date(1990, 1, 1)}
    YOUNG: dict[str, Any] = {"name": "Cormac", "birth_date": date(2010, 1, 1), "decision_maker": "Maeve Rusk"}

    def ask(self, who: dict[str, Any], by: str, capacity: str, **book: Any) -> str:
        return right_person(Person(**who), by, capacity, BOOK.model_copy(update=book), DAY_ZERO)

    def test_a_grown_person_alone(self) -> None:
        assert self.ask(self.GROWN, "Ada Byrne", "patient") == ""
        assert "decides alone" in self.ask(self.GROWN, "Her husband", "decision-maker")

    def test_for_a_minor_the_one_who_is_named_and_nobody_else(self) -> None:
        assert self.ask(self.YOUNG, "maeve  rusk", "decision-maker") == ""
        assert "Maeve Rusk decides" in self.ask(self.YOUNG, "Cormac", "patient")
        assert "Maeve Rusk decides" in self.ask(self.YOUNG, "An aunt", "decision-maker")
        assert "not named" in self.ask(self.YOUNG | {"decision_maker": ""}, "An aunt", "decision-maker")

    def test_what_is_not_known_is_asked(self) -> None:
        assert "not known" in self.ask(self.GROWN | {"can_decide_alone": None}, "Ada Byrne", "patient")
        assert "not entered" in self.ask(self.GROWN, "Ada Byrne", "patient", legal=())

    @pytest.mark.parametrize(("day", "alone"), [(date(2026, 2, 28), False), (date(2026, 3, 1), True)])
    def test_born_on_29_february_of_age_by_the_offices_setting(self, day: date, alone: bool) -> None:
        person = Person(name="Leap", birth_date=date(2008, 2, 29), decision_maker="M")
        assert (right_person(person, "Leap", "patient", BOOK, day) == "") == alone


@st.composite
def some_charges(draw: st.DrawFn) -> list[Charge]:
    found = []
    for service in draw(st.lists(st.sampled_from(BY_TOOTH), min_size=1, max_size=4, unique=True)):
        teeth = draw(st.lists(st.sampled_from(TEETH), min_size=1, max_size=6, unique=True))
        kind = draw(st.sampled_from(("looks only", "reconstructive")))
        found.append(charge(service, len(teeth), *teeth, tax_class=kind))
    if draw(st.booleans()):
        found.append(charge("wax-up", 3, "11", "21", "22"))
    return found


class TestItems:
    @given(charges=some_charges())
    @settings(max_examples=50, deadline=None)
    def test_items_of_a_line_come_to_the_line_and_all_to_the_total(self, charges: list[Charge]) -> None:
        self.holds(priced(*charges))

    @given(charges=some_charges(), percent=st.sampled_from((Decimal(40), Decimal("99.99"), Decimal(100))))
    @settings(max_examples=50, deadline=None)
    def test_so_they_do_where_tax_is_taken_before_discounts(self, charges: list[Charge], percent: Decimal) -> None:
        given = Discount(
            kind="goodwill",
            reason="any",
            percent=percent,
            asked_by="Dr Imke Sorrel",
            asked_role="dentist",
            allowed_by="Oona Castellane",
            allowed_role="office manager",
        )
        self.holds(priced(*charges, discounts=[given], tax_base="before discounts"))

    def holds(self, whole: Estimate) -> None:
        found = drafts([price_line(line) for line in whole.lines], PRICES, BOOK)
        for place, line in enumerate(whole.lines):
            cut = [draft.amounts for draft in found if draft.line == place]
            assert sum(one.gross for one in cut) == line.gross_cents
            assert sum(one.taken_off for one in cut) == line.taken_off_cents
            assert sum(one.tax for one in cut) == line.tax_cents
            assert sum(one.total for one in cut) == line.total_cents
            assert all(one.net == one.gross - one.taken_off and 0 <= one.tax <= one.gross for one in cut)
        assert sum(draft.amounts.total for draft in found) == whole.total_cents

    @given(charges=some_charges())
    @settings(max_examples=30, deadline=None)
    def test_a_line_priced_again_is_the_same_line(self, charges: list[Charge]) -> None:
        first = priced(*charges)
        again = priced(*(charge_of(price_line(line)) for line in first.lines))
        assert [line.total_cents for line in again.lines] == [line.total_cents for line in first.lines]

    def test_first_and_further_are_cut_as_they_are_priced(self) -> None:
        line = price_line(priced(charge("reshape", 3, "13", "11", "21")).lines[0])
        assert [draft.amounts.gross for draft in drafts([line], PRICES, BOOK)] == [6000, 2500, 2500]

    def test_what_is_made_once_or_as_one_piece_is_one_item(self) -> None:
        lines = priced(charge("wax-up", 3, "11", "21", "22"), charge("bridge", 3, "11", "21", "22")).lines
        found = drafts([price_line(line) for line in lines], PRICES, BOOK)
        assert [(len(draft.teeth), draft.earns) for draft in found] == [(3, "finished"), (3, "stages")]

    def test_how_each_earns(self) -> None:
        lines = priced(charge("aligners-both"), charge("implant-placing"), charge("crown", 1, "11")).lines
        found = drafts([price_line(line) for line in lines], PRICES, BOOK, months=18)
        assert [(draft.earns, draft.months) for draft in found] == [("months", 18), ("bill", None), ("stages", None)]


def change(charges: list[Charge], **values: Any) -> Amended:
    given: dict[str, Any] = {
        "dropped": {},
        "added": (),
        "price_list_version": PRICES.version,
        "accepted_on": DAY_ZERO,
        "office_dropped": False,
    }
    return amended(charges, book=BOOK, **given | values)


class TestChanges:
    FOUR = (
        charge("build-up", 3, "12", "22", "14"),
        charge("wax-up", 3, "12", "22", "14"),
        charge("index"),
        charge("reshape", 1, "11"),
    )

    def test_half_of_it_is_not_half_of_the_fee(self) -> None:
        # 1,563.25 for three teeth; two of them are 890 + 180 + 60 = 1,130: 72 %, not 66 %.
        found = change(
            list(self.FOUR),
            dropped={0: (self.FOUR[0].teeth[2],), 1: (None,)},
            added=[charge("wax-up", 2, "12", "22")],
        )
        assert (found.before.total_cents, found.after.total_cents) == (156325, 113000)
        assert found.kept_packages == ()

    def test_the_office_puts_a_tooth_off_and_the_package_stays(self) -> None:
        found = change(
            list(self.FOUR),
            dropped={0: (self.FOUR[0].teeth[2],)},
            added=[charge("small-addition", 1, "21")],
            office_dropped=True,
        )
        assert found.after.total_cents == 140550
        assert found.change.difference_cents == -15775
        assert any("new tooth" in words for words in found.change.new_signature)
        later = change(
            [charge("build-up", 2, "12", "22"), *self.FOUR[1:], charge("small-addition", 1, "21")],
            added=[charge("small-addition", 1, "23")],
            kept_packages=found.kept_packages,
        )
        assert later.before.total_cents == 140550
        assert later.after.total_cents == 140550 + 26500

    @given(charges=some_charges(), drop=st.integers(0, 5), office=st.booleans())
    @settings(max_examples=40, deadline=None)
    def test_a_change_adds_up_and_the_office_never_makes_what_stays_dearer(
        self, charges: list[Charge], drop: int, office: bool
    ) -> None:
        place = drop % len(charges)
        teeth = charges[place].teeth
        gone = (teeth[drop % len(teeth)],) if len(teeth) > 1 and by_line(charges[place].service) else (None,)
        if len(charges) == 1 and gone == (None,):
            return
        found = change(charges, dropped={place: gone}, office_dropped=office)
        assert found.change.difference_cents == found.after.total_cents - found.before.total_cents
        assert len(found.change.dropped) >= 1
        assert found.change.added == ()
        if office:
            assert found.change.difference_cents <= 0


class TestTheAccount:
    def test_held_and_owed_are_one_figure_seen_from_two_sides(self) -> None:
        held = Account(181000, 181000, 82000, 0, 0, deposit_waived=False)
        assert (held.held_cents, held.owed_cents, held.to_earn_cents) == (99000, 0, 99000)
        owed = Account(592000, 236800, 414400, 0, 236800, deposit_waived=False)
        assert (owed.held_cents, owed.owed_cents, owed.deposit_due_cents) == (0, 177600, 0)

    def test_nothing_goes_below_zero_in_silence(self) -> None:
        with pytest.raises(ValueError, match="nothing or more"):
            Account(-1, 0, 0, 0, 0, deposit_waived=False)
        with pytest.raises(ValueError, match="more is earned"):
            Account(100, 0, 90, 20, 0, deposit_waived=False)
