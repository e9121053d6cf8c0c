"""What may stand in for an ingredient: how rules are read, and when they contradict."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.errors import FormulaError
from weighd.domain.formula_text import read_formula, read_ingredients
from weighd.domain.ingredient_csv import as_toml
from weighd.domain.substitutes import MOST_RULES, Substitute, contradiction

# "Extract at about half the amount of paste": common practice, no source.
PANTRY = """\
[ingredients.paste]
name = "Paste"
[[ingredients.paste.instead]]
ingredient = "extract"
ratio = "0,5"
note = "Stronger."
source = "common practice, no source"

[ingredients.extract]
name = "Extract"
[[ingredients.extract.instead]]
ingredient = "paste"
ratio = 2

[ingredients.pod]
name = "Pod"
shelf_life_opened_days = 30
"""


def test_rules_are_read_and_written_as_the_same() -> None:
    read = read_ingredients(PANTRY, "ingredients.toml")
    assert read["paste"].instead == (
        Substitute("extract", Decimal("0.5"), "Stronger.", "common practice, no source"),
    )
    assert read["extract"].instead == (Substitute("paste", Decimal(2)),)
    assert read["pod"].facts is not None
    assert read["pod"].facts.shelf_life_opened_days == 30
    assert read_ingredients(as_toml(read), "ingredients.toml") == read


def rules(*triples: tuple[str, str, str]) -> dict[str, list[Substitute]]:
    out: dict[str, list[Substitute]] = {one: [] for each in triples for one in each[:2]}
    for one, other, ratio in triples:
        out[one].append(Substitute(other, Decimal(ratio)))
    return out


@pytest.mark.parametrize(
    "agreeing",
    [
        rules(("a", "b", "0.5"), ("b", "a", "2")),
        rules(("a", "b", "0.33"), ("b", "a", "3.03")),  # 0.9999: within a hundredth
        rules(("a", "b", "0.5"), ("b", "c", "4"), ("c", "a", "0.5")),
        rules(("a", "b", "0.5"), ("b", "c", "9"), ("a", "c", "7")),  # no way back: no circle
        rules(("a", "b", "2"), ("c", "d", "5")),
    ],
)
def test_circles_that_agree_are_no_contradiction(agreeing: dict[str, list[Substitute]]) -> None:
    assert contradiction(agreeing) is None


@pytest.mark.parametrize(
    ("clashing", "product"),
    [
        (rules(("a", "b", "0.5"), ("b", "a", "1.5")), "0.75"),
        (rules(("a", "b", "0.5"), ("b", "a", "2.03")), "1.015"),
        (rules(("a", "b", "0.5"), ("b", "c", "4"), ("c", "a", "1")), "2"),
        # Every pair agrees with itself; only round all three the ratios do not fit.
        (
            rules(
                ("x", "y", "2"),
                ("y", "x", "0.5"),
                ("y", "z", "2"),
                ("z", "y", "0.5"),
                ("z", "x", "0.5"),
                ("x", "z", "2"),
            ),
            "2",
        ),
    ],
)
def test_circles_that_do_not_agree_are_named(
    clashing: dict[str, list[Substitute]], product: str
) -> None:
    found = contradiction(clashing)
    assert found is not None
    assert found.way[0] == found.way[-1]
    assert float(found.product) in (float(product), 1 / float(product))
    assert found.product == _along(clashing, found.way)
    assert found.way[0] in str(found)


def _along(given: dict[str, list[Substitute]], way: tuple[str, ...]) -> Decimal:
    out = Decimal(1)
    for one, other in pairwise(way):
        out *= next(each.ratio for each in given[one] if each.ingredient == other)
    return out


@given(
    st.lists(st.integers(1, 50), min_size=2, max_size=7),
    st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), max_size=20, unique=True),
)
def test_rules_made_of_strengths_never_contradict_and_one_bent_in_a_circle_does(
    strengths: list[int], pairs: list[tuple[int, int]]
) -> None:
    names = [f"i{n}" for n in range(len(strengths))]
    given_rules: dict[str, list[Substitute]] = {one: [] for one in names}
    circle = [(n, (n + 1) % len(names)) for n in range(len(names))]
    for one, other in dict.fromkeys((*circle, *pairs)):
        if one != other and max(one, other) < len(names):
            ratio = Decimal(strengths[one]) / Decimal(strengths[other])
            given_rules[names[one]].append(Substitute(names[other], ratio))
    assert contradiction(given_rules) is None
    first = given_rules[names[0]][0]
    given_rules[names[0]][0] = Substitute(first.ingredient, first.ratio * Decimal("1.3"))
    assert contradiction(given_rules) is not None


@pytest.mark.parametrize(
    ("old", "new", "field", "says"),
    [
        ('ratio = "0,5"', "ratio = 0", "paste.instead[1].ratio", "from 0.001 to 1000"),
        ('ratio = "0,5"', "ratio = -1", "paste.instead[1].ratio", "from 0.001 to 1000"),
        ('ratio = "0,5"', "ratio = nan", "paste.instead[1].ratio", "not a plain number"),
        ('ratio = "0,5"', "", "paste.instead[1].ratio", "missing"),
        ('ratio = "0,5"', "ratio = 1.5", "instead[1].ratio", "contradict"),
        ('"extract"\nratio', '"essence"\nratio', "paste.instead[1].ingredient", "no ingredient"),
        ('"extract"\nratio', '"paste"\nratio', "paste.instead[1].ingredient", "for itself"),
        ('"extract"\nratio', "3\nratio", "paste.instead[1].ingredient", "line of text"),
        ("note =", "hint =", "paste.instead[1].hint", "not a field"),
        ("[[ingredients.paste.instead]]", "[ingredients.paste.instead]", "paste.instead", "list"),
        (
            "[ingredients.extract]",
            '[[ingredients.paste.instead]]\ningredient = "extract"\nratio=1\n[ingredients.extract]',
            "paste.instead[2].ingredient",
            "two rules",
        ),
    ],
)
def test_what_is_wrong_with_a_rule_is_named(old: str, new: str, field: str, says: str) -> None:
    assert PANTRY.count(old) == 1
    with pytest.raises(FormulaError) as caught:
        read_ingredients(PANTRY.replace(old, new), "ingredients.toml")
    assert field in caught.value.where
    assert says in caught.value.message


def test_a_formulas_own_rules_are_held_against_the_kitchens() -> None:
    kitchen = read_ingredients(PANTRY, "ingredients.toml")
    text = """
