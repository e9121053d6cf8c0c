"""The files of a kitchen, changed: whole or not at all, only over what was read."""

from __future__ import annotations

import os
import stat
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.facts import OF_WHICH, PARTS, Facts, checked
from weighd.domain.formula import Ingredient
from weighd.domain.formula_text import read_ingredients
from weighd.domain.substitutes import Substitute
from weighd.domain.sugars import KINDS
from weighd.main.shipped import copy_of_the_kitchen
from weighd.station.drafting import (
    NO_FILE,
    draw_ingredient,
    ingredient_table,
    limits_table,
)
from weighd.storage import replacing
from weighd.storage.pantry import FilePantry
from weighd.storage.replacing import replace_file, tag_of
from weighd.storage.shelf import FormulaShelf


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    return copy_of_the_kitchen(tmp_path / "formulas")


@pytest.fixture
def pantry(kitchen: Path) -> FilePantry:
    return FilePantry(kitchen)


def cream(pantry: FilePantry, **given: Any) -> dict[str, Any]:
    return ingredient_table({**draw_ingredient(pantry.ingredients()[0]["cream"]), **given})


def everything(folder: Path) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in folder.rglob("*") if one.is_file()}


# --- writing ----------------------------------------------------------------------------------


def test_a_change_is_written_and_the_rest_stays(pantry: FilePantry, kitchen: Path) -> None:
    before = (kitchen / "ingredients.toml").read_text("utf-8")
    known, tag = pantry.ingredients()
    composition = {**draw_ingredient(known["cream"])["composition"], "fat": "35,9"}
    table = cream(pantry, composition={**composition, "milk_fat": "35.9"}, cost_per_kg="4,60")
    new = pantry.put_ingredients({"cream": table}, tag)
    after = (kitchen / "ingredients.toml").read_text("utf-8")
    # The price is the same number: it stays as it was written.
    assert set(before.splitlines()) ^ set(after.splitlines()) == {
        "fat = 36.08",
        "milk_fat = 36.08",
        "fat = 35.9",
        "milk_fat = 35.9",
    }
    assert new == pantry.ingredients()[1] == tag_of(kitchen / "ingredients.toml") != tag
    assert not list(kitchen.glob(".*"))


def test_what_is_as_it_is_already_is_said_and_not_written(
    pantry: FilePantry, kitchen: Path
) -> None:
    _, tag = pantry.ingredients()
    was = (kitchen / "ingredients.toml").stat()
    assert pantry.put_ingredients({"cream": cream(pantry)}, "0" * 32) == tag
    assert (kitchen / "ingredients.toml").stat() == was


def test_a_file_that_changed_since_is_not_written_over(pantry: FilePantry, kitchen: Path) -> None:
    _, tag = pantry.ingredients()
    with (kitchen / "ingredients.toml").open("a") as stream:
        stream.write("# by hand, meanwhile\n")
    before = everything(kitchen)
    with pytest.raises(OperatorError) as caught:
        pantry.put_ingredients({"cream": cream(pantry, name="Cream")}, tag)
    assert caught.value.code == "changed-since"
    with pytest.raises(OperatorError, match="changed since"):
        pantry.put_limits("gelato", limits_table("G", []), "0" * 32)
    assert everything(kitchen) == before


