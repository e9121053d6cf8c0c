"""Every package is pinned with its hash and comes by name; ``make audit`` asks about each."""

from __future__ import annotations

import importlib.util
import json
import os
import re
import subprocess
import tomllib
from importlib.metadata import distributions
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
LOCKS = [
    *sorted(ROOT.glob("requirements*.lock")),
    *sorted((ROOT / "packaging").glob("requirements*.lock")),
]
_PINNED = re.compile(
    r"^([A-Za-z0-9][A-Za-z0-9._-]*)(?:\[[^]]+\])?==([A-Za-z0-9.!+]+)(?: ;[^\\]*)?$"
)
_HASH = re.compile(r"--hash=sha256:[0-9a-f]{64}")


def plain(name: str) -> str:
    """A name as packages are compared by it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def packages(lock: Path) -> dict[str, list[str]]:
    """Each package of a lock file with its hashes. Fails for a line of any other kind."""
    out: dict[str, list[str]] = {}
    text = re.sub(r"^\s*#.*\n?", "", lock.read_text("utf-8"), flags=re.MULTILINE)
    for entry in text.replace("\\\n", " ").splitlines():
        head, *rest = re.split(r"\s+(?=--hash=)", entry.strip())
        if not head:
            continue
        found = _PINNED.match(head.strip())
        assert found, f"{lock.name}: {head!r} is not NAME==VERSION"
        assert rest, f"{lock.name}: {head} has no hash"
        assert all(_HASH.fullmatch(one.strip()) for one in rest), (lock.name, head)
        assert plain(found[1]) not in out, f"{lock.name}: {found[1]} stands there twice"
        out[plain(found[1])] = rest
    return out


def test_every_python_package_has_a_version_and_its_hashes() -> None:
    assert len(LOCKS) >= 3
    for lock in LOCKS:
        assert len(packages(lock)) > 20, lock


def test_the_locks_hold_what_the_project_needs() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    needed = {plain(re.split(r"[^A-Za-z0-9._-]", one)[0]) for one in project["dependencies"]}
    for lock in LOCKS:
        if lock.name != "requirements-docs.lock":
            assert needed <= set(packages(lock)), lock
    tests = project["optional-dependencies"]["test"]
    also = {
        plain(re.split(r"[^A-Za-z0-9._-]", one)[0]) for one in tests if "platform_" not in one
    } - {"weighd"}
    assert also <= set(packages(ROOT / "requirements-test.lock"))


def test_everything_is_installed_by_hash() -> None:
    """pip takes nothing that a lock does not name, and no hash but those in it."""
    for file in (ROOT / "Makefile", *sorted((ROOT / "packaging").glob("*.py"))):
        for line in file.read_text("utf-8").splitlines():
            if re.search(r"pip install\b", line) and ".lock" in line:
                assert "--require-hashes" in line, (file, line)


@pytest.mark.skipif(
    os.environ.get("WEIGHD_REQUIRE_SERVERS") != "1",
    reason="another environment may hold more",
)
def test_nothing_is_installed_beside_the_lock() -> None:
    known = set(packages(ROOT / "requirements-test.lock"))
    found = {plain(one.metadata["Name"]) for one in distributions()}
    assert found - known <= {"weighd", "pip", "setuptools", "wheel"}


def test_every_package_of_the_page_has_its_hash() -> None:
    lock = json.loads((ROOT / "web" / "package-lock.json").read_text("utf-8"))
    parts = {name: one for name, one in lock["packages"].items() if name}
    assert len(parts) > 20
    for name, one in parts.items():
        assert one.get("integrity", "").startswith("sha512-"), name
        assert re.fullmatch(r"\d+\.\d+\.\d+(-[\w.]+)?", one["version"]), name
        assert not one.get("link"), name
    wanted = json.loads((ROOT / "web" / "package.json").read_text("utf-8"))
    for kind in ("dependencies", "devDependencies"):
        for name, version in wanted[kind].items():
            assert re.fullmatch(r"\d+\.\d+\.\d+", version), (name, version)


# --- make audit -------------------------------------------------------------------------------


@pytest.fixture
def audit() -> Any:
    spec = importlib.util.spec_from_file_location("audit", ROOT / "packaging" / "audit.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def answers(audit: Any, python: object, page: object, monkeypatch: pytest.MonkeyPatch) -> int:
    """The end of an audit whose services answer so."""

    def run(command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        told = page if command[0] == "npm" else python
        if isinstance(told, Exception):
            raise told
        return subprocess.CompletedProcess(command, 0, json.dumps(told), "")

    monkeypatch.setattr(audit.subprocess, "run", run)
    monkeypatch.setattr(audit, "pinned", lambda _: 1)
    return int(audit.main())


def test_what_could_not_be_asked_is_no_good_news(
    audit: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert audit.pinned(ROOT / "requirements.lock") == len(packages(ROOT / "requirements.lock"))
    one = {"name": "fastapi", "version": "1"}
    fine = {"dependencies": [{**one, "vulns": []}]}
    hole = {"dependencies": [{**one, "vulns": [{"id": "CVE-1", "fix_versions": ["2"]}]}]}
    skipped = {"dependencies": [{**one, "skip_reason": "not found"}]}
    page = {"vulnerabilities": {}}
    assert answers(audit, fine, page, monkeypatch) == 0
    assert answers(audit, hole, page, monkeypatch) == 1
    assert "CVE-1, mended in 2" in capsys.readouterr().out
    assert answers(audit, fine, {"vulnerabilities": {"x": {"severity": "high"}}}, monkeypatch) == 1
    for python, npm in (
        (skipped, page),  # pip-audit itself ends well with this
        (OSError(), page),
        (fine, {"error": "not allowed"}),
        (fine, FileNotFoundError()),
    ):
        capsys.readouterr()
        assert answers(audit, python, npm, monkeypatch) == 3
        assert "NOT ALL WAS ASKED" in capsys.readouterr().out
