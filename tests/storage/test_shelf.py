"""A folder of formulas: what stands beside them is none of them."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from weighd.storage.shelf import FormulaShelf

SHIPPED = files("weighd.data")


def test_ingredients_and_limits_beside_formulas_are_no_formulas(tmp_path: Path) -> None:
    for one in (SHIPPED / "formulas").iterdir():
        (tmp_path / one.name).write_text(one.read_text("utf-8"), "utf-8")
    (tmp_path / "limits.toml").write_text((SHIPPED / "limits.toml").read_text("utf-8"), "utf-8")
    good, bad = FormulaShelf(tmp_path).all()
    assert [one.id for one in good] == [
        "blackcurrant-buttermilk-sherbet",
        "hazelnut-gelato",
        "lemon-sorbet",
        "flatbread-dough",
    ]
    assert not bad
    assert all(one.ingredient.facts for one in good[1].additions)


def test_a_formula_is_read_again_when_a_composition_changes(tmp_path: Path) -> None:
    (tmp_path / "ice.toml").write_text(
        'name = "Ice"\n[[additions]]\ningredient = "plum"\ntarget = "9 g"\ntolerance = "1 g"\n'
    )
    larder = tmp_path / "ingredients.toml"
    larder.write_text('[ingredients.plum]\nname = "Plum"\ncomposition = { water = 87 }\n')
    shelf = FormulaShelf(tmp_path)
    before = shelf.get("ice").revision
    larder.write_text('[ingredients.plum]\nname = "Plum"\ncomposition = { water = 86.5 }\n')
    assert shelf.get("ice").revision != before


def test_a_bad_composition_is_told_with_its_file(tmp_path: Path) -> None:
    (tmp_path / "ingredients.toml").write_text(
        '[ingredients.plum]\nname = "Plum"\ncomposition = { water = 187 }\n'
    )
    good, bad = FormulaShelf(tmp_path).all()
    assert not good
    assert [one.where for one in bad] == [
        "ingredients.toml, line 3, ingredients.plum.composition.water"
    ]
