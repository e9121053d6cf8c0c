"""What wastes away on a scale: known losses, rounding and noise, and what is asked for later."""

from __future__ import annotations

import math
import random
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weighd.domain import mass
from weighd.domain.reading import Reading
from weighd.domain.settling import Phase, Settling
from weighd.domain.sublimation import EVIDENCE, FEWEST, LossWatch, Waste, waste, weigh_out

TENTH = Decimal("0.1")


def shown(
    rate_g_min: float,
    seconds: float = 60,
    *,
    start: float = 900.0,
    every: float = 0.1,
    step: Decimal = TENTH,
    noise: float = 0.0,
    seed: int = 1,
) -> list[tuple[float, Decimal]]:
    """What a scale shows of a load that wastes away evenly."""
    dice = random.Random(seed)
    out = []
    for n in range(int(seconds / every) + 1):
        t = n * every
        true = start - rate_g_min * t / 60 + dice.gauss(0, noise)
        out.append((t, mass.rounded(Decimal(str(round(true, 6))), step)))
    return out


@given(
    st.floats(0.5, 25),
    st.sampled_from(["0.1", "0.5", "1"]),
    st.floats(0, 0.3),
    st.integers(0, 10_000),
)
@settings(max_examples=60)
def test_the_true_rate_lies_within_what_is_said(
    rate: float, step: str, noise: float, seed: int
) -> None:
    found = waste(shown(rate, 60, step=Decimal(step), noise=noise, seed=seed), Decimal(step))
    assert found is not None
    assert abs(found.rate_g_min - rate) <= 3.5 * found.u_rate_g_min
    assert abs(found.grams - (900 - rate)) <= 4 * found.u_grams


def test_the_uncertainty_is_about_right() -> None:
    """Of 200 noisy lines some 95 % should hold the truth within two standard uncertainties; it is
    told somewhat too wide rather than too narrow."""
    inside, widths = 0, []
    for seed in range(200):
        found = waste(shown(6.0, 30, noise=0.15, seed=seed), TENTH)
        assert found is not None
        inside += abs(found.rate_g_min - 6.0) <= 2 * found.u_rate_g_min
        widths.append(found.u_rate_g_min)
    assert inside >= 190
    assert sum(widths) / len(widths) < 0.5  # grams a minute: not so wide that it says nothing


def test_a_load_that_stands_is_no_loss() -> None:
    found = waste(shown(0.0, 60, noise=0.05), TENTH)
    assert found is not None and not found.seen
    grows = waste(shown(-5.0, 60), TENTH)
    assert grows is not None and not grows.seen


def test_too_little_tells_nothing() -> None:
    rows = shown(6.0, 60)
    assert waste(rows[: FEWEST - 1], TENTH) is None
    assert waste(rows[:50], TENTH) is None  # five seconds
    assert waste([], TENTH) is None


def test_more_is_weighed_out_by_what_will_be_lost() -> None:
    found = waste(shown(6.0, 120, start=1000), TENTH)
    assert found is not None
    later = weigh_out(found, 888.0, 300.0)
    assert later is not None
    # 6 g a minute of a load of 988 to 1000 g; five minutes.
    assert later.lost_g == pytest.approx(30, abs=0.3)
    assert later.grams == pytest.approx(918, abs=0.3)
    grams, u = found.at(found.t + 300)
    assert grams == pytest.approx(1000 - 12 - 30, abs=0.4)
    assert u == pytest.approx(math.hypot(found.u_grams, 5 * found.u_rate_g_min))


def test_a_larger_amount_than_was_watched_loses_in_proportion() -> None:
    found = waste(shown(2.0, 120, start=104), TENTH)
    assert found is not None
    later = weigh_out(found, 500.0, 60.0)
    assert later is not None
    assert later.lost_g == pytest.approx(10, rel=0.05)


def test_a_straight_line_is_not_carried_on_too_far() -> None:
    found = waste(shown(6.0, 20), TENTH)
    assert found is not None
    assert weigh_out(found, 800.0, 190.0) is not None
    assert weigh_out(found, 800.0, 300.0) is None  # ten times as long as it was watched
    fast = waste(shown(25.0, 120), TENTH)
    assert fast is not None
    assert weigh_out(fast, 100.0, 300.0) is None  # more than half would be lost


@pytest.mark.parametrize(("want", "wait"), [(0, 1), (-1, 1), (1, -1), (math.nan, 1), (1, math.inf)])
def test_what_cannot_be_wanted(want: float, wait: float) -> None:
    with pytest.raises(ValueError, match="needed"):
        weigh_out(Waste(0, 100, 0.1, 1, 0.1, 60), want, wait)


