"""``weighd compose`` and ``weighd ingredients``: a formula's mix, and a supplier's table."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.forked import run

FORMULA = """\
name = "Plum ice"
kind = "house"
[[additions]]
ingredient = "plum"
target = "700 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "300 g"
tolerance = "1 %"
"""
TABLE = """\
name;id;water;fat;milk_fat;other_solids;protein;ash;sugars
Plum purée;plum;87,2;0,3;0;2,5;0,7;0,4;10
Sugar;sugar;;;;;;;100
"""
LIMITS = """\
[classes.house]
name = "Of the house"
[[classes.house.limits]]
of = "sugars"
max = 30
source = "ours"
"""


@pytest.fixture
def formula(tmp_path: Path) -> Path:
    """A formula with ingredients from a supplier's table, and limits of our own beside it."""
    (tmp_path / "goods.csv").write_text(TABLE)
    (tmp_path / "limits.toml").write_text(LIMITS)
    file = tmp_path / "plum-ice.toml"
    file.write_text(FORMULA)
    done = run(
        "ingredients", "import", tmp_path / "goods.csv", "--out", tmp_path / "ingredients.toml"
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("2 ingredients are in ")
    return file


def test_a_formula_is_composed_as_json(formula: Path) -> None:
    done = run("compose", formula, "--yield-g", "500", "--overrun", "25", "--at", "-9")
    assert (done.returncode, done.stderr) == (0, "")
    out = json.loads(done.stdout)
    assert (out["formula"], out["mass_g"], out["class"]) == ("plum-ice", "500.00", "house")
    assert out["parts"]["water"]["percent"] == "61.040"
    assert [one["at_c"] for one in out["freezing"]["curve"]] == ["-9"]
    assert out["product"]["overrun_percent"] == "25"
    assert [one["standing"] for one in out["limits"]] == ["outside"]


def test_and_told_to_people(formula: Path) -> None:
    done = run("compose", formula, "--text")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Outside, house: sugars 37.000 %; 30 or less % [ours]" in done.stdout
    assert "Begins to freeze between " in done.stdout


def test_another_class_and_other_limits(formula: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(LIMITS.replace("max = 30", "max = 40"))
    out = json.loads(run("compose", formula, "--limits", other).stdout)
    assert [one["standing"] for one in out["limits"]] == ["inside"]
    (tmp_path / "limits.toml").unlink()
    out = json.loads(run("compose", formula, "--class", "sorbet").stdout)
    assert {one["class"] for one in out["limits"]} == {"every", "sorbet"}
    refused = run("compose", formula)
    assert refused.returncode == 2
    assert 'No class of product is called "house".' in refused.stderr


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--overrun", "much"), "is not an overrun"),
        (("--at", "20"), "is not a temperature"),
        (("--yield-g", "-5"), ""),
        (("--limits", "nowhere.toml"), "nowhere.toml"),
        (("--overrun", "NaN"), "overrun: "),
        (("--overrun", "1e999"), "overrun: "),
        (("--overrun", "-1"), "Give one from 0 to 1000."),
        (("--at", "-٥"), "at: "),
        (("--at", "-1e999"), "at: "),
        (("--yield-g", "NaN"), "is not a batch size"),
        (("--yield-g", "Infinity"), "is not a batch size"),
        (("--yield-g", "1e999"), "is not a batch size"),
        (("--yield-g", "١٠٠"), "is not a batch size"),
        (("--pieces", "120g/0.748"), "--pieces: Pieces are told with an overrun."),
        (("--overrun", "30", "--pieces", "120g"), "pieces: "),
        (("--overrun", "30", "--pieces", "NaN g/0.7"), "pieces: "),
        (("--overrun", "30", "--pieces", "1g/1e999"), "pieces_density: "),
        (("--cup", "110"), "cup_mix: "),
        (("--cup", "110g/-3g"), "tare: "),
        (("--limits", "/dev/null"), "names no class of product"),
        (("--class", "../attic"), "No class of product"),
    ],
)
def test_what_cannot_be_asked(formula: Path, options: tuple[str, ...], says: str) -> None:
    done = run("compose", formula, *options)
    assert done.returncode == 2
    assert done.stderr.startswith("weighd: ")
    assert says in done.stderr


def test_a_bad_table_writes_nothing(tmp_path: Path) -> None:
    table, out = tmp_path / "goods.csv", tmp_path / "out.toml"
    table.write_text("name;water\nPlum;-3\n")
    done = run("ingredients", "import", table, "--out", out)
    assert done.returncode == 2
    assert f"{table}, line 2, water: -3 is negative" in done.stderr
    assert not out.exists()


def test_a_file_that_is_there_is_not_overwritten(formula: Path) -> None:
    folder = formula.parent
    before = (folder / "ingredients.toml").read_text()
    done = run("ingredients", "import", folder / "goods.csv", "--out", folder / "ingredients.toml")
    assert done.returncode == 2
    assert "It is there already." in done.stderr
    assert (folder / "ingredients.toml").read_text() == before


def test_the_table_that_ships_is_listed_and_copied() -> None:
    listed = run("ingredients", "table")
    assert listed.returncode == 0
    assert any(
        line.startswith("usda-01077 ") and line.endswith("USDA SR 01077")
        for line in listed.stdout.splitlines()
    )
    assert "from memory" in listed.stdout
    one = run("ingredients", "table", "usda-01077").stdout
    assert one.startswith("[ingredients.usda-01077]\n")
    assert "msnf = 8.62" in one
    assert run("ingredients", "table", "moon-cheese").returncode == 2


