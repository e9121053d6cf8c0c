"""Uncertainty and verdicts against published values (each with its source), and against
``uncertainties``, a general-purpose library for linear error propagation."""

from __future__ import annotations

import json
import math
import random
import statistics
from decimal import Decimal
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from weighd.domain.accuracy import Accuracy, AccuracyClass
from weighd.domain.metrology import (
    Level,
    Rule,
    Verdict,
    acceptance,
    combined,
    expected_budget,
    half_hours,
    judge,
    level,
    level_of,
    moving_level,
    net_budget,
    net_uncertainty,
    on_steps,
)

TABLE = json.loads(
    (Path(__file__).parents[2] / "fixtures/tables/metrology.json").read_text("utf-8")
)
D = Decimal
SIMPLE, GUARDED = Rule("simple"), Rule("guarded", D(2))


def published(*names: str) -> list[Any]:
    """Checks of the table whose name begins so."""
    found = [one for one in TABLE["checks"] if one["name"].startswith(names)]
    assert found
    return [pytest.param(one["inputs"], one["expected"], id=one["name"]) for one in found]


# --- components ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("given", "expected"), published("gum_resolution_single"))
def test_one_digital_step_is_known_to_0_29_d(given: Any, expected: Any) -> None:
    found = level([D(100)], D(given["d"]))
    assert float(found.u_g) == pytest.approx(expected["u"], abs=1e-6)
    assert found.budget.as_json() == {"rounding": "0.288675", "spread": "0.000000"}


@pytest.mark.parametrize(("given", "expected"), published("gum_resolution_net"))
def test_a_net_of_two_readings_is_known_to_0_41_d(given: Any, expected: Any) -> None:
    """Also the 0.41 d of USP <41>, 2019 (second-hand)."""
    assert float(expected_budget(D(given["d"])).u_g) == pytest.approx(expected["u"], abs=1e-6)


@pytest.mark.parametrize(("given", "expected"), published("gum_combined_net"))
def test_repeatability_is_added_in_quadrature(given: Any, expected: Any) -> None:
    stated = Accuracy(repeatability_g=D(str(given["s_g"])))
    u = expected_budget(D(given["d_g"]), stated).u_g
    assert float(u) == pytest.approx(expected["u_g"], abs=2e-6)
    assert float(GUARDED.guard(u)) == pytest.approx(expected["U_k2_g"], abs=4e-6)


@pytest.mark.parametrize(("given", "expected"), published("gum_from_mpe"))
def test_a_limit_of_error_is_a_rectangle(given: Any, expected: Any) -> None:
    budget = expected_budget(D(1), Accuracy(max_error_g=D(given["mpe_g"])), D(400))
    assert float(budget.permissible_error_g) == pytest.approx(expected["u_g"], abs=1e-6)


@pytest.mark.parametrize(("given", "expected"), published("r76_creep"))
def test_creep_counts_in_full_for_each_half_hour_begun(given: Any, expected: Any) -> None:
    """The limit as in R 76-1; that it is a rectangle, and widens by half hours, is ours."""
    stated = Accuracy(creep_g=D(expected["max_change_30min_g"]))
    two = Level(D(100), D(0)), Level(D(0), D(0))
    for seconds, halves in ((-60, 1), (0, 1), (1799, 1), (1800, 2), (5400, 4)):
        found = net_budget(*two, stated, half_hours(seconds)).creep_g
        assert float(found) == pytest.approx(halves * 0.5 / math.sqrt(3), abs=1e-6)


def test_what_nothing_is_stated_about_is_not_in_the_budget() -> None:
    assert set(expected_budget(D("0.1")).as_json()) == {"rounding", "spread"}
    stated = Accuracy(D("0.05"), None, AccuracyClass.III, D("0.1"), D("0.02"))
    assert set(expected_budget(D("0.1"), stated, D(40)).as_json()) == {
        *("rounding", "spread", "repeatability", "permissible_error", "creep")
    }


def test_the_error_is_that_permitted_at_the_net_whatever_the_tare() -> None:
    """OIML R 76-1:2006, Table 6 and 3.5.2: class III, e = 1 g: 1 g to 500 g, in service."""
    stated = Accuracy(by_class=AccuracyClass.III, e_g=D(1))
    for tare in (D(0), D(900), D(2400)):
        low, high = Level(tare, D(0)), Level(tare + 500, D(0))
        assert net_budget(high, low, stated).permissible_error_g == D("0.577350")
        above = Level(tare + 501, D(0))
        assert net_budget(above, low, stated).permissible_error_g == D("1.154701")


