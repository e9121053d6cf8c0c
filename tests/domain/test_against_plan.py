"""A batch as weighed beside its plan: numbers, their uncertainty, and when a difference is one."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from uncertainties import ufloat, wrap

from tests.domain.mixes import OWN, SUCROSE, WATER, Mix, grams, made_of
from tests.domain.published import near
from tests.domain.test_composition import known, mixes, partly
from tests.station.planned_kitchen import ICE, PREMIX, SPLIT, TWO, Kitchen
from tests.station.scripted import Hand
from weighd.domain.against_plan import SHARES, Compared, Told, compared
from weighd.domain.as_weighed import Part, parts_of, planned_formula
from weighd.domain.composition import compose
from weighd.domain.contents import row_of
from weighd.domain.facts import Facts
from weighd.domain.formula import Addition, Formula, Ingredient, read_tolerance

FINE = Decimal("0.000001")
TOLERANCE = read_tolerance("1 %")
#: A scale that cannot judge the gum by itself: it is weighed in a premix.
ONE = {"bench": ("0.1", "3000")}
FACTS = """
[ingredients.milk]
name = "Milk"
[ingredients.milk.composition]
water = 87.5
fat = 3.5
milk_fat = 3.5
msnf = 9
[ingredients.sugar]
name = "Sugar"
[ingredients.sugar.composition]
sugars = { sucrose = 100 }
[ingredients.salt]
name = "Salt"
[ingredients.salt.composition]
salt = 100
[ingredients.gum]
name = "Gum"
[ingredients.gum.composition]
stabiliser = 100
"""


def with_facts(text: str) -> str:
    lines = [
        one
        for one in text.splitlines()
        if not one.startswith(("[ingredients]", "milk =", "sugar =", "salt =", "gum ="))
    ]
    return "\n".join((*lines, FACTS))


def weighed(mix: Mix, u: str = "0.05", **off: object) -> list[Part]:
    """Parts of a batch that is all in; ``off`` says by how many grams an amount is off."""
    return [
        Part(n, one, mass, mass + Decimal(str(off.get(one.id, 0))), Decimal(u), Decimal(0))
        for n, (one, mass) in enumerate(mix, start=1)
    ]


def told(it: Compared) -> dict[str, Told]:
    return {one.of: one.told for one in it.differences}


def test_too_much_sugar_is_seen_in_the_composition() -> None:
    """frozen.json, overpour_uncorrected_composition: 352 g of sucrose instead of 330."""
    it = compared(weighed(OWN, sucrose=22))
    name = "overpour_uncorrected_composition"
    for key, of in (
        ("fat", "fat"),
        ("msnf", "msnf"),
        ("sugars", "sugars"),
        ("total_solids", "total_solids"),
    ):
        found = it.of(of).weighed
        assert found is not None
        assert found.known
        near(name, found.low, key)
    change = it.of("mass").change
    assert change is not None
    assert change.low == 22
    assert told(it)["sugars"] is told(it)["sweetness"] is Told.MORE
    assert told(it)["fat"] is told(it)["freezing_point"] is told(it)["frozen"] is Told.LESS


def test_what_the_scale_cannot_tell_is_no_difference() -> None:
    """0.1 g of sugar more, known to 0.5 g: nothing that may be told. Known to 0.001 g: more."""
    assert set(told(compared(weighed(OWN, "0.5", sucrose="0.1"))).values()) == {Told.SAME}
    fine = told(compared(weighed(OWN, "0.001", sucrose="0.1")))
    assert fine["sugars"] is Told.MORE
    assert fine["fat"] is Told.LESS


@given(mixes(known()))
def test_a_batch_that_is_exactly_on_target_is_as_planned(mix: Mix) -> None:
    it = compared(weighed(mix))
    assert it.planned == it.weighed
    for one in it.differences:
        assert one.planned == one.weighed
        if one.change is not None:
            assert one.change.low == one.change.high == 0
            assert one.told in (Told.SAME, Told.UNKNOWN)


@given(mixes(known()), st.integers(1, 400))
def test_scaling_then_composing_is_composing_then_scaling(mix: Mix, percent: int) -> None:
    """Amounts of a scaled formula are rounded to 0.01 g, and each share by no more than that."""
    formula = Formula("f", "F", tuple(Addition(one, mass, TOLERANCE) for one, mass in mix))
    size = formula.batch_g * percent / 100
    if any(mass * percent / 100 < 1 for _, mass in mix):
        return
    scaled = formula.scaled(size)
    whole = compose((one.ingredient, one.target_g) for one in formula.additions)
    part = compose((one.ingredient, one.target_g) for one in scaled.additions)
    allowed = Decimal(100) * len(mix) * Decimal("0.005") / part.mass_g * 3
    for key in SHARES:
        assert abs(whole.percent(key).low - part.percent(key).low) <= allowed, key


@given(mixes(known()), st.integers(1, 7))
def test_shares_do_not_depend_on_the_size(mix: Mix, times: int) -> None:
    larger = [(one, mass * times) for one, mass in mix]
    for key in SHARES:
        one, other = compose(mix).percent(key).low, compose(larger).percent(key).low
        assert abs(one - other) < FINE


@given(
    st.lists(st.tuples(known(), st.integers(5, 5000), st.integers(1, 40)), min_size=1, max_size=6)
)
def test_uncertainties_are_those_of_a_general_package(
    rows: list[tuple[Facts, int, int]],
) -> None:
    """Against the package ``uncertainties``, which propagates linearly by derivatives.

    Amounts moved by their ``u`` are a little further than a derivative looks, by about ``u`` over
    the mass: hence the relative allowance.
    """
    parts = [
        Part(
            n,
            Ingredient(f"i{n}", f"I{n}", facts=facts),
            Decimal(mass),
            Decimal(mass),
            Decimal(u) / 100,
            Decimal(0),
        )
        for n, (facts, mass, u) in enumerate(rows, start=1)
    ]
    it = compared(parts)
    masses = [ufloat(float(one.in_g), float(one.u_g)) for one in parts]
    for key in SHARES:
        if key == "alcohol" and "alcohol" not in told(it):
            continue
        each = [float(dict(row_of(one.ingredient.facts).low).get(key, 0)) for one in parts]
        share = 100 * sum(r * m for r, m in zip(each, masses, strict=True)) / sum(masses)
        ours = it.of(key).u
        if ours is None:  # one amount alone: moved down by all of it nothing is left
            continue
        theirs = getattr(share, "s", 0.0)
        assert float(ours) == pytest.approx(theirs, rel=0.01, abs=1e-9), key
    assert float(it.u_g) == pytest.approx(sum(masses).s, rel=1e-9)


def test_the_uncertainty_of_a_freezing_point_is_that_of_a_general_package() -> None:
    """The package differentiates numerically what it is given: our own curve, as a plain function.

    The derivative at a point of a curve of straight pieces and ours over ``u`` agree where no end
    of a piece lies between.
    """
    parts = weighed(OWN, "0.2")
    it = compared(parts)

    def point(*masses: float) -> float:
        moved = [
            replace(one, in_g=Decimal(repr(float(mass))))
            for one, mass in zip(parts, masses, strict=True)
        ]
        found = compared([replace(one, u_g=Decimal(0)) for one in moved])
        value = found.of("freezing_point").weighed
        assert value is not None
        return float(value.low)

    masses = [ufloat(float(one.in_g), float(one.u_g)) for one in parts]
    theirs = wrap(point)(*masses)
    ours = it.of("freezing_point").u
    assert ours is not None
    assert float(ours) == pytest.approx(theirs.s, rel=1e-3)


@given(partly(), partly(), st.integers(1, 900), st.integers(1, 900), st.integers(1, 900))
def test_what_is_missing_leaves_the_truth_between_the_ends(
    one: tuple[Facts, Facts], other: tuple[Facts, Facts], first: int, second: int, more: int
) -> None:
    """With facts forgotten, the difference that the whole facts give lies between the two ends.

    Half a gram of 100 that is not stated counts as rounding, and is left out here.
    """
    for _, facts in (one, other):
        assume(facts.left_g == 100 - facts.parts_g)

    def parts(which: int) -> list[Part]:
        return [
            Part(n, Ingredient(f"i{n}", "I", facts=facts), Decimal(m), Decimal(m + d), FINE, FINE)
            for n, (facts, m, d) in enumerate(
                ((one[which], first, more), (other[which], second, 0)), start=1
            )
        ]

    truth, partly_known = compared(parts(0)), compared(parts(1))
    for key in SHARES:
        try:
            true, between = truth.of(key).change, partly_known.of(key).change
        except KeyError:
            continue
        if true is None or between is None or not true.known:
            continue
        assert between.low - FINE <= true.low <= between.high + FINE, key


def test_prices_come_from_outside_and_one_that_is_missing_is_missing() -> None:
    """Cost is the sum of mass times price: arithmetic, no source."""
    mix = grams((made_of("a", water=100), 1000), (made_of("b", fat=100), 500))
    prices = {"a": Decimal(2), "b": Decimal(10)}
    it = compared(weighed(mix, b=50), prices=prices)
    assert [one and one.low for one in (it.of("cost").planned, it.of("cost").weighed)] == [
        Decimal(7),
        Decimal("7.5"),
    ]
    assert told(it)["cost"] is Told.MORE
    without = compared(weighed(mix, b=50), prices={"a": Decimal(2)})
    assert without.of("cost").change is None
    assert without.of("cost").told is Told.UNKNOWN
    # What is missing does not matter where as much of it went in as was planned.
    same = compared(weighed(mix, a=50), prices={"a": Decimal(2)})
    assert same.of("cost").told is Told.MORE
    assert "cost" not in told(compared(weighed(mix)))


def test_without_facts_it_says_so() -> None:
    plain = Ingredient("stuff", "Stuff")
    it = compared(
        [
            Part(1, plain, Decimal(100), Decimal(150), FINE, Decimal(0)),
            *weighed(grams((made_of("a", water=100), 1000))),
        ]
    )
    assert it.of("fat").told is Told.UNKNOWN
    assert it.of("freezing_point").told is Told.UNKNOWN
    assert it.missing == {"stuff": ("composition",)}


def test_an_open_batch_counts_what_is_still_to_come() -> None:
    hand = Hand()
    hand.start(with_facts(ICE))
    hand.show("600.0")
    hand.do("tare")
    hand.pour("1540.0")  # 940 g of milk, where 900 are wanted
    batch = hand.station.batch
    assert batch is not None
    before = parts_of(batch)
    assert [one.in_g for one in before] == [0, 0, 0, 0]
    assert compared(before).of("fat").told is Told.SAME
    hand.do("accept", reason="as it is")
    batch = hand.station.batch
    assert batch is not None
    after = parts_of(batch)
    assert [(one.in_g, one.to_come_g) for one in after] == [
        (940, 0),
        (0, 2),
        (0, Decimal("3.4")),
        (0, 640),
    ]
    it = compared(after)
    assert it.of("fat").told is Told.MORE
    assert it.of("sugars").told is Told.LESS
    change = it.of("mass").change
    assert change is not None
    assert change.low == 40
    assert planned_formula(batch).batch_g == batch.batch_g


@pytest.mark.parametrize(("text", "scales"), [(ICE, TWO), (SPLIT, TWO), (PREMIX, ONE)])
def test_by_a_plan_of_several_weighings_each_amount_counts_over_all_of_them(
    text: str, scales: dict[str, tuple[str, str]]
) -> None:
    """The mixture in the bowl is known to the kitchen: what is composed must be what is in it."""
    kitchen = Kitchen(with_facts(text), scales)
    total = planned_formula(kitchen.batch).batch_g
    while kitchen.batch.current is not None:
        it = parts_of(kitchen.batch)
        here = sum(one.mass_g for one in it)
        # A whole that is not done yet is as large as planned, but for what was poured beside it.
        assert abs(here - total) <= total * Decimal("0.02")
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    it = parts_of(kitchen.batch)
    kitchen.handle(len(kitchen.batch.additions) + 1)
    assert all(one.to_come_g == 0 for one in it)
    for one in it:
        true = kitchen.inside["bowl"][one.ingredient.id]
        assert abs(one.in_g - true) <= 4 * one.u_g, one.ingredient.id
    assert {one.told for one in compared(it).differences} <= set(Told)


@pytest.mark.parametrize(
    ("order", "due"),
    [
        # The rest of the sugar before the premix: what that brings of it is still to come then.
        (
            (0, 1, 2),
            [
                ("premix ingredient", "0", "300", "1.2"),
                ("premix carrier", "0", "300", "1.2"),
                ("rest of the carrier", "0", "300", "1.2"),
                ("from premix", "295.0", "4.86", "1.2"),  # 6.06 g of it, 1.2 g of them gum
                ("whole", "299.8119", "0", "0"),
            ],
        ),
        # And after it: what is to come is what the premix did not bring.
        (
            (2, 1, 0),
            [
                ("whole", "0", "300", "1.2"),
                ("premix ingredient", "0", "300", "1.2"),
                ("premix carrier", "0", "300", "1.2"),
                ("from premix", "0", "300", "1.2"),
                ("rest of the carrier", "4.8", "295.2", "0"),
            ],
        ),
    ],
)
def test_what_a_premix_brings_of_its_carrier_is_to_come_once(
    order: tuple[int, ...], due: list[tuple[str, ...]]
) -> None:
    """300 g of sugar and 1.2 g of gum, mixed with some of the sugar (worked by hand)."""
    head, *rows = PREMIX.split("[[additions]]")
    kitchen = Kitchen("[[additions]]".join([head, *(rows[n] for n in order)]), ONE)
    seen = []
    while (current := kitchen.batch.current) is not None:
        parts = {one.ingredient.id: one for one in parts_of(kitchen.batch)}
        sugar, gum = parts["sugar"], parts["gum"]
        figures = (sugar.in_g, sugar.to_come_g, gum.to_come_g)
        seen.append((str(current.step.role), *map(str, figures)))
        kitchen.handle(current.n)
        kitchen.weigh()
    assert seen == due


@pytest.mark.parametrize("u_g", ["0.49", "0.5", "0.6"])
def test_of_what_may_be_none_at_all_nothing_is_told(u_g: str) -> None:
    """Half a gram, known to half a gram: of a mix of nothing there is no share."""
    it = compared([Part(1, SUCROSE, Decimal(1), Decimal("0.5"), Decimal(u_g), Decimal(0))])
    sugars, mass = it.of("sugars"), it.of("mass")
    assert sugars.change is not None
    assert mass.change is not None
    assert (sugars.change.low, mass.change.low) == (0, Decimal("-0.5"))
    if u_g == "0.49":
        assert (mass.u, mass.told, sugars.told) == (Decimal(u_g), Told.SAME, Told.SAME)
    else:
        assert (mass.u, mass.told, sugars.told) == (None, Told.UNKNOWN, Told.UNKNOWN)


@pytest.mark.parametrize(
    ("sugar_u", "water_u", "reaches"),
    [("0.05", "0", True), ("0.2", "0", False), ("0", "0.02", True), ("0", "0.1", False)],
)
def test_next_to_the_end_of_the_method_a_weighing_may_lie_beyond_it(
    sugar_u: str, water_u: str, reaches: bool
) -> None:
    """179.9 g of sucrose in 100 g of water: the table of freezing ends at 180 g (Goff & Hartel)."""
    parts = weighed([(SUCROSE, Decimal("179.9"))], sugar_u)
    parts += weighed([(WATER, Decimal(100))], water_u)
    it = compared(parts)
    for one in (it.of("freezing_point"), it.of("frozen")):
        assert one.change is not None
        assert one.change.low == 0
        assert (one.u is not None, one.told is Told.SAME) == (reaches, reaches)
    assert it.of("sugars").told is Told.SAME


def test_a_price_that_is_not_known_is_missing_only_where_cost_is_asked_for() -> None:
    assert "cost" not in {one.of for one in compared(weighed(OWN)).differences}
    assert compared(weighed(OWN)).missing == {}
    ids = [one.id for one, _ in OWN]
    prices = dict.fromkeys(ids[1:], Decimal(2))
    missing = compared(weighed(OWN), prices=prices).missing
    assert list(missing) == ids[:1]
