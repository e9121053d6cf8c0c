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

5. A candidate that has read less than twice what it could not read is not chosen before a run of
   ``PATIENCE``; nor one that reads gross and net by turns: they are not the same weight.
6. Where nothing is chosen after ``FIND_AT`` places where a report may end, the shape is worked out
   from the bytes themselves (``finder``); where that fails, again after twice as many.

7. Within ``WATCHED`` places after the choice, reports that the chosen shape could not read (a text
   above capacity, a group of thousands that was not shown before) are looked at again; a shape
   that reads these too, and all the others to the same grams, takes over.

A ``patient`` decoder chooses only at the end, after ``MOST_HELD`` bytes or ``PATIENT_S`` seconds:
for a file, where all of it is there to look at.

When no more will come (``end``), the shape is the one that has read the most, worked out or known.
The readings of the chosen shape from the first byte on are then given, none is lost. Candidates
keep ``MOST_PENDING`` readings each; older ones are given up and counted.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Protocol

from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd.station.ports import Decoder, Mark
from weighd_drivers.finder import Finding, find
from weighd_drivers.finder_words import kind_of
from weighd_drivers.lines import LineDecoder, OnReject, compiled_of, not_told
from weighd_drivers.shape_text import named, shape_of, shipped
from weighd_drivers.shapes import WireShape

ENOUGH, SOONER, PATIENCE, WATCHED, FIND_AT = 5, 2, 20, 3000, 60
MOST_PENDING = 256
#: Bytes kept to work a shape out from.
MOST_HELD = 8192
PATIENT_S = 3.0
#: So many reports that were not read are looked at again; then twice as many.
LOOK_AGAIN = 4
#: Gross and net changing places so often are printed side by side.
BY_TURNS = 3
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
        self.run = self.read = self.turns = 0
        self._kind = ""
        self.shown_unit = not (shape.needs_unit and shape.prints_unit)
        self.decoder = LineDecoder(shape, joined=joined, on_reject=self._note)

    def feed(self, t: float, data: bytes) -> None:
        before = self.decoder.rejected
        readings = self.decoder.feed(t, data)
        # Data ends where a report may end, so a rejection is never followed by a reading here.
        self.run = len(readings) if self.decoder.rejected > before else self.run + len(readings)
        self.shown_unit = self.shown_unit or any(one.stable for one in readings)
        self.read += len(readings)
        self._turns(readings)
        self.pending += readings
        extra = max(0, len(self.pending) - MOST_PENDING)
        self.given_up += extra
        del self.pending[:extra]

    @property
    def eligible(self) -> bool:
        """Whether it may be chosen while more will come."""
        mostly = self.read >= 2 * self.decoder.rejected or self.run >= PATIENCE
        return self.shown_unit and mostly and self.turns < BY_TURNS

    def _turns(self, readings: Sequence[Reading]) -> None:
        if self.turns >= BY_TURNS or self.read > MOST_PENDING:
            return
        for one in readings:
            kind = kind_of(one.raw.decode("ascii", "replace")) or ""
            self.turns += bool(kind and self._kind and kind != self._kind)
            self._kind = kind or self._kind

    def _note(self, offset: int, data: bytes, why: str) -> None:
        if len(self.untold) < MOST_UNTOLD:
            self.untold.append((offset, data, why))


