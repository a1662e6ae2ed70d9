"""The demonstration: what it loads, that a second run adds nothing, and what it serves and refuses."""

import io
import os
import re
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import nullcontext
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.apps import apps
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planner.config import demo
from planner.followup.page import monday_page
from planner.followup.shown import shown_blocks
from planner.letters.consent_models import Handing
from planner.letters.models import Document
from planner.letters.pdf import close_pool
from planner.letters.services import check_documents
from planner.plans.estimates import read_frozen
from planner.plans.models import Case, Estimate
from planner.practice import codes
from planner.practice.access import Act, Thing, may
from planner.practice.models import Office, Staff
from planner.rules.units import format_cents
from planner.trail.models import TrailEntry
from tests.pages import client_of
from tests.support import NOW, TODAY, migrated

ROOT = Path(settings.BASE_DIR)


def quiet(_words: str) -> Any:
    return nullcontext()


@pytest.fixture
def loaded(transactional_db: None) -> Any:
    passwords = demo.open_if_empty(NOW)
    found = demo.load(quiet)
    yield passwords, found
    close_pool()


def _counts() -> dict[str, int]:
    models = [model for model in apps.get_models() if model.__module__.startswith("planner.")]
    return {model.__name__: model._default_manager.count() for model in models}


def _fee(name: str, option: str) -> str:
    frozen = Estimate.objects.get(case__name=name).frozen
    assert frozen is not None
    return format_cents(read_frozen(frozen).option(option).estimate.total_cents)


def test_what_is_loaded_and_that_nothing_is_loaded_twice(loaded: Any, tmp_path: Path) -> None:
    passwords, found = loaded
    # Who works there, and that the passwords let them in.
    assert [staff.full_name for staff, _ in passwords] == [
        "Dr Imke Sorrel",
        "Devraj Lund",
        "Oona Castellane",
        "Dr Bastian Achterberg",
        "Chair 1",
        "Hester Quill",
    ]
    assert all(staff.check_password(password) for staff, password in passwords)
    assert len({password for _, password in passwords}) == 6
    desk = Staff.objects.get(username="devraj")
    assert may(desk, Act.RUN, Thing.RELEASE)
    assert not may(desk, Act.APPROVE, Thing.RELEASE)

    # Days are counted from day zero: shown six days before, valid for ninety from then.
    assert demo.day_zero(Office.objects.get()) == TODAY
    assert found.lead.shown_on == TODAY - timedelta(days=6)
    assert found.lead.valid_through == TODAY + timedelta(days=84)
    # Fees as worked out by hand for the invented price list.
    assert _fee("brightwater", "reshape-bond") == "1618.25"
    assert _fee("vantongeren-linnea", "bonding") == "570.00"
    assert _fee("oyelaran", "braces") == "7320.00"
    assert _fee("holloway", "whiten-then-bond") == "2011.40"
    assert _fee("adeyemi-rusk", "wing-bridge") == "5300.00"
    assert _fee("osei-thorn", "crown") == "3510.00"
    assert _fee("quennell", "direct-face") == "3760.00"
    assert _fee("sandoval", "wing-bridge") == "2650.00"
    assert _fee("delacroix", "bonding") == "1810.00"
    answers = Estimate.objects.exclude(answer="").values_list("case__name", "answered_option", "answered_by")
    assert {name: (option, by) for name, option, by in answers} == {
        "holloway": ("whiten-then-bond", "Zhenya Holloway"),
        "adeyemi-rusk": ("wing-bridge", "Deirdre Adeyemi-Rusk, his mother"),
        "vantongeren-linnea": ("bonding", "Linnea Vantongeren"),
        "vantongeren-lisbet": ("bonding", "Lisbet Vantongeren"),
        "quennell": ("direct-face", "Rafael Quennell"),
        "sandoval": ("wing-bridge", "Nikhil Sandoval"),
        "lindqvist-amadi": ("", "Petra Lindqvist-Amadi"),
        "delacroix": ("bonding", "Wanjiru Delacroix"),
        "oyelaran": ("braces", "Hamish Oyelaran"),
    }
    assert Case.objects.count() == 12
    spaces = read_frozen(Estimate.objects.get(case__name="oyelaran").frozen).spaces  # type: ignore[arg-type]
    assert "orthodontics first: close at least 2.7 mm" in spaces.sentence
    plans = read_frozen(Estimate.objects.get(case__name="vantongeren-linnea").frozen).spaces.plans  # type: ignore[arg-type]
    assert [plan.names[0] for plan in plans if plan.offered][:2] == ["fewest teeth", "best proportion"]

    _monday_page_is_the_one_worked_out()

    # The same services as the pages wrote it: trail, hashes and stored papers hold.
    call_command("verify_trail", stdout=io.StringIO())
    assert TrailEntry.objects.filter(act="estimate.check").count() == 11
    assert check_documents(Document.objects.select_related("frozen")) == ()
    assert [paper.kind for paper in found.papers] == ["option-sheet", "estimate", "consent-letter", "wax-up-order"]
    # The lead person has had the letter for two days; the time to think it over runs from then.
    (handing,) = Handing.objects.filter(consent__estimate=found.lead)
    assert handing.document in found.papers
    assert handing.handed_at.astimezone(found.lead.office.zone).date() == TODAY - timedelta(days=2)
    written = {path.name: path for path in demo.write_files(found, tmp_path)}
    assert all(path.stat().st_size for path in written.values())
    # The case file gives the same plan. The office's book is dated from day zero, the command's from the day it plans
    # for; both have the list in force.
    out = io.StringIO()
    day = (TODAY - timedelta(days=6)).isoformat()
    call_command("plan_case", str(written["case-file.json"]), "--on", day, stdout=out)
    assert "1,618.25" in out.getvalue()

    # A second run, a week later, adds nothing and changes nothing.
    before, versions = _counts(), list(Estimate.objects.order_by("pk").values_list("version", "state"))
    assert demo.open_if_empty(NOW + timedelta(days=7)) == ()
    again = demo.load(quiet)
    assert _counts() == before
    assert list(Estimate.objects.order_by("pk").values_list("version", "state")) == versions
    assert [paper.pk for paper in again.papers] == [paper.pk for paper in found.papers]

    # Whoever has power over others signs in with a code as well; the command stands for their telephones.
    assert [staff.username for staff, _ in passwords if codes.secret_of(staff)] == ["imke", "oona", "hester"]
    imke = Staff.objects.get(username="imke")
    for _twice in range(2):
        assert codes.check(staff=imke, typed=demo.code_now("imke", NOW).code, now=NOW) == codes.BY_CODE
    with pytest.raises(demo.NotTheDemo, match="devraj"):
        demo.code_now("devraj", NOW)

    # Passwords can be set anew; the old ones are gone.
    fresh = demo.new_passwords(NOW)
    assert {staff.username for staff, _ in fresh} == {"imke", "devraj", "oona", "bastian", "chair1", "hester"}
    for (staff, new), (_, old) in zip(fresh, passwords, strict=True):
        now = Staff.objects.get(pk=staff.pk)
        assert now.check_password(new)
        assert not now.check_password(old)
        assert not now.password_once


