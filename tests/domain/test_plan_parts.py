"""The small parts of planning: splits, rooms, intervals; each as a law that holds for any scale."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.test_plan import BENCH, FINE, RULE, D, scale, want
from weighd.domain import fitness
from weighd.domain.metrology import Rule
from weighd.domain.plan import Vessels
from weighd.domain.plan_search import best_plan
from weighd.domain.plan_words import Into
from weighd.domain.premix import best_premix
from weighd.domain.splits import LEAST_ROUGH, MOST_PARTS, Part, splits

ROOMS = st.sampled_from([None, "-5", "0", "3", "20", "60", "150", "700", "3000"])


def room(text: str | None) -> Decimal | None:
    return None if text is None else D(text)


@given(
    st.integers(1, 60_000),
    st.integers(0, 300),
    ROOMS,
    ROOMS,
    st.sampled_from([BENCH, FINE, scale("middle", "0.1", "2000")]),
)
def test_a_split_makes_the_amount_and_every_part_has_room(
    tenths: int, over: int, bowl: str | None, dish: str | None, it: object
) -> None:
    """Whatever each rough part leaves out or brings too much, the last makes the amount exact, and
    still fits: the worst case, part by part."""
    target, bowl_room, dish_room = D(tenths) / 10, room(bowl), room(dish)
    high = target + D(over) / 10
    found = list(splits(it, target, high, bowl_room, dish_room))  # type: ignore[arg-type]
    if dish_room is None or dish_room <= 0 or high <= dish_room:
        assert found == []
        return
    assert len(found) <= 2
    for parts in found:
        assert 1 < len(parts) <= MOST_PARTS + 1
        assert sum(one.target_g for one in parts) == pytest.approx(target)
        assert parts[-1].rough_g == 0
        assert parts[-1].into is Into.DISH
        owed, to_come = D(0), len(parts)
        for one in parts:
            to_come -= 1
            assert one.target_g > 0
            if one.into is Into.BOWL:
                assert bowl_room is not None
                assert one.target_g + one.rough_g <= bowl_room
                assert one is parts[0]
            else:
                # what was left out so far is shared among all that come, this one among them
                worst = one.target_g + owed / (to_come + 1) + one.rough_g
                if not to_come:
                    worst = one.target_g + owed + high - target
                assert worst <= dish_room + D("1e-9")
            if to_come:
                assert one.rough_g >= 2 * it.interval_g  # type: ignore[attr-defined]
                owed += one.rough_g - owed / (to_come + 1) if one.into is Into.DISH else one.rough_g


def test_a_dish_that_takes_hardly_any_is_no_way() -> None:
    """0.5 kg in dishes of 3 g: 167 of them, more than anybody fills."""
    assert list(splits(BENCH, D(500), D(501), None, D(3))) == []
    # With room in the bowl neither: what is left for dishes is as much too much.
    assert list(splits(BENCH, D(500), D(501), D(20), D(3))) == []


def test_begun_in_the_bowl_it_takes_fewer_dishes() -> None:
    dishes, begun = splits(FINE, D(900), D(905), D(600), D(400))
    assert [one.into for one in begun] == [Into.BOWL, Into.DISH]
    assert len(dishes) == 3
    # The first part is a round number of two digits, and rough to a fiftieth at least.
    assert begun[0].target_g == begun[0].target_g.quantize(D(10))
    assert begun[0].rough_g >= LEAST_ROUGH * D(400)
    assert isinstance(begun[1], Part)


# It may come out 2 g off either way, so 4 g of it is nothing to begin with.
@pytest.mark.parametrize("bowl", ["1", "2", "3", "6"])
def test_a_bowl_with_no_room_to_be_rough_in_is_left_out(bowl: str) -> None:
    (only,) = splits(BENCH, D(150), D(151), D(bowl), D(100))
    assert {one.into for one in only} == {Into.DISH}


# --- rooms ----------------------------------------------------------------------------------------


def test_a_scale_without_max_limits_nothing_and_the_dish_does() -> None:
    endless = replace(BENCH, max_g=None)
    assert Vessels().dish_room_g(endless) is None
    assert Vessels().bowl_room_g(endless, D(5000)) is None
    assert Vessels(dish_holds_g=D(400)).dish_room_g(endless) == 400
    assert Vessels(dish_g=D(60), dish_holds_g=D(9000)).dish_room_g(BENCH) == 5970 - 60
    assert not Vessels(dish_holds_g=D(400)).dish_takes(endless, D("400.01"))
    assert Vessels(dish_holds_g=D(400)).dish_takes(endless, D(400))
    assert Vessels(bowl_g=D(800)).bowl_room_g(BENCH, D(170)) == 5000
    assert Vessels(bowl_g=D(800)).bowl_takes(BENCH, D(2585))
    assert not Vessels(bowl_g=D(800)).bowl_takes(BENCH, D("5170.1"))


# --- intervals ------------------------------------------------------------------------------------


@given(st.decimals("0.001", "5000", places=3), st.sampled_from([Rule("simple"), RULE]))
def test_the_usual_interval_is_the_coarsest_that_can_judge(width: Decimal, rule: Rule) -> None:
    """From the definition: two guard bands of k u and one interval over the width of the band;
    u is that of two roundings, sqrt(2 d² / 12)."""

    def used(d: Decimal) -> float:
        k = 0.0 if rule.name == "simple" else float(rule.k)
        return (2 * k * math.sqrt(2 / 12) * float(d) + float(d)) / float(width)

    found = fitness.usual_interval(D(100), 100 + width, rule)
    assert found is not None
    assert found.as_tuple().digits in ((1,), (2,), (5,))
    assert used(found) <= 1 + 1e-9
    coarser = found * (D("2.5") if found.as_tuple().digits == (2,) else 2)
    assert used(coarser) > 1 - 1e-9


def test_what_nothing_can_judge_has_no_interval() -> None:
    assert fitness.usual_interval(D(5), D(5), RULE) is None
    assert fitness.usual_interval(D(5), D("5.00001"), RULE) is None
    assert fitness.usual_interval(D(5), D("5.1"), RULE, least=D(1)) is None


# --- premixes -------------------------------------------------------------------------------------


def test_a_premix_that_nothing_can_hold_is_none() -> None:
    """A carrier by the hundredweight, and dishes that take ten grams."""
    little, much = want(1, "2", "0.05"), want(2, "200000", "2000")
    tiny = Vessels(dish_holds_g=D(1))
    assert best_premix(1, little, much, [BENCH], RULE, tiny) is None
    found = best_premix(1, little, much, [BENCH], RULE, Vessels())
    if found is not None:
        assert found.part_g + found.carrier_g <= BENCH.max_g  # type: ignore[operator]


def test_what_has_no_room_to_be_judged_in_is_planned_and_told() -> None:
    """A band of no width: no share of it is a number, no interval would do, and it is weighed."""
    plan = best_plan([want(1, "100", "0"), want(2, "40", "0.5")], [BENCH, FINE], RULE)
    assert [(one.of, one.scale) for one in plan.weighings] == [(1, "fine"), (2, "fine")]
    assert (plan.cost.unfit, plan.cost.unfit_share) == (1, Decimal("Infinity"))
    [short] = plan.shortfalls
    assert (short.of, short.interval_g, short.premix) == (1, None, None)
