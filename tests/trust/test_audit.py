"""Asking about known faults: an answer, a fault, and no answer are three things."""

import json
import re
import sys
import tomllib
from pathlib import Path

import pytest

from tools.audit import LOCKS, ROOT, audit


def answers(text: str, status: int = 0) -> list[str]:
    """A command that answers so, whatever it is asked."""
    return [sys.executable, "-c", f"import sys; print({text!r}); sys.exit({status})"]


FINE = {"dependencies": [{"name": "a", "version": "1", "vulns": []}, {"name": "b", "version": "2", "vulns": []}]}
FAULT = {
    "dependencies": [{"name": "a", "version": "1", "vulns": [{"id": "PYSEC-1", "fix_versions": ["1.1"]}]}],
    "fixes": [],
}


@pytest.mark.parametrize(
    ("command", "status", "said"),
    [
        (answers(json.dumps(FINE)), 0, "2 packages, no known fault"),
        (answers(json.dumps(FAULT), 1), 1, "a 1 has PYSEC-1, mended in 1.1"),
        (answers("ConnectionError", 1), 2, "nothing is known of its faults"),
        (answers("", 0), 2, "nothing is known of its faults"),
    ],
)
def test_no_answer_is_no_good_news(command: list[str], status: int, said: str) -> None:
    found, lines = audit("requirements.lock", command)
    assert found == status
    assert said in lines[0]


@pytest.mark.parametrize("lock", [*LOCKS, "requirements-audit.lock"])
def test_every_package_is_pinned_with_hashes(lock: str) -> None:
    text = (ROOT / lock).read_text(encoding="utf-8")
    packages = re.findall(r"^\S.*?(?=^\S|\Z)", re.sub(r"(?m)^\s*#.*\n", "", text), re.M | re.S)
    assert len(packages) > 20
    assert [one for one in packages if not re.match(r"[\w.\[\],-]+==\S+ (; .+ )?\\\n\s+--hash=sha256:", one)] == []


def test_what_the_program_asks_for_is_what_is_locked() -> None:
    project = tomllib.loads((Path(ROOT) / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    locked = dict(re.findall(r"^([\w.-]+)(?:\[[\w,]+\])?==(\S+)", (ROOT / LOCKS[0]).read_text(encoding="utf-8"), re.M))
    for wanted in project["dependencies"]:
        name, _extra, version = re.match(r"([\w.-]+)(\[[\w,]+\])?(?:==(\S+))?", wanted).groups()  # type: ignore[union-attr]
        assert name.lower() in locked, wanted
        assert version in (None, locked[name.lower()]), wanted