def _monday_page_is_the_one_worked_out() -> None:
    """Of the invented office on a Monday as day zero, to the cent as worked out by hand when it was made up."""
    with CaptureQueriesContext(connection) as queries:
        page = monday_page(actor=Staff.objects.get(username="oona"), now=NOW)
    assert len(queries) <= 60
    rows = {
        block.key: [(row.patient.rpartition(" ")[2], row.cents, row.days) for row in block.rows]
        for block in page.blocks
    }
    assert rows == {
        "breaking": [("Sandoval", None, 3)],
        "no-date": [("Vantongeren", 57000, 9), ("Holloway", 157070, 1)],
        "resting": [("Quennell", 376000, 4)],
        "calls": [("Brightwater", None, 1)],
        "ending": [("Osei-Thorn", 395070, 2), ("Adeyemi-Rusk", None, 24)],
        "deposits": [("Vantongeren", 21000, 2), ("Sandoval", 95000, 0), ("Delacroix", 99000, 5)],
        "acceptance": [],
        "value": [],
        "truth": [],
        "repairs": [],
    }
    assert [block.key for block in page.blocks] == list(rows)
    blocks = {block.key: block for block in page.blocks}
    assert blocks["breaking"].rows[0].words == (
        "The consent letter is not signed yet. Questions about the letter are open: 2. Of the deposit 950.00 is unpaid."
    )
    assert blocks["no-date"].figures[0].said == "2140.70"
    assert [(one.words, one.cents) for one in blocks["no-date"].buckets if one.plans] == [
        ("0–7", 157070),
        ("8–14", 57000),
    ]
    assert [cents for _words, cents in blocks["deposits"].sums] == [116000, 277930, 99000]
    came_of_age = TODAY + timedelta(days=24)
    assert f"comes of age on {came_of_age.isoformat()}, before the visit" in blocks["ending"].rows[1].words
    assert [words.rpartition(" ")[2] for words in blocks["ending"].notes] == [(TODAY + timedelta(9)).isoformat()]
    # Each line leads to the act that settles it, and the way is open on that day.
    client = client_of(Staff.objects.get(username="imke"))
    with time_machine.travel(NOW, tick=False):
        for shown in shown_blocks(page):
            for row in shown.rows:
                assert client.get(row.url).status_code == 200, row.url
    # One patient in the months that are mature: counts, no share.
    assert page.cohort.mature
    assert len(page.cohort.people) == 1
    assert all("%" not in figure.said for figure in blocks["acceptance"].figures)