# --- levels -------------------------------------------------------------------------------------


def test_the_level_is_a_value_that_was_displayed() -> None:
    shown = [D("10.1"), D("10.2"), D("10.1"), D("10.2"), D("99.9")]
    assert level(shown, D("0.1")).grams == D("10.2")
    assert level(shown[:4], D("0.1")).grams == D("10.1")
    with pytest.raises(ValueError, match="at least one"):
        level([], D("0.1"))


def test_a_steady_display_scatters_by_nothing() -> None:
    assert level([D("10.1")] * 12, D("0.1")).spread_g == 0


def test_few_readings_count_as_one() -> None:
    """Four neighbours tell nothing of how alike they are: s itself, not s / sqrt(4)."""
    found = level([D(9), D(11), D(11), D(9)], D(1))
    assert found.spread_g == D("1.154701")  # s² = 4/3


@given(st.lists(st.integers(-4, 4), min_size=2, max_size=40))
def test_spread_is_between_that_of_independent_readings_and_of_a_single_one(
    steps: list[int],
) -> None:
    """JCGM 100:2008, 4.2.3: the mean of n independent readings has s / sqrt(n)."""
    s = statistics.stdev(steps)
    spread = float(level([D(one) for one in steps], D(1)).spread_g)
    assert s / math.sqrt(len(steps)) - 1e-6 <= spread <= s + 1e-6


def filtered(chance: random.Random, noise_d: float, tau_s: float, count: int) -> list[float]:
    """What noise leaves on a display ten times a second behind a low-pass filter, in intervals."""
    keep = math.exp(-0.1 / tau_s)
    value, out = chance.gauss(0, noise_d), []
    for _ in range(count):
        out.append(value)
        value = keep * value + math.sqrt(1 - keep**2) * chance.gauss(0, noise_d)
    return out


