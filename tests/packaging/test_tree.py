"""The shape of the tree: nothing grows too long, nothing is named vaguely, nothing leaks."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LONGEST = 400
VAGUE = {"utils", "util", "helpers", "common", "manager", "service", "handler", "base", "misc"}


def tracked(*endings: str) -> list[Path]:
    if not (ROOT / ".git").exists():
        pytest.skip("not a checkout")
    names = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split("\n")
    files = [ROOT / one for one in names if one.endswith(endings)]
    return [one for one in files if one.is_file()]


def test_no_module_is_too_long() -> None:
    files = tracked(".py", ".ts", ".tsx", ".css")
    assert len(files) > 50
    long = {
        str(one.relative_to(ROOT)): count
        for one in files
        if (count := len(one.read_text("utf-8").splitlines())) > LONGEST
    }
    assert not long


def test_no_module_or_class_has_a_vague_name() -> None:
    for file in tracked(".py"):
        assert file.stem not in VAGUE, file
        for name in re.findall(r"^class (\w+)", file.read_text("utf-8"), re.MULTILINE):
            assert name.lower() not in VAGUE, (file, name)


def test_lock_files_name_no_host() -> None:
    """Dependencies come by name: where from is the business of whoever installs."""
    locks = [*tracked(".lock"), *tracked("package-lock.json")]
    assert len(locks) == 5
    for lock in locks:
        text = lock.read_text("utf-8")
        assert "resolved" not in text, lock
        assert "index-url" not in text, lock


def test_the_readme_has_the_job_and_the_two_commands_at_its_top() -> None:
    top = (ROOT / "README.md").read_text("utf-8")[:2500]
    assert top.index("weighing station") < top.index("make demo") < top.index("make test")
    assert "not a legal-for-trade" in top


def test_every_benchmark_can_be_loaded() -> None:
    """Nobody runs them with the tests: what they call may be gone, and nothing would say so."""
    program = (
        "import importlib, sys\n"
        "sys.path.insert(0, '.')\n"
        "for name in sys.argv[1:]: importlib.import_module(name)"
    )
    names = sorted(one.stem for one in (ROOT / "benchmarks").glob("*.py"))
    if find_spec("mutmut") is None:  # in no lock: `make mutants` brings it
        names = [one for one in names if not one.startswith("mutants")]
    assert len(names) > 10
    done = subprocess.run(
        [sys.executable, "-c", program, *names],
        cwd=ROOT / "benchmarks",
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert done.returncode == 0, done.stderr
