"""What nobody means and somebody sends: each gets a refusal, and nothing of it is done.

Replayed forms and stale versions are tried at the services and pages they belong to; ``docs/asvs.md`` names those
tests. Outside check: OWASP ASVS 5.0 (V1, V2.3, V3.5, V5), and the OWASP page "Unvalidated Redirects and Forwards" for
the forms of an address that leads elsewhere (from memory).
"""

import io
import json
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models
from django.test import Client
from django.urls import get_resolver

from planner.patients.models import Patient, PictureFile
from planner.patients.services import register_patient
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.practice import again
from planner.practice.models import BookVersion, Staff
from planner.practice.sign_in_models import SignedIn
from planner.rules.mouth import CaseFacts
from tests.addresses import ADDRESSES
from tests.closed_rows import Ground
from tests.pages import client_of
from tests.patients.test_images import photograph, saved
from tests.support import NOW, PASSWORD, TODAY
from tests.test_every_address import PATTERNS, ROWS, made, url_of
from tests.trust.filling import LIVE, MARKUP, forms_of, hostile
from tests.trust.real_plans import put_real_plans

pytestmark = pytest.mark.django_db

ROOT = Path(settings.BASE_DIR)
MANY = 12
"""A form with more typed fields than that gets hostile text in all at once; each is judged by itself all the same."""
LEAST_FORMS = {"-": 20, "plans.case": 10, "patients.patient": 5, "plans.estimate": 3}
"""So many forms are there at least, should the reader of pages ever find none."""
ON_THEIR_OWN = {"trail", "sessions", "axes"}
"""Looking may add rows here: who looked, a session, a miss."""


def quiet(client: Client) -> Client:
    """``client``, with errors of the program as answers rather than exceptions."""
    client.raise_request_exception = False
    return client


