"""Two formulas beside each other, against sums that were made another way.

Figures of the invented ices here were worked out by hand, as the comments show; the properties use
``fractions``, which shares nothing with the code that is tried. Compositions of pure water, sucrose
and salt need no source.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.mixes import SALT, SUCROSE, WATER, dairy, made_of
from weighd.domain.against_plan import Told
from weighd.domain.composition import of_formula
from weighd.domain.facts import Facts
from weighd.domain.formula import Addition, Formula, Ingredient, read_tolerance, revision_of
from weighd.domain.formula_beside import beside
from weighd.domain.formula_changes import Changes, How, changes
from weighd.domain.formula_text import read_formula
from weighd.domain.product import Product

MILK = dairy("milk", "3.5")


def ice(*amounts: tuple[Ingredient, object], **more: object) -> Formula:
    """An invented formula of these amounts in grams, each within 1 %."""
    additions = tuple(
        Addition(one, Decimal(str(grams)), read_tolerance("1 %")) for one, grams in amounts
    )
    made = Formula("ice", "Ice", additions, **more)  # type: ignore[arg-type]
    return replace(made, revision=revision_of(made.content()))


def rows(it: Changes) -> list[tuple[str, str, bool, Decimal]]:
    """Each addition: ingredient, what became of it, whether it moved, grams more."""
    return [
        (
            (one.now or one.then).it.ingredient.id,  # type: ignore[union-attr]
            str(one.how),
            one.moved,
            one.grams,
        )
        for one in it.additions
    ]


def test_what_was_added_removed_and_changed_is_told_in_grams_and_shares() -> None:
    then = ice((MILK, 600), (SUCROSE, 150), (WATER, 250))
    now = ice((MILK, 600), (SUCROSE, 180), (SALT, 2), (dairy("cream", 35), 218))
    it = changes(then, now)
    assert rows(it) == [
        ("milk", "same", False, Decimal(0)),
        ("sucrose", "changed", False, Decimal(30)),
        ("water", "removed", False, Decimal(-250)),
        ("salt", "added", False, Decimal(2)),
        ("cream", "added", False, Decimal(218)),
    ]
    # Both batches are 1000 g, so 10 g are one percentage point: 30 g are 3, 250 g are 25.
    assert [one.points for one in it.additions] == [
        Decimal(0), Decimal(3), Decimal(-25), Decimal("0.2"), Decimal("21.8"),
    ]  # fmt: skip
    assert (it.grams, it.nothing, it.only_size) == (Decimal(0), False, False)


def test_the_share_of_what_stayed_changes_with_the_rest() -> None:
    """200 g of 400 g are 50 %; the same 200 g of 500 g are 40 %: 10 points less, and 0 g."""
    it = changes(ice((SUCROSE, 200), (WATER, 200)), ice((SUCROSE, 200), (WATER, 300)))
    sugar, water = it.additions
    assert (sugar.grams, sugar.points, sugar.how) == (Decimal(0), Decimal(-10), How.SAME)
    assert (water.grams, water.points) == (Decimal(100), Decimal(10))


def test_another_size_alone_is_told_as_that() -> None:
    then = ice((SUCROSE, 100), (WATER, 300))
    assert changes(then, ice((SUCROSE, 250), (WATER, 750))).only_size
    assert not changes(then, ice((SUCROSE, 251), (WATER, 750))).only_size
    assert not changes(then, ice((SUCROSE, 250), (WATER, 750), note="Stir.")).only_size
    assert not changes(then, then).only_size


def test_as_few_as_can_be_have_moved() -> None:
    a, b, c, d = (made_of(name, water=100) for name in "abcd")
    then = ice((a, 10), (b, 20), (c, 30), (d, 40))
    last_first = changes(then, ice((d, 40), (a, 10), (b, 20), (c, 30)))
    assert [one[0] for one in rows(last_first) if one[2]] == ["d"]
    assert not last_first.nothing
    assert [one[2] for one in rows(changes(then, ice((a, 10), (c, 30), (d, 40))))] == [False] * 4


def test_an_ingredient_weighed_in_twice_is_matched_to_what_it_is_nearest_to() -> None:
    then = ice((SUCROSE, 100), (WATER, 500), (SUCROSE, 40))
    it = changes(then, ice((WATER, 500), (SUCROSE, 41)))
    assert rows(it) == [
        ("sucrose", "removed", False, Decimal(-100)),
        ("water", "same", False, Decimal(0)),
        ("sucrose", "changed", False, Decimal(1)),
    ]


def test_tolerance_method_carrier_and_facts_are_told() -> None:
    then = ice((MILK, 600), (SUCROSE, 100))
    sweet = replace(SUCROSE, allergens=("milk",), name="Fine sugar")
    facts = MILK.facts
    assert facts is not None
    other = replace(MILK, facts=replace(facts, density_g_ml=Decimal("1.03")))
    first, second = then.additions
    now = replace(
        then,
        additions=(
            replace(first, ingredient=other, tolerance=read_tolerance("2 g")),
            replace(second, ingredient=sweet, by_difference=True, carrier="milk"),
        ),
    )
    milk, sugar = changes(then, now).additions
    assert [(one.of, one.then, one.now) for one in milk.texts] == [("tolerance", "1 %", "2 g")]
    assert [(one.of, one.then, one.now) for one in milk.facts] == [
        ("density_g_ml", None, Decimal("1.03"))
    ]
    assert {one.of: one.now for one in sugar.texts} == {
        "name": "Fine sugar", "method": "by difference", "carrier": "milk", "allergens": "milk",
    }  # fmt: skip


STEPS = """
name = "Ice"
[ingredients.water]
name = "Water"
[[additions]]
ingredient = "water"
target = "100 g"
tolerance = "1 %"
"""
COOL = '[[steps]]\nkind = "cool"\ntemperature = "at most 4 °C"\ntime = "within 90 min"\n'
AGE = '[[steps]]\nkind = "age"\ntemperature = "at most 4 °C"\ntime = "at least 4 h"\n'
FREEZE = '[[steps]]\nkind = "freeze"\ntemperature = "at most -5 °C"\n'


def test_steps_are_compared_as_additions_are() -> None:
    then = read_formula(STEPS + COOL + AGE, "ice.toml")
    now = read_formula(STEPS + COOL.replace("90 min", "60 min") + FREEZE + AGE, "ice.toml")
    it = changes(then, now)
    assert [(str(one.how), one.moved) for one in it.steps] == [
        ("changed", False), ("added", False), ("same", False),
    ]  # fmt: skip
    [limits] = it.steps[0].texts
    assert (limits.of, limits.then, limits.now) == (
        "limits", "at most 4 °C, within 90 min", "at most 4 °C, within 1 h",
    )  # fmt: skip
    swapped = changes(then, read_formula(STEPS + AGE + COOL, "ice.toml"))
    assert sorted(one.moved for one in swapped.steps) == [False, True]


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ('kind = "cool"\n', 'kind = "cool"\nname = "Chill"\n', "name"),
        ('kind = "cool"\n', 'kind = "cool"\nhow = "Stir."\n', "how"),
        ('kind = "cool"\n', 'kind = "cool"\nwith = "dry ice"\n', "with"),
        ("at most 4 °C", "at most 3 °C", "limits"),
        ("within 90 min", "within 91 min", "limits"),
        ("within 90 min", "within 5399 s", "limits"),
    ],
)
def test_whatever_a_step_says_is_told(old: str, new: str, field: str) -> None:
    then = read_formula(STEPS + COOL, "ice.toml")
    now = read_formula(STEPS + COOL.replace(old, new), "ice.toml")
    assert then.revision != now.revision
    [step] = changes(then, now).steps
    assert (step.how, field in [one.of for one in step.texts]) == (How.CHANGED, True)


GRAMS = st.decimals("0.01", "5000", places=2)
AMOUNTS = st.lists(
    st.tuples(st.sampled_from([MILK, SUCROSE, WATER, SALT]), GRAMS), min_size=1, max_size=7
)


@settings(max_examples=40)
@given(AMOUNTS, AMOUNTS)
def test_differences_add_up_to_those_of_the_batches(first: list, second: list) -> None:  # type: ignore[type-arg]
    then, now = ice(*first), ice(*second)
    it = changes(then, now)
    whole_then, whole_now = (sum(Fraction(g) for _, g in each) for each in (first, second))
    assert sum(Fraction(one.grams) for one in it.additions) == whole_now - whole_then
    points = sum((Fraction(one.points) for one in it.additions), Fraction(0))
    assert abs(points) < Fraction(1, 10**20)
    # Every row stands on its side once, in its order.
    assert [one.then.n for one in it.additions if one.then] != [] or not first
    assert sorted(one.then.n for one in it.additions if one.then) == [*range(1, len(first) + 1)]
    assert [one.now.n for one in it.additions if one.now] == [*range(1, len(second) + 1)]
    assert it.nothing == (then.revision == now.revision)
    for one in it.additions:
        if one.then and one.now:
            share = Fraction(one.now.it.target_g) / whole_now
            share -= Fraction(one.then.it.target_g) / whole_then
            off = Fraction(one.points) - 100 * share
            assert abs(off) < Fraction(1, 10**20)


@pytest.mark.parametrize(
    "other",
    [
        {"name": "Other ice"},
        {"note": "Stir."},
        {"scenario": "invented"},
        {"cautions": ("hot",)},
        {"kind": "sorbet"},
        {"product": Product(keeps_days=7)},
        {"product": Product(storage="below -18 °C")},
    ],
)
def test_what_makes_it_another_revision_is_told(other: dict[str, object]) -> None:
    then = ice((SUCROSE, 100), (WATER, 300))
    now = replace(then, **other)  # type: ignore[arg-type]
    assert revision_of(now.content()) != then.revision
    it = changes(then, now)
    [one] = it.texts
    assert (one.of.split(".")[0], it.nothing) == (next(iter(other)), False)


def test_both_are_composed_and_differ_by_what_hands_work_out() -> None:
    """100 g of sucrose in 400 g are 25 %, in 500 g 20 %; nothing else is solid."""
    it = beside(ice((SUCROSE, 100), (WATER, 300)), ice((SUCROSE, 100), (WATER, 400)))
    solids, mass_g = it.of("total_solids"), it.of("mass")
    assert solids.then is not None and solids.now is not None and solids.change is not None
    assert [each.low for each in (solids.then, solids.now, solids.change)] == [25, 20, -5]
    assert mass_g.change is not None and mass_g.change.low == 100
    assert (solids.told, it.of("fat").told) == (Told.LESS, Told.SAME)
    # Less sugar in the water: it begins to freeze higher, and has more ice at the same cold.
    assert it.of("freezing_point").told is Told.MORE
    assert it.of("frozen").told is Told.MORE


def test_prices_are_of_today_on_both_sides() -> None:
    """0.1 kg at 2 and 0.3 kg at 1 cost 0.5, which is 1.25 a kg; 0.1 and 0.4 cost 0.6: 1.2."""
    then, now = ice((SUCROSE, 100), (WATER, 300)), ice((SUCROSE, 100), (WATER, 400))
    it = beside(then, now, prices={"sucrose": Decimal(2), "water": Decimal(1)})
    cost, per_kg = it.of("cost"), it.of("cost_per_kg")
    assert cost.change is not None and cost.change.low == Decimal("0.1")
    assert per_kg.change is not None and per_kg.change.low == Decimal("-0.05")
    with pytest.raises(KeyError):
        beside(then, now).of("cost")


def test_what_is_not_known_on_both_sides_falls_out() -> None:
    """Of zest nothing is known; as much of it on both sides leaves the sugar's change exact."""
    zest = Ingredient("zest", "Zest")
    then = ice((SUCROSE, 100), (WATER, 300), (zest, 4))
    it = beside(then, ice((SUCROSE, 110), (WATER, 290), (zest, 4)))
    sugars = it.of("sugars")
    assert sugars.then is not None and not sugars.then.known
    # 10 g of 404 g more.
    assert sugars.change is not None and sugars.told is Told.MORE
    assert abs(Fraction(sugars.change.low) - Fraction(1000, 404)) < Fraction(1, 10**8)
    assert sugars.change.known
    more = beside(then, ice((SUCROSE, 100), (WATER, 300), (zest, 8))).of("sugars")
    assert more.told is Told.UNKNOWN


