"""The serial driver on real pseudo-terminals: data, unplug, replug, asking, and refusals.

A pseudo-terminal keeps neither parity nor seven bits, so what is asked of the port is checked
on the port, not on the wire.
"""

from __future__ import annotations

import errno
import os
import select
import subprocess
import sys
import termios
import threading
import time
import tty
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import serial
from pytest_mock import MockerFixture

from tests.drivers.fake_port import seen
from tests.drivers.watcher import Watcher
from weighd.domain.errors import ScaleError
from weighd.station.ports import Bytes, Found, Lost, Signal
from weighd_drivers.serial_faults import holders_of, rule_for, why_closed
from weighd_drivers.serial_port import DRIVER, SerialSource
from weighd_drivers.serial_settings import SerialSettings, request_bytes

LINE = b"ST,+    123.4 g\r\n"
SHAPE = "status-sign-digits-unit"


class Cable:
    """A scale's end of a line, plugged in at ``path``."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.scale = -1
        self.plug()

    def plug(self) -> None:
        """Plug in: a new terminal at the same path."""
        self.scale, far = os.openpty()
        tty.setraw(far)
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(os.ttyname(far))
        os.close(far)

    def unplug(self) -> None:
        """Pull the plug."""
        self.path.unlink(missing_ok=True)
        os.close(self.scale)
        self.scale = -1

    def send(self, data: bytes) -> None:
        """What the scale sends."""
        os.write(self.scale, data)

    def asked(self, size: int) -> bytes:
        """What the station sent, once it is ``size`` bytes."""
        got = b""
        while len(got) < size and select.select([self.scale], [], [], 5)[0]:
            got += os.read(self.scale, size - len(got))
        return got


@pytest.fixture
def cable(tmp_path: Path) -> Iterator[Cable]:
    cable = Cable(tmp_path / "scale")
    yield cable
    if cable.scale >= 0:
        cable.unplug()


def source(port: Path | str, **settings: Any) -> SerialSource:
    return SerialSource(SerialSettings(port=str(port), shape=SHAPE, **settings))


def test_what_comes_is_delivered_at_once_with_its_time(cable: Cable) -> None:
    with Watcher(source(cable.path)) as watcher:
        watcher.found()
        for n in range(5):
            sent = watcher.now()
            cable.send(LINE)
            watcher.wait(lambda all_: _received(all_) == LINE * (n + 1))  # noqa: B023 - at once
            assert 0 <= watcher.signals[-1].t - sent < 0.1


def _received(signals: Sequence[Signal]) -> bytes:
    return b"".join(one.data for one in signals if isinstance(one, Bytes))


def test_an_unplugged_cable_is_lost_and_found_again_at_the_same_path(cable: Cable) -> None:
    with Watcher(source(cable.path)) as watcher:
        watcher.found()
        cable.send(LINE * 2)
        decoder = DRIVER.decoder({"port": "x", "shape": SHAPE})
        assert len(watcher.readings(decoder, 2)) == 2
        cable.unplug()
        assert "plugged in" in watcher.lost()[0]
        cable.plug()
        watcher.found(2)
        cable.send(LINE)
        watcher.wait(lambda all_: isinstance(all_[-1], Bytes))
    kinds = [type(one) for one in watcher.signals if not isinstance(one, Bytes)]
    # The cable was out for longer than one look, and yet it is told as one loss a cause.
    assert kinds[0] is Found
    assert kinds[-1] is Found
    assert kinds.count(Found) == 2


def test_a_port_that_is_not_there_is_told_once_and_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "scale"
    with Watcher(source(path)) as watcher:
        watcher.lost()
        time.sleep(0.7)
        cable = Cable(path)
        watcher.found()
    cable.unplug()
    assert [type(one) for one in watcher.signals] == [Lost, Found]
    assert f"no port {path}" in watcher.signals[0].why  # type: ignore[union-attr]


def test_a_port_in_use_by_another_is_told_as_such(cable: Cable) -> None:
    with serial.Serial(str(cable.path), exclusive=True), Watcher(source(cable.path)) as watcher:
        assert "Another scale of this weighd" in watcher.lost()[0]


def test_a_port_that_another_process_has_is_told_with_its_name_and_number(cable: Cable) -> None:
    code = (
        "import serial,sys; p=serial.Serial(sys.argv[1],exclusive=True); print(flush=True); input()"
    )
    command = [sys.executable, "-u", "-c", code, str(cable.path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        assert holder.stdin is not None
        assert holder.stdout is not None
        holder.stdout.readline()
        assert holder.pid in holders_of(str(cable.path))
        with Watcher(source(cable.path)) as watcher:
            assert f"(process {holder.pid}) is using" in watcher.lost()[0]
        holder.stdin.close()


def test_a_wrong_rate_is_told_as_such_and_so_is_a_right_one_again(cable: Cable) -> None:
    wrong = seen(LINE, (2400, 8, "N"), (9600, 8, "N"))
    with Watcher(source(cable.path)) as watcher:
        watcher.found()
        for _ in range(400 // len(wrong) + 1):
            cable.send(wrong)
        assert "9600 baud" in watcher.lost()[0]
        for _ in range(8):
            cable.send(LINE)
        watcher.found(2)
        cable.send(LINE)
        watcher.wait(lambda all_: isinstance(all_[-1], Bytes))


def test_a_port_that_no_group_may_use_is_told_with_a_rule(tmp_path: Path) -> None:
    port = tmp_path / "ttyX7"
    port.touch(0o600)
    told = why_closed(str(port), OSError(errno.EACCES, "x"))
    assert rule_for(port) in told
    assert 'KERNEL=="ttyX7"' in told
    assert 'MODE="0660"' in told


def test_a_scale_that_must_be_asked_is_asked_again_after_each_answer(cable: Cable) -> None:
    with Watcher(source(cable.path, request="W\\r\\n", request_every_s=0.05)) as watcher:
        watcher.found()
        for _ in range(4):
            assert cable.asked(3) == b"W\r\n"
            cable.send(LINE)
        watcher.readings(DRIVER.decoder({"port": "x", "shape": SHAPE}), 4)


def test_a_scale_that_does_not_answer_is_asked_again_after_a_while(cable: Cable) -> None:
    with Watcher(source(cable.path, request="W", request_every_s=0.05)) as watcher:
        watcher.found()
        assert cable.asked(1) == b"W"
        began = watcher.now()
        assert cable.asked(1) == b"W"
        assert 0.8 < watcher.now() - began < 1.6


def test_a_stop_is_obeyed_while_nothing_comes(cable: Cable) -> None:
    with Watcher(source(cable.path)) as watcher:
        watcher.found()
    assert watcher.stopped_in_s < 0.5
    with serial.Serial(str(cable.path), exclusive=True):
        pass  # the port was released


def test_an_adapter_is_found_by_its_serial_number_whatever_its_path(cable: Cable) -> None:
    plugged: list[SimpleNamespace] = []

    def ports() -> list[Any]:
        return plugged

    for wanted in ("serial:SCALE42", "0403:6001", "0403:6001".upper()):
        plugged[:] = []
        looking = SerialSource(SerialSettings(port=wanted, shape=SHAPE), ports)
        with Watcher(looking) as watcher:
            assert "not plugged in" in watcher.lost()[0]
            plugged[:] = [
                SimpleNamespace(device="/dev/none", vid=None, pid=None, serial_number=None),
                SimpleNamespace(
                    device=str(cable.path), vid=0x0403, pid=0x6001, serial_number="SCALE42"
                ),
            ]
            (found,) = watcher.found()
        assert str(cable.path) in found.what


def test_an_adapter_plugged_in_anew_is_found_under_another_name(tmp_path: Path) -> None:
    first = Cable(tmp_path / "ttyUSB0")
    named = SimpleNamespace(device=str(first.path), vid=0x1209, pid=2, serial_number="SCALE42")
    other = SimpleNamespace(device="/dev/none", vid=0x1209, pid=2, serial_number="SCALE41")
    plugged: list[Any] = [other, named]
    looking = SerialSource(SerialSettings(port="serial:SCALE42", shape=SHAPE), lambda: plugged)
    decoder = DRIVER.decoder({"port": "x", "shape": SHAPE})
    with Watcher(looking) as watcher:
        watcher.found()
        first.send(LINE)
        watcher.readings(decoder, 1)
        plugged.remove(named)
        first.unplug()
        watcher.lost()
        second = Cable(tmp_path / "ttyUSB1")
        plugged.append(SimpleNamespace(**vars(named) | {"device": str(second.path)}))
        assert str(second.path) in watcher.found(2)[-1].what
        second.send(LINE)
        watcher.wait(lambda all_: isinstance(all_[-1], Bytes))
    second.unplug()


def test_the_port_is_opened_as_the_settings_say(mocker: MockerFixture) -> None:
    opened = mocker.patch("serial.Serial", side_effect=FileNotFoundError(2, "none"))
    looking = source(
        "/dev/x", baud=2400, data_bits=7, parity="even", stop_bits=2, flow="rts-cts", request="W"
    )
    with Watcher(looking) as watcher:
        watcher.lost()
    args, given = opened.call_args
    assert args == ("/dev/x", 2400)
    assert (given["bytesize"], given["parity"], given["stopbits"]) == (7, "E", 2)
    assert (given["rtscts"], given["xonxoff"], given["dsrdtr"]) == (True, False, False)
    assert given["exclusive"] is True
    assert given["timeout"] <= 0.2


@pytest.mark.parametrize(
    "error",
    [
        OSError(errno.EIO, "Input/output error"),
        serial.SerialException("device reports readiness to read but returned no data"),
        termios.error(errno.EIO, "Input/output error"),
    ],
)
def test_every_way_in_which_a_port_goes_is_a_loss(
    cable: Cable, mocker: MockerFixture, error: Exception
) -> None:
    """What a pulled adapter raises differs: no fake port can raise them all."""
    mocker.patch("serial.Serial.read", side_effect=error)
    with Watcher(source(cable.path)) as watcher:
        assert watcher.lost()[0]
        # It opens and fails at once, again and again, and yet not in a busy loop.
        began = len(watcher.signals)
        threading.Event().wait(0.8)
        assert len(watcher.signals) - began <= 6


def test_settings_that_no_port_accepts_cannot_be_mended_by_waiting(
    cable: Cable, mocker: MockerFixture
) -> None:
    mocker.patch("serial.Serial", side_effect=ValueError("Invalid baud rate: 51"))
    with pytest.raises(ScaleError, match="baud"):
        source(cable.path).run(lambda _signal: None, threading.Event(), time.monotonic)


@pytest.mark.parametrize(
    ("error", "says"),
    [
        (OSError(errno.EACCES, "x"), "add the user that runs weighd to the group dialout"),
        (serial.SerialException(errno.ENOENT, "x"), "not plugged in"),
        (serial.SerialException("Could not exclusively lock: [Errno 11] x"), "Another program"),
        (OSError(errno.EBUSY, "x"), "Another program"),
        (termios.error(errno.ENOTTY, "x"), "is no serial port"),
        (serial.SerialException("read failed"), "was cut"),
        (serial.SerialException("Could not configure port: (22, 'Invalid argument')"), "refuses"),
    ],
)
def test_why_a_port_is_closed_is_told_in_plain_words(error: Exception, says: str) -> None:
    assert says in why_closed("/dev/none/x", error)


@pytest.mark.parametrize(
    ("text", "data"),
    [("W\\r\\n", b"W\r\n"), ("\\x02Q\\x03", b"\x02Q\x03"), ("\\\\n", b"\\n"), ("", b"")],
)
def test_a_request_is_written_with_escapes(text: str, data: bytes) -> None:
    assert request_bytes(text) == data


@pytest.mark.parametrize("text", ["\\q", "\\x1", "\\", "€"])
def test_a_request_that_makes_no_bytes_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="request"):
        SerialSettings(port="/dev/x", request=text)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("bauds", 9600), ("baud", 10), ("baud", "9600"), ("data_bits", 9), ("parity", "Even"),
        ("stop_bits", 3), ("flow", "rtscts"), ("shape", "no-such"), ("shape", {"shape": 1}),
        ("unit", "stone"), ("request_every_s", 0), ("port", ""), ("shape", 3),
    ],
)  # fmt: skip
def test_a_wrong_setting_is_refused_by_its_key(key: str, value: object) -> None:
    with pytest.raises(ValueError, match=key):
        DRIVER.check({"port": "/dev/x", key: value})


def test_the_path_of_a_shape_file_becomes_what_it_says(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text('shape = 1\nname = "mine"\nunit = "g"\n[[field]]\nkind = "number"\n', "utf-8")
    checked = DRIVER.check({"port": "/dev/x", "shape": str(file)})
    file.unlink()
    assert DRIVER.check(checked) == checked
    assert DRIVER.decoder(checked).feed(0, b"\n12.5\r\n")[0].grams is not None
