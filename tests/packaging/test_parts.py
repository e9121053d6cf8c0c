"""What weighd is made of: listed whole, under licences that are allowed, in a valid form."""

from __future__ import annotations

import importlib.metadata
import json
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]
PACKAGING = ROOT / "packaging"


@pytest.fixture
def parts(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(PACKAGING))
    return importlib.import_module("parts")


def test_every_part_is_under_a_licence_that_is_allowed(parts: ModuleType) -> None:
    found = [*parts.python_parts(), *parts.page_parts()]
    assert len(found) > 40
    assert {one.name for one in found} >= {"fastapi", "psycopg", "pyserial", "preact", "uplot"}
    assert [one for one in found if not parts.allowed(one.licence)] == []


@pytest.mark.parametrize(
    ("expression", "may"),
    [
        ("MIT", True),
        ("EPL-2.0 OR BSD-3-Clause", True),
        ("BSD-3-Clause AND 0BSD AND (MIT)", True),
        ("MIT AND GPL-3.0-only", False),
        ("AGPL-3.0-only", False),
        ("GPL-2.0-only OR SSPL-1.0", False),
        ("", False),
    ],
)
def test_a_licence_counts_as_spdx_has_it(parts: ModuleType, expression: str, may: bool) -> None:
    assert parts.allowed(expression) is may


def test_what_states_no_licence_is_refused(parts: ModuleType, tmp_path: Path) -> None:
    folder = tmp_path / "x-1.dist-info"
    folder.mkdir()
    for said in (
        "",
        "License: Proprietary\n",
        "Classifier: License :: OSI Approved :: BSD License\n",
    ):
        (folder / "METADATA").write_text(f"Metadata-Version: 2.1\nName: x\nVersion: 1\n{said}\n")
        with pytest.raises(parts.LicenceError, match="x 1"):
            parts.licence_of(importlib.metadata.PathDistribution(folder))
    lock = tmp_path / "lock.json"
    lock.write_text('{"packages": {"node_modules/y": {"version": "2"}}}')
    with pytest.raises(parts.LicenceError, match="y 2"):
        parts.page_parts(lock)


def test_what_is_stated_here_of_a_licence_stands_in_its_own_file(parts: ModuleType) -> None:
    for name, said in parts.STATED.items():
        one = importlib.metadata.distribution(name)
        texts = [
            Path(str(one.locate_file(file))).read_text("utf-8", errors="replace")
            for file in one.files or ()
            if re.search(r"licen[cs]e|copying", file.name, re.IGNORECASE)
            and ".dist-info" in str(file)
        ]
        if said == "BSD-3-Clause" and texts:  # some wheels bring no file
            assert any(re.search(r"[Nn]either the name", text) for text in texts), name
        if said == "LicenseRef-matplotlib":
            said_so = [*texts, str(one.metadata.get("License"))]
            assert any("License agreement for matplotlib" in text for text in said_so)


def test_the_page_of_licences_is_written_from_what_is_installed(parts: ModuleType) -> None:
    kept = (ROOT / "docs" / "reference" / "licences.md").read_text("utf-8")
    assert kept == parts.page_of(parts.python_parts(), parts.page_parts()), "make sbom writes it"


def test_what_is_listed_is_what_the_package_is_locked_to(parts: ModuleType) -> None:
    lock = (PACKAGING / "requirements.lock").read_text("utf-8")
    locked = dict(re.findall(r"^([\w.-]+)==(\S+)", lock, re.MULTILINE))
    assert {one.name: one.version for one in parts.python_parts()} == {
        parts.plain(name): version for name, version in locked.items()
    }


def test_the_list_for_programs_is_what_cyclonedx_asks_for(tmp_path: Path) -> None:
    pytest.importorskip("cyclonedx", reason="make test installs it")
    out, again = tmp_path / "one.json", tmp_path / "two.json"
    for one in (out, again):
        # It is held to the schema that comes with the library before it is written.
        command = [sys.executable, str(PACKAGING / "sbom.py"), str(one)]
        done = subprocess.run(command, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
    assert out.read_bytes() == again.read_bytes()
    bill = json.loads(out.read_text("utf-8"))
    assert (bill["bomFormat"], bill["specVersion"]) == ("CycloneDX", "1.6")
    purls = {one["purl"] for one in bill["components"]}
    assert any(one.startswith("pkg:pypi/fastapi@") for one in purls)
    assert any(one.startswith("pkg:npm/preact@") for one in purls)
    assert all(one["licenses"] for one in bill["components"])
    needs = {one["ref"]: one.get("dependsOn", []) for one in bill["dependencies"]}
    assert set(needs["weighd"]) == purls
