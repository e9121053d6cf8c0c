"""What each panel of a timeline shows: which readings, from when to when, on which zero."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise

from weighd.reports.trace import Claimed, Gap, Mark, Part, Point, Trace, claims

#: A wait at rest before a pour is cut down to this many seconds: the pour needs the room.
WAIT_S = 4.0
#: A display that left where it stood by more than this, in intervals, no longer waits.
MOVED_D = 3
#: Of an addition longer than this the end is shown once more, if that is no more than half of it
#: and no more than this. A longer recording without additions is shown again in such pieces.
LONG_S = 30.0
MOST_PIECES = 11
#: The close look reaches this many intervals beyond the limits.
ROOM_D = 6.0
#: Claims this many tolerances from the target still belong to the close look.
NEAR = 5.0
#: The interval that is drawn with where a scale never told any, in grams.
_INTERVAL_G = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class Panel:
    """One addition on its scale, or (``part`` is ``None``) a whole recording without any.

    ``piece``  which piece of a long one it is, in words; empty for the whole.
    """

    part: Part | None
    points: Sequence[Point]
    marks: Sequence[Mark]
    gaps: Sequence[Gap]
    since: float
    until: float
    interval_g: Decimal
    piece: str = ""

    @property
    def d(self) -> float:
        """The scale interval in grams."""
        return float(self.interval_g)

    @property
    def tared(self) -> bool:
        """Whether amounts are net: some tare is known."""
        return self._tare is not None

    @property
    def _tare(self) -> Decimal | None:
        """The tare that was known first: it also serves what came before it."""
        return next((one.tare_g for one in self.points if one.tare_g is not None), None)

    def off(self, tare_g: Decimal | None) -> Decimal:
        """What to take off a display: the tare of its moment, or the first one known."""
        return tare_g if tare_g is not None else self._tare or Decimal(0)

    def amount(self, shown_g: Decimal, of: Point | Claimed) -> Decimal:
        """What a display says was added: by difference, what left the load."""
        net = shown_g - self.off(of.tare_g)
        return -net if of.out else net

    def limits(self) -> tuple[float, float] | None:
        """Low and high in grams, where they are known."""
        if self.part is None or self.part.low_g is None or self.part.high_g is None:
            return None
        return float(self.part.low_g), float(self.part.high_g)

    def net(self, point: Point) -> float | None:
        """A reading as an amount in grams; ``None`` without a number."""
        return None if point.shown_g is None else float(self.amount(point.shown_g, point))

    def claimed(self) -> list[tuple[Claimed, float]]:
        """The claims, each with the amount in grams that it makes."""
        return [(one, float(self.amount(one.level_g, one))) for one in claims(self.points)]

    def close_range(self) -> tuple[float, float] | None:
        """The amounts in grams that a close look covers: the limits, and claims near them.

        ``None`` where there is no target, or no reading came near it.
        """
        part, d = self.part, self.d
        if part is None or part.target_g is None:
            return None
        target = float(part.target_g)
        limits = self.limits() or (0.99 * target, 1.01 * target)
        down, up = target - limits[0], limits[1] - target
        low = target - max(1.5 * down, down + ROOM_D * d)
        high = target + max(1.5 * up, up + ROOM_D * d)
        reach = NEAR * max(up, down, 4 * d)
        near = [net for _, net in self.claimed() if abs(net - target) <= reach]
        if near:
            low, high = min(low, min(near) - 3 * d), max(high, max(near) + 3 * d)
        amounts = [self.net(one) for one in self.points]
        return (low, high) if any(one and low <= one <= high for one in amounts) else None

    def displays(self) -> tuple[list[float], list[float]]:
        """Times and amounts, with a ``nan`` where the display had no number or fell silent."""
        times: list[float] = []
        amounts: list[float] = []
        broken = [gap.since for gap in self.gaps]
        for point in self.points:
            while broken and broken[0] <= point.t:
                if times:
                    times.append(broken[0])
                    amounts.append(float("nan"))
                broken.pop(0)
            net = self.net(point)
            times.append(point.t)
            amounts.append(float("nan") if net is None else net)
        return times, amounts


def panels(trace: Trace, scale: str) -> list[Panel]:
    """The panels for one scale, in order of time; those without a reading are left out."""
    seen = trace.scales[scale]
    parts = [(n, one) for n, one in enumerate(trace.parts) if one.scale == scale]
    if not parts:
        if not seen.points:
            return []
        since, until = seen.points[0].t, seen.points[-1].t
        interval = seen.interval_g or _INTERVAL_G
        whole = Panel(None, seen.points, trace.marks, seen.gaps, since, until, interval)
        return [whole, *_pieces(whole)]
    out = []
    for n, part in parts:
        points = [one for one in seen.points if one.part == n]
        if not points:
            continue
        interval = part.interval_g or seen.interval_g or _INTERVAL_G
        since, until = min(part.since, points[0].t), max(part.until, points[-1].t)
        since = max(since, _moves_at(points, interval) - WAIT_S)
        points = [one for one in points if one.t >= since]
        marks = [one for one in trace.marks if one.part == n and since <= one.t <= until]
        gaps = [one for one in seen.gaps if one.until > since and one.since < until]
        panel = Panel(part, points, marks, gaps, since, until, interval)
        out += [panel, *_end(panel)]
    return out


def _end(panel: Panel) -> list[Panel]:
    """The end of a long addition once more: from where the display came near the target."""
    if panel.until - panel.since <= LONG_S:
        return []
    near = panel.close_range()
    came = panel.until - LONG_S
    if near is not None:
        amounts = [(one.t, panel.net(one)) for one in panel.points]
        came = max(came, next(t for t, net in amounts if net and near[0] <= net <= near[1]) - 1.0)
    if came < (panel.since + panel.until) / 2:
        return []
    return [_cut(panel, came, panel.until, f"its last {panel.until - came:.0f} s")]


def _pieces(whole: Panel) -> list[Panel]:
    """A long recording once more, piece by piece."""
    lasted = whole.until - whole.since
    count = min(math.ceil(lasted / LONG_S), MOST_PIECES)
    if count < 2:
        return []
    edges = [whole.since + lasted * n / count for n in range(count + 1)]
    pieces = [_cut(whole, a, b, f"{a:.0f} to {b:.0f} s") for a, b in pairwise(edges)]
    return [one for one in pieces if one.points]


def _cut(panel: Panel, since: float, until: float, piece: str) -> Panel:
    return replace(
        panel,
        points=[one for one in panel.points if since <= one.t <= until],
        marks=[one for one in panel.marks if since <= one.t <= until],
        gaps=[one for one in panel.gaps if one.until > since and one.since < until],
        since=since,
        until=until,
        piece=piece,
    )


def _moves_at(points: Sequence[Point], interval: Decimal) -> float:
    """When the display first left where it stood; the start where it never did."""
    first = next((one.shown_g for one in points if one.shown_g is not None), None)
    if first is None:
        return points[0].t
    return next(
        (
            one.t
            for one in points
            if one.shown_g is None or abs(one.shown_g - first) > MOVED_D * interval
        ),
        points[0].t,
    )
