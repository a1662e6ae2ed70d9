"""TLS, cookies, where a request came from, and secrets: as in production, not as in the demo.

Outside check: OWASP ASVS 5.0, V3.3.1 to V3.3.4, V3.4.1, V12.1.1, V13.3.1; RFC 6265bis for what ``__Host-`` demands.
"""

import re
import shutil
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands
from django.http import HttpRequest, HttpResponse
from django.test import Client

from planner.config.middleware import address_of_the_sender
from planner.practice.models import Staff
from tests.config.test_settings import run
from tests.support import PASSWORD
from tools import need

ROOT = Path(settings.BASE_DIR)

ASK = """
import os
os.environ["DJANGO_SETTINGS_MODULE"] = "planner.config.settings"
import django
django.setup()
from django.test import Client
ask = Client(headers={"host": "plans.example.org"})
for secure in (False, True):
    answer = ask.get("/health", secure=secure)
    print(answer.status_code, answer.headers.get("Location"), answer.headers.get("Strict-Transport-Security"))
"""


def test_plain_http_is_led_to_tls_and_tls_is_told_to_stay_for_two_years(tmp_path: Path) -> None:
    done = run("-c", ASK, LEASTWAYS_VAR=str(tmp_path), LEASTWAYS_HOSTS="plans.example.org")
    plain, secure = done.stdout.splitlines()[-2:]
    assert plain == "301 https://plans.example.org/health None"
    assert secure.endswith("None max-age=63072000; includeSubDomains; preload")
    assert 63_072_000 >= 365 * 24 * 3600


