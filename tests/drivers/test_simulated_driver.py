"""The driver ``simulated``: what any source and driver owes the station, and its handle."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal

import pytest

from weighd.station.ports import Bytes, Driver, Found, Lost, Signal
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_parameters import BenchParameters
from weighd_drivers.simulated import DRIVER, SimulatedDriver, SimulatedSource


def _until(true: Callable[[], object], seconds: float = 5.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.002)


@contextmanager
def running(
    source: SimulatedSource, speed: float = 1.0
) -> Iterator[tuple[list[Signal], threading.Event]]:
    start, heard, stop = time.monotonic(), list[Signal](), threading.Event()
    thread = threading.Thread(
        target=source.run,
        args=(heard.append, stop, lambda: (time.monotonic() - start) * speed),
        daemon=True,
    )
    thread.start()
    try:
        yield heard, stop
    finally:
        stop.set()
        asked = time.monotonic()
        thread.join(2.0)
        assert not thread.is_alive()
        assert time.monotonic() - asked < 0.5


def bytes_of(heard: list[Signal]) -> bytes:
    return b"".join(one.data for one in heard if isinstance(one, Bytes))


def test_it_is_a_driver() -> None:
    assert isinstance(DRIVER, Driver)
    assert DRIVER.name == "simulated"
    assert list(DRIVER.discover()) == []


def test_settings_are_filled_in_and_checked() -> None:
    checked = DRIVER.check({"capacity_g": 3000, "interval_g": "0.5", "rate_hz": 20})
    assert checked["capacity_g"] == "3000"
    assert checked["interval_g"] == "0.5"
    assert checked["seed"] == 1
    assert DRIVER.check(checked) == checked


@pytest.mark.parametrize(
    ("settings", "key"),
    [
        ({"rate": 10}, "rate"),
        ({"rate_hz": 200}, "rate_hz"),
        ({"interval_g": "a little"}, "interval_g"),
        ({"interval_g": 0}, "interval_g"),
        ({"capacity_g": True}, "capacity_g"),
        ({"seed": "1"}, "seed"),
        ({"capacity_g": "0.5"}, "interval"),
    ],
)
def test_wrong_settings_are_named(settings: dict[str, object], key: str) -> None:
    with pytest.raises(ValueError, match=key):
        DRIVER.check(settings)


def test_the_source_introduces_the_scale_and_what_it_shows_is_read() -> None:
    driver = SimulatedDriver()
    settings = driver.check({"rate_hz": 40, "name": "left"})
    source = driver.source(settings)
    assert driver.benches["left"] is source.bench
    with running(source, speed=10) as (heard, _):
        source.bench.vessel(500.0)
        _until(lambda: len(heard) > 200)
    first = heard[0]
    assert isinstance(first, Found)
    assert first.facts == {"max_g": "6000", "interval_g": "0.1"}
    assert [one.t for one in heard] == sorted(one.t for one in heard)
    decoder = driver.decoder(settings)
    readings = [
        reading
        for one in heard
        if isinstance(one, Bytes)
        for reading in decoder.feed(one.t, one.data)
    ]
    assert decoder.rejected == 0
    assert len(readings) > 100
    last = readings[-1]
    assert last.grams is not None
    assert abs(last.grams - 500) <= Decimal("0.1")
    assert last.stable
    again = driver.redecoder(decoder.spec)
    assert again.feed(last.t, last.raw)[0] == last
    with pytest.raises(KeyError):
        driver.redecoder({"shape": "of another driver"})


def test_above_capacity_is_read_as_over() -> None:
    driver = SimulatedDriver()
    source = driver.source(driver.check({"capacity_g": "3000"}))
    with running(source, speed=20) as (heard, _):
        source.bench.vessel(3100.0)
        _until(lambda: b"OV" in bytes_of(heard))
    decoder = driver.decoder({})
    readings = decoder.feed(0.0, bytes_of(heard))
    assert readings[-1].over
    assert readings[-1].grams is None


@pytest.mark.parametrize("speed", [1.0, 20.0])
def test_it_keeps_up_with_the_stations_clock(speed: float) -> None:
    source = SimulatedDriver().source({"rate_hz": 10.0})
    with running(source, speed) as (heard, _):
        time.sleep(1.0)
    reports = bytes_of(heard).count(b"\n")
    assert reports == pytest.approx(10 * speed, rel=0.2, abs=2)


def test_reports_come_in_pieces_now_and_then() -> None:
    source = SimulatedDriver().source({"rate_hz": 80.0})
    with running(source, speed=10) as (heard, _):
        _until(lambda: len(heard) > 300)
    pieces = [one.data for one in heard if isinstance(one, Bytes)]
    assert any(not piece.endswith(b"\n") for piece in pieces)
    assert sum(len(piece) == 17 for piece in pieces) > len(pieces) / 2


def test_unplugged_it_is_lost_and_plugged_in_it_is_found() -> None:
    source = SimulatedDriver().source({"rate_hz": 50.0})
    bench = source.bench
    with running(source) as (heard, _):
        _until(lambda: len(heard) > 5)
        bench.unplug()
        bench.unplug()
        _until(lambda: isinstance(heard[-1], Lost))
        time.sleep(0.1)
        assert isinstance(heard[-1], Lost)
        assert bench.picture()["plugged"] is False
        bench.plug()
        _until(lambda: isinstance(heard[-1], Bytes))
        assert sum(isinstance(one, Lost) for one in heard) == 1
        assert sum(isinstance(one, Found) for one in heard) == 2
        lost = next(one for one in heard if isinstance(one, Lost))
        assert lost.why


def test_a_scale_that_is_not_plugged_in_at_first_is_waited_for() -> None:
    source = SimulatedDriver().source({})
    source.bench.unplug()
    with running(source) as (heard, _):
        _until(lambda: heard)
        assert isinstance(heard[0], Lost)
        source.bench.plug()
        _until(lambda: len(heard) > 2)
        assert isinstance(heard[1], Found)


def test_it_falls_silent_and_wakes() -> None:
    source = SimulatedDriver().source({"rate_hz": 50.0})
    with running(source) as (heard, _):
        _until(lambda: len(heard) > 5)
        source.bench.hush()
        time.sleep(0.1)
        count = len(heard)
        time.sleep(0.2)
        assert len(heard) == count
        source.bench.hush(quiet=False)
        _until(lambda: len(heard) > count)


def test_switched_off_and_on_with_a_load_it_shows_zero() -> None:
    source = SimulatedDriver().source({"rate_hz": 50.0, "noise_g": 0.0, "wander_g": 0.0})
    bench = source.bench
    bench.vessel(312.4)
    with running(source, speed=4.0) as (heard, _):
        _until(lambda: b"   312.4 g" in bytes_of(heard))
        bench.switch_on()  # it is on: nothing happens
        assert bench.picture()["off"] is False
        bench.switch_off()
        assert bench.picture()["off"] is True
        time.sleep(0.1)
        count = len(heard)
        bench.switch_on()
        _until(lambda: len(heard) > count + 4)
        assert b"312.4" not in bytes_of(heard[count:])
        assert b"0.0 g" in bytes_of(heard[count:])
        assert bench.picture()["load_g"] == 312.4


class Clock:
    def __init__(self) -> None:
        self.t = 0.0

    def __call__(self) -> float:
        return self.t


def test_a_scale_that_lost_its_power_comes_back_at_zero() -> None:
    clock, bench = Clock(), SimulatedBench(zero_at_plug=True)
    bench.begin(clock)
    bench.vessel(300.0)
    clock.t = 4.0
    bench.collect()
    bench.unplug()
    bench.plug()
    clock.t = 6.0
    bench.collect()
    clock.t = 8.0
    last = b"".join(one.data for one in bench.collect() if isinstance(one, Bytes))
    assert last.endswith(b" 0.0 g\r\n")
    assert bench.picture()["load_g"] == 300.0


def test_a_machine_that_slept_is_not_simulated_through_its_sleep() -> None:
    clock, bench = Clock(), SimulatedBench()
    bench.begin(clock)
    clock.t = 1.0
    bench.collect()
    clock.t = 36_000.0
    began = time.monotonic()
    reports = [one for one in bench.collect() if isinstance(one, Bytes)]
    assert time.monotonic() - began < 1.0
    assert 5 <= len(reports) <= 60
    assert all(one.t > 35_990 for one in reports)


def test_hands_act_at_the_present_moment() -> None:
    clock, bench = Clock(), SimulatedBench(BenchParameters(gurgle=0.0, drops=0.0))
    bench.begin(clock)
    bench.vessel(200.0)
    clock.t = 2.0
    bench.pour(50.0)
    clock.t = 4.0
    bench.stop()  # nobody looked between: the pour took two seconds all the same
    clock.t = 8.0
    seen = bench.picture()
    assert seen["contents_g"] == pytest.approx(100, abs=1)
    assert seen["vessel_on"] is True
    assert seen["pour_g_s"] == 0
    bench.take(30.0)
    clock.t = 10.0
    assert bench.picture()["contents_g"] == pytest.approx(70, abs=1)


@pytest.mark.parametrize("grams", [0.0, -1.0, float("nan"), float("inf")])
def test_nonsense_is_refused(grams: float) -> None:
    bench = SimulatedBench()
    for act in (bench.pour, bench.vessel, bench.take, bench.tap):
        with pytest.raises(ValueError, match="above zero"):
            act(grams)
