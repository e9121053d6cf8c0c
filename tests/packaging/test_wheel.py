"""The wheel in a clean environment: installed by itself, run from elsewhere, with its page."""

from __future__ import annotations

import json
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def run(*command: object, cwd: Path, timeout: float = 240) -> str:
    done = subprocess.run(
        [str(one) for one in command], cwd=cwd, capture_output=True, text=True, timeout=timeout
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


@pytest.mark.timeout(400)
def test_the_wheel_works_in_a_clean_environment(built: Path, tmp_path: Path) -> None:
    (wheel,) = built.glob("*.whl")
    venv = tmp_path / "clean"
    run(sys.executable, "-m", "venv", venv, cwd=tmp_path)
    python = venv / "bin" / "python"
    lock = ROOT / "requirements.lock"
    run(python, "-m", "pip", "install", "-q", "--require-hashes", "-r", lock, cwd=tmp_path)
    run(python, "-m", "pip", "install", "-q", "--no-deps", wheel, cwd=tmp_path)
    run(python, "-m", "pip", "check", cwd=tmp_path)
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
