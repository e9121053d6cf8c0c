"""The scale on a pseudo-terminal, read with pyserial: it is what other tests stand on."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest
import serial

from tests.pty_scale import PtyScale
from weighd_drivers.sim_parameters import BenchParameters

FAST = BenchParameters(rate_hz=50.0)


def _read(port: serial.Serial, until: bytes, seconds: float = 5.0) -> bytes:
    out, end = b"", time.monotonic() + seconds
    while until not in out:
        assert time.monotonic() < end, out[-200:]
        out += port.read(max(1, port.in_waiting))
    return out


def test_what_is_sent_is_read(tmp_path: Path) -> None:
    with PtyScale(tmp_path / "scale", FAST, speed=4) as scale:
        scale.bench.vessel(500.0)
        with serial.Serial(str(scale.link), timeout=0.1) as port:
            heard = _read(port, b"ST,+    500.0 g\r\n")
            end = time.monotonic() + 2
            while heard not in bytes(scale.sent) and time.monotonic() < end:
                time.sleep(0.005)  # it is noted once it is written, which may be read before
            assert heard in bytes(scale.sent)
            port.write(b"P\r\n")
            end = time.monotonic() + 2
            while scale.received != b"P\r\n" and time.monotonic() < end:
                time.sleep(0.005)
            assert scale.received == b"P\r\n"


def test_unplugged_and_plugged_again_under_the_same_name(tmp_path: Path) -> None:
    with PtyScale(tmp_path / "scale", FAST) as scale:
        with serial.Serial(str(scale.link), timeout=0.5) as port:
            _read(port, b"\n")
            scale.unplug()
            assert not scale.link.exists()
            with pytest.raises(OSError, match=r"\S"):  # what it says is the system's own
                list(iter(lambda: port.read(64), None))
        with pytest.raises(OSError, match="scale"):
            serial.Serial(str(scale.link))
        scale.plug()
        with serial.Serial(str(scale.link), timeout=0.1) as port:
            _read(port, b"ST,+      0.0 g\r\n")
    assert not scale.link.is_symlink()


def test_garbage_and_half_lines_between_good_ones(tmp_path: Path) -> None:
    with (
        PtyScale(tmp_path / "scale", FAST) as scale,
        serial.Serial(str(scale.link), timeout=0.1) as port,
    ):
        _read(port, b"ST,+      0.0 g\r\n")
        scale.half(keep=6)
        _read(port, b"ST,+  ST,+      0.0 g\r\n")
        scale.send(b"\x00\xff noise\r\n")
        _read(port, b"\x00\xff noise\r\n")
        _read(port, scale.garbage(40))
        scale.silent()
        time.sleep(0.1)
        port.read(4096)
        assert port.read(16) == b""
        scale.silent(quiet=False)
        _read(port, b"\n")


def test_nobody_reading_does_not_hold_it_up(tmp_path: Path) -> None:
    with PtyScale(tmp_path / "scale", BenchParameters(rate_hz=80.0), speed=50) as scale:
        time.sleep(0.5)
        before = scale.bench.picture()
        assert before["plugged"] is True
        assert str(scale.link.readlink()).startswith("/dev/")


def test_it_runs_by_hand(tmp_path: Path) -> None:
    tool = Path(__file__).parents[1] / "pty_scale.py"
    done = subprocess.run(
        [sys.executable, str(tool), str(tmp_path / "scale"), "--bare"],
        input="vessel 300\nvessel x\ndance\nlook\nquit\n",
        capture_output=True,
        text=True,
        timeout=20,
        check=True,
    )
    assert "sending to" in done.stdout
    assert "'vessel_g': 300.0" in done.stdout
    assert "could not convert" in done.stdout
    assert "'dance' is none of" in done.stdout
    assert done.stderr == ""
