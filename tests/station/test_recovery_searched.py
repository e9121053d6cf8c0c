"""Where a search for what to add comes to its edges: limits that meet, no room, no answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.station.planned_kitchen import ICE, TWO, Kitchen
from tests.station.test_recovery_options import FIRST, LAST, SOLVER, added, way, ways
from tests.station.test_recovery_planned import poured, weighed
from weighd.domain.errors import SolverError
from weighd.domain.limits import Limit
from weighd.domain.mix_search import solve_mix
from weighd.domain.problem import Answer, Problem, Solved
from weighd.domain.recovery import Change, State, Trouble, Way
from weighd.domain.recovery_options import Asked, Options, options
from weighd.domain.recovery_ranges import mix_of, planned_mix, wanted
from weighd.domain.recovery_search import Allowed, Found, Missed, search, stated

D = Decimal


def limit(of: str, least: object = None, most: object = None) -> Limit:
    low, high = (None if end is None else D(str(end)) for end in (least, most))
    return Limit((of,), low, high, "ours")


def found(limits: list[Limit], allowed: Allowed | None = None, **how: Any) -> Found | Missed:
    return search(LAST, Way.REBALANCE, limits, allowed or Allowed(), SOLVER, **how)


def value(state: State, of: str, change: Change, grams: Mapping[int, Decimal]) -> Decimal:
    amount = mix_of(state, change, grams).value((of,))
    assert amount is not None
    return amount.low


NOTHING_LEFT = {one.ingredient.id: D(0) for one in LAST.called}
#: What is in of all, and the solids that it has in percent.
THERE = {of: one.there_g for of, one in LAST.stuffs.items()}
SOLIDS = value(LAST, "total_solids", Change(Trouble.OVER, Way.KEEP, LAST.hand_g, THERE), THERE)


# --- the search -----------------------------------------------------------------------------------


def test_before_weighings_are_saved_it_is_the_smallest_sum_of_changes() -> None:
    limits, _ = wanted(planned_mix(LAST), {}, "")
    least = solve_mix(SOLVER, stated(LAST, limits, Allowed()))
    one = found(limits)
    assert isinstance(least, Solved)
    assert isinstance(one, Found)
    whole = sum(added(one, LAST).values(), D(0))
    # a weighing saved may cost half a thousandth of the batch, and rounding a little
    assert least.price - D("0.05") <= whole <= least.price + D("1.3")
    room = stated(LAST, limits, Allowed(room_g=D(10)))
    assert not isinstance(solve_mix(SOLVER, room), Solved)


def test_a_quantity_with_several_limits_keeps_the_narrowest() -> None:
    """The class of the product and the plan may both say something of it."""
    several = [limit("sugars", None, 22), limit("sugars", 15, "20.9"), limit("sugars", "20.8")]
    one, alike = found(several), found([limit("sugars", "20.8", "20.9")])
    assert isinstance(one, Found)
    assert isinstance(alike, Found)
    assert one.grams == alike.grams
    assert [it["max"] for it in one.change.keeps] == ["22", "20.9", None]
    assert D("20.8") <= value(LAST, "sugars", one.change, one.grams) <= D("20.9")
    fat = [limit("fat", 3), limit("fat", "3.9"), limit("fat", "3.5", 5)]
    more, enough = found(fat), found([limit("fat", "3.9", 5)])
    assert isinstance(more, Found)
    assert isinstance(enough, Found)
    assert more.grams == enough.grams != {of: one.there_g for of, one in LAST.stuffs.items()}


def test_a_limit_finer_than_amounts_are_rounded_to_is_missed_by_little() -> None:
    """The sugars of the plan to the last digit: grams are weighed to a hundredth."""
    sugars = planned_mix(LAST).value(("sugars",))
    assert sugars is not None
    exact = [limit("sugars", sugars.low, sugars.low)]
    assert found(exact, explain=False) == Missed(None, tuple(exact), None)
    one = found(exact)
    assert isinstance(one, Missed)
    assert one.near is not None
    assert one.broken == tuple(exact)
    got = value(LAST, "sugars", one.near.change, one.near.grams)
    assert abs(got - sugars.low) < D("0.0005")


@pytest.mark.parametrize(("stock", "adds"), [("1.00", {}), ("1.02", {"water": D("1.02")})])
def test_a_weighing_is_no_less_than_what_its_tolerance_tells(
    stock: str, adds: dict[str, Decimal]
) -> None:
    """0.6 g of water would do, and less than 1 g more of it is within its tolerance anyhow: it is
    1.02 g, or where so much is not there, nothing."""
    solids = SOLIDS * 2422 / (2422 + D("0.6"))
    allowed = Allowed(on_hand={**NOTHING_LEFT, "water": D(stock)})
    one = found([limit("total_solids", None, solids)], allowed)
    assert isinstance(one, Found) == bool(adds)
    near = one if isinstance(one, Found) else one.near
    assert near is not None
    assert added(near, LAST) == adds


@pytest.mark.parametrize("above", ["0.0001", "0.0002", "0.1"])
def test_what_is_within_its_limit_by_less_than_rounding_needs_nothing(above: str) -> None:
    """Limits are drawn in a little, and no weighing is there to make up for that."""
    allowed = Allowed(on_hand={**NOTHING_LEFT, "water": D("1.00")})
    one = found([limit("total_solids", None, SOLIDS + D(above))], allowed)
    assert isinstance(one, Found)
    assert added(one, LAST) == {}


# --- what is told of it ---------------------------------------------------------------------------


class Slow:
    """A solver that has no time."""

    def solve(self, problem: Problem, /) -> Answer:
        raise SolverError("solver-too-long", f"No answer for {len(problem.unknowns)} was found.")


def test_a_solver_without_an_answer_bars_its_ways_and_no_other() -> None:
    told = options(FIRST, Asked(dry=False), {}, Slow())
    for one in (Way.REBALANCE, Way.LESS):
        why = way(told, one).barred
        assert why is not None
        assert why.code == "solver-too-long"
        assert why.text.startswith("No answer for ")
    assert [one.way for one in told.ways if one.barred is None] == [
        Way.ENLARGE,
        Way.KEEP,
        Way.DISCARD,
    ]


def test_a_scale_whose_end_is_not_known_leaves_any_room() -> None:
    scale = LAST.current.scale
    endless = replace(LAST.batch.scales[scale], max_g=None)
    state = replace(LAST, batch=replace(LAST.batch, scales={scale: endless}))
    full = way(ways(LAST, load_g=D(5930)), Way.ENLARGE).barred
    assert full is not None
    assert full.code == "scale-too-small"
    told = options(state, Asked(dry=False, load_g=D(5930)), {}, SOLVER)
    free = ways(LAST, dry=False)
    for one in (Way.ENLARGE, Way.REBALANCE):
        assert way(told, one) == way(free, one)
        assert way(told, one).barred is None


@pytest.mark.parametrize(
    ("done", "pours", "said"),
    [
        (0, "1000", (True, "nothing else is in the vessel")),  # milk into the bowl
        (1, "3", (True, "nothing else is in the vessel")),  # salt into a dish beside it
        (2, "5", None),  # gum into the dish, on the salt
        (3, "700", None),  # sugar into the bowl, on the milk
    ],
)
def test_what_can_be_taken_out_hangs_on_the_vessel_it_is_in(
    done: int, pours: str, said: tuple[bool, str] | None
) -> None:
    state = poured(weighed(Kitchen(ICE, TWO), done), pours)
    told: Options = options(state, Asked(), {}, SOLVER)
    assert (told.dry_said, told.dry_asked) == (said, said is None)
    assert way(told, Way.TAKE_OUT).asks == (said is None)
