"""What one station says on the broker: the newest of each section, retained, and nothing older.

1. A section waits in one place until it was taken by the broker; a newer one replaces it there.
   So there is never a backlog, and whoever offers a section never waits.
2. After every connection everything is said again, presence last: a broker that lost all of it has
   all of it back, and nobody sees an old batch beside a new presence.
3. The broker has the last will: that the station is away. A station that stops says so itself.
4. Two stations of one name would write over each other for ever. Each hears what is said under its
   name; the one that began later gives way: it says so once a minute, until the name is free.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Protocol

from weighd.mqtt.link import ANSWER_S, LinkError, Patience, connect, either
from weighd.station.floor_broker import Broker
from weighd.station.floor_schema import LARGEST, fitting
from weighd.station.floor_topics import CLASH, PRESENCE, RETAINED, VERSION, level, topic

if TYPE_CHECKING:
    from aiomqtt import Client, Message

#: While it is here a station says so every so many seconds.
BEAT_S = 5.0
#: One that stands aside says so every so many seconds.
ASIDE_S = 60.0
#: The name is free again when the other one was not heard for so many of its beats.
BEATS = 4


class Clash(Protocol):
    """Whoever is told that another station uses our name."""

    def __call__(self, *, gives_way: bool) -> None:
        """``gives_way``: whether we do."""


def _nothing(*, gives_way: bool) -> None:
    """Nobody is told."""


class Publisher:
    """One station on the broker. :meth:`offer` and :meth:`finish` may be called in any thread.

    ``station``, ``version``, ``instance``, ``began``  who it is: its name, and this run of it.
    ``utc``    wall time now, for what the broker is to say in its place.
    ``trouble``  told in words of every change of the connection, with an empty text when it stands.
    ``clash``  told that another station uses the name.
    """

    def __init__(
        self,
        broker: Broker,
        station: str,
        *,
        version: str,
        instance: str,
        began: str,
        utc: Callable[[], str],
        beat_s: float = BEAT_S,
        aside_s: float = ASIDE_S,
        answer_s: float = ANSWER_S,
        patience: Patience | None = None,
        trouble: Callable[[str], None] = lambda _: None,
        clash: Clash = _nothing,
    ) -> None:
        self.station = station
        self.instance = instance
        self.beat_s = beat_s
        #: Of this run, so that whoever uses the name too is not thrown out, and heard instead.
        self.identifier = f"{broker.top}-{level(station)}-{instance}"
        #: Connections made so far, and sections that were too large to be said.
        self.connections = 0
        self.too_large = 0
        self._broker = broker
        self._version, self._began, self._utc = version, began, utc
        self._aside_s, self._answer_s = aside_s, answer_s
        self._patience = patience or Patience()
        self._trouble, self._clash = trouble, clash
        self._wanted: dict[str, str] = {}
        self._sent: dict[str, str] = {}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._news = asyncio.Event()
        self._finishing = False

    # --- from any thread ----------------------------------------------------------------------

    def offer(self, section: str, body: Mapping[str, Any]) -> None:
        """Have the newest of a section said; what waits of it is replaced."""
        text = self._payload(body)
        if len(text.encode("utf-8", "replace")) > LARGEST:
            self.too_large += 1
            return
        self._wanted[section] = text
        self._wake()

    def presence(self, state: str) -> None:
        """Have it said that the station is ``here``, or that it was ``stopped``."""
        self.offer(PRESENCE, self._present(state))

    def finish(self) -> None:
        """Say what is still to be said, and end."""
        self._finishing = True
        self._wake()

    def _wake(self) -> None:
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._news.set)

    def _present(self, state: str) -> dict[str, Any]:
        return {
            "state": state,
            "version": self._version,
            "began": self._began,
            "beat_s": self.beat_s,
        }

    def _payload(self, body: Mapping[str, Any]) -> str:
        head = {"v": VERSION, "station": self.station, "instance": self.instance}
        whole = {**head, "at": self._utc(), "clock": "station", **body}
        return json.dumps(whole, ensure_ascii=False, separators=(",", ":"), allow_nan=False)

    def _topic(self, section: str) -> str:
        return topic(self._broker.top, self.station, section)

    # --- in its own loop ----------------------------------------------------------------------

    async def run(self) -> None:
        """Keep what is on the broker what it should be, until cancelled or finished."""
        self._loop = asyncio.get_running_loop()
        while not self._finishing:
            try:
                await self._connected()
            except _GiveWay:
                await self._stand_aside()
            except LinkError as error:
                self._trouble(str(error))
                await self._pause(self._patience.wait_s())

    async def _pause(self, seconds: float) -> None:
        """Wait, but no longer than until it is to finish."""
        end = asyncio.get_running_loop().time() + seconds
        while not self._finishing:
            left = end - asyncio.get_running_loop().time()
            if left <= 0:
                return
            self._news.clear()
            try:
                async with asyncio.timeout(left):
                    await self._news.wait()
            except TimeoutError:
                return

    async def _connected(self) -> None:
        import aiomqtt

        will = aiomqtt.Will(
            self._topic(PRESENCE), self._payload(self._present("away")), qos=1, retain=True
        )
        async with connect(
            self._broker, self.identifier, will, patience_s=self._answer_s
        ) as client:
            self.connections += 1
            await client.subscribe([(self._topic(one), 1) for one in (PRESENCE, CLASH)])
            self._sent.clear()
            self._trouble("")
            await either(
                asyncio.create_task(self._hear(client)), asyncio.create_task(self._say(client))
            )

    async def _say(self, client: Client) -> None:
        while True:
            self._news.clear()
            for section in RETAINED:
                text = self._wanted.get(section)
                if text is not None and self._sent.get(section) != text:
                    await client.publish(
                        self._topic(section), text.encode("utf-8", "replace"), qos=1, retain=True
                    )
                    self._sent[section] = text
            self._patience.met()
            if self._sent == self._wanted:
                if self._finishing:
                    return
                await self._news.wait()

    async def _hear(self, client: Client) -> None:
        """What is said under our name, by others and in our place."""
        async for message in client.messages:
            if message.retain:
                continue  # of an earlier time
            if self._said(message, CLASH) is not None:
                self._clash(gives_way=False)
            said = self._said(message, PRESENCE, ours=True)
            if said is None or (said["instance"] == self.instance and said["state"] != "away"):
                continue
            if said["state"] != "here":
                self._sent.pop(PRESENCE, None)  # a last will that came late
            elif (said["began"], said["instance"]) < (self._began, self.instance):
                raise _GiveWay
            else:
                self._clash(gives_way=False)
                self._sent.clear()
            self._news.set()

    def _said(self, message: Message, section: str, *, ours: bool = False) -> dict[str, Any] | None:
        """What a run under our name says, another one or also this; ``None`` for anything else."""
        payload = message.payload
        if str(message.topic) != self._topic(section) or not isinstance(payload, bytes):
            return None
        try:
            said = fitting(section, json.loads(payload[:LARGEST].decode()))
        except (ValueError, RecursionError):
            return None
        if said["station"] != self.station or (said["instance"] == self.instance and not ours):
            return None
        return said

    async def _stand_aside(self) -> None:
        """Leave the name to the other one until it is free."""
        self._clash(gives_way=True)
        while not self._finishing:
            try:
                async with connect(
                    self._broker, self.identifier, patience_s=self._answer_s
                ) as client:
                    await client.subscribe(self._topic(PRESENCE), qos=1)
                    await either(
                        asyncio.create_task(self._shout(client)),
                        asyncio.create_task(self._until_free(client)),
                        asyncio.create_task(self._until_finished()),
                    )
                return
            except LinkError as error:
                self._trouble(str(error))
                await self._pause(self._patience.wait_s())

    async def _shout(self, client: Client) -> None:
        while True:
            await client.publish(self._topic(CLASH), self._payload({}), qos=1)
            await asyncio.sleep(self._aside_s)

    async def _until_free(self, client: Client) -> None:
        wait = self.beat_s * BEATS
        messages = aiter(client.messages)
        while True:
            try:
                async with asyncio.timeout(wait):
                    said = None
                    while said is None:
                        said = self._said(await anext(messages), PRESENCE)
            except TimeoutError:
                return
            if said["state"] != "here":
                return
            wait = min(said["beat_s"], 60.0) * BEATS

    async def _until_finished(self) -> None:
        while not self._finishing:
            self._news.clear()
            await self._news.wait()


class _GiveWay(Exception):  # noqa: N818 - nothing is wrong with us
    """Another run under our name was there before."""