@settings(max_examples=40)
@given(AMOUNTS, AMOUNTS)
def test_a_change_is_what_lies_between_two_compositions(first: list, second: list) -> None:  # type: ignore[type-arg]
    then, now = ice(*first), ice(*second)
    for key in ("fat", "sugars", "total_solids"):
        shift = beside(then, now).of(key)
        before, after = of_formula(then).percent(key), of_formula(now).percent(key)
        assert shift.change is not None
        assert abs(shift.change.low - (after.low - before.low)) < Decimal("1e-8")
        back = beside(now, then).of(key).change
        assert back is not None and abs(back.low + shift.change.low) < Decimal("1e-8")


def test_another_size_with_anything_else_changed_is_not_only_a_size() -> None:
    then = ice((SUCROSE, 500), (WATER, 500))
    twice = ice((SUCROSE, 1000), (WATER, 1000))
    assert changes(then, twice).only_size
    assert not changes(then, ice((WATER, 1000), (SUCROSE, 1000))).only_size  # another order
    sweeter = replace(SUCROSE, facts=None)
    assert not changes(then, ice((sweeter, 1000), (WATER, 1000))).only_size  # other facts
    assert not changes(then, ice((SUCROSE, 1000), (WATER, 500), (MILK, 500))).only_size


def test_sugars_never_stated_are_no_change_of_sugars() -> None:
    fatty = Ingredient("fat", "Fat", facts=Facts((("fat", Decimal(90)),)))
    leaner = replace(fatty, facts=Facts((("fat", Decimal(80)),)))
    it = changes(ice((fatty, 100)), ice((leaner, 100)))
    assert [(one.of, one.then, one.now) for one in it.additions[0].facts] == [
        ("fat", Decimal(90), Decimal(80))
    ]


def test_a_difference_that_is_not_known_is_told_so() -> None:
    vague = Ingredient("paste", "Paste")
    it = beside(ice((vague, 100)), ice((vague, 100), (WATER, 10)))
    assert it.of("freezing_point").change is None
    assert it.of("freezing_point").told is Told.UNKNOWN
    assert it.of("mass").told is Told.MORE
