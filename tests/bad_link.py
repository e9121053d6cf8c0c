"""A bad link between client and server on loopback: slow, stalling, cut, or dead without a word.

In a test::

    with BadLink(port, Weather(delay_s=0.1, jitter_s=0.05, cut_each=40_000), seed=7) as link:
        page.goto(link.url)
        link.stall(3)          # nothing gets through for three seconds, and then all of it
        link.cut(silent=True)  # what is open now is dead, and neither side hears of it
        link.weather = CALM

What goes through is kept in order, as TCP keeps it, and up to :data:`HELD` bytes wait in each
direction, as in a router that is told to lose nothing. The same seed cuts and stalls alike as far
as the same bytes come.
"""

from __future__ import annotations

import asyncio
import contextlib
import random
import threading
from dataclasses import dataclass
from types import TracebackType

#: Bytes that wait in each direction of a connection before more are taken.
HELD = 256 * 1024
#: As much as a packet carries.
_PACKET = 1400
#: Nothing that is asked of the thread takes longer, in seconds.
_PATIENCE_S = 10.0


@dataclass(frozen=True, slots=True)
class Weather:
    """How a link is at the moment.

    ``delay_s``, ``jitter_s``  a packet is on its way for so long, and up to so much longer.
    ``bytes_per_s``            what it carries in each direction; ``None`` for any amount.
    ``stall_each``, ``stall_s``  a stall comes after so many bytes (mean), and lasts up to so long.
    ``cut_each``               a connection is cut after so many bytes (mean), wherever that falls.
    ``silent``                 the share of cuts of which neither side hears (no FIN, no RST).
    ``away``                   new connections lead nowhere: they are taken, and nothing answers.
    """

    delay_s: float = 0.0
    jitter_s: float = 0.0
    bytes_per_s: float | None = None
    stall_each: float | None = None
    stall_s: float = 0.0
    cut_each: float | None = None
    silent: float = 0.0
    away: bool = False


CALM = Weather()


@dataclass(eq=False, slots=True)
class _Pair:
    """A connection and the one behind it."""

    writers: tuple[asyncio.StreamWriter, asyncio.StreamWriter]
    dead: bool = False


