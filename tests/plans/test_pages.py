"""Pages about cases and estimates: who may open them, what they show and refuse, two editors, and their cost."""

import json
import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from planner.patients.models import Patient
from planner.plans import cases, estimates
from planner.plans.casefiles import import_case_file
from planner.plans.checking import check_case
from planner.plans.facts import case_choices, case_facts
from planner.plans.models import Case, Channel, Estimate, FrozenPlan, State
from planner.practice.books import change_book, latest_version, read_book
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.casefile import LARGEST_BYTES, read_case, write_case
from planner.rules.mouth import CaseFacts, History, Override
from planner.rules.results import sha256
from planner.rules.verdicts import Verdict
from planner.trail.models import TrailEntry
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db(transaction=True)

REASON = "Talked over with the patient at length."
OPTION = "reshape-bond"


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


def _seen(case: Case) -> str:
    return str(Case.objects.get(pk=case.pk).version)


def _plan_hash(case: Case) -> str:
    return sha256(estimates.compute_plan(Case.objects.get(pk=case.pk), NOW)[0].to_json())


@pytest.fixture
def checked(case: Case, owner: Staff) -> Estimate:
    return check_case(case=case, seen_plan=_plan_hash(case), actor=owner, now=NOW)


# Who may

# Page below the case, and the roles beside owner and dentist that may open it.
CASE_PAGES = {
    "": {Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.MANAGER},
    "wishes/": {Role.ASSISTANT},
    "about/": {Role.ASSISTANT},
    "case-file/": {Role.ASSISTANT},
    "check/": set(),
    "estimate/": {Role.FRONT_DESK, Role.DESK_LEAD, Role.MANAGER},
    "surfaces/": set(),
    "tax-class/": {Role.DESK_LEAD, Role.MANAGER},
    "if-then/": set(),
    f"option/{OPTION}/strike/": set(),
    f"option/{OPTION}/restore/": set(),
    f"option/{OPTION}/recommend/": set(),
    f"option/{OPTION}/override/canine-as-lateral/": set(),
    f"option/{OPTION}/override/canine-as-lateral/withdraw/": set(),
}
ESTIMATE_PAGES = {
    "": {Role.FRONT_DESK, Role.DESK_LEAD, Role.MANAGER},
    "show/": {Role.DESK_LEAD},
    "answer/": {Role.DESK_LEAD, Role.MANAGER},
    "new-issue/": {Role.FRONT_DESK, Role.DESK_LEAD, Role.MANAGER},
    "discard/": {Role.DESK_LEAD, Role.MANAGER},
    "plan.json": {Role.ASSISTANT},
}
EVERYBODY = (Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.MANAGER, Role.KEEPER)


def _urls(case: Case, estimate: Estimate) -> dict[str, set[Role]]:
    found = {f"/plans/{case.public_id}/{page}": roles for page, roles in CASE_PAGES.items()}
    found |= {f"/plans/estimate/{estimate.public_id}/{page}": roles for page, roles in ESTIMATE_PAGES.items()}
    return found


def test_who_may_open_what(
    case: Case, checked: Estimate, owner: Staff, outsider: Staff, person: Callable[..., Staff]
) -> None:
    clients = {role: client_of(person(role)) for role in EVERYBODY}
    mine, theirs, nobody = client_of(owner), client_of(outsider), client_of(None)
    for url, allowed in _urls(case, checked).items():
        fine = 302 if url.endswith("/check/") else 200
        assert nobody.get(url)["Location"] == f"/sign-in/?next={url}"
        assert mine.get(url).status_code == fine, url
        with refusals() as noted:
            assert theirs.get(url).status_code == 404, url
        assert len(noted) == 1, url
        for role, client in clients.items():
            with refusals() as noted:
                answer = client.get(url)
            assert answer.status_code == (fine if role in allowed else 403), (url, role)
            assert bool(noted) == (role not in allowed), (url, role)
            assert answer["Cache-Control"] == "no-store"


@pytest.mark.parametrize("role", [Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.DENTIST, Role.MANAGER])
def test_the_case_page_offers_nobody_a_way_they_may_not_go(
    role: Role, case: Case, person: Callable[..., Staff]
) -> None:
    client = client_of(person(role))
    page = client.get(f"/plans/{case.public_id}/")
    assert page.status_code == 200
    ways = set(re.findall(r'href="(/(?!static/)[^"#]+)"', page.content.decode()))
    shut = {way: code for way in sorted(ways) if (code := client.get(way).status_code) not in (200, 302)}
    assert shut == {}


