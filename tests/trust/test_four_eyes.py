"""What takes two people, tried as one: each is refused with a sentence, and by a second person it is done.

That two people stand behind money that goes back, prices that are lowered, rights, and data that leave or are destroyed
is common practice, no source; separation of duties as a principle: NIST SP 800-53, control AC-5, from memory.
"""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from planner.patients.models import Patient
from planner.patients.pictures import erase_picture, set_aside
from planner.plans import account
from planner.plans.accepted_models import Refund, Route
from planner.plans.casefiles import export_case_file, import_case_file
from planner.plans.discounting import Wanted, allow_discount, ask_discount
from planner.plans.facts import case_choices
from planner.plans.models import Case
from planner.practice import proposals, services
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.records.services import answer_copy, ask_copy
from planner.rules.mouth import CaseFacts
from planner.story.services import open_in_emergency, opening_seen
from planner.trail.errors import NotAllowed, Refused
from tests.pages import priced_office
from tests.patients.test_pictures import keep
from tests.plans.sample import plan_of
from tests.rules.books import charge
from tests.story.closed_rows import patient_of
from tests.support import NOW, PASSWORD, TODAY

pytestmark = pytest.mark.django_db
OPTION = "reshape-bond"


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def second(person: Callable[..., Staff]) -> Staff:
    """Another owner dentist: may do all that the first may."""
    return person(Role.OWNER, full_name="Sven Second")


@pytest.fixture
def patient(owner: Staff) -> Patient:
    return patient_of(owner)


class TestRefunds:
    @pytest.fixture
    def asked(self, owner: Staff, lead_case: CaseFacts) -> Refund:
        plan = plan_of(owner, lead_case, charge("ceramic-face", 1, "11"))
        paid = account.receive(plan=plan, cents=9000, payer="Aunt", route=Route.CARD, actor=owner, now=NOW)
        return account.ask_refund(plan=plan, receipt=paid, cents=5000, reason="moves", actor=owner, now=NOW)

    def test_asked_allowed_and_paid_are_not_one_person(self, asked: Refund, owner: Staff, second: Staff) -> None:
        with pytest.raises(Refused, match="Nobody allows a refund they asked for"):
            account.allow_refund(refund=asked, seen=1, actor=owner, now=NOW)
        allowed = account.allow_refund(refund=asked, seen=1, actor=second, now=NOW)
        with pytest.raises(Refused, match="Two people stand behind a refund"):
            account.pay_refund(refund=allowed, seen=2, actor=second, now=NOW)
        assert account.pay_refund(refund=allowed, seen=2, actor=owner, now=NOW).payment is not None


class TestDiscounts:
    @pytest.fixture
    def case(self, owner: Staff, lead_case: CaseFacts) -> Case:
        return import_case_file(facts=lead_case, actor=owner, now=NOW).case

    @staticmethod
    def ask(case: Case, actor: Staff, percent: int, **more: Any) -> Case:
        given: dict[str, Any] = {"kind": "courtesy", "reason": "Known for years."} | more
        wanted = Wanted(option=OPTION, percent=Decimal(percent), **given)
        return ask_discount(case=case, seen=case.version, wanted=wanted, actor=actor, now=NOW)

    @staticmethod
    def allow(case: Case, actor: Staff) -> Case:
        return allow_discount(case=case, seen=case.version, key="discount-1", actor=actor, now=NOW)

    @pytest.fixture
    def asker(self, person: Callable[..., Staff]) -> Staff:
        """Asks as a dentist, and allows as a manager."""
        return person(Role.DENTIST, Role.MANAGER, full_name="Two Hats")

    def test_nobody_allows_what_they_asked_for(self, case: Case, asker: Staff, person: Callable[..., Staff]) -> None:
        waiting = self.ask(case, asker, 12)
        assert not case_choices(waiting).discounts[0].given
        with pytest.raises(Refused, match="who allows it is another person"):
            self.allow(waiting, asker)
        assert case_choices(self.allow(waiting, person(Role.MANAGER))).discounts[0].given

    def test_a_case_file_names_nobody_else_as_the_one_who_asked(
        self, case: Case, owner: Staff, asker: Staff, person: Callable[..., Staff]
    ) -> None:
        waiting = self.ask(case, person(Role.DENTIST, full_name="Somebody Else"), 12)
        facts = export_case_file(case=waiting, actor=owner, now=NOW).model_copy(update={"case": "another"})
        brought = import_case_file(facts=facts, actor=asker, now=NOW).case
        assert case_choices(brought).discounts[0].asked_by == "Two Hats"
        with pytest.raises(Refused, match="who allows it is another person"):
            self.allow(brought, asker)

    def test_the_own_family_takes_a_second_person(self, case: Case, asker: Staff, person: Callable[..., Staff]) -> None:
        first, other = person(Role.MANAGER), person(Role.MANAGER)
        waiting = self.ask(case, asker, 50, kind="staff or family", own_family=True)
        with pytest.raises(Refused, match="another person"):
            self.allow(waiting, asker)
        waiting = self.allow(waiting, first)
        for one in (first, asker):
            with pytest.raises(Refused, match="needs a second person, other than who asked and allowed"):
                self.allow(waiting, one)
        assert not case_choices(waiting).discounts[0].given
        assert case_choices(self.allow(waiting, other)).discounts[0].given


