"""The wheel in an environment of its own: installed by itself, run from elsewhere, with its page.

Its dependencies are those of the environment that runs the tests, seen from there; that each is
declared is checked by what the wheel imports. What is no longer tried: that an index hands out
what requirements.lock names (``make`` itself installs from there), and that nothing else is needed
by a dependency of a dependency (``pip check`` tells that of the environment of the tests).
"""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import zipfile
from collections.abc import Iterator
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, packages_distributions, requires
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def run(*command: object, cwd: Path, timeout: float = 240) -> str:
    env = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        [str(one) for one in command],
        cwd=cwd,
        env=env,
        capture_output=True,
        text=True,
        timeout=timeout,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return done.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An sdist of the checkout and the wheel made from it, as a release makes them."""
    out = tmp_path_factory.mktemp("built")
    run(sys.executable, "-m", "build", "--outdir", out, ROOT, cwd=out)
    return out


@pytest.mark.timeout(400)
def test_sdist_and_wheel_hold_what_they_should(built: Path) -> None:
    (sdist,), (wheel,) = built.glob("*.tar.gz"), built.glob("*.whl")
    with tarfile.open(sdist) as archive:
        names = [name.partition("/")[2] for name in archive.getnames()]
    assert "web/weighd_web/dist/index.html" in names
    assert not [name for name in names if "node_modules" in name or name.startswith(".venv")]
    with zipfile.ZipFile(wheel) as archive:
        held = set(archive.namelist())
    for needed in (
        "weighd_web/dist/index.html",
        "weighd_web/dist/THIRD-PARTY.txt",
        "weighd/py.typed",
        "weighd_drivers/py.typed",
        "weighd/data/formulas/lemon-sorbet.toml",
        "weighd/data/record.schema.json",
        "weighd/reports/sheet.typ",
        "weighd/storage/migrations/env.py",
    ):
        assert needed in held, needed
    assert {name.split("/")[0] for name in held} - {"weighd", "weighd_drivers", "weighd_web"} == {
        f"weighd-{wheel.name.split('-')[1]}.dist-info"
    }
    assert any(name.endswith("licenses/LICENSE") for name in held)


def imported(tree: ast.Module) -> Iterator[str]:
    """The top-level names that a module imports, anywhere in it."""
    for one in ast.walk(tree):
        if isinstance(one, ast.Import):
            yield from (name.name.partition(".")[0] for name in one.names)
        elif isinstance(one, ast.ImportFrom) and one.level == 0:
            yield (one.module or "").partition(".")[0]


def plain(name: str) -> str:
    """A distribution's name as it is compared (PyPA: Names and normalization, from memory)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def required(lines: list[str]) -> set[str]:
    """The distributions that such lines of metadata ask for, but for those of the tests."""
    asked = [one.removeprefix("Requires-Dist: ") for one in lines]
    kept = [one for one in asked if not re.search(r"extra == .(test|fuzz|dev|docs)", one)]
    return {plain(re.split(r"[^\w.-]", one)[0]) for one in kept}


def test_the_wheel_declares_what_it_imports(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        found = {
            name
            for file in names
            if file.endswith(".py")
            for name in imported(ast.parse(archive.read(file)))
        }
        (metadata,) = (name for name in names if name.endswith(".dist-info/METADATA"))
        said = archive.read(metadata).decode()
    declared = required([line for line in said.splitlines() if line.startswith("Requires-Dist: ")])
    assert len(declared) > 5
    # What comes with one of them for certain may be imported too (numpy with scipy, say).
    todo = list(declared)
    while todo:
        with suppress(PackageNotFoundError):
            more = required(requires(todo.pop()) or []) - declared
            declared |= more
            todo += more
    foreign = found - sys.stdlib_module_names - {"weighd", "weighd_drivers", "weighd_web"}
    assert len(foreign) > 5
    given_by = packages_distributions()
    missing = {
        name for name in foreign if declared.isdisjoint(map(plain, given_by.get(name, [name])))
    }
    assert not missing, "the wheel imports what it does not require"


@pytest.mark.timeout(400)
def test_the_wheel_works_in_an_environment_of_its_own(built: Path, tmp_path: Path) -> None:
    (wheel,) = built.glob("*.whl")
    venv = tmp_path / "clean"
    run(sys.executable, "-m", "venv", "--without-pip", venv, cwd=tmp_path)
    python = venv / "bin" / "python"
    pip = (sys.executable, "-m", "pip", "--python", python, "install", "-q", "--no-compile")
    run(*pip, "--no-deps", "--no-index", wheel, cwd=tmp_path)
    (place,) = venv.glob("lib/*/site-packages")
    # Only the folder: what is installed there as editable has a file of its own, which is not read.
    (place / "dependencies.pth").write_text(sysconfig.get_path("purelib") + "\n", "utf-8")
    where = run(python, "-c", "import weighd; print(weighd.__file__)", cwd=tmp_path)
    assert Path(where.strip()).is_relative_to(place)
    weighd = venv / "bin" / "weighd"
    assert "weighd" in run(weighd, "--version", cwd=Path("/"))
    record = run(
        weighd, "demo", "--once", "--speed", "40", "--formula", "lemon-sorbet", cwd=tmp_path
    )
    kept = tmp_path / "record.json"
    kept.write_text(record, "utf-8")
    assert json.loads(record)["entries"][-1]["kind"] == "batch closed"
    assert "The record holds" in run(weighd, "verify", kept, cwd=tmp_path)
    run(weighd, "export", kept, "--format", "pdf", "--out", "sheet.pdf", cwd=tmp_path)
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF-")
    found = run(
        python,
        "-c",
        "from weighd.main.daemon import page; print((page() / 'index.html').is_file())",
        cwd=tmp_path,
    )
    assert found.strip() == "True"
