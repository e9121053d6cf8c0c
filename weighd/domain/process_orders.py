"""THE transition table of a batch in process; nothing else decides what may come next.

1. Everything that may be asked is in ``TABLE``: (how the batch stands, what is asked) -> a rule.
   What has no row is refused in words.
2. A rule returns drafts of entries, and nothing else changes a batch. They take effect only once
   they are durable.
3. **A heat treatment cannot be waved through**: held, it is done again, or the batch is discarded.
   No batch is closed while one of its heat treatments is not satisfied.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import dry_ice_record, mass
from weighd.domain.addition import Draft
from weighd.domain.batch import Batch, Kind
from weighd.domain.cautions import confirmed
from weighd.domain.duration import read_duration
from weighd.domain.errors import OperatorError
from weighd.domain.moments import milliseconds
from weighd.domain.process import ProcessStep
from weighd.domain.process_judge import in_words, judge, seconds
from weighd.domain.process_run import Decision, Outcome, Run, State
from weighd.domain.temperature import read_temperature

_MOST_VALUES = 1000


class Ask(StrEnum):
    """What a person can ask of a batch in process."""

    BEGIN = "begin step"
    ENTER = "enter temperature"
    STRIKE = "strike temperature"
    END = "end step"
    FAIL = "fail step"
    REPEAT = "repeat step"
    ACCEPT = "accept step"
    NOTE = "note step"
    CLOSE = "close batch"
    DISCARD = "abandon"


@dataclass(frozen=True, slots=True)
class StepOrder:
    """What a person asks, at ``at`` (RFC 3339).

    ``step``   the step it is meant for: a press that comes too late is refused.
    ``taken``  when it was, where the person says so; at ``at`` where it is empty.
    """

    at: str
    do: Ask
    by: str
    step: int | None = None
    temperature: str = ""
    held: str = ""
    taken: str = ""
    value: int | None = None
    confirmed: tuple[str, ...] = ()
    pair: str = ""
    from_step: int | None = None
    reason: str = ""
    note: str = ""
    dry_ice: Mapping[str, Any] | None = None

    @property
    def when(self) -> str:
        return self.taken or self.at


@dataclass(frozen=True, slots=True)
class Here:
    """A batch in process as a rule looks at it. ``step`` is ``None`` once none is left."""

    batch: Batch
    step: ProcessStep | None
    run: Run | None

    @property
    def where(self) -> str:
        return f"batch {self.batch.id}, step {self.batch.process.at}"

    def draft(self, of: Kind, order: StepOrder, **body: Any) -> Draft:
        """An entry about the present step, by whoever asked."""
        said = {"entered": True} if order.taken and of in _TIMED else {}
        return Draft(of, {"step": self.batch.process.at, "by": order.by, **said, **body})


Rule = Callable[[Here, StepOrder], tuple[Draft, ...]]
_TIMED = (Kind.STEP_BEGUN, Kind.VALUE_ENTERED, Kind.STEP_ENDED)


def here(batch: Batch) -> Here:
    """How a batch in process stands."""
    at = batch.process.at
    step = batch.steps[at - 1] if at <= len(batch.steps) else None
    return Here(batch, step, batch.process.run)


def ask(batch: Batch, order: StepOrder) -> tuple[Draft, ...]:
    """What an order does to a batch in process: the entries it makes.

    Raises :class:`OperatorError` for what cannot be, as the batch stands.
    """
    it = here(batch)
    state = batch.process.state(len(batch.steps))
    if batch.is_over:
        raise OperatorError("batch-over", f"Batch {batch.id} is over.", where=it.where)
    rule = TABLE.get((state, order.do))
    if order.do not in (Ask.CLOSE, Ask.DISCARD):
        _guard(it, order)
    if rule is None:
        raise _not_now(it, order.do, state)
    return rule(it, order)


def _guard(it: Here, order: StepOrder) -> None:
    """A press meant for a step that is over must not act on the next one."""
    at = it.batch.process.at
    if order.step is None:
        raise OperatorError("no-step", "No step was named.", where=it.where, remedy="Name it.")
    if order.step == at or (order.do is Ask.NOTE and _last(it) == order.step):
        return
    if order.step < at:
        raise OperatorError("step-over", f"Step {order.step} is over already.", where=it.where)
    raise OperatorError(
        "not-this-step", f"Step {order.step} does not come yet; {at} does.", where=it.where
    )


def _last(it: Here) -> int | None:
    runs = it.batch.process.runs
    return runs[-1].step if runs else None


def _not_now(it: Here, do: Ask, state: State) -> OperatorError:
    why = {
        State.WAITING: "the step has not begun",
        State.RUNNING: "the step is going on",
        State.HELD: "the step is held until somebody decides",
        State.DONE: "no step is left",
    }
    return OperatorError("not-now", f'"{do}" cannot be: {why[state]}.', where=it.where)


# --- rules ----------------------------------------------------------------------------------------


def begin(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """Begin the step, every caution of it confirmed by name."""
    step = it.step
    assert step is not None
    named = confirmed(step.cautions, order.confirmed, it.where)
    _not_before(it, order, milliseconds(free_since(it.batch)))
    more = dry_ice_record.begun(it.batch, step, order.dry_ice)
    if order.pair:
        if step.table is None or step.table.pair(order.pair) is None:
            raise OperatorError(
                "unknown-pair",
                f'"{order.pair}" is no published pair of this step.',
                where=it.where,
                remedy="There are: " + " or ".join(str(one) for one in step.table.pairs) + "."
                if step.table
                else "It is no heat treatment.",
            )
        more["pair"] = order.pair
    body = {"kind": str(step.kind), "begun": order.when, "confirmed": list(named), **more}
    return (it.draft(Kind.STEP_BEGUN, order, **body),)


def enter(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """A temperature that was measured."""
    run = it.run
    assert run is not None
    try:
        temperature = read_temperature(order.temperature)
        held = read_duration(order.held, "s") if order.held else Decimal(0)
    except ValueError as error:
        raise _bad_value(it, str(error)) from error
    if len(run.values) >= _MOST_VALUES:
        raise _bad_value(it, f"{_MOST_VALUES} temperatures are enough for one step")
    _not_before(it, order, run.begun_ms if order.taken else run.latest_ms)
    if held > seconds(run.begun_ms, milliseconds(order.when)):
        raise _bad_value(it, "it cannot have been held since before the step began")
    more = {"held_s": mass.text(held)} if held else {}
    draft = it.draft(
        Kind.VALUE_ENTERED,
        order,
        value=len(run.values) + 1,
        temperature=str(temperature),
        taken=order.when,
        **more,
    )
    return (draft,)


def strike(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """Take back a temperature that was a mistake; it stays in the record."""
    run, n = it.run, order.value or 0
    assert run is not None
    if not 1 <= n <= len(run.values) or run.values[n - 1].struck:
        raise _bad_value(it, "there is no such temperature to strike out")
    _reasoned(it, order, "Say what was wrong with it.")
    return (it.draft(Kind.VALUE_STRUCK, order, value=n, reason=order.reason),)


def end(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """The step is done: judged by what was entered, and held where it does not follow."""
    return _end(it, order, "")


def fail(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """The step failed, as a person says: held until somebody decides."""
    _reasoned(it, order, "Say how it failed.")
    return _end(it, order, order.reason)


def _end(it: Here, order: StepOrder, failed: str) -> tuple[Draft, ...]:
    step, run = it.step, it.run
    assert step is not None
    assert run is not None
    if step.needs_temperature and not run.counted and not failed:
        raise OperatorError(
            "needs-temperature",
            f"No temperature was entered for {step.name}.",
            where=it.where,
            remedy="Measure it and enter it first.",
        )
    _not_before(it, order, run.latest_ms)
    judged = judge(step, run, order.when, failed)
    body: dict[str, Any] = {
        "ended": order.when,
        "outcome": str(judged.outcome),
        "judged": judged.as_json(),
        **({"reason": failed} if failed else {}),
    }
    drafts = (it.draft(Kind.STEP_ENDED, order, **body),)
    last = it.batch.process.at == len(it.batch.steps)
    if judged.outcome is Outcome.DONE and last:
        return (*drafts, _closed(it.batch))
    return drafts


def repeat(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """Do a held step again, or go back further and do all from there again."""
    _reasoned(it, order, "Say why it is done again.")
    at = it.batch.process.at
    again = at if order.from_step is None else order.from_step
    if not 1 <= again <= at:
        raise OperatorError(
            "not-this-step", f"Step {again} is none to go back to; {at} is held.", where=it.where
        )
    body = {"decision": str(Decision.REPEAT), "from_step": again, "reason": order.reason}
    return (it.draft(Kind.STEP_DECIDED, order, **body),)


def accept(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """Let a held step pass, with a reason; never a heat treatment."""
    step, run = it.step, it.run
    assert step is not None
    assert run is not None
    if step.table is not None:
        raise OperatorError(
            "heat-treatment-open",
            "A heat treatment cannot be let pass. " + in_words(step, run.judged or {"faults": []}),
            where=it.where,
            remedy="Do it again, or discard the batch.",
        )
    _reasoned(it, order, "Say why it may pass.")
    drafts = (it.draft(Kind.STEP_DECIDED, order, decision="accept", reason=order.reason),)
    last = it.batch.process.at == len(it.batch.steps)
    return (*drafts, _closed(it.batch)) if last else drafts


def note(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """Write something down with the newest step."""
    last = _last(it)
    if last is None:
        raise OperatorError("not-now", "No step has begun yet.", where=it.where)
    if not order.note:
        raise OperatorError("no-note", "There is nothing to note.", where=it.where)
    return (Draft(Kind.STEP_NOTED, {"step": last, "by": order.by, "note": order.note}),)


def close(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """Close a batch before all its steps are done; not while a heat treatment is open."""
    step = next((one for _, one in heat_open(it.batch)), None)
    if step is not None:
        raise OperatorError(
            "heat-treatment-open",
            f"The heat treatment ({step.name}) is not satisfied: the batch cannot be closed.",
            where=it.where,
            remedy="Do it, or discard the batch.",
        )
    _reasoned(it, order, "Say why it is closed before all steps are done.")
    return (_closed(it.batch, early={"reason": order.reason, "by": order.by}),)


def discard(it: Here, order: StepOrder) -> tuple[Draft, ...]:
    """Send the batch off; what was done stays in the record."""
    _reasoned(it, order, "Say why it is discarded.")
    body = {"step": it.batch.process.at, "reason": order.reason, "by": order.by}
    return (Draft(Kind.ABANDONED, body),)


def heat_open(batch: Batch) -> list[tuple[int, ProcessStep]]:
    """The heat treatments that are not satisfied, each with its number."""
    return [
        (n, one)
        for n, one in enumerate(batch.steps, start=1)
        if one.table is not None and batch.process.done(n) is None
    ]


TABLE: dict[tuple[State, Ask], Rule] = {
    (State.WAITING, Ask.BEGIN): begin,
    (State.WAITING, Ask.NOTE): note,
    (State.WAITING, Ask.CLOSE): close,
    (State.WAITING, Ask.DISCARD): discard,
    (State.RUNNING, Ask.ENTER): enter,
    (State.RUNNING, Ask.STRIKE): strike,
    (State.RUNNING, Ask.END): end,
    (State.RUNNING, Ask.FAIL): fail,
    (State.RUNNING, Ask.NOTE): note,
    (State.RUNNING, Ask.DISCARD): discard,
    (State.HELD, Ask.REPEAT): repeat,
    (State.HELD, Ask.ACCEPT): accept,
    (State.HELD, Ask.NOTE): note,
    (State.HELD, Ask.CLOSE): close,
    (State.HELD, Ask.DISCARD): discard,
}


def can(batch: Batch) -> tuple[str, ...]:
    """What would be taken now, for pages to offer."""
    it = here(batch)
    state = batch.process.state(len(batch.steps))
    out = [do for (of, do) in TABLE if of is state]
    run = it.run
    if it.step is not None and it.step.table is not None and Ask.ACCEPT in out:
        out.remove(Ask.ACCEPT)
    if heat_open(batch) and Ask.CLOSE in out:
        out.remove(Ask.CLOSE)
    if it.step is not None and it.step.needs_temperature and run is not None and not run.counted:
        out = [one for one in out if one is not Ask.END]
    if (run is None or not any(not one.struck for one in run.values)) and Ask.STRIKE in out:
        out.remove(Ask.STRIKE)
    if not batch.process.runs and Ask.NOTE in out:
        out.remove(Ask.NOTE)
    return tuple(out)


# --- what rules share -----------------------------------------------------------------------------


def _closed(batch: Batch, early: Mapping[str, Any] | None = None) -> Draft:
    body = {"additions": len(batch.additions), "steps": len(batch.steps)}
    return Draft(Kind.CLOSED, {**body, **({} if early is None else {"early": True, **early})})


def _reasoned(it: Here, order: StepOrder, remedy: str) -> None:
    if not order.reason:
        raise OperatorError("needs-reason", "A reason is missing.", where=it.where, remedy=remedy)


def _bad_value(it: Here, message: str) -> OperatorError:
    return OperatorError("bad-value", f"{message[:1].upper()}{message[1:]}.", where=it.where)


def free_since(batch: Batch) -> str:
    """From when on the next step can have begun."""
    ended = [one.ended for one in batch.process.runs if one.ended is not None]
    return ended[-1] if ended else batch.weighed or batch.opened


def _not_before(it: Here, order: StepOrder, since_ms: int) -> None:
    """A time lies between what came before and now."""
    if milliseconds(order.when) > milliseconds(order.at):
        raise OperatorError("bad-time", "That time has not come yet.", where=it.where)
    if milliseconds(order.when) >= since_ms:
        return
    if order.taken:
        raise OperatorError(
            "bad-time",
            "It cannot have been before what came before it.",
            where=it.where,
            remedy="Say a later time.",
        )
    raise OperatorError(
        "clock-behind",
        "The clock of this station stands before what was recorded already.",
        where=it.where,
        remedy="Set the computer's clock right.",
    )
