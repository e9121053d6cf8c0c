"""The USB driver on hidraw: the same codec, no permission asked of anybody who has none to give."""

from __future__ import annotations

import errno
import os
import shlex
import subprocess
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from tests.drivers.fake_hidraw import FakeHidraw
from tests.drivers.fake_usb import FakeBackend
from tests.drivers.test_usb import DESCRIPTOR, NO_SCALE, report, scale
from tests.drivers.watcher import Watcher
from weighd.cli.app import app
from weighd.station.ports import Bytes, Discovered, Lost
from weighd_drivers.hid import HidDecoder
from weighd_drivers.usb_find import Wanted
from weighd_drivers.usb_hid import UsbDriver, UsbSource, Via, discovered
from weighd_drivers.usb_hidraw import RULE_PLACE, Hidraw, udev_rule


@pytest.fixture
def kernel(tmp_path: Path) -> FakeHidraw:
    return FakeHidraw(tmp_path)


def source(
    kernel: Hidraw, *devices: object, wanted: Wanted | None = None, via: Via = "auto"
) -> UsbSource:
    return UsbSource(
        wanted or Wanted(), lambda: FakeBackend(list(devices)), Path("/none"), via, kernel  # type: ignore[arg-type]
    )  # fmt: skip


def test_a_scale_is_found_by_what_it_describes_and_read(kernel: FakeHidraw) -> None:
    other, mine = kernel.plug(NO_SCALE), kernel.plug(DESCRIPTOR, number=1)
    mine.features = {5: bytes.fromhex("0502007017")}
    with Watcher(source(kernel)) as watcher:
        (found,) = watcher.found()
        mine.send(report(9999), report(1250), report(1251, 3))
        readings = watcher.readings(HidDecoder(), 2)
    assert [(one.grams, one.stable) for one in readings] == [
        (Decimal("125.0"), True),
        (Decimal("125.1"), False),
    ]
    assert found.what == "weighd tests Virtual scale (1209:0001)"
    assert found.facts == {"max_g": "6000", "zero_command": "report 2"}
    # The limit and the attribute report of the published descriptor, without their ids.
    assert mine.asked == [(5, 4), (1, 2)]
    assert other.opened == 0
    with pytest.raises(OSError, match="Bad file"):
        os.fstat(mine.fd)


@pytest.mark.parametrize("number", [errno.ENODEV, errno.EIO])
def test_a_pulled_plug_is_told_and_a_replug_found_under_another_number(
    kernel: FakeHidraw, number: int
) -> None:
    first = kernel.plug(DESCRIPTOR)
    with Watcher(source(kernel)) as watcher:
        watcher.found()
        first.send(report(9999), report(100))
        watcher.readings(HidDecoder(), 1)
        kernel.unplug(first)
        first.fails(number)
        first_why, *_ = watcher.lost()
        assert "unplugged" in first_why
        second = kernel.plug(DESCRIPTOR, number=7)
        watcher.found(2)
        second.send(report(9999), report(300))
        # A report that was waiting, from before, is dropped once more.
        assert [one.shown for one in watcher.readings(HidDecoder(), 2)] == [10, 30]


def test_an_end_without_an_error_is_a_pulled_plug_too(kernel: FakeHidraw) -> None:
    mine = kernel.plug(DESCRIPTOR)
    with Watcher(source(kernel)) as watcher:
        watcher.found()
        assert mine.scale is not None
        kernel.unplug(mine)
        mine.scale.close()
        assert "unplugged" in watcher.lost()[0]


def test_a_read_that_was_called_for_nothing_is_none(kernel: FakeHidraw) -> None:
    mine = kernel.plug(DESCRIPTOR)
    with Watcher(source(kernel)) as watcher:
        watcher.found()
        mine.read_errors.append(errno.EAGAIN)
        mine.send(report(9999), report(100))
        assert [one.shown for one in watcher.readings(HidDecoder(), 1)] == [10]
    assert not any(isinstance(one, Lost) for one in watcher.signals)


def test_a_short_report_is_refused_and_the_next_one_read(kernel: FakeHidraw) -> None:
    decoder, mine = HidDecoder(), kernel.plug(DESCRIPTOR)
    with Watcher(source(kernel)) as watcher:
        watcher.found()
        mine.send(report(9999), report(100)[:4], report(200))
        assert [one.shown for one in watcher.readings(decoder, 1)] == [20]
    assert decoder.rejected == 1
    assert all(one.data for one in watcher.signals if isinstance(one, Bytes))


def test_where_hidraw_shows_the_scale_libusb_leaves_it_alone(kernel: FakeHidraw) -> None:
    kernel.plug(DESCRIPTOR)
    device = scale()
    with Watcher(source(kernel, device)) as watcher:
        watcher.found()
    assert device.log == []


def test_where_it_does_not_libusb_reads_it(kernel: FakeHidraw) -> None:
    with Watcher(source(kernel, scale(report(100)))) as watcher:
        assert [one.shown for one in watcher.readings(HidDecoder(), 1)] == [10]


def test_each_way_can_be_chosen(kernel: FakeHidraw) -> None:
    plug, device = kernel.plug(DESCRIPTOR), scale(report(100))
    with Watcher(source(kernel, device, via="libusb")) as watcher:
        watcher.readings(HidDecoder(), 1)
    assert plug.opened == 0
    kernel.unplug(plug)
    device.log.clear()
    with Watcher(source(kernel, device, via="hidraw")) as watcher:
        assert watcher.lost() == ["No USB scale is plugged in."]
    assert device.log == []