def test_a_real_office_is_left_alone(owner: Staff) -> None:
    before = _counts()
    assert demo.open_if_empty(NOW) == ()
    with pytest.raises(demo.NotTheDemo, match='"Test office", which is not the invented office'):
        demo.load(quiet)
    with pytest.raises(demo.NotTheDemo, match="not loaded here"):
        demo.new_passwords(NOW)
    assert _counts() == before


@pytest.mark.parametrize(
    ("variable", "value", "words"),
    [
        ("ADDRESS", "0.0.0.0:8420", "this machine only"),
        ("ADDRESS", "192.168.1.5:8420", "this machine only"),
        ("ADDRESS", "example.org:8420", "this machine only"),
        ("ADDRESS", "8420", "host and port"),
        ("ADDRESS", "127.0.0.1:notaport", "host and port"),
        ("ADDRESS", "127.0.0.1:99999", "host and port"),
        ("SERVE", "perhaps", "SERVE=yes or SERVE=no"),
    ],
)
def test_addresses_that_cannot_be_meant(
    variable: str, value: str, words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv(variable, value)
    with pytest.raises(SystemExit) as stopped:
        call_command("demo")
    assert stopped.value.code == 2
    said = capsys.readouterr().err
    assert words in said
    assert value in said


def test_it_serves_until_stopped_and_a_taken_address_is_told(tmp_path: Path) -> None:
    port = _free_port()
    environment = {
        "PATH": os.environ["PATH"],
        "LEASTWAYS_VAR": str(tmp_path / "var"),
        "ADDRESS": f"127.0.0.1:{port}",
        "LEASTWAYS_PLAIN_HTTP": "1",
    }
    # Its own migrations find nothing to do: running them all from nothing is what made this file.
    (tmp_path / "var").mkdir()
    migrated(tmp_path / "var" / "leastways.sqlite3")
    command = [sys.executable, "manage.py", "demo"]
    with (tmp_path / "out").open("w") as out:
        running = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=out, stderr=subprocess.STDOUT)
    try:
        page = _get(f"http://127.0.0.1:{port}/sign-in/", seconds=300)
        assert "Sign in" in page
        assert "{" in _get(f"http://127.0.0.1:{port}/static/css/leastways.css", seconds=5)
        told = (tmp_path / "out").read_text()
        assert re.search(r"imke +\w{4}-\w{4}-\w{4}-\w{4} +Dr Imke Sorrel", told)
        assert f"Serving on http://127.0.0.1:{port}" in told
        asked = r"imke, oona and hester are asked for a one-time code as well.*\n.* manage.py demo --code imke"
        assert re.search(asked, told)
        shown = subprocess.run(
            [*command, "--code", "imke"], cwd=ROOT, env=environment, capture_output=True, text=True, check=False
        )
        assert re.match(r"\d{6}\nSecret for an app: ([A-Z2-7]{4} ){7}[A-Z2-7]{4}\n$", shown.stdout), shown.stderr
        assert sorted(path.name for path in (tmp_path / "var" / "demo").iterdir()) == [
            "case-file.json",
            "case-plan.json",
            "consent-letter.pdf",
            "estimate.pdf",
            "option-sheet.pdf",
            "strip.svg",
            "wax-up-order.pdf",
        ]
        second = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
        assert second.returncode == 2
        assert "cannot be used (Address already in use)" in second.stderr
        third = subprocess.run(
            command, cwd=ROOT, env=environment | {"SERVE": "no"}, capture_output=True, text=True, check=False
        )
        assert third.returncode == 0, third.stderr
        assert "printed when the demo was first loaded" in third.stdout
    finally:
        running.terminate()
        ended = running.wait(timeout=20)
    # It ends in order and takes its server with it.
    assert ended == 0
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", port)) != 0


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _get(url: str, *, seconds: int) -> str:
    until = time.monotonic() + seconds
    while True:
        try:
            with urllib.request.urlopen(url, timeout=5) as answer:
                return str(answer.read().decode())
        except OSError:
            if time.monotonic() > until:
                raise
            time.sleep(0.3)


def test_every_template_holds() -> None:
    out = io.StringIO()
    call_command("check_templates", stdout=out)
    assert re.fullmatch(r"\d+ templates hold\.\n", out.getvalue())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{% if a %}never ended", "TemplateSyntaxError"),
        ("{{ a|nofilter }}", "nofilter"),
        ('{% extends "not_there.html" %}', "not_there.html"),
        ('{% include "parts/not_there.html" %}', "not_there.html"),
        ('<p style="color: red">', "style attribute"),
        ("<script>alert(1)</script>", "script in the page"),
        ('<a onclick="go()">', "handler"),
    ],
)
def test_templates_that_do_not_hold_are_named(text: str, words: str, tmp_path: Path, settings: Any) -> None:
    (tmp_path / "wrong.html").write_text(text, encoding="utf-8")
    settings.TEMPLATES = [settings.TEMPLATES[0] | {"DIRS": [tmp_path]}]
    with pytest.raises(CommandError, match=r"wrong\.html: ") as failed:
        call_command("check_templates")
    assert words in str(failed.value)
