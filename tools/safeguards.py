"""The tables of docs/ that say what was guarded against, how, and by which test it is shown."""

import tomllib
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parent.parent / "docs" / "safeguards"
STATES = {
    "met": "met",
    "in part": "**in part**",
    "not met": "**not met**",
    "office": "the office's part",
}

ASVS_HEAD = """# Held against OWASP ASVS 5.0, level 2

Items of the *Application Security Verification Standard* 5.0.0 that concern a program like this one, in our own
words, each with how it is met and the tests that show it. **This is no certificate**: nobody outside looked; it
says what we did, and where we fell short. Chapters that ask about what is not there are left out: tokens that carry
themselves (V9), sign-in by others (V10), live audio and video (V17). Written by `tools/write_docs.py` from
`docs/safeguards/asvs.toml`; a test holds that every test named here is there.

{counts}

| item | asks | | how | shown by |
|---|---|---|---|---|
"""

BAD_HEAD = """
## Bad input

| what is sent | what it gets | shown by |
|---|---|---|
"""

HIPAA_HEAD = """# Held against the technical safeguards of HIPAA

45 CFR 164.312, in our own words. **This is no certificate and no legal advice**: the rule binds the office, which
assesses its own risks, writes its own policies and signs its own agreements; elsewhere other law holds.
*Addressable* does not mean optional: assess it, then do it or write down what is done instead. Documents about it
are kept six years (164.316(b)(2)(i)); how long records are kept is a matter of state law. Changes to the rule
proposed in 2025 would make all of it required: look up whether they came. Written by `tools/write_docs.py` from
`docs/safeguards/hipaa.toml`.

| paragraph | | asks | | how | shown by |
|---|---|---|---|---|---|
"""


def items(name: str) -> list[dict[str, Any]]:
    """The items of one table, as they stand in its file."""
    found: list[dict[str, Any]] = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))["items"]
    return found


def _tests(item: dict[str, Any]) -> str:
    return "<br>".join(f"`tests/{name}`" for name in item["tests"])


def asvs_page() -> str:
    """docs/asvs.md as text."""
    rows = items("asvs")
    counted = {state: sum(row["state"] == state for row in rows) for state in STATES}
    counts = (
        f"Of {len(rows)} items {counted['met']} are met, {counted['in part']} in part, {counted['not met']} not, and "
        f"{counted['office']} are the office's part, for which we give files or words."
    )
    text = ASVS_HEAD.format(counts=counts)
    for row in rows:
        text += f"| {row['number']} | {row['asks']} | {STATES[row['state']]} | {row['how']} | {_tests(row)} |\n"
    text += BAD_HEAD
    for row in items("bad_input"):
        text += f"| {row['number']} | {row['how']} | {_tests(row)} |\n"
    return text


def hipaa_page() -> str:
    """docs/hipaa.md as text."""
    text = HIPAA_HEAD
    for row in items("hipaa"):
        text += f"| {row['number']} | {row['kind']} | {row['asks']} | {STATES[row['state']]} | {row['how']} | "
        text += f"{_tests(row)} |\n"
    return text
