"""The small parts of the detector, each against its own definition."""

from __future__ import annotations

import math
from decimal import Decimal
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.settling_learned import (
    FLAG_MOST,
    FLAG_STRONGEST,
    GULPS,
    STREAMS_MOST,
    WILDEST_D,
    Learned,
    Learning,
    unsteady,
)
from weighd.domain.settling_lift import Lift
from weighd.domain.settling_mean import LADDER, LONGEST_S, MOST, STEADY_D, Mean, steadying

D = Decimal("0.1")
DISPLAYS = st.lists(st.integers(-8, 8).map(float), min_size=6, max_size=60)


# --- means ----------------------------------------------------------------------------------------


@given(st.integers(-3, 100), st.lists(st.integers(-1000, 1000).map(float), max_size=150))
def test_a_running_mean_is_that_of_the_newest(of: int, values: list[float]) -> None:
    mean = Mean(of)
    assert mean.of == min(max(of, 1), MOST)
    for n, value in enumerate(values, 1):
        assert mean.add(value) == pytest.approx(fmean(values[max(0, n - mean.of) : n]))
    mean.clear()
    assert mean.add(7.0) == 7.0


def windows(values: list[float], of: int) -> float:
    means = [fmean(values[n : n + of]) for n in range(len(values) - of + 1)]
    return max(means) - min(means)


@given(DISPLAYS, st.sampled_from([0.01, 0.05, 0.1, 0.3]))
def test_the_shortest_mean_that_is_steady_is_taken(values: list[float], period: float) -> None:
    """By the definition: up the ladder, as far as time and readings allow."""
    tried = [1]
    for of in LADDER[1:]:
        if windows(values, tried[-1]) <= STEADY_D:
            break
        if of * period > LONGEST_S or 2 * of > len(values):
            break
        tried.append(of)
    of, left = steadying(values, period)
    assert of == tried[-1]
    assert left == pytest.approx(windows(values, of))


def test_the_whole_ladder_may_not_be_enough() -> None:
    """A display that swings more slowly than the longest mean stays as unsteady as it is."""
    slow = [20 * math.sin(2 * math.pi * n / 400) for n in range(400)]
    of, left = steadying(slow, 0.001)
    assert of == LADDER[-1]
    assert left > STEADY_D


# --- unsteady -------------------------------------------------------------------------------------


def test_a_display_that_trembles_is_unsteady_by_what_it_trembles() -> None:
    assert unsteady([0.0, 3.0] * 6) == 3.0
    assert unsteady([0.0, 3.0, -1.0] * 5) == 4.0


@pytest.mark.parametrize(
    "values",
    [
        [0.0, 3.0, 0.0, 3.0, 0.0],  # too few
        [5.0] * 20,  # still
        [float(n) for n in range(20)],  # on its way
        [n + 2.0 * (n % 2) for n in range(20)],  # on its way, trembling
        [20.0, -18.0, 15.0, -12.0, 9.0, -7.0, 5.0, -4.0, 3.0, -2.0, 1.0, 0.0],  # ringing out
        [0.0, 1.0, 0.0, -1.0, 0.0, 1.0, 9.0, -9.0, 9.0, -9.0, 9.0, -9.0],  # beginning to swing
        [0.0, 0.0, 0.0, 3.0, 3.0, 3.0, 0.0, 0.0, 0.0, 3.0],  # it hardly moves
    ],
)
def test_what_is_not_unsteady_about_one_place(values: list[float]) -> None:
    assert unsteady(values) is None


@given(DISPLAYS, st.integers(-500, 500), st.sampled_from([0.5, 2.0, 3.0]))
def test_unsteadiness_is_the_same_anywhere_and_upside_down(
    values: list[float], at: int, times: float
) -> None:
    found = unsteady(values)
    assert unsteady([one + at for one in values]) == found
    assert unsteady([-one for one in values]) == found
    if found is not None:
        assert found == max(values) - min(values)


# --- learned of a scale ---------------------------------------------------------------------------


