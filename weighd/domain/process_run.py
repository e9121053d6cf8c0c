"""How far a batch in process is: its steps as they were done, out of its entries.

``Process`` is what the entries say and only that. A *run* is one doing of a step; a step that is
repeated has several. What may come next, and who may ask for it, stands in ``process_orders``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.moments import milliseconds
from weighd.domain.temperature import Temperature, read_temperature


class State(StrEnum):
    """How a batch in process stands."""

    WAITING = "waiting"  # the next step may begin
    RUNNING = "running"
    HELD = "held"  # the last step did not come out as it should: somebody has to decide
    DONE = "done"  # there is no step left


class Outcome(StrEnum):
    """How a step came out."""

    DONE = "done"
    HELD = "held"


class Decision(StrEnum):
    """What somebody decided about a step that was held."""

    REPEAT = "repeat"
    ACCEPT = "accept"


@dataclass(frozen=True, slots=True)
class Value:
    """A temperature measured in a step, and when (RFC 3339).

    ``held_s``   for so many seconds up to then nothing colder was measured, as the person says.
    ``entered``  the time was said by the person, not taken from the clock.
    ``struck``   taken back as mistaken, with the reason; it counts for nothing.
    """

    temperature: Temperature
    at: str
    by: str
    held_s: Decimal = Decimal(0)
    entered: bool = False
    struck: str = ""
    #: When it was measured, in milliseconds of the wall clock as it goes now.
    ms: int = 0


@dataclass(frozen=True, slots=True)
class Note:
    """Something a person wrote down."""

    text: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Run:
    """One doing of the step number ``step``; times RFC 3339.

    ``confirmed``  the cautions that were confirmed by name before it began.
    ``pair``       the published pair that was meant to be followed; empty for whichever is met.
    ``dry_ice``    what it was reckoned with, where it is done with dry ice.
    ``judged``     what followed from its values when it ended, as JSON values.
    """

    step: int
    begun: str
    by: str
    begun_entered: bool = False
    confirmed: tuple[str, ...] = ()
    pair: str = ""
    dry_ice: Mapping[str, Any] | None = None
    values: tuple[Value, ...] = ()
    notes: tuple[Note, ...] = ()
    ended: str | None = None
    ended_by: str = ""
    ended_entered: bool = False
    outcome: Outcome | None = None
    judged: Mapping[str, Any] | None = None
    failed: str = ""
    decision: Decision | None = None
    reason: str = ""
    decided_by: str = ""
    decided: str | None = None
    #: When it began, in milliseconds of the wall clock as it goes now.
    begun_ms: int = 0

    @property
    def latest_ms(self) -> int:
        """The newest moment of it that is known, likewise."""
        return max([self.begun_ms, *(one.ms for one in self.values)])

    @property
    def counted(self) -> tuple[Value, ...]:
        """The values that count, in the order in which they were measured."""
        return tuple(sorted((one for one in self.values if not one.struck), key=lambda v: v.ms))

    @property
    def is_done(self) -> bool:
        """Whether the step counts as done by this run."""
        return self.outcome is Outcome.DONE or self.decision is Decision.ACCEPT


@dataclass(frozen=True, slots=True)
class Process:
    """How far it is. ``at``: the step that comes next or is running, counted from 1."""

    at: int = 1
    runs: tuple[Run, ...] = ()

    @property
    def run(self) -> Run | None:
        """The newest doing of a step, if it is of the step that is the present one."""
        last = self.runs[-1] if self.runs else None
        return last if last is not None and last.step == self.at and not _over(last) else None

    def state(self, steps: int) -> State:
        """How it stands, where its formula has so many steps."""
        run = self.run
        if run is not None:
            return State.HELD if run.outcome is Outcome.HELD else State.RUNNING
        return State.DONE if self.at > steps else State.WAITING

    def done(self, step: int) -> Run | None:
        """The run by which a step counts as done now; ``None`` while it does not."""
        if step >= self.at:
            return None
        return next((one for one in self.runs[::-1] if one.step == step and one.is_done), None)


def _over(run: Run) -> bool:
    return run.outcome is Outcome.DONE or run.decision is not None


# --- corrections ----------------------------------------------------------------------------------


def place_of(process: Process, kind: str, body: Mapping[str, Any]) -> tuple[int, int]:
    """Where an entry stands in the process that has it: the run, and which value or note of it."""
    if not process.runs:
        return -1, -1
    last = process.runs[-1]
    items = {
        "temperature entered": len(last.values) - 1,
        "temperature struck out": body.get("value", 0) - 1,
        "step noted": len(last.notes) - 1,
    }
    return len(process.runs) - 1, items.get(kind, -1)


def reworded(process: Process, kind: str, place: tuple[int, int], field: str, new: str) -> Process:
    """With other words of a person in an entry, which had its place by :func:`place_of`."""
    name = _WORDS.get((kind, field))
    run, item = place
    if name is None or run < 0:
        return process
    runs = list(process.runs)
    those, _, name = name.rpartition(".")
    change: dict[str, Any] = {name: new}
    if those:
        items = list(getattr(runs[run], those))
        items[item] = replace(items[item], **change)
        change = {those: tuple(items)}
    runs[run] = replace(runs[run], **change)
    return replace(process, runs=tuple(runs))


#: What a field of an entry is of a run.
_WORDS = {
    ("step begun", "operator"): "by",
    ("temperature entered", "operator"): "values.by",
    ("temperature struck out", "reason"): "values.struck",
    ("step ended", "operator"): "ended_by",
    ("step ended", "reason"): "failed",
    ("step decided", "operator"): "decided_by",
    ("step decided", "reason"): "reason",
    ("step noted", "operator"): "notes.by",
    ("step noted", "note"): "notes.text",
}

# --- what each entry does -------------------------------------------------------------------------


def evolve(process: Process, kind: str, body: Mapping[str, Any], at: str) -> Process:
    """After one more entry. Raises ``KeyError`` or ``ValueError`` for one that cannot be."""
    return _CHANGES[kind](process, body, at)


def _begun(process: Process, body: Mapping[str, Any], _at: str) -> Process:
    """After a ``step begun``. Raises ``ValueError`` for a step that is not the next one."""
    if body["step"] != process.at or process.run is not None:
        raise ValueError(f"step {body['step']} is not the next one")
    run = Run(
        body["step"],
        body["begun"],
        body["by"],
        body.get("entered", False),
        tuple(body["confirmed"]),
        body.get("pair", ""),
        body.get("dry_ice"),
        begun_ms=milliseconds(body["begun"]),
    )
    return replace(process, runs=(*process.runs, run))


def _entered(process: Process, body: Mapping[str, Any], _at: str) -> Process:
    """After a ``temperature entered``."""
    run = _running(process, body)
    value = Value(
        read_temperature(body["temperature"]),
        body["taken"],
        body["by"],
        mass.parse(body.get("held_s", "0")),
        body.get("entered", False),
        ms=milliseconds(body["taken"]),
    )
    return _with(process, replace(run, values=(*run.values, value)))


def _struck(process: Process, body: Mapping[str, Any], _at: str) -> Process:
    """After a ``temperature struck out``: it stays in the record, and counts no more."""
    run, n = _running(process, body), body["value"]
    values = list(run.values)
    if not 1 <= n <= len(values) or values[n - 1].struck:
        raise ValueError(f"there is no value {n} to strike out")
    values[n - 1] = replace(values[n - 1], struck=body["reason"])
    return _with(process, replace(run, values=tuple(values)))


def _ended(process: Process, body: Mapping[str, Any], _at: str) -> Process:
    """After a ``step ended``: done, or held until somebody decides."""
    run = replace(
        _running(process, body),
        ended=body["ended"],
        ended_by=body["by"],
        ended_entered=body.get("entered", False),
        outcome=Outcome(body["outcome"]),
        judged=body["judged"],
        failed=body.get("reason", ""),
    )
    process = _with(process, run)
    return replace(process, at=process.at + 1) if run.is_done else process


def _decided(process: Process, body: Mapping[str, Any], at: str) -> Process:
    """After a ``step decided``: on to the next, or once more from a step on."""
    run = process.run
    if run is None or run.outcome is not Outcome.HELD or body["step"] != run.step:
        raise ValueError(f"step {body['step']} is not held")
    decision = Decision(body["decision"])
    run = replace(run, decision=decision, reason=body["reason"], decided_by=body["by"], decided=at)
    process = _with(process, run)
    if decision is Decision.ACCEPT:
        return replace(process, at=process.at + 1)
    again = body["from_step"]
    if not 1 <= again <= process.at:
        raise ValueError(f"from step {again} nothing can be repeated")
    return replace(process, at=again)


def _noted(process: Process, body: Mapping[str, Any], at: str) -> Process:
    """After a ``step noted``: a note of the newest run."""
    if not process.runs or body["step"] != process.runs[-1].step:
        raise ValueError("there is no step to note that of")
    run = process.runs[-1]
    note = Note(body["note"], at, body["by"])
    return _with(process, replace(run, notes=(*run.notes, note)))


def _clock_set(process: Process, body: Mapping[str, Any], _at: str) -> Process:
    """After a ``clock set``: what this clock gave before moves along, so that no time is made.

    ``values`` of the run, and its beginning where there are any, are of an earlier start of the
    station: by which clock, is not known, and they stand.
    """
    run, stand = _running(process, body), body["stand"]
    by = milliseconds(body["now"]) - milliseconds(body["was"])
    values = tuple(
        one if n < stand["values"] else replace(one, ms=one.ms + by)
        for n, one in enumerate(run.values)
    )
    begun = run.begun_ms if stand["begun"] else run.begun_ms + by
    return _with(process, replace(run, values=values, begun_ms=begun))


def _running(process: Process, body: Mapping[str, Any]) -> Run:
    run = process.run
    if run is None or run.outcome is not None or body["step"] != run.step:
        raise ValueError(f"step {body['step']} is not running")
    return run


def _with(process: Process, run: Run) -> Process:
    return replace(process, runs=(*process.runs[:-1], run))


#: What each kind of entry does.
_CHANGES = {
    "step begun": _begun,
    "temperature entered": _entered,
    "temperature struck out": _struck,
    "step ended": _ended,
    "step decided": _decided,
    "step noted": _noted,
    "clock set": _clock_set,
}
