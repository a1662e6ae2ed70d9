"""The page of the spaces: who may, what it computes and keeps, what bad input gets, two editors, and its cost."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from planner.patients.examinations import store_examination, with_lines
from planner.patients.facts import examination_facts
from planner.patients.models import Examination
from planner.patients.pictures import record_picture
from planner.plans.casefiles import import_case_file
from planner.plans.cases import change_case, set_lock
from planner.plans.facts import case_choices, case_facts
from planner.plans.models import Case
from planner.plans.space_forms import SpaceForm
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.choices import Choices, Lock
from planner.rules.mouth import CaseFacts, Picture, ToothFacts
from planner.rules.teeth import Numbering, Tooth
from planner.trail.models import TrailEntry
from tests.pages import client_of, queries_of, refusals

pytestmark = pytest.mark.django_db

LATERAL = Tooth.from_iso("22").key
HTMX = {"HX-Request": "true"}


@pytest.fixture
def lead(owner: Staff, lead_case: CaseFacts) -> Case:
    """The lead case on file, its measurements confirmed."""
    return import_case_file(facts=lead_case, actor=owner, now=timezone.now()).case


@pytest.fixture
def small(owner: Staff, lead_case: CaseFacts) -> Case:
    """Two centrals and the gap between them: little to compute."""
    facts = lead_case.examination
    two = facts.model_copy(update={"teeth": facts.teeth[2:4], "gaps": facts.gaps[2:3], "absent": ()})
    choices = Choices()
    case = lead_case.model_copy(update={"examination": two, "choices": choices, "wishes": (), "case": "two centrals"})
    return import_case_file(facts=case, actor=owner, now=timezone.now()).case


def url_of(case: Case, page: str = "") -> str:
    return f"/plans/{case.public_id}/spaces/{page}"


def at(name: str) -> str:
    """``width__11`` as the cell of that tooth, ``gap_width__13`` of the gap beside it toward the left."""
    field, found, number = name.partition("__")
    if not found:
        return name
    key = Tooth.from_iso(number).key
    return f"gap-{key}-{field.removeprefix('gap_')}" if field.startswith("gap_") else f"{key}-{field}"


def begun(_client: Client, case: Case, **typed: str | None) -> dict[str, str]:
    """The form as a browser sends it back, with cells typed otherwise; None unticks."""
    case = Case.objects.get(pk=case.pk)
    blank = SpaceForm(None, facts=case_facts(case), seen=case.version)
    data = {"seen": str(case.version)}
    for form in blank.every_form():
        for field in form:
            value = field.value()
            if value is True:
                data[field.html_name] = "on"
            elif value is not False and value not in (None, ""):
                data[field.html_name] = str(value)
    for name, text in typed.items():
        if text is None:
            del data[at(name)]
        else:
            data[at(name)] = text
    return data


def acts() -> list[str]:
    """What the trail holds, looks at files apart."""
    return list(TrailEntry.objects.exclude(act="patient.view").order_by("sequence").values_list("act", flat=True))


def tried(client: Client, case: Case, data: dict[str, str]) -> Any:
    """The answer to a try, which stores nothing."""
    before = acts(), Case.objects.get().version
    response = client.post(url_of(case), data, headers=HTMX)
    assert response.status_code == 200
    assert "<html" not in response.content.decode()
    assert (acts(), Case.objects.get().version) == before
    return response


# What it computes


def test_the_lead_case_as_the_model_page_has_it(owner: Staff, lead: Case) -> None:
    """The lead's oracle of the space model: common practice, figures computed with a general solver."""
    shown = client_of(owner).get(url_of(lead)).context["shown"]
    assert shown.verdict == "shared"
    best, smallest = shown.plans
    assert (best.name, best.offered) == ("Fewest teeth, best proportion", True)
    assert not smallest.offered
    assert "17.0 above the best proportion's" in smallest.why_not
    figures = {figure.words: figure for figure in best.figures}
    assert figures["points of misfit"].value == "34.0"
    assert figures["mm added in all"].value == "3.7"
    assert figures["mm added in all"].how[0].endswith("= 3.7")
    assert figures["mm, largest share"].how == ("22 (Universal 10), on the patient's left",)
    assert {(side.side, side.free) for side in best.sides} == {
        ("patient's right", "0.8"),
        ("between the two centrals", "0.8"),
        ("patient's left", "1.6"),
    }
    parts = [part.rpartition(": ")[2].split()[0] for part in figures["points of misfit"].how]
    assert sum(round(float(points) * 10) for points in parts) == 340, "the parts add up to the figure"


