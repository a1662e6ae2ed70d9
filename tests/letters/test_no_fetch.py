"""A paper is drawn from its own text and fonts: nothing is fetched, whatever text it holds, and text stays text."""

import io
import json
import struct
import threading
import zlib
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from planner.letters import pdf
from planner.letters.issue import Answered
from planner.letters.papers import KINDS, job
from planner.rules.results import sha256, stable_json
from tests.letters.conftest import ISSUE, NOT_NOW, beside, texts
from tests.letters.sample import case_plan, plan_with


def _png() -> bytes:
    """One red dot, written by hand after the PNG specification (ISO/IEC 15948)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", 1, 1, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0\xff\0\0"))
        + chunk(b"IEND", b"")
    )


class _Asked(BaseHTTPRequestHandler):
    paths: list[str] = []

    def do_GET(self) -> None:
        self.paths.append(self.path)
        self.send_response(200)
        self.send_header("Content-Type", "image/png")
        self.end_headers()
        self.wfile.write(_png())

    def log_message(self, *_arguments: object) -> None:
        pass


@pytest.fixture
def outside() -> Iterator[str]:
    """A server on this machine that would answer anything; yields its address, and is never asked."""
    _Asked.paths = []
    server = HTTPServer(("127.0.0.1", 0), _Asked)
    thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()
    assert _Asked.paths == []


WAYS = [
    '<img alt="x" src="{url}">',
    '<object data="{url}" type="image/png">x</object>',
    '<embed src="{url}">',
    '<svg width="10" height="10"><title>a long title</title><image href="{url}" width="9" height="9"/></svg>',
    '<svg width="10" height="10"><title>a long title</title><use href="{url}#a"/></svg>',
    '<link rel="stylesheet" href="{url}">',
    '<style>@import url("{url}");</style>',
    '<style>@font-face {{ font-family: F; src: url("{url}") }} p {{ font-family: F }}</style>',
    '<p style="background: url({url})">x</p>',
    '<ul style="list-style-image: url({url})"><li>x</li></ul>',
    '<link rel="attachment" href="{url}">',
    '<a rel="attachment" href="{url}">x</a>',
    '<iframe src="{url}"></iframe>',
    '<script src="{url}"></script>',
    '<base href="{url}"><img alt="x" src="x.png">',
]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("kind", ["http", "file", "data", "escape"])
def test_nothing_is_loaded_by_any_way(way: str, kind: str, outside: str, tmp_path: Path) -> None:
    secret = tmp_path / "secret.png"
    secret.write_bytes(_png())
    url = {
        "http": f"{outside}/x.png",
        "file": secret.as_uri(),
        "data": "data:image/png;base64,iVBORw0KGgo=",
        "escape": f"{pdf.FONTS.as_uri()}/../../../../../..{secret}",
    }[kind]
    body = way.format(url=url)
    made = pdf.render_here(pdf.Job(f'<html lang="en"><head><title>x</title></head><body><p>y</p>{body}</body></html>'))
    with pikepdf.open(io.BytesIO(made.content)) as file:
        assert len(file.attachments) == 0
        assert not any(isinstance(one, pikepdf.Stream) and one.get("/Subtype") == "/Image" for one in file.objects)


def test_the_fonts_that_come_along_are_loaded() -> None:
    """Or the tests above would pass on a renderer that loads nothing at all."""
    made = pdf.render_here(pdf.Job('<html lang="en"><head><title>x</title></head><body><p>y</p></body></html>'))
    with pikepdf.open(io.BytesIO(made.content)) as file:
        names = [
            str(one.FontName) for one in file.objects if isinstance(one, pikepdf.Dictionary) and "/FontName" in one
        ]
    assert names
    assert all("Atkinson" in name for name in names)


# ---------------------------------------------------------------- text stays text

HOSTILE = '<img src="{url}/a.png" onerror="x()"><script>alert("{{ 1 }}")</script>{% now "Y" %}&lt;b&gt;'
OURS = {
    "html", "head", "meta", "title", "body", "div", "p", "strong", "span", "br", "small", "h1", "h2", "h3", "section",
    "table", "caption", "thead", "tbody", "tr", "th", "td", "ul", "ol", "li", "a", "figure", "figcaption",
    "svg", "g", "path", "rect", "line", "text", "tspan", "polyline", "polygon", "circle", "ellipse", "desc",
    "defs", "pattern", "clippath", "use", "style",
}  # fmt: skip
"""What the templates and drawings themselves are made of."""


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: set[str] = set()
        self.acts: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.add(tag)
        self.acts |= {name for name, _value in attrs if name.startswith("on") or name in ("src", "background")}


def _spoiled(value: Any, hostile: str, path: tuple[str, ...] = ()) -> Any:
    """The frozen plan with ``hostile`` in every text that people write or that names people and things."""
    if isinstance(value, dict):
        return {key: _spoiled(part, hostile, (*path, key)) for key, part in value.items()}
    if isinstance(value, list):
        return [_spoiled(part, hostile, path) for part in value]
    typed = {
        "patient_name",
        "office",
        "office_place",
        "words",
        "name",
        "plain",
        "by",
        "confirmed_by",
        "recommended_why",
    }
    typed |= {
        "wish_by_words",
        "tax_reason",
        "does",
        "does_not",
        "not_included",
        "sentence",
        "notes",
        "if_then",
        "shade",
        "payer",
        "reason",
        "reference",
    }
    if isinstance(value, str) and value and path[-1] in typed and "evidence" not in path:
        return f"{value} {hostile}"
    return value


@pytest.mark.parametrize("kind", list(KINDS))
def test_markup_and_script_in_any_text_stay_text(kind: str, outside: str) -> None:
    hostile = HOSTILE.replace("{url}", outside)
    plan = json.loads((plan_with() if kind == NOT_NOW else case_plan()).to_json())
    content = stable_json(_spoiled(plan, hostile))
    own = {
        name: stable_json(_spoiled(json.loads(said), hostile) | {"plan_sha256": sha256(content)}).decode()
        for name, said in beside(kind).items()
    }
    issue = replace(
        ISSUE,
        dentist=hostile,
        dentist_role=hostile,
        dentist_licence=hostile,
        own_risks=(hostile,),
        questions=(Answered(hostile, hostile, hostile),),
        guarantee=hostile,
        interpreter=hostile,
        decided_for_by=hostile,
        if_stopped=hostile,
        ordered_by=hostile,
        order_note=hostile,
        **own,
    )
    what = job(content, kind, issue)
    tags = _Tags()
    tags.feed(what.html)
    assert tags.found <= OURS, tags.found - OURS
    assert not tags.acts
    made = pdf.render_here(what)
    said = " ".join(texts(made.content))
    assert "<script>alert(" in said
    assert '{% now "Y" %}' in said
    with pikepdf.open(io.BytesIO(made.content)) as file:
        assert not any(isinstance(one, pikepdf.Dictionary) and "/JS" in one for one in file.objects)
        assert [str(name) for name in file.attachments] == [KINDS[kind].carries.name]
