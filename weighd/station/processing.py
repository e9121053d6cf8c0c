"""What people ask of a batch in process, as the domain takes it; and its timers.

Times come from the clock of the station, or are said by a person as so long ago. Nothing waits for
a time: the picture is drawn anew each second while a step goes on, and says how long it has.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from weighd.domain.addition import Draft
from weighd.domain.duration import read_duration
from weighd.domain.errors import OperatorError
from weighd.domain.process_orders import Ask, StepOrder, ask
from weighd.domain.process_run import State
from weighd.station.inputs import Command

if TYPE_CHECKING:
    from weighd.domain.batch import Batch
    from weighd.station.station import Station

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
    step = next(iter(batch.steps[batch.process.at - 1 :]), None)
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
    )


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


def tick(station: Station) -> None:
    """Have the timers drawn anew while a step goes on."""
    running = any(
        one.process.state(len(one.steps)) is State.RUNNING for one in station.off_bench.in_process()
    )
    if running and station.t - station.off_bench.drawn_t >= DRAWN_S:
        station.off_bench.drawn_t = station.t
        station.mark("process")
