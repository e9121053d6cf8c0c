"""A station is a fold over its inputs.

1. ``handle(input)`` is a generator: it yields the entries that must be durable before anything
   is shown, and goes on when they are; if they cannot be written, the caller throws the
   :class:`~weighd.domain.errors.JournalError` in, and nothing happened.
2. Everything is derived from the inputs: the same inputs give the same entries, byte for byte.
   Deadlines (a scale fallen silent) are met at their own moment, however late a tick comes.
3. The batch changes only by its entries; a station started on a journal stands where the
   station stood that wrote it.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from math import inf
from typing import Any

from weighd.domain.addition import (
    Do,
    Draft,
    Link,
    LinkEvent,
    Move,
    Now,
    Seen,
    begin,
    poured_from,
)
from weighd.domain.batch import Batch, Kind, Status
from weighd.domain.check_standing import Past
from weighd.domain.clock_said import Wall
from weighd.domain.errors import JournalError
from weighd.domain.fold import evolve, fold
from weighd.domain.lots import Lot
from weighd.domain.metrology import Rule
from weighd.domain.reading import Reading
from weighd.domain.record import Body, Entry, Tail, seal
from weighd.domain.settling import Finding
from weighd.domain.weighing import can
from weighd.station import checking, ordering, processing, sharing, stock
from weighd.station.after_weighing import after_weighing, takes
from weighd.station.answers import Answers
from weighd.station.forgetting import forget
from weighd.station.guiding import Guiding
from weighd.station.inputs import (
    NOBODY,
    Answer,
    CameDown,
    ClockSet,
    Command,
    Heard,
    Input,
    LinkFound,
    LinkLost,
    PutAway,
    Recalled,
    Tick,
    check_text,
)
from weighd.station.notices import Notices
from weighd.station.off_bench import OffBench
from weighd.station.scale import LinkState, ScaleState, Setup
from weighd.station.seeing import Seeing
from weighd.station.starting import start
from weighd.station.vessel_shelf import VESSEL_COMMANDS, Kept, VesselShelf
from weighd.station.wall_clock import WallClock

Steps = Generator[Sequence[Entry], None, Answer | None]


class Station:
    """One station: its scales, the batch on the bench, and the end of its journal.

    ``history``  the entries of the batch that is still open, oldest first.
    ``made``     how many batches the journal holds, for the next one's number.
    ``past``     the checks of its scales that the journal holds, as far as they count.
    ``vessels``  the vessels whose mass is known; ``lots``, those that were received;
                 ``shared``, what is known of other stations, where it shares with some.
    """

    def __init__(
        self,
        name: str,
        scales: Iterable[Setup],
        *,
        tail: Tail | None = None,
        history: Sequence[Entry] = (),
        made: int = 0,
        rule: Rule | None = None,
        version: str = "",
        past: Mapping[str, Past] | None = None,
        vessels: Iterable[Kept] = (),
        lots: Iterable[Lot] = (),
        shared: sharing.Shared | None = None,
        wall: Wall | None = None,
    ) -> None:
        self.name = name
        self.version = version
        self.rule = rule or Rule()
        self.scales: dict[str, ScaleState] = {one.name: ScaleState(one) for one in scales}
        self.batch: Batch | None = fold(history)
        self.now = Now() if self.batch is None else begin(self.batch, restarted=True)
        self.off_bench = OffBench()
        self.guiding = Guiding()
        self.seeing = Seeing()
        self.checking = checking.Checking(past or {})
        self.shelf = VesselShelf(vessels)
        self.stock = stock.Stock(lots, name, shared, wall)
        self.notices = Notices()
        #: What is to be told once it is known what time it is: level, code and particulars.
        self.to_tell: list[tuple[str, str, str]] = []
        self.store_error: JournalError | None = None
        self.dirty: set[str] = set()
        #: Batches closed or abandoned since the start: what was learned in them can be stored.
        self.finished = 0
        #: Told of every reading after it was taken in: for whoever looks on at a replay.
        self.onlooker: Callable[[ScaleState, Reading, Finding], None] | None = None
        self._tail = tail or Tail()
        self.made = made
        self._t = 0.0
        self._clock = WallClock()
        self._answers = Answers()
        self._asked = NOBODY
        #: No scale becomes silent before.
        self._silence_at = inf
        for entry in history:
            self._answers.remember(entry)

    # --- the fold -----------------------------------------------------------------------------

    def handle(self, event: Input) -> Steps:
        """Take one input; yield what must be written; return the answer to a command.

        Raises :class:`OperatorError` for a command that cannot be met, and
        :class:`JournalError` when what it decided could not be written.
        """
        self._t = max(self._t, event.t)
        if self._t >= self._silence_at:
            yield from self._silences()
        if self.seeing.owes:
            yield from self.seeing.late(self)
        self.checking.idle(self)
        self._asked = event if isinstance(event, Command) else NOBODY
        match event:
            case Heard():
                yield from self._heard(event)
            case LinkLost():
                yield from self._gone(event.scale, LinkState.LOST, event.why)
            case LinkFound():
                self.scales[event.scale].found(event.what, event.facts)
                self.mark(f"scale:{event.scale}")
            case ClockSet():
                # What is due, and what may therefore be accepted, follows from the time of day.
                self.mark("live", "process", *(f"scale:{one}" for one in self.scales))
                yield from processing.clock_moved(self, self._clock.set(event))
            case Tick():
                self.checking.tick(self)
                yield from processing.tick(self)
            case Recalled():
                self.off_bench.recalled(event.entries)
                self.mark("process")
            case CameDown():
                yield from sharing.came_down(self, event)
            case PutAway():
                return (yield from self.off_bench.put_away(self, event))
            case Command():
                return (yield from self._command(event))
        return None

    def wake(self) -> Steps:
        """Once, before the first input but the clock: tell of a batch left open by a stop."""
        for told in self.to_tell:
            self.notice(*told)
        if self.batch is not None and self.batch.current is not None:
            body = {"addition": self.batch.current.n, "weighd": self.version}
            yield from self.write((Draft(Kind.RESTARTED, body),))
            self.notice("warn", "restarted", f"{len(self.batch.accepted)}")
        return None

    def can(self) -> tuple[str, ...]:
        """The commands that would be taken now."""
        if self.batch is None:
            return ()
        told = self.checking.offered(self, self.batch, can(self.batch, self.now))
        return told if len(self.scales) > 1 else tuple(it for it in told if it != Do.USE_SCALE)

    def at(self, t: float | None = None) -> str:
        """Wall time of a moment of the station's clock (now by default), RFC 3339 with ``Z``."""
        return self._clock.at(self._t if t is None else t)

    @property
    def t(self) -> float:
        """The station's clock: the time of the newest input, in seconds."""
        return self._t

    def seconds_from(self, clock: ClockSet) -> float:
        """How far the station's idea of wall time is from what the wall clock says."""
        return self._clock.drift(clock)

    def dismiss(self, notice: str) -> None:
        """Take a notice down."""
        self.notices.dismiss(notice)
        self.mark("station")

    # --- scales -------------------------------------------------------------------------------

    def _heard(self, event: Heard) -> Steps:
        scale = self.scales[event.scale]
        self.mark(f"scale:{scale.name}")
        readings = scale.feed(event.t, event.data)
        self._expect(scale)
        for reading in readings:
            weighs = self._weighs_on(scale.name)
            finding = scale.take(reading, poured_from(self.batch, scale.name) if weighs else None)
            if weighs:
                if scale.unit_before:
                    text = f"{scale.unit_before} {reading.unit}"
                    self.notice("info", "unit-changed", text, anew=True)
                yield from self._seen(scale, finding, reading)
                if self.batch is not None and scale.zero.still:
                    self.guiding.saw(self.batch, self.now, reading, finding, scale.noise_g)
            else:
                yield from self.checking.seen(self, scale, finding)
                scale.zero.taken()
            if self.onlooker is not None:
                self.onlooker(scale, reading, finding)
        self._expect(scale)
        return None

    def _expect(self, scale: ScaleState) -> None:
        """Silences are looked for when the first of them can have come, not at every input."""
        if (deadline := scale.silent_at) is not None:
            self._silence_at = min(self._silence_at, deadline)

    def _seen(self, scale: ScaleState, finding: Finding, reading: Reading) -> Steps:
        zero = scale.zero
        seen = Seen(
            self.at(),
            finding,
            reading.grams,
            zero.jump,
            zero.jumping,
            scale.evidence,
            scale.step_g,
            scale.first,
            scale.nought,
        )
        if (yield from self.seeing.sight(self, seen)):
            zero.taken()
        return None

    def _silences(self) -> Steps:
        for scale in self.scales.values():
            deadline = scale.silent_at
            if deadline is not None and deadline <= self._t:
                late, self._t = self._t, deadline
                try:
                    yield from self._gone(scale.name, LinkState.SILENT, scale.why_silent)
                finally:
                    self._t = late
        self._silence_at = inf
        for scale in self.scales.values():
            self._expect(scale)
        return None

    def _gone(self, name: str, link: LinkState, why: str) -> Steps:
        scale = self.scales[name]
        before = scale.gone(link, why)
        self.mark(f"scale:{name}")
        self.checking.gone(self, name)
        if self.current_on(name):
            self.guiding.nothing()
            what = Link.LOST if link is LinkState.LOST else Link.SILENT
            event = LinkEvent(self.at(), what, before, name)
            yield from self.seeing.gone(self, event)
        return None

    def _weighs_on(self, scale: str) -> bool:
        return self.current_on(scale) and not self.checking.holds(scale)

    def current_on(self, scale: str) -> bool:
        """Whether the current addition is to be weighed there, whatever stands there now."""
        current = self.batch.current if self.batch else None
        return current is not None and current.scale == scale

    # --- commands -----------------------------------------------------------------------------

    def _command(self, command: Command) -> Steps:
        check_text(command)
        if (done := self._answers.again(command.key)) is not None:
            return done
        if command.do == "start":
            answer = yield from start(self, command)
        elif command.do == "forget scale":
            answer = forget(self, command.scale)
        elif command.do in checking.COMMANDS:
            answer = self.checking.command(self, command)
        elif command.do in VESSEL_COMMANDS:
            answer = self.shelf.command(self, command)
        elif command.do in stock.COMMANDS:
            answer = yield from self.stock.command(self, command)
        elif takes(self, command):
            answer = yield from after_weighing(self, command)
        else:
            answer = yield from ordering.order(self, command)
        self._answers.keep(command.key, answer)
        return answer

    # --- entries ------------------------------------------------------------------------------

    def move(self, move: Move, key: str = "") -> Generator[Sequence[Entry], None, Sequence[Entry]]:
        """Let a move of the current addition take effect, whole or not at all."""
        entries = yield from self.write(move.drafts, key)
        self.now = move.now
        self.mark("live")
        return entries

    def write(
        self, drafts: Sequence[Draft], key: str = "", batch: Batch | None = None
    ) -> Generator[Sequence[Entry], None, Sequence[Entry]]:
        """Seal the drafts, have them written, and only then let the batch have them.

        ``batch``  the batch they are of, on the bench or off it; the one on the bench.
        """
        was = batch or self.batch
        assert was is not None
        if not drafts:
            return ()
        batch = was
        tail, entries = self._tail, list[Entry]()
        for draft in drafts:
            body = self._stamped(draft.body)
            body |= {"batch": batch.id, "n": batch.n + 1, "after": batch.after}
            if key and not entries:
                body["key"] = key
            entry = seal(self.name, str(draft.kind), self.at(), body, tail)
            batch, tail = evolve(batch, entry), Tail(entry.seq, entry.hash)
            entries.append(entry)
        yield from self._append(entries)
        # What its scales taught can be stored once it was all weighed.
        self.finished += was.status is Status.OPEN and batch.status is not Status.OPEN
        self.take(batch)
        return entries

    def take(self, batch: Batch) -> None:
        """Let a batch stand as its newest entry left it, wherever it is shown."""
        if batch.status is Status.OPEN or (self.batch is not None and batch.id == self.batch.id):
            self.batch = batch
            self.mark("batch")
        self.off_bench.put(batch)
        self.mark("process")

    def enter(self, kind: str, body: Body) -> Generator[Sequence[Entry], None, Entry]:
        """An entry that no batch has yet, or ever. Raises :class:`JournalError`."""
        entry = seal(self.name, kind, self.at(), self._stamped(body), self._tail)
        yield from self._append((entry,))
        return entry

    def _stamped(self, body: Body) -> dict[str, Any]:
        return self.stock.wall.stamped(self.at(), self._asked.stamped(body))

    def _append(self, entries: Sequence[Entry]) -> Generator[Sequence[Entry], None, None]:
        try:
            yield entries
        except JournalError as error:
            if self.store_error is None or self.store_error.code != error.code:
                self.notice("error", error.code, str(error))
            self.store_error = error
            self.mark("station")
            raise
        if self.store_error is not None:
            self.store_error = None
            self.mark("station")
        self._tail = Tail(entries[-1].seq, entries[-1].hash)
        self.stock.take(self, entries)

    # --- what the page keeps --------------------------------------------------------------------

    def notice(self, level: str, code: str, text: str, *, anew: bool = False) -> None:
        """Tell whoever looks at the page."""
        self.notices.tell(level, code, text, self.at(), anew=anew)
        self.mark("station")

    def mark(self, *sections: str) -> None:
        """Have these sections of the picture drawn anew."""
        self.dirty.update(sections)
