"""Formula files: what is read, and how a wrong one is told."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.errors import FormulaError
from weighd.domain.formula import (
    BY_DIFFERENCE,
    from_content,
    is_by_difference,
    read_amount,
    read_tolerance,
)
from weighd.domain.formula_text import read_formula, read_ingredients

GOOD = """\
name = "Pear ice"
[ingredients.pear]
name = "Pear purée"
[ingredients.sugar]
name = "Sugar"
allergens = ["nuts (almond)"]

[[additions]]
ingredient = "pear"
target = "1.2 kg"
tolerance = "1 %"

[[additions]]
ingredient = "sugar"
target = "300 g"
tolerance = "+1 / -2 g"
"""


def read(text: str, file: str = "pear-ice.toml"):  # type: ignore[no-untyped-def]
    return read_formula(text, file)


def test_a_formula_is_read_with_its_bands() -> None:
    formula = read(GOOD)
    assert (formula.id, formula.name, formula.batch_g) == ("pear-ice", "Pear ice", Decimal(1500))
    assert [one.band for one in formula.additions] == [
        (Decimal(1188), Decimal(1212)),
        (Decimal(298), Decimal(301)),
    ]
    assert formula.allergens == ("nuts (almond)",)


@pytest.mark.parametrize(
    ("old", "new", "code", "line", "field"),
    [
        ('target = "300 g"', 'target = "-300 g"', "bad-amount", 15, "additions[2].target"),
        ('target = "300 g"', 'target = "0 g"', "bad-amount", 15, "additions[2].target"),
        ('target = "300 g"', 'target = "2 cups"', "bad-amount", 15, "additions[2].target"),
        ('target = "300 g"', 'target = "300"', "bad-amount", 15, "additions[2].target"),
        ('target = "300 g"', 'target = "9999 kg"', "bad-amount", 15, "additions[2].target"),
        ('target = "300 g"', "target = 300", "bad-field", 15, "additions[2].target"),
        ('tolerance = "1 %"', 'tolerance = "0 g"', "bad-tolerance", 11, "additions[1].tolerance"),
        ('tolerance = "1 %"', 'tolerance = "0 %"', "bad-tolerance", 11, "additions[1].tolerance"),
        ('tolerance = "1 %"', 'tolerance = "150 %"', "bad-tolerance", 11, "additions[1].tolerance"),
        ('tolerance = "1 %"', 'tolerance = "5"', "bad-tolerance", 11, "additions[1].tolerance"),
        ('tolerance = "1 %"', 'tolerance = "2 kg"', "bad-tolerance", 11, "additions[1].tolerance"),
        ('ingredient = "sugar"', 'ingredient = "salt"', "unknown-ingredient", 14, "ingredient"),
        ('tolerance = "1 %"', 'tolerence = "1 %"', "unknown-field", 11, "additions[1].tolerence"),
        ('name = "Pear ice"', 'name = ""', "missing-field", 1, "name"),
        ('name = "Pear ice"', 'nam = "Pear ice"', "unknown-field", 1, "nam"),
        ('name = "Sugar"', 'name = "Su\\u0007gar"', "bad-field", 5, "ingredients.sugar.name"),
        ("[ingredients.pear]", '[ingredients."Pear 1"]', "bad-field", 2, "Pear 1"),
    ],
)
def test_a_wrong_field_is_named_with_file_line_and_field(
    old: str, new: str, code: str, line: int, field: str
) -> None:
    with pytest.raises(FormulaError) as caught:
        read(GOOD.replace(old, new))
    assert caught.value.code == code
    assert f"pear-ice.toml, line {line}" in caught.value.where
    assert field in caught.value.where
    assert "pear-ice.toml" in str(caught.value)


def test_toml_that_does_not_parse_is_named_with_its_line() -> None:
    with pytest.raises(FormulaError) as caught:
        read(GOOD.replace('target = "1.2 kg"', 'target = "1.2 kg'))
    assert caught.value.code == "not-toml"
    assert "line 10" in caught.value.where


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing but a comment\n"])
def test_an_empty_file_is_told(text: str) -> None:
    with pytest.raises(FormulaError) as caught:
        read(text)
    assert caught.value.code == "empty-formula"


@pytest.mark.parametrize(
    "junk", ["x" * 2_000_000, "[" * 50_000, "a = 1\n" * 40_000, "\x00\x01\x02" * 1000]
)
def test_junk_is_refused_with_a_formula_error(junk: str) -> None:
    with pytest.raises(FormulaError):
        read(junk)


def test_markup_in_a_name_is_only_text() -> None:
    name = "<script>alert(1)</script>"
    assert read(GOOD.replace("Pear ice", name)).name == name


@pytest.mark.parametrize("file", ["../etc.toml", "a b.toml", "Ä.toml", ".toml"])
def test_a_file_name_that_cannot_be_an_identity_is_refused(file: str) -> None:
    if file == "../etc.toml":
        assert read(GOOD, file).id == "etc"  # only the last part names it, never a path
        return
    with pytest.raises(FormulaError) as caught:
        read(GOOD, file)
    assert caught.value.code == "bad-file-name"


def test_the_revision_follows_the_content_and_nothing_else() -> None:
    base = read(GOOD).revision
    assert read("# a comment\n" + GOOD.replace("\n\n", "\n\n\n")).revision == base
    assert read(GOOD, "renamed.toml").revision == base
    assert read(GOOD.replace('"300 g"', '"0.3 kg"')).revision == base
    for old, new in [
        ('"300 g"', '"301 g"'),
        ('"1 %"', '"1.5 %"'),
        ("Pear ice", "Pear ices"),
        ("almond", "hazelnut"),
    ]:
        assert read(GOOD.replace(old, new)).revision != base


def test_content_gives_the_formula_back() -> None:
    formula = read(GOOD)
    again = from_content(formula.content())
    assert again == formula
    assert again.revision == formula.revision
    with pytest.raises(FormulaError):
        from_content({"name": "half"})


def test_ingredients_come_from_a_list_too() -> None:
    larder = read_ingredients('[ingredients.salt]\nname = "Salt"\n', "ingredients.toml")
    text = GOOD + '[[additions]]\ningredient = "salt"\ntarget = "2 g"\ntolerance = "0.2 g"\n'
    formula = read_formula(text, "pear-ice.toml", larder)
    assert formula.additions[-1].ingredient.name == "Salt"


def test_scaling_keeps_ratios_order_and_revision() -> None:
    formula = read(GOOD)
    half = formula.scaled(Decimal(750))
    assert [one.target_g for one in half.additions] == [Decimal(600), Decimal(150)]
    assert half.additions[0].band == (Decimal(594), Decimal(606))  # a relative band follows
    assert half.additions[1].band == (Decimal(148), Decimal(151))  # an absolute one does not
    assert half.revision == formula.revision
    assert formula.scaled(formula.batch_g) is formula


@given(st.decimals("100", "100000", places=1))
def test_scaled_amounts_add_up_to_the_batch(batch: Decimal) -> None:
    scaled = read(GOOD).scaled(batch)
    assert abs(scaled.batch_g - batch) <= Decimal("0.01") * len(scaled.additions)
    ratio = scaled.additions[0].target_g / scaled.additions[1].target_g
    assert abs(ratio - 4) < Decimal("0.01")


@pytest.mark.parametrize("size", ["0", "-5", "3", "2000000"])
def test_a_batch_size_that_cannot_be_made_is_refused(size: str) -> None:
    with pytest.raises(FormulaError) as caught:
        read(GOOD).scaled(Decimal(size))
    assert caught.value.code == "bad-batch-size"


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("2 g", "98", "102"),
        ("±2 g", "98", "102"),
        ("+/- 2 g", "98", "102"),
        ("1 %", "99", "101"),
        ("1,5 %", "98.5", "101.5"),
        ("+1 / -2 g", "98", "101"),
        ("+1 g / -2 %", "98", "101"),
        ("+0.5 % / -2 g", "98", "100.5"),
        ("1 %, at least 3 g", "97", "103"),
        ("5 %, at least 3 g", "95", "105"),
        ("+1 / −2 g", "98", "101"),
        ("500 mg", "99.5", "100.5"),
    ],
)
def test_tolerances_are_read(text: str, low: str, high: str) -> None:
    assert read_tolerance(text).band(Decimal(100)) == (Decimal(low), Decimal(high))


@pytest.mark.parametrize("text", ["", "g", "about 2 g", "+1 / +2 g", "-1 g", "2 g 3 g", "2 gr%"])
def test_what_is_no_tolerance_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"tolerance|unit"):
        read_tolerance(text)


@pytest.mark.parametrize(
    ("text", "grams"), [("1.2 kg", "1200"), ("12g", "12"), ("1 lb", "453.59237"), ("0,5 g", "0.5")]
)
def test_amounts_are_read_exactly(text: str, grams: str) -> None:
    assert read_amount(text) == Decimal(grams)


def test_a_carrier_is_another_ingredient_of_the_formula() -> None:
    pear = GOOD.replace('tolerance = "1 %"', 'tolerance = "1 %"\ncarrier = "sugar"')
    formula = read(pear)
    assert formula.additions[0].carrier == "sugar"
    assert from_content(formula.content()) == formula
    assert formula.revision != read(GOOD).revision
    assert "carrier" not in read(GOOD).content()["additions"][0], "as it was before carriers"
    for wrong in ("pear", "salt"):
        with pytest.raises(FormulaError) as caught:
            read(pear.replace('carrier = "sugar"', f'carrier = "{wrong}"'))
        assert caught.value.code == "unknown-carrier"
        assert caught.value.where == "pear-ice.toml, line 12, additions[1].carrier"


PRODUCT = """
[product]
keeps_days = 30
storage = "below -18 °C"
gtin = "09501101530003"
"""


def test_what_a_formula_makes_keeps_and_is_stored() -> None:
    from weighd.domain.formula_writing import formula_toml

    plain = read_formula(FORMULA_WITH_PRODUCT.replace(PRODUCT, ""), "ice.toml")
    told = read_formula(FORMULA_WITH_PRODUCT, "ice.toml")
    assert "product" not in plain.content()  # a formula without is the revision it was
    assert told.content()["product"] == {
        "keeps_days": 30,
        "storage": "below -18 °C",
        "gtin": "09501101530003",
    }
    assert told.revision != plain.revision
    assert from_content(told.content()) == told
    assert read_formula(formula_toml(told), "ice.toml") == told


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ("keeps_days = -1", "product.keeps_days"),
        ("keeps_days = 1.5", "product.keeps_days"),
        ("keeps_days = true", "product.keeps_days"),
        ('gtin = "09501101530004"', "product.gtin"),  # its check digit should be 3
        ('gtin = "950"', "product.gtin"),
        ("storage = 5", "product.storage"),
        ('colour = "red"', "product.colour"),
    ],
)
def test_what_is_wrong_with_a_product_is_named(line: str, field: str) -> None:
    with pytest.raises(FormulaError) as caught:
        read_formula(
            FORMULA_WITH_PRODUCT.replace("keeps_days = 30", line, 1)
            .replace(
                'gtin = "09501101530003"\n',
                "" if line.startswith("gtin") else 'gtin = "09501101530003"\n',
            )
            .replace('storage = "below -18 °C"\n', ""),
            "ice.toml",
        )
    assert field in caught.value.where


FORMULA_WITH_PRODUCT = f"""
name = "Ice"
{PRODUCT}
[ingredients.milk]
name = "Milk"
[[additions]]
ingredient = "milk"
target = "500 g"
tolerance = "1 %"
"""


def test_a_product_is_a_table() -> None:
    with pytest.raises(FormulaError, match="must be a table") as caught:
        read_formula("product = 3\n" + FORMULA_WITH_PRODUCT.replace(PRODUCT, ""), "ice.toml")
    assert "product" in caught.value.where


def test_only_two_ways_of_weighing_are_known() -> None:
    assert is_by_difference(BY_DIFFERENCE)
    assert not is_by_difference("")
    with pytest.raises(ValueError, match="is not a way of weighing"):
        is_by_difference("by ear")
