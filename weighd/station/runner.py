"""The running station: one task that takes inputs in turn, writes first and shows after.

Scales deliver from threads of their own, people from the network; here they become one line.
The journal is written in a thread of its own, so that a slow disk holds up the next input and
nothing else. Only :class:`JournalError` and :class:`OperatorError` are expected of the fold;
anything else is a defect, and stops the station rather than weigh on in a state nobody knows.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

from weighd.domain.away import refuse_away
from weighd.domain.errors import JournalError, OperatorError, RecordError, WeighdError
from weighd.domain.record import Entry
from weighd.station.inputs import (
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
)
from weighd.station.keeping import Keeper
from weighd.station.off_bench import asks_for, may_go, without_evidence
from weighd.station.picture import Picture
from weighd.station.ports import Audience, Bytes, Clock, Found, Journal, Lost, Signal
from weighd.station.station import Station, Steps
from weighd.station.vessel_shelf import Kept, VesselStore

TICK_S = 0.25
#: The wall clock may drift from the station's by this much before it counts as stepped.
STEP_S = 0.5
#: Inputs that may wait; far more than a disk that answers at all lets pile up.
MOST_WAITING = 20_000
#: Inputs that may be taken in before pages are shown what became of them.
MOST_UNSHOWN = 64

Append = Callable[[Sequence[Entry]], None]
_Waiting = tuple[Input, asyncio.Future[Answer | None] | None]


class Runner:
    """Runs a station until cancelled. All but :meth:`deliver` belong to the event loop."""

    def __init__(
        self,
        station: Station,
        journal: Journal,
        clock: Clock,
        picture: Picture,
        audience: Audience,
        record: Callable[[Input], None] | None = None,
        keeper: Keeper | None = None,
        vessels: VesselStore | None = None,
        put_away: Callable[[Sequence[Entry], Sequence[Entry]], None] | None = None,
    ) -> None:
        self.station = station
        self.journal = journal
        self.picture = picture
        self.dropped = 0
        #: Inputs taken in since the start: a runner that goes on counts on, by its ticks at least.
        self.turns = 0
        self._clock = clock
        self._audience = audience
        self._record = record
        self._keeper = keeper
        self._vessels = vessels
        #: Appends an entry and has stubs stand in the place of others, both or neither.
        self._put_away = put_away
        self._finished = 0
        self._unshown = 0
        self._queue: asyncio.Queue[_Waiting] = asyncio.Queue()
        self._arrived: deque[Input] = deque()
        self._gathering = False
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stopped = False
        #: Set once the journal's open batch stands on the bench again: before, nothing is shown.
        self.awake = asyncio.Event()
        self._writer = ThreadPoolExecutor(1, thread_name_prefix="journal")

    async def run(self) -> None:
        """Take inputs in turn until cancelled."""
        self._loop = asyncio.get_running_loop()
        clock = self._heard_clock()
        if self._record is not None:
            self._record(clock)
        await self._drive(self.station.handle(clock))
        await self._drive(self.station.wake())
        loop = self._loop
        for entries in await loop.run_in_executor(self._writer, self.journal.in_process):
            await self._recall(entries)
        self._show()
        self.awake.set()
        ticking = asyncio.create_task(self._tick())
        try:
            while True:
                event, waiting = await self._queue.get()
                await self._take(event, waiting)
                self.turns += 1
                if self.turns % MOST_UNSHOWN == 0:
                    # A queue that has something in it gives without waiting: whoever else is in
                    # the loop (a page, a signal to end) would wait for all that has piled up.
                    await asyncio.sleep(0)
        finally:
            self._stopped = True
            ticking.cancel()
            self._refuse_waiting()
            self._writer.shutdown(wait=True)

    def deliver(self, scale: str, signal: Signal) -> None:
        """Take a signal of a scale, from whatever thread it comes."""
        match signal:
            case Bytes(t, data):
                event: Input = Heard(t, scale, data)
            case Lost(t, why):
                event = LinkLost(t, scale, why)
            case Found(t, what, facts):
                event = LinkFound(t, scale, what, facts)
        if self._loop is None or self._loop.is_closed():
            return
        self._arrived.append(event)
        if not self._gathering:  # the loop is woken once for all that come before it is there
            self._gathering = True
            self._loop.call_soon_threadsafe(self._gather)

    async def command(self, command: Command) -> Answer:
        """What a person asks for; ``command.t`` is set here.

        Raises what the station raises: :class:`OperatorError`, :class:`FormulaError`,
        :class:`JournalError`.
        """
        done = await self._known(command)
        if done is not None:
            return done
        if self._stopped:
            raise _stopping()
        future: asyncio.Future[Answer | None] = asyncio.get_running_loop().create_future()
        self._queue.put_nowait((replace(command, t=self._clock.now()), future))
        answer = await future
        assert answer is not None
        return answer

    async def came_down(
        self,
        at: str,
        entries: tuple[Mapping[str, Any], ...],
        sums: tuple[Mapping[str, Any], ...],
    ) -> None:
        """Take in what came down from the shared store (:class:`CameDown`)."""
        if self._stopped:
            raise _stopping()
        future: asyncio.Future[Answer | None] = asyncio.get_running_loop().create_future()
        self._queue.put_nowait((CameDown(self._clock.now(), at, entries, sums), future))
        await future

    async def put_away(self, body: Mapping[str, Any], stubs: Sequence[Entry]) -> None:
        """Have stubs stand in the place of batches that are in an archive (:class:`PutAway`).

        Raises :class:`OperatorError`, ``not-now`` while a batch is weighed, or where one of them
        changed; and :class:`JournalError`."""
        if self._stopped or self._put_away is None:
            raise _stopping()
        future: asyncio.Future[Answer | None] = asyncio.get_running_loop().create_future()
        self._queue.put_nowait((PutAway(self._clock.now(), body, tuple(stubs)), future))
        await future

    async def forget(self, scale: str) -> None:
        """Forget what was learned of a scale; raises as :meth:`command` does."""
        await self.command(Command(0.0, "forget scale", scale=scale))
        if self._keeper is not None:
            await asyncio.get_running_loop().run_in_executor(
                self._writer, self._keeper.forget, scale
            )

    async def keep_vessel(self, command: Command) -> Kept:
        """Take a vessel into the list (``keep vessel``); raises as :meth:`command` does."""
        name = command.vessel.strip()
        before = self.station.shelf.found(name)
        await self.command(replace(command, do="keep vessel"))
        kept = self.station.shelf.found(name)
        assert kept is not None
        await self._store_vessel(name, kept, before)
        return kept

    async def forget_vessel(self, name: str) -> None:
        """Take a vessel out of the list; raises as :meth:`command` does."""
        before = self.station.shelf.found(name)
        await self.command(Command(0.0, "forget vessel", vessel=name))
        await self._store_vessel(name, None, before)

    async def _store_vessel(self, name: str, kept: Kept | None, before: Kept | None) -> None:
        """Store the change; where that cannot be done it is taken back."""
        store = self._vessels
        if store is None:
            return
        loop = asyncio.get_running_loop()
        try:
            if kept is None:
                await loop.run_in_executor(self._writer, store.forget, name)
            else:
                await loop.run_in_executor(self._writer, store.keep, kept)
        except JournalError:
            self.station.shelf.put(name, before)
            self.station.dirty.add("station")
            self._show()
            raise

    def show(self, section: str) -> None:
        """Show a section of the picture that another than the station changed."""
        self.station.dirty.add(section)
        self._show()

    def later(self, section: str) -> Callable[[], None]:
        """What has :meth:`show` done soon, called from any thread."""

        def call() -> None:
            if self._loop is not None:
                with contextlib.suppress(RuntimeError):  # the station has ended meanwhile
                    self._loop.call_soon_threadsafe(self.show, section)

        return call

    async def dismiss(self, notice: str) -> None:
        """Take a notice down from every page."""
        self.station.dismiss(notice)
        self._show()

    def tell(self, level: str, code: str, text: str) -> None:
        """Tell whoever looks at the page something, from whatever thread it comes."""

        def told() -> None:
            self.station.notice(level, code, text, anew=True)
            self._show()

        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(told)

    def writer_turn(self) -> asyncio.Future[None]:
        """Done once the thread that writes the journal came to it, behind what it has to write."""
        return asyncio.get_running_loop().run_in_executor(self._writer, _nothing)

    def close(self) -> None:
        """Stop the writer thread of a runner that never ran."""
        self._writer.shutdown(wait=True)

    async def _known(self, command: Command) -> Answer | None:
        """The answer to a key used before the station's own memory begins."""
        if not command.key:
            return None
        entry = await asyncio.get_running_loop().run_in_executor(
            None, self.journal.entry_for_key, command.key
        )
        if entry is None:
            return None
        return Answer(entry.body.get("batch", ""), entry.seq, again=True)

    def _gather(self) -> None:
        self._gathering = False  # first: what comes from here on wakes the loop again
        while self._arrived:
            self._offer(self._arrived.popleft())

    def _offer(self, event: Input) -> None:
        if self._queue.qsize() >= MOST_WAITING:
            self.dropped += 1
            return
        self._queue.put_nowait((event, None))

    async def _recall(self, entries: Sequence[Entry]) -> None:
        """Take up a batch that is off the bench; a replay of the session has it so too."""
        event = Recalled(self.station.t, tuple(without_evidence(one) for one in entries))
        if self._record is not None:
            self._record(event)
        await self._drive(self.station.handle(event))

    async def _take(self, event: Input, waiting: asyncio.Future[Answer | None] | None) -> None:
        # Scales and people stamp their own times; the station's clock never falls.
        event = replace(event, t=max(event.t, self.station.t))
        if isinstance(event, Command) and asks_for(self.station, event):
            loop = asyncio.get_running_loop()
            entries = await loop.run_in_executor(self._writer, self.journal.batch, event.batch)
            try:
                if entries:
                    refuse_away(entries)
                    await self._recall(entries)
            except RecordError as error:  # of a batch that cannot be read: no reason to stop
                if waiting is not None and not waiting.done():
                    waiting.set_exception(error)
                return
        append: Append = self.journal.append
        try:
            if isinstance(event, PutAway):
                append = await self._putting(event)
            if self._record is not None:
                self._record(event)
            answer = await self._drive(self.station.handle(event), append)
        except WeighdError as error:
            if waiting is None:
                raise
            if not waiting.done():
                waiting.set_exception(error)
        else:
            if waiting is not None and not waiting.done():
                waiting.set_result(answer)
        # Of readings that wait in line only the last need be shown; whoever pressed sees at once.
        self._unshown += 1
        if waiting is not None or self._queue.empty() or self._unshown >= MOST_UNSHOWN:
            self._show()
        if self.station.finished > self._finished:
            self._finished = self.station.finished
            await self._keep_learned()

    async def _keep_learned(self) -> None:
        """A batch is over: what it taught of the scales is kept. It is no record: a store that
        refuses it now is asked again after the next batch."""
        if self._keeper is None:
            return
        news = self._keeper.news(self.station)
        loop = asyncio.get_running_loop()
        with contextlib.suppress(JournalError):
            await loop.run_in_executor(self._writer, self._keeper.keep, news, self._clock.utc())

    async def _putting(self, event: PutAway) -> Append:
        """How that is appended. Raises :class:`OperatorError` where it cannot be just now."""
        loop, told = asyncio.get_running_loop(), (self.station.batch, event.stubs)
        good = await loop.run_in_executor(self._writer, may_go, *told, self.journal.batch)
        if good and (put := self._put_away) is not None:
            return lambda entries: put(entries, event.stubs)
        raise OperatorError("not-now", "That cannot be put away just now.")

    async def _drive(self, steps: Steps, append: Append | None = None) -> Answer | None:
        loop, append = asyncio.get_running_loop(), append or self.journal.append
        try:
            entries = next(steps)
            while True:
                try:
                    await loop.run_in_executor(self._writer, append, entries)
                except JournalError as error:
                    entries = steps.throw(error)
                else:
                    entries = steps.send(None)
        except StopIteration as stop:
            answer: Answer | None = stop.value
            return answer

    def _show(self) -> None:
        self._unshown = 0
        if self.picture.refresh():
            self._audience.changed()

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(TICK_S)
            clock = self._heard_clock()
            drift = abs(self.station.seconds_from(clock))
            self._queue.put_nowait((clock if drift > STEP_S else Tick(clock.t), None))

    def _heard_clock(self) -> ClockSet:
        return ClockSet(self._clock.now(), self._clock.utc())

    def _refuse_waiting(self) -> None:
        while not self._queue.empty():
            _, waiting = self._queue.get_nowait()
            if waiting is not None and not waiting.done():
                waiting.set_exception(_stopping())


def _nothing() -> None:
    """A job for the writer, to see that it comes to its jobs."""


def _stopping() -> OperatorError:
    return OperatorError("stopping", "The station is stopping.", remedy="Start it again.")


def run_through(steps: Steps, append: Callable[[Sequence[Entry]], None]) -> Answer | None:
    """Drive one input of a station to its end without a loop: replays and tests."""
    try:
        entries = next(steps)
        while True:
            try:
                append(entries)
            except JournalError as error:
                entries = steps.throw(error)
            else:
                entries = steps.send(None)
    except StopIteration as stop:
        answer: Answer | None = stop.value
        return answer
