"""The page's own checks: types, and tests of what does not touch a page (run by Node)."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

WEB = Path(__file__).parents[2] / "web"


def build_hook() -> ModuleType:
    spec = importlib.util.spec_from_file_location("hatch_build", WEB / "hatch_build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["hatch_build"] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.timeout(400)
def test_the_page_checks_itself() -> None:
    npm, environment = build_hook().Page(WEB.parent).command()
    # npm leaves this file behind when it has put the packages there.
    mark = WEB / "node_modules" / ".package-lock.json"
    lock = WEB / "package-lock.json"
    if not mark.exists() or mark.stat().st_mtime < lock.stat().st_mtime:
        run([*npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"], environment)
    said = run([*npm, "run", "check"], environment)
    assert "fail 0" in said
    assert "pass 0" not in said


def run(command: list[str], environment: dict[str, str]) -> str:
    done = subprocess.run(
        command, cwd=WEB, env=environment, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, (done.stdout + done.stderr)[-4000:]
    return done.stdout
