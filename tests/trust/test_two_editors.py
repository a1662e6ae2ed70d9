"""Two people at one form, and one person who presses twice: nothing is merged, nothing typed is lost, nothing doubled.

``tests/posts.py`` says of every address what sending to it comes to; one that is missing there fails.
"""

import ast
import functools
import inspect
import re
import textwrap
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import lxml.html
import pytest
import time_machine
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from planner.plans import estimates
from planner.practice.presses import TOKEN
from planner.visits import step_drawing
from tests.addresses import ADDRESSES
from tests.pages import client_of
from tests.plans.pages.conftest import _worked_out_once
from tests.posts import ANSWERS_ITSELF, KINDS, POSTS
from tests.standing import changed, stands, told
from tests.support import NOW
from tests.test_every_address import PATTERNS, url_of
from tests.trust.two_people import EDITS, PROVEN, Edit
from tests.trust.two_people_begun import Begun, begun_once
from tests.trust.two_people_press import AGAIN, MOVES, PRESSED, Pressed
from tests.trust.two_people_world import World
from tests.visits.test_steps import lot_of

pytestmark = pytest.mark.django_db
ROOT = Path(settings.BASE_DIR)
READS_WHAT_IS_SENT = ("POST", "posted(", "FILES")


@pytest.fixture(scope="module", autouse=True)
def _clock_and_plans() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch, time_machine.travel(NOW, tick=False):
        patch.setattr(estimates, "plan_case", _worked_out_once)
        yield


@pytest.fixture(scope="module")
def begun(django_db_setup: None, django_db_blocker: Any, _clock_and_plans: None) -> Iterator[Begun]:
    """What every case begins with, made once: each of them opened an office before."""
    with django_db_blocker.unblock(), begun_once() as found:
        yield found


@pytest.fixture
def world(begun: Begun, db: None) -> World:
    return World(begun)


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


def test_the_same_press_is_done_once_at_every_address(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    client = client_of(world.owner)
    asked: list[str] = []

    def stands_in(view: Callable[..., Any]) -> Callable[..., HttpResponse]:
        @functools.wraps(view)
        def done(request: HttpRequest, **given: Any) -> HttpResponse:
            asked.append(request.path)
            return redirect("/account/")

        return done

    wrong = []
    for name in ONCE:
        url = url_of(name, world.owner)
        monkeypatch.setattr(PATTERNS[name], "callback", stands_in(PATTERNS[name].callback))
        before = len(asked)
        first, second = (client.post(url, {TOKEN: "as opened", "cents": "5"}) for _press in range(2))
        if (len(asked) - before, first.status_code, second.status_code) != (1, 302, 302):
            wrong.append((name, len(asked) - before))
        elif first.headers["Location"] != second.headers["Location"]:
            wrong.append((name, second.headers["Location"]))
    assert not wrong
    done = len(asked)
    assert client.post(url, {TOKEN: "opened anew", "cents": "5"}).status_code == 302
    assert len(asked) == done + 1, "the page opened anew is another press"


def _reached(view: Callable[..., Any]) -> str:
    """The source of a view and of whatever it calls among views."""
    seen: list[Any] = []
    todo = [inspect.unwrap(view)]
    while todo:
        one = todo.pop()
        if one not in seen:
            seen.append(one)
            called = (inspect.unwrap(found) for name in _named(one) if callable(found := one.__globals__.get(name)))
            todo += [each for each in called if inspect.isfunction(each) and each.__module__.endswith("views")]
    return "\n".join(map(_source, seen))


@functools.cache
def _named(function: Callable[..., Any]) -> frozenset[str]:
    tree = ast.walk(ast.parse(_source(function)))
    return frozenset(node.id for node in tree if isinstance(node, ast.Name))


@functools.cache
def _source(function: Callable[..., Any]) -> str:
    return textwrap.dedent(inspect.getsource(function))


def test_whatever_answers_by_itself_says_why_the_same_press_twice_does_no_harm() -> None:
    words = re.compile(r"HX-Request|\b(?:Http|File|StreamingHttp)Response\(|_show_once\(")
    found = [name for name in ONCE if words.search(_reached(PATTERNS[name].callback))]
    assert sorted(found) == sorted(ANSWERS_ITSELF)


def test_what_answers_by_itself_stores_nothing_twice(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of what :data:`ANSWERS_ITSELF` names, all that a press sends in which the second one could store something."""
    monkeypatch.setattr(step_drawing, "stops_of", lambda _visit, _now: ())
    client, part = client_of(world.first), {"HX-Request": "true"}
    steps, lot = {"args": [world.sheet_visit.public_id]}, lot_of(world.owner, "cleaning-particles", "g")
    for name, given, sent, headers in (
        ("visits:steps_begin", steps, {}, part),
        ("visits:steps_stamp", steps, {"run": "bonding.A01", "kind": "done"}, part),
        ("visits:steps_lot", steps, {"run": "bonding.A03", "lot": lot.public_id}, part),
        ("practice:staff_add", {}, {"username": "nia", "full_name": "Nia New", "roles": ["assistant"]}, {}),
        ("records:patient", {"args": [world.case.patient.public_id]}, {"form": "fhir", "reason": "asked"} | AGAIN, {}),
    ):
        url, typed = reverse(name, **given), {TOKEN: "as opened", "language": "en"} | sent
        done = client.post(url, typed, headers=headers)
        assert done.status_code == 200, (name, told(done))
        before = stands()
        again = client.post(url, typed, headers=headers)
        assert again.status_code == 200, name
        assert changed(before) == [], name


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
    _are_there(PROVEN)


def _are_there(places: Mapping[str, str]) -> None:
    for place in places.values():
        path, _colons, name = place.partition("::")
        assert f"def {name.split('::')[-1]}(" in (ROOT / path).read_text(encoding="utf-8"), place


# ------------------------------------------------------------------------------------------------- two people press


@pytest.mark.parametrize("press", MOVES, ids=map(str, MOVES))
def test_the_second_of_two_who_press_is_told_and_nothing_is_done_twice(
    press: Pressed, world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    if press.steps:
        monkeypatch.setattr(step_drawing, "stops_of", lambda _visit, _now: ())
    url, opened = press.url(world), (press.opened or press.url)(world)
    first, second = map(client_of, press.who(world))
    form = {} if press.bare else as_opened(first.get(opened).content.decode(), url, opened)
    form |= press.sent(world)
    done = first.post(url, form)
    assert done.status_code == 302, faults_on(done.content.decode())
    before = stands()
    answer = second.post(url, form)
    assert press.says in told(answer), (answer.status_code, faults_on(answer.content.decode() or "-") or told(answer))
    assert changed(before) == [], "nothing is written or changed by the second"


def test_every_act_that_is_done_once_is_driven_or_shown_elsewhere() -> None:
    driven, shown = {press.name for press in MOVES}, set(PRESSED)
    assert driven | shown == {one.name for one in POSTS.values() if one.kind == "moves"}
    assert not driven & shown
    _are_there(PRESSED)
