"""Write the parts of docs/ that follow from the code; a test holds that they are true.

python tools/write_docs.py
"""

import ast
import json
import os
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from planner.rules.casefile import LARGEST_BYTES, case_schema, parse_case, resolve_days  # noqa: E402
from planner.rules.figure_words import DEFINITIONS  # noqa: E402
from planner.rules.lifecycles import MACHINES  # noqa: E402
from tools.safeguards import asvs_page, hipaa_page  # noqa: E402

EXAMPLE_DAY = date(2026, 3, 2)

HEAD = """# The case file

A case file carries everything the computation reads about one patient: JSON, UTF-8, {limit:,} bytes at most, one
object. The format is our own; `case.schema.json` beside this page is its JSON Schema (2020-12). This page is written
by `tools/write_docs.py` from the same types that read the file.

- `"format": "leastways-case"`, `"version": 1` and `"numbering"` come first. Numbering is `"iso"`, `"universal"` or
  `"palmer"` and holds for every tooth in the file: a bare number can mean two different teeth.
- Teeth are text (`"22"`, `"10"`, `"A"`). What a tooth *is*, where it *stands* (`place`) and what it must *look like*
  (`role`) are three facts.
- Lengths are millimetres with one decimal at most, as text or number (`"8.3"`, `8.3`); a second decimal is a fault.
- Leave out what was not asked or not measured. A blank is never read as "fine": the verdict is then `ask`.
- Dates are `year-month-day`.
- A file with a fault is refused whole and every fault is listed with its path.

`python manage.py plan_case FILE` reads it; the page of a case exports it. A whole example is
[`examples/lead.json`](examples/lead.json), invented from end to end.
"""


def _type(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return f"[{schema['$ref'].rsplit('/', 1)[1]}](#{schema['$ref'].rsplit('/', 1)[1].lower()})"
    if "const" in schema:
        return f"`{json.dumps(schema['const'])}`"
    if "enum" in schema:
        return ", ".join(f"`{json.dumps(value)}`" for value in schema["enum"])
    if "allOf" in schema:
        return _type(schema["allOf"][0])
    if "anyOf" in schema:
        kinds = [kind for kind in schema["anyOf"] if kind.get("type") != "null"]
        if {kind.get("type") for kind in kinds} == {"string", "number"}:
            return schema.get("description") or "millimetres or money"
        return " or ".join(_type(kind) for kind in kinds)
    if schema.get("type") == "array":
        inner = schema.get("items") or (schema.get("prefixItems") or [{}])[0]
        return f"list of {_type(inner)}"
    kind = {"integer": "whole number", "boolean": "true or false", "string": "text"}.get(schema.get("type", ""), "")
    if schema.get("format") == "date":
        return "date"
    low, high = schema.get("minimum"), schema.get("maximum")
    if low is not None and high is not None:
        kind += f", {low} to {high}"
    return kind


def _rows(name: str, schema: dict[str, Any]) -> Iterator[str]:
    yield f"\n## {name}\n"
    if schema.get("description"):
        yield schema["description"] + "\n"
    if "enum" in schema:
        yield "One of " + ", ".join(f"`{json.dumps(value)}`" for value in schema["enum"]) + ".\n"
        return
    yield "| entry | what it holds | meaning |"
    yield "|---|---|---|"
    for field, entry in schema.get("properties", {}).items():
        needed = " (needed)" if field in schema.get("required", ()) else ""
        meaning = " ".join(entry.get("description", "").split())
        yield f"| `{field}`{needed} | {_type(entry)} | {meaning} |"


def case_page() -> str:
    """docs/case-file.md as text."""
    schema = case_schema()
    lines = [HEAD.format(limit=LARGEST_BYTES), *_rows("The file", schema)]
    for name, entry in sorted(schema["$defs"].items()):
        lines += _rows(name, entry)
    return "\n".join(lines) + "\n"


PLAN_HEAD = """# The case plan

`manage.py plan_case FILE --json` prints the whole plan as JSON, keys sorted, so that two runs on the same input are
byte-equal; the same bytes are frozen when papers are made from them. This page is written by `tools/write_docs.py`
from the types in `planner/rules/results.py`.

- `..._tenths` are whole tenths of a millimetre, `..._cents` whole cents, `..._percent` and `..._of_100` decimals as
  text. Dates are `year-month-day`.
- A tooth is its key (`upper-left-lateral-incisor`); `teeth` explains every key.
- `how` holds the steps by which a figure was reached, one sentence each.
"""


def _fields(path: Path) -> Iterator[tuple[str, str, list[tuple[str, str, str]]]]:
    """Every dataclass of a module: name, docstring, and for each field its name, type and docstring."""
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if not isinstance(node, ast.ClassDef):
            continue
        rows: list[tuple[str, str, str]] = []
        for item in node.body:
            if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name):
                rows.append((item.target.id, ast.unparse(item.annotation), ""))
            elif isinstance(item, ast.Expr) and isinstance(item.value, ast.Constant) and rows:
                rows[-1] = (*rows[-1][:2], " ".join(str(item.value.value).split()))
        yield node.name, ast.get_docstring(node) or "", rows