class BadLink:
    """Listens on ``port`` of loopback and passes on to ``to``, while its ``with`` lasts.

    ``weather``  may be changed at any time. ``cuts``, ``silences``, ``stalls`` say what came of it.
    """

    def __init__(self, to: int, weather: Weather = CALM, *, seed: int = 1) -> None:
        self.to = to
        self.weather = weather
        self.port = 0
        self.cuts = self.silences = self.stalls = self.connections = 0
        self._seed = seed
        self._still_until = 0.0
        self._pairs: set[_Pair] = set()
        self._tasks: set[asyncio.Task[None]] = set()
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="bad link", daemon=True)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    def __enter__(self) -> BadLink:
        self._thread.start()
        self.port = asyncio.run_coroutine_threadsafe(self._listen(), self._loop).result(_PATIENCE_S)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        asyncio.run_coroutine_threadsafe(self._end(), self._loop).result(_PATIENCE_S)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(_PATIENCE_S)
        self._loop.close()

    # --- what a test does to it ---------------------------------------------------------------

    def stall(self, seconds: float) -> None:
        """Let nothing through for so long; what comes meanwhile comes afterwards, all at once."""
        self._loop.call_soon_threadsafe(self._stall, seconds)

    def cut(self, *, silent: bool = False) -> None:
        """Cut every connection that there is; ``silent`` lets neither side know."""

        def all_of_them() -> None:
            for pair in list(self._pairs):
                self._cut(pair, silent=silent)

        self._loop.call_soon_threadsafe(all_of_them)

    # --- the thread ---------------------------------------------------------------------------

    async def _listen(self) -> int:
        self._server = await asyncio.start_server(self._connected, "127.0.0.1", 0)
        port: int = self._server.sockets[0].getsockname()[1]
        return port

    async def _end(self) -> None:
        self._server.close()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        for pair in self._pairs:
            for writer in pair.writers:
                writer.transport.abort()
        await asyncio.sleep(0)

    def _stall(self, seconds: float) -> None:
        self.stalls += 1
        self._still_until = max(self._still_until, self._loop.time() + seconds)

    def _cut(self, pair: _Pair, *, silent: bool) -> None:
        if pair.dead:
            return
        pair.dead = True
        if silent:
            self.silences += 1  # kept open: both sides go on sending into it
            return
        self.cuts += 1
        self._pairs.discard(pair)
        for writer in pair.writers:
            writer.transport.abort()

    async def _connected(self, here: asyncio.StreamReader, up: asyncio.StreamWriter) -> None:
        self.connections += 1
        chance = random.Random(f"{self._seed}/{self.connections}")
        if self.weather.away:
            self._pairs.add(_Pair((up, up), dead=True))
            return
        await asyncio.sleep(2 * self.weather.delay_s)  # the handshake
        try:
            there, down = await asyncio.open_connection("127.0.0.1", self.to)
        except OSError:
            up.transport.abort()
            return
        pair = _Pair((up, down))
        self._pairs.add(pair)
        for reader, writer in ((here, down), (there, up)):
            task = asyncio.create_task(self._carry(pair, reader, writer, chance.random()))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)

    async def _carry(
        self, pair: _Pair, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, seed: float
    ) -> None:
        """Take what one side says, and give it to the other when it is due."""
        chance = random.Random(seed)
        due: asyncio.Queue[tuple[float, bytes]] = asyncio.Queue(HELD // _PACKET)
        giving = asyncio.create_task(self._give(pair, due, writer, chance))
        free = 0.0
        last = 0.0
        try:
            while data := await reader.read(_PACKET):
                it, now = self.weather, self._loop.time()
                took = 0.0 if it.bytes_per_s is None else len(data) / it.bytes_per_s
                free = max(free, now) + took
                last = max(last, free + it.delay_s + chance.random() * it.jitter_s)
                await due.put((last, data))
            await due.put((last, b""))
            await giving
        except ConnectionError:
            self._cut(pair, silent=False)
        finally:
            giving.cancel()

    async def _give(
        self,
        pair: _Pair,
        due: asyncio.Queue[tuple[float, bytes]],
        writer: asyncio.StreamWriter,
        chance: random.Random,
    ) -> None:
        to_cut, to_stall = self._draw(chance, self.weather)
        of = self.weather
        while True:
            at, data = await due.get()
            await self._until(at)
            if pair.dead:
                continue
            if self.weather is not of:
                of = self.weather
                to_cut, to_stall = self._draw(chance, of)
            if not data:
                with contextlib.suppress(OSError, RuntimeError):
                    writer.write_eof()
                return
            writer.write(data[: int(min(to_cut, len(data)))])
            with contextlib.suppress(ConnectionError):
                await writer.drain()
            to_cut -= len(data)
            to_stall -= len(data)
            if to_cut <= 0:
                self._cut(pair, silent=chance.random() < of.silent)
            elif to_stall <= 0:
                self._stall(chance.uniform(0.2, 1.0) * of.stall_s)
                _, to_stall = self._draw(chance, of)

    async def _until(self, at: float) -> None:
        """Until it is due, and nothing stands still."""
        wait = 0.0
        while wait >= 0:
            wait = max(at, self._still_until) - self._loop.time()
            await asyncio.sleep(max(0.0, wait))

    @staticmethod
    def _draw(chance: random.Random, it: Weather) -> tuple[float, float]:
        """How many bytes come before the next cut and the next stall."""
        cut, stall = (
            chance.expovariate(1 / each) if each else float("inf")
            for each in (it.cut_each, it.stall_each)
        )
        return cut, stall
