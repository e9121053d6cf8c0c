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

from weighd.domain.errors import ScaleError
from weighd.domain.mass import to_grams
from weighd.domain.reading import Reading
from weighd_drivers.hid_descriptor import LONGEST, DescriptorError, parse
from weighd_drivers.hid_layout import (
    AT_ZERO,
    MOVING,
    NO_NUMBER,
    OVER,
    STABLE,
    UnreadableError,
    WeightReport,
    as_json,
    from_json,
    weight_report,
)

#: Every status that means something.
MEANT = frozenset({AT_ZERO, MOVING, STABLE, OVER, *NO_NUMBER})
DESCRIPTOR, REPORT = b"D", b"R"
KEPT = 64


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
        self.spec: Mapping[str, object] = {"report": as_json(report) if report else None}
        self._rest = b""
        self._stale = False
        self._status: tuple[int, bytes] | None = None  # told in a report of its own
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
        self._status = None

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
        self.spec = {"report": as_json(self._report) if self._report else None}
        self._stale = True
        self._status = None

    def _read(self, t: float, frame: bytes) -> Sequence[Reading]:
        if self._report is None:
            # No descriptor has come yet: where the weight stands would be a guess.
            self._reject(frame)
            return ()
        try:
            apart = self._report.status_apart(frame[3:])
            if apart is not None:
                return self._told(t, apart, frame)
            payload = self._report.payload(frame[3:])
            if payload is None:
                return ()
            reading = _reading(t, self._report, payload, frame, self._status)
        except UnreadableError:
            self._reject(frame)
            return ()
        stale, self._stale = self._stale, False
        return () if stale else (reading,)

    def _told(self, t: float, usage: int, frame: bytes) -> Sequence[Reading]:
        """A status in a report of its own holds for the weights after it, until the next.

        One without a number is a reading by itself: no weight may come as long as it holds.
        """
        self._status = usage, frame
        if usage not in MEANT:  # nor has a weight, as long as it holds
            raise UnreadableError(f"status {usage:#x} has no meaning")
        without = _without_number(t, usage, frame)
        return () if without is None else (without,)

    def _reject(self, data: bytes) -> None:
        self.rejected += 1
        self.last_rejected = data[:KEPT]


def _reading(
    t: float, report: WeightReport, payload: bytes, raw: bytes, apart: tuple[int, bytes] | None
) -> Reading:
    """A weight as a reading; with a status ``apart``, its frame stands before in the evidence."""
    usage: int | None = None
    if report.status is not None:
        usage = (report.status.selected(payload) or 0) & 0xFFFF
    elif apart is not None:
        usage = apart[0]
        # By itself the status reads as a reading again, if it has no number.
        raw = apart[1] if usage == OVER or usage in NO_NUMBER else apart[1] + raw
    if usage is not None and usage not in MEANT:
        raise UnreadableError(f"status {usage:#x} has no meaning")
    without = None if usage is None else _without_number(t, usage, raw)
    if without is not None:
        return without
    number, unit = report.quantity(payload)
    if usage == AT_ZERO:
        number *= 0
    stable = None if usage is None else usage != MOVING
    return Reading(t, to_grams(number, unit), unit, stable, shown=number, raw=raw)


def _without_number(t: float, usage: int, raw: bytes) -> Reading | None:
    if usage == OVER:
        return Reading(t, None, over=True, raw=raw)
    return Reading(t, None, fault=NO_NUMBER[usage], raw=raw) if usage in NO_NUMBER else None


def redecoder_for(spec: Mapping[str, object]) -> HidDecoder:
    """The decoder that a ``spec`` describes. Raises ``KeyError`` where it describes none."""
    given = spec["report"]
    if given is None:
        return HidDecoder()
    try:
        return HidDecoder(from_json(given))
    except (TypeError, ValueError, AttributeError) as error:
        raise KeyError(f"no layout of a report: {error}") from error
