"""The detector on displays whose meaning is plain. Common practice, no source, where not said."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.domain.display import D, Display
from weighd.domain.metrology import level
from weighd.domain.settling import FEWEST, Finding, Phase, Settling


def settled(display: Display, since: float) -> list[Finding]:
    return [one for one in display.since(since) if one.phase is Phase.SETTLED]


def ready(hz: float = 10.0, grams: str = "0.0") -> Display:
    display = Display(hz=hz)
    display.stand(2.0, grams)
    return display


def test_an_interval_is_above_zero() -> None:
    with pytest.raises(ValueError, match="above zero"):
        Settling(Decimal(0))


@pytest.mark.parametrize("hz", [3.0, 5.0, 10.0, 20.0, 80.0])
def test_a_pour_is_claimed_soon_after_its_end_and_not_before(hz: float) -> None:
    display = ready(hz)
    start = display.t
    display.flow(40, 3)
    assert not settled(display, start + 1 / hz)
    end = display.t
    display.stand(2.5)
    claims = settled(display, end)
    assert claims[0].t - end < (1.0 if hz >= 5 else 1.5)
    assert next(one.t for one in claims if one.firm) - end < (1.4 if hz >= 5 else 2.0)
    last = display.findings[-1]
    assert last.firm
    assert last.level is not None
    assert last.level.grams == display.grams


def test_a_claim_has_a_level_and_nothing_else_has() -> None:
    display = ready()
    display.flow(20, 2)
    display.stand(2)
    for one in display.findings:
        assert (one.level is not None) == (one.phase is Phase.SETTLED)
        assert not one.firm or one.phase is Phase.SETTLED


def test_a_mean_that_changes_right_before_a_missing_number_goes_on_with_the_next() -> None:
    """There is no reading then that could be judged anew."""
    display = ready()
    shown = iter((1, 4, 0, 2, 0, 3, 3, 3, 5, 3, 1, 0, 3, 0))
    while display.detector.learned().mean_of == 1:
        display.show(f"0.{next(shown)}")
    display.none()
    display.stand(3, "0.2")
    assert display.findings[-1].firm


def test_the_level_follows_from_the_evidence_at_every_claim() -> None:
    display = ready()
    display.flow(13, 2)
    for k in range(40):
        found = display.show("26.0" if k % 3 else "26.1")
        shown = [one.grams for one in display.detector.evidence()]
        if found.level is None:
            assert not shown
        else:
            assert found.level == level([one for one in shown if one is not None], D)
            assert not found.firm or len(shown) >= FEWEST
    assert found.firm


def test_drops_with_gaps_are_not_a_stop_once_their_gaps_are_known() -> None:
    display = ready()
    for _ in range(3):
        display.show(display.grams + Decimal("0.6"))
        display.stand(0.6)
    known = display.t
    for _ in range(8):
        display.show(display.grams + Decimal("0.6"))
        display.stand(0.6)
    assert not settled(display, known)
    end = display.t
    display.stand(2.2)
    assert settled(display, end)[0].t - end < 1.5


@pytest.mark.parametrize("g_per_s", [0.2, 0.3, 0.5, 1, 3, 10])
def test_a_thin_stream_is_not_a_stop(g_per_s: float) -> None:
    display = ready()
    display.flow(g_per_s, 1.5)
    flowing = display.t
    display.flow(g_per_s, 8)
    assert not settled(display, flowing)


def test_the_push_of_a_stream_makes_a_peak_that_is_no_claim() -> None:
    display = ready(20)
    display.flow(20, 3)
    top = display.t
    for grams in ("60.4", "60.7", "60.8", "60.8", "60.7", "60.4", "60.0", "59.5", "59.1", "58.9"):
        display.show(grams)
    assert not settled(display, top)
    display.stand(2, "58.8")
    assert display.findings[-1].firm


@pytest.mark.parametrize("tau", [0.1, 0.3, 0.6])
def test_a_slow_filter_is_waited_for(tau: float) -> None:
    display = ready()
    display.flow(50, 3)
    end = display.t
    target = float(display.grams) + 50 * tau
    display.follow(target, tau, 8 * tau + 2)
    for one in settled(display, end):
        assert one.level is not None
        assert abs(float(one.level.grams) - target) < 0.21


def test_a_digit_that_wavers_settles_and_stays_settled() -> None:
    display = ready()
    display.flow(20, 2)
    end = display.t
    display.tremble(4, ["40.0", "40.1", "40.0", "40.0", "40.1"])
    claims = settled(display, end)
    assert claims[0].t - end < 1.2
    assert all(one.phase is Phase.SETTLED for one in display.since(claims[0].t))


def test_a_wrong_claim_is_taken_back() -> None:
    display = ready()
    display.flow(20, 2)
    display.stand(1.5)
    assert display.findings[-1].phase is Phase.SETTLED
    again = display.t
    display.flow(20, 1)
    assert not settled(display, again)
    assert display.findings[-1].rising


def test_the_flag_is_evidence_and_not_the_verdict() -> None:
    for stable in (True, False):
        display = ready()
        for k in range(20):
            display.show(Decimal(k) * 2, stable=True)
        assert not settled(display, 2.1)
        end = display.t
        for _ in range(25):
            display.show("40.0", stable=stable)
        assert 0.15 < settled(display, end)[0].t - end < 1.5


def test_lifting_is_told_and_the_empty_pan_settles() -> None:
    display = ready(grams="500.0")
    for grams in ("420.0", "180.0", "40.0", "2.0"):
        found = display.show(grams)
        assert (found.phase, found.why) == (Phase.DISTURBED, "lift")
    assert display.stand(2, "0.0").firm


def test_back_where_it_stood_is_known_sooner_than_a_new_level() -> None:
    waits = []
    for back in ("500.0", "380.0"):
        display = ready(grams="500.0")
        display.stand(2.0, "560.0")
        display.stand(0.2, "510.0")
        start = display.t
        display.stand(3, back)
        waits.append(settled(display, start)[0].t - start)
    assert waits[0] < waits[1]


def test_the_tare_key_is_told_and_the_jump_kept() -> None:
    display = ready()
    display.flow(40, 3)
    display.stand(2)
    before = display.grams
    found = display.show("0.0")
    assert (found.phase, found.why) == (Phase.DISTURBED, "tare key")
    display.stand(2)
    assert display.findings[-1].phase is Phase.SETTLED
    assert display.findings[-1].shift_g == -before


@pytest.mark.parametrize(("second", "told"), [("-0.1", True), ("-0.2", True), ("-0.3", False)])
def test_a_display_may_tremble_across_one_step_more_at_its_new_zero(
    second: str, told: bool
) -> None:
    display = ready()
    display.flow(40, 3)
    display.stand(2)
    before = display.grams
    display.show("0.0")
    display.show(second)
    display.stand(2, "0.0")
    assert display.findings[-1].shift_g == (Decimal(second) - before if told else 0)


def test_a_lift_that_ends_at_zero_is_not_the_tare_key() -> None:
    display = ready(grams="500.0")
    for grams in ("300.0", "60.0", "0.0"):
        display.show(grams)
    display.stand(3)
    assert display.findings[-1].shift_g == 0
    assert "tare key" not in {one.why for one in display.findings}


def test_one_misread_zero_is_not_the_tare_key() -> None:
    display = ready(grams="500.0")
    display.show("0.0")
    display.stand(3, "500.0")
    assert display.findings[-1].shift_g == 0
    assert display.findings[-1].firm


def test_a_scale_that_slept_wakes_at_zero_with_its_load_on() -> None:
    display = ready(grams="500.0")
    display.t += 20
    found = display.show("0.0")
    assert (found.phase, found.why) == (Phase.DISTURBED, "asleep")
    display.stand(3)
    assert display.findings[-1].phase is Phase.SETTLED
    assert display.findings[-1].shift_g == Decimal("-500.0")


def test_overload_and_faults_are_told_and_pass() -> None:
    display = ready(grams="500.0")
    assert display.none(over=True).why == "overload"
    assert display.none(fault="zero error").why == "zero error"
    assert display.none().why == "fault"
    assert display.detector.evidence() == ()
    assert display.stand(3, "500.0").firm


def test_a_trembling_load_is_a_touch() -> None:
    display = ready()
    display.flow(40, 3)
    display.stand(2)
    touched = display.t
    display.tremble(5, ["170.3", "165.1", "174.9", "168.2", "176.0", "163.7", "171.4"])
    assert not settled(display, touched)
    assert display.findings[-1].why == "touch"
    display.stand(2, "120.0")
    assert display.findings[-1].phase is Phase.SETTLED


def test_a_shaking_bench_is_learned_and_then_weighed_on() -> None:
    hum = [0, 4, -3, 2, -4, 3, -2, 4, -4, 1, -1, 3]
    display = Display()
    display.tremble(6, [str(Decimal(500) + D * k) for k in hum])
    assert display.findings[-1].phase is Phase.SETTLED
    assert display.detector.learned().spread_d > 5
    start = display.t
    display.flow(30, 3)
    end = display.t
    display.tremble(6, [str(Decimal(590) + D * k) for k in hum])
    assert not [one for one in settled(display, start + 0.3) if one.t < end]
    last = display.findings[-1]
    assert last.level is not None
    assert abs(last.level.grams - 590) <= 2 * D


def test_another_unit_has_another_interval() -> None:
    display = ready(grams="500.0")
    step = Decimal("0.28349523125")
    for _ in range(4):
        display.tremble(1, [str(1764 * step), str(1763 * step), str(1764 * step)])
    assert display.findings[-1].phase is Phase.SETTLED


def test_a_load_that_wastes_away_is_told() -> None:
    display = ready(grams="500.0")
    display.flow(-0.02, 30)
    last = display.findings[-1]
    assert last.phase is Phase.SETTLED
    assert -0.04 < last.drift_g_s < -0.01


def test_what_was_learned_can_be_stored_and_handed_in() -> None:
    display = Display()
    display.tremble(6, ["500.0", "500.3", "499.9", "500.2", "499.8"])
    learned = display.detector.learned()
    assert learned.looks > 0
    assert learned.spread_d > 2
    assert Settling(D, learned).learned() == learned
    display.detector.forget()
    assert display.detector.learned() == learned
    assert Settling(D).learned().spread_d == 0


def test_lower_odds_wait_longer() -> None:
    waits = []
    for odds in (-2.5, -4.0, -6.0):
        display = Display(Settling(D, claim_odds=odds))
        display.stand(2, "0.0")
        display.flow(40, 3)
        end = display.t
        display.stand(4)
        waits.append(settled(display, end)[0].t)
    assert waits == sorted(waits)
    assert waits[0] < waits[-1]


def test_a_firm_claim_keeps_enough_evidence_when_the_display_grows_slow() -> None:
    detector = Settling(D)
    play = Display(detector)
    play.flow(20, 3)
    assert play.stand(2).firm
    play.hz = 0.7
    for _ in range(20):
        assert play.show(play.grams).firm
        assert len(detector.evidence()) >= FEWEST
