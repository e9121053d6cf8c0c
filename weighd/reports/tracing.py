"""Making a trace: by looking on while a session is replayed, or from a log of readings."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from typing import Any

from weighd.domain import check_record
from weighd.domain.batch import Kind, Planned
from weighd.domain.errors import SessionError, WeighdError
from weighd.domain.metrology import Level, net_budget
from weighd.domain.reading import Reading
from weighd.domain.record import Entry
from weighd.domain.settling import Finding, Phase
from weighd.domain.watch import Watch, Watched
from weighd.reports.trace import LOG_SCALE, Gap, Mark, Part, Point, Seen, Trace
from weighd.station.inputs import Command, Input
from weighd.station.reading_lines import grams_of, reading_of
from weighd.station.scale import LinkState, ScaleState
from weighd.station.station import Station

_HEARD = {LinkState.WAITING, LinkState.LIVE}


class Tracer:
    """Looks on while a session is replayed, and writes down what the station saw and did."""

    def __init__(self, name: str, note: str = "") -> None:
        self.trace = Trace(name, note)
        self._part: tuple[str, int] | None = None
        self._deaf: dict[str, tuple[float, str]] = {}

    def reading(
        self, station: Station, scale: ScaleState, reading: Reading, finding: Finding
    ) -> None:
        """Take a reading down, with what it led to."""
        self._look(station)
        batch, now = station.batch, station.now
        current = batch.current if batch else None
        tare = part = None
        stands = cue = ""
        if batch is not None and current is not None and current.scale == scale.name:
            tare, part = batch.tare, len(self.trace.parts) - 1
            stands = str(now.phase) + (f": {now.claim.verdict}" if now.claim else "")
            told = station.guiding.told(batch, now)
            cue = str(told.cue) if told else ""
        level = finding.level
        sigma = None
        if level is not None:
            sigma = level.u_g
            if tare is not None and batch is not None:
                accuracy = batch.scales[scale.name].accuracy
                sigma = net_budget(level, tare.level, accuracy).u_g
        seen = self._seen(scale)
        if scale.name not in self._deaf and seen.points:
            # A silence that ended before any other input told of it.
            silent = seen.points[-1].t + scale.setup.silent_after_s
            if silent <= reading.t:
                self._deaf[scale.name] = (silent, str(LinkState.SILENT))
        self._gap_ends(scale.name, reading.t)
        seen.points.append(
            Point(
                reading.t,
                reading.grams,
                reading.stable,
                str(finding.phase),
                finding.why,
                None if level is None else level.grams,
                sigma,
                finding.firm,
                None if tare is None else tare.level.grams,
                part,
                stands,
                cue,
                current is not None and tare is not None and current.by_difference,
            )
        )

    def entries(self, station: Station, entries: Sequence[Entry]) -> None:
        """Take entries down; those that open or end an addition also move on to the next."""
        part = len(self.trace.parts) - 1 if self._part is not None else None
        for entry in entries:
            about = part if "addition" in entry.body else None
            self.trace.marks.append(Mark(station.t, entry.kind, words_of(entry), about))

    def refused(self, command: Command, error: WeighdError) -> None:
        """Take down what was asked for and not done."""
        part = len(self.trace.parts) - 1 if self._part is not None else None
        text = f"{command.do} refused: {error.message.rstrip('.')}"
        self.trace.marks.append(Mark(command.t, "refused", text, part))

    def taken(self, station: Station, event: Input) -> None:
        """See what the input changed."""
        self._look(station)
        for scale in station.scales.values():
            if scale.link not in _HEARD and scale.name not in self._deaf:
                seen = self._seen(scale)
                since = event.t
                if scale.link is LinkState.SILENT and seen.points:
                    since = min(since, seen.points[-1].t + scale.setup.silent_after_s)
                self._deaf[scale.name] = (since, str(scale.link))

    def finish(self, t: float) -> Trace:
        """The trace, when the last input was at ``t`` seconds."""
        for name in list(self._deaf):
            self._gap_ends(name, t)
        self._end_part(t)
        return self.trace

    def _seen(self, scale: ScaleState) -> Seen:
        seen = self.trace.scales.setdefault(scale.name, Seen(scale.name))
        seen.interval_g = scale.interval_g
        return seen

    def _gap_ends(self, name: str, t: float) -> None:
        if name in self._deaf:
            since, why = self._deaf.pop(name)
            self.trace.scales[name].gaps.append(Gap(since, t, why))

    def _look(self, station: Station) -> None:
        """Follow the batch from one addition to the next."""
        batch = station.batch
        current = batch.current if batch else None
        part = (batch.id, current.n) if batch and current else None
        if part == self._part:
            return
        self._end_part(station.t)
        self._part = part
        if current is not None:
            self.trace.parts.append(_part(current, station))

    def _end_part(self, t: float) -> None:
        if self._part is not None:
            self.trace.parts[-1] = replace(self.trace.parts[-1], until=t)
            self._part = None


def _part(planned: Planned, station: Station) -> Part:
    return Part(
        planned.n,
        planned.name,
        planned.scale,
        station.t,
        station.t,
        station.scales[planned.scale].interval_g,
        planned.target_g,
        planned.low_g,
        planned.high_g,
    )


def words_of(entry: Entry) -> str:
    """An entry in a few words."""
    body = entry.body
    match entry.kind:
        case Kind.OPENED:
            return f"batch {body['batch']} opened: {body['formula']['name']}, {body['batch_g']} g"
        case Kind.TARED:
            return f"tared at {body['tare_g']} g"
        case Kind.HELD:
            total = body.get("sum_g")
            return f"held: {body['cause']}" + (f", {total} g in" if total is not None else "")
        case Kind.DECIDED:
            return f"decided: {body['decision']}"
        case Kind.RESUMED:
            return f"resumed after {body['cause']}"
        case Kind.ZERO_MOVED:
            return f"zero moved by {body['shift_g']} g: {body['cause']}"
        case Kind.SCALE_CHANGED:
            return f"weighed on with the scale {body['to']} instead of {body['from']}"
        case Kind.PUT_RIGHT:
            return f"put right, {body['cause']}: {body['way']} ({body['reason']})"
        case Kind.LOT_NAMED:
            return f"lot {body['lot']}"
        case Kind.ACCEPTED:
            reason = f" ({body['reason']})" if body["reason"] else ""
            return f"accepted {body['net_g']} g: {body['verdict']}{reason}"
        case Kind.ABANDONED:
            return f"batch abandoned: {body['reason']}"
        case Kind.CLOSED:
            return "batch closed"
        case check_record.CHECKED:
            return f"scale {body['scale']} checked: {body['outcome']}"
        case _:
            return str(entry.kind)


# --- logs ----------------------------------------------------------------------------------------


def log_trace(name: str, lines: Iterable[str]) -> Trace:
    """The trace of readings as JSON lines, watched as ``weighd settle`` watches them.

    A reset line begins an addition, and may name ``interval_g``, ``ingredient``, ``target_g`` and
    ``tolerance_g``. Raises :class:`SessionError` naming a line that is none of these.
    """
    watch, trace = Watch(), Trace(name)
    seen = trace.scales[LOG_SCALE] = Seen(LOG_SCALE, watch.interval_g)
    t, resets = -math.inf, list[Reset]()
    for number, text in enumerate(lines, start=1):
        if not text.strip():
            continue
        try:
            row = json.loads(text)
            if row.get("reset"):
                interval = row.get("interval_g")
                watch.reset(
                    watch.interval_g if interval is None else grams_of(interval),
                    forget=bool(row.get("forget")),
                )
                seen.interval_g = watch.interval_g
                resets.append(Reset(len(seen.points), watch.interval_g, *_limits(row)))
                continue
            reading = _not_before(t, reading_of(row))
            t = reading.t
            answer = watch.feed(reading)
        except (AttributeError, ArithmeticError, KeyError, TypeError, ValueError) as error:
            raise SessionError(
                "bad-session-line",
                f"This is not a reading ({error}).",
                where=f"{name}, line {number}",
            ) from error
        assert watch.finding is not None
        seen.points.append(_watched(reading, answer, watch.finding))
    _parts(trace, seen, resets)
    return trace


def _not_before(t: float, reading: Reading) -> Reading:
    if reading.t < t:
        raise ValueError(f"time goes back, from {t} to {reading.t}")
    return reading


def _watched(reading: Reading, answer: Watched, finding: Finding) -> Point:
    level: Level | None = None
    if answer.phase in (Phase.SETTLED, Phase.EMPTY):
        level = finding.level
    tare = None
    if level is not None:
        tare = level.grams - (answer.grams or Decimal(0))
    sigma = answer.sigma_g or (level.u_g if level else None)
    return Point(
        reading.t,
        reading.grams,
        reading.stable,
        str(answer.phase),
        answer.why,
        None if level is None else level.grams,
        sigma,
        answer.firm,
        tare,
    )


@dataclass(frozen=True, slots=True)
class Reset:
    """A reset line: the reading that comes next, and what it says of the addition."""

    first: int
    interval_g: Decimal
    name: str = ""
    target_g: Decimal | None = None
    low_g: Decimal | None = None
    high_g: Decimal | None = None


def _limits(
    row: Mapping[str, Any],
) -> tuple[str, Decimal | None, Decimal | None, Decimal | None]:
    """Ingredient, target, low and high of a reset line, as far as it names them."""
    name = str(row.get("ingredient") or "")
    target = None if row.get("target_g") is None else grams_of(row["target_g"])
    about = None if row.get("tolerance_g") is None else grams_of(row["tolerance_g"])
    if target is None or about is None:
        return name, target, None, None
    return name, target, target - about, target + about


def _parts(trace: Trace, seen: Seen, resets: Sequence[Reset]) -> None:
    """Cut the readings at the resets, and let each point know its addition and its start."""
    points = seen.points
    end = Reset(len(points), Decimal(1))
    for reset, following in pairwise([*resets, end]):
        if reset.first == following.first:
            continue
        place = len(trace.parts)
        tare: Decimal | None = None
        for k in range(reset.first, following.first):
            tare = points[k].tare_g if points[k].tare_g is not None else tare
            points[k] = replace(points[k], tare_g=tare, part=place)
        trace.parts.append(
            Part(
                place + 1,
                reset.name,
                seen.name,
                points[reset.first].t,
                points[following.first - 1].t,
                reset.interval_g,
                reset.target_g,
                reset.low_g,
                reset.high_g,
            )
        )
