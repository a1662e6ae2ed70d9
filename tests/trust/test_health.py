"""The page a monitor asks: up or not, and nothing about anybody."""

import os
import signal
import time
from pathlib import Path

import pytest
from django.db import OperationalError
from django.db.migrations.recorder import MigrationRecorder

from planner.letters import pdf
from planner.practice.models import Office
from tests.config.test_settings import run
from tests.pages import client_of

pytestmark = pytest.mark.django_db


def test_it_is_up_and_tells_nothing_else(office: Office) -> None:
    pdf.close_pool()
    answer = client_of(None).get("/health")
    assert (answer.status_code, answer.json()) == (200, {"up": True, "database": "ready", "papers": "resting"})
    assert answer["Cache-Control"] == "no-store"
    assert not answer.cookies
    assert client_of(None).post("/health").status_code == 405


ASK = """
import os
os.environ["DJANGO_SETTINGS_MODULE"] = "planner.config.settings"
import django
django.setup()
from django.test import Client
answer = Client().get("/health", headers={"host": "localhost"})
print(answer.status_code, answer.json()["database"])
"""


def test_tables_that_the_code_expects_and_that_are_not_there_are_no_up(tmp_path: Path) -> None:
    # A database of its own: the one of the tests may have been made without migrations.
    done = run("-c", ASK, LEASTWAYS_VAR=str(tmp_path), LEASTWAYS_PLAIN_HTTP="1")
    assert done.stdout.split("\n")[-2] == "503 migrations wanting", done.stderr


def test_a_database_that_does_not_answer_is_no_error_page(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(_self: object) -> None:
        raise OperationalError("could not connect to db7.office.example")

    monkeypatch.setattr(MigrationRecorder, "applied_migrations", gone)
    answer = client_of(None).get("/health")
    assert (answer.status_code, answer.json()["database"]) == (503, "no answer")
    assert b"db7" not in answer.content


def test_it_tells_that_a_process_which_makes_papers_died_and_that_the_next_paper_mends_it() -> None:
    pdf.close_pool()
    job = pdf.Job('<html lang="en"><head><title>x</title></head><body><p>y</p></body></html>')
    pdf.render(job)
    assert pdf.workers() == "ready"
    (worker, *_more) = pdf._pool()._processes
    os.kill(worker, signal.SIGKILL)
    until = time.monotonic() + 30
    while pdf.workers() != "failing" and time.monotonic() < until:
        time.sleep(0.05)
    assert pdf.workers() == "failing"
    with pytest.raises(pdf.PaperError, match="ended unexpectedly"):
        pdf.render(job)
    assert pdf.workers() == "failing"
    pdf.render(job)
    assert pdf.workers() == "ready"
    pdf.close_pool()
