"""What holds of the detector for any display."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.display import D, Display
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd.domain.settling import Finding, Phase, Settling
from weighd.domain.settling_run import LONGEST, MOST, Run

#: Counts and seconds between readings: rests, steps, growth, noise, silences.
COUNTS = st.lists(
    st.one_of(
        st.tuples(st.integers(-400, 4000), st.integers(1, 25)).map(lambda p: [p[0]] * p[1]),
        st.tuples(st.integers(0, 3000), st.integers(1, 60), st.integers(2, 30)).map(
            lambda p: [p[0] + p[1] * k for k in range(p[2])]
        ),
        st.lists(st.integers(990, 1010), min_size=1, max_size=20),
    ),
    min_size=1,
    max_size=8,
).map(lambda parts: [count for part in parts for count in part])
PERIODS = st.sampled_from([0.0125, 0.05, 0.1, 0.25, 0.5])


def play(counts: list[int], period: float, d: Decimal) -> list[Finding]:
    detector = Settling(d)
    return [detector.feed(Reading(k * period, count * d, Unit.G)) for k, count in enumerate(counts)]


@given(COUNTS, PERIODS)
@settings(max_examples=80, deadline=None)
def test_a_finding_for_every_reading_and_the_same_ones_again(
    counts: list[int], period: float
) -> None:
    found = play(counts, period, D)
    assert [one.t for one in found] == [k * period for k in range(len(counts))]
    assert found == play(counts, period, D)


@given(COUNTS, PERIODS)
@settings(max_examples=80, deadline=None)
def test_ten_times_the_interval_and_the_load_is_the_same_story(
    counts: list[int], period: float
) -> None:
    for fine, coarse in zip(play(counts, period, D), play(counts, period, D * 10), strict=True):
        assert (fine.phase, fine.firm, fine.why) == (coarse.phase, coarse.firm, coarse.why)
        if fine.level is not None:
            assert coarse.level is not None
            assert fine.level.grams * 10 == coarse.level.grams


@given(COUNTS, PERIODS)
@settings(max_examples=80, deadline=None)
def test_a_level_has_stood_on_the_display(counts: list[int], period: float) -> None:
    for k, one in enumerate(play(counts, period, D)):
        if one.level is not None:
            assert one.level.grams in [count * D for count in counts[: k + 1]]


@given(st.integers(20, 5000), st.integers(0, 50), PERIODS)
@settings(max_examples=60, deadline=None)
def test_no_claim_within_a_third_of_a_second_of_a_step(
    step: int, start: int, period: float
) -> None:
    rest = round(3 / period)
    counts = [start] * rest + [start + step] * rest
    for k, one in enumerate(play(counts, period, D)):
        if 0 <= (k - rest) * period < 0.3:
            assert one.phase is not Phase.SETTLED


@given(st.floats(2.0, 400.0), st.sampled_from([5.0, 10.0, 20.0, 50.0]))
@settings(max_examples=60, deadline=None)
def test_never_settled_while_growing_evenly(d_per_s: float, hz: float) -> None:
    display = Display(Settling(D), hz)
    display.stand(2, "0.0")
    display.flow(d_per_s * 0.1, 2.0)
    known = display.t
    display.flow(d_per_s * 0.1, 6.0)
    assert not [one for one in display.since(known) if one.phase is Phase.SETTLED]


def test_memory_is_bounded() -> None:
    run, kept = Run(), 0
    reading = Reading(0.0, Decimal(1))
    for k in range(5000):
        run.add(k * 0.002, float(k % 7), reading, 3.0, float(k % 7))
        kept = max(kept, len(run.rows), len(run._highs), len(run._lows))
    assert kept <= MOST
    for k in range(200):
        run.add(20 + k * 0.1, 5.0, reading, 3.0, 5.0)
    assert run.rows[-1][0] - run.rows[0][0] <= LONGEST
    assert run.count == len(run.rows)


@given(COUNTS, st.floats(0.5, 20.0))
@settings(max_examples=80, deadline=None)
def test_the_run_is_the_longest_suffix_within_the_band(counts: list[int], band: float) -> None:
    run, values = Run(), [float(count) for count in counts]
    for k, value in enumerate(values):
        run.add(k * 0.01, value, Reading(0.0, Decimal(1)), band, value)
        newest = [values[k]]
        for older in reversed(values[:k]):
            if max(*newest, older) - min(*newest, older) > band:
                break
            newest.append(older)
        assert run.count == min(len(newest), len(run.rows))
        assert abs(run.mean(run.count) - sum(newest[: run.count]) / run.count) < 1e-6
        assert run.spread == max(newest[: run.count]) - min(newest[: run.count])
