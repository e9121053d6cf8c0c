"""A trace in lines: one for each change of what the detector says, one for each entry."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from weighd.domain import mass
from weighd.reports.trace import LOG_SCALE, Mark, Part, Point, Seen, Trace

_HEAD = (
    f"{'t s':>9}  {'detector':<9}  {'grams':>8}  {'net g':>8}  {'sigma g':>7}  "
    f"{'firm':<4}  {'why':<9}  addition"
)


def lines(trace: Trace, scale: str) -> Iterator[str]:
    """What was seen on one scale.

    ``grams`` is the display claimed as settled and ``net g`` what that makes of the addition;
    where nothing is claimed they stay empty, for a moving display means nothing yet. A line that
    begins with ``=`` after its time is an entry of the record, ``!`` a link or a refusal.
    """
    seen = trace.scales[scale]
    yield heading(trace, seen)
    yield _HEAD
    told = [(one.t, 1, _mark(one)) for one in trace.marks]
    for gap in seen.gaps:
        told.append((gap.since, 0, f"{gap.since:9.3f}  ! scale {gap.why}"))
        told.append((gap.until, 0, f"{gap.until:9.3f}  ! scale heard again"))
    last: Point | None = None
    for point in seen.points:
        if last is None or _changed(last, point):
            told.append((point.t, 2, _point(point, trace.parts)))
        last = point
    # An entry stands before the reading's line that shows its effect, as it was written first.
    for _, _, text in sorted(told, key=lambda one: one[:2]):
        yield text


def heading(trace: Trace, seen: Seen) -> str:
    """The recording in one line."""
    points = seen.points
    which = "a log" if seen.name == LOG_SCALE else f"scale {seen.name}"
    parts = [one.interval_g for one in trace.parts if one.scale == seen.name]
    known = {one for one in parts or [seen.interval_g] if one is not None}
    d = " or ".join(f"{mass.text(one)} g" for one in sorted(known)) or "unknown"
    span = f", {points[0].t:.1f} to {points[-1].t:.1f} s" if points else ""
    others = [name for name in trace.scales if name != seen.name]
    also = f"; also in it: {', '.join(others)}" if others else ""
    return f"{trace.name}: {which}, d {d}, {len(points)} readings{span}{also}"


def _changed(last: Point, point: Point) -> bool:
    return _said(last) != _said(point)


def _said(point: Point) -> tuple[object, ...]:
    return (
        point.phase,
        point.why,
        point.level_g,
        point.firm,
        point.part,
        point.stands,
        point.cue,
        point.tare_g if point.level_g is not None else None,
    )


def _point(point: Point, parts: list[Part]) -> str:
    net = None
    if point.level_g is not None and point.tare_g is not None:
        net = (point.level_g - point.tare_g) * (-1 if point.out else 1)
    addition = ""
    if point.part is not None:
        part = parts[point.part]
        addition = f"{part.n} {part.name} {point.stands}".rstrip().replace("  ", " ")
        addition += f", cue: {point.cue}" if point.cue else ""
    sigma = None if point.sigma_g is None else round(point.sigma_g, 4)
    return (
        f"{point.t:9.3f}  {point.phase:<9}  {_g(point.level_g):>8}  {_g(net):>8}  "
        f"{_g(sigma):>7}  {'firm' if point.firm else '':<4}  {point.why:<9}  {addition}"
    ).rstrip()


def _mark(mark: Mark) -> str:
    return f"{mark.t:9.3f}  {'!' if mark.kind == 'refused' else '='} {mark.text}"


def _g(value: Decimal | None) -> str:
    return "" if value is None else mass.text(value)