@pytest.mark.django_db
def test_cookies_are_for_this_host_over_tls_and_not_for_scripts(owner: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    # The names of production; tests/config/test_settings.py holds that production has them.
    for name, value in {
        "SESSION_COOKIE_NAME": "__Host-leastways-session",
        "CSRF_COOKIE_NAME": "__Host-leastways-csrf",
        "SESSION_COOKIE_SECURE": True,
        "CSRF_COOKIE_SECURE": True,
    }.items():
        monkeypatch.setattr(settings, name, value)
    client = Client()
    client.get("/sign-in/", secure=True)
    signed_in = client.post("/sign-in/", {"username": "olive", "password": PASSWORD}, secure=True)
    assert signed_in.status_code == 302
    assert set(client.cookies) == {"__Host-leastways-session", "__Host-leastways-csrf"}
    for cookie in client.cookies.values():
        assert (cookie["secure"], cookie["httponly"], cookie["path"]) == (True, True, "/")
        assert (cookie["samesite"], cookie["domain"]) == ("Lax", "")


@pytest.mark.parametrize(
    ("behind", "written", "taken"),
    [
        (True, "203.0.113.7", "203.0.113.7"),
        (True, "10.1.1.1, 203.0.113.7", "203.0.113.7"),  # what stands before was written by the sender
        (True, "2001:db8::7", "2001:db8::7"),
        (True, "olive\r\nX: y", "127.0.0.1"),
        (True, "", "127.0.0.1"),
        (False, "203.0.113.7", "127.0.0.1"),
    ],
)
def test_only_the_proxys_own_word_tells_where_a_request_came_from(
    behind: bool, written: str, taken: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settings, "BEHIND_PROXY", behind)
    request = HttpRequest()
    request.META = {"REMOTE_ADDR": "127.0.0.1", "HTTP_X_FORWARDED_FOR": written}
    address_of_the_sender(lambda _request: HttpResponse())(request)
    assert request.META["REMOTE_ADDR"] == taken


def test_a_folder_that_is_named_and_empty_is_the_usual_one() -> None:
    # Otherwise the secret would be made in the project's own folder, where it is easily published with the code.
    show = 'import os; os.environ["DJANGO_SETTINGS_MODULE"] = "planner.config.settings"\n'
    show += "from django.conf import settings; print(settings.VAR_DIR.name)"
    assert run("-c", show, LEASTWAYS_VAR=" ").stdout.strip() == "var"


@pytest.mark.skipif(shutil.which("git") is None or not (ROOT / ".git").exists(), reason="not a checkout")
def test_no_secret_and_no_data_are_published_with_the_code() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    assert "manage.py" in listed
    wrong = re.compile(r"(^|/)(secret_key|id_\w+|\.env)$|\.(env|pem|key|p12|sqlite3|dump)$")
    assert [name for name in listed if wrong.search(name)] == []


DEPLOY = sorted(path for path in (ROOT / "deploy").rglob("*") if path.is_file())


def test_files_for_deploying_name_settings_commands_and_options_that_there_are() -> None:
    known = set(re.findall(r"^\| `([A-Z_]+)`", (ROOT / "docs/settings.md").read_text(encoding="utf-8"), re.M))
    options = run("-m", "granian", "--help").stdout
    for path in DEPLOY:
        text = path.read_text(encoding="utf-8")
        if path.name == "environment":
            assert set(re.findall(r"^([A-Z_]+)=", text, re.M)) - {"PGPASSFILE"} <= known
        for command in re.findall(r"manage\.py (\w+)", text):
            assert command in get_commands(), f"{path.name}: {command}"
        for line in re.findall(r"bin/granian (.*)", text):
            assert all(option in options for option in re.findall(r"--[a-z-]+", line)), path.name
            assert line.endswith("planner.config.wsgi:application")


def test_two_backups_of_one_day_have_two_names() -> None:
    # Nothing is written over, so the backup before a new version would be refused beside that of the night.
    unit = (ROOT / "deploy/office/leastways-backup.service").read_text(encoding="utf-8")
    (form,) = re.findall(r"\$\(date \+(\S+)\)", unit)
    names = {datetime(2026, 3, 2, hour, 30, tzinfo=UTC).strftime(form.replace("%%", "%")) for hour in (2, 9)}
    assert names == {"2026-03-02-023000", "2026-03-02-093000"}


def test_the_page_about_deploying_names_what_there_is_and_every_package_that_running_needs() -> None:
    page = (ROOT / "docs/deployment.md").read_text(encoding="utf-8")
    installs = re.findall(r"^apt install ((?:.*\\\n)*.*)$", page, re.M)
    assert len(installs) == 2, "for one office, and for a group"
    for packages in (set(line.replace("\\", " ").split()) for line in installs):
        assert {package for item in need.RUN for package in item[2].split()} <= packages
        assert {"git", "make", "curl", "age", "nginx-light"} <= packages, "what its own commands call"
    for line in re.findall(r"^install (.*)$", page, re.M):
        for name in re.findall(r"(?:(?:office|group)/\S+|\bleastways(?= /))", line):
            assert list((ROOT / "deploy").glob(name)), name


def test_one_command_runs_with_the_user_the_folder_and_the_settings_of_the_services() -> None:
    script = (ROOT / "deploy/leastways").read_text(encoding="utf-8")
    for unit in (path for path in DEPLOY if path.suffix == ".service"):
        told = dict(re.findall(r"^(\w+)=(.*)$", unit.read_text(encoding="utf-8"), re.M))
        for option in (
            f"--uid={told['User']} --gid={told['Group']} ",
            f"--working-directory={told['WorkingDirectory']} ",
            f"--property=EnvironmentFile={told['EnvironmentFile']} ",
            f"--property=UMask={told['UMask']} ",
        ):
            assert option in script, f"{unit.name}: {option}"


def test_the_program_starts_with_what_the_files_for_deploying_set(tmp_path: Path) -> None:
    for path in (one for one in DEPLOY if one.name == "environment"):
        given = dict(re.findall(r"^(LEASTWAYS_\w+|DATABASE_URL)=(.*)$", path.read_text(encoding="utf-8"), re.M))
        done = run(
            "manage.py", "check", "--deploy", "--fail-level=WARNING", **(given | {"LEASTWAYS_VAR": str(tmp_path)})
        )
        assert done.returncode == 0, done.stderr


def test_the_proxy_keeps_to_tls_1_2_and_1_3_and_writes_no_query_down() -> None:
    for path in (one for one in DEPLOY if one.name == "nginx.conf"):
        text = path.read_text(encoding="utf-8")
        assert re.findall(r"ssl_protocols\s+(.*);", text) == ["TLSv1.2 TLSv1.3"]
        (form,) = re.findall(r"log_format leastways '(.*)';", text)
        assert not {"$request", "$request_uri", "$args", "$query_string", "$http_referer"} & set(
            re.findall(r"\$\w+", form)
        )
        assert re.search(r"X-Forwarded-For\s+\$remote_addr;", text)
