"""The small parts of the guide, each against a stream whose course is known."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.pouring_gurgle import BEATS_HZ, FEWEST, Gurgle
from weighd.domain.pouring_learned import Belief
from weighd.domain.pouring_slowing import Line, Slowing
from weighd.domain.pouring_stream import LOST, NOISIER, Stream

# --- gurgling -------------------------------------------------------------------------------------


def gurgling(hz: float, swing: float, rate: float = 20.0, seconds: float = 2.2) -> Gurgle:
    seen = Gurgle()
    for n in range(int(seconds / 0.08) + 1):
        t = n * 0.08
        seen.add(t, 100 + rate * t + swing * math.sin(math.tau * hz * t))
    return seen


@given(st.sampled_from(BEATS_HZ), st.floats(1, 5), st.floats(0, 0.3))
def test_a_wave_is_forecast_where_it_will_be(hz: float, swing: float, ahead: float) -> None:
    t = 27 * 0.08 + ahead
    at, believed = gurgling(hz, swing).forecast(t)
    # The slope is fitted without the wave, the wave without the slope: good to a third of it.
    true = 100 + 20 * t + swing * math.sin(math.tau * hz * t)
    assert at == pytest.approx(true, abs=0.35 * swing)
    assert believed > 0.5


def test_a_straight_or_a_still_display_has_no_wave() -> None:
    assert gurgling(1.0, 0.0, rate=0.0).forecast(2.3) == (0.0, 0.0)
    seen = Gurgle()
    for n in range(28):
        seen.add(n * 0.08, 5.0 + (n % 3 == 0) * 0.1 + (n % 7 == 0) * 0.1)  # its last digit alone
    assert seen.forecast(2.3)[1] < 0.5


def test_too_few_or_too_short_is_no_forecast() -> None:
    assert gurgling(2.2, 3.0, seconds=0.08 * (FEWEST - 2)).forecast(1.0) == (0.0, 0.0)
    assert gurgling(2.2, 3.0, seconds=1.3).forecast(1.4) == (0.0, 0.0)
    seen = gurgling(2.2, 3.0)
    seen.clear()
    assert seen.forecast(2.3) == (0.0, 0.0)


# --- slowing --------------------------------------------------------------------------------------

LEAD, THROTTLE = Belief(0.35, 0.05, 0.05), Belief(0.2, 0.05, 0.05)


def watched(share: float, seconds: float = 1.5, heeds: float = 0.7) -> tuple[Slowing, float | None]:
    """Twenty grams a second, throttled to ``share`` of that 0.35 s after the cue."""
    slowing = Slowing(Line(0.0, 50.0, 20.0), THROTTLE, heeds)
    seen = None
    for n in range(1, int(seconds / 0.05)):
        t = n * 0.05
        shown = 50 + 20 * (min(t, 0.35) + share * max(t - 0.35, 0.0))
        if slowing.looks(t, shown, LEAD, 0.02, 0.05) and seen is None:
            seen = t
    return slowing, seen


def test_a_throttle_is_seen_once_and_not_before_it_is_there() -> None:
    slowing, seen = watched(0.2)
    assert seen is not None
    assert 0.35 < seen < 0.9
    assert slowing.shown_at == seen
    assert slowing.likely == 1.0
    assert not slowing.looks(5.0, 60.0, LEAD, 0.02, 0.05)


def test_a_flow_that_goes_on_is_not_taken_for_throttled() -> None:
    slowing, seen = watched(1.0)
    assert seen is None
    assert slowing.likely < 0.05


def test_a_display_that_is_far_off_both_decides_nothing() -> None:
    slowing = Slowing(Line(0.0, 50.0, 20.0), THROTTLE, 0.7)
    assert not slowing.looks(0.1, 1e9, LEAD, 0.02, 0.05)
    assert 0 <= slowing.likely <= 1
    still = Slowing(Line(0.0, 50.0, 0.0), THROTTLE, 0.7)
    assert not still.looks(1.0, 50.0, LEAD, 0.02, 0.05)


# --- the stream -----------------------------------------------------------------------------------


def test_an_even_stream_is_known_by_its_rate() -> None:
    stream = Stream(0.1)
    for n in range(60):
        t = n * 0.1
        stream.feed(t, round(15 * max(t - 1, 0), 1))
    assert stream.rate == pytest.approx(15, rel=0.03)
    assert stream.at == pytest.approx(15 * 4.9, abs=0.3)
    assert stream.age == pytest.approx(4.9, abs=0.3)


def test_displays_that_agree_with_nothing_begin_anew_and_count_as_noise() -> None:
    stream = Stream(0.1)
    for n in range(30):
        stream.feed(n * 0.1, 100.0)
    for n in range(LOST):  # as a kicked table shows: up, down, up, each time elsewhere
        noise, began = stream.seen_noise, stream.at
        stream.feed(3 + n * 0.1, 100 + (-1) ** n * (60 + 17 * n))
        lost = n == LOST - 1
        assert (stream.seen_noise >= noise * NOISIER, stream.at != began) == (lost, lost)
    assert (stream.rate, stream.at) == (0.0, 100 + (-1) ** (LOST - 1) * (60 + 17 * (LOST - 1)))
    assert stream.aside


def test_one_display_far_off_moves_nothing() -> None:
    stream, other = Stream(0.1), Stream(0.1)
    for n in range(50):
        t = n * 0.1
        stream.feed(t, 15 * t)
        other.feed(t, 500.0 if n == 40 else 15 * t)
    assert other.at == pytest.approx(stream.at, abs=0.1)
    assert other.rate == pytest.approx(stream.rate, rel=0.02)


def test_a_forecast_that_came_due_in_a_pause_teaches_nothing() -> None:
    """Displays half a second apart and more: what was forecast for between them is not compared."""
    even, paused = Stream(0.1), Stream(0.1)
    for n in range(60):
        even.feed(n * 0.1, 15 * n * 0.1)
        paused.feed(n * 0.1, 15 * n * 0.1)
    gulp = paused.gulp
    paused.feed(6.9, 15 * 6.9 + 1.0)
    assert paused.gulp == gulp
    for n in range(60, 70):
        even.feed(n * 0.1, 15 * n * 0.1 + 1.0)
    assert even.gulp != gulp


def test_displays_that_come_all_at_once_teach_no_period_of_nothing() -> None:
    stream = Stream(0.1)
    for _ in range(5000):  # a cable that held back what came in minutes
        stream.feed(1.0, 0.0)
    for shown in (40.0, 40.1, 80.0, 80.1):  # and displays that jump
        stream.feed(1.0, shown)
    assert math.isfinite(stream.rate)
    assert math.isfinite(stream.rate_known)
    for n in range(60):
        stream.feed(1.1 + n / 10, 80.0 + n)
    assert stream.rate == pytest.approx(10, rel=0.1)
