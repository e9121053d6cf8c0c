"""Uncertainty and verdicts against published values (each with its source)."""

from __future__ import annotations

from decimal import Decimal
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.metrology import (
    Level,
    Rule,
    Verdict,
    expected_uncertainty,
    judge,
    judgeable,
    level,
    net_uncertainty,
)

D = Decimal
SIMPLE, GUARDED = Rule("simple"), Rule("guarded", D(2))


def test_one_digital_step_is_known_to_0_29_d() -> None:
    """JCGM 100:2008, F.2.2.1: u = 0.29 d (second-hand); digits computed: d / sqrt(12)."""
    assert level([D(100)], D(1)).u_g == D("0.2887")


def test_a_net_of_two_readings_is_known_to_0_41_d() -> None:
    """JCGM 100:2008, F.2.2.1 and 5.1.2; the 0.41 d of USP <41>, 2019 (second-hand)."""
    assert expected_uncertainty(D(1)) == D("0.4082")
    assert expected_uncertainty(D("0.1")) == D("0.0408")


def test_repeatability_is_added_in_quadrature() -> None:
    """JCGM 100:2008, 5.1.2: s = 0.6 g and d = 1 g, net of two readings: u = 0.7257 g (computed)."""
    assert expected_uncertainty(D(1), D("0.6")) == D("0.7257")


def test_the_level_is_a_value_that_was_displayed() -> None:
    shown = [D("10.1"), D("10.2"), D("10.1"), D("10.2"), D("99.9")]
    assert level(shown, D("0.1")).grams == D("10.2")
    assert level(shown[:4], D("0.1")).grams == D("10.1")
    with pytest.raises(ValueError, match="at least one"):
        level([], D("0.1"))


def test_spread_widens_the_uncertainty_of_a_level() -> None:
    """JCGM 100:2008, 4.2.3: the mean of n has s / sqrt(n)."""
    found = level([D(9), D(11), D(9), D(11)], D(1))
    variance = D(4) / 3 / 4 + D(1) / 12  # s² = 4/3, n = 4, rounding d²/12
    assert abs(found.u_g**2 - variance) < D("0.0002")


@pytest.mark.parametrize(
    ("net", "verdict"),
    [
        ("98.6", Verdict.ON_TARGET),
        ("101.4", Verdict.ON_TARGET),
        ("101.5", Verdict.TOO_CLOSE),
        ("102.0", Verdict.TOO_CLOSE),
        ("102.6", Verdict.TOO_CLOSE),
        ("102.7", Verdict.OVER),
        ("97.3", Verdict.SHORT),
    ],
)
def test_guarded_zones(net: str, verdict: Verdict) -> None:
    """ILAC-G8:09/2019, 4.2.3, with 100 +- 2 g and U = 0.6 g: zones computed from the rule."""
    assert judge(D(net), D("0.3"), D(98), D(102), GUARDED) is verdict


@pytest.mark.parametrize(
    ("net", "verdict"),
    [("98", "on target"), ("97.99", "short"), ("102", "on target"), ("102.01", "over")],
)
def test_simple_acceptance_looks_only_at_the_limits(net: str, verdict: str) -> None:
    assert judge(D(net), D("0.3"), D(98), D(102), SIMPLE) == verdict


def test_a_guard_band_of_2u_keeps_false_acceptance_under_2_5_percent() -> None:
    """ILAC-G8:09/2019, table 1 (second-hand): w = U gives less than 2.5 % false acceptance.

    A mass exactly on the upper limit is accepted only where the reading errs by 2 u or more.
    """
    u = 0.3
    errors = NormalDist(0, u)
    accepted_below = D(102) - GUARDED.guard(D("0.3"))
    assert 1 - errors.cdf(float(D(102) - accepted_below)) < 0.025


@given(
    st.decimals("0", "300", places=2),
    st.decimals("0.0001", "5", places=4),
    st.decimals("90", "110", places=2),
    st.decimals("0.01", "20", places=2),
)
def test_guarding_never_turns_a_verdict_into_its_opposite(
    net: Decimal, u: Decimal, low: Decimal, width: Decimal
) -> None:
    high = low + width
    simple, guarded = judge(net, u, low, high, SIMPLE), judge(net, u, low, high, GUARDED)
    assert guarded in (simple, Verdict.TOO_CLOSE)


@given(st.decimals("0.01", "10", places=2), st.sampled_from(["0.01", "0.1", "0.5", "1", "5"]))
def test_judgeable_means_that_some_display_is_on_target(half: Decimal, interval: str) -> None:
    d = D(interval)
    low, high = D(100) - half, D(100) + half
    u = expected_uncertainty(d)
    for offset in (D(0), d / 3, d / 2):  # wherever the display's steps fall
        nets = [offset + d * k for k in range(int((low - 2 * d) / d), int((high + 2 * d) / d) + 1)]
        possible = any(judge(net, u, low, high, GUARDED) is Verdict.ON_TARGET for net in nets)
        assert possible or not judgeable(low, high, d, GUARDED)


def test_net_uncertainty_is_that_of_two_levels() -> None:
    assert net_uncertainty(Level(D(5), D("0.3")), Level(D(1), D("0.4"))) == D("0.5")


@pytest.mark.parametrize(("name", "k"), [("strict", "2"), ("guarded", "0"), ("guarded", "9")])
def test_a_rule_that_makes_no_sense_is_refused(name: str, k: str) -> None:
    with pytest.raises(ValueError, match=r"rule|guard"):
        Rule(name, D(k))
