"""The steps of a batch in process as lines of text, out of its entries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from weighd.domain import mass
from weighd.domain.duration import words
from weighd.domain.fold import fold
from weighd.domain.heat_tables import NOTICE, HeatTable
from weighd.domain.process import limits_in_words
from weighd.domain.record import Entry
from weighd.domain.temperature import CELSIUS
from weighd.station.dry_ice_words import tell_figures
from weighd.station.process_picture import draw_steps_of


def batch_lines(entries: Sequence[Entry]) -> Iterator[str]:
    """A batch and its steps: a line each, and one for everything done."""
    batch = fold(entries)
    if batch is None:
        return
    name, size = batch.formula["name"], mass.text(batch.batch_g)
    yield f"{name}, batch {batch.id}, {size} g, by {batch.operator}: {batch.status}"
    if not batch.steps:
        yield "    Its formula has no steps after weighing."
    yield from step_lines(entries)
    if any(one.table is not None for one in batch.steps):
        yield f"    {NOTICE}"


def step_lines(entries: Iterable[Entry]) -> Iterator[str]:
    """The steps after weighing, a line each and one for everything done; none without steps."""
    batch = fold(entries)
    if batch is None or not batch.steps:
        return
    for step, drawn in zip(batch.steps, draw_steps_of(batch), strict=True):
        limits = limits_in_words(step)
        yield f"{drawn['n']:3} {step.name}: {drawn['status']}" + (f"; {limits}" if limits else "")
        for run in drawn["runs"]:
            yield from _run(run)


def table_lines(tables: Mapping[str, HeatTable]) -> Iterator[str]:
    """The published heat treatments, each pair with its source and how that was learned."""
    for one in tables.values():
        yield f"{one.id}: {one.name}"
        for pair in one.pairs:
            hot = pair.temperature
            celsius = "" if hot.unit == CELSIUS else f" ({hot.celsius_at_least()})"
            held = f"at least {hot}{celsius} for {words(pair.time_s)}"
            yield f"    {held}: {pair.source}; {pair.status}"
        if one.cooling is not None:
            yield f"    then {one.cooling}: {one.cooling.source}; {one.cooling.status}"
        if one.note:
            yield f"    {one.note}"
    yield f"Between two pairs nothing is known. {NOTICE}"


def _run(run: Mapping[str, Any]) -> Iterator[str]:
    named = f", confirmed: {', '.join(run['confirmed'])}" if run["confirmed"] else ""
    yield f"    {_time(run['begun'], entered=run['begun_entered'])} begun, {run['by']}{named}"
    if run["dry_ice"] is not None:
        yield from (f"    {one}" for one in tell_figures(run["dry_ice"]))
    for value in run["values"]:
        held = f", held {words(mass.parse(value['held_s']))}" if value["held_s"] != "0" else ""
        struck = f"; struck out: {value['struck']}" if value["struck"] else ""
        at = _time(value["at"], entered=value["entered"])
        yield f"    {at} {value['temperature']}{held}, {value['by']}{struck}"
    for note in run["notes"]:
        yield f"    {_time(note['at'])} {note['by']}: {note['text']}"
    if run["ended"] is not None:
        why = f": {', '.join(run['faults'])}" if run["faults"] else ""
        told = " ".join(one for one in (run["told"], run["failed"]) if one)
        at = _time(run["ended"], entered=run["ended_entered"])
        yield f"    {at} {run['outcome']}{why}, {run['ended_by']}" + (f". {told}" if told else "")
    if run["decision"] is not None:
        yield f"    {_time(run['decided'])} {run['decision']}, {run['decided_by']}: {run['reason']}"


def _time(at: str, *, entered: bool = False) -> str:
    """Date and time to the second; marked where a person said it."""
    return f"{at[:10]} {at[11:19]}" + (" (as told)" if entered else "")
