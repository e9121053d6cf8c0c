"""The USB driver on a scripted bus: every way in which a plug shows itself to be pulled."""

from __future__ import annotations

import errno
from decimal import Decimal
from pathlib import Path

import pytest
import usb.core

from tests.drivers.fake_usb import FakeBackend, FakeDevice
from tests.drivers.hid_descriptors import NO_SCALE
from tests.drivers.hid_descriptors import PUBLISHED as DESCRIPTOR
from tests.drivers.watcher import Watcher
from weighd.station.ports import Bytes, Discovered, Lost
from weighd_drivers.hid import HidDecoder
from weighd_drivers.usb_find import Wanted
from weighd_drivers.usb_hid import NO_LIBUSB, UsbDriver, UsbSource, discovered
from weighd_drivers.usb_hidraw import Hidraw

ANY = Wanted()
GONE = [errno.ENODEV, errno.EIO, errno.EPIPE, errno.EPROTO]


def report(weight: int, status: int = 4) -> bytes:
    """Report 3 of the published descriptor: status, gram, tenths, weight."""
    return bytes([3, status, 2, 0xFF]) + weight.to_bytes(2, "little")


def scale(*reads: bytes | int, **changes: object) -> FakeDevice:
    """A scale that first repeats its last weighing, as some do, then gives ``reads``."""
    device = FakeDevice(DESCRIPTOR, [report(9999), *reads])
    for key, value in changes.items():
        setattr(device, key, value)
    return device


def source(*devices: FakeDevice, wanted: Wanted = ANY, sysfs: str = "/none") -> UsbSource:
    return UsbSource(wanted, lambda: FakeBackend(list(devices)), Path(sysfs), "libusb")


def test_a_scale_is_found_by_what_it_describes_and_read() -> None:
    hub = FakeDevice(device_class=9, open_errors=[errno.EACCES] * 99)
    other = FakeDevice(NO_SCALE, port=2)
    storage = FakeDevice(interface_class=8, open_errors=[errno.EACCES] * 99, port=3)
    mine = scale(report(1250), report(1251, 3), port=4, features={5: bytes.fromhex("0502007017")})
    with Watcher(source(hub, storage, other, mine)) as watcher:
        readings = watcher.readings(HidDecoder(), 2)
        (found,) = watcher.found()
    assert [(one.grams, one.stable) for one in readings] == [
        (Decimal("125.0"), True),
        (Decimal("125.1"), False),
    ]
    assert found.what == "Virtual scale (1209:0001)"
    assert found.facts == {"max_g": "6000", "zero_command": "report 2"}
    assert hub.log == storage.log == []
    assert other.log[-2:] == ["attach", "close"]
    assert mine.log == ["open", "detach", "claim", "release", "attach", "close"]


@pytest.mark.parametrize("number", GONE)
def test_any_error_but_a_timeout_means_gone_and_a_replug_is_found(number: int) -> None:
    first = scale(report(100), errno.ETIMEDOUT, report(200), number)
    second = scale(report(300))
    plugged = [first]
    first.hold = lambda: None
    contexts: list[FakeBackend] = []

    def backends() -> FakeBackend:
        contexts.append(FakeBackend(list(plugged)))
        return contexts[-1]

    decoder = HidDecoder()
    with Watcher(UsbSource(Wanted(), backends, Path("/none"), "libusb")) as watcher:
        assert [one.shown for one in watcher.readings(decoder, 2)] == [10, 20]
        plugged[:] = []
        first_why, *_ = watcher.lost()
        assert "unplugged" in first_why
        plugged[:] = [second]
        watcher.found(2)
        assert [one.shown for one in watcher.readings(HidDecoder(), 3)] == [10, 20, 30]
    # A context per search: one that lives on may never see the replug.
    assert len(contexts) >= 2


def test_a_scale_that_is_not_there_is_told_once() -> None:
    plugged: list[FakeDevice] = []
    with Watcher(
        UsbSource(Wanted(serial="A1"), lambda: FakeBackend(list(plugged)), Path("/none"), "libusb")
    ) as watcher:
        watcher.lost()
        plugged.append(scale(report(1), serial="A1"))
        watcher.found()
    assert [one.why for one in watcher.signals if isinstance(one, Lost)] == [
        "No USB scale A1 is plugged in."
    ]


