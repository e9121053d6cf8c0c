"""Lists as people write them: what is taken is what was meant, and what is not is told."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.facts import Facts
from weighd.domain.formula import Ingredient, read_amount
from weighd.domain.pasted import LONGEST_TEXT, Line, Outcome, read_pasted

KNOWN = {
    one.id: one
    for one in (
        Ingredient("buttermilk", "Buttermilk"),
        Ingredient("cream-30", "Cream, 30 % fat"),
        Ingredient("cream-36", "Cream, 36 % fat"),
        Ingredient("sugar", "Sugar (sucrose)"),
        Ingredient("salt", "Sea salt"),
        Ingredient("egg-yolk", "Egg yolk"),
        Ingredient("cloves", "Cloves"),
        Ingredient("creme", "Crème fraîche"),
        Ingredient("water", "Water", facts=Facts(density_g_ml=Decimal("0.998"))),
    )
}


def line(text: str) -> Line:
    (read,) = read_pasted(text, KNOWN).lines
    return read


@pytest.mark.parametrize(
    ("text", "ingredient", "amount"),
    [
        ("820 g buttermilk", "buttermilk", "820 g"),
        ("820g Buttermilk", "buttermilk", "820 g"),
        ("Buttermilk 820 g", "buttermilk", "820 g"),
        ("buttermilk: 0.82 kg", "buttermilk", "0.82 kg"),
        ("1,5 kg buttermilk (cold)", "buttermilk", "1.5 kg"),
        ("- 250 g of the sugar, sifted", "sugar", "250 g"),
        ("\u2022 250 grams sucrose sugar", "", ""),
        ("3) egg yolk 80 g", "egg-yolk", "80 g"),
        ("[ ] 80 g egg-yolk", "egg-yolk", "80 g"),
        ("\u00bd lb sugar", "sugar", "0.5 lb"),
        ("1 \u00bd oz sea salt", "salt", "1.5 oz"),
        ("1 1/4 lb sugar", "sugar", "1.25 lb"),
        ("1.234,5 g sugar", "sugar", "1234.5 g"),
        ("1,234.5 g sugar", "sugar", "1234.5 g"),
        ("12'500 g sugar", "sugar", "12500 g"),
        ("12\u202f500 g sugar", "sugar", "12500 g"),
        ("1.250 kg sugar", "sugar", "1.250 kg"),
        ("0,125 kg sugar", "sugar", "0.125 kg"),
        ("sugar\t120\tg", "sugar", "120 g"),
        ("sugar;120;g", "sugar", "120 g"),
        ("| sugar | 120 g |", "sugar", "120 g"),
        ("sugar ...... 120 g", "sugar", "120 g"),
        ("Sugar \u2013 120 g", "sugar", "120 g"),
        ("\uff12\uff10\uff10 g Sugar", "sugar", "200 g"),
        ("cream 36 % fat 300 g", "cream-36", "300 g"),
        ("120 g CREME FRAICHE", "creme", "120 g"),
        ("250 mg sea salt", "salt", "250 mg"),
        ("cloves 3 g", "cloves", "3 g"),  # the spice, and weighed: nobody counts them
        ("12 g cloves, ground", "cloves", "12 g"),
    ],
)
def test_a_line_is_taken_for_what_it_says(text: str, ingredient: str, amount: str) -> None:
    read = line(text)
    assert (read.ingredient, read.amount if ingredient else "") == (ingredient, amount)
    assert (read.outcome is Outcome.TAKEN) == bool(ingredient)
    if ingredient:
        assert read.amount_g == read_amount(amount)
        assert read.why == ""


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("2 cups buttermilk", '"cups" does not repeat'),
        ("1/2 tsp sea salt", '"tsp" does not repeat'),
        ("sea salt, a pinch", '"pinch" does not repeat'),
        ("cloves 30", '"cloves" does not repeat'),
        ("Sheets of gelatine: 25", '"Sheets" does not repeat'),
        ("a pinch of sea salt, 2 g", 'called "a pinch of sea salt"'),
        ("buttermilk to taste", "No amount stands beside it"),
        ("buttermilk", "No amount stands beside it"),
        ("1,000 g sugar", "may be 1000 or 1 and a fraction"),
        ("1.000 g sugar", "may be 1000 or 1 and a fraction"),
        ("1,2,3 g sugar", "no number that can be read"),
        ("10-12 g sea salt", "A range"),
        ("10 to 12 g sea salt", "A range"),
        ("100 g buttermilk and 50 g sugar", "More than one amount"),
        ("3 egg yolk", "may be a count"),
        ("\u00bd egg yolk", "may be a count"),
        ("8 % sugar", "A share, not an amount"),
        ("-5 g sea salt", "A minus"),
        ("sugar \u22125 g", "A minus"),
        ("0 g sugar", "No amount that can be weighed"),
        ("2000 kg sugar", "No amount that can be weighed"),
        ("120 ml buttermilk", "the density of Buttermilk is not known"),
        ("120 g", "An amount without an ingredient"),
        ("sugar 100 g \u00b10 g", "is zero"),
        ("120 g unobtainium", 'called "unobtainium"'),
        ("300 g cream", "not said in full"),
        ("1e3 g sugar", "No amount in grams"),
    ],
)
def test_what_may_be_meant_otherwise_is_left_to_the_cook(text: str, why: str) -> None:
    read = line(text)
    assert read.outcome is Outcome.NOT_UNDERSTOOD
    assert why in read.why
    assert read.why.endswith(".")


def test_what_is_taken_with_a_grain_of_salt_says_so() -> None:
    assert line("sugar 250").why == "No unit: taken for grams."
    assert line("250 sugar").why == "No unit: taken for grams."
    assert line("5 gr sea salt").why == '"gr" taken for grams.'
    water = line("1 l water")
    assert (water.amount, water.why) == ("998 g", "1 l at 0.998 g/mL.")


def test_a_name_that_only_resembles_is_offered() -> None:
    assert line("80 g egg yolks").offered == ("egg-yolk",)
    assert line("80 g buttermlik").offered == ("buttermilk",)
    assert line("300 g cream").offered == ("cream-30", "cream-36")
    (read,) = read_pasted("300 ml cream", KNOWN, {"cream": "cream-36"}).lines
    assert (read.ingredient, "density of Cream, 36 % fat" in read.why) == ("cream-36", True)
    (read,) = read_pasted("300 g cream", KNOWN, {"cream": "cream-36"}).lines
    assert (read.outcome, read.ingredient) == (Outcome.TAKEN, "cream-36")
    (read,) = read_pasted("300 g cream", KNOWN, {"cream": "gone"}).lines
    assert read.outcome is Outcome.NOT_UNDERSTOOD
    twins = {one: Ingredient(one, "Sugar") for one in ("beet", "cane")}
    (read,) = read_pasted("10 g sugar", twins).lines
    assert (read.outcome, read.offered) == (Outcome.NOT_UNDERSTOOD, ("beet", "cane"))


@pytest.mark.parametrize("tolerance", ["2 g", "1 %", "+1 / -2 g"])
def test_a_tolerance_stands_where_it_is_written(tolerance: str) -> None:
    sign = "" if tolerance.startswith("+") else "\u00b1 "
    read = line(f"Buttermilk 410 g {sign}{tolerance}")
    assert (read.outcome, read.amount, read.tolerance) == (Outcome.TAKEN, "410 g", tolerance)


def test_a_whole_list() -> None:
    read = read_pasted(
        "Buttermilk ice, for 1 kg\n\nFor the base:\n820 g buttermilk\n180 g sugar\n---\n"
        "Total: 1000 g\n"
        "Freeze it at once and serve it within a week.",
        KNOWN,
    )
    assert [(one.n, one.outcome) for one in read.lines] == [
        (1, Outcome.LEFT_OUT),
        (3, Outcome.LEFT_OUT),
        (4, Outcome.TAKEN),
        (5, Outcome.TAKEN),
        (6, Outcome.LEFT_OUT),
        (7, Outcome.LEFT_OUT),
        (8, Outcome.LEFT_OUT),
    ]
    assert (read.sum_g, read.taken_g) == (1000, 1000)


def test_no_more_than_a_list() -> None:
    for text in ("x" * (LONGEST_TEXT + 1), "820 g buttermilk\n" * 500):
        with pytest.raises(ValueError, match="a list has up to"):
            read_pasted(text, KNOWN)


@given(st.text(max_size=60))
def test_any_text_is_read_and_what_is_taken_can_be_weighed(text: str) -> None:
    read = read_pasted(text, KNOWN)
    for one in read.lines:
        assert one.text
        if one.outcome is Outcome.TAKEN:
            assert one.ingredient in KNOWN
            assert read_amount(one.amount) == one.amount_g
        else:
            assert one.why


@given(
    st.sampled_from(["buttermilk", "sugar", "salt", "cream-30", "egg-yolk"]),
    st.decimals("0.01", "99999", places=2),
    st.sampled_from(["{a} g {n}", "{n} {a} g", "{n}: {a}g", "* {n}, {a} g", "{n}\t{a}\tg"]),
)
def test_whatever_is_written_plainly_comes_back(
    ingredient: str, amount: Decimal, form: str
) -> None:
    read = line(form.format(a=f"{amount:f}", n=KNOWN[ingredient].name))
    assert (read.outcome, read.ingredient, read.amount_g) == (Outcome.TAKEN, ingredient, amount)


def test_a_volume_of_something_unknown_is_offered_to_be_reckoned_later() -> None:
    read = line("100 ml unobtainium")
    assert read.outcome is Outcome.NOT_UNDERSTOOD
    assert "once the ingredient is known" in read.why


def test_thousands_marked_twice_are_one_number() -> None:
    # 1,234,567 mg and 1.234.567 mg can be read in one way only
    for text in ("1,234,567 mg sugar", "1.234.567 mg sugar"):
        assert (line(text).outcome, line(text).amount_g) == (Outcome.TAKEN, Decimal("1234.567"))
    for text in ("1,23,456 mg sugar", "1.234,56,7 g sugar", "12,34.5 g sugar", "1.23.4,5 g sugar"):
        assert line(text).outcome is Outcome.NOT_UNDERSTOOD
