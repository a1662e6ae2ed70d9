"""Cases: edited under a version, and every decision of the dentist with its reason."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.http import Http404

from planner.patients.models import Examination
from planner.plans import cases
from planner.plans.access import load_case
from planner.plans.casefiles import import_case_file
from planner.plans.facts import case_choices, case_facts
from planner.plans.if_then import set_if_then
from planner.plans.models import Case
from planner.plans.queries import cases_of
from planner.practice.access import Act, Thing
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.choices import Lock, Override, SurfaceChoice
from planner.rules.mouth import CaseFacts, Limits, Wish
from planner.rules.teeth import Tooth
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailEntry
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db
T11, T21, T22 = (Tooth.from_iso(number) for number in ("11", "21", "22"))


def last_act() -> TrailEntry:
    return TrailEntry.objects.order_by("-sequence")[0]


def lock(value: str = "9.1", tooth: Tooth = T21, reason: str = "a chip hides there") -> Lock:
    return Lock.model_validate({"tooth": tooth, "what": "width", "value": value, "reason": reason, "by": "x"})


def test_a_case_is_changed_part_by_part(case: Case, owner: Staff) -> None:
    wish = Wish(rank=1, words="close it")
    saved = cases.change_case(
        case=case, seen=case.version, wishes=[wish], limits=Limits(visits=2), actor=owner, now=NOW
    )
    facts = case_facts(saved)
    assert (facts.wishes, facts.limits, facts.notes) == ((wish,), Limits(visits=2), case.notes)
    content = json.loads(last_act().detail.content)
    assert content["after"]["limits"] == {"visits": 2}
    assert set(content["before"]) == {"wishes", "limits"}


def test_two_dentists_on_one_case(case: Case, owner: Staff, person: Callable[..., Staff]) -> None:
    other, seen = person(Role.DENTIST), case.version
    cases.change_case(case=case, seen=seen, notes="first", actor=owner, now=NOW)
    with pytest.raises(StaleEdit) as caught:
        cases.change_case(case=case, seen=seen, notes="second", actor=other, now=NOW)
    assert (caught.value.theirs, caught.value.yours) == ({"notes": "first"}, {"notes": "second"})
    with pytest.raises(StaleEdit):
        cases.set_lock(case=case, seen=seen, lock=lock(), actor=other, now=NOW)
    assert case_facts(Case.objects.get()).choices == case_choices(case)


def test_what_belongs_to_somebody_else_is_refused(case: Case, owner: Staff, lead_case: CaseFacts) -> None:
    person = lead_case.patient.model_copy(update={"name": "Somebody Else"})
    other = import_case_file(facts=lead_case.model_copy(update={"patient": person}), actor=owner, now=NOW).case
    foreign = Examination.objects.get(pk=other.examination_id)
    with pytest.raises(Refused, match="another person's"):
        cases.change_case(case=case, seen=case.version, examination=foreign, actor=owner, now=NOW)
    pictures = [line.picture for line in other.case_pictures.all()]
    with pytest.raises(Refused, match="another person's"):
        cases.change_case(case=case, seen=case.version, pictures=pictures, actor=owner, now=NOW)


def test_two_cases_of_one_person_have_two_names(case: Case, owner: Staff) -> None:
    given: dict[str, Any] = {"patient": case.patient, "examination": case.examination, "actor": owner, "now": NOW}
    second = cases.open_case(name="later question", **given)
    assert cases_of(case.patient) == (second, case)
    for name, sentence in ((case.name, "already"), ("  ", "needs a name"), ("x" * 81, "80")):
        with pytest.raises(Refused, match=sentence):
            cases.open_case(name=name, **given)
    with pytest.raises(Refused, match="already"):
        cases.change_case(case=second, seen=1, name=case.name, actor=owner, now=NOW)


def test_a_lock_is_signed_replaced_and_let_go(case: Case, owner: Staff) -> None:
    kept = case_choices(case).locks
    once = cases.set_lock(case=case, seen=case.version, lock=lock("9.1"), actor=owner, now=NOW)
    twice = cases.set_lock(case=once, seen=once.version, lock=lock("9.2"), actor=owner, now=NOW)
    (mine,) = [found for found in case_choices(twice).locks if found not in kept]
    assert (mine.value, mine.by, mine.on) == (92, "Olive Owner", TODAY)
    entry = last_act()
    assert (entry.act, entry.reason) == ("case.lock", "a chip hides there")
    content = json.loads(entry.detail.content)
    assert (content["before"][0]["value"], content["after"]["value"]) == ("9.1", "9.2")
    gone = cases.clear_lock(
        case=twice, seen=twice.version, tooth=T21, what="width", reason="measured again", actor=owner, now=NOW
    )
    assert case_choices(gone).locks == kept
    with pytest.raises(Refused, match='No "width" is locked there'):
        cases.clear_lock(case=gone, seen=gone.version, tooth=T21, what="width", reason="again", actor=owner, now=NOW)


def test_a_gap_is_the_same_gap_from_either_side(case: Case, owner: Staff) -> None:
    given = {"what": "gap left", "value": "0.3", "reason": "wished", "by": "x"}
    saved = cases.set_lock(
        case=case, seen=case.version, lock=Lock.model_validate(given | {"between": (T21, T22)}), actor=owner, now=NOW
    )
    saved = cases.clear_lock(
        case=saved, seen=saved.version, between=(T22, T21), what="gap left", reason="r", actor=owner, now=NOW
    )
    assert case_choices(saved).locks == case_choices(case).locks


def test_options_are_struck_restored_and_recommended(case: Case, owner: Staff) -> None:
    def act(service: Callable[..., Case], option: str) -> Case:
        current = Case.objects.get(pk=case.pk)
        return service(case=current, seen=current.version, option=option, reason="because", actor=owner, now=NOW)

    act(cases.recommend_option, "bonding")
    saved = act(cases.strike_option, "bonding")
    assert case_choices(saved).recommended is None, "what is struck is not recommended"
    with pytest.raises(Refused, match="struck option"):
        act(cases.recommend_option, "bonding")
    with pytest.raises(Refused, match="not struck"):
        act(cases.restore_option, "whitening")
    act(cases.restore_option, "bonding")
    choice = case_choices(act(cases.recommend_option, "bonding")).recommended
    assert choice is not None
    assert (choice.option, choice.by) == ("bonding", "Olive Owner")


def test_an_override_names_who_and_why(case: Case, owner: Staff) -> None:
    given = {"option": "bonding", "gate": "G7", "reason": "splint agreed and made", "by": "x", "on": TODAY}
    with pytest.raises(Refused, match="somebody else"):
        cases.override_gate(
            case=case,
            seen=case.version,
            override=Override.model_validate(given | {"second_dentist": "olive owner"}),
            actor=owner,
            now=NOW,
        )
    # In an office of one dentist nobody outside it can be typed in as the second.
    with pytest.raises(Refused, match="No dentist of this office is called Dr Nobody"):
        cases.override_gate(
            case=case,
            seen=case.version,
            override=Override.model_validate(given | {"second_dentist": "Dr Nobody"}),
            actor=owner,
            now=NOW,
        )
    saved = cases.override_gate(
        case=case, seen=case.version, override=Override.model_validate(given), actor=owner, now=NOW
    )
    assert [found.by for found in case_choices(saved).overrides if found.gate == "G7"] == ["Olive Owner"]
    which = {"option": "bonding", "gate": "G7", "reason": "no splint", "actor": owner, "now": NOW}
    saved = cases.withdraw_override(case=saved, seen=saved.version, **which)
    assert not [found for found in case_choices(saved).overrides if found.gate == "G7"]
    with pytest.raises(Refused, match="not overridden"):
        cases.withdraw_override(case=saved, seen=saved.version, **which)


def test_surfaces_line_class_and_if_then(case: Case, owner: Staff) -> None:
    choice = SurfaceChoice(tooth=T11, surfaces=2, reason="blended over the face")
    saved = cases.set_surfaces(case=case, seen=case.version, choice=choice, actor=owner, now=NOW)
    saved = cases.set_line_class(
        case=saved, seen=saved.version, reconstructive=True, reason="a tooth is missing", actor=owner, now=NOW
    )
    saved = set_if_then(case=saved, seen=saved.version, entries=["If a, then b.", " "], actor=owner, now=NOW)
    choices = case_choices(saved)
    assert [found.surfaces for found in choices.surfaces if found.tooth == T11] == [2]
    assert (choices.reconstructive, choices.tax_reason) == (True, "a tooth is missing")
    assert choices.if_then == ("If a, then b.",)


DECISIONS: list[tuple[str, Callable[[Case, Staff, str], Case]]] = [
    ("lock", lambda c, a, r: cases.set_lock(case=c, seen=c.version, lock=lock(reason=r), actor=a, now=NOW)),
    (
        "unlock",
        lambda c, a, r: cases.clear_lock(case=c, seen=c.version, tooth=T21, what="width", reason=r, actor=a, now=NOW),
    ),
    ("strike", lambda c, a, r: cases.strike_option(case=c, seen=c.version, option="x", reason=r, actor=a, now=NOW)),
    ("restore", lambda c, a, r: cases.restore_option(case=c, seen=c.version, option="x", reason=r, actor=a, now=NOW)),
    (
        "recommend",
        lambda c, a, r: cases.recommend_option(case=c, seen=c.version, option="x", reason=r, actor=a, now=NOW),
    ),
    (
        "surfaces",
        lambda c, a, r: cases.set_surfaces(
            case=c,
            seen=c.version,
            choice=SurfaceChoice(tooth=T11, surfaces=2, reason=r),
            actor=a,
            now=NOW,
        ),
    ),
    (
        "line class",
        lambda c, a, r: cases.set_line_class(case=c, seen=c.version, reconstructive=True, reason=r, actor=a, now=NOW),
    ),
    (
        "withdrawal",
        lambda c, a, r: cases.withdraw_override(
            case=c, seen=c.version, option="x", gate="G7", reason=r, actor=a, now=NOW
        ),
    ),
]


@pytest.mark.parametrize("decide", [decide for _, decide in DECISIONS], ids=[name for name, _ in DECISIONS])
def test_every_decision_needs_a_reason_and_the_right(
    case: Case, owner: Staff, colleague: Staff, outsider: Staff, decide: Callable[[Case, Staff, str], Case]
) -> None:
    before = TrailEntry.objects.count()
    with pytest.raises(Refused, match="needs a reason"):
        decide(case, owner, "  ")
    with pytest.raises(NotAllowed, match="front desk"):
        decide(case, colleague, "because")
    with pytest.raises(NotAllowed, match="another office"):
        decide(case, outsider, "because")
    assert TrailEntry.objects.count() == before


def test_the_door(case: Case, owner: Staff, colleague: Staff, outsider: Staff) -> None:
    assert load_case(actor=colleague, public_id=case.public_id, now=NOW) == case
    with pytest.raises(NotAllowed):
        load_case(actor=colleague, public_id=case.public_id, act=Act.EDIT, now=NOW)
    with pytest.raises(NotAllowed):
        load_case(actor=colleague, public_id=case.public_id, act=Act.VIEW, thing=Thing.LOCKS, now=NOW)
    with pytest.raises(Http404):
        load_case(actor=outsider, public_id=case.public_id, now=NOW)