def test_a_permission_that_comes_late_is_waited_for(kernel: FakeHidraw) -> None:
    """A node is there before udev has set its group; libusb must not take it meanwhile."""
    mine, device = kernel.plug(DESCRIPTOR), scale()
    mine.open_errors[:] = [errno.ENOENT, errno.EACCES, errno.EACCES]
    with Watcher(source(kernel, device)) as watcher:
        watcher.found()
    assert not any(isinstance(one, Lost) for one in watcher.signals)
    assert device.log == []


def test_a_permission_that_does_not_come_is_told_with_the_rule(kernel: FakeHidraw) -> None:
    kernel.plug(DESCRIPTOR).open_errors[:] = [errno.EACCES] * 999
    with Watcher(source(kernel)) as watcher:
        (why,) = watcher.lost()
    assert f"weighd scales --rule | sudo tee {RULE_PLACE}" in why
    assert "/dev/hidraw0" in why.replace(str(kernel.dev), "/dev")


def test_what_hidraw_refuses_for_good_may_be_given_by_libusb(kernel: FakeHidraw) -> None:
    kernel.plug(DESCRIPTOR).open_errors[:] = [errno.EACCES] * 999
    with Watcher(source(kernel, scale(report(100)))) as watcher:
        assert [one.shown for one in watcher.readings(HidDecoder(), 1)] == [10]
    assert not any(isinstance(one, Lost) for one in watcher.signals)


def test_one_of_two_scales_is_chosen_by_serial_number_or_by_id(kernel: FakeHidraw) -> None:
    kernel.plug(DESCRIPTOR, serial="ONE")
    two = kernel.plug(DESCRIPTOR, number=10, serial="TWO", ids="0003:00001209:0000000A")
    for wanted in (Wanted(serial="TWO"), Wanted(id="1209:000a"), Wanted("1209:000A", "TWO")):
        with Watcher(source(kernel, wanted=wanted)) as watcher:
            (found,) = watcher.found()
        assert found.what.endswith("(1209:000a)")
    assert two.opened == 3


def test_a_scale_on_another_bus_is_none_of_usbs(kernel: FakeHidraw) -> None:
    kernel.plug(DESCRIPTOR, ids="0005:00001209:00000001")
    with Watcher(source(kernel)) as watcher:
        watcher.lost()


def test_a_stop_does_not_wait_for_a_scale_that_says_nothing(kernel: FakeHidraw) -> None:
    kernel.plug(DESCRIPTOR)
    with Watcher(source(kernel)) as watcher:
        watcher.found()
    assert watcher.stopped_in_s < 0.4


def test_what_is_plugged_in_is_listed_once_and_though_it_may_not_be_opened(
    kernel: FakeHidraw,
) -> None:
    refused = kernel.plug(DESCRIPTOR)
    refused.open_errors[:] = [errno.EACCES] * 999
    same, only_usb = scale(port=1), scale(port=2, serial="")
    listed = discovered(FakeBackend([same, only_usb]), Path("/none"), kernel)
    settings = {"id": "1209:0001", "serial": "WEIGHD-TEST-0001"}
    name = "weighd tests Virtual scale (1209:0001)"
    assert listed == [
        Discovered("usb", str(kernel.dev / "hidraw0"), name, settings),
        Discovered("usb", "bus 1 address 3", "Virtual scale (1209:0001)", {"id": "1209:0001"}),
    ]
    assert same.log == []
    assert UsbDriver().check(settings) == settings | {"via": "auto"}


def test_the_rule_that_ships_is_printed_whole() -> None:
    printed = CliRunner().invoke(app, ["scales", "--rule"])
    assert printed.exit_code == 0
    assert printed.stdout == udev_rule()


def test_scales_prints_the_rule_where_a_scale_refuses(
    kernel: FakeHidraw, monkeypatch: pytest.MonkeyPatch
) -> None:
    kernel.plug(DESCRIPTOR).open_errors[:] = [errno.EACCES] * 999
    made = source(kernel)
    found = discovered(None, Path("/none"), kernel)
    driver = SimpleNamespace(
        name="usb", discover=lambda: found, check=dict, source=lambda _settings: made,
        decoder=lambda _settings: HidDecoder(),
    )  # fmt: skip
    monkeypatch.setattr("weighd.main.drivers.driver_points", lambda: {"usb": None})
    monkeypatch.setattr("weighd.main.drivers.load_driver", lambda _name: driver)
    printed = CliRunner().invoke(app, ["scales", "--listen", "1.5"])
    assert printed.exit_code == 0
    assert "No permission for the USB scale" in printed.stdout
    assert udev_rule() in printed.stdout


def _rule() -> dict[str, str]:
    (line,) = [one for one in udev_rule().splitlines() if one and not one.startswith("#")]
    parts = (one.strip().partition('"') for one in line.split('", '))
    return {key.rstrip("=!+"): value.strip('"') for key, _, value in parts}


def test_the_rule_opens_nothing_to_everybody() -> None:
    rule = _rule()
    assert (rule["MODE"], rule["GROUP"]) == ("0660", "dialout")
    assert rule["SUBSYSTEM"] == "hidraw"


@pytest.mark.parametrize(("descriptor", "matches"), [(DESCRIPTOR, True), (NO_SCALE, False)])
def test_the_rule_knows_a_scale_by_its_report_descriptor(
    tmp_path: Path, descriptor: bytes, matches: bool
) -> None:
    """udev runs PROGRAM and matches what it prints; that udev does is for the virtual machine."""
    (tmp_path / "device").mkdir()
    (tmp_path / "device/report_descriptor").write_bytes(descriptor)
    rule = _rule()
    command = shlex.split(rule["PROGRAM"].replace("/sys%p", str(tmp_path)))
    printed = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    wanted = rule["RESULT"]
    assert wanted[0] == wanted[-1] == "*"
    assert (wanted.strip("*") in printed) is matches
