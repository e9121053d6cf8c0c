"""The steps of batches as CSV (RFC 4180, UTF-8): a row for everything that was done."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from weighd.domain.fold import fold
from weighd.domain.record import Entry
from weighd.domain.temperature import read_temperature
from weighd.reports.columns import heads
from weighd.reports.csv_table import lines_of
from weighd.station.process_picture import draw_steps_of

#: ``doing`` counts the doings of a step that was done again; ``told`` is yes where a person said
#: the time. ``temperature`` and ``held_s`` are numbers, all else is text.
COLUMNS = heads(
    "batch formula_name ~step kind name limits status ~doing what at told ~temperature unit ~held_s"
    " by text"
)


def steps_csv(batches: Iterable[Sequence[Entry]]) -> Iterator[str]:
    """The header, and a line for everything done in each batch's steps, each with its line end."""
    return lines_of(COLUMNS, (row for entries in batches for row in step_rows(entries)))


def step_rows(entries: Sequence[Entry]) -> Iterator[Mapping[str, Any]]:
    """What was done in the steps of a batch, in order; a step that was not begun has one row."""
    batch = fold(entries)
    if batch is None:
        return
    for step in draw_steps_of(batch):
        of = {
            "batch": batch.id,
            "formula_name": batch.formula["name"],
            "step": step["n"],
            **{key: step[key] for key in ("kind", "name", "limits", "status")},
        }
        if not step["runs"]:
            yield of
        for n, run in enumerate(step["runs"], start=1):
            for row in _run(run):
                yield {**of, "doing": n, **row}


def _run(run: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    def row(what: str, at: str, by: str, text: str = "", *, told: bool = False) -> dict[str, Any]:
        return {"what": what, "at": at, "by": by, "text": text, "told": "yes" if told else ""}

    named = ", ".join(run["confirmed"])
    yield row("begun", run["begun"], run["by"], named, told=run["begun_entered"])
    for one in run["values"]:
        what = "struck out" if one["struck"] else "temperature"
        read = read_temperature(one["temperature"])
        yield {
            **row(what, one["at"], one["by"], one["struck"], told=one["entered"]),
            "temperature": f"{read.value:f}",
            "unit": read.unit,
            "held_s": "" if one["held_s"] == "0" else one["held_s"],
        }
    for note in run["notes"]:
        yield row("note", note["at"], note["by"], note["text"])
    if run["ended"] is not None:
        faults = ", ".join(run["faults"])
        text = "; ".join(one for one in (faults, run["told"], run["failed"]) if one)
        yield row(run["outcome"], run["ended"], run["ended_by"], text, told=run["ended_entered"])
    if run["decision"] is not None:
        yield row(run["decision"], run["decided"], run["decided_by"], run["reason"])
