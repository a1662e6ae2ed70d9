"""Who may lawfully say yes, what no dentist can override, and what the place allows."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules import gate_special
from planner.rules.choices import Override
from planner.rules.gate_facts import age_on, birthday_at
from planner.rules.gates import after_overrides, override_fault
from planner.rules.verdicts import Reason, Verdict, worst
from tests.rules.cases import TODAY, day, found, office, reasons, the

CARE, WAIT, ASK, NO = Verdict.CARE, Verdict.WAIT, Verdict.ASK, Verdict.NO

# ---------------------------------------------------------------- lawful consent


def lawful(changes: dict[str, Any], today: date = TODAY, legal: dict[str, str] | None = None) -> Reason | None:
    return found("G18", reasons("reshaping", changes, today=today, book=office(legal)))


def test_age_is_that_of_the_day() -> None:
    born = {"patient.birth_date": "2008-03-26"}  # 18 on day 24: demo patient 3
    before = lawful(born)
    assert before is not None
    assert before.verdict is WAIT
    assert before.never_overridable
    assert before.earliest == day(24)
    assert lawful(born, today=day(23)) is not None
    assert lawful(born, today=day(24)) is None


def test_a_named_decision_maker_and_the_own_agreement() -> None:
    born = {"patient.birth_date": "2008-03-26", "patient.decision_maker": "The mother"}
    unknown = lawful(born)
    assert unknown is not None
    assert unknown.verdict is ASK
    refused = lawful(born | {"patient.own_agreement": False})
    assert refused is not None
    assert refused.verdict is WAIT
    assert refused.never_overridable
    assert lawful(born | {"patient.own_agreement": True}) is None


def test_age_of_own_consent_below_majority() -> None:
    legal = {"age-of-own-consent": "16", "age-of-majority": "18"}
    born = {"patient.birth_date": "2009-06-01"}
    assert lawful(born, legal=legal) is None
    refused = lawful(born | {"patient.own_agreement": False}, legal=legal)
    assert refused is not None
    assert refused.verdict is WAIT


@pytest.mark.parametrize("missing", ["age-of-own-consent", "age-of-majority"])
def test_legal_settings_not_entered_are_asked_for(missing: str) -> None:
    legal = {"age-of-own-consent": "18", "age-of-majority": "18"}
    assert lawful({}, legal=legal) is None
    del legal[missing]
    reason = lawful({}, legal=legal)
    assert reason is not None
    assert reason.verdict is ASK
    assert missing in reason.words


def test_birthday_on_29_february_is_a_setting() -> None:
    born = {"patient.birth_date": "2008-02-29"}
    fresh = {"history.signed_on": "2026-02-10"}
    ages = {"age-of-own-consent": "18", "age-of-majority": "18"}
    last, first = date(2026, 2, 28), date(2026, 3, 1)
    early, late = ages | {"leap-day-birthday": "28 February"}, ages | {"leap-day-birthday": "1 March"}
    assert lawful(born | fresh, last, early) is None
    wait = lawful(born | fresh, last, late)
    assert wait is not None
    assert wait.verdict is WAIT
    assert wait.earliest == first
    unset = lawful(born | fresh, last, ages)
    assert unset is not None
    assert unset.verdict is ASK
    assert "leap-day-birthday" in unset.words
    assert lawful(born | fresh, first, late) is None
    assert lawful(born | fresh, first, ages) is None


@given(born=st.dates(date(1930, 1, 1), date(2020, 12, 31)), years=st.integers(1, 90), later=st.booleans())
def test_age_turns_on_the_birthday(born: date, years: int, later: bool) -> None:
    birthday = birthday_at(born, years, later)
    assert age_on(born, birthday, later) == years
    assert age_on(born, date.fromordinal(birthday.toordinal() - 1), later) == years - 1


# ---------------------------------------------------------------- overrides


def _override(gate: str, second: str = "", option: str = "bonding", on: date = TODAY) -> Override:
    return Override(option=option, gate=gate, reason="Talked over at length.", by="Dr A", on=on, second_dentist=second)


def test_never_overridable() -> None:
    for course, changes in (
        ("bonding", {"history.urgent_problem": True}),
        ("bonding", {"patient.can_decide_alone": False}),
        (
            "whitening",
            {"patient.birth_date": "2010-01-01", "patient.decision_maker": "M", "patient.own_agreement": True},
        ),
    ):
        against = reasons(course, changes)
        stays = [reason for reason in against if reason.never_overridable]
        assert stays
        overrides = [_override(reason.gate, "Dr B", course) for reason in against]
        verdict, used = after_overrides(against, overrides, course, TODAY)
        assert verdict is worst(stays)
        assert not [reason for reason, _ in used if reason.never_overridable]


def test_override_makes_care_and_stays_visible() -> None:
    against = reasons("bonding", {"tooth.22.papilla_bleeds": True})
    assert worst(against) is WAIT
    verdict, used = after_overrides(against, [_override("G7")], "bonding", TODAY)
    assert verdict is CARE
    assert [reason.gate for reason, _ in used] == ["G7"]
    assert after_overrides(against, [_override("G7", option="whitening")], "bonding", TODAY)[0] is WAIT
    assert after_overrides(against, [_override("G7", on=day(1))], "bonding", TODAY)[0] is WAIT


def test_second_dentist() -> None:
    against = reasons("bonding", {"history.methacrylate": "positive"})
    allergy = the("G14", against)
    assert override_fault(allergy, _override("G14"))
    assert override_fault(allergy, _override("G14", second="dr a"))
    assert not override_fault(allergy, _override("G14", second="Dr B"))
    limit = the("G11", reasons("ceramic-veneer"))
    assert "only the patient" in override_fault(limit, _override("G11", "Dr B"))


def test_an_override_stands_in_a_name() -> None:
    reason = the("G7", reasons("bonding", {"tooth.22.papilla_bleeds": True}))
    nobody = _override("G7").model_copy(update={"by": " "})
    assert "name" in override_fault(reason, nobody)
    assert after_overrides([reason], [nobody], "bonding", TODAY) == (WAIT, ())


# ---------------------------------------------------------------- whitening and the law


def test_whitening_age_and_ceiling_are_local() -> None:
    ages = {"age-of-own-consent": "16", "age-of-majority": "18"}
    young = {"patient.birth_date": "2009-01-01"}
    default = the("whitening.age", reasons("whitening", young, book=office(ages)))
    assert default.verdict is NO
    assert default.never_overridable
    local = office(ages | {"whitening-age": "16"})
    assert found("whitening.age", reasons("whitening", young, book=local)) is None
    # Carbamide peroxide at 10 % is 3.6 % hydrogen peroxide, below the 6 % of Directive 2011/84/EU (from memory).
    eu, strict = ages | {"peroxide-ceiling-percent": "6"}, ages | {"peroxide-ceiling-percent": "3.5"}
    assert found("whitening.ceiling", reasons("whitening", book=office(eu))) is None
    beyond = the("whitening.ceiling", reasons("whitening", book=office(strict)))
    assert beyond.never_overridable
    assert "3.6 %" in beyond.words


def test_without_a_local_ceiling_the_strictest_known_one_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    ages = {"age-of-own-consent": "16", "age-of-majority": "18"}
    assert found("whitening.ceiling", reasons("whitening", book=office(ages))) is None
    monkeypatch.setattr(gate_special, "peroxide_percent", lambda _: Decimal("6.1"))
    beyond = the("whitening.ceiling", reasons("whitening", book=office(ages)))
    assert "6.1 %" in beyond.words
    assert "not set" in beyond.datum
    assert (
        found("whitening.ceiling", reasons("whitening", book=office(ages | {"peroxide-ceiling-percent": "9"}))) is None
    )


@pytest.mark.parametrize("typed", ["six", "NaN", ""])
def test_a_ceiling_that_is_no_number_is_asked_about(typed: str) -> None:
    ages = {"age-of-own-consent": "16", "age-of-majority": "18"}
    legal = office(ages | {"peroxide-ceiling-percent": typed or "-"})
    assert the("whitening.ceiling", reasons("whitening", book=legal)).verdict is ASK


def test_an_age_no_law_sets_is_asked_about() -> None:
    reason = lawful({"patient.birth_date": "2012-01-01"}, legal={"age-of-own-consent": "9999", "age-of-majority": "18"})
    assert reason is not None
    assert reason.verdict is ASK
