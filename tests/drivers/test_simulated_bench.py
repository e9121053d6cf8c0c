"""The simulated bench scale obeys physics, its own print, and its seed."""

from __future__ import annotations

import itertools
import math
import random
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from weighd_drivers.bench import Bench, Report
from weighd_drivers.sim_indicator import printed
from weighd_drivers.sim_parameters import BenchParameters, Print

LINE = re.compile(rb"(ST|MV|OV),([+-])([ 0-9.-]{9}) g\r\n")
#: A bench without anything random in what it shows.
QUIET: dict[str, Any] = {
    "noise_g": 0.0,
    "wander_g": 0.0,
    "creep": 0.0,
    "jitter": 0.0,
    "gurgle": 0.0,
}


def bench(seed: int = 1, **given: Any) -> Bench:
    return Bench(BenchParameters(**given), random.Random(seed))


def number(report: Report) -> Decimal:
    match = LINE.fullmatch(report.data)
    assert match, report.data
    return Decimal((match[2] + match[3].strip()).decode())


def word(report: Report) -> bytes:
    match = LINE.fullmatch(report.data)
    assert match, report.data
    return match[1]


@pytest.mark.parametrize("seed", range(10))
def test_a_mass_settles_to_what_it_weighs(seed: int) -> None:
    one = bench(seed)
    one.load.set_down(500.0)
    reports = one.advance(10.0)
    assert all(abs(number(report) - 500) <= Decimal("0.1") for report in reports[-50:])
    assert word(reports[-1]) == b"ST"
    assert word(reports[5]) == b"MV"


def test_nothing_is_shown_above_capacity_and_nine_intervals() -> None:
    """OIML R 76-1:2006, 4.2.3 (from memory): no indication above Max + 9 e."""
    for load, over in ((6000.85, False), (6001.1, True)):
        one = bench(**QUIET)
        one.load.set_down(load)
        last = one.advance(5.0)[-1].data
        assert (last == b"OV,+ -------- g\r\n") is over
        assert (b"6000.8" in last or b"6000.9" in last) is not over


@pytest.mark.parametrize("interval", ["0.01", "0.1", "0.5", "2", "5"])
def test_a_number_is_a_multiple_of_the_interval_with_its_decimals(interval: str) -> None:
    d = Decimal(interval)
    one = bench(interval_g=d)
    one.load.set_down(123.456)
    one.load.pour(20)
    for report in one.advance(6.0):
        shown = number(report)
        assert shown % d == 0
        assert shown.as_tuple().exponent == d.as_tuple().exponent


def test_rounding_is_to_the_nearest() -> None:
    one = bench(**QUIET)
    one.load.set_down(100.04)
    assert number(one.advance(5.0)[-1]) == Decimal("100.0")
    one.load.set_down(100.06)
    assert number(one.advance(12.0)[-1]) == Decimal("100.1")


def _session(one: Bench, cuts: list[float]) -> bytes:
    out = bytearray()

    def until(t: float) -> None:
        for cut in [*(cut for cut in cuts if one.t < cut < t), t]:
            for report in one.advance(cut):
                out.extend(f"{report.t:.6f} ".encode() + report.data)

    one.load.set_down(250.0)
    until(2.0)
    one.load.pour(40.0)
    until(5.0)
    one.load.pour(0)
    until(7.5)
    one.load.tap(2.0)
    one.load.bump(1.0)
    until(9.0)
    one.load.take(5.0)
    one.load.press(80.0, 1.0)
    until(14.0)
    return bytes(out)


def test_the_same_seed_gives_the_same_bytes_however_time_is_handed_in() -> None:
    whole = _session(bench(7), [])
    pieces = _session(bench(7), [0.003 * n for n in range(5000)])
    assert whole == pieces
    assert whole != _session(bench(8), [])


@pytest.mark.parametrize("seed", range(6))
def test_no_mass_is_made_or_lost(seed: int) -> None:
    chance = random.Random(seed)
    one = bench(seed)
    load, t = one.load, 0.0
    acts: list[Callable[[], object]] = [
        lambda: load.set_down(chance.uniform(100, 400)),
        lambda: load.pour(chance.uniform(1, 150)),
        lambda: load.pour(0),
        lambda: load.tap(chance.uniform(0.1, 3)),
        lambda: load.take(chance.uniform(0.1, 30)),
        load.lift,
        load.put_back,
        lambda: load.bump(1),
    ]
    for _ in range(120):
        chance.choice(acts)()
        t += chance.uniform(0.05, 1.5)
        one.advance(t)
        vessels = [vessel for vessel in (load.vessel, load.lifted) if vessel]
        there = sum(vessel.contents_g for vessel in vessels)
        there += load.spilled_g + load.aside_g + load.in_air_g
        assert there == pytest.approx(load.poured_g - load.taken_g, abs=1e-6)
        assert min(there, load.in_air_g, load.spilled_g, load.taken_g) >= -1e-9


def test_a_stream_pushes_as_hard_as_what_is_in_the_air_weighs() -> None:
    """A falling stream has speed v = g t after the time t of its fall; its momentum a second,
    flow times v, in grams of force is flow times t: the mass in the air (mechanics, textbook)."""
    one = bench(**QUIET, filter_s=0.0, delay_s=0.0, fall_m=0.3)
    one.load.set_down(200.0)
    one.advance(2.0)
    one.load.pour(50.0)
    last = one.advance(8.0)[-1]
    fall_s = math.sqrt(2 * 0.3 / 9.81)
    assert one.load.in_air_g == pytest.approx(50 * fall_s, rel=0.03)
    static = one.load.static_g - 50 * (one.t - last.t)
    assert float(number(last)) - static == pytest.approx(one.load.in_air_g, rel=0.1)


