"""What a display shows of an addition, and what that does to it: each bound met from both sides."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.domain.bench_world import (
    TARED,
    D,
    batch,
    bench,
    planned,
    poured,
    seen,
    shown,
    still,
)
from weighd.domain.addition import Now, Phase, Sight
from weighd.domain.settling import Phase as Load
from weighd.domain.sights import (
    look,
)
from weighd.domain.zero import Jump, Stood

#: By difference, a litre bottle of vanilla stands there.
FROM_BOTTLE = batch(planned(target="120", by_difference=True), tare="900")


# --- what the display shows -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("grams", "load", "expected"),
    [
        # an untouched scale may show one and a half intervals either way
        ("312.4", Load.SETTLED, Sight.EMPTY),
        ("312.5", Load.SETTLED, Sight.EMPTY),
        ("312.55", Load.SETTLED, Sight.EMPTY),
        ("312.56", Load.SETTLED, Sight.AMOUNT),
        ("312.25", Load.SETTLED, Sight.EMPTY),
        ("312.24", Load.SETTLED, Sight.AMOUNT),
        # a gram less than the tare is still the vessel
        ("311.4", Load.SETTLED, Sight.AMOUNT),
        ("311.3", Load.SETTLED, Sight.GONE),
        ("0", Load.DISTURBED, Sight.GONE),
        ("400", Load.DISTURBED, Sight.UNUSABLE),
        (None, Load.SETTLING, Sight.UNUSABLE),
        ("400", Load.SETTLING, Sight.MOVING),
        ("400", Load.POURING, Sight.MOVING),
    ],
)
def test_a_display_is_seen_as_what_it_may_be(
    grams: str | None, load: Load, expected: Sight
) -> None:
    assert shown(grams, load=load).sight is expected


@pytest.mark.parametrize(
    ("grams", "expected"), [("312.55", Sight.MOVING), ("312.56", Sight.RISING)]
)
def test_growth_counts_from_what_an_untouched_scale_may_show(grams: str, expected: Sight) -> None:
    there = shown(grams, load=Load.POURING, finding={"rising": True})
    assert there.sight is expected


@pytest.mark.parametrize(("grams", "expected"), [("0.0999", "empty"), ("0.1", "amount")])
def test_of_a_pinch_half_is_an_amount(grams: str, expected: str) -> None:
    """0.2 g at least are allowed of it: half of that is not nothing, though it is one interval."""
    pinch = bench(batch(planned(target="0.3", off="0.1")))
    assert shown(str(D("312.4") + D(grams)), pinch).sight == expected


def test_before_there_is_a_tare_nothing_is_seen() -> None:
    there = shown("432.4", bench(tare=None))
    assert (there.sight, there.net_g) == (None, None)
    assert there.now.level == still("432.4")


def test_a_level_that_is_not_firm_is_no_amount_yet() -> None:
    there = shown("432.4", finding={"firm": False})
    assert (there.sight, there.now.level) == (Sight.MOVING, None)


@pytest.mark.parametrize(
    "more",
    [
        {"jumping": True},
        {"jump": Jump("tare key", Stood(still("432.4"), True, {}), Stood(still("0"), True, {}))},
        {"finding": {"why": "tare key"}},
        {"finding": {"why": "asleep"}},
    ],
)
def test_while_the_zero_jumps_the_display_is_on_neither(more: dict[str, Any]) -> None:
    moving = {"drift_g_s": 0.5, **more.pop("finding", {})}
    there = shown("432.4", finding=moving, **more)
    now = there.now
    assert (now.gross_g, now.level, now.drift_g_min) == (None, None, None)
    assert now.why == "tare key"
    expected = Sight.ZERO_MOVED if "jump" in more else Sight.UNUSABLE
    assert there.sight is expected


def test_what_disturbs_the_scale_is_told_and_only_that() -> None:
    assert shown("432.4", load=Load.DISTURBED, finding={"why": "touch"}).now.why == "touch"
    assert shown("432.4").now.why == ""
    # a fault of the scale is told under its own name, though its zero may jump as well
    both = shown("432.4", load=Load.DISTURBED, jumping=True, finding={"why": "overload"})
    assert both.now.why == "overload"


def test_a_new_display_takes_back_the_claim_and_keeps_the_rest() -> None:
    here = poured("120")
    assert here.now.claim is not None
    kept = replace(here.now, sum_g=D(120), started=TARED, taking_g=D(7), unsure=True)
    after = look(replace(here, now=kept), seen("432.5")).now
    assert after == replace(
        kept, gross_g=D("432.5"), level=still("432.5"), claim=None, below_zero=False
    )


@pytest.mark.parametrize(
    ("grams_a_second", "told"),
    [(0.0, None), (0.00008, None), (0.001, "0.06"), (-0.001, "-0.06"), (-0.1, "-6.00")],
)
def test_drift_is_told_by_the_minute_to_a_tenth_of_an_interval(
    grams_a_second: float, told: str | None
) -> None:
    there = shown("432.4", finding={"drift_g_s": grams_a_second}).now.drift_g_min
    assert (None if there is None else str(there)) == told


def test_drift_is_told_only_of_what_is_firm() -> None:
    assert shown("432.4", finding={"drift_g_s": 1.0, "firm": False}).now.drift_g_min is None


def test_a_display_that_steps_coarsely_is_known_no_better() -> None:
    """d / sqrt(12) of the step (GUM, JCGM 100:2008, F.2.2.1)."""
    there = shown("432.4", step_g=D(1))
    assert there.now.level is not None
    assert there.now.level.grams == D("432.4")
    assert there.now.level.u_g == D("0.288675")
    assert still("432.4").u_g == D("0.028868")


@pytest.mark.parametrize(
    ("tare", "before", "grams", "below"),
    [
        (None, False, "-1.0", False),  # a gram may be dirt or drift
        (None, False, "-1.1", True),
        (None, True, "1.0", False),  # back at nothing: somebody zeroed it
        (None, True, "1.1", True),  # the next vessel, on a pan that showed less than nothing
        (None, False, "1.1", False),
        (None, True, None, False),
        ("312.4", True, "-1.1", False),  # with a vessel tared a lift shows as much
    ],
)
def test_less_than_nothing_is_kept_in_mind_until_the_pan_shows_nothing(
    tare: str | None, before: bool, grams: str | None, below: bool
) -> None:
    here = bench(tare=tare, now=Now(Phase.AWAITING, below_zero=before))
    assert shown(grams, here).now.below_zero is below


# --- a vessel set down ------------------------------------------------------------------------


def rises(here: Any, *rows: tuple[float, str]) -> Now:
    for t, grams in rows:
        here = look(here, seen(grams, Load.SETTLING, t))
    now: Now = here.now
    return now


@pytest.mark.parametrize(
    ("rows", "down"),
    [
        (((1.0, "0.9"), (2.0, "156.2")), True),  # half of the vessel within a second
        (((1.0, "1.0"), (2.0, "156.2")), True),
        (((1.0, "0.9"), (2.0, "156.1")), False),  # not half yet
        (((1.0, "0.9"), (2.01, "156.2")), False),  # slower than anything is set down
        (((1.0, "1.1"), (2.0, "156.2")), False),  # it never showed nothing
        (((0.0, "0.9"), (1.5, "-0.5"), (2.0, "312.4")), True),  # counted from the last nothing
        (((0.0, "0.9"), (0.5, "-200"), (1.6, "312.4")), False),
        # Below zero the vessel is off a zero at which it stood: what shows then is not its weight.
        (((0.0, "0.9"), (0.9, "-200"), (1.6, "312.4")), False),
        (((0.0, "0.9"), (0.9, "-1.1"), (1.0, "0.5"), (1.6, "312.4")), False),
        (((0.0, "0.9"), (0.9, "-1.0"), (1.6, "312.4")), True),
    ],
)
def test_a_vessel_is_set_down_where_half_of_it_shows_at_once(
    rows: tuple[tuple[float, str], ...], down: bool
) -> None:
    assert rises(bench(), *rows).set_down is down


def test_once_risen_the_display_has_to_fall_to_nothing_to_rise_again() -> None:
    now = rises(bench(), (1.0, "0.0"), (1.5, "312.4"))
    assert (now.low_t, now.set_down) == (None, True)
    now = rises(bench(), (1.0, "0.0"), (1.5, "312.4"), (2.0, "0.4"))
    assert (now.low_t, now.set_down) == (2.0, False)
    assert rises(bench(), (1.0, "0.0"), (1.4, "20")).low_t == 1.0


def test_a_bottle_that_was_poured_from_is_set_down_when_half_of_its_rest_shows() -> None:
    # 900 g stood there, and up to 121 g of it may be poured out
    bottle = bench(FROM_BOTTLE)
    assert rises(bottle, (1.0, "0.0"), (1.5, "389.5")).set_down
    assert not rises(bottle, (1.0, "0.0"), (1.5, "389.4")).set_down
    # however little is left of it: five grams, or ten intervals, are no dirt
    small = bench(batch(planned(target="120", by_difference=True), tare="125"))
    assert rises(small, (1.0, "0.0"), (1.5, "5.0")).set_down
    assert not rises(small, (1.0, "0.0"), (1.5, "4.9")).set_down


def test_where_the_empty_pan_is_not_known_nothing_is_said_of_a_vessel_set_down() -> None:
    keyed = bench(batch(keyed=frozenset({"bench"})))
    now = rises(keyed, (1.0, "0.0"), (1.5, "312.4"))
    assert (now.low_t, now.set_down) == (None, False)
    assert shown(None, bench(now=Now(Phase.READY, low_t=4.0))).now.low_t == 4.0


@pytest.mark.parametrize(
    ("rows", "shown", "at_once"),
    [
        (((1.0, "0.0"), (1.5, "200"), (1.9, "800")), "840", True),
        (((1.0, "0.0"), (1.5, "200"), (2.0, "760")), "800", True),  # a twentieth is still to come
        (((1.0, "0.0"), (1.5, "200"), (2.0, "760")), "800.1", False),
        (((1.0, "0.0"), (1.5, "200"), (2.1, "800")), "800", False),  # a second after it rose
        (((1.0, "0.0"), (1.5, "800")), "800", True),
        (((1.0, "0.0"), (2.5, "800")), "800", False),
        (((1.0, "800"),), "800", False),
    ],
)
def test_what_flows_on_for_longer_than_a_second_was_not_set_down(
    rows: tuple[tuple[float, str], ...], shown: str, at_once: bool
) -> None:
    assert rises(bench(), *rows).came_at_once(Decimal(shown)) is at_once
