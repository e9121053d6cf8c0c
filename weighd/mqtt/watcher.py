"""Whoever watches the floor: everything that stations say, into one :class:`Floor`."""

from __future__ import annotations

import asyncio
import secrets
import threading
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from typing import TYPE_CHECKING, Protocol

from weighd.mqtt.link import ANSWER_S, LinkError, Patience, connect, either
from weighd.station.floor import Floor
from weighd.station.floor_broker import Broker
from weighd.station.floor_topics import RETAINED, VERSION, topic

if TYPE_CHECKING:
    from aiomqtt import Client

TICK_S = 0.5
#: Stations send a few messages a second each. Whoever sends us more than this is none, and would
#: keep the processor from weighing: then we do not listen for a while.
MOST_A_SECOND, DEAF_S = 2000, 60.0


class Clock(Protocol):
    """Time of whoever watches."""

    def now(self) -> float:
        """Seconds; never falls."""

    def utc(self) -> str:
        """Wall time, RFC 3339."""


class Watcher:
    """Feeds a floor. ``guard`` is held while it is touched; ``changed`` is told of every change."""

    def __init__(
        self,
        broker: Broker,
        floor: Floor,
        clock: Clock,
        *,
        guard: threading.Lock | None = None,
        changed: Callable[[], None] = lambda: None,
        trouble: Callable[[str], None] = lambda _: None,
        answer_s: float = ANSWER_S,
        patience: Patience | None = None,
        most_a_second: int = MOST_A_SECOND,
    ) -> None:
        self.floor = floor
        self._broker = broker
        self._clock = clock
        self._guard: AbstractContextManager[object] = guard or nullcontext()
        self._changed, self._trouble = changed, trouble
        self._patience = patience or Patience()
        self._most, self._answer_s = most_a_second, answer_s
        self._told = floor.changed

    async def run(self) -> None:
        """Listen until cancelled."""
        while True:
            wait: float | None = None
            try:
                await self._listen()
            except _FloodError as error:
                why, wait = str(error), DEAF_S
            except LinkError as error:
                why = str(error)
            self._trouble(why)
            with self._guard:
                self.floor.cut(self._clock.now(), self._clock.utc(), why)
            self._tell()
            await asyncio.sleep(self._patience.wait_s() if wait is None else wait)

    async def _listen(self) -> None:
        identifier = f"{self._broker.top}-floor-{secrets.token_hex(6)}"
        async with connect(self._broker, identifier, patience_s=self._answer_s) as client:
            with self._guard:
                self.floor.connected(self._clock.now(), self._clock.utc())
            await client.subscribe(f"{self._broker.top}/{VERSION}/+/+", qos=1)
            self._trouble("")
            self._tell()
            await either(asyncio.create_task(self._hear(client)), asyncio.create_task(self._tick()))

    async def _hear(self, client: Client) -> None:
        second, count = self._clock.now(), 0
        async for message in client.messages:
            now = self._clock.now()
            if now - second >= 1:
                second, count = now, 0
                self._patience.met()
            count += 1
            if count > self._most:
                raise _FloodError(
                    f"{self._broker}: more than {self._most} messages a second came, which no "
                    "stations send; listening again in a minute"
                )
            with self._guard:
                self.floor.take(
                    str(message.topic),
                    message.payload,
                    retained=bool(message.retain),
                    now=now,
                    utc=self._clock.utc(),
                )
            self._tell()

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(TICK_S)
            with self._guard:
                self.floor.tick(self._clock.now(), self._clock.utc())
            self._tell()

    def _tell(self) -> None:
        if self.floor.changed != self._told:
            self._told = self.floor.changed
            self._changed()


class _FloodError(LinkError):
    """More than stations send."""


async def forget(broker: Broker, station: str) -> None:
    """Take everything that is kept of a station off the broker. Raises :class:`LinkError`."""
    async with connect(broker, f"{broker.top}-floor-{secrets.token_hex(6)}") as client:
        for section in RETAINED:
            await client.publish(topic(broker.top, station, section), b"", qos=1, retain=True)
