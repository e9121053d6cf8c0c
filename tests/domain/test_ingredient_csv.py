"""A supplier's table: what is understood, and how what is not is told."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.errors import FormulaError
from weighd.domain.formula_text import read_ingredients
from weighd.domain.ingredient_csv import COLUMNS, as_toml, read_csv

GOOD = """\
\ufeffName;Water;Fat;milk_fat;msnf;sugars;sugars.sucrose;other solids;allergens;cost_per_kg;\
shelf_life_days
Crème fraîche "30";63,9;30,2;30,2;5,9;;;;milk;4,80;21
Caster sugar;0,02;;;;;99,98;;;1,15;
Blackcurrant purée;83;;;;-;;n/a;;7,80;180

Raspberry purée;86;0,4;0;;8,2;;5,4;sulphites | milk;;
"""


def test_a_table_with_decimal_commas_and_gaps() -> None:
    read = read_csv(GOOD, "goods.csv")
    assert list(read) == [
        "creme-fraiche-30",
        "caster-sugar",
        "blackcurrant-puree",
        "raspberry-puree",
    ]
    cream = read["creme-fraiche-30"]
    assert cream.name == 'Crème fraîche "30"'
    assert cream.allergens == ("milk",)
    assert cream.facts is not None
    assert dict(cream.facts.stated)["water"] == Decimal("63.9")
    assert (cream.facts.cost_per_kg, cream.facts.shelf_life_days) == (Decimal("4.80"), 21)
    currants = read["blackcurrant-puree"].facts
    assert currants is not None
    # An empty cell is missing, never zero.
    assert currants.sugars is None
    assert set(currants.missing) == {
        "fat",
        "msnf",
        "whey_solids",
        "stabiliser",
        "other_solids",
        "alcohol",
        "salt",
        "sugars",
    }
    raspberries = read["raspberry-puree"]
    assert raspberries.facts is not None
    assert raspberries.facts.sugars == (("unspecified", Decimal("8.2")),)
    assert raspberries.allergens == ("sulphites", "milk")


def test_what_is_written_reads_back_as_the_same() -> None:
    read = read_csv(GOOD, "goods.csv")
    assert read_ingredients(as_toml(read), "ingredients.toml") == read


def test_the_table_that_ships_does_too() -> None:
    text = (Path(__file__).parents[2] / "weighd/data/compositions.toml").read_text("utf-8")
    read = read_ingredients(text, "compositions.toml")
    assert read_ingredients(as_toml(read), "again.toml") == read


@pytest.mark.parametrize("parted", [",", "\t"])
def test_other_ways_of_parting_columns(parted: str) -> None:
    text = f'name{parted}id{parted}water{parted}fat\nCream{parted}cream{parted}60{parted}"40,0"\n'
    facts = read_csv(text, "goods.csv")["cream"].facts
    assert facts is not None
    assert dict(facts.stated) == {"water": Decimal(60), "fat": Decimal("40.0")}


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        ("", "goods.csv, line 1", "name the columns"),
        ("name;water\n", "goods.csv, line 2", "no ingredient"),
        ("name;colour\nA;red\n", "goods.csv, line 1, colour", "not a column here"),
        ("water;fat\n1;2\n", "goods.csv, line 1, name", 'no column "name"'),
        ("name;water;water\nA;1;2\n", "goods.csv, line 1", "named twice"),
        ("name;water\n;5\n", "goods.csv, line 2, name", "a name is missing"),
        ("name;water\nA;5\n\nB;-5\n", "goods.csv, line 4, water", "negative"),
        ("name;water\nA;NaN\n", "goods.csv, line 2, water", "not a plain number"),
        ("name;water\nA;<0.5\n", "goods.csv, line 2, water", "not a plain number"),
        ("name;water\nA;1.234,5\n", "goods.csv, line 2, water", "not a plain number"),
        ("name;water;fat\nA;60;41\n", "goods.csv, line 2", "add up to 101 g"),
        ("name;sugars.lactose\nA;-2\n", "goods.csv, line 2, sugars.lactose", "negative"),
        ("name;sugars\nA;120\n", "goods.csv, line 2, sugars", "do not fit"),
        ("name;sugars;sugars.sucrose\nA;5;5\n", "goods.csv, line 2, sugars", "not both"),
        ("name;shelf_life_days\nA;soon\n", "goods.csv, line 2, shelf_life_days", "whole days"),
        ("name;id\nA;Größe\n", "goods.csv, line 2, id", "lower-case letters"),
        ("name\nA\nA\n", "goods.csv, line 3, id", "there twice"),
        ("name;water\n???;1\n", "goods.csv, line 2, id", "no id can be made"),
        ("name;water\n漢字;1\n", "goods.csv, line 2, id", "no id can be made"),
        ("name;water\nA;inf\n", "goods.csv, line 2, water", "not a plain number"),
        ("name;water\nA;1e999\n", "goods.csv, line 2, water", "not a plain number"),
        ("name;water\nA;١٢\n", "goods.csv, line 2, water", "not a plain number"),
        ("name;water\nA;" + "9" * 5000 + "\n", "goods.csv, line 2, water", "not a plain number"),
        ("name;water\nA;101\n", "goods.csv, line 2, water", "do not fit into 100 g"),
        ("name;shelf_life_days\nA;٣\n", "goods.csv, line 2, shelf_life_days", "whole days"),
        ("name;cost_per_kg\nA;NaN\n", "goods.csv, line 2, cost_per_kg", "not a plain number"),
        ("name;density_g_ml\nA;0\n", "goods.csv, line 2, density_g_ml", "from 0.01 to 23"),
        ("name;protein;water\nA;5;100\n", "goods.csv, line 2, protein", "more than the 0 g"),
        ("name,water\nA,1,5\n", "goods.csv, line 2", "stands in quotes"),
        ('name;water\n"A;1\n', "goods.csv, line 2", "not readable CSV"),
        ("name;caution\nA;a\x07b\n", "goods.csv, line 2, caution", "cannot be shown"),
        ("name\n" + "A" * 1_000_001, "goods.csv", "too large"),
        ("name\n" + "".join(f"A{n}\n" for n in range(401)), "goods.csv, line 402", "more than"),
    ],
)
def test_what_is_wrong_is_named_with_file_line_and_column(text: str, where: str, says: str) -> None:
    with pytest.raises(FormulaError) as caught:
        read_csv(text, "goods.csv")
    assert caught.value.where == where
    assert says in str(caught.value)


@given(st.text(max_size=200) | st.text("name;,\t\n\"'0123456789.-nawterfid", max_size=200))
def test_no_text_breaks_it(text: str) -> None:
    try:
        read = read_csv(text, "goods.csv")
    except FormulaError as error:
        assert error.where.startswith("goods.csv")
    else:
        assert read_ingredients(as_toml(read), "again.toml") == read


def test_every_column_is_documented() -> None:
    page = Path(__file__).parents[2] / "docs" / "how-to" / "what-the-mix-is.md"
    text = page.read_text("utf-8")
    for column in COLUMNS:
        assert f"`{column}`" in text or column.startswith("sugars."), column


def test_what_is_known_of_goods_besides_what_is_in_them() -> None:
    text = """\
name,water,sugars.sucrose,supplier_code,source,cost_per_kg,density_g_ml,shelf_life_days,\
shelf_life_opened_days
Syrup,34,66,S-7,Label of the drum,2.35,1.32,365,14
"""
    facts = read_csv(text, "goods.csv")["syrup"].facts
    assert facts is not None
    assert (facts.supplier_code, facts.source) == ("S-7", "Label of the drum")
    assert (facts.cost_per_kg, facts.density_g_ml) == (Decimal("2.35"), Decimal("1.32"))
    assert (facts.shelf_life_days, facts.shelf_life_opened_days) == (365, 14)
