"""What the log says of what people do: the time, the kind of fault, and never whom it was about.

Outside check: OWASP ASVS 5.0, V14.2.1 (addresses), V16.2.2 (UTC), V16.2.5 (what is not logged), V16.4.1 (one line an
entry).
"""

import io
import logging
import re
from collections.abc import Iterator
from urllib.parse import unquote

import pytest
from django.conf import settings
from django.db import IntegrityError, connection, transaction
from django.test import Client

from planner.config.logs import OneLine, printable
from planner.patients.models import Patient
from planner.plans.casefiles import import_case_file
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from tests.pages import client_of
from tests.support import NOW, PASSWORD

PLANTED = ("Quillhaven", "555 0199", "1931-07-04", "peanut dust", "Mistyped-Secret-77")
"""A name, a number, a day, an allergy, and a password in the wrong field."""
ENTRY = re.compile(r"^(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ [A-Z]+ \S+ |  \| )")


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """Everything that is logged at all, down to the least, written as the program writes it."""
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    handler.setFormatter(OneLine())
    root = logging.getLogger()
    before, axes = root.level, logging.getLogger("axes")
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    yield written
    root.removeHandler(handler)
    root.setLevel(before)
    assert axes.level == logging.WARNING


class _Addresses:
    """Stands where a server's access log stands: notes every address with its query."""

    def __init__(self, client: Client) -> None:
        self.seen: list[str] = []
        plain = client.request

        def request(**given: object) -> object:
            answer = plain(**given)
            asked = answer.wsgi_request
            self.seen += [asked.get_full_path(), answer.headers.get("Location", ""), asked.headers.get("Referer", "")]
            return answer

        client.request = request  # type: ignore[assignment]


@pytest.mark.django_db
def test_a_day_at_the_desk_leaves_no_patient_in_an_address_or_in_the_log(
    owner: Staff, lead_case: CaseFacts, log: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = client_of(owner)
    client.raise_request_exception = False
    addresses = _Addresses(client)
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    new = {
        "name": "Zephyr Quillhaven", "sorted_by": "quillhaven zephyr", "birth_date": "1931-07-04", "phone": "555 0199",
        "language": "en", "print_points": "11", "another": "",
    }  # fmt: skip
    assert client.post("/patients/new/look/", new).status_code == 200
    made = client.post("/patients/new/", new)
    patient = Patient.objects.get(name="Zephyr Quillhaven")
    assert made.status_code == 302
    page = f"/patients/{patient.public_id}/"
    client.get(page)
    client.post("/patients/", {"q": "Quillhaven"})
    client.post("/patients/", {"q": "1931-07-04"})
    client.post(f"{page}change/", new | {"phone": "555 0199 peanut dust", "seen": "99"})
    client.post(f"/plans/{case.public_id}/about/", {"name": "Quillhaven", "notes": "peanut dust", "seen": "1"})
    for there in (f"/plans/{case.public_id}/", f"/patients/{patient.public_id}x/", "/letters/of/nothing/"):
        client.get(there)
    # A name that is no name of ours, a password typed where the name belongs, until it rests.
    stranger = Client()
    for _ in range(settings.AXES_FAILURE_LIMIT + 1):
        stranger.post("/sign-in/", {"username": "Mistyped-Secret-77", "password": "Mistyped-Secret-77"})

    # A fault of the program, with all of it in the exception's own message.
    def broken(*_args: object, **_more: object) -> None:
        raise RuntimeError(f"cannot keep {', '.join(PLANTED)}")

    monkeypatch.setattr("planner.patients.views.search", broken)
    assert client.post("/patients/", {"q": "Quillhaven"}).status_code == 500

    said = log.getvalue()
    assert "builtins.RuntimeError" in said
    assert "axes" in said
    assert len(addresses.seen) > 20
    for planted in PLANTED:
        assert planted.lower() not in said.lower()
        assert not [one for one in addresses.seen if planted.lower() in unquote(one).lower()]
    assert all(ENTRY.match(line) for line in said.splitlines())


@pytest.mark.django_db
def test_what_the_database_repeats_of_a_row_is_not_logged(owner: Staff, log: io.StringIO) -> None:
    # PostgreSQL tells in its message which values collided, SQLite which column.
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("INSERT INTO practice_staff SELECT * FROM practice_staff WHERE username = 'olive'")
    except IntegrityError:
        logging.getLogger("planner").exception("Not stored")
    said = log.getvalue()
    assert "IntegrityError" in said
    assert "olive" not in said
    assert "practice_staff" not in said


def test_an_entry_is_one_line_whatever_is_written_into_it() -> None:
    forged = "/x\n2026-03-02T15:00:00Z INFO planner Signed in\r\x1b[2K\u2028end"
    record = logging.LogRecord("django.request", logging.WARNING, __file__, 1, "Not Found: %s", (forged,), None)
    said = OneLine().format(record)
    assert said.splitlines() == [said]
    assert said.isprintable()
    assert "\\n2026" in said
    assert "\\x1b" in said


def test_its_time_is_that_of_the_event_in_utc() -> None:
    record = logging.LogRecord("planner", logging.INFO, __file__, 1, "x", (), None)
    record.created = NOW.timestamp()
    assert OneLine().format(record) == "2026-03-02T15:00:00Z INFO planner x"


def test_a_fault_tells_what_led_to_it_and_where() -> None:
    try:
        try:
            int("Quillhaven")
        except ValueError as error:
            raise KeyError("Quillhaven") from error
    except KeyError as error:
        record = logging.LogRecord("planner", logging.ERROR, __file__, 1, "x", (), (KeyError, error, None))
    said = OneLine().format(record)
    assert said.index("ValueError") < said.index("KeyError")
    assert "test_logs.py:" in said
    assert "Quillhaven" not in said


def test_words_in_any_script_stay_readable() -> None:
    assert printable("Zoë Ng 李 – ok") == "Zoë Ng 李 – ok"


def test_the_program_itself_writes_its_log_so() -> None:
    handlers = settings.LOGGING["root"]["handlers"]
    named = {settings.LOGGING["handlers"][each]["formatter"] for each in handlers}
    assert {settings.LOGGING["formatters"][each]["()"] for each in named} == {"planner.config.logs.OneLine"}
    assert PASSWORD not in str(settings.LOGGING)
