"""What people ask of a batch in process, as the domain takes it; and its timers.

Times come from the clock of the station, or are said by a person as so long ago. Nothing waits for
a time: the picture is drawn anew each second while a step goes on, and says how long it has.
"""

from __future__ import annotations

from collections.abc import Generator, Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from weighd.domain.addition import Draft
from weighd.domain.cautions import DRY_ICE
from weighd.domain.dry_ice import FIELDS
from weighd.domain.duration import read_duration
from weighd.domain.errors import JournalError, OperatorError
from weighd.domain.kinds import Kind
from weighd.domain.process_orders import Ask, StepOrder, ask
from weighd.domain.process_run import State
from weighd.domain.record import Entry
from weighd.station.clock_doubt import doubt
from weighd.station.inputs import Command
from weighd.station.loss import read_for_later
from weighd.station.process_picture import counts

if TYPE_CHECKING:
    from weighd.domain.batch import Batch
    from weighd.domain.process import ProcessStep
    from weighd.station.station import Station

Steps = Generator[Sequence[Entry], None, None]
#: How often the picture of a step that goes on is drawn anew, in seconds.
DRAWN_S = 1.0


def step_drafts(station: Station, batch: Batch, command: Command) -> tuple[Draft, ...]:
    """The entries that come of what is asked of a batch in process.

    Raises :class:`OperatorError` for what cannot be.
    """
    return ask(batch, order_of(station, batch, command))


def order_of(station: Station, batch: Batch, command: Command) -> StepOrder:
    """The order that a command is. Raises :class:`OperatorError`."""
    by = command.by.strip()
    at = batch.process.at
    step = batch.steps[at - 1] if command.step == at <= len(batch.steps) else None
    if command.do == Ask.BEGIN and step is not None and step.cautions and not by:
        raise OperatorError(
            "no-operator",
            "Nobody is named as confirming the cautions.",
            remedy="Say who begins the step.",
        )
    return StepOrder(
        station.at(),
        Ask(command.do),
        by or batch.operator,
        command.step,
        command.temperature.strip(),
        command.held.strip(),
        _taken(station, command.ago.strip()),
        command.value,
        tuple(command.confirmed),
        command.pair.strip(),
        command.from_step,
        command.reason.strip(),
        command.note.strip(),
        _dry_ice(station, step, command),
    )


def _dry_ice(
    station: Station, step: ProcessStep | None, command: Command
) -> Mapping[str, Any] | None:
    """What is said of dry ice, and what of it stands on a scale now.

    Raises :class:`OperatorError`: ``unknown-field``, ``unknown-scale``, and what its weighing does.
    """
    if command.do != Ask.BEGIN or step is None or step.means != DRY_ICE:
        return None
    asked = dict(command.dry_ice or {})
    scale, tare = asked.pop("scale", "").strip(), asked.pop("tare_g", "")
    if unknown := sorted(set(asked) - set(FIELDS)):
        raise OperatorError(
            "unknown-field",
            f'"{unknown[0][:40]}" is nothing that is asked of dry ice.',
            where="dry_ice",
            remedy=f"There are: {', '.join((*FIELDS, 'scale', 'tare_g'))}.",
        )
    if not scale:
        return {"asked": asked}
    if scale not in station.scales:
        raise OperatorError(
            "unknown-scale",
            f'No scale is called "{scale[:80]}".',
            remedy=f"There are: {', '.join(station.scales) or 'none'}.",
        )
    tare_g = read_for_later("", "", tare).tare_g
    return {"asked": asked, "weighed": station.scales[scale].dry_ice(tare_g)}


def _taken(station: Station, ago: str) -> str:
    """The moment that a person says was so long ago; empty for now.

    Raises :class:`OperatorError`, ``bad-time``.
    """
    if not ago:
        return ""
    try:
        seconds = read_duration(ago, "s")
    except ValueError as error:
        raise OperatorError(
            "bad-time", f"{error}.", remedy='Say how long ago it was, like "5 min".'
        ) from None
    return station.at(station.t - float(seconds)) if seconds > Decimal(0) else ""


def tick(station: Station) -> Steps:
    """Have the timers drawn anew while one goes on."""
    due = station.t - station.off_bench.drawn_t >= DRAWN_S
    if due and any(counts(one) for one in station.off_bench.in_process()):
        station.off_bench.drawn_t = station.t
        station.mark("process")
    yield from tell_clock(station)


# --- the wall clock -------------------------------------------------------------------------------


def clock_moved(station: Station, seconds: float) -> Steps:
    """The wall clock was set: that is told, and no step that goes on gains or loses time by it."""
    if wrong := doubt(station.at(), station.stock.wall.newest, seconds):
        station.notice("warn", "clock-wrong", wrong, anew=True)
    for one in station.off_bench.in_process():
        if one.process.state(len(one.steps)) is State.RUNNING:
            moved = station.off_bench.clock_moved
            moved[one.id] = moved.get(one.id, 0.0) + seconds
    yield from tell_clock(station)


def tell_clock(station: Station) -> Steps:
    """Write down where it was set, if that is still to be done."""
    for batch in list(station.off_bench.clock_moved):
        try:
            yield from note_clock(station, batch)
        except JournalError:
            return  # tried again at the next tick, and before anything else is asked of the batch


def note_clock(station: Station, identity: str) -> Steps:
    """Write down that the clock was set in a step of this batch. Raises :class:`JournalError`."""
    seconds = station.off_bench.clock_moved.get(identity)
    batch = station.off_bench.get(identity)
    if seconds is None or batch is None:
        return
    runs, values = station.off_bench.earlier.get(identity, (0, 0))
    same = runs == len(batch.process.runs)
    body = {
        "step": batch.process.at,
        "was": station.at(station.t - seconds),
        "now": station.at(),
        "stand": {"begun": same, "values": values if same else 0},
    }
    yield from station.write((Draft(Kind.CLOCK_SET, body),), "", batch)
    del station.off_bench.clock_moved[identity]