class AutoDecoder:
    """A decoder that finds its shape. ``spec`` is ``{"shape": "auto"}`` until it has chosen.

    ``unit``  the implied unit, where it is known.
    ``rejected``  reports not read by the chosen shape, before that by the one that fits best.
    """

    def __init__(
        self,
        unit: Unit | None = None,
        *,
        joined: bool = False,
        patient: bool = False,
        on_reject: OnReject = not_told,
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
        self._unit, self._joined = unit, joined
        self._held: deque[tuple[float, bytes]] = deque()
        self._held_size = self._dropped = self._ends = 0
        self._find_at = FIND_AT
        self._patient = patient
        self._reviewing, self._look_at = True, LOOK_AGAIN
        self._reviewed = 0

    @property
    def chosen(self) -> WireShape | None:
        """The shape it stays with, or ``None`` while that is open."""
        return self._decoder.shape if self._decoder else None

    def feed(self, t: float, data: bytes) -> Sequence[Reading]:
        """Readings completed by ``data``; with the choice come all that waited for it."""
        out: list[Reading] = []
        at = 0
        while self._decoder is None or self._wider is not None or self._reviewing:
            found = _MAY_END.search(data, at)
            piece = data[at : found.end() if found else len(data)]
            at += len(piece)
            if self._decoder is not None:
                out += self._watch(t, piece) if self._wider else self._decoder.feed(t, piece)
                self._review(t, piece, may_end=found is not None)
            else:
                self._hold(t, piece)
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
        self._ends += 1
        if self._patient:
            waited = self._held[-1][0] - self._held[0][0]
            full = self._held_size >= MOST_HELD or waited >= PATIENT_S
            return self._choose_at_the_end() if full else ()
        longest = max((one.run for one in self._candidates if one.eligible), default=0)
        alone = sum(one.run > 0 for one in self._candidates) == 1
        if longest < (SOONER if alone else ENOUGH):
            return self._find()
        fitting = [one for one in self._candidates if one.run == longest and one.eligible]
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
        found = find(b"".join(data for _, data in self._held), self._unit)
        more = found.read > best.read or best.turns >= BY_TURNS
        if found.shape is not None and (more or self._explains_more(found, best)):
            return self._take(found.shape)
        return self._settle_on(best) if best.read else ()

    def _explains_more(self, found: Finding, best: _Candidate) -> bool:
        """Whether a shape that was worked out reads as much and leaves less of it over.

        A check character that a known shape has no place for stands between its reports.
        """
        if found.shape is None or found.read < best.read or not best.decoder.rejected:
            return False
        decoder = LineDecoder(found.shape)
        for t, data in self._held:
            decoder.feed(t, data)
        return decoder.rejected < best.decoder.rejected

    def _hold(self, t: float, piece: bytes) -> None:
        self._held.append((t, piece))
        self._held_size += len(piece)
        while self._held_size > MOST_HELD and len(self._held) > 1:
            size = len(self._held.popleft()[1])
            self._held_size -= size
            self._dropped += size

    def _find(self) -> Sequence[Reading]:
        """Work the shape out, if it is time to; the readings that waited for it."""
        if self._ends < self._find_at:
            return ()
        self._find_at = 2 * self._ends
        found = find(b"".join(data for _, data in self._held), self._unit)
        return () if found.shape is None else self._take(found.shape)

    def _take(self, shape: WireShape) -> Sequence[Reading]:
        """Stay with a shape that was worked out; it reads what is held from its first byte on."""
        joined = self._joined and not self._dropped
        decoder = LineDecoder(shape, joined=joined, at=self._dropped, on_reject=self._on_reject)
        out = [one for t, data in self._held for one in decoder.feed(t, data)]
        self._decoder, self._candidates = decoder, []
        self.spec = decoder.spec
        self._look_at += decoder.rejected
        return out

    def _review(self, t: float, piece: bytes, *, may_end: bool) -> None:
        """Look again at what the chosen shape could not read; a shape that reads it takes over."""
        if not self._reviewing:
            return
        assert self._decoder is not None
        self._hold(t, piece)
        self._reviewed += may_end
        if self._reviewed > WATCHED:
            self._reviewing = False
            self._held.clear()
        elif may_end and self._decoder.rejected >= self._look_at:
            self._look_at = 2 * self._decoder.rejected
            self._look_again()

    def _look_again(self) -> None:
        assert self._decoder is not None
        held = b"".join(data for _, data in self._held)
        found = find(held, self._unit)
        if found.shape is None:
            return
        known, new = LineDecoder(self._decoder.shape), LineDecoder(found.shape)
        before = {one.raw: one for one in known.feed(0, held)}
        after = {one.raw: one for one in new.feed(0, held)}
        more = sum(one not in before for one in after)
        if not more or new.rejected > known.rejected - LOOK_AGAIN:
            return
        if all(raw in after and _agree(one, after[raw]) for raw, one in before.items()):
            given_up = self._decoder.rejected
            self._given_up += given_up - new.rejected
            self._decoder, self._wider = new, None
            self._decoder.on_reject = self._on_reject
            self.spec = new.spec
            self._look_at = new.rejected + LOOK_AGAIN

    def _settle_on(self, best: _Candidate) -> Sequence[Reading]:
        self._decoder = best.decoder
        self._candidates = []
        self._look_at += best.decoder.rejected
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

    def marks(self, raw: bytes) -> Sequence[Mark]:
        return () if self._decoder is None else self._decoder.marks(raw)

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


def _agree(one: Reading, other: Reading) -> bool:
    """Whether a report says the same to two shapes; the second may know more."""
    same = (one.grams, one.over, one.fault) == (other.grams, other.over, other.fault)
    return same and one.stable in (None, other.stable)


def _same(one: _Candidate, other: _Candidate) -> bool:
    return [it.grams for it in one.pending] == [it.grams for it in other.pending]


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
    patient: bool = False,
    on_reject: OnReject = not_told,
) -> LineReader:
    """The decoder for a shape: by name, by file, by its content, or worked out when ``None``.

    ``unit``       the implied unit, for shapes whose lines may print none.
    ``joined``     the first byte is the first of a report: nothing is dropped as a tail.
    ``patient``    works it out from as much as is there, not from the first few reports.
    ``on_reject``  told of every report not read: offset, first bytes, reason.
    Raises :class:`~weighd.domain.errors.ScaleError` where there is no such shape.
    """
    if shape is None or shape == "auto":
        return AutoDecoder(unit, joined=joined, patient=patient, on_reject=on_reject)
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
    return LineDecoder(compiled_of(spec), joined=True)
