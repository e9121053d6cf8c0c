"""Which shape is it? A decoder that works the shape out from the first lines, and stays with it.

The rule. Every candidate (the shipped shapes; those with an implied unit once for each common
unit) decodes the stream from its first byte. A candidate's *run* is the number of reports it has
read since it last met one that it could not read. After each byte that may end a report:

1. When the longest run is at least ``ENOUGH``, the shape is chosen among the candidates that
   have it: the one that says most of a line (``WireShape.strictness``), the first unit first.
2. It is chosen sooner, after ``SOONER`` reports, when every other candidate's run is nought.
3. A shape that prints its unit only when stable counts once it has shown one; before that,
   nothing tells its unit. Bare digits need a run of ``PATIENCE``: a unit may yet be shown.
4. A shape that is chosen stays. One case is widened: a scale at rest that prints its unit only
   when stable looks as if it always did. If, within ``WATCHED`` reports, it leaves the unit out
   and the wider shape has read all that came before, in the same grams, that one takes over.

When no more will come (``end``), the shape is the one that has read the most.

The readings of the chosen shape from the first byte on are then given, none is lost. Candidates
keep ``MOST_PENDING`` readings each; older ones are given up and counted.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Protocol

from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd.station.ports import Decoder
from weighd_drivers.lines import LineDecoder, OnReject, not_told
from weighd_drivers.shape_text import named, shape_of, shipped
from weighd_drivers.shapes import WireShape

ENOUGH, SOONER, PATIENCE, WATCHED = 5, 2, 20, 3000
MOST_PENDING = 256
#: Rejections remembered to be told once a shape is chosen.
MOST_UNTOLD = 256
#: Implied units that are tried; the first is taken where no line ever shows a unit.
IMPLIED = (Unit.G, Unit.KG, Unit.LB, Unit.OZ)

_MAY_END = re.compile(rb"[\r\n\x02\x03]")


class LineReader(Decoder, Protocol):
    """A decoder of lines that can be told that no more will come."""

    def end(self) -> Sequence[Reading]:
        """No more will come: readings that waited for a decision, oldest first."""


class _Candidate:
    def __init__(self, shape: WireShape, *, joined: bool) -> None:
        self.shape = shape
        self.untold: list[tuple[int, bytes, str]] = []
        self.pending: list[Reading] = []
        self.given_up = 0
        self.run = self.read = 0
        self.shown_unit = not (shape.needs_unit and shape.prints_unit)
        self.decoder = LineDecoder(shape, joined=joined, on_reject=self._note)

    def feed(self, t: float, data: bytes) -> None:
        before = self.decoder.rejected
        readings = self.decoder.feed(t, data)
        # Data ends where a report may end, so a rejection is never followed by a reading here.
        self.run = len(readings) if self.decoder.rejected > before else self.run + len(readings)
        self.shown_unit = self.shown_unit or any(one.stable for one in readings)
        self.read += len(readings)
        self.pending += readings
        extra = max(0, len(self.pending) - MOST_PENDING)
        self.given_up += extra
        del self.pending[:extra]

    def _note(self, offset: int, data: bytes, why: str) -> None:
        if len(self.untold) < MOST_UNTOLD:
            self.untold.append((offset, data, why))


class AutoDecoder:
    """A decoder that finds its shape. ``spec`` is ``{"shape": "auto"}`` until it has chosen.

    ``unit``  the implied unit, where it is known.
    ``rejected``  reports not read by the chosen shape, before that by the one that fits best.
    """

    def __init__(
        self, unit: Unit | None = None, *, joined: bool = False, on_reject: OnReject = not_told
    ) -> None:
        self.spec: Mapping[str, object] = {"shape": "auto"} | ({"unit": unit.value} if unit else {})
        self.rejected = 0
        self.last_rejected = b""
        self._on_reject = on_reject
        self._candidates = [
            _Candidate(shape, joined=joined) for shape in _shapes((unit,) if unit else IMPLIED)
        ]
        self._decoder: LineDecoder | None = None
        self._wider: LineDecoder | None = None
        self._watched = self._given_up = 0

    @property
    def chosen(self) -> WireShape | None:
        """The shape it stays with, or ``None`` while that is open."""
        return self._decoder.shape if self._decoder else None

    def feed(self, t: float, data: bytes) -> Sequence[Reading]:
        """Readings completed by ``data``; with the choice come all that waited for it."""
        out: list[Reading] = []
        at = 0
        while self._decoder is None or self._wider is not None:
            found = _MAY_END.search(data, at)
            piece = data[at : found.end() if found else len(data)]
            at += len(piece)
            if self._decoder is not None:
                out += self._watch(t, piece)
            else:
                for one in self._candidates:
                    one.feed(t, piece)
                out += self._choose() if found else ()
            if not found:
                break
        if self._decoder is not None and at < len(data):
            out += self._decoder.feed(t, data[at:] if at else data)
        self._count()
        return out

    def reset(self) -> None:
        """The link was lost. A shape that was chosen is kept."""
        for one in (self._decoder, self._wider, *(each.decoder for each in self._candidates)):
            if one is not None:
                one.reset()

    def end(self) -> Sequence[Reading]:
        """No more will come: the shape is chosen from what there is; readings that waited."""
        out = () if self._decoder else self._choose_at_the_end()
        if self._decoder is not None:
            self._decoder.end()
        else:
            for rejected in self._best().untold:
                self._on_reject(*rejected)
        self._count()
        return out

    def _choose(self) -> Sequence[Reading]:
        """Settle on a shape if the rule allows; the readings that waited for it."""
        longest = max(one.run for one in self._candidates if one.shown_unit)
        alone = sum(one.run > 0 for one in self._candidates) == 1
        if longest < (SOONER if alone else ENOUGH):
            return ()
        fitting = [one for one in self._candidates if one.run == longest and one.shown_unit]
        best = max(fitting, key=lambda one: one.shape.strictness)
        if best.shape.needs_unit and not best.shape.prints_unit and longest < PATIENCE:
            return ()
        wider = [one for one in fitting if one.shape.needs_unit and one.shape.prints_unit]
        if wider and best not in wider and _same(wider[0], best):
            self._wider = wider[0].decoder
        return self._settle_on(best)

    def _choose_at_the_end(self) -> Sequence[Reading]:
        best = max(
            (one for one in self._candidates if one.shown_unit),
            key=lambda one: (one.read, -one.decoder.rejected, one.shape.strictness),
        )
        return self._settle_on(best) if best.read else ()

    def _settle_on(self, best: _Candidate) -> Sequence[Reading]:
        self._decoder = best.decoder
        self._candidates = []
        for rejected in best.untold:
            self._on_reject(*rejected)
        self._decoder.on_reject = self._on_reject
        self.spec = self._decoder.spec
        self._given_up = best.given_up
        return best.pending

    def _watch(self, t: float, piece: bytes) -> Sequence[Reading]:
        """Readings of the chosen shape, or of the wider one that takes over from it."""
        assert self._decoder is not None
        assert self._wider is not None
        before, wide_before = self._decoder.rejected, self._wider.rejected
        told: list[tuple[int, bytes, str]] = []
        self._decoder.on_reject = lambda *rejected: told.append(rejected)
        out, wide = self._decoder.feed(t, piece), self._wider.feed(t, piece)
        self._decoder.on_reject = self._on_reject
        self._watched += len(out)
        if wide and self._decoder.rejected > before:
            self._decoder, out = self._wider, wide
            self._decoder.on_reject = self._on_reject
            self.spec = self._decoder.spec
            told.clear()
        took_over, failed = self._decoder is self._wider, self._wider.rejected > wide_before
        if took_over or failed or self._watched > WATCHED:
            self._wider = None
        for rejected in told:
            self._on_reject(*rejected)
        return out

    def _best(self) -> _Candidate:
        # Without any run, one that counts lines: outside a frame, rubbish is counted as one.
        return min(
            self._candidates,
            key=lambda one: (-one.run, bool(one.shape.frame.start), one.decoder.rejected),
        )

    def _count(self) -> None:
        if self._decoder is not None:
            self.rejected = self._given_up + self._decoder.rejected
            self.last_rejected = self._decoder.last_rejected
        else:
            best = self._best()
            self.rejected = best.decoder.rejected + best.given_up
            self.last_rejected = best.decoder.last_rejected


def _same(one: _Candidate, other: _Candidate) -> bool:
    return [reading.grams for reading in one.pending] == [
        reading.grams for reading in other.pending
    ]


def _shapes(units: Sequence[Unit]) -> list[WireShape]:
    out: list[WireShape] = []
    for shape in shipped().values():
        out += [shape.with_unit(unit) for unit in units] if shape.needs_unit else [shape]
    return out


def decoder_for(
    shape: str | Path | Mapping[str, object] | None = None,
    *,
    unit: Unit | None = None,
    joined: bool = False,
    on_reject: OnReject = not_told,
) -> LineReader:
    """The decoder for a shape: by name, by file, by its content, or worked out when ``None``.

    ``unit``       the implied unit, for shapes whose lines may print none.
    ``joined``     the first byte is the first of a report: nothing is dropped as a tail.
    ``on_reject``  told of every report not read: offset, first bytes, reason.
    Raises :class:`~weighd.domain.errors.ScaleError` where there is no such shape.
    """
    if shape is None or shape == "auto":
        return AutoDecoder(unit, joined=joined, on_reject=on_reject)
    wanted = shape_of({"shape": shape}) if isinstance(shape, Mapping) else named(str(shape))
    if unit is not None and wanted.needs_unit:
        wanted = wanted.with_unit(unit)
    return LineDecoder(wanted, joined=joined, on_reject=on_reject)


def redecoder_for(spec: Mapping[str, object]) -> LineReader:
    """The decoder that a ``spec`` of ours describes, for bytes that begin with a report.

    Raises ``KeyError`` where it describes none.
    """
    if spec["shape"] == "auto":
        unit = Unit(str(spec["unit"])) if "unit" in spec else None
        return AutoDecoder(unit, joined=True)
    return LineDecoder(shape_of(spec), joined=True)
