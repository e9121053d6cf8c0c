"""A command for the batch that is weighed, as the domain takes it."""

from __future__ import annotations

from collections.abc import Generator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from weighd.domain.addition import Do, Order
from weighd.domain.batch import Batch, Scale
from weighd.domain.errors import OperatorError
from weighd.domain.record import Entry
from weighd.domain.recovery import Change, change_of
from weighd.domain.weighing import step
from weighd.station.inputs import Answer, Command

if TYPE_CHECKING:
    from weighd.station.station import Station


def order(station: Station, command: Command) -> Generator[Sequence[Entry], None, Answer]:
    """Do what is asked of the batch that is weighed. Raises as :func:`order_of` does, and what the
    addition refuses."""
    batch, asked = order_of(station, command)
    move = step(batch, station.now, asked)
    # A refusal that also holds the addition has no key: asked again, it is refused again.
    entries = yield from station.move(move, "" if move.refused else command.key)
    if move.refused is not None:
        raise move.refused
    return Answer(batch.id, entries[0].seq if entries else None)


def order_of(station: Station, command: Command) -> tuple[Batch, Order]:
    """The batch that a command is for, and the order. Raises :class:`OperatorError`."""
    batch = station.batch
    if batch is None or batch.current is None or command.batch not in ("", batch.id):
        raise OperatorError(
            "no-open-batch",
            f"Batch {command.batch} is not being weighed."
            if command.batch
            else "No batch is being weighed.",
            remedy="Start one first.",
        )
    try:
        do = Do(command.do)
    except ValueError:
        raise OperatorError(
            "unknown-command",
            f'"{command.do}" is not something a station does.',
            remedy="It takes: start, " + ", ".join(Do) + ".",
        ) from None
    if do is Do.USE_SCALE and command.scale in station.scales:
        station.checking.may_start(station, command.scale)
    lot, reason = station.stock.named(batch, command, station.at())
    return batch, Order(
        station.at(),
        do,
        command.by.strip() or batch.operator,
        station.scales[batch.current.scale].evidence(),
        command.addition,
        reason,
        lot,
        command.confirm,
        station.checking.let(station, batch, do),
        station.shelf.get(command.vessel),
        station.shelf.vessels(),
        _other(station, command.scale),
        _change(command) if do is Do.PUT_RIGHT else None,
        command.on_target_only,
    )


def _change(command: Command) -> Change | None:
    """How a pour is put right. Raises :class:`OperatorError`, ``bad-change``."""
    if command.change is None:
        return None
    try:
        _plain(command.change)
        return change_of(command.change)
    except (ArithmeticError, AttributeError, KeyError, TypeError, ValueError) as error:
        raise OperatorError(
            "bad-change",
            f"What was chosen is not as it should be ({error}).",
            remedy="Look at what can be done once more.",
        ) from error


def _other(station: Station, name: str) -> Scale | None:
    """The scale that a command names; ``None`` where it is not known, or not heard yet."""
    state = station.scales.get(name)
    return None if state is None else state.as_scale()


#: The longest text in a change, and how many values it may hold.
_LONGEST, _MOST = 200, 20_000


def _plain(change: Mapping[str, Any]) -> None:
    """Raises ``ValueError`` for what a record cannot carry, or nobody would read."""
    waiting: list[Any] = [change]
    for count in range(_MOST):
        if not waiting:
            return
        one = waiting.pop()
        if isinstance(one, Mapping):
            waiting += [*one.keys(), *one.values()]
        elif isinstance(one, list | tuple):
            waiting += one
        elif isinstance(one, str):
            if len(one) > _LONGEST or not one.replace("\u200d", "").isprintable():
                raise ValueError("it holds a text that is too long or cannot be shown")
        elif not isinstance(one, int) and one is not None:
            raise ValueError(f"value {count} is no text and no whole number")
    raise ValueError("it is too long")
