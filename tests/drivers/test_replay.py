"""A recorded session as a scale."""

from __future__ import annotations

import json
import time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.drivers.watcher import Watcher
from weighd.domain.errors import ScaleError
from weighd.station.ports import Bytes, Found, Lost
from weighd_drivers.hid import DESCRIPTOR, REPORT, framed
from weighd_drivers.replay import DRIVER, read_recording

TABLE = json.loads((Path(__file__).parents[2] / "fixtures/tables/hid.json").read_text("utf-8"))
HID = bytes.fromhex(
    next(one for one in TABLE["checks"] if one["name"] == "hid_descriptor_report_sizes")["inputs"][
        "descriptor_hex"
    ]
)
LINE = b"ST,+    123.4 g\r\n"
SERIAL = {
    "driver": "serial", "port": "/dev/x", "shape": "status-sign-digits-unit", "max_g": "6000",
}  # fmt: skip


def session(file: Path, rows: list[dict[str, Any]], **scales: dict[str, Any]) -> Path:
    """A recorded session of ``scales``."""
    lines = [{"session": 1, "scales": scales, "note": "made for a test"}, *rows]
    file.write_text("".join(json.dumps(one) + "\n" for one in lines), "utf-8")
    return file


@pytest.fixture
def recorded(tmp_path: Path) -> Path:
    rows: list[dict[str, Any]] = [
        {"t": 0, "clock": "2026-11-25T18:00:00.000Z"},
        {"t": 10.0, "scale": "bench", "event": "found", "what": "a line", "facts": {"max_g": "3"}},
        {"t": 10.1, "scale": "bench", "rx": LINE[:7].hex()},
        {"t": 10.2, "scale": "other", "rx": "ff"},
        {"t": 10.3, "scale": "bench", "rx": LINE[7:].hex()},
        {"t": 10.35, "command": {"do": "tare"}},
        {"t": 10.4, "scale": "bench", "event": "lost", "why": "pulled"},
        {"t": 10.6, "scale": "bench", "event": "found"},
        {"t": 10.7, "scale": "bench", "rx": LINE.hex()},
    ]
    return session(tmp_path / "session.jsonl", rows, bench=SERIAL, other=SERIAL)


def test_it_delivers_what_was_recorded_when_it_came(recorded: Path) -> None:
    settings = DRIVER.check({"file": str(recorded), "scale": "bench"})
    with Watcher(DRIVER.source(settings)) as watcher:
        watcher.lost(2)
    kinds = [type(one) for one in watcher.signals]
    assert kinds == [Found, Bytes, Bytes, Lost, Found, Bytes, Lost]
    assert watcher.signals[0] == Found(watcher.signals[0].t, "a line", {"max_g": "3"})
    first = watcher.signals[0].t
    times = [one.t - first for one in watcher.signals[:6]]
    for got, due in zip(times, [0, 0.1, 0.3, 0.4, 0.6, 0.7], strict=True):
        assert due - 0.001 <= got < due + 0.15


@pytest.mark.parametrize("speed", [0.0, 100.0])
def test_it_may_go_faster(recorded: Path, speed: float) -> None:
    settings = DRIVER.check({"file": str(recorded), "scale": "bench", "speed": speed})
    began = time.monotonic()
    with Watcher(DRIVER.source(settings)) as watcher:
        watcher.lost(2)
        assert time.monotonic() - began < 0.3
        decoder = DRIVER.decoder(settings)
        assert [one.grams for one in watcher.readings(decoder, 2)] == [Decimal("123.4")] * 2


def test_it_may_begin_again_and_stops_when_told(recorded: Path) -> None:
    settings = {"file": str(recorded), "scale": "bench", "speed": 0.0, "repeat": True}
    with Watcher(DRIVER.source(DRIVER.check(settings))) as watcher:
        watcher.found(5)
    assert watcher.stopped_in_s < 0.5


def test_its_evidence_reads_again_by_the_driver_that_was_recorded(recorded: Path) -> None:
    decoder = DRIVER.decoder(DRIVER.check({"file": str(recorded), "scale": "bench"}))
    (reading,) = decoder.feed(0, LINE)
    spec = json.loads(json.dumps(decoder.spec))
    assert spec == {"recorded": "serial", "shape": "status-sign-digits-unit"}
    (again,) = DRIVER.redecoder(spec).feed(0, reading.raw)
    assert again.grams == reading.grams


def test_a_recorded_usb_scale_replays_without_the_device(tmp_path: Path) -> None:
    stream = framed(DESCRIPTOR, HID) + framed(REPORT, bytes.fromhex("030402ffe204")) * 2
    rows = [{"t": 0.0, "scale": "usb", "rx": stream.hex()}]
    file = session(tmp_path / "usb.jsonl", rows, usb={"driver": "usb", "serial": "A"})
    settings = DRIVER.check({"file": str(file)})
    with Watcher(DRIVER.source(settings)) as watcher:
        decoder = DRIVER.decoder(settings)
        (reading,) = watcher.readings(decoder, 1)
    assert isinstance(watcher.signals[0], Found)
    (again,) = DRIVER.redecoder(decoder.spec).feed(0, reading.raw)
    assert reading.grams == again.grams == Decimal("125.0")


def test_a_header_written_by_hand_need_not_say_where_the_scale_was(tmp_path: Path) -> None:
    rows = [{"t": 0.0, "scale": "bench", "rx": (LINE * 6).hex()}]
    file = session(tmp_path / "hand.jsonl", rows, bench={"driver": "serial", "max_g": "6000"})
    decoder = DRIVER.decoder(DRIVER.check({"file": str(file)}))
    assert len(decoder.feed(0, LINE * 6)) == 6


USB_HEADER = '{"session": 1, "scales": {"a": {"driver": "usb"}}}\n'
TWO_SCALES = '{"session": 1, "scales": {"a": {"driver": "serial"}, "b": {"driver": "usb"}}}'


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("", "line 1"),
        ("{}", "line 1"),
        ("nonsense", "line 1"),
        ("[1]", "line 1"),
        (TWO_SCALES, "line 1"),
        (USB_HEADER + '{"t": 1, "scale": "a"}', "line 2"),
        (USB_HEADER + '\n{"t": -1, "scale": "a", "rx": ""}', "line 3"),
        (USB_HEADER + '{"t": 1, "scale": "a", "rx": "0"}', "line 2"),
        (
            USB_HEADER + '{"t": 2, "scale": "a", "rx": ""}\n{"t": 1, "scale": "a", "rx": ""}',
            "line 3",
        ),
    ],
)
def test_what_is_no_recording_is_told_with_its_line(tmp_path: Path, text: str, where: str) -> None:
    file = tmp_path / "bad.jsonl"
    file.write_text(text, "utf-8")
    with pytest.raises(ScaleError) as raised:
        read_recording(file)
    assert raised.value.where == f"{file}, {where}"


def test_a_missing_recording_and_an_unknown_driver_are_told(tmp_path: Path) -> None:
    with pytest.raises(ScaleError, match="cannot be read"):
        DRIVER.source({"file": str(tmp_path / "none")})
    file = session(tmp_path / "odd.jsonl", [], odd={"driver": "no such"})
    with pytest.raises(ScaleError, match="cannot be decoded"):
        DRIVER.decoder({"file": str(file)})
    with pytest.raises(KeyError):
        DRIVER.redecoder({"recorded": "no such", "shape": "digits"})
