"""What every answer tells the browser, and that no page needs an exception from it.

Outside check: OWASP ASVS 5.0, V3.3, V3.4 and V14.3, and the directives of W3C Content Security Policy Level 3.
"""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.db import models
from django.test import Client

from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from tests.addresses import ADDRESSES
from tests.closed_rows import Ground
from tests.pages import client_of
from tests.test_every_address import ROWS, made, url_of
from tests.trust.reading_markup import forbidden_in

TEMPLATES = sorted((Path(settings.BASE_DIR) / "templates").rglob("*.html"))
POLICY = {
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self'",
    "font-src 'self'",
    "connect-src 'self'",
    "object-src 'none'",
    "base-uri 'none'",
    "form-action 'self'",
    "frame-ancestors 'none'",
}
HEADERS = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
# What a tag writes is looked at in the pages; here it would only break the quotes around it.
_TAGS = re.compile(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}", re.S)


def test_no_template_holds_inline_style_or_script() -> None:
    wrong = [
        f"{path.relative_to(settings.BASE_DIR)} {found}"
        for path in TEMPLATES
        for found in forbidden_in(_TAGS.sub("", path.read_text(encoding="utf-8")))
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    "markup",
    [
        '<p style="color:red">x</p>',
        "<style>p {color: red}</style>",
        "<script>alert(1)</script>",
        '<img src="/a.png" onerror="x()">',
        '<a href="javascript:x()">y</a>',
        '<img src="data:image/png;base64,AAAA">',
        '<script src="https://example.org/x.js"></script>',
        '<div hx-on:click="x()"></div>',
        "<div hx-vals='js:{a: x()}'></div>",
        '<iframe src="/"></iframe>',
    ],
)
def test_what_the_look_at_markup_finds(markup: str) -> None:
    assert forbidden_in(markup)
    assert not forbidden_in('<p class="x"><a href="/a/">a</a><script src="/static/x.js" defer></script></p>')


def faults_of(response: object, where: str) -> list[str]:
    """What is missing in the headers of ``response``, and what its markup may not hold."""
    headers = response.headers  # type: ignore[attr-defined]
    said = {part.strip() for part in headers.get("Content-Security-Policy", "").split(";") if part.strip()}
    wrong = [f"{where}: policy {sorted(said ^ POLICY)}"] if said != POLICY else []
    wrong += [
        f"{where}: {name} is {headers.get(name)}" for name, value in HEADERS.items() if headers.get(name) != value
    ]
    if "camera=()" not in headers.get("Permissions-Policy", ""):
        wrong.append(f"{where}: no Permissions-Policy")
    if headers.get("Content-Type", "").startswith("text/html"):
        markup = response.getvalue().decode()  # type: ignore[attr-defined]
        wrong += [f"{where}: {one}" for one in forbidden_in(markup)]
    return wrong


@pytest.mark.django_db
@pytest.mark.parametrize("label", ROWS)
def test_every_answer_carries_them_and_no_page_holds_inline_style_or_script(
    label: str, owner: Staff, lead_case: CaseFacts
) -> None:
    row: models.Model | None = made(label, Ground(owner, lead_case))
    client, nobody = client_of(owner), Client()
    client.raise_request_exception = nobody.raise_request_exception = False
    wrong: list[str] = []
    for address in ADDRESSES.values():
        if address.row != label or address.name == "practice:sign_out":
            continue
        url = url_of(address.name, row)
        wrong += faults_of(client.get(url), f"GET {address.name}")
        wrong += faults_of(nobody.get(url), f"GET {address.name} by a stranger")
        wrong += faults_of(client.post(url, {"seen": "0"}), f"POST {address.name}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.django_db
def test_signing_out_clears_what_the_browser_holds(owner: Staff) -> None:
    out = client_of(owner).post("/sign-out/")
    assert (out.status_code, out["Clear-Site-Data"]) == (302, '"cache", "storage"')
    assert "Clear-Site-Data" not in client_of(owner).get("/").headers
