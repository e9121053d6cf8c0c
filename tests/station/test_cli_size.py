"""``weighd size``, and sizes in words wherever a batch size is given."""

from __future__ import annotations

import json
import shutil
from decimal import Decimal
from pathlib import Path

import pytest

from tests.forked import run

ROOT = Path(__file__).parents[2]
SCALES = """
[scales.bench]
max_g = "6000"
interval_g = "1"
port = "/dev/nowhere"
[scales.fine]
driver = "usb"
max_g = "300"
interval_g = "0.01"
"""


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    for one in (ROOT / "weighd/data/formulas").glob("*.toml"):
        shutil.copy(one, tmp_path)
    (tmp_path / "weighd.toml").write_text(SCALES)
    return tmp_path


def test_a_volume_at_an_overrun(kitchen: Path) -> None:
    file = kitchen / "hazelnut-gelato.toml"
    done = run("size", file, "3 L at 30 %", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    out = json.loads(done.stdout)
    grams = out["size"]["batch_g"]
    assert out["size"]["by"] == "volume"
    # Composed at that size with that overrun it is that volume again.
    again = json.loads(run("compose", file, "--yield-g", grams, "--overrun", "30").stdout)
    assert float(again["product"]["volume_ml"]["value"]) == pytest.approx(3000, abs=0.2)
    same = json.loads(run("compose", file, "--size", "3 L at 30 %").stdout)
    assert Decimal(same["mass_g"]) == Decimal(again["mass_g"])


def test_rounding_to_the_scales_of_the_plan_is_shown_in_the_mix(kitchen: Path) -> None:
    file = kitchen / "hazelnut-gelato.toml"
    args = ("size", file, "41 servings of 77 g", "--round", "--config", kitchen / "weighd.toml")
    out = json.loads(run(*args, "--json").stdout)
    steps = {"bench": 1, "fine": Decimal("0.01")}
    assert {one["scale"] for one in out["amounts"]} == {"bench", "fine"}
    for one in out["amounts"]:
        exact, target = Decimal(one["exact_g"]), Decimal(one["target_g"])
        assert one["kept"] or target % steps[one["scale"]] == 0
        # No more than a quarter of the narrower side of the tolerance.
        room = min(target - Decimal(one["low_g"]), Decimal(one["high_g"]) - target)
        assert abs(exact - target) <= room / 4 + Decimal("0.01")
    [fat] = [one for one in out["composition"] if one["of"] == "fat"]
    assert Decimal(fat["rounded"]) - Decimal(fat["exact"]) == Decimal(fat["difference"])
    told = run(*args).stdout
    assert "41 servings of 77 g: 3157 g" in told
    assert "on bench, steps of 1 g" in told
    assert "freezing point" in told


def test_a_plan_at_a_size_and_rounded(kitchen: Path) -> None:
    file, config = kitchen / "hazelnut-gelato.toml", kitchen / "weighd.toml"
    plan = ("plan", file, "--config", config, "--size", "hazelnut-paste=300 g", "--json")
    exact = json.loads(run(*plan).stdout)
    rounded = json.loads(run(*plan, "--round").stdout)
    paste = [one for one in exact["weighings"] if one["name"] == "Hazelnut paste"]
    assert sum(Decimal(one["target_g"]) for one in paste) <= 300
    assert all(
        Decimal(one["target_g"]) % 1 == 0
        for one in rounded["weighings"]
        if one["scale"] == "bench" and one["role"] == "whole"
    )


@pytest.mark.parametrize(
    ("size", "said"),
    [
        ("lots", "is no size"),
        ("NaN kg", "is no size"),
        ("0 L", "cannot be made"),
        ("unicorn=3 g", 'has no "unicorn"'),
        ("1 g", "would be"),
    ],
)
def test_bad_sizes_are_sentences(kitchen: Path, size: str, said: str) -> None:
    done = run("size", kitchen / "hazelnut-gelato.toml", size)
    assert done.returncode == 2
    assert said in done.stderr


def test_a_mass_and_a_size_are_one_too_many(kitchen: Path) -> None:
    done = run("plan", kitchen / "lemon-sorbet.toml", "--yield-g", "900", "--size", "1 L",
               "--config", kitchen / "weighd.toml")  # fmt: skip
    assert done.returncode == 2
    assert "both given" in done.stderr