def test_gulps_are_learned_and_what_is_old_counts_for_less() -> None:
    scale = Learning(Learned())
    assert scale.gulps == pytest.approx(GULPS)
    for _ in range(400):
        scale.streamed(2, 0.0)
        assert scale.value().streams <= STREAMS_MOST
    # The prior counts as four streams: (2 * n + 4 * GULPS) / (n + 4).
    n = scale.value().streams
    assert scale.value().resumed == pytest.approx(2 * n)
    assert scale.gulps == pytest.approx((2 * n + 4 * GULPS) / (n + 4))
    for _ in range(400):
        scale.streamed(0, 0.0)
    assert scale.value().resumed < 0.01


def test_an_honest_flag_counts_for_much_and_one_that_is_always_up_for_nothing() -> None:
    honest, stuck = Learning(Learned()), Learning(Learned())
    for _ in range(500):
        honest.moved(stable=False)
        stuck.moved(stable=True)
        assert max(honest.value().flag_moving, stuck.value().flag_moving) <= FLAG_MOST + 1
    assert honest.flag(stable=True) == -FLAG_STRONGEST
    assert stuck.flag(stable=True) == 0
    assert honest.flag(stable=False) > 0  # down: more is to come
    before = honest.value()
    honest.moved(None)
    assert honest.value() == before
    assert honest.flag(None) == 0


def test_a_wild_display_teaches_nothing() -> None:
    scale = Learning(Learned())
    scale.shaken([0.0, WILDEST_D + 1] * 10)
    assert scale.value() == Learned()
    scale.shaken([0.0, 6.0] * 10)
    assert scale.value().spread_d == 6.0
    assert scale.value().mean_of == 2


# --- lifted ---------------------------------------------------------------------------------------


def lifted(*nets: str, every: float = 0.1, at_rest: bool = True) -> tuple[Lift, float]:
    """What stood there before, and the time at which it was lifted."""
    lift, t = Lift(D), 0.0
    for net in nets:
        lift.stands(t, Decimal(net), at_rest=at_rest)
        t += every
    lift.gone()
    return lift, t


def test_what_comes_back_within_two_intervals_is_the_same() -> None:
    for back, same in (("50.2", True), ("49.8", True), ("50.3", False), ("49.7", False)):
        lift, _ = lifted(*["50.0"] * 8)
        assert lift.came_back(Decimal(back)) is same
        assert lift.off is lift.other is (not same)


def test_a_hand_that_grips_it_first_is_not_counted() -> None:
    """Pressed upon in the last instant, sinking on its way up."""
    lift, _ = lifted(*["50.0"] * 8, "58.0")
    assert lift.came_back(Decimal("50.0"))
    lift, _ = lifted(*["50.0"] * 8, "44.0", "31.0", "12.0", every=0.08)
    assert lift.came_back(Decimal("50.0"))
    lift, _ = lifted(*["50.0"] * 8, "44.0", "31.0", "12.0", every=0.08)
    assert not lift.came_back(Decimal("30.0"))


def test_poured_on_into_what_came_back_is_the_same_vessel() -> None:
    lift, t = lifted(*["50.0"] * 8)
    for n in range(12):  # back where it was, then half a second later on its way up by 30 g/s
        lift.stands(t + n * 0.1, Decimal(50) + max(n - 5, 0) * 3, at_rest=False)
    assert lift.came_back(Decimal(70))


def test_what_only_passed_by_on_its_way_up_is_another() -> None:
    lift, t = lifted(*["50.0"] * 8)
    for n in range(12):
        lift.stands(t + n * 0.05, Decimal(20 + 10 * n), at_rest=False)
    assert not lift.came_back(Decimal(140))


def test_lifted_once_more_it_has_to_come_back_anew() -> None:
    lift, t = lifted(*["50.0"] * 8)
    lift.stands(t, Decimal(50), at_rest=False)
    lift.stands(t + 1.0, Decimal(10), at_rest=False)  # off again
    lift.stands(t + 1.1, Decimal(50), at_rest=False)
    lift.stands(t + 1.2, Decimal(60), at_rest=False)  # after a tenth of a second: passing by
    assert not lift.came_back(Decimal(60))


def test_lifted_before_anything_was_seen_it_is_the_same_only_with_nothing_in() -> None:
    for back, same in (("0.2", True), ("-0.2", True), ("0.3", False), ("-0.3", False)):
        lift = Lift(D)
        lift.gone()
        assert lift.came_back(Decimal(back)) is same
