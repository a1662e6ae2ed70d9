"""The documents say what the code does."""

import ast
import re
from pathlib import Path

import pytest

from tools.write_docs import documents

ROOT = Path(__file__).resolve().parents[1]


def test_every_setting_is_documented_and_no_other() -> None:
    code = (ROOT / "planner/config/settings.py").read_text(encoding="utf-8")
    used = set(re.findall(r'env\.\w+\("([A-Z_]+)"', code))
    page = (ROOT / "docs/settings.md").read_text(encoding="utf-8")
    assert used == set(re.findall(r"^\| `([A-Z_]+)`", page, re.MULTILINE))


@pytest.mark.parametrize("name", list(documents()))
def test_written_pages_are_true(name: str) -> None:
    assert (ROOT / "docs" / name).read_text(encoding="utf-8") == documents()[name]


@pytest.mark.parametrize(
    "document", ["README.md", "DEVELOPERS.md", *(f"docs/{path.name}" for path in (ROOT / "docs").glob("*.md"))]
)
def test_links_lead_somewhere(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        if not target.startswith(("http:", "https:", "mailto:")):
            assert ((ROOT / document).parent / target).exists(), f"{document} links to {target}, which is not there"


PAGES = sorted(path.name for path in (ROOT / "docs").glob("*.md"))


@pytest.mark.parametrize("page", PAGES)
def test_tests_that_a_page_names_are_there(page: str) -> None:
    """Named as pytest names them: ``tests/x.py``, ``tests/x.py::test_y`` or ``tests/x.py::TestZ::test_y``."""
    for name in re.findall(r"`(tests/[^`\s]+\.py[^`\s]*)`", (ROOT / "docs" / page).read_text(encoding="utf-8")):
        file, *parts = name.split("::")
        assert (ROOT / file).exists(), f"{page} names {file}, which is not there"
        body = ast.parse((ROOT / file).read_text(encoding="utf-8")).body
        for part in parts:
            kinds = (ast.FunctionDef, ast.ClassDef)
            found = next((one for one in body if isinstance(one, kinds) and one.name == part), None)
            assert found is not None, f"{page} names {name}, and there is no {part}"
            body = found.body


def test_every_command_of_the_readme_is_there() -> None:
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    for page in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / page).read_text(encoding="utf-8")
        assert set(re.findall(r"\bmake ([a-z]+)\b", text)) <= targets
