"""Junk in every form, every address and the case file: any answer but an error of the program.

A few hundred requests here; ``LEASTWAYS_JUNK`` requests in at most ``LEASTWAYS_JUNK_MINUTES`` of each process in the
long run. What is sent follows from a seed that is printed with what went wrong; in the long run also from how quickly
each form answers: after its first turns, one that takes a tenth of the time has ten times the turns.
"""

import gc
import json
import os
import time
import traceback
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.db import models
from django.test import Client

from planner.plans.casefiles import import_case_file
from planner.practice.models import Staff
from planner.rules.casefile import parse_case, resolve_days
from planner.rules.mouth import CaseFacts
from tests.addresses import ADDRESSES
from tests.closed_rows import Ground
from tests.pages import client_of
from tests.support import NOW, TODAY
from tests.test_every_address import ROWS, made, url_of
from tests.trust.filling import Filled, forms_of
from tests.trust.junk import Junk
from tests.trust.real_plans import put_real_plans

pytestmark = pytest.mark.django_db

ROOT = Path(settings.BASE_DIR)
MANY = int(os.environ.get("LEASTWAYS_JUNK", "400"))
MINUTES = float(os.environ.get("LEASTWAYS_JUNK_MINUTES", "60"))
SEED = int(os.environ.get("LEASTWAYS_JUNK_SEED", "1"))
AFRESH = 25
"""After so many requests a new client: one of them may have signed out, or handed the screen over."""
LONG = MANY > 2000
FIRST_TURNS = 12
"""So many turns every form of the long run has before the quick ones get more than the slow ones."""
NEVER = {"/sign-out/"}


class Storm:
    """Sends and counts; ``wrong`` holds each error once, with one request that caused it."""

    def __init__(self, staff: Staff) -> None:
        self.staff, self.sent = staff, Counter[int]()
        self.wrong: dict[str, str] = {}
        self._client: Client | None = None

    def send(self, method: str, url: str, data: Any = None) -> str:
        """Send it; the page that was answered, or nothing."""
        if self._client is None or self.sent.total() % AFRESH == 0:
            self._client = client_of(self.staff)
        try:
            answer = getattr(self._client, method)(url, data)
            content = answer.getvalue()
        except Exception as error:
            self.sent[500] += 1
            ours = [one for one in traceback.extract_tb(error.__traceback__) if "/planner/" in one.filename]
            at = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}" if ours else "?"
            self.wrong.setdefault(f"{type(error).__name__} at {at}", f"{method} {url} {_short(data)}: {error!s:.300}")
            return ""
        self.sent[answer.status_code] += 1
        if answer.status_code >= 500:
            self.wrong.setdefault(f"{answer.status_code} {url}", f"{method} {url} {_short(data)}")
        return content.decode() if answer.headers.get("Content-Type", "").startswith("text/html") else ""

    @property
    def told(self) -> str:
        """Everything that went wrong."""
        return f"seed {SEED}\n" + "\n".join(f"{what}: {how}" for what, how in self.wrong.items())


class Turns:
    """Whose turn is next among forms: anybody's, but in the long run rather that of one that answers quickly."""

    def __init__(self, forms: Sequence[Filled], junk: Junk) -> None:
        self.forms, self.junk = list(forms), junk
        self.taken, self.seconds = [0] * len(self.forms), [0.0] * len(self.forms)
        self.order: list[int] = []

    def next(self) -> int:
        """Its number among the forms."""
        if not LONG:
            return self.junk.random.randrange(len(self.forms))
        if not self.order:
            # The first turns go round; later ones are drawn a hundred at a time, by what was measured until then.
            round_ = list(range(len(self.forms)))
            self.junk.random.shuffle(round_)
            pairs = zip(self.taken, self.seconds, strict=True)
            quick = [taken / (seconds + 0.001) for taken, seconds in pairs]
            first = min(self.taken) < FIRST_TURNS
            self.order = round_ if first else self.junk.random.choices(range(len(self.forms)), quick, k=100)
        return self.order.pop()

    def took(self, number: int, seconds: float) -> None:
        """That it was sent once more, and how long the answer took."""
        self.taken[number] += 1
        self.seconds[number] += seconds


