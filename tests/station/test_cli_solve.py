"""``weighd solve``: from the command line to amounts, and to what cannot be."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from tests.domain.published import CHECKS
from tests.forked import run
from weighd.main.files import read_formula_file

ROOT = Path(__file__).parents[2]
GUELPH_3 = """\
[ingredients.cream]
name = "Cream, 30 %"
[ingredients.cream.composition]
water = 63.7
fat = 30
msnf = 6.3
[ingredients.milk]
name = "Milk, 3.5 %"
[ingredients.milk.composition]
water = 87.815
fat = 3.5
msnf = 8.685
[ingredients.powder]
name = "Skim milk powder"
[ingredients.powder.composition]
water = 3
msnf = 97
[ingredients.sugar]
name = "Sugar"
[ingredients.sugar.composition]
sugars = { sucrose = 100 }
[ingredients.stabiliser]
name = "Stabiliser"
[ingredients.stabiliser.composition]
stabiliser = 100
[ingredients.yolk]
name = "Egg yolk"
[ingredients.yolk.composition]
other_solids = 100
"""
WANTED = """\
use = ["cream", "milk", "powder", "sugar", "stabiliser", "yolk"]
batch_g = 100
aim = "middle"
[targets]
fat = 18
msnf = "9.5"
sugars.sucrose = 15
stabiliser = 0.4
yolk = "1 g"
"""


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    for one in (ROOT / "weighd/data/formulas").glob("*.toml"):
        shutil.copy(one, tmp_path)
    return tmp_path


def test_a_published_problem_out_of_two_files(tmp_path: Path) -> None:
    """Goff, Univ. of Guelph, mix problem 3 (html/1712): the algebraic method."""
    (tmp_path / "ingredients.toml").write_text(GUELPH_3)
    (tmp_path / "wanted.toml").write_text(WANTED)
    done = run("solve", tmp_path / "ingredients.toml", "--targets", tmp_path / "wanted.toml")
    assert (done.returncode, done.stderr) == (0, "")
    out = json.loads(done.stdout)
    got = {one["ingredient"]: float(one["grams"]) for one in out["amounts"]}
    row = CHECKS["guelph_problem_3_algebraic_full"]
    for name in ("cream", "milk"):
        assert got[name] == pytest.approx(row["expected"][f"{name}_kg"], abs=0.01), row["source"]
    assert got["powder"] == pytest.approx(row["expected"]["smp_kg"], abs=0.01), row["source"]
    assert out["met"] is True
    assert out["conflict"] is None
    assert out["composition"]["parts"]["fat"]["percent"] == out["targets"][0]["value"]


def test_a_formula_is_brought_to_its_targets_and_saved(kitchen: Path) -> None:
    new = kitchen / "lighter-gelato.toml"
    done = run(
        "solve", kitchen / "hazelnut-gelato.toml", "fat=9", "freezing_point=-2.6±0.02",
        "hazelnut-paste=224 g", "--class", "gelato", "--save", new,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    out = json.loads(done.stdout)
    assert all(one["met"] for one in out["targets"])
    assert {"source": "McGee, On Food and Cooking"}.items() <= next(
        one for one in out["targets"] if one["of"] == ["msnf"]
    ).items()
    assert [one["ingredient"] for one in out["amounts"] if one["kept"]] == ["stabiliser", "salt"]
    composed = json.loads(run("compose", new).stdout)
    assert composed["parts"]["fat"]["percent"] == "9.000"
    assert -2.62 <= float(composed["freezing"]["begins_c"]) <= -2.58
    saved = read_formula_file(new)
    assert [one.carrier for one in saved.additions if one.carrier] == ["sucrose"]
    again = run("solve", kitchen / "hazelnut-gelato.toml", "fat=9", "--save", new)
    assert again.returncode == 2
    assert "It is there already." in again.stderr
    assert read_formula_file(new) == saved


def test_what_fights_is_told_with_the_nearest_miss(kitchen: Path) -> None:
    done = run(
        "solve", kitchen / "hazelnut-gelato.toml", "fat=at least 12", "cream<=100 g",
        "hazelnut-paste=224 g", "--yield-g", "2000", "--text",
    )  # fmt: skip
    assert done.returncode == 1
    [told] = [one for one in done.stdout.splitlines() if "cannot all be" in one]
    assert told.startswith("Fat at least 12 %, no more than 100 g of Whipping cream")
    # (224 × 61.2 + 100 × 36.08 + what is left of 2 kg of milk with 3.25) / 20; rounded down.
    assert "the most fat that can be had is" in told
    assert "! fat" in done.stdout
    assert "misses the targets by the least" in done.stdout


def test_cheapest_needs_every_price(kitchen: Path) -> None:
    milk = ("--use", "whole-milk", "--use", "cream", "--use", "milk-powder", "--use", "sucrose")
    files = kitchen / "ingredients.toml"
    done = run("solve", files, *milk, "fat=10", "msnf=9", "sugars=14..16")
    out = json.loads(done.stdout)
    assert (done.returncode, out["aim"]) == (0, "cheapest")
    dearer = run("solve", files, *milk, "fat=10", "msnf=9", "sugars=14..16", "--aim", "middle")
    both = [
        float(json.loads(one.stdout)["composition"]["cost"]["batch"]["value"])
        for one in (done, dearer)
    ]
    assert both[0] <= both[1] + 0.01
    zest = run("solve", files, *milk, "--use", "lemon-zest", "fat=10", "--aim", "cheapest")
    assert zest.returncode == 2
    assert "lemon-zest" in zest.stderr
    assert "cost_per_kg" in zest.stderr


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("taste=5",), "neither a quantity nor an ingredient"),
        (("fat=NaN",), "is no target"),
        (("fat=6..5",), "6 is above 5"),
        (("fat=5", "fat=6"), "two targets for fat"),
        (("fat=5", "--aim", "best"), "is no aim"),
        (("fat=5", "--yield-g", "-3"), "cannot be made"),
        (("fat=5", "--yield-g", "lots"), "is not a batch size"),
        (("fat=5", "--class", "attic"), "No class of product"),
        (("fat=5", "--use", "unicorn"), "No ingredient is called"),
        (("density=0.5",), "depends on the air"),
        (tuple(f"fat={n}" for n in range(101)), "too many"),
    ],
)
def test_bad_input_is_a_sentence(kitchen: Path, asked: tuple[str, ...], said: str) -> None:
    done = run("solve", kitchen / "hazelnut-gelato.toml", *asked)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("targets = 5", "wanted.toml, line 1, targets"),
        ("[targets]\nfat = true", "wanted.toml, line 2, targets.fat"),
        ("[targets]\nfat = nan", "is no target"),
        ("goal = 5", '"goal" is not a field'),
        ("use = 5", '"use" is a list'),
        ("aim = [1]", '"aim" is a text'),
        ("fat = = 5", "not readable TOML"),
    ],
)
def test_a_file_of_targets_names_line_and_field(kitchen: Path, text: str, said: str) -> None:
    (kitchen / "wanted.toml").write_text(text)
    done = run("solve", kitchen / "hazelnut-gelato.toml", "--targets", kitchen / "wanted.toml")
    assert done.returncode == 2
    assert said in done.stderr


def test_ten_thousand_additions_are_refused(kitchen: Path) -> None:
    rows = '[[additions]]\ningredient = "water"\ntarget = "1 g"\ntolerance = "1 %"\n' * 10_000
    (kitchen / "long.toml").write_text(f'name = "Long"\n{rows}')
    done = run("solve", kitchen / "long.toml", "fat=5")
    assert done.returncode == 2
    assert "large" in done.stderr or "too many" in done.stderr


def test_nothing_to_make_it_of(tmp_path: Path) -> None:
    (tmp_path / "ingredients.toml").write_text(GUELPH_3)
    done = run("solve", tmp_path / "ingredients.toml", "fat=5")
    assert done.returncode == 2
    assert "nothing to make it of" in done.stderr


def test_the_nearest_miss_and_the_best_that_is_told_are_one_figure(kitchen: Path) -> None:
    """What can be had is told with all else as asked, not only with what happens to fight."""
    targets = ["fat=5", "msnf=12", "total_solids=34..36", "freezing_point=-2.4±0.1"]
    done = run("solve", kitchen / "hazelnut-gelato.toml", *targets, "--text")
    assert done.returncode == 1
    lowest = re.search(r"with all else as asked the least fat .* is ([\d.]+) %", done.stdout)
    came = re.search(r"^! fat +([\d.]+) %", done.stdout, re.MULTILINE)
    assert lowest
    assert came
    assert abs(float(lowest[1]) - float(came[1])) <= 0.011