def test_trying_a_lock_shows_its_effect_and_stores_nothing(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    free = tried(client, lead, begun(client, lead, leave__53=None))
    assert [plan.name for plan in free.context["shown"].plans][:2] == ["Fewest teeth", "Best proportion"]
    assert free.context["tried"] == ("53: as if it may be touched",)
    locked = tried(client, lead, begun(client, lead, lengthen__22="0,5", gap_fixed__53="close", leave__53=None))
    words = [change.words for change in locked.context["changes"]]
    assert words == ["22, lengthen by: free → 0.5 mm", "gap 53·13, to be left: free → 0.0 mm"]


def test_nothing_fits_and_the_page_says_what_would(owner: Staff, small: Case) -> None:
    client = client_of(owner)
    page = tried(client, small, begun(client, small, gap_width__11="3.4")).content.decode()
    assert "It would fit if one of these sets of rules gave way" in page
    assert "Smallest movement after which it fits: close" in page
    assert "Request to the orthodontist" in page
    assert "Not recorded yet, to be looked at before closing" not in page, "all three are recorded in this case"
    shut = tried(client, small, begun(client, small, untouched__11="on", untouched__21="on")).context["shown"]
    assert "not to be touched" in shut.sentence


def test_a_gap_of_a_tenth_asks_for_the_film_first(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    asked = tried(client, lead, begun(client, lead, gap_width__13="0.1")).context["shown"]
    assert len(asked.questions) == 1
    answered = tried(client, lead, begun(client, lead, gap_width__13="0.1", gap_film__13="tight")).context["shown"]
    assert answered.questions == ()
    assert answered.plans


def test_which_measurements_decide_is_looked_at_when_asked_a_few_at_a_time(owner: Staff, small: Case) -> None:
    """The page asks on with a signed text; without scripts it is all of it at once. Both come to the same."""
    client = client_of(owner)
    data = begun(client, small) | {"action": "decide"}
    assert "asked" not in client.get(url_of(small)).context
    steps, so_far = [], ""
    while True:
        answer = client.post(url_of(small), data | {"so_far": so_far}, headers=HTMX)
        assert "<html" not in answer.content.decode()
        steps.append(answer.context["asked"].scan)
        if steps[-1].finished:
            break
        assert f"of {steps[-1].total} measurements" in answer.content.decode()
        so_far = answer.context["asked"].so_far
    assert [scan.done for scan in steps] == [3, 5]
    whole = client.post(url_of(small), data)
    assert whole.context["asked"].scan.sentences == steps[-1].sentences
    page = whole.content.decode()
    assert "again" in page
    assert all(words in page.replace("&#x27;", "'") for words in steps[-1].sentences)


def test_a_scan_of_other_values_begins_anew(owner: Staff, small: Case) -> None:
    client = client_of(owner)
    data = begun(client, small) | {"action": "decide"}
    first = client.post(url_of(small), data, headers=HTMX).context["asked"]
    for so_far, typed in ((first.so_far, "8.6"), (first.so_far[:-2] + "xx", "8.4"), ("nonsense", "8.4")):
        again = data | {"so_far": so_far, at("width__21"): typed}
        assert client.post(url_of(small), again, headers=HTMX).context["asked"].scan.done == 3
    unmeasured = data | {at("width__21"): ""}
    assert client.post(url_of(small), unmeasured, headers=HTMX).context["asked"] is None


def test_what_is_not_measured_is_asked(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    shown = tried(client, lead, begun(client, lead, width__22="")).context["shown"]
    assert shown.verdict == "measure first"
    assert any("The width of the" in question for question in shown.questions)


def test_teeth_are_written_as_the_case_writes_them(owner: Staff, lead: Case) -> None:
    change_case(case=lead, seen=lead.version, numbering=Numbering.UNIVERSAL, actor=owner, now=timezone.now())
    page = client_of(owner).get(url_of(lead)).content.decode()
    assert "adding to 8, 9 and 10 and shortening 6" in page
    assert "ISO 13" in page


# Bad input


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"gap_width__13": "83"}, "83.0 mm is no gap"),
        ({"width__11": "85"}, "85.0 mm is no width of a tooth"),
        ({"width__11": "-1"}, "-1.0 mm is no width"),
        ({"width__11": "wide"}, "is not a length"),
        ({"lengthen__22": "1.25"}, "finer than can be measured"),
        ({"lengthen__22": "20"}, "20.0 mm is out of range"),
        ({"gap_film__13": "tight"}, "answers the question about a gap of 0.1 or 0.2 mm"),
        ({"gap_fixed__13": "value"}, "How much is to be left?"),
        ({"gap_left__13": "0.5"}, "choose “leave this much”"),
        ({"gap_fixed__13": "sideways"}, "sideways"),
        ({"front-raised": "share"}, "On which tooth?"),
        ({"front-raised_to": "1.8"}, "Which limit is raised?"),
        ({"front-raised": "share", "front-raised_tooth": LATERAL}, "To how much?"),
        ({"front-raised": "share", "front-raised_tooth": LATERAL, "front-raised_to": "2.1"}, "2.0 mm at most"),
        ({"front-raised": "emergence", "front-raised_tooth": LATERAL, "front-raised_to": "steep"}, "is no angle"),
        ({"front-ratio": "30"}, "not a whole number between 50 and 100"),
        ({"front-midline": "6"}, "between -5.0 and 5.0"),
        ({"slender_mesial__11": "0.3"}, "between 0.0 and 0.2"),
        ({"front-strip_length": "long"}, "is not a length"),
    ],
)
def test_bad_input_gets_a_sentence_at_its_cell_and_is_kept(
    typed: dict[str, str | None], sentence: str, owner: Staff, lead: Case
) -> None:
    client = client_of(owner)
    data = begun(client, lead, **typed)
    part = tried(client, lead, data).content.decode().replace("&#x27;", "'")
    assert sentence in part
    assert "Not computed, and nothing is stored" in part
    whole = client.post(url_of(lead, "keep/"), data).content.decode().replace("&#x27;", "'")
    assert sentence in whole
    for name, value in typed.items():
        assert f'value="{value}"' in whole or f'name="{at(name)}"' in whole
    assert case_choices(Case.objects.get()) == case_choices(lead)
    assert Examination.objects.count() == 1


