"""Whether the entries of a batch in process follow: from what was entered and the formula's limits.

Every judgement of a step is made again, as is what may come at all: every caution confirmed, times
that lie between what came before and the entry, no heat treatment let pass or left open.
"""

from __future__ import annotations

from typing import Any

from weighd.domain.batch import Batch, Kind
from weighd.domain.errors import RecordError
from weighd.domain.following import differs, does_not_follow, where_of
from weighd.domain.moments import milliseconds
from weighd.domain.process_judge import judge
from weighd.domain.process_orders import free_since, heat_open, here
from weighd.domain.process_run import Decision
from weighd.domain.record import Entry

#: The time that an entry is about, by its kind, and the earliest that it can have been.
_TIMES = {Kind.STEP_BEGUN: "begun", Kind.VALUE_ENTERED: "taken", Kind.STEP_ENDED: "ended"}


def check_process(batch: Batch, entry: Entry) -> None:
    """Whether an entry of a batch in process follows.

    Raises :class:`RecordError`; ``KeyError`` or ``ValueError`` for nonsense.
    """
    it, body, kind = here(batch), entry.body, Kind(entry.kind)
    if kind in _TIMES:
        _time(batch, entry, kind)
    if kind is Kind.STEP_BEGUN and it.step is not None:
        _same(entry, "kind", body["kind"], str(it.step.kind))
        _same(entry, "confirmed", body["confirmed"], [one.name for one in it.step.cautions])
    elif kind is Kind.STEP_ENDED and it.step is not None and it.run is not None:
        due = judge(it.step, it.run, body["ended"], body.get("reason", ""))
        _same(entry, "judged", body["judged"], due.as_json())
        _same(entry, "outcome", body["outcome"], str(due.outcome))
        if it.step.needs_temperature and not it.run.counted and not body.get("reason"):
            raise does_not_follow(entry, "It is judged, and no temperature was entered.")
    elif kind is Kind.STEP_DECIDED:
        _reason(entry)
        letting_pass = body["decision"] == Decision.ACCEPT
        if letting_pass and it.step is not None and it.step.table is not None:
            raise does_not_follow(entry, "A heat treatment that is not satisfied was let pass.")
    elif kind is Kind.VALUE_STRUCK:
        _reason(entry)
    elif kind is Kind.CLOCK_SET:
        _same(entry, "now", body["now"], entry.at)
    elif kind is Kind.CLOSED:
        _closed(batch, entry)


def _closed(batch: Batch, entry: Entry) -> None:
    for n, step in heat_open(batch):
        raise does_not_follow(entry, f"Heat treatment {n} ({step.name}) is not satisfied.")
    if here(batch).step is None:
        return
    if not entry.body.get("early"):
        raise RecordError(
            "closed-early",
            f"The batch is closed with {batch.process.at - 1} of {len(batch.steps)} steps done.",
            where=where_of(entry),
        )
    _reason(entry)


def _time(batch: Batch, entry: Entry, kind: Kind) -> None:
    """A time of the clock is that of the entry; one that a person says is not after it."""
    key = _TIMES[kind]
    told = entry.body[key]
    said = entry.body.get("entered", False)
    if not said:
        _same(entry, key, told, entry.at)
    run = batch.process.run
    since = milliseconds(free_since(batch))
    if kind is not Kind.STEP_BEGUN and run is not None:
        since = run.begun_ms if said and kind is Kind.VALUE_ENTERED else run.latest_ms
    if not since <= milliseconds(told) <= milliseconds(entry.at):
        raise does_not_follow(
            entry, f"{key} is {told}, before what came before it or after the entry."
        )


def _reason(entry: Entry) -> None:
    if not entry.body["reason"]:
        raise does_not_follow(entry, "Its reason is missing.")


def _same(entry: Entry, key: str, found: Any, expected: Any) -> None:
    if found != expected:
        raise differs(entry, key, found, expected, "what was entered gives")
