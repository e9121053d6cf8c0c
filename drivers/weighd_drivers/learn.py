"""Learning how to talk to a scale on a serial port: rate, parity, request, and the wire shape.

Nothing is known of makes. Each setting is tried; what then reads as reports of one shape is the
answer. Only requests that ask for a weight are sent: none that could zero, tare or set anything.
"""

from __future__ import annotations

import re
import termios
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Protocol

from weighd.domain.mass import Unit
from weighd_drivers.finder import Finding, find, looks_like_rubbish
from weighd_drivers.lines import LineDecoder
from weighd_drivers.serial_faults import GONE, number_of
from weighd_drivers.serial_settings import request_bytes

#: Baud rates tried, the usual first (common practice, no source).
BAUDS = (9600, 2400, 4800, 19200, 1200, 38400, 57600, 115200)
#: Data bits and parity tried. Seven bits with parity are also seen through eight without.
BITS = ((8, "none"), (7, "even"), (7, "odd"), (8, "even"))
#: Requests tried, as they are written in a configuration. The first is of the published protocol
#: SMA SCP-0499; ENQ is of ISO 1745, from memory; the others are common practice, no source.
REQUESTS = (
    r"\nW\r", r"W\r\n", r"P\r\n", r"\x05", r"W\r", r"P\r", r"R\r\n", r"Q\r\n", r"D\r\n",
    r"G\r\n", r"?\r\n", "W", "P",
)  # fmt: skip

#: A port that says nothing for so long waits to be asked, seconds.
SILENT_S = 2.5
#: So long an answer is waited for, seconds.
ANSWER_S = 0.4
#: One setting is listened to for so long, or until so many bytes came.
TRY_S, TRY_BYTES = 2.0, 400
READ_S = 0.05
#: The weight of a known load is recognised within this part of it.
NEAR = Decimal("0.03")

#: Said where nothing was heard at all.
NO_ANSWER = (
    "It says nothing by itself, and answers none of the usual requests: is it on, is the cable a"
    " crossed one where it must be, and is its output switched on?"
)

Say = Callable[[str], None]


class Port(Protocol):
    """What is used of a pyserial port; its settings may be changed while it is open."""

    baudrate: int
    bytesize: int
    parity: str

    @property
    def in_waiting(self) -> int: ...

    def read(self, size: int = 1, /) -> bytes: ...

    def write(self, data: bytes, /) -> int | None: ...

    def reset_input_buffer(self) -> None: ...


@dataclass(frozen=True)
class Way:
    """How a scale is talked to; ``request`` as in a configuration, empty where it just sends."""

    baud: int = 9600
    bits: int = 8
    parity: str = "none"
    request: str = ""

    def __str__(self) -> str:
        parity = "no parity" if self.parity == "none" else f"{self.parity} parity"
        asked = f", asked with {self.request!r}" if self.request else ""
        return f"{self.baud} baud, {self.bits} data bits, {parity}{asked}"


_LETTER = {"none": "N", "even": "E", "odd": "O"}  # as pyserial names them


def set_line(port: Port, way: Way) -> bool:
    """Set rate, data bits and parity; whether the port takes them. Not every one can do all.

    Raises what the port raises where it is gone.
    """
    try:
        port.baudrate, port.bytesize = way.baud, way.bits
        port.parity = _LETTER[way.parity]
    except (OSError, ValueError, termios.error) as error:
        if number_of(error) in GONE:
            raise
        return False
    return True


class Learner:
    """One port being learned. ``now`` is a clock in seconds; ``say`` is told what is done."""

    def __init__(self, port: Port, now: Callable[[], float], say: Say) -> None:
        self._port, self._now, self._say = port, now, say

    def search(self, request: str = "") -> tuple[Way, Finding]:
        """The way that gives reports of some shape, else the likeliest with why not.

        ``request``  what makes it answer, where that is known; else the usual ones are tried.
        """
        first = self.listen(Way(), SILENT_S, enough=TRY_BYTES)
        if first:
            return self._rates("", first)
        self._say("It sends nothing by itself: asking it for a weight.")
        return self._ask((request,) if request else REQUESTS)

    def listen(self, way: Way, seconds: float, enough: int = 0) -> bytes:
        """What comes in so many seconds, or until ``enough`` bytes are there."""
        port = self._port
        if not set_line(port, way):
            return b""
        port.reset_input_buffer()
        request = request_bytes(way.request)
        began = asked = self._now()
        heard = asked
        if request:
            port.write(request)
        out = b""
        while self._now() - began < seconds and not (enough and len(out) >= enough):
            data = port.read(port.in_waiting or 1)
            t = self._now()
            if data:
                out, heard = out + data, t
            elif request and t - heard >= READ_S and t - asked >= 0.1:
                port.write(request)
                asked = heard = t
        return out

    def _rates(self, request: str, first: bytes) -> tuple[Way, Finding]:
        """The rate and parity at which what comes reads as reports."""
        best = Way(request=request), find(first)
        if best[1].shape is not None:
            return best
        if best[1].rubbish:
            self._say("At 9600 baud what comes is no text: trying other rates.")
        for way in _ways(request):
            if way == Way(request=request) and looks_like_rubbish(first):
                continue
            finding = find(self.listen(way, TRY_S, enough=TRY_BYTES))
            if finding.shape is not None:
                return way, finding
            if best[1].rubbish and not finding.rubbish and finding.heard:
                best = way, finding
        return best

    def _ask(self, requests: Sequence[str]) -> tuple[Way, Finding]:
        rubbish = ""
        for baud in BAUDS:
            for request in requests:
                way = Way(baud, request=request)
                heard = self.listen(way, ANSWER_S)
                if not heard:
                    continue
                if looks_like_rubbish(heard):
                    rubbish = request
                    continue
                finding = find(self.listen(way, TRY_S, enough=TRY_BYTES))
                if finding.shape is not None:
                    return way, finding
        if rubbish:
            return self._rates(rubbish, b"\xff" * 8)
        return Way(), Finding(None, (NO_ANSWER,), heard=False)


