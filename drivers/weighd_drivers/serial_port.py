"""Driver ``serial``: a scale on a serial line or a USB-serial adapter.

One thread reads, stamps and delivers. A cable that is pulled out is an outcome: the port is
looked for again twice a second until it is back.
"""

from __future__ import annotations

import termios
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol

import serial
from serial.tools import list_ports

from weighd.domain.errors import ScaleError
from weighd.domain.mass import Unit
from weighd.station.ports import Bytes, Decoder, Deliver, Discovered, Driver, Found, Lost, Now
from weighd_drivers.auto import decoder_for, redecoder_for
from weighd_drivers.serial_faults import Rubbish, why_closed, wrong_rate
from weighd_drivers.serial_settings import SerialSettings, request_bytes

#: How long between two looks for a port that is not there, seconds.
LOOK_AGAIN_S = 0.5
#: The longest a read waits, seconds: so long a stop may take.
READ_S = 0.2
#: The same while a scale is learned.
LEARN_READ_S = 0.05
#: An answer that has not come by then is asked for again, seconds.
ANSWER_S = 1.0
#: A pause this long ends an answer, seconds.
QUIET_S = 0.02

_PARITY = {
    "none": serial.PARITY_NONE,
    "even": serial.PARITY_EVEN,
    "odd": serial.PARITY_ODD,
    "mark": serial.PARITY_MARK,
    "space": serial.PARITY_SPACE,
}


class Plugged(Protocol):
    """A port that the system lists, as pyserial describes it."""

    device: str
    description: str
    vid: int | None
    pid: int | None
    serial_number: str | None


ListPorts = Callable[[], Iterable[Plugged]]


class SerialSource:
    """The bytes of a serial port, and whether it is there."""

    def __init__(self, settings: SerialSettings, ports: ListPorts = list_ports.comports) -> None:
        self._settings = settings
        self._ports = ports
        self._request = request_bytes(settings.request)

    def run(self, deliver: Deliver, stop: threading.Event, now: Now) -> None:
        """Deliver until ``stop``; returns within half a second of it. Raises
        :class:`ScaleError` for settings that no port accepts."""
        told = ""
        while not stop.is_set():
            try:
                port = self._open()
            except (OSError, termios.error) as error:
                why = why_closed(self._settings.port, error)
                if why != told:
                    deliver(Lost(now(), why))
                told = why
                stop.wait(LOOK_AGAIN_S)
                continue
            with port:
                deliver(Found(now(), f"serial line {port.port}"))
                why = self._read(port, deliver, stop, now)
            if not stop.is_set():
                deliver(Lost(now(), why))
                # A port that opens but fails at once must not make a busy loop.
                stop.wait(LOOK_AGAIN_S)
            told = why

    def _open(self) -> serial.Serial:
        wanted = self._settings
        path = path_of(wanted.port, self._ports)
        try:
            return serial.Serial(
                path,
                wanted.baud,
                bytesize=wanted.data_bits,
                parity=_PARITY[wanted.parity],
                stopbits=wanted.stop_bits,
                timeout=min(READ_S, wanted.request_every_s / 2) if self._request else READ_S,
                write_timeout=READ_S,
                rtscts=wanted.flow == "rts-cts",
                xonxoff=wanted.flow == "xon-xoff",
                dsrdtr=wanted.flow == "dsr-dtr",
                exclusive=True,
            )
        except (ValueError, NotImplementedError) as error:
            raise ScaleError(
                "bad-serial-settings",
                f"The port does not accept these settings ({error}).",
                where=path,
                remedy="Look up baud rate, data bits and parity in the scale's set-up.",
            ) from error

    def _read(self, port: serial.Serial, deliver: Deliver, stop: threading.Event, now: Now) -> str:
        """Deliver what comes until ``stop``, or until the port fails: then says why."""
        asking = _Asking(self._request, self._settings.request_every_s)
        rubbish, wanted = Rubbish(), self._settings
        try:
            while not stop.is_set():
                if asking.due(now()):
                    port.write(self._request)
                    asking.asked(now())
                data = port.read(port.in_waiting or 1)
                if data:
                    # The first byte of a report ends the wait; most of the others came with it.
                    data += port.read(port.in_waiting)
                    t = now()
                    if rubbish.feed(t, data):
                        why = wrong_rate(wanted.baud, wanted.data_bits, wanted.parity)
                        deliver(Lost(t, why) if rubbish.now else Found(t, "text again"))
                    if not rubbish.now:
                        deliver(Bytes(t, data))
                    asking.heard(t)
        except serial.SerialTimeoutException:
            return "The scale does not take the request: is it on, and is the flow control right?"
        except (OSError, termios.error) as error:
            return why_closed(self._settings.port, error)
        return ""


