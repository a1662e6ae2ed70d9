"""The tables of docs/asvs.md and docs/hipaa.md are true: no item is missing, and each says how."""

import re
from pathlib import Path

import pytest
from django.conf import settings

from planner.practice.models import Staff
from tests.addresses import ADDRESSES
from tests.pages import client_of
from tests.test_every_address import url_of
from tools.safeguards import STATES, items

ROOT = Path(settings.BASE_DIR)
# The items of OWASP ASVS 5.0.0 (levels 1 and 2) that a program with patients, accounts, uploads and papers is held to.
_ASVS = """
1.2.1 1.2.2 1.2.4 2.3.1 2.3.3 2.3.4 3.3.1 3.3.2 3.3.3 3.3.4 3.4.1 3.4.3 3.4.4 3.4.5 3.4.6 3.5.1 3.5.3 5.2.1
5.2.2 5.3.1 5.3.2 6.2.1 6.2.4 6.2.5 6.2.7 6.2.9 6.2.10 6.2.12 6.3.1 6.3.2 6.3.3 7.2.4 7.3.1 7.3.2 7.4.2 7.4.3
7.4.4 7.4.5 7.5.1 8.2.1 8.2.2 8.2.3 8.3.1 11.4.2 11.4.3 12.1.1 13.3.1 13.3.2 14.2.1 14.2.2 14.2.3 14.3.1 14.3.2
14.3.3 15.2.1 15.3.3 16.2.1 16.2.2 16.2.5 16.3.1 16.3.2 16.4.1 16.4.2 16.4.3 16.5.1 16.5.3
"""
# Every implementation specification of 45 CFR 164.312, and the standards that have none.
_HIPAA = "(a)(2)(i) (a)(2)(ii) (a)(2)(iii) (a)(2)(iv) (b) (c)(1) (c)(2) (d) (e)(2)(i) (e)(2)(ii)"
REQUIRED = {"(a)(2)(i)", "(a)(2)(ii)", "(b)", "(c)(1)", "(d)"}


def test_no_item_is_missing() -> None:
    assert [row["number"] for row in items("asvs")] == [f"V{number}" for number in _ASVS.split()]
    assert [row["number"] for row in items("hipaa")] == [f"164.312{number}" for number in _HIPAA.split()]
    assert {row["number"] for row in items("hipaa") if row["kind"] == "required"} == {f"164.312{n}" for n in REQUIRED}


def test_every_item_names_a_test() -> None:
    # That each of them is there is held for every page: tests/test_docs.py::test_tests_that_a_page_names_are_there
    assert [row["number"] for table in ("asvs", "hipaa", "bad_input") for row in items(table) if not row["tests"]] == []


def test_every_state_is_one_of_the_four() -> None:
    assert {row["state"] for table in ("asvs", "hipaa") for row in items(table)} <= set(STATES)


def test_passwords_may_be_pasted_and_kept_by_a_manager() -> None:
    # OWASP ASVS 5.0, V6.2.7: no script hears of pasting, and no field forbids being filled in.
    for path in (ROOT / "static" / "js").glob("*.js"):
        assert not re.search(r"['\"](paste|copy|cut|contextmenu)['\"]", path.read_text(encoding="utf-8")), path.name
    fields = []
    for path in (ROOT / "planner").rglob("*.py"):
        fields += re.findall(r"PasswordInput\((.*)", path.read_text(encoding="utf-8"))
    assert fields
    assert not [field for field in fields if '"autocomplete": "off"' in field]


def test_no_script_of_ours_keeps_anything_in_the_browser() -> None:
    # OWASP ASVS 5.0, V14.3.3.
    for path in (ROOT / "static" / "js").glob("*.js"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"localStorage|sessionStorage|indexedDB|document\.cookie|caches\.", text), path.name
    assert '"historyCacheSize": 0' in (ROOT / "templates/base.html").read_text(encoding="utf-8")


def test_no_form_is_made_from_a_table() -> None:
    # OWASP ASVS 5.0, V15.3.3: a field that was not meant cannot be set by sending it.
    for path in (ROOT / "planner").rglob("*.py"):
        assert not re.search(r"\bModelForm\b|modelform_factory|\*\*request\.POST", path.read_text(encoding="utf-8")), (
            path
        )


@pytest.mark.django_db
def test_every_page_of_the_house_has_a_way_to_sign_out(owner: Staff) -> None:
    # OWASP ASVS 5.0, V7.4.4.
    client, looked = client_of(owner), 0
    for name, address in ADDRESSES.items():
        if address.row != "-" or address.get == "-" or address.get == "public":
            continue
        answer = client.get(url_of(name, None))
        page = answer.getvalue().decode() if answer.headers.get("Content-Type", "").startswith("text/html") else ""
        if answer.status_code == 200 and "<!doctype html>" in page:
            looked += 1
            assert '<form method="post" action="/sign-out/">' in page, name
    assert looked > 15
