"""``weighd vessels``: the list, typed in, weighed on a scale at a real pty, and forgotten."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from tests.forked import WEIGHD, run
from tests.pty_scale import PtyScale
from tests.station.daemon import QUICK

CONFIG = """
[station]
name = "kitchen"
data = "data"
[vessels."steel bowl"]
mass_g = "812.4"
u_g = 0.05
"""


@pytest.fixture
def config(tmp_path: Path) -> Path:
    file = tmp_path / "weighd.toml"
    file.write_text(CONFIG)
    return file


def test_they_are_listed_typed_in_and_forgotten(config: Path) -> None:
    listed = run("vessels", "--config", config)
    assert (listed.returncode, listed.stdout) == (0, "steel bowl: 812.4 g, u 0.05 g; configured\n")
    kept = run("vessels", "--config", config, "--weigh", "pot", "--mass", "640.5", "--allow", "2")
    assert (kept.returncode, kept.stdout) == (0, "pot: 640.5 g.\n")
    told = run("vessels", "--config", config).stdout.splitlines()
    assert told[0].startswith("pot: 640.5 g; allow 2 g; typed in, 20")
    assert run("vessels", "--config", config, "--forget", "pot").stdout == "Forgotten: pot.\n"
    assert len(run("vessels", "--config", config).stdout.splitlines()) == 1


def test_what_cannot_be_used_is_told(config: Path) -> None:
    for arguments, said in (
        (["--forget", "none"], 'No vessel is called "none"'),
        (["--forget", "steel bowl"], "stands in the configuration"),
        (["--weigh", "pot", "--mass", "heavy"], '"heavy" is no mass'),
        (["--weigh", "steel bowl", "--mass", "5"], "stands in the configuration"),
        (["--weigh", "pot"], "No scale is configured"),
        (["--mass", "5"], "belongs to --weigh NAME"),
        (["--forget", "pot", "--by", "Ada"], "belongs to --weigh NAME"),
        (["--weigh", "pot", "--scale", "cellar"], 'No scale is called "cellar"'),
    ):
        done = run("vessels", "--config", config, *arguments)
        assert (done.returncode, done.stdout) == (2, ""), arguments
        assert said in done.stderr


def test_one_is_weighed_on_a_scale(config: Path, tmp_path: Path) -> None:
    with PtyScale(tmp_path / "scale", QUICK) as scale:
        config.write_text(
            CONFIG + f"\n[scales.bench]\nport = '{tmp_path / 'scale'}'\ninterval_g = '0.1'\n"
        )
        asked = subprocess.Popen(
            [str(WEIGHD), "vessels", "--config", str(config), "--weigh", "pot"],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert asked.stdout is not None
        try:
            assert asked.stdout.readline() == "Take everything off the scale bench.\n"
            assert asked.stdout.readline() == "Set pot on it, empty and dry.\n"
            scale.bench.vessel(640.5)
            assert asked.stdout.readline() == "pot: 640.5 g, u 0.040826 g.\n"
            assert asked.wait(20) == 0
        finally:
            asked.kill()
            asked.stdout.close()
    told = run("vessels", "--config", config).stdout.splitlines()
    assert told[0].startswith("pot: 640.5 g, u 0.040826 g; bench, 20")
