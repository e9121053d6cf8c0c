"""Scales of USB's own scale class: their reports as readings. Pure, no device is touched here.

After the USB-IF *HID Point of Sale Usage Tables* 1.02 and the *HID Usage Tables*, usage page
0x8D. Where things stand in a report is taken from the device's report descriptor.

**The stream.** USB delivers whole reports, a decoder is given bytes that may be cut anywhere. So
the source puts each report, and once after opening the report descriptor, into a frame:

    kind (``D`` descriptor, ``R`` report), length (2 bytes, big-endian), that many bytes

A recorded session therefore holds the descriptor and replays without the device. After a
descriptor the first report is not read: public code notes that scales may send the weighing
before once more when they are opened. A scale that reports steadily loses nothing by that, and
one that reports on change would otherwise show a load that is no longer there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal

from weighd.domain.errors import ScaleError
from weighd.domain.mass import EXACT, Unit, to_grams
from weighd.domain.reading import Reading
from weighd_drivers.hid_descriptor import (
    LONGEST,
    DescriptorError,
    HidField,
    bits,
    parse,
    report_bytes,
)

PAGE = 0x8D
DESCRIPTOR, REPORT = b"D", b"R"
KEPT = 64
#: Data Scaling beyond this is none of a scale's: 10**-10 of a unit, 10**10 units.
WIDEST_SCALING = 10

_DATA_WEIGHT, _DATA_SCALING = 0x40, 0x41
_STATUS, _UNITS = range(0x71, 0x79), range(0x51, 0x5D)
_WEIGHT_LIMIT_REPORT = 0x34
_ZERO_SCALE = 0x80

#: Units by their usage. Taels and the avoirdupois ton have no single definition: not read.
UNITS = {
    0x51: Unit.MG, 0x52: Unit.G, 0x53: Unit.KG, 0x54: Unit.CT, 0x56: Unit.GR, 0x57: Unit.DWT,
    0x58: Unit.T, 0x5A: Unit.OZT, 0x5B: Unit.OZ, 0x5C: Unit.LB,
}  # fmt: skip

#: Statuses without a number, by their usage.
_NO_NUMBER = {
    0x71: "fault",
    0x75: "under",
    0x77: "requires calibration",
    0x78: "requires rezeroing",
}
_AT_ZERO, _MOVING, _STABLE, _OVER = 0x72, 0x73, 0x74, 0x76


class _UnreadableError(Exception):
    """Why a report is refused."""


@dataclass(frozen=True, slots=True)
class Selector:
    """An array of one value: which usage it selects. ``usages[0]`` is selected by ``least``."""

    bit: int
    size: int
    least: int
    usages: tuple[int, ...]

    def selected(self, data: bytes) -> int | None:
        """The usage, or ``None`` for a value outside the range: no selection (HID 1.11)."""
        at = bits(data, self.bit, self.size) - self.least
        return self.usages[at] if 0 <= at < len(self.usages) else None


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number in a report."""

    bit: int
    size: int
    signed: bool

    def value(self, data: bytes) -> int:
        """The number."""
        return bits(data, self.bit, self.size, signed=self.signed)


@dataclass(frozen=True, slots=True)
class WeightReport:
    """Where the weight stands. ``report`` is the id, 0 for none; ``size`` bytes without it.

    ``others`` are ids of input reports that say nothing of the weight.
    """

    report: int
    size: int
    unit: Selector
    scaling: Quantity
    weight: Quantity
    status: Selector | None
    others: tuple[int, ...] = ()

    def payload(self, data: bytes) -> bytes | None:
        """A report without its id; ``None`` for another report that the device declares.

        Zeros after the end are padding of the transfer. Raises for any other length.
        """
        if self.report:
            if data[0] != self.report:
                if data[0] in self.others:
                    return None
                raise _UnreadableError(f"report {data[0]} is not declared")
            data = data[1:]
        if len(data) < self.size or any(data[self.size :]):
            raise _UnreadableError(f"{len(data)} bytes, where {self.size} belong")
        return data[: self.size]

    def quantity(self, data: bytes) -> tuple[Decimal, Unit]:
        """The number displayed and its unit. Raises where either says nothing usable."""
        usage = self.unit.selected(data)
        unit = UNITS.get(usage or 0)
        if unit is None:
            raise _UnreadableError(f"unit {usage:#x} is not read" if usage else "no unit")
        scaling = self.scaling.value(data)
        if abs(scaling) > WIDEST_SCALING:
            raise _UnreadableError(f"a scaling of {scaling} is none of a scale's")
        number = Decimal(self.weight.value(data))
        if scaling < 0:
            return number.scaleb(scaling, EXACT), unit
        return EXACT.multiply(number, 10**scaling), unit