def everything() -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table but those that tell who looked, and when somebody signed in was last heard of."""
    return {
        model._meta.label: sorted(model._default_manager.values_list(), key=repr)
        for model in apps.get_models()
        if model._meta.app_label not in ON_THEIR_OWN and model is not SignedIn
    }


def _addresses(label: str) -> Iterator[str]:
    # Last of all, nobody is signed in any more.
    named = [name for name, address in ADDRESSES.items() if address.row == label]
    yield from sorted(named, key=lambda name: name == "practice:sign_out")


# ---------------------------------------------------------------- forged ids


JUNK = ("-1", "' OR 1=1--", "%00", "a" * 300, "..%2F..%2Fetc%2Fpasswd", "{{7}}%0D%0AX:1")


def test_a_forged_id_is_nobodys_row(owner: Staff) -> None:
    client, wrong = quiet(client_of(owner)), []
    for name, address in ADDRESSES.items():
        if address.row == "-" or "public_id" not in PATTERNS[name].pattern.regex.groupindex:
            continue
        for number, junk in enumerate((JUNK * 2)[len(name) % len(JUNK) :][:3]):
            there = re.sub(r"(?<=/)x(?=/|$)", "\0", url_of(name, None), count=1).replace("\0", junk)
            method = ("get", "post")[(number + len(name)) % 2]
            status = getattr(client, method)(there).status_code
            if status not in (400, 403, 404, 405):
                wrong.append(f"{method} {there}: {status}")
    assert not wrong, "\n".join(wrong)


def test_a_sign_that_no_text_has_is_refused_wherever_it_stands(owner: Staff) -> None:
    # PostgreSQL takes no NUL in any text; it must be refused before a query holds it.
    client = quiet(client_of(owner))
    for url in ("/patients/%00/", "/patients/?after=%00", "/plans/?state=%00", "/plans/?after=a%00b"):
        assert client.get(url).status_code == 400, url
    assert client.post("/patients/", {"q": "a\0b"}).status_code in (200, 400)
    assert client.post("/sign-in/", {"username": "o\0", "password": "x\0"}).status_code in (200, 302, 400)


# ---------------------------------------------------------------- forms from elsewhere, and looking


@pytest.mark.parametrize("label", ROWS)
def test_looking_changes_nothing_and_a_form_without_its_token_is_refused(
    label: str, owner: Staff, lead_case: CaseFacts
) -> None:
    row: models.Model | None = made(label, Ground(owner, lead_case))
    client = quiet(client_of(owner))
    strict = quiet(Client(enforce_csrf_checks=True))
    strict.force_login(owner, backend="planner.practice.backends.StaffBackend")
    before, wrong = everything(), []
    for name in _addresses(label):
        url = url_of(name, row)
        client.get(url)
        if ADDRESSES[name].post == "-" or (name.startswith("verify") and strict.post(url).status_code != 403):
            continue
        if (status := strict.post(url, {"seen": "1"}).status_code) != 403:
            wrong.append(f"{name}: {status}")
    assert not wrong, "\n".join(wrong)
    assert everything() == before


def test_a_form_of_another_site_is_refused_though_it_has_a_token(owner: Staff) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(owner, backend="planner.practice.backends.StaffBackend")
    strict.get("/account/password/")
    sent = {"csrfmiddlewaretoken": strict.cookies["leastways-csrf"].value}
    for origin in ("https://evil.example", "null", "http://testserver.evil.example"):
        assert strict.post("/sign-out/", sent, headers={"Origin": origin}).status_code == 403
    assert strict.post("/sign-out/", sent, headers={"Origin": "http://testserver"}).status_code == 302


def test_no_view_goes_without_a_token_but_the_one_that_asks_for_it_itself() -> None:
    free = {name for name, pattern in PATTERNS.items() if getattr(pattern.callback, "csrf_exempt", False)}
    assert free == {"verify", "verify_number"}
    assert get_resolver()  # the same patterns that are served


# ---------------------------------------------------------------- bodies


def test_a_body_beyond_measure_is_refused_unread(owner: Staff) -> None:
    class Unread(io.BytesIO):
        def read(self, *_sizes: object) -> bytes:  # type: ignore[override]
            raise AssertionError("a byte of it was read")

    for length in ("10000000000", "1e9", "-5", "\u0663"):
        answer = client_of(owner).generic("POST", "/patients/", b"", CONTENT_LENGTH=length, **{"wsgi.input": Unread()})
        assert answer.status_code == 413, length
        assert "What you sent is too large" in answer.content.decode()


def test_a_form_that_is_too_long_is_told_the_limit_and_keeps_nothing(owner: Staff) -> None:
    client = client_of(owner)
    before = everything()
    long = client.post("/patients/new/", {"name": "a" * (settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 1)})
    assert long.status_code == 413
    assert "more than 5 MB" in long.content.decode()
    many = {f"field-{number}": "" for number in range(settings.DATA_UPLOAD_MAX_NUMBER_FIELDS + 1)}
    assert client.post("/patients/new/", many).status_code == 400
    assert everything() == before


@pytest.mark.parametrize(
    "content",
    [
        b"[" * 200_000,
        b'{"a":' * 100_000,
        b"[" + b"9" * 100_000 + b"]",
        b'{"format":"leastways-case","version":1e400}',
        b'{"format":"leastways-case","version":1,"version":2}',
        b'"\\ud800"',
        b"\xff\xfe",
        b'{"a":"\\u0000"}',
    ],
    ids=["deep list", "deep object", "endless number", "no number", "named twice", "half a sign", "no text", "NUL"],
)
def test_a_case_file_that_is_meant_to_break_the_reader_is_refused_in_words(content: bytes, owner: Staff) -> None:
    client = client_of(owner)
    before = everything()
    file = SimpleUploadedFile("case.json", content, content_type="application/json")
    answer = client.post("/plans/take-in/", {"file": file})
    assert answer.status_code == 200
    assert "alert" in answer.content.decode()
    assert everything() == before


def test_a_spreadsheet_that_unpacks_without_end_is_refused_and_not_unpacked(owner: Staff) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("xl/workbook.xml", "<workbook/>")
        for number in range(3):
            package.writestr(f"xl/worksheets/sheet{number}.xml", b"0" * (40 * 1024 * 1024))
    assert packed.tell() < 1024 * 1024
    file = SimpleUploadedFile("prices.xlsx", packed.getvalue())
    sent = {"part": "prices", "decimals": ".", "file": file}
    answer = client_of(owner).post("/office/files/", sent, follow=True)
    assert "unpacks to more than 80 MB" in answer.getvalue().decode()
    assert BookVersion.objects.count() == 1


# ---------------------------------------------------------------- names of files, in and out


@pytest.mark.parametrize(
    "name", ["../../../../tmp/planted.png", "C:\\planted.png", "/etc/planted.png", "planted\r\n.png"]
)
def test_the_name_of_an_upload_is_kept_nowhere_and_makes_no_file(name: str, owner: Staff, tmp_path: Path) -> None:
    patient = register_patient(name="Anselm Test", birth_date=TODAY.replace(year=1978), actor=owner, now=NOW)
    file = SimpleUploadedFile("x.png", saved(photograph(), "PNG"))
    file._name = name  # as a client that is no browser may send it
    before = sorted(Path(settings.MEDIA_ROOT).rglob("*")) if Path(settings.MEDIA_ROOT).exists() else []
    sent = {"kind": "photo", "on": str(TODAY), "with_scale": "", "mirrored": "", "file": file}
    answer = client_of(owner).post(f"/patients/{patient.public_id}/pictures/take-in/", sent)
    assert answer.status_code == 302
    picture = PictureFile.objects.get()
    assert "planted" not in repr(sorted(everything()["patients.PictureFile"]))
    after = sorted(Path(settings.MEDIA_ROOT).rglob("*")) if Path(settings.MEDIA_ROOT).exists() else []
    assert after == before
    address = f"/patients/pictures/{picture.public_id}/original/"
    original = client_of(owner).post(address, {again.FIELD: PASSWORD})
    assert "planted" not in original.headers.get("Content-Disposition", "")


NAME = re.compile(r'attachment; filename="[A-Za-z0-9._-]+"')


@pytest.mark.parametrize("label", ["-", "plans.case", "plans.estimate", "patients.picturefile", "letters.document"])
def test_the_name_of_a_download_is_our_own_and_can_hold_no_further_header(
    label: str, owner: Staff, lead_case: CaseFacts
) -> None:
    evil = 'Evil"\r\nX-Planted: 1\r\n\r\n.exe'
    row: models.Model | None = made(label, Ground(owner, lead_case))
    Patient.objects.update(name=evil)
    Case.objects.update(name=evil)
    client, seen = quiet(client_of(owner)), 0
    for name in _addresses(label):
        url = url_of(name, row)
        # What goes out of the house is asked for with the password again.
        for answer in (client.get(url), client.post(url, {again.FIELD: PASSWORD})):
            said = answer.headers.get("Content-Disposition", "")
            assert not said or NAME.fullmatch(said), f"{name}: {said}"
            assert "X-Planted" not in answer.headers
            seen += bool(said)
    assert seen


def test_every_table_goes_out_by_a_writer_that_leaves_no_cell_live() -> None:
    # That no cell of theirs is live is held in tests/practice/test_table_files.py and tests/records/test_copies.py.
    writes = re.compile(r"csv\.(writer|DictWriter)|\bWorkbook\(")
    found = {path for path in (ROOT / "planner").rglob("*.py") if writes.search(path.read_text(encoding="utf-8"))}
    assert {path.relative_to(ROOT / "planner").as_posix() for path in found} == {
        "practice/table_files.py", "records/writing.py",
    }  # fmt: skip


# ---------------------------------------------------------------- where one is led


@pytest.mark.parametrize(
    "there",
    [
        "https://evil.example/", "//evil.example/", "///evil.example", "/\\evil.example", "\\\\evil.example",
        "http:evil.example", "javascript:alert(1)", "data:text/html,x", "https:/evil.example", "%2F%2Fevil.example",
        "/\t/evil.example", "\u2028//evil.example", "https://testserver@evil.example/", "/sign-in/?next=//evil.example",
    ],
)  # fmt: skip
def test_signing_in_leads_nowhere_else(there: str, owner: Staff) -> None:
    client = Client()
    sent = {"username": "olive", "password": PASSWORD, "next": there}
    shown = client.get("/sign-in/", {"next": there})
    assert "evil.example" not in shown.headers.get("Location", "")
    answer = client.post("/sign-in/", sent, query_params={"next": there})
    for _ in range(5):
        led = answer.headers.get("Location", "") + answer.headers.get("HX-Redirect", "")
        assert not led.startswith(("//", "http", "/\\", "\\", "javascript", "data"))
        if answer.status_code != 302:
            break
        answer = client.get(led)


def test_a_host_that_is_not_ours_gets_no_page_and_no_link(owner: Staff) -> None:
    client = quiet(client_of(owner))
    assert client.get("/", headers={"host": "evil.example"}).status_code == 400
    led = Client().get("/patients/", headers={"X-Forwarded-Host": "evil.example"})["Location"]
    assert led == "/sign-in/?next=/patients/"


# ---------------------------------------------------------------- markup, templates and SQL in every field


@pytest.mark.parametrize("label", ROWS)
def test_whatever_is_typed_into_any_field_stays_text(label: str, owner: Staff, lead_case: CaseFacts) -> None:
    row: models.Model | None = made(label, Ground(owner, lead_case))
    put_real_plans()
    client, wrong, sent = client_of(owner), [], set()
    urls = [url_of(name, row) for name in _addresses(label) if name != "practice:sign_out"]
    tables = everything().keys()

    def look(method: str, url: str, data: dict[str, list[str]] | None = None) -> str:
        answer = getattr(client, method)(url, data) if data is not None else client.get(url)
        if answer.status_code >= 500:
            wrong.append(f"{method} {url}: {answer.status_code} {sorted(data or ())[:6]}")
        if not answer.headers.get("Content-Type", "").startswith("text/html"):
            return ""
        said = answer.getvalue().decode()
        wrong.extend(f"{method} {url} shows {live} alive" for live in LIVE if live in said)
        return said

    for url in urls:
        for form in forms_of(look("get", url), url):
            if form.action == "/sign-out/" or (form.action, tuple(form.typed)) in sent:
                continue
            sent.add((form.action, tuple(form.typed)))
            look("post", form.action, hostile(form, *form.values))
            look("post", form.action, hostile(form, *form.typed))
            if len(form.typed) <= MANY:
                for name in form.typed:
                    look("post", form.action, hostile(form, name))
    for url in urls:
        look("get", url)
    assert not wrong, "\n".join(wrong)
    assert len(sent) >= LEAST_FORMS.get(label, 0)
    assert everything().keys() == tables
    assert Staff.objects.filter(pk=owner.pk).exists()


def test_hostile_text_that_was_stored_is_shown_as_it_was_typed(owner: Staff, lead_case: CaseFacts) -> None:
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    client = client_of(owner)
    sent = {"name": MARKUP[:80], "numbering": "iso", "notes": MARKUP, "seen": case.version}
    assert client.post(f"/plans/{case.public_id}/about/", sent).status_code == 302
    case.refresh_from_db()
    assert case.notes == MARKUP
    page = client.get(f"/plans/{case.public_id}/about/").content.decode()
    assert "&lt;script&gt;document.title=" in page
    assert "{{ 7|add:42000 }}" in page
    exported = json.loads(client.post(f"/plans/{case.public_id}/case-file/", {again.FIELD: PASSWORD}).content)
    assert MARKUP in json.dumps(exported, ensure_ascii=False).replace('\\"', '"')