def test_what_is_not_there_is_not_found(case: Case, owner: Staff) -> None:
    client = client_of(owner)
    for url in (
        "/plans/nothing-here/",
        f"/plans/{case.public_id}/option/nothing/strike/",
        f"/plans/{case.public_id}/option/{OPTION}/override/no-such-gate/",
        "/plans/estimate/nothing-here/",
    ):
        assert client.get(url).status_code == 404, url


def test_acts_are_refused_to_those_who_may_not_also_when_posted(case: Case, colleague: Staff, owner: Staff) -> None:
    before = case_choices(case)
    posted = {"seen": _seen(case), "reason": REASON}
    client = client_of(colleague)
    for page in ("strike", "recommend", "restore"):
        assert client.post(f"/plans/{case.public_id}/option/{OPTION}/{page}/", posted).status_code == 403
    assert client.post(f"/plans/{case.public_id}/check/", {"plan": _plan_hash(case)}).status_code == 403
    assert case_choices(Case.objects.get(pk=case.pk)) == before
    assert not FrozenPlan.objects.exists()


# What the case page shows


def test_the_case_page_shows_every_option_and_how_each_figure_was_reached(case: Case, owner: Staff) -> None:
    answer = client_of(owner).get(f"/plans/{case.public_id}/")
    text = answer.content.decode()
    plan = answer.context["plan"]
    assert [one.option.key for one in (*answer.context["first"], *answer.context["rest"])] == [
        option.key for option in plan.options
    ]
    assert len(answer.context["first"]) == 7
    assert "1,618.25" in text
    assert "2,178.25" in text
    chosen = plan.option(OPTION)
    for step in (*chosen.estimate.how, *chosen.upkeep.how, *chosen.minutes.how, *chosen.how):
        assert step in text.replace("&#x27;", "'")
    assert "The patient's own limit" in text
    assert "13 (Universal 6)" in text
    assert "summary read, not the full study" in text.lower()
    assert "<svg" in text
    assert TrailEntry.objects.filter(act="patient.view", subject_id=case.patient.public_id).count() == 1


def test_the_other_numbering_stands_first_when_the_case_says_so(case: Case, owner: Staff) -> None:
    cases.change_case(case=case, seen=case.version, numbering="universal", actor=owner, now=NOW)  # type: ignore[arg-type]
    text = client_of(owner).get(f"/plans/{case.public_id}/").content.decode()
    assert "6 (ISO 13)" in text
    assert "upper right canine (6, ISO 13)" in text


def test_private_reasons_are_not_for_the_desk(owner: Staff, colleague: Staff, lead_case: CaseFacts) -> None:
    worried = lead_case.model_copy(
        update={"case": "worried", "history": lead_case.history.model_copy(update={"looks_worry": True})}
    )
    case = import_case_file(facts=worried, actor=owner, now=NOW).case
    plan = estimates.compute_plan(case, NOW)[0]
    private = next(reason for option in plan.options for reason in option.reasons if reason.private)
    url = f"/plans/{case.public_id}/"
    dentist = client_of(owner).get(url).content.decode()
    desk = client_of(colleague).get(url).content.decode()
    assert private.gate in dentist
    assert private.words.split(":")[0] in dentist.replace("&#x27;", "'")
    assert f">{private.gate}<" not in desk
    assert private.words.split(":")[0] not in desk.replace("&#x27;", "'")
    assert "A private reason; the dentist knows it." in desk


def test_where_nothing_can_be_offered_the_page_says_what_must_change(owner: Staff, lead_case: CaseFacts) -> None:
    blank = lead_case.model_copy(update={"case": "blank", "history": History()})
    case = import_case_file(facts=blank, actor=owner, now=NOW).case
    from planner.patients.models import HistoryForm

    assert not HistoryForm.objects.exists()
    answer = client_of(owner).get(f"/plans/{case.public_id}/")
    changes = answer.context["must_change"]
    assert changes
    assert "What has to change first" in answer.content.decode()
    plan = answer.context["plan"]
    assert all(option.verdict not in (Verdict.OFFER, Verdict.CARE) for option in plan.options[1:])
    for option in plan.options[1:]:
        for reason in option.reasons:
            if reason.verdict in (Verdict.ASK, Verdict.WAIT):
                assert any(option.name in change.options for change in changes)


