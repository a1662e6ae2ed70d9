"""The pages of pictures in a browser: taking one in, seeing it upright, reading it, and what the desk sees."""

import io
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from PIL import Image, ImageDraw
from playwright.sync_api import Page, expect

from planner.patients import services
from planner.patients.models import Patient
from planner.practice.models import Staff
from tests.browser.conftest import look


@pytest.fixture
def patient(owner: Staff) -> Patient:
    born = date(1979, 3, 2)
    return services.register_patient(name="Anselm Brightwater", birth_date=born, actor=owner, now=timezone.now())


def film() -> bytes:
    """Something like a small film: grey, with two brighter roots."""
    image = Image.new("L", (600, 450), 40)
    pen = ImageDraw.Draw(image)
    for left in (120, 330):
        pen.ellipse((left, 40, left + 130, 420), fill=170)
        pen.ellipse((left + 50, 120, left + 80, 380), fill=90)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def test_a_film_is_taken_in_seen_and_read(
    signed_in: Callable[[Staff], Page],
    live_server: Any,
    console: list[str],
    owner: Staff,
    colleague: Staff,
    patient: Patient,
    tmp_path: Path,
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/{patient.public_id}/pictures/")
    page.get_by_role("link", name="Take a picture in").click()
    page.get_by_label("Picture file").set_input_files(
        files=[{"name": "wrong.png", "mimeType": "image/png", "buffer": b"%PDF-1.7"}]
    )
    page.get_by_label("Taken on").fill("10 February 2026")
    page.get_by_label("What it shows").fill("upper front teeth and roots")
    page.get_by_role("button", name="Put it on file").click()
    expect(page.get_by_role("alert")).to_contain_text("This is a PDF, not a picture")
    expect(page.get_by_label("What it shows")).to_have_value("upper front teeth and roots")
    look(page, "picture-refused")

    path = tmp_path / "Brightwater 12.png"
    path.write_bytes(film())
    page.get_by_label("Picture file").set_input_files(path)
    page.get_by_role("button", name="Put it on file").click()
    expect(page.get_by_role("heading", name="Small film, 10 February 2026")).to_be_visible()
    expect(page.locator(".picture-large img")).to_have_js_property("naturalWidth", 600)  # once it has come
    page.get_by_role("link", name="Write down what it shows").click()
    look(page, "picture-reading")
    page.get_by_label("Teeth it proves absent").fill("12")
    page.get_by_label("What was seen").fill("12 never formed; a third of the root of 53 is gone.")
    page.get_by_role("button", name="Put it on file").click()
    look(page, "pictures")
    page.get_by_role("link", name="Small film, 10 February 2026").first.click()
    look(page, "picture")

    page = signed_in(colleague)
    page.goto(f"{live_server.url}/patients/{patient.public_id}/pictures/")
    page.get_by_role("link", name="Small film, 10 February 2026").first.click()
    expect(page.get_by_text("Only those who treat see it large.")).to_be_visible()
    expect(page.get_by_role("link", name="Download the original")).to_have_count(0)
    expect(page.locator(".picture-large img")).to_have_js_property("naturalWidth", 320)
    assert not console