def weight_report(fields: Sequence[HidField], kind: str = "input") -> WeightReport:
    """The report that holds the weight.

    ``kind`` ``feature`` gives the report of the largest weight (Max) instead. Raises
    :class:`ScaleError` where the device has none: it is not a scale of this class.
    """
    wanted = PAGE << 16
    limit = wanted | _WEIGHT_LIMIT_REPORT
    for one in fields:
        is_limit = limit in one.within
        if one.kind != kind or wanted | _DATA_WEIGHT not in one.usages:
            continue
        if is_limit != (kind == "feature"):
            continue
        same = [
            each for each in fields
            if (each.kind, each.report) == (kind, one.report)
        ]  # fmt: skip
        unit, status = _selector(same, _UNITS), _selector(same, _STATUS)
        scaling = _quantity(same, wanted | _DATA_SCALING)
        weight = _quantity(same, wanted | _DATA_WEIGHT)
        if unit and scaling and weight:
            ids = {each.report for each in fields if each.kind == kind} - {one.report}
            size = report_bytes(fields, kind, one.report)
            return WeightReport(one.report, size, unit, scaling, weight, status, tuple(sorted(ids)))
    raise ScaleError(
        "not-a-hid-scale",
        "The device does not describe a weight with unit and scaling, as USB's scale class has it.",
        remedy="Use its serial port instead, if it has one.",
    )


def max_grams(report: WeightReport, data: bytes) -> Decimal | None:
    """Max in grams from the answer to the limit report; ``None`` where it says nothing usable."""
    try:
        payload = report.payload(data)
        number, unit = report.quantity(payload or b"")
    except (_UnreadableError, IndexError):
        return None
    return to_grams(number, unit) if number > 0 else None


def zero_command(fields: Sequence[HidField]) -> tuple[int, bytes] | None:
    """The output report that zeroes the scale: its id and its bytes without it."""
    for one in fields:
        if one.kind == "output" and PAGE << 16 | _ZERO_SCALE in one.usages and not one.array:
            bit = one.bit + one.size * one.usages.index(PAGE << 16 | _ZERO_SCALE)
            size = report_bytes(fields, "output", one.report)
            return one.report, (1 << bit).to_bytes(size, "little")
    return None


def framed(kind: bytes, data: bytes) -> bytes:
    """A descriptor or a report as it goes into the stream of bytes."""
    return kind + len(data).to_bytes(2, "big") + data


