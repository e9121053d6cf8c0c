"""``make audit``: whether a hole is known of any package that a lock file pins.

Asks pip-audit for Python's packages and npm for the page's; both need a service that knows holes.
What could not be asked is said, and is no good news. Ends with 0 where all was asked and nothing is
known, 1 where something is, and 3 where something could not be asked.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
LOCKS = ("requirements.lock", "requirements-test.lock", "packaging/requirements.lock")
ASK_S = 300


def pinned(lock: Path) -> int:
    """How many packages a lock file names."""
    return len(
        re.findall(r"^[A-Za-z0-9._-]+(?:\[[^]]*\])?==", lock.read_text("utf-8"), re.MULTILINE)
    )


def of_python(lock: Path) -> tuple[int, list[str]]:
    """How many of its packages could be asked about, and what is known of them."""
    command = [sys.executable, "-m", "pip_audit", "--disable-pip", "--require-hashes"]
    command += ["--progress-spinner", "off", "--format", "json", "--requirement", str(lock)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=ASK_S, check=False)
        told: Any = json.loads(done.stdout)["dependencies"]
    except (OSError, ValueError, KeyError, TypeError, subprocess.TimeoutExpired):
        return 0, []
    asked = [one for one in told if "vulns" in one and "skip_reason" not in one]
    known = [
        f"{one['name']} {one['version']}: {hole['id']}, mended in "
        f"{', '.join(hole.get('fix_versions') or ()) or 'no release yet'}"
        for one in asked
        for hole in one["vulns"]
    ]
    return len(asked), known


def of_the_page() -> tuple[int, list[str]]:
    """The same for the page's packages."""
    lock = json.loads((ROOT / "web" / "package-lock.json").read_text("utf-8"))
    try:
        done = subprocess.run(
            ["npm", "audit", "--json", "--package-lock-only"],
            cwd=ROOT / "web",
            capture_output=True,
            text=True,
            timeout=ASK_S,
            check=False,
        )
        told = json.loads(done.stdout)
        known = [f"{name}: {it['severity']}" for name, it in told["vulnerabilities"].items()]
    except (OSError, ValueError, KeyError, TypeError, subprocess.TimeoutExpired):
        return 0, []
    return len(lock["packages"]) - 1, known


def main() -> int:
    """Ask, and say what came of it."""
    found = [(name, pinned(ROOT / name), *of_python(ROOT / name)) for name in LOCKS]
    page = json.loads((ROOT / "web" / "package-lock.json").read_text("utf-8"))
    found.append(("web/package-lock.json", len(page["packages"]) - 1, *of_the_page()))
    for name, there, asked, known in found:
        print(f"{name}: asked about {asked} of {there} packages, {len(known)} known holes")
        for one in known:
            print(f"  {one}")
    if any(known for *_, known in found):
        return 1
    if any(asked < there for _, there, asked, _ in found):
        print(
            "NOT ALL WAS ASKED: who knows of holes could not be reached, or does not know "
            "these packages. That nothing was found says nothing."
        )
        return 3
    return 0


if __name__ == "__main__":
    sys.exit(main())
