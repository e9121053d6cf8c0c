"""The line decoder: bytes of a scale in, readings out, by a wire shape.

Rules:

1. The whole report must fit: status, digits, unit, length, check. What does not is counted in
   ``rejected`` and told to ``on_reject``; it never becomes a weight, least of all zero.
2. How the stream is cut into chunks changes nothing but the times.
3. The first line after opening may be the tail of a report. It is read where no tail of a report
   of this shape can itself be taken for one, or once the next report turns out to be as long:
   where numbers are padded, a tail is shorter. Otherwise it is dropped, uncounted.
4. ``raw`` of a reading is the whole report, and a decoder told ``joined`` (it begins at the
   beginning of a report) reads it again: so evidence is read.
5. Memory is bounded: a line that grows too long is discarded up to its end and counted once.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache

from weighd.domain.reading import Reading
from weighd.station.ports import Mark
from weighd_drivers.layout import Layout, Said, UnreadableError
from weighd_drivers.layout_run import runs_of
from weighd_drivers.shape_text import shape_of, spec_of
from weighd_drivers.shapes import LONGEST, WireShape

#: Told of every report that was not read: its offset in the stream, its first bytes, and why.
OnReject = Callable[[int, bytes, str], None]

#: As much of a report that was not read as is kept.
KEPT = 64
#: Reports remembered word for word; a scale at rest says the same ten times a second.
REMEMBERED = 512

_BLANK = b"\r\n"
_NOT_BLANK = re.compile(rb"[^\r\n]")
_LEADING_ZERO = re.compile(rb"(?<![0-9.,])0[0-9]")
#: What stands for a character of the wrong parity: it fits no shape.
_WRONG = 0xFF
_SEVEN_BITS = {
    "none": bytes(code & 0x7F for code in range(256)),
    "even": bytes(_WRONG if code.bit_count() % 2 else code & 0x7F for code in range(256)),
    "odd": bytes(code & 0x7F if code.bit_count() % 2 else _WRONG for code in range(256)),
}


def not_told(_offset: int, _data: bytes, _why: str) -> None:
    """Nobody asked to be told."""


class Compiled:
    """What decoders of one shape have in common, and none of them changes."""

    def __init__(self, shape: WireShape) -> None:
        self.shape = shape
        self.spec: Mapping[str, object] = spec_of(shape)
        self.layout = Layout(shape)
        self.runs = runs_of(self.layout)


def compiled_of(spec: Mapping[str, object]) -> Compiled:
    """What a ``spec`` describes, compiled. Raises ``KeyError`` where it describes no shape."""
    return _compiled(json.dumps(spec["shape"]), str(spec["unit"]) if "unit" in spec else None)


@lru_cache(maxsize=64)
def _compiled(shape: str, unit: str | None) -> Compiled:
    """Kept, since a record has thousands of readings of the few shapes that its scales have."""
    spec = {"shape": json.loads(shape)}
    return Compiled(shape_of(spec if unit is None else {**spec, "unit": unit}))


class LineDecoder:
    """A :class:`~weighd.station.ports.Decoder` for one wire shape, which may be compiled already.

    ``joined``     the first byte is the first of a report (evidence, a file that begins there).
    ``at``         the place of the first byte in the stream, for ``on_reject``.
    ``on_reject``  is told of every report that was not read, and of a first line dropped.
    """

    def __init__(
        self,
        shape: WireShape | Compiled,
        *,
        joined: bool = False,
        at: int = 0,
        on_reject: OnReject = not_told,
    ) -> None:
        common = shape if isinstance(shape, Compiled) else Compiled(shape)
        self.shape = shape = common.shape
        self.spec: Mapping[str, object] = common.spec
        self.rejected = 0
        self.last_rejected = b""
        self._layout = common.layout
        self._match = self._layout.pattern.match
        self._runs = None if common.runs is None else common.runs.anew()
        self._seven = shape.frame.seven_bit
        self._bits = _SEVEN_BITS[shape.frame.parity]
        self.on_reject = on_reject
        self._misfit = self._misfit_framed if self._layout.start else self._misfit_line
        self._known: dict[bytes, Said | str] = {}
        self._rest = b""
        self._offset = at  # of the first byte of _rest in the stream
        self._joined = joined
        self._skipping = not (
            joined or self._layout.tail_is_no_report
        )  # up to the next end or start
        self._skipped = b""
        self._begun = at  # where in the stream that first line began
        self._first: tuple[float, int, bytes] | None = None  # waits for the next report
        self._t = 0.0

    def feed(self, t: float, data: bytes) -> Sequence[Reading]:
        """Readings completed by ``data``, oldest first; they carry ``t`` in seconds."""
        stream = self._rest + data if self._rest else data
        text = stream.translate(self._bits) if self._seven else stream
        self._t = t
        out: list[Reading] = []
        match, known, size = self._match, self._known, len(text)
        runs = self._runs
        at, keep = 0, -1
        while at < size:
            misfit = self._skipping
            if runs is not None and not misfit and self._first is None:
                begin = at
                at, misfit = runs.read(t, stream, text, at, out)
                self._joined = self._joined or at > begin
                if at == size:
                    break
            found = None if misfit else match(text, at)
            if found is None:
                at, keep = self._misfit(stream, text, at)
                if keep >= 0:
                    break
                continue
            begin, at = found.span(1)
            self._joined = True
            report = found[1]
            said = known.get(report)
            if said is None:
                said = self._read(found)
            if isinstance(said, str):
                self._reject(stream, begin, at, said)
                continue
            grams, unit, stable, over, fault, shown = said
            raw = stream[begin:at] if self._seven else report
            if self._first is not None:
                out += self._first_line(len(raw))
            out.append(Reading(t, grams, unit, stable, over, fault, shown, raw))
        keep = size if keep < 0 else keep
        self._rest = stream[keep:]
        self._offset += keep
        return out

    def marks(self, raw: bytes) -> Sequence[Mark]:
        """What stands where in the bytes of a reading."""
        return self._layout.marks(raw.translate(self._bits) if self._seven else raw)

    def reset(self) -> None:
        """Forget half a report; what comes next may begin in the middle of one."""
        self._offset += len(self._rest)
        self._rest = self._skipped = b""
        self._begun = self._offset
        self._first = None
        self._joined = False
        self._skipping = not self._layout.tail_is_no_report

    def end(self) -> Sequence[Reading]:
        """No more will come: what is left of a report is told to ``on_reject``. No readings."""
        self._drop_first()
        left = self._skipped or self._rest
        if left.strip(_BLANK):
            offset = self._begun if self._skipped else self._offset
            self.on_reject(offset, left[:KEPT], "the last report is not complete")
        self.reset()
        return ()

    def _read(self, found: re.Match[bytes]) -> Said | str:
        try:
            said: Said | str = self._layout.read(found)
        except UnreadableError as error:
            said = str(error)
        if len(self._known) >= REMEMBERED:
            self._known.clear()
        self._known[found[1]] = said
        return said

    def _reject(self, stream: bytes, begin: int, stop: int, why: str) -> None:
        """A report that was not read. A first line may be a tail: it is told but not counted."""
        data = stream[begin : min(stop, begin + KEPT)]
        if self._layout.others:
            text = data.translate(self._bits) if self._seven else data
            if text.startswith(self._layout.others):
                self._joined = True
                return
        self._drop_first()
        if self._joined:
            self.rejected += 1
            self.last_rejected = data
        self.on_reject(self._offset + begin, data, why)
        self._joined = True

    def _first_line(self, size: int) -> Sequence[Reading]:
        """The first line, if it is as long as the report after it, and so is no tail."""
        assert self._first is not None
        t, _, line = self._first
        found = self._match(line.translate(self._bits) if self._seven else line)
        # The end of a line before it is no part of it. Without padding, 1000.1 cut short and 999.9
        # after it are as long: zeros betray it.
        report = b"" if found is None else line[found.start(1) : found.end(1)]
        if found is None or len(report) != size or _LEADING_ZERO.search(found[1]):
            self._drop_first()
            return ()
        said = self._read(found)
        if isinstance(said, str):
            self._drop_first()
            return ()
        self._first = None
        return (Reading(t, *said, raw=report),)

    def _drop_first(self) -> None:
        if self._first is not None:
            _, offset, line = self._first
            self._first = None
            self.on_reject(offset, line, "the first line may be the tail of a report")

    # Both misfits return where to go on, or where to keep from until more comes (else -1).

    def _misfit_line(self, stream: bytes, text: bytes, at: int) -> tuple[int, int]:
        """No report begins at ``at``, in a shape whose reports only have an end."""
        if self._skipping:
            return self._skip_line(stream, text, at)
        first = _NOT_BLANK.search(text, at)
        if first is None:
            return at, len(text)
        begin = first.start()
        if len(text) - begin < self._layout.size_with_check:
            return at, begin  # the check byte could look like the end
        end, stop = self._layout.find_end(text, begin)
        if end < 0 and len(text) - begin <= LONGEST + self._layout.end_size - 1:
            return at, begin
        self._skipping = end < 0
        why = "it does not fit the shape" if 0 <= end <= begin + LONGEST else "it is too long"
        self._reject(stream, begin, stop if end >= 0 else len(text), why)
        return (stop, -1) if end >= 0 else self._skip_line(stream, text, begin)

    def _skip_line(self, stream: bytes, text: bytes, at: int) -> tuple[int, int]:
        """Discard up to the next end: a line too long, or a first line that may be a tail."""
        end, stop = self._layout.find_end(text, at)
        keep = stop if end >= 0 else max(at, len(text) - self._layout.end_size + 1)
        if not self._joined:
            self._skipped += stream[at : min(keep, at + KEPT - len(self._skipped))]
        if end < 0:
            return at, keep
        self._skipping = False
        if self._skipped.strip(_BLANK):
            self._first = (self._t, self._begun, self._skipped)
        self._skipped, self._joined = b"", True
        return stop, -1

    def _misfit_framed(self, stream: bytes, text: bytes, at: int) -> tuple[int, int]:
        """No report begins at ``at``, in a shape whose reports have a start."""
        layout = self._layout
        begin = text.find(layout.start, at)
        if begin != at:
            keep = max(at, len(text) - len(layout.start) + 1) if begin < 0 else begin
            if not self._skipping and text[at:keep].strip(_BLANK):
                self._skipping = True
                self._reject(stream, at, keep, "it stands outside a report")
            if begin < 0:
                return at, keep
            self._skipping, self._joined = False, True
            return begin, -1
        if self._skipping:
            self._skipping = False
            return at, -1
        self._joined = True
        body = begin + len(layout.start)
        if layout.size:
            if len(text) - begin < layout.size:
                return at, begin
            self._skipping = True
            self._reject(stream, begin, begin + layout.size, "it does not fit the shape")
            return body, -1
        if layout.size_with_check and len(text) - body < layout.size_with_check:
            return at, begin  # the check byte could look like the end
        end, stop = layout.find_end(text, body)
        again = text.find(layout.start, body)
        if again >= 0 and (end < 0 or again < end):
            if text[body:again].strip(_BLANK):
                self._reject(stream, begin, again, "another report begins within it")
            return again, -1
        waiting = len(text) < stop + layout.tail if end >= 0 else True
        if not waiting and end - body <= LONGEST:
            # A frame around nothing is passed over, as a blank line is.
            if text[body:end].strip(_BLANK):
                self._reject(stream, begin, stop + layout.tail, "it does not fit the shape")
            return stop + layout.tail, -1
        if len(text) - body <= LONGEST + layout.end_size + layout.tail:
            return at, begin
        self._skipping = True
        self._reject(stream, begin, len(text), "it is too long")
        return body, -1
