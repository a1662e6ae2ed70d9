"""Files of the office book through the pages: who may, what is shown first, and that what is taken is what was seen."""

import io
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from openpyxl import load_workbook

from planner.practice import books
from planner.practice.again import FIELD
from planner.practice.models import BookFile, BookVersion, Staff
from planner.practice.roles import Role
from planner.trail.models import TrailEntry
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.support import PASSWORD

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def out(client: Client, part: str, kind: str = "csv", more: str = "?decimals=.") -> bytes:
    response = client.post(f"/office/files/out/{part}.{kind}{more}", {FIELD: PASSWORD})
    assert response.status_code == 200
    assert response["Content-Disposition"].startswith(f'attachment; filename="{part}')
    return bytes(response.content)


def send(client: Client, part: str, content: bytes, decimals: str = ".") -> str:
    file = SimpleUploadedFile(f"{part}.csv", content)
    response = client.post("/office/files/", {"part": part, "decimals": decimals, "file": file})
    assert response.status_code == 302, response.content.decode()
    return str(response["Location"])


def page_of(client: Client, url: str, **sent: str) -> str:
    response = client.post(url, sent) if sent else client.get(url)
    assert response.status_code == 200
    return b"".join(response.streaming_content).decode()  # type: ignore[attr-defined]


def confirm(url: str, **more: str) -> dict[str, str]:
    kept = BookFile.objects.get(public_id=url.strip("/").rsplit("/", 1)[1])
    last = books.latest_version(kept.office)
    day = books.today(kept.office, timezone.now()).isoformat()
    return {"sha256": kept.sha256, "seen": str(last.number), "effective": day, "reason": "new year"} | more


def test_prices_of_packs_go_out_come_back_changed_and_are_taken_after_a_look(owner: Staff) -> None:
    client = client_of(owner)
    changed = out(client, "materials").replace(b",92.00,", b",94.50,").replace(b"Pumice", b"Pumice fine")
    url = send(client, "materials", changed)
    page = page_of(client, url)
    assert "23 rows read without a fault" in page
    assert "<li>23 rows read</li>" in page
    for text in ("92.00", "94.50", "<strong>21</strong> unchanged", "<strong>2</strong> changed"):
        assert text in page
    assert BookVersion.objects.count() == 1
    assert client.post(url, confirm(url))["Location"] == "/office/"
    book = books.read_book(books.latest_version(owner.office).data)
    assert {row.key: row.pack_cents for row in book.materials}["composite-dentine"] == 9450
    said = BookVersion.objects.get(number=2).reason
    assert said.startswith("new year (from the file materials.csv, SHA-256 ")
    assert {"book.export", "book.file", "book.change"} <= set(TrailEntry.objects.values_list("act", flat=True))


def test_a_faulty_file_is_told_by_line_and_cannot_be_taken(owner: Staff) -> None:
    client = client_of(owner)
    url = send(client, "minutes", out(client, "minutes").replace(b",25,35,", b",=25,35,"))
    page = page_of(client, url)
    assert "1 fault: nothing of the file is taken" in page
    assert "is a formula" in page
    assert "Take the file" not in page
    assert "has 1 faults and is not taken" in page_of(client, url, **confirm(url))
    assert BookVersion.objects.count() == 1


def test_what_is_taken_is_what_was_seen(owner: Staff) -> None:
    client = client_of(owner)
    url = send(client, "materials", out(client, "materials").replace(b",92.00,", b",94.50,"))
    other = send(client, "materials", out(client, "materials").replace(b",92.00,", b",99.00,"))
    assert "not the file that was looked at" in page_of(
        client, url, **(confirm(url) | {"sha256": confirm(other)["sha256"]})
    )
    seen = confirm(url)
    assert client.post(other, confirm(other)).status_code == 302
    page = page_of(client, url, **seen)
    assert "changed by somebody else" in page
    assert "99.00" in page  # held against the book as it is now
    assert BookVersion.objects.count() == 2


def test_a_price_list_in_a_file_begins_on_its_own_day(owner: Staff) -> None:
    client = client_of(owner)
    day = books.today(owner.office, timezone.now())
    start = (day + timedelta(days=3)).isoformat().encode()
    head, *lines = out(client, "prices", more="?decimals=.&list=7").split(b"\r\n")
    new = [b",".join([b"9", start, b"", line.split(b",", 3)[3]]) for line in lines if line]
    url = send(client, "prices", b"\r\n".join([head, *new]).replace(b",445.00,", b",470.00,"))
    page = page_of(client, url)
    assert "Price list 9, from" in page
    assert 'name="effective"' not in page
    assert client.post(url, confirm(url)).status_code == 302
    book = books.read_book(books.latest_version(owner.office).data)
    assert book.price_list_on(day + timedelta(days=3)).service("build-up").cents == 47000


def test_the_decimal_sign_is_stated_and_held_to(owner: Staff) -> None:
    client = client_of(owner)
    comma = out(client, "materials", more="?decimals=,")
    assert b";92,00;" in comma
    assert "says what the book says already" in page_of(client, send(client, "materials", comma, ","))
    assert "before its decimals" in page_of(client, send(client, "materials", comma, "."))


def test_a_spreadsheet_goes_out_as_such(owner: Staff) -> None:
    sheet = load_workbook(io.BytesIO(out(client_of(owner), "minutes", "xlsx"))).active
    assert sheet is not None
    assert [cell.value for cell in sheet[2]][:4] == ["bonding", "bonding", "set-up", 20]


def test_who_may_take_out_and_bring_in(owner: Staff, person: Callable[..., Staff], outsider: Staff) -> None:
    desk, keeper = client_of(person(Role.FRONT_DESK)), client_of(person(Role.KEEPER))
    url = send(client_of(person(Role.MANAGER)), "materials", out(desk, "materials"))
    with refusals() as noted:
        assert client_of(outsider).get(url).status_code == 404
        assert desk.get(url).status_code == 403
        file = SimpleUploadedFile("m.csv", b"x")
        assert desk.post("/office/files/", {"part": "materials", "decimals": ".", "file": file}).status_code == 403
        assert keeper.get("/office/files/").status_code == 403
        assert keeper.get("/office/files/out/materials.csv").status_code == 403
    assert len(noted) == 5
    assert "Bring in" not in desk.get("/office/files/").content.decode()
    assert desk.get("/office/files/out/people.csv").status_code == 404
    assert desk.get("/office/files/out/materials.pdf").status_code == 404


def test_taking_out_asks_for_the_password(owner: Staff) -> None:
    client, url = client_of(owner), "/office/files/out/materials.csv"
    for answer in (client.get(url), client.post(url), client.post(url, {FIELD: "wrong"})):
        assert "Content-Disposition" not in answer
        assert "Save the file" in answer.content.decode()
    assert not TrailEntry.objects.filter(act="book.export").exists()


def test_nothing_sent_is_asked_back_and_the_rest_kept(owner: Staff) -> None:
    response = client_of(owner).post("/office/files/", {"part": "minutes", "decimals": ","})
    assert "This is missing" in response.content.decode()
    form = response.context["form"]
    assert (form["part"].value(), form["decimals"].value()) == ("minutes", ",")


def test_looking_costs_the_same_at_any_size(owner: Staff) -> None:
    client = client_of(owner)
    whole = out(client, "materials")
    small = send(client, "materials", b"\r\n".join(whole.split(b"\r\n")[:3]))
    large = send(client, "materials", whole)
    assert queries_of(client, small) == queries_of(client, large)
    assert queries_of(client, "/office/files/") <= 12
