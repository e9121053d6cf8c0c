"""What is plugged in, and what each device says: looked at before anything is configured."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import structlog

from weighd.domain.errors import ScaleError, WeighdError
from weighd.domain.reading import Reading
from weighd.main import drivers
from weighd.station.ports import Bytes, Decoder, Discovered, Driver, Found, Lost, Signal, Source

log = structlog.get_logger("weighd")
#: So much of what could not be read is kept to be shown, bytes.
RAW_SHOWN = 48


@dataclass(frozen=True, slots=True)
class Place:
    """Something that is plugged in, and the driver that found it."""

    driver: Driver
    found: Discovered


def plugged_in() -> tuple[list[Place], list[str]]:
    """All that the drivers find, and which of them could not look and why."""
    places: list[Place] = []
    faults: list[str] = []
    for name in sorted(drivers.driver_points()):
        try:
            driver = drivers.load_driver(name)
            places += [Place(driver, one) for one in driver.discover()]
        except WeighdError as error:
            faults.append(f"{name}: {error}")
    return places, faults


@dataclass
class Heard:
    """What a device said so far. ``whys`` tells what went wrong with the line, oldest first."""

    opened: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    whys: list[str] = field(default_factory=list)
    readings: int = 0
    last: Reading | None = None
    last_raw: bytes = b""
    count: int = 0
    shape: str = ""
    #: Reports that were not understood.
    rejected: int = 0
    #: Whether the line is there now.
    there: bool = False


class Listener:
    """Listens to one device in a thread of its own, until stopped.

    Nothing is sent to it but the ``request`` of its settings, where they have one.
    """

    def __init__(self, source: Source, decoder: Decoder) -> None:
        self._source, self._decoder = source, decoder
        self._signals: deque[Signal] = deque()
        self._stop = threading.Event()
        self._began = time.monotonic()
        self._heard = Heard()
        self._broken = ""
        self._taking = threading.Lock()
        self._thread = threading.Thread(target=self._run, name="listener", daemon=True)

    @staticmethod
    def to(driver: Driver, settings: Mapping[str, object]) -> Listener:
        """A listener to what ``settings`` name. Raises ``ValueError`` and :class:`ScaleError` for
        settings that no device accepts."""
        checked = driver.check(settings)
        return Listener(driver.source(checked), driver.decoder(checked))

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def stop(self, patience_s: float = 2.0) -> None:
        """Let go of the device; waits for that so long at most."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(patience_s)

    def since_s(self) -> float:
        """How long it has been listened to, seconds."""
        return time.monotonic() - self._began

    def wait(self, seconds: float) -> None:
        """Listen for so long; shorter where the line cannot be read at all."""
        self._thread.join(seconds)

    def heard(self) -> Heard:
        """What was said up to now."""
        with self._taking:
            while self._signals:
                self._take(self._signals.popleft())
            if self._broken and self._broken not in self._heard.whys:
                self._heard.whys.append(self._broken)
            shape = self._decoder.spec.get("shape")
            self._heard.shape = shape if isinstance(shape, str) else ""
            self._heard.rejected = self._decoder.rejected
            return self._heard

    def _run(self) -> None:
        try:
            self._source.run(self._signals.append, self._stop, self.since_s)
        except ScaleError as error:
            self._broken = str(error)
        except Exception as error:  # a driver of somebody else's: it must not end the look
            log.exception("a driver failed while it was looked at")
            self._broken = f"its driver failed ({error!r})"

    def _take(self, signal: Signal) -> None:
        heard = self._heard
        match signal:
            case Bytes(t, data):
                heard.count += len(data)
                heard.last_raw = (heard.last_raw + data)[-RAW_SHOWN:]
                for reading in self._decoder.feed(t, data):
                    heard.last = reading
                    heard.readings += 1
            case Lost(_, why):
                heard.there = False
                if why not in heard.whys:
                    heard.whys.append(why)
            case Found(_, what, facts):
                heard.there = True
                heard.opened, heard.facts = what, {**heard.facts, **facts}


class Learning:
    """Finds how a serial scale is talked to, in a thread of its own: a minute at the longest.

    ``said``  what is being done, and ``way`` the settings found, once it is ``over``; empty where
    nothing was, and then ``why`` says so.
    """

    def __init__(self, port: str) -> None:
        self.port, self.said, self.why = port, "", ""
        self.way: dict[str, Any] = {}
        self.over = False
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="learning", daemon=True)

    def start(self) -> None:
        """Begin to try."""
        self._thread.start()

    def stop(self) -> None:
        """Give up; waits until the port is let go."""
        self._stop.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(5.0)

    def _run(self) -> None:
        from weighd_drivers.learn import Learner
        from weighd_drivers.serial_port import open_to_learn

        try:
            with open_to_learn(self.port) as line:
                way, finding = Learner(line, self._now, self._say).search()
            if finding.shape is None:
                self.why = " ".join(finding.words)
            else:
                self.way = {"baud": way.baud}
                self.way |= {"data_bits": way.bits} if way.bits != 8 else {}
                self.way |= {"parity": way.parity} if way.parity != "none" else {}
                self.way |= {"request": way.request} if way.request else {}
        except _GivenUpError:
            self.why = ""
        except ScaleError as error:
            self.why = str(error)
        except Exception as error:  # a port that answers as no port does
            log.exception("a port could not be tried out", port=self.port)
            self.why = f"The port could not be tried out ({error})."
        self.over = True

    def _say(self, text: str) -> None:
        self.said = text

    def _now(self) -> float:
        if self._stop.is_set():
            raise _GivenUpError
        return time.monotonic()


class _GivenUpError(Exception):
    """Nobody waits for the answer any more."""
