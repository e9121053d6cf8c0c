"""Formulas and limits of a kitchen, changed in their files."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from tests.storage.pantry_folder import Packaged
from weighd.domain.errors import ConfigError, FormulaError, OperatorError
from weighd.main.shipped import copy_of_the_kitchen
from weighd.station.drafting import NO_FILE, draw_source, formula_document, limits_table
from weighd.storage.pantry import FilePantry
from weighd.storage.shelf import FormulaShelf


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    return copy_of_the_kitchen(tmp_path / "formulas")


@pytest.fixture
def pantry(kitchen: Path) -> FilePantry:
    return FilePantry(kitchen)


# --- formulas ---------------------------------------------------------------------------------


def draft_of(pantry: FilePantry, identity: str) -> dict[str, Any]:
    return draw_source(identity, pantry.source(identity)[0])


def test_a_formula_is_changed_and_what_no_draft_knows_stays(
    pantry: FilePantry, kitchen: Path
) -> None:
    file = kitchen / "lemon-sorbet.toml"
    file.write_text(file.read_text("utf-8").replace("[[additions]]", "# water\n[[additions]]", 1))
    before, tag = pantry.source("lemon-sorbet")
    draft = draft_of(pantry, "lemon-sorbet")
    rows = draft["additions"]
    draft["additions"] = [rows[2], rows[0], rows[1], *rows[3:]]
    draft["additions"][0]["target"] = "331 g"
    document, origins = formula_document(before, draft)
    pantry.put_formula("lemon-sorbet", document, origins, tag)
    text = file.read_text("utf-8")
    after = tomllib.loads(text)
    assert after["scenario"] == before["scenario"]
    assert [one["ingredient"] for one in after["additions"]][:2] == ["sucrose", "water"]
    assert "# Invented, for trying weighd out." in text
    assert "# water" in text
    assert FormulaShelf(kitchen).get("lemon-sorbet").additions[0].target_g == 331


def test_a_new_formula_and_one_that_is_there(pantry: FilePantry, kitchen: Path) -> None:
    row = {"ingredient": "water", "target": "1 kg", "tolerance": "1 %"}
    document, origins = formula_document({}, {"name": "Ice", "additions": [row]})
    tag = pantry.put_formula("ice", document, origins, NO_FILE)
    assert pantry.put_formula("ice", document, origins, NO_FILE) == tag  # the answer was lost
    other, origins = formula_document({}, {"name": "Ice two", "additions": [row]})
    with pytest.raises(OperatorError) as caught:
        pantry.put_formula("ice", other, origins, NO_FILE)
    assert caught.value.code == "exists-already"
    for taken in ("ingredients", "limits"):
        with pytest.raises(FormulaError):
            pantry.put_formula(taken, document, {}, NO_FILE)
    away = pantry.remove_formula("ice", tag)
    assert (kitchen / away).read_text("utf-8").startswith('name = "Ice"')
    assert not (kitchen / "ice.toml").exists()
    assert "ice" not in [one.id for one in FormulaShelf(kitchen).all()[0]]
    with pytest.raises(FormulaError, match="No formula"):
        pantry.remove_formula("ice", tag)


def test_a_file_that_would_grow_too_large_is_not_written(pantry: FilePantry) -> None:
    table = {"name": "X", "caution": "x" * 1900}
    many = {f"i{n}": table for n in range(140)}
    with pytest.raises(OperatorError, match="larger than 256 kB"):
        pantry.put_ingredients(many, pantry.ingredients()[1])


# --- limits -----------------------------------------------------------------------------------


def test_the_first_change_of_a_limit_copies_those_that_ship(
    pantry: FilePantry, kitchen: Path
) -> None:
    shipped = (files("weighd.data") / "limits.toml").read_text("utf-8")
    kinds, tag, own = pantry.limits()
    assert (tag, own) == (NO_FILE, False)
    rows = [
        {"of": ["fat"], "min": "4", "max": "9,5", "source": "ours"},
        {"of": ["milk_fat", "msnf"], "min": "14", "source": "ours"},
    ]
    pantry.put_limits("gelato", limits_table("Gelato", rows), tag)
    kinds, tag, own = pantry.limits()
    assert own
    assert [(one.of, one.most) for one in kinds["gelato"].limits] == [
        (("fat",), Decimal("9.5")),
        (("milk_fat", "msnf"), None),
    ]
    text = (kitchen / "limits.toml").read_text("utf-8")
    assert text.startswith(shipped[:300])
    assert FormulaShelf(kitchen).kinds() == kinds
    for bad, field in (
        ({"of": ["fat"], "source": "ours"}, "limits[1]"),
        ({"of": ["fat"], "min": "9", "max": "4", "source": "ours"}, "limits[1].min"),
        ({"of": ["butter"], "min": "9", "source": "ours"}, "limits[1].of"),
        ({"of": ["fat"], "min": "nan", "source": "ours"}, "limits[1].min"),
        ({"of": ["fat"], "min": "1"}, "limits[1].source"),
        ({"of": [], "min": "1", "source": "ours"}, "limits[1].of"),
    ):
        with pytest.raises(ConfigError) as caught:
            pantry.put_limits("gelato", limits_table("Gelato", [bad]), tag)
        assert caught.value.where.endswith(field)
    assert (kitchen / "limits.toml").read_text("utf-8") == text


def test_limits_are_read_again_only_when_they_changed(
    kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from weighd.storage import shelf as shelf_file

    read: list[str] = []
    monkeypatch.setattr(
        shelf_file, "read_limits", lambda text, name: read.append(name) or {"n": len(text)}
    )
    shelf = FormulaShelf(kitchen)
    assert shelf.kinds() == shelf.kinds()
    assert len(read) == 1
    (kitchen / "limits.toml").write_text("# ours\n")
    assert shelf.kinds() == shelf.kinds() == {"n": 7}
    assert len(read) == 2
    (kitchen / "limits.toml").unlink()
    assert shelf.kinds() != {"n": 7}


def test_what_came_with_weighd_is_not_changed() -> None:
    pantry = FilePantry(Packaged(Path(str(files("weighd.data") / "formulas"))))
    assert pantry.fixed
    assert "cream" in pantry.ingredients()[0]
    with pytest.raises(OperatorError) as caught:
        pantry.put_ingredients({"plum": {"name": "Plum"}}, pantry.ingredients()[1])
    assert caught.value.code == "formulas-fixed"


def test_steps_and_what_else_stands_in_a_file_stay_through_a_change(
    pantry: FilePantry, kitchen: Path
) -> None:
    file = kitchen / "lemon-sorbet.toml"
    steps = (
        "\n# after the bowl\n[[steps]]  # cold first\n"
        'kind = "cool"\ntemperature = "at most 4 °C"  # or colder\ntime = "within 90 min"\n'
    )
    with file.open("a", encoding="utf-8") as stream:
        stream.write(steps)
    before, tag = pantry.source("lemon-sorbet")
    draft = draft_of(pantry, "lemon-sorbet")
    fresh = {"ingredient": "salt", "target": "1 g", "tolerance": "10 %"}
    draft["additions"] = [fresh, *reversed(draft["additions"])]
    document, origins = formula_document(before, draft)
    pantry.put_formula("lemon-sorbet", document, origins, tag)
    text = file.read_text("utf-8")
    assert text.endswith(steps.rstrip("\n") + "\n")
    read = FormulaShelf(kitchen).get("lemon-sorbet")
    assert [str(one.kind) for one in read.steps] == ["cool"]
    assert len(read.additions) == 7