def test_a_list_of_ingredients_is_checked(formula: Path) -> None:
    larder = formula.parent / "ingredients.toml"
    larder.write_text(
        larder.read_text("utf-8")
        + '[ingredients.jam]\nname = "Jam"\n[[ingredients.jam.instead]]\n'
        + 'ingredient = "plum"\nratio = 1.5\n',
        "utf-8",
    )
    done = run("ingredients", "check", larder)
    assert done.returncode == 0, done.stderr
    jam = next(line for line in done.stdout.splitlines() if line.startswith("jam "))
    assert "missing: composition" in jam
    assert "1.5 g of plum for 1 g" in jam
    larder.write_text(larder.read_text("utf-8").replace("ratio = 1.5", "ratio = -1"), "utf-8")
    done = run("ingredients", "check", larder)
    assert done.returncode == 2
    assert "ingredients.jam.instead[1].ratio" in done.stderr


def test_limits_are_listed_with_their_sources(formula: Path) -> None:
    done = run("limits", "--class", "gelato")
    assert done.returncode == 0
    assert "fat " in done.stdout
    assert all(line.endswith("]") for line in done.stdout.splitlines()[1:])
    own = run("limits", formula.parent / "limits.toml")
    assert own.stdout == "Of the house (house)\n  sugars 30 or less % [ours]\n"
    assert run("limits", "--class", "attic").returncode == 2


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "The file is empty."),
        (b"\xef\xbb\xbf\n \n", "The file is empty."),
        (b"\x00\x00", "not readable TOML"),
        (b'name = "\xe9"', "not text in UTF-8"),
        (b"[" * 60_000, "not readable TOML"),
    ],
)
def test_a_file_that_is_no_formula(tmp_path: Path, content: bytes, says: str) -> None:
    file = tmp_path / "plum-ice.toml"
    file.write_bytes(content)
    done = run("compose", file)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr
    assert "plum-ice.toml" in done.stderr


ADDITION = '[[additions]]\ningredient = "a"\ntarget = "1 g"\ntolerance = "1 %"\n'
SHORT = '{ingredient="a",target="1 g",tolerance="1 %"},'


@pytest.mark.parametrize(
    ("additions", "says"),
    [
        (ADDITION * 10_000, "larger than 256 kB"),
        (ADDITION * 201, "additions: 201 additions are too many; 200 at most."),
        (f"additions = [{SHORT * 4_500}]\n", "additions: 4500 additions are too many"),
    ],
)
@pytest.mark.parametrize("command", ["compose", "formula", "plan"])
def test_a_formula_of_ten_thousand_additions(
    tmp_path: Path, command: str, additions: str, says: str
) -> None:
    file = tmp_path / "long.toml"
    own = '[ingredients.a]\nname = "A"\n'
    rows = f"{own}{additions}" if additions.startswith("[[") else f"{additions}{own}"
    file.write_text(f'name = "Long"\n{rows}')
    done = run(command, file)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr
    assert "long.toml" in done.stderr


def test_carriers_that_carry_each_other_are_planned_without_going_round(tmp_path: Path) -> None:
    """Each may be premixed with the other; a plan uses one of them at most, and ends."""
    file = tmp_path / "round.toml"
    file.write_text(
        'name = "Round"\n[ingredients.a]\nname = "A"\n[ingredients.b]\nname = "B"\n'
        '[[additions]]\ningredient = "a"\ntarget = "1.2 g"\ntolerance = "0.08 g"\ncarrier = "b"\n'
        '[[additions]]\ningredient = "b"\ntarget = "300 g"\ntolerance = "5 g"\ncarrier = "a"\n'
    )
    config = tmp_path / "weighd.toml"
    config.write_text(
        '[scales.bench]\ndriver = "simulated"\nmax_g = "6000"\ninterval_g = "1"\n'
        '[scales.fine]\ndriver = "simulated"\nmax_g = "500"\ninterval_g = "0.1"\n'
    )
    done = run("plan", file, "--config", config)
    assert done.returncode in (0, 1)
    assert "Weigh " in done.stdout
    own = file.read_text().replace('carrier = "b"', 'carrier = "a"')
    file.write_text(own)
    done = run("plan", file, "--config", config)
    assert done.returncode == 2
    assert "additions[1].carrier" in done.stderr


def test_a_cup_and_pieces_as_published(formula: Path) -> None:
    """frozen.json, overrun_cup_table: 110 g of mix in a cup of 30 g; and volume by its parts."""
    done = run("compose", formula, "--overrun", "100", "--pieces", "90g/0,748", "--cup", "110g/30g")
    assert (done.returncode, done.stderr) == (0, "")
    out = json.loads(done.stdout)
    rows = {one["overrun_percent"]: one["grams"] for one in out["cup"]["gross_g"]}
    assert [rows[one] for one in ("0", "5", "10", "150")] == ["140.0", "134.8", "130.0", "74.0"]
    volume = float(out["product"]["volume_ml"]["value"]) + 90 / 0.748
    assert abs(float(out["with_pieces"]["volume_ml"]) - volume) < 0.11
    assert out["with_pieces"]["density_g_ml"] == f"{1090 / volume:.4f}"
    text = run("compose", formula, "--cup", "110g/30g", "--text").stdout
    assert "  0 %   140.0 g     5 %   134.8 g    10 %   130.0 g" in text