def test_a_posted_number_of_nonsense_never_breaks_the_page(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    data = dict.fromkeys(begun(client, lead), "²\x00½")
    for page in ("", "keep/", "findings/"):
        assert client.post(url_of(lead, page), data).status_code == 200
        assert client.post(url_of(lead, page), {}).status_code == 200


def test_a_slip_is_pointed_out_while_trying(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    page = tried(client, lead, begun(client, lead, width__11="10.4", length__11="8.3")).content.decode()
    assert "are width and length swapped?" in page


# Keeping


def test_locks_are_kept_all_or_none_each_with_its_reason(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    data = begun(client, lead, lengthen__22="0.5", untouched__23="on", shorten__13="")
    reasons = {change.field for change in client.post(url_of(lead), data).context["changes"]}
    assert len(reasons) == 3
    some = data | dict.fromkeys(sorted(reasons)[:2], "as agreed")
    response = client.post(url_of(lead, "keep/"), some)
    assert "A reason is missing" in response.content.decode()
    assert 'value="as agreed"' in response.content.decode()
    assert case_choices(Case.objects.get()) == case_choices(lead)
    before = len(acts())
    assert client.post(url_of(lead, "keep/"), data | dict.fromkeys(reasons, "as agreed")).status_code == 302
    kept = {(lock.tooth.iso if lock.tooth else "", lock.what, lock.value, lock.reason, lock.by) for lock in _locks()}
    assert kept == {
        ("22", "lengthen", 5, "as agreed", owner.full_name),
        ("23", "untouched", None, "as agreed", owner.full_name),
    }
    assert sorted(acts()[before:]) == ["case.lock", "case.lock", "case.unlock"]
    page = client.get(url_of(lead)).content.decode()
    assert "22, lengthen by: 0.5 mm" in page


def _locks() -> tuple[Lock, ...]:
    return case_choices(Case.objects.get()).locks


@pytest.mark.parametrize(("fixed", "left", "value"), [("close", "", 0), ("leave", "", 9), ("value", "0.5", 5)])
def test_a_gap_is_closed_left_or_left_by_so_much(fixed: str, left: str, value: int, owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    data = begun(client, lead, gap_fixed__22=fixed, gap_left__22=left)
    (change,) = client.post(url_of(lead), data).context["changes"]
    client.post(url_of(lead, "keep/"), data | {change.field: "wanted so"})
    (lock,) = [lock for lock in _locks() if lock.between]
    assert (lock.value, [tooth.iso for tooth in lock.between or ()]) == (value, ["22", "23"])
    again = client.get(url_of(lead)).context["form"].gap_forms[-1]
    assert again["fixed"].value() == fixed
    assert client.post(url_of(lead), begun(client, lead)).context["changes"] == ()


def test_every_decision_is_kept_with_its_history(owner: Staff, lead: Case) -> None:
    """Who, when, why, and what it was before: from the trail, which nobody can change."""
    client = client_of(owner)
    typed = {
        at("slender_distal__23"): "0.1",
        at("twins_apart__11"): "on",
        at("role__23"): "premolar",
        "front-ratio": "78",
        "front-midline": "0",
        "front-raised": "lengthen",
        "front-raised_tooth": LATERAL,
        "front-raised_to": "2.0",
    }
    data = begun(client, lead) | typed
    shown = client.post(url_of(lead), data, headers=HTMX).context
    assert {change.words for change in shown["changes"]} == {
        "23, slenderise away from it by: free → 0.1 mm",
        "11, need not match its twin: free → yes",
        "23, must look like: free → premolar",
        "width of the laterals aimed at, of their central's: free → 78 %",
        "centrals' contact today, left of the midline aimed at by: free → 0.0 mm",
        "22, most lengthening: free → 2.0 mm",
    }
    reasons = {change.field: f"because of {change.key}" for change in shown["changes"]}
    assert client.post(url_of(lead, "keep/"), data | reasons).status_code == 302
    assert {lock.what for lock in _locks()} >= {"slenderise distal", "twins apart", "role", "ratio", "midline"}
    data = begun(client, lead) | {"front-ratio": "80"}
    (change,) = client.post(url_of(lead), data, headers=HTMX).context["changes"]
    assert client.post(url_of(lead, "keep/"), data | {change.field: "seen on a photograph"}).status_code == 302
    newest, *older = client.get(url_of(lead)).context["history"]
    words = "width of the laterals aimed at, of their central's: 78 % → 80 %"
    assert (newest.words, newest.by, newest.reason) == (words, owner.full_name, "seen on a photograph")
    assert len(older) == 6


def test_what_a_change_does_is_said_tooth_by_tooth(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    same = tried(client, lead, begun(client, lead)).context
    assert "effect" not in same
    other = tried(client, lead, begun(client, lead, twins_apart__11="on")).context["effect"]
    assert any("21 toward the midline 0.5 → 0.4" in words for words in other)
    shut = tried(client, lead, begun(client, lead, untouched__11="on", untouched__21="on")).context["effect"]
    assert shut[0].startswith("The answer: shared → ")


def test_two_plans_stand_above_each_other(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    data = begun(client, lead) | {"action": "compare", "upper": "fewest-teeth", "lower": "smallest-shares"}
    part = client.post(url_of(lead), data, headers=HTMX)
    assert "<html" not in part.content.decode()
    assert "<svg" in part.content.decode()
    assert part.context["compare"].names == ("Fewest teeth, best proportion", "Smallest shares")
    twice = client.post(url_of(lead), data | {"lower": "fewest-teeth"}).content.decode()
    assert "Choose two different plans" in twice
    assert "<html" in twice


def test_why_not_otherwise_is_asked_for_by_the_page(owner: Staff, small: Case) -> None:
    client = client_of(owner)
    data = begun(client, small) | {"action": "why"}
    part = client.post(url_of(small), data, headers=HTMX)
    assert 1 <= len(part.context["rejected"]) <= 3
    assert "Why it was not taken" in part.content.decode()
    assert "Why it was not taken" in client.post(url_of(small), data).content.decode()
    nothing = data | {at("width__21"): ""}
    assert client.post(url_of(small), nothing, headers=HTMX).context["rejected"] is None


def test_less_movement_is_asked_for_and_refused_with_a_sentence(owner: Staff, small: Case) -> None:
    client = client_of(owner)
    data = begun(client, small, gap_width__11="3.4") | {"action": "less", "most": "9"}
    assert "then everything fits" in client.post(url_of(small), data, headers=HTMX).content.decode()
    assert "is no such movement" in client.post(url_of(small), data | {"most": "0"}, headers=HTMX).content.decode()


def test_the_arch_in_one_go_is_held_against_its_parts(owner: Staff, lead: Case) -> None:
    """The closure check: 0.3 mm times the root of the readings is allowed (common practice)."""
    client = client_of(owner)
    page = tried(client, lead, begun(client, lead) | {"front-strip_length": "40"})
    assert any("Taken in one go the arch measures 40.0 mm" in words for words in page.context["shown"].doubts)
    assert page.context["shown"].plans, "a question is no wall"


def test_a_tried_measurement_is_never_kept_here(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    data = begun(client, lead, width__22="5.9", build_up__22="on")
    (change,) = client.post(url_of(lead), data).context["changes"]
    client.post(url_of(lead, "keep/"), data | {change.field: "wanted so"})
    assert examination_facts(with_lines().get()).teeth[4].width == 55


def test_a_second_editor_sees_what_the_first_fixed(owner: Staff, lead: Case, person: Callable[..., Staff]) -> None:
    client = client_of(owner)
    data = begun(client, lead, lengthen__22="0.5")
    reason = {change.field: "mine" for change in client.post(url_of(lead), data).context["changes"]}
    lock = Lock(tooth=Tooth.from_iso("23"), what="untouched", reason="theirs", by="")
    set_lock(case=lead, seen=lead.version, lock=lock, actor=person(Role.DENTIST), now=timezone.now())
    response = client.post(url_of(lead, "keep/"), data | reason)
    page = response.content.decode()
    assert "changed by somebody else" in page
    assert "23, do not touch: yes; theirs" in page
    assert {change.words for change in response.context["changes"]} == {
        "22, lengthen by: free → 0.5 mm",
        "23, do not touch: yes → free",
    }
    assert [one.what for one in _locks()] == ["shorten", "untouched"], "nothing was merged"
    merged = data | reason | {"seen": str(response.context["seen"]), at("untouched__23"): "on"}
    assert client.post(url_of(lead, "keep/"), merged).status_code == 302
    assert {one.what for one in _locks()} == {"shorten", "untouched", "lengthen"}


def test_findings_about_gaps_make_a_new_set_where_the_old_is_confirmed(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    data = begun(client, lead, gap_may_stay__22="on")
    assert [words for _pair, words, _values in client.post(url_of(lead), data).context["findings"]] == [
        "22·23: may stay"
    ]
    assert client.post(url_of(lead, "findings/"), data).status_code == 302
    case = Case.objects.get()
    old, new = Examination.objects.order_by("id")
    assert (case.examination_id, new.corrects_id, new.confirmed_by) == (new.pk, old.pk, owner.full_name)
    assert case_facts(case).examination.gaps[-1].may_stay
    assert not examination_facts(with_lines().get(pk=old.pk)).gaps[-1].may_stay


def test_findings_about_gaps_go_into_an_open_draft(owner: Staff, lead: Case) -> None:
    facts = case_facts(lead).examination
    gap = facts.gaps[1].model_copy(update={"width": 1})
    draft = store_examination(
        patient=lead.patient,
        facts=facts.model_copy(update={"confirmed_by": "", "gaps": (facts.gaps[0], gap, *facts.gaps[2:])}),
        actor=owner,
        now=timezone.now(),
    )
    change_case(case=lead, seen=lead.version, examination=draft, actor=owner, now=timezone.now())
    client = client_of(owner)
    data = begun(client, lead, gap_film__13="film")
    assert client.post(url_of(lead, "findings/"), data).status_code == 302
    assert Examination.objects.count() == 2
    assert case_facts(Case.objects.get()).examination.gaps[1].film == "film"


# Who may


@pytest.mark.parametrize(
    ("role", "view", "keep"),
    [
        (Role.FRONT_DESK, 403, 403),
        (Role.ASSISTANT, 200, 403),
        (Role.DENTIST, 200, 302),
        (Role.MANAGER, 403, 403),
        (Role.KEEPER, 403, 403),
    ],
)
def test_each_role_gets_as_far_as_it_may(
    role: Role, view: int, keep: int, lead: Case, person: Callable[..., Staff]
) -> None:
    client = client_of(person(role))
    with refusals() as noted:
        assert client.get(url_of(lead)).status_code == view
        assert client.post(url_of(lead), {}, headers=HTMX).status_code == view
        for page in ("keep/", "findings/"):
            assert client.get(url_of(lead, page)).status_code == keep
            assert client.post(url_of(lead, page), {}).status_code in (keep, 200 if keep == 302 else keep)
    assert len(noted) == (2 if view == 403 else 0) + (4 if keep == 403 else 0)
    if view == 200:
        assert ("Keep these locks" in client.post(url_of(lead), {}).content.decode()) == (keep == 302)


def test_another_office_finds_nothing(outsider: Staff, lead: Case) -> None:
    for page in ("", "keep/", "findings/"):
        assert client_of(outsider).get(url_of(lead, page)).status_code == 404
        assert client_of(outsider).post(url_of(lead, page), {}).status_code == 404
        assert client_of(None).get(url_of(lead, page))["Location"].startswith("/sign-in/")


def test_opening_the_page_is_recorded_and_trying_is_not(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    response = client.get(url_of(lead))
    assert response["Cache-Control"] == "no-store"
    assert TrailEntry.objects.filter(act="patient.view").count() == 1
    data = begun(client, lead)
    client.post(url_of(lead), data, headers=HTMX)
    assert TrailEntry.objects.filter(act="patient.view").count() == 1, "once for each time the page was opened"


def test_the_page_costs_the_same_at_any_size(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    before = queries_of(client, url_of(lead))
    facts = case_facts(lead).examination
    few = facts.model_copy(
        update={"teeth": facts.teeth[2:4], "gaps": facts.gaps[2:3], "absent": (), "confirmed_by": ""}
    )
    many = facts.model_copy(
        update={
            "teeth": (*facts.teeth, ToothFacts.model_validate({"tooth": Tooth.from_iso("24"), "width": "7.0"})),
        }
    )
    for seen, other in enumerate((few, many), start=lead.version):
        stored = store_examination(patient=lead.patient, facts=other, actor=owner, now=timezone.now())
        change_case(case=lead, seen=seen, examination=stored, actor=owner, now=timezone.now())
        assert queries_of(client, url_of(lead)) == before


# What the case rests on


def test_a_correction_and_a_new_reading_are_taken_over(owner: Staff, lead: Case) -> None:
    client, url = client_of(owner), f"/plans/{lead.public_id}/rests-on/"
    assert client.get(url_of(lead)).context["newer"] == ""
    facts = case_facts(lead).examination
    teeth = tuple(t.model_copy(update={"width": 56}) if t.tooth.iso == "22" else t for t in facts.teeth)
    who = {"patient": lead.patient, "actor": owner, "now": timezone.now()}
    changed = facts.model_copy(update={"teeth": teeth, "confirmed_by": ""})
    new = store_examination(facts=changed, corrects=lead.examination, **who)  # type: ignore[arg-type]
    picture = Picture(kind="photo", on=facts.on, reader="O", reading="no crack")
    reading = record_picture(facts=picture, **who)  # type: ignore[arg-type]
    assert "a newer set of measurements" in client.get(url_of(lead)).context["newer"]
    form = client.get(url).context["form"]
    data = {
        "seen": str(lead.version),
        "examination": new.public_id,
        "pictures": [*form["pictures"].value(), reading.public_id],
    }
    for field, value in (("examination", "nothing"), ("pictures", ["nothing"]), ("seen", "x")):
        assert client.post(url, data | {field: value}).status_code == 200
    assert case_facts(Case.objects.get()) == case_facts(lead)
    assert client.post(url, data)["Location"] == f"/plans/{lead.public_id}/"
    saved = case_facts(Case.objects.get())
    assert saved.examination.teeth[4].width == 56
    assert [one.kind for one in saved.pictures] == ["panoramic", "photo"]
    assert client.get(url_of(lead)).context["newer"] == ""
    stale = client.post(url, data | {"pictures": [reading.public_id]})
    assert "changed by somebody else" in stale.content.decode()
    ((field, _was, theirs, yours),) = stale.context["rows"]
    assert field.name == "pictures"
    assert "panoramic" in theirs
    assert "no crack" in yours
    assert "panoramic" not in yours
    assert stale.context["form"]["pictures"].value() == [reading.public_id], "what was chosen stays"
    assert stale.context["form"]["seen"].value() == str(lead.version + 1)


@pytest.mark.parametrize(("role", "status"), [(Role.FRONT_DESK, 403), (Role.ASSISTANT, 200), (Role.MANAGER, 403)])
def test_who_may_choose_what_a_case_rests_on(
    role: Role, status: int, lead: Case, person: Callable[..., Staff], outsider: Staff
) -> None:
    url = f"/plans/{lead.public_id}/rests-on/"
    assert client_of(person(role)).get(url).status_code == status
    assert client_of(outsider).get(url).status_code == 404
