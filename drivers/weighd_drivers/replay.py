"""Driver ``replay``: a recorded session as a scale, at any speed.

Of a session (JSON lines) it reads the header and the ``rx`` and ``event`` lines of one scale;
commands and clocks are skipped. The decoder is that of the scale that was recorded.
"""

from __future__ import annotations

import importlib
import json
import math
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from weighd.domain.errors import ScaleError
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd.station.ports import (
    Bytes,
    Decoder,
    Deliver,
    Discovered,
    Driver,
    Found,
    Lost,
    Mark,
    Marking,
    Now,
    Signal,
)
from weighd_drivers.auto import decoder_for

#: The longest a wait is at once, seconds: so long a stop may take.
WAIT_S = 0.2
#: Keys of a recorded scale that its driver knows nothing of.
COMMON = frozenset(
    (
        *("driver", "max_g", "interval_g", "min_g", "repeatability_g", "max_error_g"),
        *("accuracy_class", "verification_interval_g", "creep_g", "silent_after_s"),
    )
)


class ReplaySettings(BaseModel):
    """``[scales.NAME]`` with ``driver = "replay"``."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    file: str = Field(min_length=1, description="The recorded session.")
    scale: str = Field(
        default="", description="Which of its scales; not needed where it has only one."
    )
    speed: float = Field(
        default=1.0,
        ge=0,
        le=10_000,
        description="How fast it goes: 2.0 is twice as fast as it was, 0 is without any wait.",
    )
    repeat: bool = Field(default=False, description="Whether it begins again at the end.")


@dataclass(frozen=True, slots=True)
class Recording:
    """One scale of a session: its name, its driver with its settings, and what it sent."""

    scale: str
    driver: str
    settings: Mapping[str, Any]
    signals: Sequence[Signal]


def read_recording(file: Path, scale: str = "") -> Recording:
    """What one scale of a session sent. Raises :class:`ScaleError` naming file and line."""
    try:
        lines = file.read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise ScaleError(
            "no-recording", f"The recording cannot be read ({error}).", where=str(file)
        ) from error
    rows = [(n, _row(file, n, line)) for n, line in enumerate(lines, start=1) if line.strip()]
    header = rows[0][1] if rows else {}
    scales = header.get("scales")
    if header.get("session") != 1 or not isinstance(scales, dict):
        raise _bad(file, 1, "it does not begin with the header of a session")
    if not scale and len(scales) == 1:
        scale = next(iter(scales))
    if not isinstance(scales.get(scale), dict) or not isinstance(scales[scale].get("driver"), str):
        known = ", ".join(scales) or "none"
        raise _bad(file, 1, f"it has no scale {scale!r}; it has {known}")
    about = scales[scale]
    own = {key: value for key, value in about.items() if key not in COMMON}
    signals: list[Signal] = []
    for number, row in rows[1:]:
        if row.get("scale") != scale:
            continue
        try:
            signals.append(_signal(row))
        except (KeyError, TypeError, ValueError) as error:
            raise _bad(file, number, f"it is not what a scale sent ({error})") from error
        if len(signals) > 1 and signals[-1].t < signals[-2].t:
            raise _bad(file, number, "time goes back")
    return Recording(scale, about["driver"], own, signals)


class ReplaySource:
    """What a recorded scale sent, when it sent it."""

    def __init__(self, recording: Recording, *, speed: float = 1.0, repeat: bool = False) -> None:
        self._recording = recording
        self._speed = speed
        self._repeat = repeat

    def run(self, deliver: Deliver, stop: threading.Event, now: Now) -> None:
        """Deliver the recording, then :class:`Lost`, and wait for ``stop``."""
        signals = self._recording.signals
        what = f"recording of {self._recording.scale}"
        again = True
        while again and not stop.is_set():
            if not signals or isinstance(signals[0], Bytes):
                deliver(Found(now(), what))
            for signal in self._timed(signals, stop, now):
                deliver(signal)
            again = self._repeat and bool(signals)
            # A recording without a wait in it must not make a busy loop.
            stop.wait(WAIT_S if again else 0)
        if not stop.is_set():
            deliver(Lost(now(), "The recording is over."))
        stop.wait()

    def _timed(
        self, signals: Sequence[Signal], stop: threading.Event, now: Now
    ) -> Iterator[Signal]:
        """The signals with the station's times, each when it is due."""
        began, first = now(), signals[0].t if signals else 0.0
        for signal in signals:
            while self._speed and not stop.is_set():
                left = began + (signal.t - first) / self._speed - now()
                if left <= 0:
                    break
                stop.wait(min(left, WAIT_S))
            if stop.is_set():
                return
            match signal:
                case Bytes():
                    yield Bytes(now(), signal.data)
                case Lost():
                    yield Lost(now(), signal.why)
                case Found():
                    yield Found(now(), signal.what, signal.facts)


