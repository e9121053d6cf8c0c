"""Carbon dioxide in a room: derived check values, and an integration that knows no formula."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from tests.domain.published import CHECKS, near
from weighd.domain.refrigerant import GAS_M3_KG
from weighd.domain.room_air import LIMITS, MOST_CHANGES, TWA, Over, Room

ROOM_M3 = Decimal(30)


def room(kg: object, changes: object, release_h: object = "0.25", volume: object = 30) -> Room:
    gas = GAS_M3_KG.value * Decimal(str(kg))
    return Room(Decimal(str(volume)), gas, Decimal(str(release_h)), Decimal(str(changes)))


@pytest.mark.parametrize(("name", "kg"), [("room_co2_1kg_2ach", 1), ("room_co2_0.6kg_2ach", "0.6")])
def test_a_kitchen_with_two_air_changes(name: str, kg: object) -> None:
    found = room(kg, 2)
    near(name, found.peak_ppm, "peak_ppm")
    near(name, found.shift_ppm, "twa_8h_ppm")
    near(name, found.hours_until_below(Decimal(5000)), "h_until_below_5000_from_start")


def test_the_table_of_rooms() -> None:
    row = CHECKS["room_co2_table"]
    wanted, allowed = row["expected"], row["tolerance"]
    for n, (kg, changes) in enumerate(row["inputs"]["rows"]):
        found = room(kg, changes)
        assert float(found.peak_ppm) == pytest.approx(wanted["peak_ppm"][n], abs=allowed["abs"])
        assert float(found.shift_ppm) == pytest.approx(wanted["twa_8h_ppm"][n], abs=allowed["abs"])
        hours = found.hours_until_below(Decimal(5000))
        assert hours is not None
        assert float(hours) == pytest.approx(
            wanted["h_until_below_5000_from_start"][n], abs=allowed["abs_h"]
        )


def test_all_at_once() -> None:
    near("room_co2_instant", room(1, 0, 0).whole_ppm, "ppm_added_simple")
    row = CHECKS["room_co2_max_instant_for_5000"]
    most = str(row["expected"]["kg"] - row["tolerance"]["abs"])
    over = str(row["expected"]["kg"] + row["tolerance"]["abs"])
    assert room(most, 0, 0).peak_ppm < 5000 < room(over, 0, 0).peak_ppm


def test_the_limits_are_those_published() -> None:
    wanted = CHECKS["co2_limits"]["expected"]
    by = {one.id: one for one in LIMITS}
    assert by["twa-8h"].ppm == wanted["OSHA_PEL_TWA_ppm"] == wanted["NIOSH_REL_TWA_ppm"]
    assert by["twa-8h"].ppm == wanted["ACGIH_TLV_TWA_ppm"]
    assert (by["stel-15min"].ppm, by["idlh"].ppm) == (wanted["STEL_ppm"], wanted["IDLH_ppm"])
    assert "OSHA" not in by["stel-15min"].by  # it has no short-term limit in force
    assert all(one.seen for one in LIMITS)


def integrated(it: Room, hours: float, steps: int = 4800) -> tuple[list[float], list[float]]:
    """The air by small steps: gas in, mixed air out, nothing else. ppm at each step's end, and
    their sum up to there in ppm hours."""
    volume, release = float(it.volume_m3), float(it.release_h)
    gas = 0.0 if release else float(it.gas_m3)
    dt = hours / steps
    course, summed = [(gas / volume) * 1e6 + float(it.background_ppm)], [0.0]
    for n in range(steps):
        coming = max(0.0, min(release, (n + 1) * dt) - n * dt)
        into = float(it.gas_m3) / release * coming if release else 0.0
        # Midpoint rule for the air that leaves, trapezium for the sum.
        half = gas + into / 2 - gas * float(it.changes_h) * dt / 2
        gas += into - half * float(it.changes_h) * dt
        course.append((gas / volume) * 1e6 + float(it.background_ppm))
        summed.append(summed[-1] + (course[-1] + course[-2]) / 2 * dt)
    return course, summed


ROOMS = st.builds(
    lambda volume, grams, release, tenths: Room(
        Decimal(volume),
        GAS_M3_KG.value * grams / 1000,
        Decimal(release) / 60,
        Decimal(tenths) / 10,
    ),
    st.integers(5, 500),
    st.integers(10, 5000),
    st.sampled_from([0, 5, 15, 40, 120]),
    st.integers(0, 150),
)


@given(ROOMS)
def test_the_formulas_agree_with_an_integration_step_by_step(it: Room) -> None:
    assume(it.whole_ppm < 900_000)
    course, summed = integrated(it, 8)
    assert float(it.peak_ppm) == pytest.approx(max(course), rel=0.002)
    assert float(it.shift_ppm) == pytest.approx(summed[-1] / 8, rel=0.002)
    window = len(course) // 32
    ends = zip(summed, summed[window:], strict=False)
    worst = max(late - early for early, late in ends) / 0.25
    assert float(it.quarter_ppm) == pytest.approx(worst, rel=0.003)
    until = it.hours_until_below(Decimal(5000))
    if until is not None and 0 < until < Decimal("7.9"):
        last = max(n for n, ppm in enumerate(course) if ppm >= 5000)
        assert float(until) == pytest.approx(last / 600, abs=0.01)


@given(ROOMS, st.integers(1, 200))
def test_more_air_never_makes_it_worse(it: Room, tenths: int) -> None:
    more = Room(
        it.volume_m3,
        it.gas_m3,
        it.release_h,
        it.changes_h + Decimal(tenths) / 10,
        it.background_ppm,
    )
    for over in Over:
        assert more.over(over) <= it.over(over)


@given(ROOMS)
def test_averages_are_no_more_than_the_peak(it: Room) -> None:
    slack = Decimal("1.000001")
    assert it.background_ppm <= it.shift_ppm <= it.quarter_ppm * slack <= it.peak_ppm * slack**2


# Where hardly any is needed, a little less is none at all.
@example(Room(Decimal(105), GAS_M3_KG.value * 894 / 1000, Decimal(15) / 60, Decimal(0)))
@given(ROOMS)
def test_the_ventilation_told_is_enough_and_a_little_less_is_not(it: Room) -> None:
    for limit in LIMITS:
        needed = it.changes_for(limit)
        if needed is None:
            most = Room(it.volume_m3, it.gas_m3, it.release_h, MOST_CHANGES)
            assert most.over(limit.over) >= limit.ppm
            continue
        enough = Room(it.volume_m3, it.gas_m3, it.release_h, needed)
        assert enough.over(limit.over) < limit.ppm
        if needed:
            little = max(needed - Decimal("0.002"), Decimal(0))
            less = Room(it.volume_m3, it.gas_m3, it.release_h, little)
            assert less.over(limit.over) >= limit.ppm


def test_what_comes_at_once_no_ventilation_keeps_below() -> None:
    found = room(3, 100, 0)
    assert found.peak_ppm > 40000
    assert found.changes_for(LIMITS[2]) is None


def test_without_air_changes_it_stays() -> None:
    found = room(1, 0)
    assert found.hours_until_below(TWA.ppm) is None
    assert found.at(Decimal(7)) == found.peak_ppm == found.quarter_ppm
    assert room("0.1", 0).hours_until_below(TWA.ppm) == 0


def test_it_is_never_more_than_all_of_the_air() -> None:
    assert room(5, 0, 0, 1).peak_ppm == 1_000_000


@pytest.mark.parametrize(
    ("volume", "changes", "release"),
    [("0", "0", "0"), ("-1", "0", "0"), ("NaN", "0", "0"), ("30", "-1", "0"), ("30", "0", "-1"),
     ("Infinity", "0", "0"), ("30", "NaN", "0")],
)  # fmt: skip
def test_a_room_that_cannot_be(volume: str, changes: str, release: str) -> None:
    with pytest.raises(ValueError, match=r"volume_m3|changes_h|release_h"):
        Room(Decimal(volume), Decimal(1), Decimal(release), Decimal(changes))


# The door is shut and no air is changed while it comes.
@example(Room(Decimal(30), GAS_M3_KG.value, Decimal(2), Decimal(0)))
@settings(max_examples=20)
@given(ROOMS)
def test_the_air_is_as_integrated_while_gas_comes_and_after(it: Room) -> None:
    assume(it.whole_ppm < 900_000)
    course, _ = integrated(it, 8)
    for n in range(0, 4801, 96):
        hours = Decimal(n) / 600
        if n or it.release_h:
            assert float(it.at(hours)) == pytest.approx(course[n], rel=0.003, abs=0.5)


def test_before_anything_came_it_is_the_air_outside() -> None:
    assert room(1, 2).at(Decimal(0)) == room(1, 2).background_ppm
