"""What a mix holds: laws of sums, and what becomes of what is missing."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.domain.mixes import OWN, SUCROSE, WATER, Mix, dairy, grams, made_of
from weighd.domain.composition import Amount, Composition, compose, of_formula
from weighd.domain.contents import KEYS, UNKNOWN, row_of
from weighd.domain.facts import OF_WHICH, PARTS, Facts, checked
from weighd.domain.formula import Ingredient, from_content
from weighd.domain.formula_text import read_formula
from weighd.domain.freezing import freezing
from weighd.domain.sugars import KINDS

PARTITION = (*PARTS, *(f"sugars.{kind}" for kind in KINDS))
HALF = Decimal("0.005")


@st.composite
def known(draw: st.DrawFn) -> Facts:
    """Facts without a gap: parts in whole hundredths that add up to 100 g."""
    names = draw(st.lists(st.sampled_from(PARTITION), min_size=1, max_size=6, unique=True))
    cuts = draw(
        st.lists(st.integers(0, 10000), min_size=len(names) - 1, max_size=len(names) - 1).map(
            sorted
        )
    )
    ends = [0, *cuts, 10000]
    shares = [Decimal(high - low) / 100 for low, high in pairwise(ends)]
    parts = dict(zip(names, shares, strict=True))
    return checked(
        Facts(
            tuple((key, value) for key, value in parts.items() if key in PARTS),
            tuple((key[7:], value) for key, value in parts.items() if key not in PARTS),
        )
    )


@st.composite
def partly(draw: st.DrawFn) -> tuple[Facts, Facts]:
    """Facts without a gap, and the same with some of them forgotten."""
    whole = draw(known())
    kept = tuple(one for one in whole.stated if draw(st.booleans()))
    sugars = whole.sugars if draw(st.booleans()) else None
    return whole, checked(Facts(kept, sugars))


masses = st.integers(1, 500000).map(lambda n: Decimal(n) / 100)


def mixes(facts: st.SearchStrategy[Facts]) -> st.SearchStrategy[Mix]:
    one = st.builds(
        lambda n, each, mass: (Ingredient(f"i{n}", f"I{n}", facts=each), mass),
        st.integers(0, 99),
        facts,
        masses,
    )
    return st.lists(one, min_size=1, max_size=8)


def low(mix: Composition) -> dict[str, Decimal]:
    return {key: mix.of(key).low for key in KEYS if key != "cost"}


@given(mixes(known()))
def test_the_parts_add_up_to_the_whole(mix: Mix) -> None:
    composed = compose(mix)
    parts = [composed.of(key) for key in PARTITION]
    assert all(part.known for part in parts)
    assert sum(part.low for part in parts) == composed.mass_g
    solids, water = composed.of("total_solids").low, composed.of("water").low
    assert solids + water + composed.of("alcohol").low == composed.mass_g
    assert composed.of("sugars").low == sum(composed.of(f"sugars.{kind}").low for kind in KINDS)


@given(mixes(known()), st.randoms(use_true_random=False))
def test_the_order_of_additions_does_not_matter(mix: Mix, chance: object) -> None:
    other = list(mix)
    chance.shuffle(other)  # type: ignore[attr-defined]
    assert low(compose(mix)) == low(compose(other))


@given(mixes(known()), st.integers(1, 1000))
def test_twice_as_much_of_each_is_twice_as_much_of_all(mix: Mix, factor: int) -> None:
    times = Decimal(factor) / 10
    scaled = compose([(one, mass * times) for one, mass in mix])
    assert low(scaled) == {key: value * times for key, value in low(compose(mix)).items()}


@given(st.lists(st.tuples(st.sampled_from([one for one, _ in OWN]), masses), min_size=1))
def test_a_mix_of_mixes_is_their_sum(mix: Mix) -> None:
    """Linear: what a solver relies on."""
    apart = [compose([one]) for one in mix]
    together = compose(mix)
    for key in KEYS:
        assert together.of(key).low == sum(one.of(key).low for one in apart)


@given(st.lists(st.tuples(partly(), masses), min_size=1, max_size=6))
def test_what_is_missing_lies_between_the_ends(
    mix: list[tuple[tuple[Facts, Facts], Decimal]],
) -> None:
    """However facts are forgotten, the true amount is never below "at least" or above "at most"."""
    true = compose([(Ingredient("a", "A", facts=whole), mass) for (whole, _), mass in mix])
    told = compose([(Ingredient("a", "A", facts=part), mass) for (_, part), mass in mix])
    # A gap of up to half a gram in 100 counts as rounding, not as missing.
    slack = true.mass_g * HALF
    for key in PARTITION:
        assert told.of(key).low <= true.of(key).low, key
        assert told.of(key).high + slack >= true.of(key).low, key
    for key in ("total_solids", "lactose", "sucrose_equivalent", "sweetness", "milk_salts_c"):
        factor = {"sucrose_equivalent": 3, "sweetness": 2, "milk_salts_c": 3}.get(key, 1)
        assert told.of(key).low - slack * factor <= true.of(key).low, key
        assert told.of(key).high + slack * factor >= true.of(key).high, key


@given(st.lists(st.tuples(partly(), masses), min_size=1, max_size=6))
def test_so_does_the_freezing_point(mix: list[tuple[tuple[Facts, Facts], Decimal]]) -> None:
    parts = [part for (_, part), _ in mix]
    assume(all(part.left_g == 100 - part.parts_g for part in parts))  # no gap taken for rounding
    true = freezing(compose([(Ingredient("a", "A", facts=one), mass) for (one, _), mass in mix]))
    told = freezing(compose([(Ingredient("a", "A", facts=one), mass) for (_, one), mass in mix]))
    if true.thin is None or true.thick is None:
        return
    assert told.thin is not None
    least, most = true.thin.depression(), true.thick.depression()
    if least is not None:
        warmest = told.thin.depression()
        assert warmest is not None
        assert warmest <= least
    coldest = told.thick.depression() if told.thick else None
    if coldest is not None:
        assert most is not None
        assert most <= coldest


@given(mixes(known()))
def test_a_row_does_what_the_sum_does(mix: Mix) -> None:
    """The rows are what a solver takes: grams times row is the sum."""
    composed = compose(mix)
    for key in ("fat", "sucrose_equivalent", "volume_ml"):
        assert composed.of(key).low == sum(
            mass * dict(row_of(one.facts).low).get(key, Decimal(0)) for one, mass in mix
        )


FORMULA = """\
name = "Pear ice"
[ingredients.milk]
name = "Milk"
cost_per_kg = "1,20"
composition = { water = 88.13, fat = 3.25, milk_fat = 3.25, msnf = 8.62, ash = 0.67 }
[ingredients.pear]
name = "Pear purée"
allergens = []
[ingredients.pear.composition]
water = "83,4"
fat = 0.1
[[additions]]
ingredient = "milk"
target = "900 g"
tolerance = "1 %"
[[additions]]
ingredient = "pear"
target = "100 g"
tolerance = "1 %"
"""


def test_a_missing_value_is_named_and_carried_through() -> None:
    mix = of_formula(read_formula(FORMULA, "pear-ice.toml"))
    # 16.5 g of 100 g of the pear are in no stated part.
    assert mix.of("water") == Amount(Decimal("876.57"), Decimal("876.57"))
    sugars = mix.of("sugars")
    assert (sugars.low, sugars.high) == (Decimal(0), Decimal("16.5"))
    assert sugars.missing == (("pear", "sugars"),)
    assert mix.of("msnf").low == Decimal("77.58")
    assert mix.of("msnf").missing == (("pear", "msnf"),)
    solids = mix.of("total_solids")
    # It may be alcohol, so not even the solids are sure.
    assert (solids.low, solids.high) == (Decimal("106.93"), Decimal("123.43"))
    cost = mix.of("cost")
    assert (cost.low, cost.high, cost.missing) == (
        Decimal("1.08"),
        UNKNOWN,
        (("pear", "cost_per_kg"),),
    )
    frozen = freezing(mix)
    assert frozen.thin is not None
    assert frozen.thick is not None
    warmest, coldest = frozen.thin.depression(), frozen.thick.depression()
    assert warmest is not None
    assert coldest is not None
    assert warmest < coldest
    assert "sugars" in mix.missing["pear"]


def test_where_one_part_alone_is_left_out_it_is_the_rest() -> None:
    stated = {part: 0 for part in PARTS if part not in ("water", "fat")}
    one = made_of("cream", water=60, **stated)
    mix = compose(grams((one, 100)))
    assert mix.of("fat") == Amount(Decimal(40), Decimal(40))


def test_an_ingredient_of_which_nothing_is_known_says_so_once() -> None:
    mix = compose([(Ingredient("x", "X"), Decimal(10)), (WATER, Decimal(90))])
    assert set(mix.of("fat").missing) == {("x", "composition")}
    assert mix.missing["x"] == ("composition", "cost_per_kg")
    assert (mix.of("water").low, mix.of("water").high) == (Decimal(90), Decimal(100))


def test_lactose_is_reckoned_from_milk_solids_unless_it_is_stated() -> None:
    usual = compose(grams((dairy("milk", "3.5"), 100)))
    assert usual.of("lactose").low == Decimal("8.685") * Decimal("0.545")
    split = made_of(
        "milk", {"glucose": "2.4", "galactose": "2.4"}, fat=0, msnf=4, lactose=0, water="91.2"
    )
    mix = compose(grams((split, 100)))
    assert mix.of("lactose").low == 0
    assert mix.of("sucrose_equivalent").low == Decimal("4.8") * Decimal("1.9")
    # Its salts are there all the same.
    assert mix.of("milk_salts_c").low == Decimal("9.48")


def test_ash_counts_as_no_energy_and_where_it_is_missing_that_is_said() -> None:
    stated = made_of("milk", msnf=10, ash=1, water=90)
    assert compose(grams((stated, 100))).of("kcal") == Amount(Decimal(36), Decimal(36))
    unstated = compose(grams((made_of("milk", msnf=10, water=90), 100))).of("kcal")
    assert (unstated.low, unstated.high) == (Decimal(0), Decimal(40))
    assert unstated.missing == (("milk", "ash"),)


@pytest.mark.parametrize("mass", ["0", "-1", "NaN", "Infinity"])
def test_no_amount_has_no_composition(mass: str) -> None:
    with pytest.raises(ValueError, match="is not an amount"):
        compose([(SUCROSE, Decimal(mass))])
    with pytest.raises(ValueError, match="nothing"):
        compose([])


def test_every_sum_has_a_name_and_no_other_is_asked_for() -> None:
    mix = compose(OWN)
    with pytest.raises(KeyError):
        mix.of("vitamins")
    assert set(OF_WHICH) < set(KEYS)
    assert set(mix.sums) <= set(KEYS)


def test_a_formula_with_compositions_comes_back_from_its_record() -> None:
    formula = read_formula(FORMULA, "pear-ice.toml")
    back = from_content(formula.content())
    assert back.revision == formula.revision
    assert low(of_formula(back)) == low(of_formula(formula))
    # A price is no part of what a formula is; a composition is.
    dearer = read_formula(FORMULA.replace("1,20", "1.30"), "pear-ice.toml")
    fatter = read_formula(FORMULA.replace("fat = 0.1", "fat = 0.2"), "pear-ice.toml")
    assert dearer.revision == formula.revision
    assert fatter.revision != formula.revision
