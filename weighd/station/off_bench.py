"""Batches that are off the bench: in process after weighing, and others that are asked about.

1. A batch in process is known from the moment it was all weighed, or from the journal after a
   start; any number of them go on side by side while another is weighed.
2. One that is over is taken up again (:class:`~weighd.station.inputs.Recalled`) when something is
   still to be recorded of it. It may be forgotten at any time: the journal has it.
3. Each changes only by its entries, as the batch on the bench does.
"""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from weighd.domain.away import PUT_AWAY
from weighd.domain.batch import Batch, Status
from weighd.domain.errors import OperatorError
from weighd.domain.fold import fold
from weighd.domain.process_orders import Ask
from weighd.domain.record import Entry
from weighd.station.inputs import Answer, PutAway

if TYPE_CHECKING:
    from weighd.station.inputs import Command
    from weighd.station.station import Station

RECORD_YIELD = "record yield"
#: Also of the batch that is weighed.
CORRECT = "correct"
#: Only of one that is over.
COUNTERSIGN = "countersign"
#: What can be asked of a batch that is off the bench; for one that is over the journal is asked.
COMMANDS: frozenset[str] = frozenset({*Ask, RECORD_YIELD, CORRECT, COUNTERSIGN})
#: Batches that are over and still known; of more the journal is asked again.
MOST_OVER = 32


class OffBench:
    """The batches of a station that are not weighed any more, as far as they are known."""

    def __init__(self) -> None:
        self._in_process: dict[str, Batch] = {}
        self._over: OrderedDict[str, Batch] = OrderedDict()
        #: When the timers of steps that go on were drawn last, on the station's clock.
        self.drawn_t = 0.0
        #: By how many seconds the wall clock was set in a step, where no entry says so yet.
        self.clock_moved: dict[str, float] = {}
        #: How many doings of steps, and values of the last, are of an earlier start of the station.
        self.earlier: dict[str, tuple[int, int]] = {}

    def get(self, batch: str) -> Batch | None:
        """A batch by its id; ``None`` where it is not known here."""
        return self._in_process.get(batch) or self._over.get(batch)

    def put_away(
        self, station: Station, event: PutAway
    ) -> Generator[Sequence[Entry], None, Answer]:
        """Note that batches are in an archive; they are known no more. Raises
        :class:`JournalError`."""
        entry = yield from station.enter(PUT_AWAY, event.body)
        for name in event.body["batches"]:
            self._over.pop(name, None)
        return Answer("", entry.seq)

    def in_process(self) -> tuple[Batch, ...]:
        """Those in process, in the order in which they came off the bench."""
        return tuple(self._in_process.values())

    def put(self, batch: Batch) -> None:
        """Take a batch as its newest entry left it; nothing while it is still weighed."""
        if batch.status is Status.IN_PROCESS:
            self._in_process[batch.id] = batch
        elif batch.is_over:
            self._in_process.pop(batch.id, None)
            self._over[batch.id] = batch
            self._over.move_to_end(batch.id)
            while len(self._over) > MOST_OVER:
                self._over.popitem(last=False)

    def recalled(self, entries: Iterable[Mapping[str, Any]]) -> None:
        """Take up a batch from its entries, as the journal has them."""
        batch = fold(Entry(**one) for one in entries)
        if batch is None or self.get(batch.id) is not None:
            return
        self.put(batch)
        runs = batch.process.runs
        self.earlier[batch.id] = (len(runs), len(runs[-1].values) if runs else 0)


def may_go(
    bench: Batch | None, stubs: Iterable[Entry], entries_of: Callable[[str], Sequence[Entry]]
) -> bool:
    """Whether batches can be put away now: nothing is weighed, and each is as its ``stubs`` have
    it. Raises :class:`JournalError`."""
    found = Counter(str(one.body["batch"]) for one in stubs)
    if bench is not None and (bench.status is Status.OPEN or bench.id in found):
        return False
    return all(len(entries_of(name)) == count for name, count in found.items())


def batch_of(station: Station, identity: str) -> Batch:
    """A batch off the bench.

    Raises :class:`OperatorError`, ``still-weighed`` or ``unknown-batch``.
    """
    batch = station.off_bench.get(identity)
    if batch is not None:
        return batch
    bench = station.batch
    if bench is not None and bench.id == identity:
        raise OperatorError(
            "still-weighed",
            f"Batch {identity} is still being weighed.",
            remedy="Weigh all of it first.",
        )
    raise OperatorError("unknown-batch", "There is no such batch.", remedy="See the list.")


def asks_for(station: Station, command: Command) -> bool:
    """Whether a command is for a batch that only the journal knows."""
    if command.do not in COMMANDS or not command.batch:
        return False
    bench = station.batch
    here = bench is not None and bench.id == command.batch
    return not here and station.off_bench.get(command.batch) is None


def without_evidence(entry: Entry) -> dict[str, object]:
    """An entry as a recording keeps it of a batch weighed before: less its readings.

    They prove the entry, and change nothing of what is still to be done.
    """
    body = {
        key: _without_lists(value) if key == "evidence" else value
        for key, value in entry.body.items()
    }
    return {**entry.as_json(), "body": body}


def _without_lists(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _without_lists(one) for key, one in value.items()}
    return [] if isinstance(value, list) else value
