"""Ways to put a pour right: the smallest additions, what is ranked first, and what does not go.

The smallest addition is checked against a published kind of problem solved outside weighd (a linear
programme by scipy; ``overpour_smallest_addition_lp`` in fixtures/tables/frozen.json), against brute
force on a grid, and against its own claims.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.published import CHECKS
from tests.dose import dose
from tests.station.putting_right import AMOUNTS, SUCROSE_LAST, Cook, own_mix
from weighd.domain.formula import Ingredient
from weighd.domain.recovery import State, Trouble, Way
from weighd.domain.recovery_coming import becomes
from weighd.domain.recovery_options import Asked, Option, Options, options
from weighd.domain.recovery_ranges import BANDS, keeps, mix_of, planned_mix, wanted
from weighd.domain.recovery_search import Allowed, Found, Missed, search
from weighd.domain.recovery_ways import check
from weighd.solver.highs import Highs
from weighd.station.recovering import WATER

SOLVER = Highs()
WITHOUT_FREEZING = {key: one for key, one in BANDS.items() if key != "freezing_point"}


def sugar(order: tuple[str, ...] = tuple(AMOUNTS), grams: str = "352") -> State:
    cook = Cook()
    cook.begin(own_mix(order))
    cook.weigh(until="sucrose")
    cook.add(grams)
    return cook.trouble(Trouble.OVER)


LAST, FIRST = sugar(SUCROSE_LAST), sugar()


def found(
    state: State, allowed: Allowed | None = None, bands: Mapping[str, Decimal] = BANDS
) -> Found | Missed:
    limits, unknown = wanted(planned_mix(state), {}, "", bands)
    assert not unknown
    return search(state, Way.REBALANCE, limits, allowed or Allowed(), SOLVER)


def added(one: Found, state: State) -> dict[str, Decimal]:
    more = {
        state.stuffs[of].ingredient.id: grams - state.stuffs[of].there_g
        for of, grams in one.grams.items()
        if of in state.stuffs
    }
    return {name: grams for name, grams in more.items() if grams}


def ways(state: State, **asked: Any) -> Options:
    return options(state, Asked(**asked), {}, SOLVER)


def way(told: Options, which: Way) -> Option:
    return next(one for one in told.ways if one.way is which)


# --- the smallest addition ------------------------------------------------------------------------


def test_the_uncorrected_mix_is_that_of_the_worked_example() -> None:
    row = CHECKS["overpour_uncorrected_composition"]
    kept = way(ways(LAST), Way.KEEP)
    assert kept.mix is not None
    assert kept.becomes_g == 2422
    for key in ("fat", "msnf", "sugars", "total_solids"):
        value = kept.mix.value((key,))
        assert value is not None
        assert float(value.low) == pytest.approx(row["expected"][key], abs=0.002), row["source"]
    assert {one.of[0] for one in kept.broken} == {"sugars", "total_solids"}


def test_the_smallest_addition_is_that_of_the_linear_programme() -> None:
    row = CHECKS["overpour_smallest_addition_lp"]
    one = found(LAST, bands=WITHOUT_FREEZING)
    assert isinstance(one, Found)
    total = sum(added(one, LAST).values(), Decimal(0))
    assert float(total) == pytest.approx(
        row["expected"]["added_g_total"], abs=row["tolerance"]["abs"]
    ), row["source"]
    assert len(added(one, LAST)) == 1  # one thing more to weigh, and not four


def test_only_water_may_be_added_and_it_is() -> None:
    """The composition of the worked example, with 48.03 g of water."""
    none = {one.ingredient.id: Decimal(0) for one in LAST.called if one.ingredient.id != "water"}
    one = found(LAST, Allowed(on_hand=none), WITHOUT_FREEZING)
    assert isinstance(one, Found)
    assert float(added(one, LAST)["water"]) == pytest.approx(48.03, abs=0.5)
    mix = mix_of(LAST, one.change, one.grams)
    for key, value in CHECKS["overpour_smallest_addition_lp"]["expected"]["composition"].items():
        if key in BANDS:
            got = mix.value((key,))
            assert got is not None
            assert float(got.low) == pytest.approx(value, abs=0.01), key


@settings(max_examples=dose(12, 25), deadline=None, derandomize=True)
@given(
    over=st.integers(5, 40),
    fat=st.sampled_from(["0.1", "0.2", "0.4"]),
    sugars=st.sampled_from(["0.2", "0.3", "0.5"]),
)
def test_no_smaller_addition_is_found_by_trying_them_all(over: int, fat: str, sugars: str) -> None:
    """Brute force: milk, cream and water in steps of 4 g, powder in steps of 2 g."""
    state = replace_hand(LAST, 330 + over)
    bands = {"fat": Decimal(fat), "msnf": Decimal("0.3"), "sugars": Decimal(sugars)}
    limits, _ = wanted(planned_mix(state), {}, "", bands)
    names = {one.ingredient.id: of for of, one in state.stuffs.items()}
    free = ("milk", "cream", "powder", "water")
    stock = {one: Decimal(0) for one in names if one not in free}
    one = search(state, Way.REBALANCE, limits, Allowed(on_hand=stock), SOLVER)
    there = {of: it.there_g for of, it in state.stuffs.items()}
    least = None
    rows = [[Decimal(4 * n) for n in range(8)], [Decimal(4 * n) for n in range(4)]]
    rows += [[Decimal(2 * n) for n in range(4)], [Decimal(4 * n) for n in range(31)]]
    for tried in sorted(product(*rows), key=sum):
        grams = {**there}
        for name, more in zip(free, tried, strict=True):
            grams[names[name]] += more
        assert one is not None
        base = one.change if isinstance(one, Found) else one.near.change if one.near else None
        assert base is not None
        if all(keeps(limit, mix_of(state, base, grams)) for limit in limits):
            least = sum(tried, Decimal(0))
            break
    if least is not None:
        assert isinstance(one, Found)
        # A weighing saved may cost half a thousandth of the batch.
        assert sum(added(one, state).values(), Decimal(0)) <= least + 3 * Decimal("1.3")


def replace_hand(state: State, grams: int) -> State:
    stuffs = dict(state.stuffs)
    stuffs[state.hand] = replace(stuffs[state.hand], hand_g=Decimal(grams))
    return replace(state, stuffs=stuffs)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    over=st.integers(3, 120),
    order=st.booleans(),
    room=st.sampled_from([None, 20, 200, 3000]),
    water=st.booleans(),
    less=st.booleans(),
)
def test_a_recovery_keeps_what_it_claims_and_takes_nothing_out(
    over: int, order: bool, room: int | None, water: bool, less: bool
) -> None:
    state = replace_hand(LAST if order else FIRST, 330 + over)
    limits, _ = wanted(planned_mix(state), {}, "")
    allowed = Allowed(
        (WATER,) if water else (),
        {},
        None if room is None else Decimal(room),
        less=less,
    )
    one = search(state, Way.LESS if less else Way.REBALANCE, limits, allowed, SOLVER)
    near = one if isinstance(one, Found) else one.near
    if near is None:
        return
    for of, stuff in state.stuffs.items():
        assert near.grams[of] >= stuff.there_g
    mix = mix_of(state, near.change, near.grams)
    broken = [limit for limit in limits if not keeps(limit, mix)]
    if isinstance(one, Found):
        assert not broken
    else:
        assert broken == list(one.broken) or not broken
    if room is not None:
        more = sum(near.grams.values()) - sum(it.there_g for it in state.stuffs.values())
        assert more <= room + Decimal("0.1")
    assert near.grams == becomes(state, near.change)
    check(state, near.change)


def test_where_nothing_fits_it_says_so_with_the_nearest_miss_and_what_fights() -> None:
    told = ways(LAST, holds_g=Decimal(2430))
    one = way(told, Way.REBALANCE)
    assert one.barred is not None
    assert one.barred.code == "no-correction-fits"
    assert one.becomes_g == pytest.approx(Decimal(2430), abs=Decimal("0.1"))
    assert one.broken
    assert one.fight is not None
    assert any(tie.of for tie in one.fight.conflict.ties)
    assert way(told, Way.ENLARGE).barred.code == "bowl-too-small"  # type: ignore[union-attr]


def test_stock_and_the_scale_are_kept_to() -> None:
    told = ways(LAST, allowed=Allowed(on_hand={"milk": Decimal(10)}))
    assert way(told, Way.ENLARGE).barred.code == "not-enough"  # type: ignore[union-attr]
    one = way(told, Way.REBALANCE)
    assert one.barred is None
    assert all(name != "Milk" for name, _ in one.adds)
    told = ways(LAST, load_g=Decimal(5930))
    assert way(told, Way.ENLARGE).barred.code == "scale-too-small"  # type: ignore[union-attr]


# --- ranked ---------------------------------------------------------------------------------------


def test_what_keeps_the_mix_comes_first_then_what_changes_the_amount_least() -> None:
    told = ways(LAST, dry=False)
    going = [one.way for one in told.ways if one.barred is None]
    assert going == [Way.REBALANCE, Way.ENLARGE, Way.KEEP, Way.DISCARD]
    assert told.ways[-1].way is Way.TAKE_OUT
    told = ways(LAST)
    assert told.ways[0].way is Way.TAKE_OUT
    assert told.dry_asked
    assert told.ways[0].take_g == (22, 20)


def test_a_small_over_pour_is_best_kept() -> None:
    told = ways(replace_hand(LAST, 334), dry=False)
    assert told.ways[0].way is Way.KEEP
    assert told.ways[0].stays


def test_less_of_what_is_still_to_come_is_a_way_of_its_own() -> None:
    told = ways(FIRST, dry=False)
    less = way(told, Way.LESS)
    assert less is told.ways[0]
    assert less.barred is None
    assert less.stays
    assert all(more < 0 for _, more in less.adds)
    assert not any(one.way is Way.LESS for one in ways(LAST).ways)


def test_into_an_empty_vessel_it_can_always_be_taken_out_and_milk_never() -> None:
    cook = Cook()
    cook.begin(own_mix(("sucrose", "milk", "powder")))
    cook.add("350")
    told = ways(cook.trouble(Trouble.OVER))
    assert (told.dry_asked, told.dry_said) == (False, (True, "nothing else is in the vessel"))
    cook = Cook()
    cook.begin(own_mix(("sucrose", "milk", "powder")))
    cook.weigh()
    cook.add("1700")
    told = ways(cook.trouble(Trouble.OVER))
    assert told.dry_said == (False, "it is liquid, and is mixed in")
    assert way(told, Way.TAKE_OUT).barred is not None


def test_effects_are_told_in_words_and_numbers() -> None:
    kept = way(ways(replace_hand(LAST, 420)), Way.KEEP)
    words = {str(one.word): one for one in kept.effects if one.word}
    assert {"softer", "sweeter", "less icy"} <= set(words)
    softer = words["softer"]
    assert softer.before is not None
    assert softer.after is not None
    assert softer.after < softer.before - 1
    assert "-12" in softer.rule


def test_without_compositions_what_can_be_said_is_said() -> None:
    cook = Cook()
    text = own_mix(("milk", "sucrose", "powder"))
    cook.begin("\n".join(it for it in text.splitlines() if not it.startswith("composition")))
    cook.weigh()
    cook.add("352")
    told = ways(cook.trouble(Trouble.OVER), dry=False)
    going = [(one.way, one.stays) for one in told.ways if one.barred is None]
    assert going == [(Way.ENLARGE, True), (Way.KEEP, None), (Way.DISCARD, None)]
    assert way(told, Way.REBALANCE).barred.code == "not-known"  # type: ignore[union-attr]
    assert set(told.unknown) == set(BANDS)


# --- ran out, and wrong ---------------------------------------------------------------------------


def test_what_ran_out_is_made_up_for_by_what_is_left() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="cream")
    cook.add("111")
    state = cook.trouble(Trouble.RAN_OUT)
    told = ways(state)
    assert [one.way for one in told.ways[:2]] == [Way.ANOTHER_LOT, Way.LATER] or told.ways[
        0
    ].way is Way.KEEP
    one = way(told, Way.REBALANCE) if any(it.way is Way.REBALANCE for it in told.ways) else None
    assert one is None or one.barred is not None or one.stays


def test_a_substitute_stands_in_for_what_ran_out() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="powder")
    cook.add("80")
    state = cook.trouble(Trouble.RAN_OUT)
    other = replace(state.stuffs[3].ingredient, id="other-powder", name="Other powder")
    one = found(state, Allowed(extras=(other,)))
    assert isinstance(one, Found)
    assert one.change.others == {10: other}
    assert Decimal(15) < one.change.wholes[10] < Decimal(40)
    cook.choose(one.change, "the bag is empty")
    cook.settle()
    cook.finish()
    assert cook.nets()["other-powder"] > 15
    cook.verified()


def test_a_wrong_ingredient_is_balanced_out() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="dextrose")
    cook.add("60")
    water = cook.trouble(Trouble.OVER).stuffs[9].ingredient
    same = replace(water, id="tap-water", name="Tap water", allergens=())
    state = cook.trouble(Trouble.WRONG, same)
    told = ways(state, dry=False)
    one = told.ways[0]
    assert one.way in (Way.LESS, Way.REBALANCE, Way.KEEP)
    assert one.stays
    assert one.change is not None
    cook.choose(one.change, "wrong jug")
    cook.settle()
    cook.finish()
    mix = planned_mix(state)
    assert mix.value(("sugars",)) is not None
    cook.verified()


def test_the_chosen_addition_is_weighed_and_the_record_holds() -> None:
    cook = Cook()
    cook.begin(own_mix(SUCROSE_LAST))
    cook.weigh(until="sucrose")
    cook.add("352")
    one = found(cook.trouble(Trouble.OVER), Allowed(extras=(Ingredient("ice", "Ice"), WATER)))
    assert isinstance(one, Found)
    assert one.change.keeps
    cook.choose(one.change, "poured from the sack")
    cook.settle()
    cook.finish()
    assert cook.verified().open_batches == 0
