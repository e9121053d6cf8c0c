"""Control charts and capability, against published figures and against chance itself."""

from __future__ import annotations

import random
from math import inf, sqrt
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.charts import (
    D2,
    D4,
    Rule,
    bias,
    capability,
    chart,
    student,
)

#: NIST/SEMATECH e-Handbook, 6.3.2.2, flow rates of ten batches (from memory; the figures agree with
#: one another).
FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


def test_a_published_chart() -> None:
    seen = chart(FLOW)
    assert seen.centre == pytest.approx(50.81)
    assert seen.mean_range == pytest.approx(1.8778, abs=1e-4)
    assert seen.limits[0] == pytest.approx(45.8159, abs=3e-3)
    assert seen.limits[1] == pytest.approx(55.8041, abs=3e-3)
    assert seen.steady


def test_published_constants() -> None:
    """Factors for ranges of two, any table (from memory): d2 1.128, D4 3.267, 2.660."""
    assert pytest.approx(1.128, abs=5e-4) == D2
    assert pytest.approx(3.267, abs=5e-4) == D4
    assert pytest.approx(2.660, abs=2e-3) == 3 / D2


def test_published_capability() -> None:
    """NIST/SEMATECH e-Handbook, 6.1.6 (from memory): 8 to 20, mean 16, s 2: Cp 1, Cpk 0.667."""
    # Values of mean 16 whose ranges of two make s = 2: they go up and down by 2 * d2.
    step = 2 * D2
    seen = chart([16 + step / 2 * (-1) ** n for n in range(20)])
    assert seen.sigma == pytest.approx(2)
    told = capability(seen, 8, 20)
    assert told.cp == pytest.approx(1)
    assert told.cpk == pytest.approx(0.6667, abs=1e-4)
    assert told.low < told.cpk < told.high


def test_its_interval_holds_what_it_should() -> None:
    """Of many processes whose index is 1, the interval holds 1 about 19 times of 20 (Bissell)."""
    rng = random.Random(20261126)
    held = 0
    for _ in range(400):
        told = capability(chart([rng.gauss(0, 1) for _ in range(60)]), -3, 3)
        held += told.low <= 1 <= told.high
    assert 350 <= held <= 395


@pytest.mark.parametrize("freedom", [*range(1, 31), 31, 40, 60, 120, 1000, 10**6])
def test_students_t_is_that_of_a_reference_library(freedom: int) -> None:
    """scipy.stats, a general-purpose reference."""
    from scipy import stats

    assert student(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=1e-3)


def test_a_bias_holds_the_mean_as_often_as_it_says() -> None:
    rng = random.Random(4)
    runs = [bias([rng.gauss(2, 1) for _ in range(8)]) for _ in range(400)]
    assert 365 <= sum(one.low <= 2 <= one.high for one in runs) <= 395
    assert all(one.low < one.mean < one.high for one in runs)
    assert bias([1, 1.1, 0.9, 1]).sure
    assert not bias([1, -1.1, 0.9, -1]).sure


def rules(*values: float) -> list[tuple[Rule, int, bool]]:
    """Signals after a long quiet beginning of values that alternate about zero."""
    quiet = [0.5 * (-1) ** n for n in range(60)]
    seen = chart([*quiet, *values])
    return [(it.rule, it.at - 60, it.up) for it in seen.signals if it.at >= 60]


def test_each_rule_is_found_where_it_is_and_on_its_side() -> None:
    # The quiet values' sigma is 1 / 1.128 = 0.89.
    assert (Rule.BEYOND, 0, True) in rules(4.5)
    assert (Rule.BEYOND, 0, False) in rules(-4.5)
    assert (Rule.TWO_OF_THREE, 2, True) in rules(2.3, -0.1, 2.3)
    assert (Rule.TWO_OF_THREE, 1, False) not in rules(2.3, -2.3)
    assert (Rule.FOUR_OF_FIVE, 4, False) in rules(-1.3, -1.3, 0.4, -1.3, -1.3)
    found = rules(*[0.45, 0.6] * 4)
    assert (Rule.EIGHT, 7, True) in found
    assert all(it[0] is Rule.EIGHT for it in found)
    assert (Rule.SIX, 5, True) in rules(-0.6, -0.4, -0.2, 0.1, 0.3, 0.5)
    assert (Rule.SIX, 5, False) in rules(0.6, 0.4, 0.2, -0.1, -0.3, -0.5)
    assert rules(0.5, -0.5, 0.5, -0.5, 0.5, -0.5) == []
    assert (Rule.JUMP, 1, True) in rules(-2.2, 2.2)


def test_a_steady_process_is_seldom_called_unsteady() -> None:
    """By chance three in a thousand are beyond 3 sigma (any table of the normal)."""
    rng = random.Random(7)
    beyond = total = 0
    for _ in range(60):
        seen = chart([rng.gauss(0, 1) for _ in range(100)])
        beyond += sum(it.rule is Rule.BEYOND for it in seen.signals)
        total += len({it.at for it in seen.signals})
    expected = 6000 * 2 * NormalDist().cdf(-3)
    assert 0.2 * expected <= beyond <= 3 * expected
    assert total < 6000 * 0.04


values = st.lists(st.floats(-100, 100, allow_nan=False), min_size=2, max_size=40)


@given(values, st.floats(-50, 50), st.floats(0.1, 10))
def test_a_chart_moves_and_grows_with_its_values(
    them: list[float], by: float, times: float
) -> None:
    seen, other = chart(them), chart([times * one + by for one in them])
    assert other.centre == pytest.approx(times * seen.centre + by, abs=1e-6)
    assert other.sigma == pytest.approx(times * seen.sigma, abs=1e-6)
    assert seen.limits[0] <= seen.centre <= seen.limits[1]
    mirrored = chart([-one for one in them])
    turned = {(it.rule, it.at, not it.up) for it in mirrored.signals}
    # Rounding may move a value that lies on a limit; such are left out.
    if min(abs(abs(it - seen.centre) - k * seen.sigma) for it in them for k in range(4)) > 1e-6:
        assert {(it.rule, it.at, it.up) for it in seen.signals} == turned


def test_what_does_not_scatter_and_what_is_too_little() -> None:
    flat = chart([1.0, 1.0, 1.0])
    assert flat.steady
    assert capability(flat, 0, 2).cpk == inf
    assert capability(flat, 2, 3).cpk == -inf
    assert capability(flat, 1, 2).cpk == 0
    for call in (lambda: chart([1.0]), lambda: bias([1.0]), lambda: capability(flat, 1, 1)):
        with pytest.raises(ValueError, match=r"at least two|in order"):
            call()
    assert sqrt(2) < chart(FLOW).sigma < 2
