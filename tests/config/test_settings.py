"""The settings as a whole, in processes of their own: production is strict, the demo is loopback only."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.test import Client

from planner.config.middleware import no_store
from planner.practice.models import Staff
from planner.trail.errors import Refused

ROOT = Path(settings.BASE_DIR)


def run(*command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    ours = ("LEASTWAYS_", "DATABASE_URL", "DJANGO_ALLOW_ASYNC_UNSAFE")  # the last one serves the browser tests
    clean = {key: value for key, value in os.environ.items() if not key.startswith(ours)}
    return subprocess.run(
        [sys.executable, *command], cwd=ROOT, env=clean | environment, capture_output=True, text=True, check=False
    )


def test_production_passes_the_frameworks_own_deployment_check(tmp_path: Path) -> None:
    # Outside check: Django's security checklist, `check --deploy`, with every warning counted as a failure.
    done = run(
        "manage.py",
        "check",
        "--deploy",
        "--fail-level=WARNING",
        LEASTWAYS_HOSTS="plans.example.org",
        LEASTWAYS_VAR=str(tmp_path),
        LEASTWAYS_BEHIND_PROXY="1",
    )
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


SHOW = """
import json, os
os.environ["DJANGO_SETTINGS_MODULE"] = "planner.config.settings"
from django.conf import settings as s
print(json.dumps([s.DEBUG, s.SESSION_COOKIE_NAME, s.SESSION_COOKIE_SECURE, s.SECURE_SSL_REDIRECT, s.CSRF_COOKIE_NAME]))
"""


def test_cookies_carry_the_host_prefix_unless_the_demo_speaks_plain_http(tmp_path: Path) -> None:
    strict = run("-c", SHOW, LEASTWAYS_VAR=str(tmp_path)).stdout.strip()
    assert strict == '[false, "__Host-leastways-session", true, true, "__Host-leastways-csrf"]'
    plain = run("-c", SHOW, LEASTWAYS_VAR=str(tmp_path), LEASTWAYS_PLAIN_HTTP="1").stdout.strip()
    assert plain == '[false, "leastways-session", false, false, "leastways-csrf"]'


@pytest.mark.parametrize(
    ("environment", "sentence"),
    [
        ({"LEASTWAYS_PLAIN_HTTP": "1", "LEASTWAYS_HOSTS": "plans.example.org"}, "through TLS only"),
        ({"LEASTWAYS_DEBUG": "maybe"}, "neither yes nor no"),
        ({"LEASTWAYS_LANGUAGE": "fr"}, "en and es are there"),
        ({"DATABASE_URL": "oracle://x"}, "is not known here"),
        ({"LEASTWAYS_ADDRESS": "https://plans.example.org"}, "nobody could open what papers lead to"),
    ],
)
def test_a_setting_that_cannot_be_meant_stops_the_start(
    tmp_path: Path, environment: dict[str, str], sentence: str
) -> None:
    done = run("manage.py", "check", **({"LEASTWAYS_VAR": str(tmp_path)} | environment))
    assert done.returncode != 0
    assert sentence in done.stderr
    assert len(done.stderr.splitlines()) == 1, "the sentence, and no code above it"


@pytest.mark.parametrize(
    ("url", "sentence"),
    [("", "no such table"), ("postgresql://nobody@127.0.0.1:1/nowhere", "connection failed")],
)
def test_a_database_that_is_away_or_has_no_tables_stops_a_command_with_a_sentence(
    tmp_path: Path, url: str, sentence: str
) -> None:
    done = run("manage.py", "verify_trail", LEASTWAYS_VAR=str(tmp_path), DATABASE_URL=url)
    assert done.returncode == 1
    assert sentence in done.stderr
    assert len(done.stderr.splitlines()) == 1
    more = run("manage.py", "verify_trail", "--traceback", LEASTWAYS_VAR=str(tmp_path), DATABASE_URL=url)
    assert "Traceback" in more.stderr


def test_nothing_is_kept_by_the_browser() -> None:
    answer = no_store(lambda request: HttpResponse(headers={"Cache-Control": "public, max-age=600"}))(HttpRequest())
    assert answer["Cache-Control"] == "no-store"


@pytest.mark.django_db
def test_the_database_runs_as_set_up() -> None:
    if connection.vendor == "postgresql":
        assert connection.settings_dict["CONN_HEALTH_CHECKS"] is True
        return
    with connection.cursor() as cursor:
        found = {}
        for name in ("foreign_keys", "synchronous", "busy_timeout"):
            cursor.execute(f"PRAGMA {name}")
            found[name] = cursor.fetchone()[0]
    assert found == {"foreign_keys": 1, "synchronous": 2, "busy_timeout": 20000}


def test_no_migration_is_missing() -> None:
    done = run("manage.py", "makemigrations", "--check", "--dry-run", "trail", "practice", "patients", "plans")
    assert done.returncode == 0, done.stdout


@pytest.mark.django_db
def test_what_no_form_could_show_is_a_page_with_its_sentence(owner: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_arguments: object, **_more: object) -> None:
        raise Refused("Nothing of this is there <any> more.")

    monkeypatch.setattr("planner.plans.views.load_case", refuse)
    client = Client()
    client.force_login(owner, backend="planner.practice.backends.StaffBackend")
    answer = client.get("/plans/anything/")
    assert answer.status_code == 409
    assert "Nothing of this is there &lt;any&gt; more." in answer.content.decode()