name = "Ice"
[ingredients.pod]
name = "Pod"
[[ingredients.pod.instead]]
ingredient = "paste"
ratio = 3
[[additions]]
ingredient = "pod"
target = "5 g"
tolerance = "1 g"
"""
    formula = read_formula(text, "ice.toml", kitchen)
    assert formula.additions[0].ingredient.instead[0].ratio == 3
    # The kitchen takes paste for extract at 2; here extract for paste at 1: round both that is 2.
    own = """
[ingredients.paste]
name = "Another paste"
[[ingredients.paste.instead]]
ingredient = "extract"
ratio = 1
"""
    with pytest.raises(FormulaError, match="contradict") as caught:
        read_formula(text.replace("\n[[additions]]", f"{own}[[additions]]"), "ice.toml", kitchen)
    assert caught.value.code == "circular-substitutes"


def test_no_more_rules_than_anybody_looks_through() -> None:
    rule = '[[ingredients.paste.instead]]\ningredient = "extract"\nratio = 1\n'
    with pytest.raises(FormulaError, match=f"more than {MOST_RULES} rules"):
        read_ingredients(
            "[ingredients.paste]\nname = 'P'\n" + rule * (MOST_RULES + 1), "ingredients.toml"
        )


def test_a_rule_names_what_stands_in() -> None:
    with pytest.raises(FormulaError, match="missing or empty") as caught:
        read_ingredients(PANTRY.replace('"extract"\nratio', '" "\nratio'), "ingredients.toml")
    assert "paste.instead[1].ingredient" in caught.value.where
