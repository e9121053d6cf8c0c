"""``weighd plan``: the weighing plan on the configured scales, in words and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.forked import run
from tests.station.daemon import FORMULA

SCALES = """
[scales.bench]
max_g = "6000"
interval_g = "1"
port = "/dev/nowhere"
[scales.fine]
driver = "usb"
max_g = "300"
interval_g = "0.01"
[plan]
bowl_g = 812
dish_g = 61
dish_holds_g = 200
"""


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    file, config = tmp_path / "test-ice.toml", tmp_path / "scales.toml"
    file.write_text(FORMULA)
    config.write_text(SCALES)
    return file, config


def test_the_plan_is_told_in_words(files: tuple[Path, Path]) -> None:
    file, config = files
    done = run("plan", file, "--config", config)
    assert (done.returncode, done.stderr) == (0, "")
    told = done.stdout.splitlines()
    assert told[0] == "1. Set the bowl on bench and tare it."
    assert "on fine" in done.stdout
    assert told[-2].endswith("Tip the dish into the bowl and scrape it out.")
    assert told[-1].endswith("3 moves of the hands besides.")


def test_and_as_json(files: tuple[Path, Path]) -> None:
    file, config = files
    plan = json.loads(run("plan", file, "--config", config, "--json").stdout)
    assert (plan["moves"], plan["unfit"], plan["plain"]) == (3, 0, False)
    assert plan["vessels"] == {"bowl_g": "812", "dish_g": "61", "dish_holds_g": "200"}
    assert [one["do"] for one in plan["acts"]][:2] == ["set down", "weigh"]
    assert {one["scale"] for one in plan["weighings"]} == {"bench", "fine"}
    assert plan["text"][0].startswith("1. ")


def test_a_larger_batch_is_split(files: tuple[Path, Path]) -> None:
    file, config = files
    done = run("plan", file, "--config", config, "--yield-g", "9000", "--dish-holds-g", "2500")
    assert done.returncode == 0
    assert "Weigh about" in done.stdout
    assert "Weigh the rest of" in done.stdout


def test_what_nothing_can_judge_ends_with_1_and_says_what_would_do(
    files: tuple[Path, Path],
) -> None:
    file, config = files
    config.write_text(SCALES.partition("[scales.fine]")[0])
    done = run("plan", file, "--config", config)
    assert done.returncode == 1
    assert "No scale here can judge" in done.stdout
    assert "a scale with an interval of" in done.stdout
    assert "a tolerance of" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--bowl-g", "heavy"], "no mass of the bowl"),
        (["--dish-g", "-3"], "no mass of the dish"),
        (["--yield-g", "0"], "cannot be made"),
        (["--yield-g", "1e3"], "not a batch size"),
        (["--yield-g", "900000"], "more than any scale here can weigh"),
    ],
)
def test_bad_input_is_told(files: tuple[Path, Path], arguments: list[str], says: str) -> None:
    file, config = files
    done = run("plan", file, "--config", config, *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr


def test_scales_of_unknown_interval_are_named(files: tuple[Path, Path]) -> None:
    file, config = files
    config.write_text('[scales.bench]\nport = "/dev/nowhere"\n')
    done = run("plan", file, "--config", config)
    assert done.returncode == 2
    assert "line 1, scales.bench" in done.stderr
    assert "has no interval_g" in done.stderr
    config.write_text("")
    assert "No scale can be planned with" in run("plan", file, "--config", config).stderr


def test_the_demonstration_weighs_by_the_plan_on_two_scales(tmp_path: Path) -> None:
    record = tmp_path / "record.json"
    done = run(
        *("demo", "--once", "--two-scales", "--speed", "30", "--port", "0"),
        *("--formula", "blackcurrant-buttermilk-sherbet", "--batch-g", "1200"),
    )
    assert done.returncode == 0, done.stderr
    record.write_text(done.stdout)
    entries = json.loads(done.stdout)["entries"]
    used = {one["body"]["scale"] for one in entries if one["kind"] == "addition accepted"}
    assert used == {"bench", "fine"}
    assert entries[0]["body"]["plan"]["moves"] == 3
    assert run("verify", record).returncode == 0