def test_a_file_that_changes_at_the_last_moment_is_not_written_over(
    kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = kitchen / "ingredients.toml"
    tag, synced = tag_of(file), os.fsync

    def meanwhile(handle: int) -> None:
        synced(handle)
        file.write_text("# another hand\n")

    monkeypatch.setattr(replacing.os, "fsync", meanwhile)
    with pytest.raises(OperatorError, match="changed since"):
        replace_file(file, "# ours\n", tag)
    assert file.read_text() == "# another hand\n"
    assert not list(kitchen.glob(".*"))


@pytest.mark.parametrize("at", ["write", "fsync", "rename"])
def test_a_crash_leaves_the_old_file_whole(
    pantry: FilePantry, kitchen: Path, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    """Killed between write and rename: the process ends there, nothing tidies up."""
    _, tag = pantry.ingredients()
    before = (kitchen / "ingredients.toml").read_bytes()
    child = os.fork()
    if child == 0:
        if at == "write":
            monkeypatch.setattr(replacing.os, "fchmod", lambda *_: os._exit(9))
        if at == "fsync":
            monkeypatch.setattr(replacing.os, "fsync", lambda *_: os._exit(9))
        if at == "rename":
            monkeypatch.setattr(Path, "replace", lambda *_: os._exit(9))
        pantry.put_ingredients({"cream": cream(pantry, name="Cream")}, tag)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    assert (kitchen / "ingredients.toml").read_bytes() == before
    assert (kitchen / ".ingredients.toml.new").exists()
    good, bad = FormulaShelf(kitchen).all()
    assert len(good) == 4
    assert not bad
    pantry.put_ingredients({"cream": cream(pantry, name="Cream")}, tag)  # and goes on
    assert pantry.ingredients()[0]["cream"].name == "Cream"
    assert not list(kitchen.glob(".*"))


def test_a_failing_disk_leaves_the_old_file(
    pantry: FilePantry, kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, tag = pantry.ingredients()
    before = everything(kitchen)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(replacing.os, "fsync", full)
    with pytest.raises(OperatorError, match="No space left") as caught:
        pantry.put_ingredients({"cream": cream(pantry, name="Cream")}, tag)
    assert caught.value.code == "cannot-write"
    assert everything(kitchen) == before


def test_modes_and_links_stay(pantry: FilePantry, kitchen: Path, tmp_path: Path) -> None:
    shared = tmp_path / "shared.toml"
    (kitchen / "ingredients.toml").rename(shared)
    shared.chmod(0o640)
    (kitchen / "ingredients.toml").symlink_to(shared)
    pantry.put_ingredients({"cream": cream(pantry, name="Cream")}, pantry.ingredients()[1])
    assert (kitchen / "ingredients.toml").is_symlink()
    assert 'name = "Cream"' in shared.read_text()
    assert stat.S_IMODE(shared.stat().st_mode) == 0o640


# --- ingredients ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"composition": {"fat": "-3"}}, "composition.fat"),
        ({"composition": {"fat": "NaN"}}, "composition.fat"),
        ({"composition": {"fat": "inf"}}, "composition.fat"),
        ({"composition": {"fat": "60", "water": "50"}}, "ingredients.cream.composition"),
        ({"composition": {"fat": "3 g"}}, "composition.fat"),
        ({"composition": {"butter": "3"}}, "composition.butter"),
        ({"composition": {"sugars": {"honey": "3"}}}, "sugars.honey"),
        ({"composition": {"sugars": "3"}}, "composition.sugars"),
        ({"name": " "}, "cream.name"),
        ({"density_g_ml": "0"}, "cream.density_g_ml"),
        ({"shelf_life_days": "2.5"}, "cream.shelf_life_days"),
        ({"shelf_life_opened_days": "-1"}, "cream.shelf_life_opened_days"),
        ({"instead": [{"ingredient": "ghost", "ratio": "1"}]}, "instead[1].ingredient"),
        ({"instead": [{"ingredient": "water", "ratio": "nan"}]}, "instead[1].ratio"),
        ({"name": "a\u202eb"}, "cream.name"),
    ],
)
def test_what_cannot_be_is_named_and_nothing_written(
    pantry: FilePantry, kitchen: Path, given: dict[str, Any], field: str
) -> None:
    before = everything(kitchen)
    with pytest.raises(FormulaError) as caught:
        pantry.put_ingredients({"cream": cream(pantry, **given)}, pantry.ingredients()[1])
    assert caught.value.where.endswith(field)
    assert everything(kitchen) == before


def test_circular_substitutes_are_refused_where_they_contradict(pantry: FilePantry) -> None:
    known, tag = pantry.ingredients()
    table = ingredient_table(draw_ingredient(known["vanilla-extract"]))
    table["instead"][0]["ratio"] = 3
    with pytest.raises(FormulaError, match="contradict"):
        pantry.put_ingredients({"vanilla-extract": table}, tag)


@pytest.mark.parametrize("identity", ["../x", "..", "", "A", "a b", "a/b", "a.b", "x" * 81, "a\n"])
def test_ids_never_lead_anywhere(pantry: FilePantry, kitchen: Path, identity: str) -> None:
    before = everything(kitchen.parent)
    with pytest.raises(FormulaError, match="cannot name"):
        pantry.put_ingredients({identity: {"name": "X"}}, pantry.ingredients()[1])
    with pytest.raises(FormulaError):
        pantry.put_formula(identity, {"name": "X"}, [], NO_FILE)
    with pytest.raises(FormulaError):
        pantry.put_limits(identity, {"name": "X"}, NO_FILE)
    with pytest.raises(FormulaError):
        pantry.remove_formula(identity, NO_FILE)
    assert everything(kitchen.parent) == before


def test_an_ingredient_in_use_stays(pantry: FilePantry) -> None:
    _, tag = pantry.ingredients()
    with pytest.raises(OperatorError, match="the formula lemon-sorbet") as caught:
        pantry.remove_ingredient("lemon-juice", tag)
    assert caught.value.code == "ingredient-in-use"
    with pytest.raises(OperatorError, match="a rule of Vanilla paste"):
        pantry.remove_ingredient("vanilla-extract", tag)
    with pytest.raises(FormulaError, match="No ingredient"):
        pantry.remove_ingredient("ghost", tag)
    before = pantry.ingredients()[0]
    new = pantry.put_ingredients({"sea-salt": {"name": "Salt of the sea"}}, tag)
    assert len(pantry.ingredients()[0]) == len(before) + 1
    pantry.remove_ingredient("sea-salt", new)
    assert pantry.ingredients()[0] == before


def test_a_first_ingredient_makes_the_file(tmp_path: Path) -> None:
    pantry = FilePantry(tmp_path)
    known, tag = pantry.ingredients()
    assert (dict(known), tag) == ({}, NO_FILE)
    pantry.put_ingredients({"plum": {"name": "Plum", "composition": {"water": 87}}}, tag)
    assert pantry.ingredients()[0]["plum"].name == "Plum"


_AMOUNT = st.decimals(0, 30, places=3).map(lambda value: value.normalize() + 0)


@st.composite
def ingredients(draw: Any) -> Ingredient:
    stated = draw(st.dictionaries(st.sampled_from(PARTS), _AMOUNT, max_size=3))
    hosts = sum(stated.get(key, Decimal(0)) for key in ("msnf", "stabiliser", "other_solids"))
    inside = {key: Decimal(0) for key in draw(st.sets(st.sampled_from(OF_WHICH)))}
    inside |= {"protein": hosts} if hosts and draw(st.booleans()) else {}
    kinds = st.dictionaries(st.sampled_from(list(KINDS)), _AMOUNT.filter(lambda x: x < 3))
    sugars = draw(st.none() | kinds.filter(lambda one: sum(one.values()) < 9))
    line = st.text(st.characters(codec="utf-8", categories=("L", "N", "P")), max_size=20)
    price = st.none() | st.decimals(0, 999_999, places=6)
    facts = checked(
        Facts(
            tuple({**stated, **inside}.items()),
            None if sugars is None else tuple(sugars.items()),
            draw(st.none() | st.decimals("0.01", 23, places=6)),
            draw(price),
            draw(line),
            draw(st.none() | st.integers(1, 36500)),
            draw(line),
            draw(st.none() | st.integers(1, 36500)),
        )
    )
    rules = draw(st.dictionaries(st.sampled_from(["a", "b", "c"]), st.decimals("0.001", 999)))
    return Ingredient(
        "it",
        draw(line.filter(bool)),
        tuple(draw(st.lists(line.filter(bool), max_size=2))),
        draw(line),
        None if facts == Facts() else facts,
        tuple(
            Substitute(one, ratio.quantize(Decimal("0.000001")).max(Decimal("0.001")), draw(line))
            for one, ratio in rules.items()
        ),
    )


@settings(
    max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(ingredients(), ingredients())
def test_an_ingredient_written_is_read_as_the_same(
    tmp_path: Path, one: Ingredient, other: Ingredient
) -> None:
    (tmp_path / "ingredients.toml").write_text(
        "".join(f'[ingredients.{name}]\nname = "{name}"\n# {name}\n' for name in "abc"), "utf-8"
    )
    pantry = FilePantry(tmp_path)
    for each in (one, other):
        tag = pantry.ingredients()[1]
        pantry.put_ingredients({"it": ingredient_table(draw_ingredient(each))}, tag)
        text = (tmp_path / "ingredients.toml").read_text("utf-8")
        assert read_ingredients(text, "x")["it"] == each
        assert all(f"# {name}\n" in text for name in "abc")


def test_a_list_is_read_again_only_when_it_changed(
    pantry: FilePantry, kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from weighd.storage import pantry as pantry_file

    read: list[str] = []

    def noted(text: str, file: str) -> dict[str, Ingredient]:
        read.append(file)
        return read_ingredients(text, file)

    monkeypatch.setattr(pantry_file, "read_ingredients", noted)
    assert pantry.ingredients() == pantry.ingredients()
    assert len(read) == 1
    pantry.put_ingredients({"plum": {"name": "Plum"}}, pantry.ingredients()[1])
    assert pantry.ingredients()[0]["plum"].name == "Plum"
    text = (kitchen / "ingredients.toml").read_text("utf-8")
    (kitchen / "ingredients.toml").write_text(text.replace('"Plum"', '"Pear"'), "utf-8")
    assert pantry.ingredients()[0]["plum"].name == "Pear"


_ANY = st.text(st.characters(exclude_categories=("Cs",)), max_size=12) | st.sampled_from(
    [
        "1e5",
        "-0",
        "0x1",
        "1_000",
        "٣",
        "99.95",
        "inf",
        "../x",
        "[a]",
        '"',
        "#",
        "true",
        "\n",
        "\x00",
    ]
)


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.dictionaries(st.sampled_from([*PARTS, *OF_WHICH]) | _ANY, _ANY, max_size=4),
    st.none() | st.dictionaries(st.sampled_from(list(KINDS)) | _ANY, _ANY, max_size=3),
    st.lists(_ANY, min_size=11, max_size=11),
)
def test_whatever_is_typed_is_kept_as_it_was_or_refused_in_words(
    kitchen: Path, parts: dict[str, str], sugars: dict[str, str] | None, typed: list[str]
) -> None:
    names = (
        "name", "caution", "density_g_ml", "cost_per_kg", "supplier_code", "shelf_life_days",
        "shelf_life_opened_days", "source",
    )  # fmt: skip
    draft: dict[str, Any] = dict(zip(names, typed, strict=False))
    draft |= {"composition": {**parts, **({} if sugars is None else {"sugars": sugars})}}
    draft |= {"allergens": [typed[8]], "instead": [{"ingredient": typed[9], "ratio": typed[10]}]}
    pantry, before = FilePantry(kitchen), everything(kitchen)
    tag = pantry.ingredients()[1]
    for given_draft in (draft, {**draft, "instead": []}, {"name": typed[0], "composition": parts}):
        try:
            tag = pantry.put_ingredients({"it": ingredient_table(given_draft)}, tag)
        except (FormulaError, OperatorError):
            assert everything(kitchen) == before
        else:
            read = pantry.ingredients()[0]["it"]
            assert read.name == str(given_draft["name"]).strip()
            before = everything(kitchen)