def _short(data: Any) -> str:
    return ascii({name: [one[:60] for one in values] for name, values in data.items()})[:1500] if data else ""


def _ids() -> list[str]:
    """Ids of rows there are, of whichever office."""
    found: list[str] = []
    for model in apps.get_models():
        if any(field.name == "public_id" for field in model._meta.fields):
            found += list(model._default_manager.values_list("public_id", flat=True)[:2])
    return sorted(found)


@pytest.mark.parametrize("label", ROWS)
def test_no_form_and_no_address_has_an_error_whatever_it_is_sent(
    label: str, owner: Staff, outsider: Staff, lead_case: CaseFacts, record_property: Callable[[str, object], None]
) -> None:
    import_case_file(facts=lead_case, actor=outsider, now=NOW)
    row: models.Model | None = made(label, Ground(owner, lead_case))
    put_real_plans()
    urls = [url_of(name, row) for name, address in ADDRESSES.items() if address.row == label]
    posted = [url_of(name, row) for name, one in ADDRESSES.items() if one.row == label and one.post != "-"]
    # Each kind of row gets its share by the number of its addresses.
    most = max(4, MANY * len(urls) // len(ADDRESSES))
    until = time.monotonic() + 60 * MINUTES * len(urls) / len(ADDRESSES)
    storm, junk = Storm(owner), Junk(SEED, _ids())
    forms: dict[tuple[str, tuple[str, ...]], Filled] = {
        (url, ()): Filled(url, {"seen": ["1"], "reason": ["a"]}) for url in posted if url not in NEVER
    }
    for url in urls if LONG else junk.random.sample(urls, min(len(urls), most // 3 + 1)):
        for form in forms_of(storm.send("get", url), url):
            if form.action not in NEVER:
                forms[form.action, tuple(form.values)] = form
    turns = Turns(list(forms.values()), junk)
    looks = Turns([Filled(url) for url in urls], junk)
    gc.freeze()
    while storm.sent.total() < most and time.monotonic() < until:
        chosen = looks if junk.random.random() < 0.15 or not forms else turns
        number, began = chosen.next(), time.process_time()
        form = chosen.forms[number]
        if chosen is looks:
            storm.send("get", form.action, junk.query())
        else:
            storm.send("post", form.action, junk.values(form))
        chosen.took(number, time.process_time() - began)
    gc.unfreeze()
    record_property("requests", storm.sent.total())
    record_property("errors", storm.sent[500])
    assert not storm.wrong, storm.told


def test_no_case_file_has_an_error_whatever_stands_in_it(
    owner: Staff, record_property: Callable[[str, object], None]
) -> None:
    facts = parse_case((ROOT / "fixtures/cases/lead.json").read_bytes())
    plain = json.loads(json.dumps(resolve_days(facts, TODAY), default=float))
    storm, junk = Storm(owner), Junk(SEED, [])
    until = time.monotonic() + 60 * MINUTES / 20
    for _ in range(MANY // 20):
        if time.monotonic() > until:
            break
        storm.send("post", "/plans/take-in/", {"file": junk.case_file(plain)})
    record_property("requests", storm.sent.total())
    record_property("errors", storm.sent[500])
    assert not storm.wrong, storm.told
    assert storm.sent[302] < storm.sent.total() or not storm.sent


def test_an_error_of_the_program_is_told_with_the_request_that_caused_it(
    owner: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(**_given: object) -> None:
        raise ValueError("seven")

    monkeypatch.setattr("planner.plans.views.load_case", breaks)
    storm = Storm(owner)
    storm.send("post", "/plans/x/about/", {"name": ["Case"]})
    assert (storm.sent[500], len(storm.wrong)) == (1, 1)
    assert "post /plans/x/about/ {'name': ['Case']}: seven" in storm.told
