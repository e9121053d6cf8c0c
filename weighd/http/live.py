"""The live link: every page gets the newest picture as soon as there is one, and no backlog.

1. Nothing is queued for anybody. A client is a number: the newest change it was sent. When
   something changed, and its last frame has left, it is sent what is newer than that number.
2. A frame is made once for all clients that stand at the same number.
3. A client that takes no frame for :data:`PATIENCE_S` is cut; it will come again and get a
   snapshot. One slow page never holds up another, nor the station.
4. What a network has on its way is a backlog too. A client that came with ``?seen`` says ``seen``
   of every frame, and is sent the next one only then. Each frame tells it in ``after`` how many
   seconds it was made after its ``seen`` was heard here (the first: after it came): with its own
   clock it then knows how old at most the picture is, however slow the way.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Protocol

from starlette.websockets import WebSocket, WebSocketDisconnect

from weighd.http.door import ended_in

BEAT_S = 1.0
#: Frames are no closer than this: with many scales a page is shown several in one, and no screen
#: shows more than this many. Nor closer than this for each who listens, so that telling a hundred
#: of them takes some quarter of a processor at most, and weighing is not late for it.
PACE_S = 1 / 120
EACH_S = 0.0002
PATIENCE_S = 10.0
MOST_CLIENTS = 500
#: A resume is shorter than this, and nobody needs to ask more often in a second; a frame is seen
#: no more often than there are any.
LONGEST_MESSAGE = 512
MOST_MESSAGES = 20
MOST_SEEN = int(2 / PACE_S)

# Close codes of RFC 6455, 7.4.1, and 1013 of its registry.
_NOT_TEXT, _VIOLATION, _TOO_BIG, _TRY_LATER = 1003, 1008, 1009, 1013
_SEEN = '{"kind":"seen"}'
#: Whoever is here needs a snapshot.
_NOTHING = -1


class Numbered(Protocol):
    """A picture whose every change has a number."""

    @property
    def seq(self) -> int:
        """The number of its newest change."""

    @property
    def boot(self) -> str:
        """Tells one run of the daemon from the next."""

    def snapshot(self) -> dict[str, Any]:
        """All of it, as a frame."""

    def since(self, seq: int, /) -> dict[str, Any] | None:
        """What is newer than a number, as a frame; ``None`` when nothing is."""


@dataclass(slots=True, eq=False)
class _Client:
    news: asyncio.Event = field(default_factory=asyncio.Event)
    seen: int = _NOTHING
    asked: bool = False
    quiet: bool = False
    #: When it last said that it has seen a frame; ``None`` for one that does not say so.
    said: float | None = None
    took: asyncio.Event = field(default_factory=asyncio.Event)


class Live:
    """Those who watch the station over a websocket; the station's audience.

    ``picture``   what they are shown.
    ``beat_s``    a beat is sent after so many seconds in which nothing changed.
    ``timed``     its frames say when they were made: each is made for whoever it is sent to.
    """

    def __init__(
        self,
        picture: Numbered,
        *,
        beat_s: float = BEAT_S,
        patience_s: float = PATIENCE_S,
        timed: bool = False,
    ) -> None:
        self._picture = picture
        self._timed = timed
        self._beat_s = beat_s
        self.pace_s = PACE_S
        self._patience_s = patience_s
        self._clients: set[_Client] = set()
        self._frames: dict[int, str] = {}
        self._frames_of = 0
        self._woke = float("-inf")
        self._waking: asyncio.TimerHandle | None = None
        #: Others who want to be told of every change, in the event loop.
        self.also: list[Callable[[], None]] = []
        #: Clients cut because they took no frame in time.
        self.cut = 0

    @property
    def clients(self) -> int:
        """How many listen now."""
        return len(self._clients)

    def snapshot(self) -> dict[str, Any]:
        """The whole picture, as whoever comes is sent it first."""
        return self._picture.snapshot()

    def changed(self) -> None:
        """Wake whoever waits; called in the event loop after every change of the picture.

        All are woken together, so that they stand at the same number and share their frames.
        """
        for tell in self.also:
            tell()
        if self._waking is not None or not self._clients:
            return
        loop = asyncio.get_running_loop()
        pace = max(self.pace_s, EACH_S * len(self._clients))
        wait = self._woke + pace - loop.time()
        if wait > 0:
            self._waking = loop.call_later(wait, self._wake)
        else:
            self._wake()

    def _wake(self) -> None:
        self._waking, self._woke = None, asyncio.get_running_loop().time()
        for client in self._clients:
            client.news.set()

    async def listen(self, socket: WebSocket) -> None:
        """Serve one client until it goes, misbehaves or is cut."""
        if len(self._clients) >= MOST_CLIENTS:
            await socket.close(_TRY_LATER)
            return
        await socket.accept()
        client = _Client()
        if "seen" in socket.query_params:
            client.said = asyncio.get_running_loop().time()
        client.news.set()
        self._clients.add(client)
        tasks = [
            asyncio.create_task(self._hear(socket, client)),
            asyncio.create_task(self._tell(socket, client)),
        ]
        if (ended := ended_in(socket.scope)) is not None:
            tasks.append(asyncio.create_task(_until(ended)))
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        finally:
            self._clients.discard(client)
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
        codes = [code for code in (task.result() for task in done) if code is not None]
        if codes:
            # A client that was cut takes no close frame either; it is not waited for.
            with contextlib.suppress(TimeoutError, WebSocketDisconnect, RuntimeError):
                async with asyncio.timeout(min(1.0, self._patience_s)):
                    await socket.close(codes[0])

    async def _tell(self, socket: WebSocket, client: _Client) -> int | None:
        """Send whatever is newer, one frame at a time."""
        while True:
            try:
                async with asyncio.timeout(self._beat_s):
                    await client.news.wait()
            except TimeoutError:
                client.quiet = True
            client.news.clear()
            text = self._next(client)
            if text is None:
                continue
            if client.said is not None:
                text = (
                    f'{text[:-1]},"after":{asyncio.get_running_loop().time() - client.said:.3f}}}'
                )
            client.took.clear()
            try:
                async with asyncio.timeout(self._patience_s):
                    await socket.send_text(text)
                    if client.said is not None:
                        await client.took.wait()
            except TimeoutError:
                self.cut += 1
                return _TRY_LATER
            except WebSocketDisconnect:
                return None

    async def _hear(self, socket: WebSocket, client: _Client) -> int | None:
        """Take what the client says: that it wants to go on from a number, or has seen a frame."""
        loop = asyncio.get_running_loop()
        window, count, seen = loop.time(), 0, 0
        while True:
            message = await socket.receive()
            if message["type"] == "websocket.disconnect":
                return None
            now = loop.time()
            if now - window >= 1:
                window, count, seen = now, 0, 0
            text = message.get("text")
            if text == _SEEN and client.said is not None:
                seen += 1
                if seen > MOST_SEEN:
                    return _VIOLATION
                client.said = now
                client.took.set()
                continue
            count += 1
            if count > MOST_MESSAGES:
                return _VIOLATION
            if text is None:
                return _NOT_TEXT
            if len(text) > LONGEST_MESSAGE:
                return _TOO_BIG
            asked = _resume(text)
            if asked is None:
                return _VIOLATION
            seq, boot = asked
            known = boot == self._picture.boot and seq <= self._picture.seq
            client.seen = seq if known else _NOTHING
            client.asked = True
            client.news.set()

    def _next(self, client: _Client) -> str | None:
        """The frame to send now; ``None`` when there is none."""
        newest = self._picture.seq
        if client.seen < newest:
            text = self._frame(client.seen)
        elif client.asked:
            text = _dump({"kind": "change", "seq": newest})  # what it has still holds
        elif client.quiet:
            text = _dump({"kind": "beat", "seq": newest})
        else:
            return None
        client.seen, client.asked, client.quiet = newest, False, False
        return text

    def _frame(self, seen: int) -> str:
        """What is newer than ``seen``, made once for all who stand there."""
        if self._timed or self._frames_of != self._picture.seq:
            self._frames.clear()
            self._frames_of = self._picture.seq
        text = self._frames.get(seen)
        if text is None:
            frame = self._picture.snapshot() if seen == _NOTHING else self._picture.since(seen)
            text = _dump(frame or {"kind": "change", "seq": self._picture.seq})
            self._frames[seen] = text
        return text


async def _until(ended: asyncio.Event) -> int:
    """Wait until whoever listens is not let in any more."""
    await ended.wait()
    return _VIOLATION


def _resume(text: str) -> tuple[int, str] | None:
    """Number and boot of a ``resume``; ``None`` for anything else."""
    try:
        asked = json.loads(text)
    except (ValueError, RecursionError):
        return None
    if not isinstance(asked, dict) or asked.get("kind") != "resume":
        return None
    seq, boot = asked.get("seq"), asked.get("boot", "")
    if isinstance(seq, bool) or not isinstance(seq, int) or seq < 0 or not isinstance(boot, str):
        return None
    return seq, boot


def _dump(frame: dict[str, Any]) -> str:
    return json.dumps(frame, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