def test_some_still_falls_and_drips_after_the_stop() -> None:
    late = []
    for seed in range(20):
        one = bench(seed)
        one.load.set_down(200.0)
        one.advance(1.0)
        one.load.pour(30.0)
        one.advance(4.0)
        one.load.pour(0)
        one.advance(5.5)
        stopped = one.load.poured_g
        one.advance(12.0)
        late.append(one.load.poured_g - stopped)
        assert one.load.flow == 0
        assert one.load.in_air_g == 0
        assert one.load.vessel is not None
        assert one.load.vessel.contents_g == pytest.approx(one.load.poured_g)
    assert any(grams > 0.01 for grams in late)
    assert all(grams < 1.0 for grams in late)


def test_the_display_is_behind() -> None:
    one = bench(**QUIET, filter_s=0.6, delay_s=0.2)
    one.load.set_down(100.0)
    one.advance(3.0)
    one.load.pour(50.0)
    last = one.advance(8.0)[-1]
    behind = (one.load.static_g - float(number(last))) / 50
    assert 0.2 < behind < 0.7  # half the mean and the delay, less what the stream's push hides


def test_a_vessel_is_lifted_put_back_and_swapped() -> None:
    one = bench(**QUIET)
    one.load.set_down(300.0)
    one.advance(2.0)
    one.load.pour(50)
    one.advance(3.0)
    one.load.pour(0)
    full = number(one.advance(6.0)[-1])
    one.load.lift()
    assert number(one.advance(9.0)[-1]) == 0
    one.load.put_back()
    assert number(one.advance(12.0)[-1]) == full
    one.load.set_down(150.0)
    reports = one.advance(16.0)
    assert min(number(report) for report in reports) < 10
    assert number(reports[-1]) == 150


@pytest.mark.parametrize("act", ["bump", "hand"])
def test_a_bump_or_a_hand_moves_the_display_and_leaves_the_mass(act: str) -> None:
    one = bench()
    one.load.set_down(400.0)
    before = number(one.advance(4.0)[-1])
    if act == "bump":
        one.load.bump(1.5)
    else:
        one.load.press(90.0, 2.0)
    reports = one.advance(12.0)
    assert max(abs(number(report) - before) for report in reports) > 2
    assert any(word(report) == b"MV" for report in reports)
    assert abs(number(reports[-1]) - before) <= Decimal("0.1")


@pytest.mark.parametrize("rate", [2.0, 10.0, 80.0])
def test_reports_come_at_their_rate_and_in_order(rate: float) -> None:
    times = [report.t for report in bench(rate_hz=rate).advance(30.0)]
    assert len(times) == pytest.approx(30 * rate, abs=2)
    assert all(later > earlier for earlier, later in itertools.pairwise(times))
    gaps = {round(b - a, 5) for a, b in itertools.pairwise(times)}
    assert len(gaps) > 10  # a scale's clock is never even


def test_the_flag_is_the_scales_own_rule() -> None:
    one = bench(stable_s=1.0)
    one.load.set_down(200.0)
    reports = one.advance(6.0)
    first = next(report for report in reports if word(report) == b"ST" and number(report) > 100)
    quiet = next(r for r in reports if abs(number(r) - number(first)) <= Decimal("0.1"))
    assert first.t - quiet.t >= 0.9
    one.load.pour(30)
    assert word(one.advance(9.0)[-1]) == b"MV"


def test_zero_tracking_follows_a_drift_of_the_empty_pan() -> None:
    shown = {}
    for tracking in (False, True):
        one = bench(3, zero_tracking=tracking, wander_g=0.3, wander_s=60.0)
        shown[tracking] = [abs(number(report)) for report in one.advance(300.0)]
    assert max(shown[False]) > Decimal("0.2")
    assert sum(shown[True]) < sum(shown[False]) / 2


def test_the_zero_key_takes_the_load_as_zero() -> None:
    one = bench(**QUIET)
    one.load.set_down(300.0)
    one.advance(3.0)
    one.zero()
    assert number(one.advance(5.0)[-1]) == 0
    one.load.lift()
    assert number(one.advance(8.0)[-1]) == -300


def test_the_print_is_exact() -> None:
    status, bare = Print(), Print(status=False)
    comma, kilos = Print(decimal=","), Print(status=False, unit="kg")
    shown = Decimal("1234.5")
    assert printed(shown, stable=True, layout=status) == b"ST,+   1234.5 g\r\n"
    assert printed(-shown, stable=False, layout=status) == b"MV,-   1234.5 g\r\n"
    assert printed(Decimal("-0.0"), stable=True, layout=status) == b"ST,+      0.0 g\r\n"
    assert printed(None, stable=True, layout=status) == b"OV,+ -------- g\r\n"
    assert printed(shown, stable=True, layout=bare) == b"    1234.5 g\r\n"
    assert printed(-shown, stable=True, layout=bare) == b"-   1234.5 g\r\n"
    assert printed(shown, stable=True, layout=comma) == b"ST,+   1234,5 g\r\n"
    assert printed(shown, stable=True, layout=kilos) == b"    1.2345 kg\r\n"


@pytest.mark.parametrize(
    "wrong",
    [
        {"interval_g": Decimal(0)},
        {"rate_hz": 1.0},
        {"rate_hz": 81.0},
        {"damping": 0.0},
        {"noise_g": -0.1},
        {"fall_m": 0.0},
    ],
)
def test_impossible_parameters_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"\S"):
        BenchParameters(**wrong)
