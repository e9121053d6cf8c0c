"""What every driver owes the station, whoever wrote it.

To run it over a driver of your own, add it to ``DRIVERS`` with settings that are good and some
that are not, and bytes of its stream.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.drivers.test_usb import DESCRIPTOR as HID_DESCRIPTOR
from tests.drivers.watcher import Watcher
from weighd.station.ports import Discovered, Driver, Signal
from weighd_drivers import replay, serial_port, simulated, template, usb_hid
from weighd_drivers.hid import DESCRIPTOR, REPORT, framed

LINE = b"ST,+    123.4 g\r\n"
HID = framed(DESCRIPTOR, HID_DESCRIPTOR) + framed(REPORT, bytes.fromhex("030402ffe204")) * 8
RECORDING = (
    '{"session": 1, "scales": {"bench": {"driver": "serial", "port": "x"}}}\n'
    '{"t": 0, "scale": "bench", "rx": "' + (LINE * 8).hex() + '"}\n'
)


@dataclass(frozen=True)
class Given:
    """A driver under test; ``stream`` is what its source may deliver."""

    driver: Driver
    good: Mapping[str, object]
    stream: bytes
    bad: tuple[Mapping[str, object], ...] = field(default=())
    file: str = ""

    def settings(self, place: Path) -> Mapping[str, object]:
        """Good settings, with a file where the driver wants one."""
        if not self.file:
            return self.good
        (place / "given").write_text(self.file, "utf-8")
        return {**self.good, "file": str(place / "given")}


DRIVERS = [
    Given(
        serial_port.DRIVER,
        {"port": "/dev/weighd-none"},
        LINE * 8,
        ({}, {"port": 3}, {"port": "/dev/x", "parity": "odd", "bits": 7}),
    ),
    Given(
        serial_port.DRIVER,
        {"port": "serial:none", "shape": "unit-when-stable", "unit": "kg"},
        b" 1.2 kg\r\n 1.3\r\n 1.4 kg\r\n" * 3,
        ({"port": "/dev/x", "unit": 3},),
    ),
    Given(usb_hid.DRIVER, {}, HID, ({"id": "1209"}, {"serial": 3}, {"address": 4})),
    Given(usb_hid.DRIVER, {"via": "hidraw"}, HID, ({"via": "bus"},)),
    Given(simulated.DRIVER, {}, LINE * 8, ({"rate_hz": "fast"}, {"colour": "red"})),
    Given(
        replay.DRIVER,
        {"speed": 0.0},
        LINE * 8,
        ({}, {"file": ""}, {"file": "x", "speed": -1.0}),
        RECORDING,
    ),
    Given(
        template.DRIVER,
        {"host": "127.0.0.1", "port": 1},
        LINE * 8,
        ({}, {"host": "x", "port": 0}, {"host": "x", "port": 1, "hots": "y"}),
    ),
]
every_driver = pytest.mark.parametrize("given", DRIVERS, ids=lambda one: str(one.driver.name))


@every_driver
def test_it_is_a_driver_with_a_name(given: Given) -> None:
    assert isinstance(given.driver, Driver)
    assert given.driver.name.isidentifier()


@every_driver
def test_good_settings_come_back_complete_and_are_good_again(given: Given, tmp_path: Path) -> None:
    settings = given.settings(tmp_path)
    checked = given.driver.check(settings)
    assert {**checked, **settings} == checked or set(settings) <= set(checked)
    assert given.driver.check(checked) == checked
    assert json.loads(json.dumps(checked)) == checked


@every_driver
def test_bad_settings_are_refused_by_their_key(given: Given) -> None:
    assert given.bad
    for settings in (*given.bad, {**given.good, "no_such_key": 1}):
        with pytest.raises(ValueError, match="validation error"):
            given.driver.check(settings)


@every_driver
def test_what_is_plugged_in_is_listed_with_settings_that_are_good(given: Given) -> None:
    for one in given.driver.discover():
        assert isinstance(one, Discovered)
        assert one.driver == given.driver.name
        given.driver.check(one.settings)


@every_driver
def test_evidence_reads_again_by_what_the_spec_says(given: Given, tmp_path: Path) -> None:
    decoder = given.driver.decoder(given.driver.check(given.settings(tmp_path)))
    readings = list(decoder.feed(0, given.stream))
    assert len(readings) >= 5
    spec = json.loads(json.dumps(decoder.spec))
    for reading in readings:
        (again,) = given.driver.redecoder(spec).feed(9.5, reading.raw)
        assert (again.grams, again.over, again.fault) == (
            reading.grams, reading.over, reading.fault,
        )  # fmt: skip


@every_driver
def test_a_spec_of_another_is_a_key_error(given: Given) -> None:
    for spec in ({}, {"shape": "no such shape"}, {"report": 7}, {"recorded": "no such driver"}):
        with pytest.raises(KeyError):
            given.driver.redecoder(spec)


@every_driver
def test_byte_by_byte_it_reads_the_same(given: Given, tmp_path: Path) -> None:
    settings = given.driver.check(given.settings(tmp_path))
    whole = given.driver.decoder(settings).feed(0, given.stream)
    decoder = given.driver.decoder(settings)
    assert [one for code in given.stream for one in decoder.feed(0, bytes([code]))] == list(whole)


@every_driver
def test_rubbish_raises_nothing_and_is_kept_small(given: Given, tmp_path: Path) -> None:
    decoder = given.driver.decoder(given.driver.check(given.settings(tmp_path)))
    for code in range(256):
        decoder.feed(0, bytes([code]) * 300)
        decoder.feed(0, bytes(range(code, 256)))
    assert decoder.rejected > 0
    assert len(decoder.last_rejected) <= 256
    decoder.reset()


@every_driver
def test_its_source_survives_a_missing_device_and_stops_when_told(
    given: Given, tmp_path: Path
) -> None:
    source = given.driver.source(given.driver.check(given.settings(tmp_path)))
    with Watcher(source) as watcher:
        watcher.wait(lambda signals: len(signals) > 0)
        time.sleep(0.1)
    times = [one.t for one in watcher.signals]
    assert times == sorted(times)


@every_driver
def test_a_source_told_to_stop_before_it_began_returns(given: Given, tmp_path: Path) -> None:
    source = given.driver.source(given.driver.check(given.settings(tmp_path)))
    stop = threading.Event()
    stop.set()
    delivered: list[Signal] = []
    began = time.monotonic()
    source.run(delivered.append, stop, time.monotonic)
    assert time.monotonic() - began < 0.6