@given(st.floats(50, 900), st.floats(0, 300), st.floats(0, 300))
def test_waiting_longer_asks_for_more(want: float, one: float, other: float) -> None:
    found = Waste(60, 900, 0.05, 6, 0.05, 60)
    first = weigh_out(found, want, min(one, other))
    second = weigh_out(found, want, max(one, other))
    if first is not None and second is not None:
        assert first.grams <= second.grams


def test_a_load_that_is_touched_begins_anew() -> None:
    watch = LossWatch(TENTH)
    for t, grams in shown(6.0, 60):
        watch.feed(t, grams)
    before = watch.waste()
    assert before is not None and before.seen
    for t, grams in shown(6.0, 8, start=950):
        watch.feed(t + 60.1, grams)
    assert watch.waste() is None
    for t, grams in shown(6.0, 30, start=949.2):
        watch.feed(t + 68.2, grams)
    after = watch.waste()
    assert after is not None
    assert after.rate_g_min == pytest.approx(6, abs=3 * after.u_rate_g_min)
    for t in (98.3, 98.4, 98.5):
        assert watch.waste() is not None
        watch.feed(t, None)
    assert watch.waste() is None


def test_reports_that_came_together_are_one_load() -> None:
    watch = LossWatch(TENTH)
    rows = shown(6.0, 60)
    for n, (_, grams) in enumerate(rows):
        watch.feed(rows[n - n % 8][0], grams)  # eight lines in one chunk have one time
    found = watch.waste()
    assert found is not None
    assert found.seconds > 50
    assert found.rate_g_min == pytest.approx(6, abs=3 * found.u_rate_g_min + 0.1)


def test_a_misread_display_decides_nothing() -> None:
    clean, dirty = LossWatch(TENTH), LossWatch(TENTH)
    for n, (t, grams) in enumerate(shown(6.0, 60)):
        clean.feed(t, grams)
        dirty.feed(t, grams)
        if n % 50 == 7:
            for wrong in (Decimal(89), None)[: 1 + n % 2]:
                dirty.feed(t + 0.01, wrong)
    assert clean.waste() == dirty.waste()


def test_a_clock_that_runs_back_and_a_gap_begin_anew() -> None:
    watch = LossWatch(TENTH)
    for t, grams in shown(6.0, 60):
        watch.feed(t, grams)
    watch.feed(5.0, Decimal(900))
    assert watch.waste() is None
    with pytest.raises(ValueError, match="interval"):
        LossWatch(Decimal(0))


def test_a_loss_is_no_fault_of_the_scale() -> None:
    """What the detector makes of a load that wastes away slowly: it stays settled, and follows."""
    settling, phases = Settling(TENTH), set()
    for t, grams in shown(2.0, 120):
        finding = settling.feed(Reading(t, grams, mass.Unit.G))
        if t > 5:
            phases.add(finding.phase)
    assert phases == {Phase.SETTLED}
    assert finding.level is not None
    assert abs(float(finding.level.grams) - (900 - 4)) < 0.3
    assert finding.drift_g_s * 60 == pytest.approx(-2.0, rel=0.1)


def test_some_readings_of_the_line_are_kept_evenly_with_the_first_and_the_newest() -> None:
    def kept_of(seconds: int) -> tuple[list[Reading], list[Reading]]:
        watch = LossWatch(TENTH)
        fed = [Reading(n / 10, Decimal(900), raw=f"{n}".encode()) for n in range(seconds * 10)]
        for one in fed:
            watch.feed(one.t, one.grams, one)
        return fed, watch.evidence()

    fed, few = kept_of(5)
    assert few == fed[-len(few) :]  # all that is on the line
    assert 0 < len(few) < EVIDENCE
    fed, some = kept_of(40)
    assert len(some) == EVIDENCE
    assert some[-1] == fed[-1]
    at = [fed.index(one) for one in some]
    apart = [later - earlier for earlier, later in pairwise(at)]
    assert max(apart) - min(apart) <= 1
    assert at[0] == fed.index(few[0])


def test_no_wait_and_half_a_gram_can_be_weighed_out_and_nothing_cannot() -> None:
    seen = waste(shown(6, 60), TENTH)
    assert seen is not None
    now = weigh_out(seen, 0.5, 0.0)
    assert now is not None
    assert (now.lost_g, now.grams) == (0.0, 0.5)
    for wanted, wait in ((0.0, 1.0), (-1.0, 1.0), (1.0, -0.1), (math.nan, 1.0), (1.0, math.inf)):
        with pytest.raises(ValueError, match="amount above zero"):
            weigh_out(seen, wanted, wait)