def path_of(port: str, ports: ListPorts = list_ports.comports) -> str:
    """The path of a port; a USB adapter is found by what it says of itself.

    Raises ``FileNotFoundError`` where no such adapter is plugged in.
    """
    if "/" in port or not (port.startswith("serial:") or _is_id(port)):
        return port
    for one in ports():
        if f"serial:{one.serial_number}" == port or _id_of(one) == port.lower():
            return one.device
    raise FileNotFoundError(2, "no such adapter is plugged in")


@contextmanager
def open_to_learn(port: str) -> Iterator[serial.Serial]:
    """A port whose settings will be tried out. Raises :class:`ScaleError` where it cannot be
    opened, or goes away."""
    try:
        with serial.Serial(
            path_of(port), 9600, timeout=LEARN_READ_S, write_timeout=READ_S, exclusive=True
        ) as line:
            yield line
    except (OSError, termios.error) as error:
        raise ScaleError("no-port", why_closed(port, error), where=port) from error


@dataclass
class _Asking:
    """When to ask the scale again: after an answer, or when none came."""

    request: bytes
    every_s: float
    asked_at: float | None = None
    heard_at: float | None = None

    def due(self, t: float) -> bool:
        if not self.request:
            return False
        if self.asked_at is None:
            return True
        if self.heard_at is None:
            return t - self.asked_at >= max(self.every_s, ANSWER_S)
        return t - self.asked_at >= self.every_s and t - self.heard_at >= QUIET_S

    def asked(self, t: float) -> None:
        self.asked_at, self.heard_at = t, None

    def heard(self, t: float) -> None:
        self.heard_at = t


class SerialDriver:
    """How to reach a scale on a serial line."""

    name = "serial"

    def check(self, settings: Mapping[str, object]) -> Mapping[str, object]:
        """Settings with defaults filled in; raises ``ValueError`` naming the key."""
        return SerialSettings.model_validate(dict(settings)).model_dump()

    def source(self, settings: Mapping[str, object]) -> SerialSource:
        """The bytes of the port."""
        return SerialSource(SerialSettings.model_validate(dict(settings)))

    def decoder(self, settings: Mapping[str, object]) -> Decoder:
        """A decoder for the shape that the settings name."""
        checked = SerialSettings.model_validate(dict(settings))
        unit = Unit(checked.unit) if checked.unit else None
        return decoder_for(checked.shape, unit=unit)

    def redecoder(self, spec: Mapping[str, object]) -> Decoder:
        """The decoder that ``spec`` describes; ``KeyError`` where it is not of this driver."""
        return redecoder_for(spec)

    def discover(self) -> Iterable[Discovered]:
        """Every serial port that the system lists; which is a scale, only its owner knows."""
        return [self._discovered(port) for port in list_ports.comports()]

    def _discovered(self, port: Plugged) -> Discovered:
        identity = _id_of(port)
        named = f"serial:{port.serial_number}" if port.serial_number else identity or port.device
        return Discovered(self.name, port.device, port.description, {"port": named})


def _is_id(text: str) -> bool:
    vendor, colon, product = text.partition(":")
    digits = set("0123456789abcdefABCDEF")
    return bool(colon) and all(len(one) == 4 and set(one) <= digits for one in (vendor, product))


def _id_of(port: Plugged) -> str:
    return "" if port.vid is None or port.pid is None else f"{port.vid:04x}:{port.pid:04x}"


DRIVER = SerialDriver()
_satisfies: Driver = DRIVER