class TestRights:
    def test_nobody_touches_their_own(self, owner: Staff, second: Staff) -> None:
        who: dict[str, Any] = {"actor": owner, "now": NOW}
        tries: tuple[Callable[[], Any], ...] = (
            lambda: services.change_roles(staff=owner, seen=1, roles=[Role.DENTIST], reason="r", **who),
            lambda: services.end_access(staff=owner, seen=1, reason="r", **who),
            lambda: services.give_once(staff=owner, password=PASSWORD + "2", **who),
        )
        for one, words in zip(tries, ("their own roles", "their own access", "for themselves"), strict=True):
            with pytest.raises(NotAllowed, match=words):
                one()
        services.change_roles(staff=owner, seen=1, roles=[Role.DENTIST], reason="r", actor=second, now=NOW)
        assert Staff.objects.get(pk=owner.pk).roles == {Role.DENTIST}

    def test_a_manager_gives_nobody_a_power_and_so_none_to_a_second_self(self, person: Callable[..., Staff]) -> None:
        manager = person(Role.MANAGER)
        for role in (Role.OWNER, Role.MANAGER, Role.KEEPER):
            with pytest.raises(NotAllowed, match="owner dentist decides"):
                services.add_staff(
                    username="again", full_name="Me Again", password=PASSWORD, roles=[role], actor=manager, now=NOW
                )


def test_nobody_answers_the_legal_setting_they_proposed(owner: Staff, second: Staff) -> None:
    given = {"key": "estimate_valid_days", "value": "30", "reason": "Advice.", "effective": TODAY + timedelta(days=1)}
    asked = proposals.propose(**given, actor=owner, now=NOW)  # type: ignore[arg-type]
    with pytest.raises(Refused, match="Nobody answers what they proposed themselves"):
        proposals.answer(proposal=asked, agrees=True, reason="", actor=owner, now=NOW)
    declined = proposals.answer(proposal=asked, agrees=False, reason="Not yet.", actor=second, now=NOW)
    assert declined.outcome == "declined"


def test_nobody_allows_the_copy_of_the_office_they_asked_for(
    second: Staff, owner: Staff, person: Callable[..., Staff]
) -> None:
    both = person(Role.MANAGER, Role.OWNER)
    asked = ask_copy(reason="We change programs.", actor=both, now=NOW)
    for agrees in (True, False):
        with pytest.raises(Refused, match="Nobody allows what they asked for themselves"):
            answer_copy(copy=asked, agrees=agrees, reason="Well.", actor=both, now=NOW)
    assert answer_copy(copy=asked, agrees=True, reason="", actor=second, now=NOW).outcome == "allowed"


def test_whoever_set_a_picture_aside_does_not_erase_it(owner: Staff, second: Staff, patient: Patient) -> None:
    picture = keep(patient, owner)
    set_aside(picture=picture, reason="Another person's.", actor=owner, now=NOW)
    with pytest.raises(Refused, match="It was you who set this picture aside"):
        erase_picture(picture=picture, reason="Request of 1 March.", actor=owner, now=NOW)
    erase_picture(picture=picture, reason="Request of 1 March.", actor=second, now=NOW)


def test_nobody_looks_into_their_own_emergency_opening(owner: Staff, second: Staff, patient: Patient) -> None:
    opening = open_in_emergency(patient=patient, reason="Fainted.", actor=owner, now=NOW)
    with pytest.raises(Refused, match="It was you who opened the file"):
        opening_seen(opening=opening, words="Fine.", actor=owner, now=NOW)
    assert opening_seen(opening=opening, words="Right so.", actor=second, now=NOW).by == second
