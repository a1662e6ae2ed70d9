"""Two people at one form, and one person who presses twice: nothing is merged, nothing typed is lost, nothing doubled.

``tests/posts.py`` says of every address what sending to it comes to; one that is missing there fails.
"""

import functools
import inspect
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import lxml.html
import pytest
import time_machine
from django.apps import apps
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.practice.press_models import Press
from planner.practice.presses import TOKEN
from planner.rules.mouth import CaseFacts
from tests.addresses import ADDRESSES
from tests.pages import client_of, priced_office
from tests.plans.pages.conftest import _worked_out_once
from tests.posts import KINDS, POSTS
from tests.support import NOW
from tests.test_every_address import PATTERNS, url_of
from tests.trust.two_people import EDITS, MOVES, PROVEN, Edit, Pressed, World

pytestmark = pytest.mark.django_db
ROOT = Path(settings.BASE_DIR)
READS_WHAT_IS_SENT = ("POST", "posted(", "FILES")


@pytest.fixture(autouse=True)
def _clock_and_plans(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(estimates, "plan_case", _worked_out_once)
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def world(owner: Staff, person: Callable[..., Staff], lead_case: CaseFacts) -> World:
    made = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    return World(owner, person, Case.objects.select_related("patient", "office").get(pk=made.pk))


def test_every_address_that_takes_something_stands_in_the_table() -> None:
    assert sorted(POSTS) == sorted(name for name, one in ADDRESSES.items() if one.post != "-")
    assert {one.kind for one in POSTS.values()} == set(KINDS)
    assert not [one.name for one in POSTS.values() if not one.why and one.kind != "reads"]


def test_what_only_reads_does_not_look_at_what_is_sent() -> None:
    asks = {"plans:export", "plans:plan_json", "practice:export", "followup:file", "visits:stock_orders_csv"}
    wrong = []
    for one in POSTS.values():
        view = inspect.unwrap(PATTERNS[one.name].callback)
        named = any(word in inspect.getsource(view) for word in READS_WHAT_IS_SENT)
        if one.kind == "reads" and named and one.name not in asks:
            wrong.append(one.name)
    assert not wrong


# --------------------------------------------------------------------------------------------- the same press twice

ONCE = [one.name for one in POSTS.values() if one.kind in ("grows", "moves", "edits")]


def test_the_same_press_is_done_once_at_every_address(owner: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    client = client_of(owner)
    asked: list[str] = []

    def stands_in(view: Callable[..., Any]) -> Callable[..., HttpResponse]:
        @functools.wraps(view)
        def done(request: HttpRequest, **given: Any) -> HttpResponse:
            asked.append(request.path)
            return redirect("/account/")

        return done

    wrong = []
    for name in ONCE:
        url = url_of(name, owner)
        monkeypatch.setattr(PATTERNS[name], "callback", stands_in(PATTERNS[name].callback))
        before = len(asked)
        first, second, other = (
            client.post(url, {TOKEN: token, "cents": "5"}) for token in ("as opened", "as opened", "opened anew")
        )
        if (len(asked) - before, first.status_code, second.status_code, other.status_code) != (2, 302, 302, 302):
            wrong.append((name, len(asked) - before))
        elif first.headers["Location"] != second.headers["Location"]:
            wrong.append((name, second.headers["Location"]))
    assert not wrong


# ------------------------------------------------------------------------------------------------ two people edit


def as_opened(markup: str, *actions: str) -> dict[str, Any]:
    """What the form that goes to one of ``actions`` would send as it stands, as a browser does."""
    for form in lxml.html.document_fromstring(markup).forms:
        if (form.get("method") or "").lower() == "post" and form.get("action", actions[0]) in actions:
            sent: dict[str, Any] = {}
            for one in form.inputs:
                for value in _sent(one):
                    sent.setdefault(one.get("name"), []).append(value)
            return sent
    raise AssertionError(f"no form goes to {actions}")


def _sent(one: lxml.html.HtmlElement) -> list[str]:
    if not one.get("name") or one.get("type") in ("submit", "file"):
        return []
    if one.get("type") in ("checkbox", "radio"):
        return [one.get("value", "on")] if one.get("checked") is not None else []
    if one.tag == "select":
        return list(one.value) if one.multiple else [one.value or ""]
    return [(one.value or "").removeprefix("\n")]  # the line break that a text area begins with


def faults_on(markup: str) -> list[str]:
    """What a page says is wrong."""
    names = ("faults", "errorlist", "alert", "question", "message")
    classes = "|".join(f"//*[contains(@class, '{name}')]" for name in names)
    found = lxml.html.document_fromstring(markup).xpath(classes)
    return [" ".join(one.text_content().split()) for one in found]


def _holds(sent: dict[str, Any], typed: dict[str, Any]) -> bool:
    return all(sent.get(name, []) == (value if isinstance(value, list) else [value]) for name, value in typed.items())


@pytest.mark.parametrize("edit", EDITS, ids=[one.name for one in EDITS])
def test_the_second_of_two_editors_sees_both_and_saves_knowingly(edit: Edit, world: World) -> None:
    url, opened = edit.url(world), (edit.opened or edit.url)(world)
    first, second = client_of(world.first), client_of(world.second)
    form = as_opened(first.get(opened).content.decode(), url, opened) | edit.beside
    late = as_opened(second.get(opened).content.decode(), url, opened) | edit.beside
    saved = first.post(url, form | edit.theirs)
    assert saved.status_code == 302, faults_on(saved.content.decode())

    again = second.post(url, late | edit.yours)
    assert again.status_code == 200, "the second is not saved"
    page = again.content.decode()
    assert "by somebody else" in page, faults_on(page)
    assert [words for words in edit.words if words not in page] == [], "both stand side by side"
    kept = as_opened(page, url, opened)
    assert _holds(kept, edit.yours), "what was typed stands in the form"
    further = second.post(url, edit.beside | kept)
    assert further.status_code == 302, faults_on(further.content.decode())
    if edit.reopens:
        assert _holds(as_opened(first.get(opened).content.decode(), url, opened), edit.yours)


def test_every_form_that_edits_is_driven_or_shown_elsewhere() -> None:
    driven = {edit.name for edit in EDITS} | set(PROVEN)
    assert driven == {one.name for one in POSTS.values() if one.kind == "edits"}
    for place in PROVEN.values():
        path, _colons, name = place.partition("::")
        assert f"def {name.split('::')[-1]}(" in (ROOT / path).read_text(encoding="utf-8")


# ------------------------------------------------------------------------------------------------- two people press


def _rows() -> dict[str, int]:
    """How many rows each table has, but for those that say who looked, pressed or was refused."""
    left_out = ("trail", "sessions", "axes")
    return {
        model._meta.label: model._default_manager.count()
        for model in apps.get_models()
        if model._meta.app_label not in left_out and model is not Press
    }


@pytest.mark.parametrize("press", MOVES, ids=[one.name for one in MOVES])
def test_the_second_of_two_who_press_is_told_and_nothing_is_done_twice(press: Pressed, world: World) -> None:
    url, opened = press.url(world), (press.opened or press.url)(world)
    first, second = client_of(world.first), client_of(world.second)
    forms = [as_opened(one.get(opened).content.decode(), url, opened) | press.typed for one in (first, second)]
    done = first.post(url, forms[0])
    assert done.status_code == 302, faults_on(done.content.decode())
    before = _rows()
    answer = second.post(url, forms[1], follow=True)
    page = answer.content.decode()
    assert press.says in page, (answer.status_code, faults_on(page))
    assert _rows() == before, "nothing is written by the second"