@pytest.mark.parametrize("noise_d", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("tau_s", [0.1, 0.3])
@pytest.mark.parametrize("count", [12, 40])
def test_95_of_100_nets_on_a_filtered_display_are_within_2_u(
    noise_d: float, tau_s: float, count: int
) -> None:
    """Of readings a second or more long: fewer show less than what the filter lets through, and
    that is what repeatability is stated for."""
    chance, inside, trials = random.Random(20), 0, 400
    for _ in range(trials):
        levels, loads = [], []
        for _ in ("gross", "tare"):
            load = chance.uniform(-0.5, 0.5)
            shown = [D(round(load + one)) for one in filtered(chance, noise_d, tau_s, count)]
            levels.append(level(shown, D(1)))
            loads.append(load)
        error = float(levels[0].grams - levels[1].grams) - (loads[0] - loads[1])
        inside += abs(error) <= 2 * float(net_budget(*levels).u_g)
    assert inside >= 0.95 * trials


def test_counting_filtered_readings_as_independent_would_claim_too_much() -> None:
    """Why it is not ``s / sqrt(n)``: of 100 nets only some 85 would be within 2 u."""
    chance, inside, trials = random.Random(21), 0, 1000
    for _ in range(trials):
        error, square = 0.0, 2 / 12
        for sign in (1, -1):
            load = chance.uniform(-0.5, 0.5)
            shown = [round(load + one) for one in filtered(chance, 0.6, 0.3, 12)]
            error += sign * (statistics.median_low(shown) - load)
            square += statistics.variance(shown) / len(shown)
        inside += abs(error) <= 2 * math.sqrt(square)
    assert inside < 0.9 * trials


# --- against a general-purpose library -----------------------------------------------------------

grams = st.decimals("-50", "6000", places=1)
small = st.decimals("0", "2", places=3)
intervals = st.sampled_from([D(one) for one in ("0.01", "0.1", "0.5", "1", "5")])
displays = st.lists(st.integers(-3, 3), min_size=1, max_size=20)


@st.composite
def levels(draw: st.DrawFn) -> Level:
    d, around = draw(intervals), draw(grams)
    return level([around + d * step for step in draw(displays)], d)


def error(sigma: float, name: str) -> Any:
    """An independent error; a value without one warns when it is asked for."""
    return ufloat(0, sigma, name) if sigma else 0.0


def reading(one: Level, name: str) -> Any:
    """A level as a value of ``uncertainties`` with its independent errors."""
    return (
        float(one.grams)
        + error(float(one.rounding_g), f"{name} rounding")
        + error(float(one.spread_g), f"{name} spread")
    )


def stated_errors(stated: Accuracy, net_g: Decimal, halves: int) -> Any:
    return (
        error(float(stated.repeatability_g), "repeatability")
        + error(float(stated.error_g(net_g)) / math.sqrt(3), "permissible error")
        + error(float(stated.creep_g) * halves / math.sqrt(3), "creep")
    )


@given(levels(), levels(), small, small, small, st.integers(1, 4))
def test_the_budget_of_a_net_is_what_linear_propagation_gives(
    gross: Level, tare: Level, repeatability: Decimal, limit: Decimal, creep: Decimal, halves: int
) -> None:
    stated = Accuracy(repeatability, limit or None, creep_g=creep)
    budget = net_budget(gross, tare, stated, halves)
    net = (
        reading(gross, "gross")
        - reading(tare, "tare")
        + stated_errors(stated, gross.grams - tare.grams, halves)
    )
    assert float(budget.u_g) == pytest.approx(net.std_dev, abs=4e-6)
    parts: dict[str, float] = {}
    for variable, part in net.error_components().items():
        name = variable.tag.removeprefix("gross ").removeprefix("tare ")
        parts[name] = math.hypot(parts.get(name, 0.0), part)
    for name, one in budget.as_json().items():
        assert float(one) == pytest.approx(parts.get(name.replace("_", " "), 0.0), abs=4e-6)


@given(levels(), levels(), levels(), levels())
def test_a_net_across_a_moved_zero_takes_four_readings(
    tare: Level, before: Level, after: Level, gross: Level
) -> None:
    moved = combined(tare.grams + after.grams - before.grams, tare, before, after)
    base = reading(tare, "tare") + reading(after, "after") - reading(before, "before")
    net = reading(gross, "gross") - base
    assert float(net_budget(gross, moved).u_g) == pytest.approx(net.std_dev, abs=6e-6)
    assert float(gross.grams - moved.grams) == pytest.approx(net.nominal_value)


@given(levels(), levels())
def test_the_two_readings_alone(gross: Level, tare: Level) -> None:
    net = reading(gross, "gross") - reading(tare, "tare")
    assert float(net_uncertainty(gross, tare)) == pytest.approx(net.std_dev, abs=4e-6)


def test_a_level_of_an_older_record_counts_whole() -> None:
    old = level_of(D(500), D("0.0300"), None)
    assert net_budget(old, level_of(D(0), D("0.0400"), None)).u_g == D("0.050000")
    new = level([D(1), D(2), D(2)], D(1))
    assert level_of(new.grams, new.u_g, new.budget.as_json()) == new


# --- verdicts -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("given", "expected"), published("guard_band_zones"))
def test_guarded_zones(given: Any, expected: Any) -> None:
    target, u = D(given["target"]), D(given["U"]) / 2
    low, high = target - D(given["tol_minus"]), target + D(given["tol_plus"])
    said = {
        "accept": {Verdict.ON_TARGET},
        "undetermined": {Verdict.TOO_CLOSE},
        "reject": {Verdict.SHORT, Verdict.OVER},
    }
    limits = acceptance(low, high, GUARDED.guard(u))
    assert limits == (D(expected["A_L"]), D(expected["A_U"]))
    for net, verdict in expected["cases"].items():
        assert judge(D(net), u, low, high, GUARDED) in said[verdict], net
    assert judge(D("102.7"), u, low, high, GUARDED) is Verdict.OVER
    assert judge(D("97.3"), u, low, high, GUARDED) is Verdict.SHORT


@pytest.mark.parametrize(
    ("net", "verdict"),
    [("98", "on target"), ("97.99", "short"), ("102", "on target"), ("102.01", "over")],
)
def test_simple_acceptance_looks_only_at_the_limits(net: str, verdict: str) -> None:
    assert judge(D(net), D("0.3"), D(98), D(102), SIMPLE) == verdict


def conformance(net: float, u: float, low: float, high: float) -> float:
    """The probability that the mass is within the limits (JCGM 106:2012, 7.4)."""
    errors = NormalDist(net, u)
    return errors.cdf(high) - errors.cdf(low)


@pytest.mark.parametrize(("given", "expected"), published("conformance_prob"))
def test_the_probability_used_below_is_the_published_one(given: Any, expected: Any) -> None:
    low = -math.inf if given["T_L"] is None else given["T_L"]
    found = conformance(given["y"], given["u"], low, given["T_U"])
    assert found == pytest.approx(expected["p_c"], abs=1e-6)


@pytest.mark.parametrize(("given", "expected"), published("normal_quantile"))
@given(st.floats(0, 1), st.floats(0.01, 2), st.floats(0.01, 20))
def test_guarding_by_a_quantile_keeps_false_acceptance_under_its_probability(
    given: Any, expected: Any, place: float, u: float, width: float
) -> None:
    """JCGM 106:2012, 8.3.2 and Table 1: with w = z u inside a single limit, no more than p."""
    rule = Rule("guarded", D(str(expected["z"])))
    low, high = D(100), D(100) + D(str(round(width, 4)))
    net = low + (high - low) * D(str(round(place, 4)))
    u_g = D(str(round(u, 4)))
    chance = conformance(float(net), float(u_g), float(low), float(high))
    if judge(net, u_g, low, high, rule) is Verdict.ON_TARGET:
        assert 1 - chance <= 2 * given["one_sided_p"] + 1e-4  # either limit may be missed
    if judge(net, u_g, low, high, rule) in (Verdict.SHORT, Verdict.OVER):
        assert chance <= given["one_sided_p"] + 1e-4


@pytest.mark.parametrize(("given", "expected"), published("guard_band_false_accept"))
def test_false_acceptance_at_the_limit(given: Any, expected: Any) -> None:
    """ILAC-G8:09/2019, Table 1: w = 0 accepts what lies on a limit in half of all cases."""
    rule = SIMPLE if given["w_over_U"] == 0 else GUARDED
    edge = float(acceptance(D(98), D(102), rule.guard(D("0.3")))[1])
    assert 1 - NormalDist(edge, 0.3).cdf(102) == pytest.approx(expected["p_false_accept_at_limit"])
    guarded = float(acceptance(D(98), D(102), GUARDED.guard(D("0.3")))[1])
    assert 1 - NormalDist(guarded, 0.3).cdf(102) < 0.025


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


@pytest.mark.parametrize(("name", "k"), [("strict", "2"), ("guarded", "0"), ("guarded", "9")])
def test_a_rule_that_makes_no_sense_is_refused(name: str, k: str) -> None:
    with pytest.raises(ValueError, match=r"rule|guard"):
        Rule(name, D(k))


def test_a_level_on_coarser_steps_is_known_no_better_than_they_are() -> None:
    """GUM 4.3.7: half-width a of a rectangle is a / sqrt(3); a step of 5 g has a = 2.5 g."""
    settled = level([D("100.0"), D("100.1")] * 4, D("0.1"))
    coarse = on_steps(settled, D(5))
    assert coarse.grams == settled.grams
    assert float(coarse.rounding_g) == pytest.approx(2.5 / math.sqrt(3), abs=1e-4)
    assert coarse.spread_g == settled.spread_g
    assert float(coarse.u_g) == pytest.approx(
        math.hypot(2.5 / math.sqrt(3), float(settled.spread_g)), abs=1e-4
    )


@given(st.lists(st.integers(0, 400), min_size=1, max_size=20))
def test_a_display_that_moved_is_known_as_badly_as_it_moved(tenths: list[int]) -> None:
    """All within the range R of the last is alike: R / sqrt(3) (GUM 4.3.7), and its rounding."""
    shown = [D(one) / 10 for one in tenths]
    found = moving_level(shown, D("0.1"))
    spread = (max(tenths) - min(tenths)) / 10 / math.sqrt(3)
    assert found.grams == shown[-1]
    assert float(found.spread_g) == pytest.approx(spread, abs=1e-4)
    assert float(found.u_g) == pytest.approx(math.hypot(0.1 / math.sqrt(12), spread), abs=2e-4)


def test_no_level_without_a_reading() -> None:
    with pytest.raises(ValueError, match="at least one reading"):
        moving_level([], D("0.1"))