class RecordedDecoder:
    """The decoder of the scale that was recorded; its ``spec`` says which driver's it is."""

    def __init__(self, inner: Decoder, driver: str) -> None:
        self._inner = inner
        self._driver = driver
        self._tell()

    def feed(self, t: float, data: bytes) -> Sequence[Reading]:
        """Readings completed by ``data``, oldest first."""
        out = self._inner.feed(t, data)
        self._tell()
        return out

    def reset(self) -> None:
        """Forget half a report."""
        self._inner.reset()

    def marks(self, raw: bytes) -> Sequence[Mark]:
        """What stands where in the bytes of a reading, where the inner one can tell."""
        return self._inner.marks(raw) if isinstance(self._inner, Marking) else ()

    def _tell(self) -> None:
        self.spec: Mapping[str, object] = {"recorded": self._driver, **self._inner.spec}
        self.rejected = self._inner.rejected
        self.last_rejected = self._inner.last_rejected


class ReplayDriver:
    """How to reach a scale that was recorded."""

    name = "replay"

    def check(self, settings: Mapping[str, object]) -> Mapping[str, object]:
        """Settings with defaults filled in; raises ``ValueError`` naming the key."""
        return ReplaySettings.model_validate(dict(settings)).model_dump()

    def source(self, settings: Mapping[str, object]) -> ReplaySource:
        """The recording. Raises :class:`ScaleError` where it cannot be read."""
        checked = ReplaySettings.model_validate(dict(settings))
        recording = read_recording(Path(checked.file), checked.scale)
        return ReplaySource(recording, speed=checked.speed, repeat=checked.repeat)

    def decoder(self, settings: Mapping[str, object]) -> Decoder:
        """The decoder of the scale that was recorded. Raises :class:`ScaleError`."""
        checked = ReplaySettings.model_validate(dict(settings))
        recording = read_recording(Path(checked.file), checked.scale)
        try:
            inner = _inner(recording)
        except (KeyError, ValueError) as error:
            raise ScaleError(
                "bad-recording", f"Its scale cannot be decoded ({error}).", where=checked.file
            ) from error
        return RecordedDecoder(inner, recording.driver)

    def redecoder(self, spec: Mapping[str, object]) -> Decoder:
        """The decoder that ``spec`` describes; ``KeyError`` where it is not of this driver."""
        recorded = str(spec["recorded"])
        inner = {key: value for key, value in spec.items() if key not in {"recorded", "driver"}}
        return RecordedDecoder(_driver(recorded).redecoder(inner), recorded)

    def discover(self) -> Iterable[Discovered]:
        """Nothing: a recording is used because somebody asked for it."""
        return ()


def _inner(recording: Recording) -> Decoder:
    """The decoder that the station had. A header written by hand may leave out where the scale
    was, and then names the wire shape and the implied unit, if anything."""
    driver, own = _driver(recording.driver), recording.settings
    try:
        return driver.decoder(driver.check(own))
    except ValueError:
        unit = Unit(own["unit"]) if own.get("unit") else None
        return decoder_for(own.get("shape"), unit=unit)


def _driver(name: str) -> Driver:
    """A driver by name: as installed, else one of this package. Raises ``KeyError``."""
    for point in entry_points(group="weighd.drivers", name=name):
        found: Driver = point.load()
        return found
    module = {"serial": "serial_port", "usb": "usb_hid"}.get(name, name)
    if not module.isidentifier():
        raise KeyError(f"no driver {name!r}")
    try:
        own: Driver = importlib.import_module(f"weighd_drivers.{module}").DRIVER
    except (ImportError, AttributeError) as error:
        raise KeyError(f"no driver {name!r}") from error
    return own


def _row(file: Path, number: int, line: str) -> dict[str, Any]:
    try:
        row = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise _bad(file, number, f"it is not JSON ({error})") from error
    if not isinstance(row, dict):
        raise _bad(file, number, "it is not a JSON object")
    return row


def _signal(row: Mapping[str, Any]) -> Signal:
    t = float(row["t"])
    if not 0 <= t < math.inf:
        raise ValueError("t must be seconds from the start")
    if "rx" in row:
        return Bytes(t, bytes.fromhex(row["rx"]))
    if row["event"] == "lost":
        return Lost(t, str(row.get("why", "")))
    if row["event"] == "found":
        return Found(t, str(row.get("what", "")), dict(row.get("facts", {})))
    raise ValueError(f"no event {row['event']!r}")


def _bad(file: Path, number: int, what: str) -> ScaleError:
    return ScaleError(
        "bad-recording", f"The recording cannot be used: {what}.", where=f"{file}, line {number}"
    )


DRIVER = ReplayDriver()
_satisfies: Driver = DRIVER