def test_reads_without_bytes_and_short_ones_are_no_readings() -> None:
    """Each report is followed by an empty transfer where it fills its packet."""
    decoder = HidDecoder()
    mine = scale(b"", report(100), b"", report(200)[:4], report(300), b"", packet=6)
    with Watcher(source(mine)) as watcher:
        assert [one.shown for one in watcher.readings(decoder, 2)] == [10, 30]
    assert decoder.rejected == 1
    assert all(one.data for one in watcher.signals if isinstance(one, Bytes))


def test_a_permission_that_comes_late_is_waited_for() -> None:
    mine = scale(report(100), open_errors=[errno.EACCES] * 4)
    with Watcher(source(mine)) as watcher:
        watcher.found()
    assert not any(isinstance(one, Lost) for one in watcher.signals)


def test_a_permission_that_does_not_come_is_told_with_the_rule_to_add() -> None:
    mine = scale(open_errors=[errno.EACCES] * 999)
    with Watcher(source(mine)) as watcher:
        (why,) = watcher.lost()
    assert 'ATTR{idVendor}=="1209", ATTR{idProduct}=="0001"' in why
    assert "/etc/udev/rules.d/" in why


def test_a_scale_in_use_is_told_as_such() -> None:
    mine = scale(claim_error=errno.EBUSY)
    with Watcher(source(mine)) as watcher:
        (why,) = watcher.lost()
    assert "Another program" in why
    assert mine.log[-2:] == ["attach", "close"]


def test_one_of_two_scales_is_chosen_by_serial_number_or_by_id() -> None:
    one = scale(report(100), serial="ONE", port=1)
    two = scale(report(200), serial="TWO", product=2, port=2)
    for wanted in (Wanted(serial="TWO"), Wanted(id="1209:0002"), Wanted("1209:0002", "TWO")):
        two.reads[:] = [report(9999), report(200)]
        with Watcher(source(one, two, wanted=wanted)) as watcher:
            (reading,) = watcher.readings(HidDecoder(), 1)
        assert reading.grams == 20


def test_a_device_whose_descriptor_the_kernel_shows_is_not_disturbed(tmp_path: Path) -> None:
    place = tmp_path / "1-1:1.0" / "0003:1209:0001.0001"
    place.mkdir(parents=True)
    (place / "report_descriptor").write_bytes(NO_SCALE)
    other, mine = FakeDevice(NO_SCALE, port=1), scale(report(100), port=2)
    with Watcher(source(other, mine, sysfs=str(tmp_path))) as watcher:
        watcher.found()
    assert other.log == []


def test_keyboards_are_left_alone() -> None:
    keyboard = FakeDevice(NO_SCALE, subclass=1)
    with Watcher(source(keyboard)) as watcher:
        watcher.lost()
    assert keyboard.log == []


def test_without_libusb_it_says_what_to_install() -> None:
    with Watcher(UsbSource(Wanted(), lambda: None, via="libusb")) as watcher:
        assert watcher.lost() == [NO_LIBUSB]


def test_a_bus_that_cannot_be_listed_is_told() -> None:
    backend = FakeBackend([])

    def fails() -> None:
        raise usb.core.USBError("scripted", -99, errno.EIO)

    backend.enumerate_devices = fails  # type: ignore[method-assign,assignment]
    with Watcher(UsbSource(Wanted(), lambda: backend, Path("/none"), "libusb")) as watcher:
        (why,) = watcher.lost()
    assert "cannot be listed" in why


def test_a_stop_does_not_wait_for_a_scale() -> None:
    with Watcher(source()) as watcher:
        watcher.lost()
    assert watcher.stopped_in_s < 0.5


def test_what_is_plugged_in_is_listed_with_what_to_write_for_it() -> None:
    busy, mine = scale(claim_error=errno.EBUSY, port=1), scale(port=2)
    listed = discovered(FakeBackend([busy, mine]), Path("/none"), Hidraw(Path("/none")))
    settings = {"id": "1209:0001", "serial": "WEIGHD-TEST-0001"}
    assert listed == [Discovered("usb", "bus 1 address 3", "Virtual scale (1209:0001)", settings)]
    assert UsbDriver().check(settings) == settings | {"via": "auto"}
    assert discovered(None, hidraw=Hidraw(Path("/none"))) == []
