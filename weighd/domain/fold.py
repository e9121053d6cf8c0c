"""Batches out of their entries: what each kind of entry does to a batch, and nothing else does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import (
    Accepted,
    Batch,
    Cause,
    Held,
    Kind,
    Status,
    Tare,
    opened,
    unreadable,
)
from weighd.domain.errors import RecordError
from weighd.domain.metrology import Level, Verdict, level_of
from weighd.domain.record import Entry

__all__ = ["evolve", "fold", "opened"]


def evolve(batch: Batch, entry: Entry) -> Batch:
    """The batch after one more of its entries. Raises :class:`RecordError` for a stranger."""
    body = entry.body
    try:
        if body["batch"] != batch.id:
            raise RecordError("not-this-batch", f"Entry {entry.seq} is not of batch {batch.id}.")
        return _evolve(replace(batch, n=body["n"], after=entry.hash), entry, Kind(entry.kind))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise unreadable(entry, error) from error


def fold(entries: Iterable[Entry]) -> Batch | None:
    """The batch that its entries tell, oldest first; ``None`` for no entries."""
    batch: Batch | None = None
    for entry in entries:
        batch = opened(entry) if batch is None else evolve(batch, entry)
    return batch


def _evolve(batch: Batch, entry: Entry, kind: Kind) -> Batch:
    body = entry.body
    match kind:
        case Kind.TARED:
            tare = Tare(_level(body), tuple(body["evidence"]["readings"]), entry.at)
            return replace(batch, tares={**batch.tares, body["scale"]: tare}, held=None)
        case Kind.HELD:
            total = body.get("sum_g")
            held = Held(
                Cause(body["cause"]), entry.at, None if total is None else mass.parse(total)
            )
            return replace(batch, held=held)
        case Kind.DECIDED:
            return replace(batch, held=None)
        case Kind.RESUMED:
            tares = batch.tares
            if "tare_g" in body:  # the scale came back at zero: what it shows now has a new base
                tare = Tare(_level(body), tuple(body["evidence"]["readings"]), entry.at)
                tares = {**tares, body["scale"]: tare}
            return replace(batch, held=None, tares=tares)
        case Kind.LOT_NAMED:
            return replace(batch, lots={**batch.lots, body["addition"]: body["lot"]})
        case Kind.ACCEPTED:
            return _accepted(batch, entry)
        case Kind.CLOSED:
            return replace(batch, status=Status.CLOSED, closed=entry.at, held=None)
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
        case Kind.OPENED:
            raise ValueError("a batch opens once")


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
    )
    # What stands on the scale now is the tare of the next addition into the same vessel.
    gross = Tare(
        level_of(
            mass.parse(body["gross_g"]), mass.parse(body["gross_u_g"]), body.get("gross_budget")
        ),
        tuple(body["evidence"]["gross"]),
        entry.at,
    )
    return replace(
        batch,
        accepted=(*batch.accepted, done),
        tares={**batch.tares, body["scale"]: gross},
        held=None,
    )


def _level(body: Mapping[str, Any]) -> Level:
    return level_of(mass.parse(body["tare_g"]), mass.parse(body["u_g"]), body.get("budget"))