def plan_page() -> str:
    """docs/plan-file.md as text."""
    lines = [PLAN_HEAD]
    for file in ("results.py", "verdicts.py"):
        for name, about, rows in _fields(ROOT / "planner/rules" / file):
            if not rows:
                continue
            lines += [f"\n## {name}\n", " ".join(about.split()).replace("``", "`") + "\n"]
            lines += ["| key | type | meaning |", "|---|---|---|"]
            shown = ((key, kind.replace("|", "or"), words.replace("``", "`")) for key, kind, words in rows)
            lines += [f"| `{key}` | `{kind}` | {words} |" for key, kind, words in shown]
    return "\n".join(lines) + "\n"


def example_case() -> str:
    """docs/examples/lead.json as text: the lead demo case, dated for Monday 2 March 2026."""
    data = resolve_days(parse_case((ROOT / "fixtures/cases/lead.json").read_bytes()), EXAMPLE_DAY)
    return json.dumps(data, indent=1, ensure_ascii=False) + "\n"


LIFECYCLES_HEAD = """# The four lifecycles

An estimate, an accepted plan, an item of it and a consent each have a lifecycle of their own; none is read off another.
This page is written by `tools/write_docs.py` from the tables that decide (`planner/rules/*_states.py`). A move
happens only when every demand beside it is met; a fact nobody stated meets none. What looks like a state and follows
from dates and facts is computed and stored nowhere. The periods are the office's settings.
"""


def lifecycles_page() -> str:
    """docs/lifecycles.md as text: a diagram and a table for each machine."""
    lines = [LIFECYCLES_HEAD]
    for machine in MACHINES:
        lines += [f"\n## {machine.name[0].upper()}{machine.name[1:]}\n", "```mermaid", "stateDiagram-v2"]
        names = {state: state.replace(" ", "_") for state in machine.states}
        lines += [f'    state "{state}" as {name}' for state, name in names.items() if state != name]
        lines += [f"    {names.get(move.before, '[*]')} --> {names[move.after]}" for move in machine.moves]
        lines += [f"    {names[state]} --> [*]" for state in machine.states if not machine.targets(state)]
        lines += ["```", "", "| from | to | what it demands |", "|---|---|---|"]
        for move in machine.moves:
            demands = "; ".join(guard.words for guard in move.guards) or "–"
            lines.append(f"| {move.before or '–'} | {move.after} | {demands} |")
        lines += ["", *(f"Computed: **{word}**: {meaning}." for word, meaning in machine.computed)]
    return "\n".join(lines) + "\n"


FIGURES_HEAD = """# The figures of the Monday page

Each stands on the page with this sentence, a count, and what it is counted among; below ten among them no share is
printed. This page is written by `tools/write_docs.py` from the definitions that are computed
(`planner/rules/figure_words.py`). No figure ranks people by money.

| figure | what it says |
|---|---|
"""


def figures_page() -> str:
    """docs/figures.md as text: every figure with its sentence."""
    return FIGURES_HEAD + "".join(f"| {one.name} | {one.sentence} |\n" for one in DEFINITIONS)


MATRIX_HEAD = """# Who may do what

One table decides (`planner/practice/access.py`). It is asked where things are loaded: what belongs to another office is
not found (404), an act that no role of a person allows is refused (403), and both stand in the record of acts. A person
with several roles may do what any of them may. This page is written by `tools/write_docs.py` from that table, and every
address of the program is tried in every role against it.

V view · C create · E edit a draft · A approve or sign · R run · – nothing

"""


def matrix_page() -> str:
    """docs/who-may-what.md as text: the table of roles, and the rules that no cell can say."""
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.config.settings")
    os.environ.setdefault("LEASTWAYS_PLAIN_HTTP", "1")
    django.setup()
    from planner.practice.access import BEYOND, IN_A_FILE, MATRIX, WHY, Act, Thing
    from planner.practice.roles import Role

    lines = [MATRIX_HEAD.rstrip("\n"), ""]
    lines.append("| thing | " + " | ".join(role.value for role in Role) + " |")
    lines.append("|---|" + "---|" * len(Role))
    for thing in Thing:
        cells = ("".join(act.value[0].upper() for act in Act if act in MATRIX[thing, role]) or "–" for role in Role)
        lines.append(f"| {thing.value} | " + " | ".join(cells) + " |")
    lines += ["", "## Rules beyond the table", ""]
    lines += [f"- {sentence} (`planner/{_file_of(where)}`)" for sentence, where in BEYOND]
    lines += ["", "## Why the table says so", ""]
    lines += [f"- {sentence}" for sentence in WHY]
    told = ", ".join(thing.value for thing in Thing if thing in IN_A_FILE)
    lines += ["", "## What stands in a patient's file", ""]
    lines += [f"Looking at a page about any of these is recorded as an opening of the file: {told}."]
    return "\n".join(lines) + "\n"


def _file_of(dotted: str) -> str:
    module, _dot, function = dotted.rpartition(".")
    return f"{module.replace('.', '/')}.py`, `{function}"


def documents() -> dict[str, str]:
    """Every written document: path below docs/ and its text."""
    return {
        "case.schema.json": json.dumps(case_schema(), indent=1, sort_keys=True, ensure_ascii=False) + "\n",
        "case-file.md": case_page(),
        "plan-file.md": plan_page(),
        "lifecycles.md": lifecycles_page(),
        "figures.md": figures_page(),
        "asvs.md": asvs_page(),
        "hipaa.md": hipaa_page(),
        "who-may-what.md": matrix_page(),
        "examples/lead.json": example_case(),
    }


if __name__ == "__main__":
    for name, text in documents().items():
        path = ROOT / "docs" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        print(f"docs/{name}")