def test_a_case_in_an_office_without_prices_says_so(case: Case, owner: Staff) -> None:
    with time_machine.travel(NOW - timedelta(days=90), tick=False):
        answer = client_of(owner).get(f"/plans/{case.public_id}/")
    assert answer.status_code == 200
    assert "No office book of Test office is in force" in answer.content.decode()


# Decisions


def test_strike_restore_and_recommend(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    without = client.post(f"{base}option/{OPTION}/strike/", {"seen": _seen(case), "reason": "  "})
    assert "This is missing" in without.content.decode()
    assert not case_choices(Case.objects.get(pk=case.pk)).struck

    done = client.post(f"{base}option/{OPTION}/strike/", {"seen": _seen(case), "reason": REASON})
    assert done["Location"] == base
    page = client.get(base)
    assert page.context["plan"].option(OPTION).verdict is Verdict.NO
    assert REASON in page.content.decode()
    assert page.context["plan"].recommended != OPTION

    client.post(f"{base}option/{OPTION}/restore/", {"seen": _seen(case), "reason": REASON})
    client.post(f"{base}option/whiten-then-{OPTION}/recommend/", {"seen": _seen(case), "reason": REASON})
    plan = client.get(base).context["plan"]
    assert plan.recommended == f"whiten-then-{OPTION}"
    assert plan.recommended_why == f"Recommended by Olive Owner: {REASON}"
    assert [entry.act for entry in TrailEntry.objects.filter(act__startswith="case.").order_by("sequence")][-3:] == [
        "case.strike",
        "case.restore",
        "case.recommend",
    ]


def test_overrides_need_a_reason_and_never_touch_the_patients_limit(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/option/braces-then-implant/override/"
    gate = "implant-crown.roots"
    short = client.post(f"{base}{gate}/", {"seen": _seen(case), "reason": "Because."})
    assert "at least 10 signs" in short.content.decode()
    client.post(f"{base}{gate}/", {"seen": _seen(case), "reason": REASON})
    option = client.get(f"/plans/{case.public_id}/").context["plan"].option("braces-then-implant")
    assert [(made.gate, made.by) for made in option.overrides] == [(gate, "Olive Owner")]
    client.post(f"{base}{gate}/withdraw/", {"seen": _seen(case), "reason": REASON})
    assert not case_choices(Case.objects.get(pk=case.pk)).overrides

    own = f"/plans/{case.public_id}/option/ceramic-veneer/override/G11/"
    assert "only the patient can raise it" in client.get(own).content.decode()
    client.post(own, {"seen": _seen(case), "reason": REASON})
    assert not case_choices(Case.objects.get(pk=case.pk)).overrides


def test_what_nobody_can_override_and_what_takes_two(owner: Staff, lead_case: CaseFacts) -> None:
    history = lead_case.history.model_copy(update={"urgent_problem": True, "methacrylate": "positive"})
    ill = lead_case.model_copy(update={"case": "ill", "history": History.model_validate(dict(history))})
    case = import_case_file(facts=ill, actor=owner, now=NOW).case
    plan = estimates.compute_plan(case, NOW)[0]
    client = client_of(owner)
    never = next((o.key, r) for o in plan.options for r in o.reasons if r.never_overridable)
    two = next((o.key, r) for o in plan.options for r in o.reasons if r.second_dentist)
    url = f"/plans/{case.public_id}/option/{never[0]}/override/{never[1].gate}/"
    assert "Nobody can override this" in client.get(url).content.decode()
    refused = client.post(url, {"seen": _seen(case), "reason": REASON})
    assert "Nobody can override this" in refused.content.decode()

    url = f"/plans/{case.public_id}/option/{two[0]}/override/{two[1].gate}/"
    alone = client.post(url, {"seen": _seen(case), "reason": REASON, "second_dentist": "olive owner"})
    assert "second dentist" in alone.content.decode()
    assert not case_choices(Case.objects.get(pk=case.pk)).overrides
    client.post(url, {"seen": _seen(case), "reason": REASON, "second_dentist": "Dr Second"})
    (made,) = case_choices(Case.objects.get(pk=case.pk)).overrides
    assert isinstance(made, Override)
    assert (made.by, made.second_dentist) == ("Olive Owner", "Dr Second")


def test_surfaces_tax_class_and_if_then_change_the_fee_and_the_letter(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    posted = {"seen": _seen(case), "tooth": "upper-left-central-incisor", "surfaces": "1", "reason": REASON}
    client.post(f"{base}surfaces/", posted)
    # Two build-ups are too few for the package: 2 x 445 + 265 + wax 220 + index 70 + reshaping 60.
    fee = client.get(base).context["plan"].option(OPTION).estimate
    assert fee.total_cents == 1505_00

    client.post(f"{base}tax-class/", {"seen": _seen(case), "reconstructive": "no", "reason": REASON})
    taxed = client.get(base).context["plan"].option(OPTION).estimate
    assert taxed.tax_cents > 0
    client.post(f"{base}if-then/", {"seen": _seen(case), "sentences": " First.\n\n Second. \n"})
    assert case_choices(Case.objects.get(pk=case.pk)).if_then == ("First.", "Second.")
    long = client.post(f"{base}if-then/", {"seen": _seen(case), "sentences": "x" * 2001})
    assert "longer than 2,000 signs" in long.content.decode()


def test_the_second_of_two_deciders_sees_both(case: Case, owner: Staff) -> None:
    client, base, seen = client_of(owner), f"/plans/{case.public_id}/", _seen(case)
    client.post(f"{base}option/whitening/strike/", {"seen": seen, "reason": "Theirs came first."})
    late = client.post(f"{base}option/reshaping/strike/", {"seen": seen, "reason": "Mine came second."})
    text = late.content.decode()
    assert late.status_code == 200
    assert "Theirs came first." in text
    assert "Mine came second." in text
    assert [one.option for one in case_choices(Case.objects.get(pk=case.pk)).struck] == ["whitening"]
    # The form goes on from what is saved now: once more, knowingly.
    client.post(f"{base}option/reshaping/strike/", {"seen": late.context["form"]["seen"].value(), "reason": REASON})
    struck = case_choices(Case.objects.get(pk=case.pk)).struck
    assert [one.option for one in struck] == ["whitening", "reshaping"]


# Wishes and limits


def _typed(client: Client, url: str) -> dict[str, str]:
    form = client.get(url).context["form"]
    shown = {field.html_name: field.value() for field in form}
    return {name: str(value) for name, value in shown.items() if value not in (None, False, "")} | {
        field.html_name: "" for field in form if field.value() in (None, "")
    }


def test_saving_the_wishes_as_shown_changes_nothing(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/wishes/"
    before = case_facts(case)
    assert client.post(url, _typed(client, url)).status_code == 302
    after = case_facts(Case.objects.get(pk=case.pk))
    assert (after.wishes, after.limits) == (before.wishes, before.limits)


def test_wishes_are_read_in_the_cases_numbering(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/wishes/"
    cases.change_case(case=case, seen=case.version, numbering="universal", actor=owner, now=NOW)  # type: ignore[arg-type]
    typed = _typed(client, url)
    assert typed["wish-1-teeth-1"] == "9 10"
    typed |= {"wish-4": "a fourth wish", "wish-4-kind-1": "tooth larger", "wish-4-teeth-1": "10"}
    typed |= {"removal": "0,3", "money": "2000", "visits": "4", "wish_by": "20 June 2026"}
    assert client.post(url, typed).status_code == 302
    facts = case_facts(Case.objects.get(pk=case.pk))
    assert [tooth.iso for tooth in facts.wishes[3].targets[0].teeth] == ["22"]
    assert (facts.limits.removal, facts.limits.money, facts.limits.visits) == (3, 2000_00, 4)
    plan = client.get(f"/plans/{case.public_id}/").context["plan"]
    # His new limit of 0.3 mm rules out what takes 0.5 mm.
    assert plan.option(OPTION).verdict is Verdict.NO
    assert any(reason.patient_limit for reason in plan.option(OPTION).reasons)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"wish-1-teeth-1": "21"}, "A gap lies between two teeth"),
        ({"wish-1-teeth-1": "21 99"}, "99"),
        ({"wish-2-teeth-1": ""}, "This target names one tooth"),
        ({"wish-3-teeth-1": "11"}, "This target names no tooth"),
        ({"wish-1-kind-2": "", "wish-1-teeth-2": "11"}, "Say what is to be true of these teeth"),
        ({"wish-2": ""}, "A target needs the wish it belongs to"),
        ({"wish-1-kind-1": "whiter than white"}, "whiter than white"),
        ({"removal": "0.55"}, "0.55"),
        ({"removal": "-1"}, "-1"),
        ({"visits": "0"}, "between 1 and 100"),
        ({"months": "many"}, "between 0 and 120"),
        ({"money": "1,000.00"}, "grouped by thousands"),
        ({"wish_by": "31 June 2026"}, "not in the calendar"),
        ({"wish-1": "x" * 2001}, "2000"),
    ],
)
def test_wishes_that_cannot_be_meant(typed: dict[str, str], words: str, case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/wishes/"
    answer = client.post(url, _typed(client, url) | typed)
    assert answer.status_code == 200
    assert words in answer.content.decode().replace("&#x27;", "'")
    assert Case.objects.get(pk=case.pk).version == case.version


def test_the_second_editor_of_the_wishes_sees_both(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/wishes/"
    typed = _typed(client, url)
    client.post(url, typed | {"visits": "5"})
    late = client.post(url, typed | {"visits": "7"})
    rows = {field.name: (theirs, yours) for field, theirs, yours in late.context["rows"]}
    assert rows == {"visits": ("5", "7")}
    assert case_facts(Case.objects.get(pk=case.pk)).limits.visits == 5


# Freezing


def test_freeze_numbers_pins_and_hands_over_what_can_be_offered(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    shown = client.get(base).context["check"].initial["plan"]
    done = client.post(f"{base}check/", {"plan": shown})
    estimate = Estimate.objects.get()
    assert done["Location"] == f"/plans/estimate/{estimate.public_id}/"
    assert (estimate.number, estimate.issue, estimate.state) == (1, 1, State.CHECKED)
    assert estimate.frozen is not None
    assert estimate.frozen.sha256 == shown
    assert estimate.book == latest_version(owner.office)
    assert estimate.valid_through == TODAY + timedelta(days=90)
    plan = estimates.read_frozen(estimate.frozen)
    assert set(estimate.options) == {o.key for o in plan.options if o.verdict in (Verdict.OFFER, Verdict.CARE)}
    page = client.get(done["Location"]).content.decode()
    assert shown in page
    assert "What was frozen is not" not in page
    # Pressed twice, it is the same estimate.
    client.post(f"{base}check/", {"plan": shown})
    assert Estimate.objects.count() == 1
    taken = client.get(f"/plans/estimate/{estimate.public_id}/plan.json")
    assert sha256(taken.content) == shown


def test_what_was_not_seen_is_not_frozen(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    shown = client.get(base).context["check"].initial["plan"]
    client.post(f"{base}option/whitening/strike/", {"seen": _seen(case), "reason": REASON})
    told = client.post(f"{base}check/", {"plan": shown}, follow=True)
    assert "The plan has changed since this page was opened" in told.content.decode()
    assert not Estimate.objects.exists()
    assert "was not named" in client.post(f"{base}check/", {}, follow=True).content.decode()


def test_a_frozen_plan_whose_facts_or_book_changed_says_so_and_a_new_issue_needs_a_reason(
    case: Case, checked: Estimate, owner: Staff
) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    assert not client.get(base).context["standing"].stale
    cases.strike_option(case=case, seen=case.version, option="whitening", reason=REASON, actor=owner, now=NOW)
    page = client.get(base)
    assert "Facts of the case have changed since estimate 1-1 was checked" in page.content.decode()
    url = f"/plans/estimate/{checked.public_id}/"
    assert "Facts of the case have changed" in client.get(url).content.decode()
    refused = client.post(
        f"{url}show/", {"to": "A", "channel": "in person", "on": TODAY.isoformat(), "seen": checked.version}
    )
    assert "a dentist checks a new issue first" in refused.content.decode()

    shown = page.context["check"].initial["plan"]
    assert "needs a reason" in client.post(f"{base}check/", {"plan": shown}, follow=True).content.decode()
    client.post(f"{base}check/", {"plan": shown, "reason": REASON})
    issues = list(Estimate.objects.order_by("issue").values_list("issue", "state"))
    assert issues == [(1, State.REPLACED), (2, State.CHECKED)]

    old = latest_version(owner.office)
    book = read_book(old.data).model_copy(update={"estimate_days": 30})
    change_book(office=owner.office, book=book, effective=TODAY, reason="shorter", seen=1, actor=owner, now=NOW)
    assert "The office book has changed since" in client.get(base).content.decode()
    with time_machine.travel(NOW + timedelta(days=91), tick=False):
        assert "The estimate was valid through" in client_of(owner).get(base).content.decode()


def test_unconfirmed_measurements_are_not_frozen(owner: Staff, lead_case: CaseFacts) -> None:
    unconfirmed = lead_case.examination.model_copy(update={"confirmed_by": ""})
    draft = lead_case.model_copy(update={"case": "draft", "examination": unconfirmed})
    case = import_case_file(facts=draft, actor=owner, now=NOW).case
    client = client_of(owner)
    told = client.post(f"/plans/{case.public_id}/check/", {"plan": _plan_hash(case)}, follow=True)
    assert "are not confirmed" in told.content.decode()
    assert not Estimate.objects.exists()


def test_an_estimate_from_draft_to_answer(case: Case, owner: Staff, person: Callable[..., Staff]) -> None:
    desk, dentist = client_of(person(Role.DESK_LEAD)), client_of(owner)
    base = f"/plans/{case.public_id}/"
    none = desk.post(f"{base}estimate/", {})
    assert "This is missing" in none.content.decode()
    begun = desk.post(f"{base}estimate/", {"options": [OPTION, "whitening"]})
    url = begun["Location"]
    assert "A draft has no figures of its own" in desk.get(url).content.decode()
    desk.post(f"{url}options/", {"options": [OPTION]})
    dentist.post(f"{base}check/", {"plan": _plan_hash(case)})
    estimate = Estimate.objects.get()
    assert estimate.options == ["none", OPTION]
    assert desk.get(f"{url}options/").status_code == 404

    shown = {"to": "Anselm Brightwater", "channel": Channel.PAPER.value, "on": "2 March 2026"}
    future = desk.post(f"{url}show/", shown | {"on": "3 March 2026", "seen": estimate.version})
    assert "lies in the future" in future.content.decode()
    desk.post(f"{url}show/", shown | {"seen": estimate.version})
    estimate.refresh_from_db()
    assert estimate.state == State.SHOWN
    stale = desk.post(f"{url}show/", shown | {"seen": estimate.version - 1})
    assert "changed by somebody else" in stale.content.decode()
    assert "It is now: shown" in stale.content.decode()

    answer = {"answer": "all of an option", "by": "Anselm Brightwater", "seen": str(estimate.version)}
    assert "say which one" in desk.post(f"{url}answer/", answer).content.decode()
    desk.post(f"{url}answer/", answer | {"option": OPTION, "words": "Let us do that."})
    estimate.refresh_from_db()
    assert (estimate.state, estimate.answered_option) == (State.ANSWERED, OPTION)
    assert "Let us do that." in desk.get(url).content.decode()
    listed = desk.get("/plans/?state=answered").content.decode()
    assert "Anselm Brightwater" in listed
    assert "Anselm Brightwater" not in desk.get("/plans/?state=draft").content.decode()


def test_a_draft_can_be_thrown_away_with_a_reason(case: Case, owner: Staff) -> None:
    estimate = estimates.draft_estimate(case=case, actor=owner, now=NOW)
    client, url = client_of(owner), f"/plans/estimate/{estimate.public_id}/discard/"
    assert "This is missing" in client.post(url, {"reason": ""}).content.decode()
    assert client.post(url, {"reason": "Begun for the wrong case."})["Location"] == f"/plans/{case.public_id}/"
    assert not Estimate.objects.exists()


# Case files


def _upload(client: Client, url: str, content: bytes, **more: Any) -> Any:
    return client.post(url, {"file": SimpleUploadedFile("case.json", content, "application/json")} | more)


def test_a_case_file_goes_in_and_comes_out_the_same(owner: Staff, lead_case: CaseFacts) -> None:
    client = client_of(owner)
    done = _upload(client, "/plans/take-in/", write_case(lead_case))
    case = Case.objects.get()
    assert done["Location"] == f"/plans/{case.public_id}/"
    assert "A file was opened for Anselm Brightwater" in client.get(done["Location"]).content.decode()
    taken = client.get(f"/plans/{case.public_id}/case-file/")
    assert "attachment" in taken["Content-Disposition"]
    assert "Brightwater" not in taken["Content-Disposition"]
    assert read_case(taken.content, TODAY) == lead_case
    assert TrailEntry.objects.filter(act="case.export").count() == 1
    # The same file again changes nothing.
    version = case.version
    _upload(client, "/plans/take-in/", taken.content)
    assert Case.objects.get().version == version


def test_a_wrong_case_file_is_refused_whole_with_every_path(owner: Staff, lead_case: CaseFacts) -> None:
    client = client_of(owner)
    data = json.loads(write_case(lead_case))
    data["patient"]["birth_date"] = "1979-02-31"
    data["examination"]["teeth"][0]["width"] = "64"
    data["wishes"][0]["colour"] = "blue"
    data["limits"]["months"] = 400
    answer = _upload(client, "/plans/take-in/", json.dumps(data).encode())
    text = answer.content.decode()
    paths = [path for path, _sentence in answer.context["wrong"]]
    assert {"patient.birth_date", "wishes[0].colour", "limits.months"} <= set(paths)
    assert all(path in text for path in paths)
    assert not Patient.objects.exists()
    for content in (b"", b"\xff\xfe", b"[]", b"{", b"x" * (LARGEST_BYTES + 1)):
        answer = _upload(client, "/plans/take-in/", content)
        assert answer.status_code == 200
        assert "faults" in answer.content.decode()
    assert "This is missing" in client.post("/plans/take-in/", {}).content.decode()
    assert not Patient.objects.exists()


def test_a_file_for_somebody_on_file(case: Case, owner: Staff, lead_case: CaseFacts, colleague: Staff) -> None:
    client, url = client_of(owner), f"/plans/of/{case.patient.public_id}/take-in/"
    other = lead_case.model_copy(update={"case": "second question"})
    assert _upload(client, url, write_case(other)).status_code == 302
    assert {one.name for one in Case.objects.filter(patient=case.patient)} == {"brightwater", "second question"}
    assert _upload(client_of(colleague), url, write_case(other)).status_code == 403


def test_open_a_case_by_hand(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/of/{case.patient.public_id}/new/"
    typed = {"name": "another", "examination": case.examination.public_id, "numbering": "iso"}
    taken = client.post(url, typed | {"name": "brightwater"})
    assert "choose another name" in taken.content.decode()
    assert "not one of the" in client.post(url, typed | {"examination": "nothing"}).content.decode()
    client.post(url, typed)
    made = Case.objects.get(name="another")
    part = client.get(f"/plans/of/{case.patient.public_id}/", headers={"HX-Request": "true"}).content.decode()
    assert f"/plans/{made.public_id}/" in part
    assert "<html" not in part
    assert client.get(f"/plans/{made.public_id}/").status_code == 200
    assert "<html" in client.get(f"/plans/of/{case.patient.public_id}/").content.decode()


def test_name_numbering_and_notes(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/about/"
    typed = {"name": "renamed", "numbering": "universal", "notes": "N.", "seen": _seen(case)}
    assert client.post(url, typed).status_code == 302
    late = client.post(url, typed | {"notes": "Other."})
    assert [(theirs, yours) for _field, theirs, yours in late.context["rows"]] == [("N.", "Other.")]
    assert client.get(f"/plans/{case.public_id}/").context["numbering"] == "Universal"


# Cost


def test_queries_do_not_grow_with_the_data(case: Case, checked: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    urls = [
        f"/plans/{case.public_id}/",
        f"/plans/estimate/{checked.public_id}/",
        f"/plans/of/{case.patient.public_id}/",
        f"/plans/{case.public_id}/wishes/",
        "/plans/",
    ]
    few = [queries_of(client, url) for url in urls]
    for number in range(8):
        cases.open_case(patient=case.patient, examination=case.examination, name=f"more {number}", actor=owner, now=NOW)
        estimates.draft_estimate(case=case, actor=owner, now=NOW)
        estimates.show_estimate(
            estimate=checked, seen=checked.version + number, to="A", channel=Channel.CALL, actor=owner, now=NOW
        )
    assert [queries_of(client, url) for url in urls] == few
    assert max(few) <= 30
