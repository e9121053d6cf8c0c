"""Batches out of their entries: what each kind of entry does to a batch, and nothing else does."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass, process_run
from weighd.domain.batch import (
    Accepted,
    Batch,
    Cause,
    Held,
    Kind,
    Status,
    Tare,
    opened,
    scale_of,
    unreadable,
)
from weighd.domain.corrections import applied, written_in
from weighd.domain.countersigning import countersigned, hands_of
from weighd.domain.draws import draw_of
from weighd.domain.errors import RecordError
from weighd.domain.kinds import IN_PROCESS
from weighd.domain.metrology import Level, Verdict, budget_of, combined, level_of
from weighd.domain.plan_words import Into
from weighd.domain.record import Entry
from weighd.domain.recovery_record import put_right
from weighd.domain.shares import retargeted
from weighd.domain.steps import stands_tared
from weighd.domain.zero import Moved, ZeroMove, level_of_body, nothing_g, of_body, together

__all__ = ["evolve", "fold", "opened"]


def evolve(batch: Batch, entry: Entry) -> Batch:
    """The batch after one more of its entries. Raises :class:`RecordError` for a stranger."""
    body = entry.body
    try:
        if body["batch"] != batch.id:
            raise RecordError("not-this-batch", f"Entry {entry.seq} is not of batch {batch.id}.")
        hands = batch.hands | hands_of(entry)
        before = replace(batch, n=body["n"], after=entry.hash, hands=hands)
        after = _evolve(before, entry, Kind(entry.kind))
        return _with_written(after, entry)
    except (KeyError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
        raise unreadable(entry, error) from error


def _with_written(batch: Batch, entry: Entry) -> Batch:
    """A batch with what people wrote in its newest entry."""
    wrote = written_in(entry)
    if wrote is None:
        return batch
    if entry.kind in IN_PROCESS:
        wrote = replace(wrote, place=process_run.place_of(batch.process, entry.kind, entry.body))
    return replace(batch, written=(*batch.written, wrote))


def fold(entries: Iterable[Entry]) -> Batch | None:
    """The batch that its entries tell, oldest first; ``None`` for no entries."""
    batch: Batch | None = None
    for entry in entries:
        batch = opened(entry) if batch is None else evolve(batch, entry)
    return batch


def _evolve(batch: Batch, entry: Entry, kind: Kind) -> Batch:
    body = entry.body
    if kind in _RULES:
        return _RULES[kind](batch, entry)
    if kind in IN_PROCESS:
        process = process_run.evolve(batch.process, kind, body, entry.at)
        return replace(batch, process=process)
    match kind:
        case Kind.HELD:
            return replace(batch, held=_held(batch, entry))
        case Kind.DECIDED:
            return replace(batch, held=None)
        case Kind.RESUMED:
            if "tare_g" in body:  # as it was recorded before a moved zero had its own entry
                batch = _new_base(batch, entry)
            return replace(batch, held=None)
        case Kind.LOT_NAMED:
            return _lot_named(batch, body)
        case Kind.WEIGHED:
            return replace(_off_the_scales(batch), status=Status.IN_PROCESS, weighed=entry.at)
        case Kind.CLOSED:
            early = body.get("reason", "")
            return replace(batch, status=Status.CLOSED, closed=entry.at, held=None, reason=early)
        case Kind.ABANDONED:
            return replace(
                batch,
                status=Status.ABANDONED,
                closed=entry.at,
                held=None,
                reason=body["reason"],
            )
        case Kind.RESTARTED:
            return batch
        case Kind.COUNTERSIGNED:
            return replace(batch, countersigned=(*batch.countersigned, countersigned(entry)))
        case _:
            raise ValueError("a batch opens once")


def _yield(batch: Batch, entry: Entry) -> Batch:
    body = entry.body
    draw = draw_of(body, hash_=entry.hash, at=entry.at)
    corrects = body["corrects"]["hash"] if "corrects" in body else ""
    return replace(batch, draws=batch.draws.plus(draw, corrects))


def _corrected(batch: Batch, entry: Entry) -> Batch:
    """Other words stand from now on, wherever the batch has them; what was weighed is as it was."""
    written, was = applied(batch.written, entry)
    batch, name, new = replace(batch, written=written), entry.body["field"], entry.body["new"]
    if was.kind in IN_PROCESS:
        process = process_run.reworded(batch.process, was.kind, was.place, name, new)
        return replace(batch, process=process)
    if was.kind == Kind.OPENED and name == "operator":
        return replace(batch, operator=new)
    if was.kind in (Kind.CLOSED, Kind.ABANDONED) and name == "reason":
        return replace(batch, reason=new)
    if was.kind == Kind.YIELD and name == "operator":
        return replace(batch, draws=batch.draws.named(was.hash, new))
    if was.kind != Kind.ACCEPTED:
        return batch
    change: dict[str, Any] = {"reason": new} if name == "reason" else {}
    if name in was.drew and name == list(was.drew)[-1]:  # of several lots, the last is its lot
        change = {"lot": new}
    changed = (replace(one, **change) if one.entry == was.n else one for one in batch.accepted)
    return replace(batch, accepted=tuple(changed))


def _lot_named(batch: Batch, body: Mapping[str, Any]) -> Batch:
    n, splits = body["addition"], batch.splits
    if "from_g" in body:  # the one named before ran out there
        ran_out = (batch.lots[n], mass.parse(body["from_g"]))
        splits = {**splits, n: (*splits.get(n, ()), ran_out)}
    return replace(batch, lots={**batch.lots, n: body["lot"]}, splits=splits)


def _tared(batch: Batch, entry: Entry) -> Batch:
    body, scale = entry.body, entry.body["scale"]
    tare = Tare(_level(body), tuple(body["evidence"]["readings"]), entry.at)
    shows = tare.level.grams > nothing_g(batch.scales[scale].interval_g)
    return replace(
        batch,
        tares={**batch.tares, scale: tare},
        shifts=_without(batch.shifts, scale),
        keyed=batch.keyed - {scale} if shows else batch.keyed | {scale},
        standing={**batch.standing, scale: body["vessel"]["name"] if "vessel" in body else ""},
        emptied=_without(batch.emptied, scale),
        held=None,
    )


def _new_base(batch: Batch, entry: Entry) -> Batch:
    body, scale = entry.body, entry.body["scale"]
    tare = Tare(_level(body), tuple(body["evidence"]["readings"]), entry.at)
    was = batch.tares[scale].level
    by = combined(tare.level.grams - was.grams, tare.level, was)
    shifts = {**batch.shifts, scale: together(batch.shifts.get(scale), by)}
    return replace(batch, tares={**batch.tares, scale: tare}, shifts=shifts)


def _held(batch: Batch, entry: Entry) -> Held:
    body = entry.body
    before = of_body(body, "before")
    if before is None and batch.held is not None:
        before = batch.held.before  # held when the scale went, and again for its zero
    return Held(
        Cause(body["cause"]),
        entry.at,
        _maybe(body.get("sum_g")),
        before,
        of_body(body, "after"),
        batch.shifts.get(body["scale"]),
    )


def _zero_moved(batch: Batch, entry: Entry) -> Batch:
    body, scale = entry.body, entry.body["scale"]
    tare, cause = batch.tares[scale], Moved(body["cause"])
    move = ZeroMove(body["n"], cause, _maybe(body["sum_g"]), entry.at)
    tare = replace(tare, level=_level(body), moves=(*tare.moves, move))
    shifts = _without(batch.shifts, scale)
    if cause is not Moved.EMPTIED:
        shifts[scale] = together(batch.shifts.get(scale), level_of_body(body, "shift"))
    return replace(batch, tares={**batch.tares, scale: tare}, shifts=shifts)


def _scale_changed(batch: Batch, entry: Entry) -> Batch:
    """What is still to be weighed on a scale, on another; its vessel is tared there anew."""
    body = entry.body
    old, new = body["from"], body["to"]
    done = len(batch.accepted)
    coming = (
        replace(one, scale=new) if one.scale == old else one for one in batch.additions[done:]
    )
    return replace(
        batch,
        scales={**batch.scales, new: scale_of(new, body["figures"])},
        additions=(*batch.additions[:done], *coming),
        tares={name: one for name, one in batch.tares.items() if name not in (old, new)},
        shifts=_without(_without(batch.shifts, old), new),
        keyed=batch.keyed - {old, new},
        held=None,
    )


def _without(shifts: Mapping[str, Level], scale: str) -> dict[str, Level]:
    return {name: one for name, one in shifts.items() if name != scale}


def _accepted(batch: Batch, entry: Entry) -> Batch:
    body = entry.body
    done = Accepted(
        body["addition"],
        mass.parse(body["net_g"]),
        mass.parse(body["deviation_g"]),
        Verdict(body["verdict"]),
        body["reason"],
        body["lot"],
        entry.seq,
        entry.at,
        budget_of(body.get("budget") or {"spread": body["u_g"], "rounding": "0"}),
        "" if "method" in body else batch.standing.get(body["scale"], ""),
        body["n"],
    )
    # What stands on the scale now is the tare of the next addition into the same vessel.
    gross = Tare(
        level_of(
            mass.parse(body["gross_g"]), mass.parse(body["gross_u_g"]), body.get("gross_budget")
        ),
        tuple(body["evidence"]["gross"]),
        entry.at,
    )
    tares, left = {**batch.tares, body["scale"]: gross}, dict(batch.left)
    assert batch.current is not None
    for scale in batch.ends_with(batch.current):
        if scale in tares:
            left[scale] = tares.pop(scale).level
    batch = replace(batch, accepted=(*batch.accepted, done), tares=tares, left=left, held=None)
    return _as_planned(batch, gross.level)


def _as_planned(batch: Batch, gross: Level) -> Batch:
    """What a plan makes of a weighing accepted: what is left to weigh, and which tares stand."""
    additions = retargeted(batch.additions, batch.accepted)
    weighed = additions[len(batch.accepted) - 1]
    if weighed.step is None:
        return batch
    bowls = dict(batch.bowls)
    if weighed.step.into is Into.BOWL:
        bowls[weighed.scale] = gross
    batch = replace(batch, additions=additions, bowls=bowls)
    following = batch.current
    if following is None or stands_tared(additions, len(batch.accepted), following):
        return batch
    left = {name: one for name, one in batch.tares.items() if name != following.scale}
    return replace(batch, tares=left, shifts=_without(batch.shifts, following.scale))


def _off_the_scales(batch: Batch) -> Batch:
    """What stood on the scales is of no more use: the evidence of it stays in the record."""
    return replace(
        batch, tares={}, shifts={}, left={}, bowls={}, standing={}, keyed=frozenset(), held=None
    )


def _maybe(text: str | None) -> Decimal | None:
    return None if text is None else mass.parse(text)


def _level(body: Mapping[str, Any]) -> Level:
    return level_of(mass.parse(body["tare_g"]), mass.parse(body["u_g"]), body.get("budget"))


#: Kinds that have a rule of their own.
_RULES: Mapping[Kind, Callable[[Batch, Entry], Batch]] = {
    Kind.TARED: _tared,
    Kind.ZERO_MOVED: _zero_moved,
    Kind.ACCEPTED: _accepted,
    Kind.SCALE_CHANGED: _scale_changed,
    Kind.PUT_RIGHT: put_right,
    Kind.YIELD: _yield,
    Kind.CORRECTED: _corrected,
}
