"""What an ingredient's table may say, and how what cannot be is told."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.contents import row_of
from weighd.domain.errors import FormulaError
from weighd.domain.facts import OF_WHICH, PARTS, FactError, Facts, checked, from_content
from weighd.domain.facts_text import FIELDS, read_facts
from weighd.domain.formula import Ingredient, revision_of
from weighd.domain.formula import from_content as from_record
from weighd.domain.formula_text import read_formula, read_ingredients

MILK = """\
[ingredients.milk]
name = "Milk"
allergens = ["milk"]
supplier_code = "M-7"
cost_per_kg = "1,20"
density_g_ml = 1.03
shelf_life_days = 7
source = "the label"

[ingredients.milk.composition]
water = 88.1
fat = "3,3"
milk_fat = 3.3
msnf = 8.6
sugars = { lactose = 0 }
"""


def read(text: str) -> Facts:
    facts = read_ingredients(text, "ingredients.toml")["milk"].facts
    assert facts is not None
    return facts


def test_everything_that_can_be_said_is_read() -> None:
    facts = read(MILK)
    assert dict(facts.stated) == {
        "water": Decimal("88.1"),
        "fat": Decimal("3.3"),
        "msnf": Decimal("8.6"),
        "milk_fat": Decimal("3.3"),
    }
    assert facts.sugars == (("lactose", Decimal(0)),)
    assert (facts.density_g_ml, facts.cost_per_kg) == (Decimal("1.03"), Decimal("1.20"))
    assert (facts.supplier_code, facts.shelf_life_days) == ("M-7", 7)
    assert (facts.source, facts.missing) == ("the label", ())
    assert from_content(facts.content()).content() == facts.content()


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "says"),
    [
        ('fat = "3,3"', "fat = -3.3", 12, "milk.composition.fat", "negative"),
        ('fat = "3,3"', "fat = nan", 12, "milk.composition.fat", "not a plain number"),
        ('fat = "3,3"', "fat = inf", 12, "milk.composition.fat", "not a plain number"),
        ('fat = "3,3"', "fat = 1e999", 12, "milk.composition.fat", "not a plain number"),
        ('fat = "3,3"', 'fat = "٣"', 12, "milk.composition.fat", "not a plain number"),
        ('fat = "3,3"', "fat = 07:30:00", 12, "milk.composition.fat", "must be a number"),
        ('cost_per_kg = "1,20"', "cost_per_kg = nan", 5, "cost_per_kg", "not a plain number"),
        ('cost_per_kg = "1,20"', 'cost_per_kg = "1e999"', 5, "cost_per_kg", "not a plain number"),
        ("shelf_life_days = 7", "shelf_life_days = nan", 7, "shelf_life_days", "whole days"),
        ('fat = "3,3"', "fat = 103.3", 12, "milk.composition.fat", "do not fit into 100 g"),
        ('fat = "3,3"', "fat = true", 12, "milk.composition.fat", "must be a number"),
        ('fat = "3,3"', 'fat = "a lot"', 12, "milk.composition.fat", "not a plain number"),
        ('fat = "3,3"', 'fat = "1.000,5"', 12, "milk.composition.fat", "not a plain number"),
        ('fat = "3,3"', "fatt = 3.3", 12, "milk.composition.fatt", "not a part"),
        ("msnf = 8.6", "msnf = 18.6", 10, "milk.composition", "add up to 110.0 g in 100 g"),
        ("milk_fat = 3.3", "milk_fat = 4", 13, "milk_fat", "more than the 3.3 g of fat"),
        ("msnf = 8.6", "msnf = 8.6\nlactose = 9", 15, "lactose", "more than the 8.6 g of msnf"),
        ("lactose = 0", "honey = 1", 15, "sugars.honey", "not a kind of sugar"),
        ("lactose = 0", "lactose = -1", 15, "sugars.lactose", "negative"),
        ("{ lactose = 0 }", "4.8", 15, "composition.sugars", "{ unspecified = 12.5 }"),
        ("density_g_ml = 1.03", "density_g_ml = 0", 6, "density_g_ml", "from 0.01 to 23"),
        ("density_g_ml = 1.03", 'density_g_ml = ""', 6, "density_g_ml", "not a plain number"),
        ('cost_per_kg = "1,20"', "cost_per_kg = -1", 5, "cost_per_kg", "from 0 to"),
        ("shelf_life_days = 7", "shelf_life_days = 0.5", 7, "shelf_life_days", "whole days"),
        ('supplier_code = "M-7"', 'supplier_code = "M\\n7"', 4, "supplier_code", "line of text"),
        ('supplier_code = "M-7"', 'supplier = "M7"', 4, "milk.supplier", "not a field here"),
    ],
)
def test_what_cannot_be_is_named_with_file_line_and_field(
    old: str, new: str, line: int, field: str, says: str
) -> None:
    assert old in MILK
    with pytest.raises(FormulaError) as caught:
        read(MILK.replace(old, new, 1))
    assert caught.value.where.startswith(f"ingredients.toml, line {line}, ")
    assert caught.value.where.endswith(field)
    assert says in str(caught.value)


def test_a_composition_is_a_table() -> None:
    with pytest.raises(FormulaError, match="must be a table"):
        read('[ingredients.milk]\nname = "Milk"\ncomposition = 3\n')


def test_where_every_part_is_given_they_make_up_the_whole() -> None:
    parts = "water = 50\nfat = 0\nmsnf = 0\nwhey_solids = 0\nstabiliser = 0\nother_solids = 0\n"
    rest = "alcohol = 0\nsalt = 0\nsugars = {}\n"
    with pytest.raises(FormulaError, match="add up to only 50 g"):
        read(f'[ingredients.milk]\nname = "Milk"\n[ingredients.milk.composition]\n{parts}{rest}')


def test_tables_may_be_rounded() -> None:
    """Printed rows add up to a little more or less than 100 g."""
    over = MILK.replace("water = 88.1", "water = 88.2")
    under = MILK.replace("water = 88.1", "water = 87.7")
    assert read(over).parts_g == Decimal("100.1")
    assert (read(under).left_g, read(under).missing) == (0, ())
    short = read(MILK.replace("water = 88.1", "water = 87"))
    assert short.left_g == Decimal("1.1")
    assert short.missing == ("whey_solids", "stabiliser", "other_solids", "alcohol", "salt")


KEYS = st.sampled_from((*FIELDS, *PARTS, *OF_WHICH, "sugars", "sucrose", "unspecified", "x"))
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.decimals(0, 100, places=2).map(str),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(KEYS, inner, max_size=5),
    max_leaves=12,
)


def no(path: object, message: str, code: str) -> FormulaError:
    return FormulaError(code, message, where=str(path))


@given(st.dictionaries(KEYS, VALUES, max_size=6))
def test_no_table_breaks_it(table: dict[str, Any]) -> None:
    try:
        facts = read_facts(table, (), no)
    except FormulaError as error:
        assert error.message
    else:
        row_of(facts)
        if facts is not None:
            assert from_content(facts.content()).content() == facts.content()


@given(VALUES)
def test_no_record_breaks_it(value: Any) -> None:
    content = read_formula(PLAIN, "pear-ice.toml").content()
    content["additions"][0]["composition"] = value
    try:
        formula = from_record(content)
    except FormulaError as error:
        assert error.code == "bad-formula-content"
    else:
        row_of(formula.additions[0].ingredient.facts)


@pytest.mark.parametrize("value", ["1E-999999", "NaN", "-1", 3.25, None])
def test_a_record_holds_plain_numbers(value: object) -> None:
    content = read_formula(PLAIN, "pear-ice.toml").content()
    for composition in ({"fat": value}, {"density_g_ml": value}, {"sugars": {"sucrose": value}}):
        content["additions"][0]["composition"] = composition
        if value is None and "density_g_ml" in composition:
            continue
        with pytest.raises(FormulaError, match="cannot be read"):
            from_record(content)


PLAIN = """\
name = "Pear ice"
[ingredients.pear]
name = "Pear purée"
[[additions]]
ingredient = "pear"
target = "1.2 kg"
tolerance = "1 %"
"""


def test_a_formula_without_facts_is_what_it_was() -> None:
    """The revision of a formula without facts, kept from before there were any."""
    formula = read_formula(PLAIN, "pear-ice.toml")
    content = formula.content()
    assert set(content) == {"id", "name", "note", "scenario", "cautions", "additions"}
    assert set(content["additions"][0]) == {
        "ingredient",
        "name",
        "allergens",
        "caution",
        "target_g",
        "tolerance",
    }
    assert formula.revision == revision_of(content) == "f124ec42f39e"
    assert formula.additions[0].ingredient == Ingredient("pear", "Pear purée")


def test_the_same_number_written_otherwise_is_the_same_formula() -> None:
    one = PLAIN.replace('"Pear purée"', '"Pear purée"\ncomposition = { water = 80, fat = 0.30 }')
    other = one.replace("0.30", '"0,3"').replace("= 80,", "= 80.0,")
    assert read_formula(one, "a.toml").revision == read_formula(other, "a.toml").revision


def test_nor_do_price_code_or_shelf_life_change_it() -> None:
    priced = PLAIN.replace('"Pear purée"', '"Pear purée"\ncost_per_kg = 3\nsupplier_code = "P"')
    formula = read_formula(priced, "pear-ice.toml")
    assert formula.revision == "f124ec42f39e"
    assert formula.additions[0].ingredient.facts is not None


def test_the_class_of_product_is_part_of_a_formula() -> None:
    formula = read_formula(f'kind = "sorbet"\n{PLAIN}', "pear-ice.toml")
    assert formula.kind == "sorbet"
    assert formula.content()["kind"] == "sorbet"
    assert formula.scaled(Decimal(600)).kind == "sorbet"
    assert formula.revision != "f124ec42f39e"


@pytest.mark.parametrize("value", ["NaN", "Infinity", "-Infinity", "sNaN"])
def test_what_is_no_number_is_no_amount(value: str) -> None:
    with pytest.raises(FactError, match="is not an amount"):
        checked(Facts((("fat", Decimal(value)),)))
