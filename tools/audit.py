"""Ask a public database of known faults about every pinned package: ``make audit``.

Ends with 0 when it answered for each of them and knows of none, 1 when there is a fault, 2 when no full answer came:
then nothing was found out, and that is said.
"""

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
LOCKS = ("requirements.lock", "requirements-dev.lock")
ASK = ("-m", "pip_audit", "--strict", "--disable-pip", "--require-hashes", "--format=json", "--progress-spinner=off")
"""Strict: a package that the database does not know counts as no answer, not as no fault."""


def audit(lock: str, command: Sequence[str]) -> tuple[int, list[str]]:
    """Exit status for one lock and the lines to print; ``command`` asks and answers in JSON."""
    done = subprocess.run([*command, "-r", lock], cwd=ROOT, capture_output=True, text=True, check=False)
    try:
        answer: dict[str, Any] = json.loads(done.stdout)
    except ValueError:
        why = (done.stderr.strip().splitlines() or ["it said nothing"])[-1][:300]
        return 2, [
            f"{lock}: no full answer, so nothing is known of its faults. Try again where there is a network.",
            why,
        ]
    faults = [
        f"{lock}: {package['name']} {package['version']} has {fault['id']}, mended in "
        f"{', '.join(fault['fix_versions']) or 'no version yet'}"
        for package in answer["dependencies"]
        for fault in package["vulns"]
    ]
    return (1, faults) if faults else (0, [f"{lock}: {len(answer['dependencies'])} packages, no known fault"])


def main() -> int:
    """Ask about both locks; the worst answer is the exit status."""
    worst = 0
    for lock in LOCKS:
        status, lines = audit(lock, (sys.executable, *ASK))
        print("\n".join(lines), flush=True)
        worst = max(worst, status)
    return worst


if __name__ == "__main__":
    sys.exit(main())
