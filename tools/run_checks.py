"""Everything that can be checked without running the program: style, types, floors, migrations, templates, evidence."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent

CHECKS = [
    ("format", [str(BIN / "ruff"), "format", "--check", "--quiet", "."]),
    ("lint", [str(BIN / "ruff"), "check", "--quiet", "."]),
    ("types", [str(BIN / "mypy"), "planner", "tools"]),
    ("floors", [str(BIN / "lint-imports"), "--no-cache"]),
    ("settings", [sys.executable, "manage.py", "check", "--fail-level", "WARNING"]),
    ("migrations", [sys.executable, "manage.py", "makemigrations", "--check", "--dry-run"]),
    ("templates", [sys.executable, "manage.py", "check_templates"]),
    ("evidence", [sys.executable, "-m", "planner.rules.register"]),
    ("packages", [str(BIN / "uv"), "pip", "check", "--quiet"]),
]


def main() -> int:
    failed = []
    for name, command in CHECKS:
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, env={**os.environ}, check=False)
        print(f"{'ok    ' if done.returncode == 0 else 'FAILED'} {name}", flush=True)
        if done.returncode:
            print(done.stdout + done.stderr)
            failed.append(name)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
