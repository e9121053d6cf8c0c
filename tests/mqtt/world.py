"""Stations that say what they are told to, and those who watch them, on a real broker."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable
from typing import Any

from weighd.clock import SystemClock
from weighd.mqtt.link import Patience
from weighd.mqtt.publisher import Publisher
from weighd.mqtt.watcher import Watcher
from weighd.station.floor import Floor
from weighd.station.floor_broker import Broker

CLOCK = SystemClock()
#: Beats so quick that nobody waits for one; only what hangs takes so long.
BEAT_S, ANSWER_S, HANGS_S = 0.2, 1.0, 30.0


async def until(so: Callable[[], Any], told: Callable[[], object] = lambda: "") -> None:
    end = CLOCK.now() + HANGS_S
    while not so():
        assert CLOCK.now() < end, told()
        await asyncio.sleep(0.01)


class Said:
    """A station that says what it is told to, and remembers what that was."""

    def __init__(self, broker: Broker, name: str, instance: str, **more: Any) -> None:
        self.clashes: list[bool] = []
        self.troubles: list[str] = []
        self.publisher = Publisher(
            broker,
            name,
            version="1",
            instance=instance,
            began=more.pop("began", CLOCK.utc()),
            utc=CLOCK.utc,
            beat_s=BEAT_S,
            aside_s=0.1,
            answer_s=ANSWER_S,
            patience=Patience(0.02, 0.1),
            trouble=self.troubles.append,
            clash=lambda *, gives_way: self.clashes.append(gives_way),
        )
        self.batch: dict[str, Any] | None = None
        self._tasks: list[asyncio.Task[None]] = []

    def say(self, net: str) -> None:
        """Weigh something, of which so much is in."""
        addition = {
            "n": 1,
            "name": "Sucrose",
            "scale": "bench",
            "target_g": "364",
            "why": "",
            "low_g": "362",
            "high_g": "366",
            "net_g": net,
            "phase": "pouring",
            "verdict": None,
            "cue": None,
            "held": None,
            "lifted": False,
        }
        self.batch = {
            "id": "b-1",
            "formula": "Milk ice",
            "batch_g": "2400",
            "opened": CLOCK.utc(),
            "of": 5,
            "accepted": 0,
            "allergens": [],
            "addition": addition,
        }
        self.publisher.offer("batch", {"batch": self.batch, "last": None})

    def start(self) -> Said:
        self._tasks = [asyncio.create_task(self._beat()), asyncio.create_task(self.publisher.run())]
        return self

    async def _beat(self) -> None:
        while True:
            self.publisher.presence("here")
            await asyncio.sleep(BEAT_S)

    async def stop(self) -> None:
        """Stop as a daemon does that is asked to."""
        self._tasks[0].cancel()
        self.publisher.presence("stopped")
        self.publisher.finish()
        await asyncio.wait_for(self._tasks[1], HANGS_S)

    async def end(self) -> None:
        """Be no more; what its connection said last depends on the link."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)


@contextlib.asynccontextmanager
async def watching(broker: Broker, **more: Any) -> AsyncIterator[Floor]:
    floor = Floor(broker.top)
    task = asyncio.create_task(
        Watcher(broker, floor, CLOCK, answer_s=ANSWER_S, patience=Patience(0.02, 0.1), **more).run()
    )
    try:
        yield floor
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


def net(floor: Floor, name: str) -> Any:
    card = floor.cards().get(name)
    if card is None or card["batch"] is None:
        return None
    return card["batch"]["addition"]["net_g"]


def standing(floor: Floor, name: str) -> str:
    card = floor.cards().get(name)
    return "" if card is None else str(card["standing"])