def _ways(request: str) -> Iterator[Way]:
    for bits, parity in BITS:
        for baud in BAUDS:
            yield Way(baud, bits, parity, request)


@dataclass(frozen=True)
class Stage:
    """What came while the scale was empty or loaded."""

    loaded: bool
    data: bytes


@dataclass(frozen=True)
class Learned:
    """What was learned: how to talk, what was found, and what the load said to it in words."""

    way: Way
    finding: Finding
    words: tuple[str, ...] = ()
    sure: bool = True


def conclude(
    way: Way,
    stages: Sequence[Stage],
    *,
    unit: Unit | None = None,
    load_g: Decimal | None = None,
    wanted: str = "gross",
    name: str = "found",
) -> Learned:
    """The shape of all that came, held against what was put on and taken off.

    ``unit``    the unit of the display, where the lines show none.
    ``load_g``  what was put on, in grams, where it is known.
    """
    data = b"".join(_whole_reports(stage.data) for stage in stages)
    finding = find(data, unit, wanted=wanted, name=name)
    if finding.shape is None or not any(stage.loaded for stage in stages):
        return Learned(way, finding, sure=finding.shape is not None)
    step = _step(finding, stages)
    if step is None:
        return Learned(way, finding, ("Too little came to tell what the load did.",), sure=False)
    if step <= 0:
        return Learned(
            way,
            finding,
            ("The number found did not grow when something was put on: it may be another one.",),
            sure=False,
        )
    if load_g is None:
        shown = f"{step.normalize():f} g"
        return Learned(way, finding, (f"What was put on weighs {shown}, by this shape.",))
    return _held_against(way, finding, stages, step, load_g, given=unit is not None)


def _whole_reports(data: bytes) -> bytes:
    """What came without the halves of reports at its ends, so that such can be put together."""
    starts = [one.start() for one in re.finditer(rb"[\x01\x02\x81\x82]", data)]
    if len(starts) > 2:
        return data[starts[0] : starts[-1]]
    ends = [one.end() for one in re.finditer(rb"[\r\n\x03\x8d\x8a]+", data)]
    return data[ends[0] : ends[-1]] if len(ends) > 1 else data


def _held_against(
    way: Way,
    finding: Finding,
    stages: Sequence[Stage],
    step: Decimal,
    load_g: Decimal,
    *,
    given: bool,
) -> Learned:
    """A known load tells the unit of lines that show none, and whether the rest is right."""
    assert finding.shape is not None
    if _near(step, load_g):
        return Learned(way, finding, (f"It reads {load_g} g put on as {step.normalize():f} g.",))
    if finding.shape.needs_unit and not given:
        for unit in (Unit.G, Unit.KG, Unit.LB, Unit.OZ):
            other = replace(finding, shape=finding.shape.with_unit(unit))
            told = _step(other, stages)
            if told is not None and _near(told, load_g):
                words = (f"No line shows a unit. By the load put on, it is {unit}.",)
                told_before = tuple(one for one in finding.words if "shows a unit" not in one)
                return Learned(way, replace(other, words=told_before), words)
    words = (f"It reads {load_g} g put on as {step.normalize():f} g: the shape is not right.",)
    return Learned(way, finding, words, sure=False)


def _near(one: Decimal, other: Decimal) -> bool:
    return abs(one - other) <= NEAR * other


def _step(finding: Finding, stages: Sequence[Stage]) -> Decimal | None:
    """What the load made of the weight: the last of each loaded stage less that of the empty."""
    assert finding.shape is not None
    last: dict[bool, Decimal] = {}
    for stage in stages:
        read = LineDecoder(finding.shape).feed(0, stage.data)
        weights = [one.grams for one in read if one.grams is not None]
        if weights:
            last[stage.loaded] = weights[-1]
    return last[True] - last[False] if len(last) == 2 else None
