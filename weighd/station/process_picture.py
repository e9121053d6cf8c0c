"""The batches in process, as pages and programs are shown them.

``at`` is when it was drawn; whoever counts on from there needs no clock that agrees with ours.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from weighd.domain import mass
from weighd.domain.batch import Batch
from weighd.domain.dry_ice_record import share_of_cold
from weighd.domain.duration import words
from weighd.domain.heat_tables import NOTICE, Cooling, HeatTable, Pair
from weighd.domain.moments import milliseconds
from weighd.domain.process import ProcessStep, StepKind, limits_in_words
from weighd.domain.process_judge import holding, in_words, longest, reached_at, seconds, so_far
from weighd.domain.process_orders import can, here
from weighd.domain.process_run import Run, State
from weighd.station.dry_ice_drawn import draw_figures

if TYPE_CHECKING:
    from weighd.station.station import Station


def draw_process(station: Station) -> dict[str, Any]:
    """Every batch in process, in the order in which they came off the bench."""
    at, batches = station.at(), station.off_bench.in_process()
    return {"at": at if batches else "", "batches": [draw_in_process(one, at) for one in batches]}


def draw_in_process(batch: Batch, at: str) -> dict[str, Any]:
    """A batch in process as it stands at a moment: what to do now, and what was done."""
    it, state = here(batch), batch.process.state(len(batch.steps))
    return {
        "id": batch.id,
        "name": batch.formula["name"],
        "batch_g": mass.text(batch.batch_g),
        "operator": batch.operator,
        "weighed": batch.weighed,
        "state": str(state),
        "step": batch.process.at if it.step is not None else None,
        "now": _now(it.step, it.run, at) if it.run is not None and it.step is not None else None,
        "held": _held(it.step, it.run) if state is State.HELD else None,
        "cooling": _cooling(batch, at),
        "can": [str(one) for one in can(batch)],
        "steps": draw_steps_of(batch),
    }


def draw_steps_of(batch: Batch) -> list[dict[str, Any]]:
    """The steps of a batch, each with what it asks for and every doing of it."""
    return [_step(batch, n, one) for n, one in enumerate(batch.steps, start=1)]


def draw_step(step: ProcessStep) -> dict[str, Any]:
    """A step as its formula has it."""
    return {
        "kind": str(step.kind),
        "name": step.name,
        "how": step.how,
        "with": step.means,
        "limits": limits_in_words(step),
        "needs_temperature": step.needs_temperature,
        "cautions": [one.content() for one in step.cautions],
        "table": draw_table(step.table) if step.table else None,
    }


def _step(batch: Batch, n: int, step: ProcessStep) -> dict[str, Any]:
    process = batch.process
    done, run = process.done(n), process.run
    status = "waiting"
    if done is not None:
        status = "done" if done.decision is None else "accepted"
    elif n == process.at and run is not None:
        status = "held" if run.outcome is not None else "running"
    elif n == process.at and not batch.is_over:
        status = "next"
    return {
        "n": n,
        **draw_step(step),
        "status": status,
        "runs": [_run(batch, step, one) for one in process.runs if one.step == n],
    }


def draw_table(table: HeatTable) -> dict[str, Any]:
    """A table of published pairs, with the words that belong beside it."""
    return {
        "id": table.id,
        "name": table.name,
        "note": table.note,
        "notice": NOTICE,
        "pairs": [_pair(one) for one in table.pairs],
    }


def _pair(pair: Pair) -> dict[str, Any]:
    return {
        "pair": str(pair),
        "celsius": pair.temperature.celsius_at_least(),
        "time": words(pair.time_s),
        "time_s": mass.text(pair.time_s),
        "source": pair.source,
        "status": pair.status,
    }


def _run(batch: Batch, step: ProcessStep, run: Run) -> dict[str, Any]:
    return {
        "begun": run.begun,
        "begun_entered": run.begun_entered,
        "by": run.by,
        "confirmed": list(run.confirmed),
        "pair": run.pair,
        "dry_ice": draw_figures(run.dry_ice, share_of_cold(batch, run)),
        "values": [
            {
                "n": n,
                "temperature": str(one.temperature),
                "at": one.at,
                "by": one.by,
                "held_s": mass.text(one.held_s),
                "entered": one.entered,
                "struck": one.struck,
            }
            for n, one in enumerate(run.values, start=1)
        ],
        "notes": [{"text": one.text, "at": one.at, "by": one.by} for one in run.notes],
        "ended": run.ended,
        "ended_entered": run.ended_entered,
        "ended_by": run.ended_by,
        "outcome": None if run.outcome is None else str(run.outcome),
        "faults": list(run.judged["faults"]) if run.judged else [],
        "reached": run.judged.get("reached") if run.judged else None,
        "told": in_words(step, run.judged) if run.judged else "",
        "failed": run.failed,
        "decision": None if run.decision is None else str(run.decision),
        "reason": run.reason,
        "decided": run.decided,
        "decided_by": run.decided_by,
    }


# --- now ------------------------------------------------------------------------------------------


def _now(step: ProcessStep, run: Run, at: str) -> dict[str, Any] | None:
    """The step that goes on: for how long, how long it may, and what is awaited."""
    if run.outcome is not None:
        return None
    elapsed = seconds(run.begun_ms, milliseconds(at))
    limits = step.limits
    out: dict[str, Any] = {
        "elapsed_s": mass.text(elapsed),
        "least_s": None if limits.least_s is None else mass.text(limits.least_s),
        "most_s": None if limits.most_s is None else mass.text(limits.most_s),
        "met": limits.of_temperature and not step.kept and reached_at(step, run) is not None,
        "out": [str(one) for one in so_far(step, run, at)],
        "awaited": _awaited(step, run, elapsed),
        "hold": None,
    }
    if step.table is not None:
        out["hold"] = _hold(step.table, run, at)
    return out


def _awaited(step: ProcessStep, run: Run, elapsed: Decimal) -> list[str]:
    """What still has to come: a temperature, time, or the word that it is done."""
    out = []
    if step.needs_temperature and (
        not run.counted or (step.table is None and not step.kept and reached_at(step, run) is None)
    ):
        out.append("temperature")
    if step.table is not None and not any(_satisfied(run, one) for one in step.table.pairs):
        out = ["temperature"]
    if step.limits.least_s is not None and elapsed < step.limits.least_s:
        out.append("time")
    return out or ["done"]


def aim(table: HeatTable, run: Run) -> Pair:
    """The pair that is followed: the one that was named, else the hottest that is held now."""
    named = table.pair(run.pair) if run.pair else None
    if named is not None:
        return named
    held = [one for one in table.pairs if holding(run, one.temperature) is not None]
    return held[-1] if held else table.pairs[0]


def _hold(table: HeatTable, run: Run, at: str) -> dict[str, Any]:
    """How the hold stands at the pair that is followed; the time since it began counts on."""
    pair = aim(table, run)
    going = holding(run, pair.temperature)
    met = next((one for one in table.pairs if _satisfied(run, one)), None)
    since = None if going is None else seconds(going.since_ms, milliseconds(at))
    return {
        **_pair(pair),
        "since_s": None if since is None else mass.text(since),
        "measured_s": None if going is None else mass.text(going.time_s),
        "satisfied": None if met is None else str(met),
    }


def _satisfied(run: Run, pair: Pair) -> bool:
    best = longest(run, pair.temperature)
    return best is not None and best.time_s >= pair.time_s


def _held(step: ProcessStep | None, run: Run | None) -> dict[str, Any] | None:
    if step is None or run is None or run.judged is None:
        return None
    return {
        "faults": list(run.judged["faults"]),
        "told": in_words(step, run.judged),
        "reason": run.failed,
        "heat": step.table is not None,
        "notice": NOTICE if step.table is not None else "",
    }


def counts(batch: Batch) -> bool:
    """Whether a time goes on that is shown: of a step, or since a heat treatment."""
    running = batch.process.state(len(batch.steps)) is State.RUNNING
    return running or _cooling(batch, batch.weighed) is not None


def _cooling(batch: Batch, at: str) -> dict[str, Any] | None:
    """What the table of the last heat treatment asks for next, where the formula says nothing."""
    treated = [
        (n, one, run)
        for n, one in enumerate(batch.steps, start=1)
        if one.table is not None and (run := batch.process.done(n)) is not None
    ]
    if not treated:
        return None
    n, step, run = treated[-1]
    own = any(one.kind is StepKind.COOL for one in batch.steps[n:])
    cooling = step.table.cooling if step.table else None
    if cooling is None or own or run.ended is None:
        return None
    return _cooling_told(cooling, seconds(milliseconds(run.ended), milliseconds(at)))


def _cooling_told(cooling: Cooling, since: Decimal) -> dict[str, Any]:
    left = None if cooling.within_s is None else cooling.within_s - since
    return {
        "limits": str(cooling),
        "source": cooling.source,
        "status": cooling.status,
        "since_s": mass.text(since),
        "left_s": None if left is None else mass.text(left),
    }