class HidDecoder:
    """A :class:`~weighd.station.ports.Decoder` for the framed stream of a HID scale.

    Without ``report`` it takes the layout from the descriptor in the stream; with it, it reads
    reports as they are (evidence).
    """

    def __init__(self, report: WeightReport | None = None) -> None:
        self.rejected = 0
        self.last_rejected = b""
        self._report = report
        self.spec: Mapping[str, object] = {"report": _as_json(report) if report else None}
        self._rest = b""
        self._stale = False
        self._lost = False  # between frames, looking for the next

    def feed(self, t: float, data: bytes) -> Sequence[Reading]:
        """Readings completed by ``data``, oldest first; they carry ``t`` in seconds."""
        out: list[Reading] = []
        for frame in self._frames(data):
            if frame[:1] == DESCRIPTOR:
                self._learn(frame)
            elif len(frame) > 3:  # a transfer without bytes says nothing
                out += self._read(t, frame)
        return out

    def reset(self) -> None:
        """Forget half a frame. The layout is kept until a device tells its own."""
        self._rest = b""
        self._lost = False

    def _frames(self, data: bytes) -> Iterator[bytes]:
        stream = self._rest + data
        at = 0
        while at < len(stream):
            head = stream[at : at + 3]
            size = int.from_bytes(head[1:], "big")
            if head[:1] not in (DESCRIPTOR, REPORT) or (len(head) == 3 and size > LONGEST):
                # Not the beginning of a frame: bytes were lost; go on to the next that may be.
                after = [p for p in (stream.find(k, at + 1) for k in (b"D", b"R")) if p > 0]
                stop = min(after, default=len(stream))
                if not self._lost:
                    self._reject(stream[at:stop])
                self._lost = True
                at = stop
                continue
            if len(head) < 3 or len(stream) - at < 3 + size:
                break
            self._lost = False
            yield stream[at : at + 3 + size]
            at += 3 + size
        self._rest = stream[at:]

    def _learn(self, frame: bytes) -> None:
        try:
            self._report = weight_report(parse(frame[3:]))
        except (DescriptorError, ScaleError):
            self._report = None
            self._reject(frame)
        self.spec = {"report": _as_json(self._report) if self._report else None}
        self._stale = True

    def _read(self, t: float, frame: bytes) -> Sequence[Reading]:
        if self._report is None:
            # No descriptor has come yet: where the weight stands would be a guess.
            self._reject(frame)
            return ()
        try:
            payload = self._report.payload(frame[3:])
            if payload is None:
                return ()
            reading = _reading(t, self._report, payload, frame)
        except _UnreadableError:
            self._reject(frame)
            return ()
        stale, self._stale = self._stale, False
        return () if stale else (reading,)

    def _reject(self, data: bytes) -> None:
        self.rejected += 1
        self.last_rejected = data[:KEPT]


def _reading(t: float, report: WeightReport, payload: bytes, raw: bytes) -> Reading:
    stable: bool | None = None
    if report.status is not None:
        usage = (report.status.selected(payload) or 0) & 0xFFFF
        if usage == _OVER:
            return Reading(t, None, over=True, raw=raw)
        if usage in _NO_NUMBER:
            return Reading(t, None, fault=_NO_NUMBER[usage], raw=raw)
        if usage not in {_AT_ZERO, _MOVING, _STABLE}:
            raise _UnreadableError(f"status {usage:#x} has no meaning")
        stable = usage != _MOVING
    number, unit = report.quantity(payload)
    if report.status is not None and usage == _AT_ZERO:
        number *= 0
    return Reading(t, to_grams(number, unit), unit, stable, shown=number, raw=raw)


def redecoder_for(spec: Mapping[str, object]) -> HidDecoder:
    """The decoder that a ``spec`` describes. Raises ``KeyError`` where it describes none."""
    given = spec["report"]
    if given is None:
        return HidDecoder()
    try:
        return HidDecoder(_from_json(given))
    except (TypeError, ValueError, AttributeError) as error:
        raise KeyError(f"no layout of a report: {error}") from error


def _selector(fields: Sequence[HidField], usages: range) -> Selector | None:
    for one in fields:
        known = [usage for usage in one.usages if usage >> 16 == PAGE and usage & 0xFFFF in usages]
        if known and one.array and one.count == 1 and one.size:
            page = tuple(u & 0xFFFF if u >> 16 == PAGE else 0 for u in one.usages)
            return Selector(one.bit, one.size, one.least, page)
    return None


def _quantity(fields: Sequence[HidField], usage: int) -> Quantity | None:
    for one in fields:
        if usage in one.usages and not one.array and one.size:
            bit = one.bit + one.size * one.usages.index(usage)
            return Quantity(bit, one.size, signed=one.least < 0)
    return None


def _as_json(report: WeightReport) -> dict[str, object]:
    out = asdict(report)
    for key in ("unit", "status"):
        if out[key] is not None:
            out[key]["usages"] = list(out[key]["usages"])
    out["others"] = list(out["others"])
    return out


def _from_json(given: object) -> WeightReport:
    if not isinstance(given, Mapping):
        raise TypeError("a layout is an object")
    parts = dict(given)
    for key in ("unit", "status"):
        if parts[key] is not None:
            parts[key] = Selector(**parts[key] | {"usages": tuple(parts[key]["usages"])})
    for key in ("scaling", "weight"):
        parts[key] = Quantity(**parts[key])
    parts["others"] = tuple(parts["others"])
    return WeightReport(**parts)
