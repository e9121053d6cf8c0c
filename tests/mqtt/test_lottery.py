"""Sixteen stations to which things happen at random; in the end everybody knows what is true."""

from __future__ import annotations

import asyncio
import contextlib
import os
import random

import pytest

from tests.mqtt.cuttable import Cuttable
from tests.mqtt.world import Said, until, watching
from weighd.station.floor import Floor
from weighd.station.floor_broker import Broker

pytestmark = pytest.mark.anyio


class Lottery:
    """Stations on links of their own, to which things happen at random."""

    def __init__(self, chance: random.Random, links: list[Cuttable], top: str) -> None:
        self.chance = chance
        self.links = links
        self.runs = [0] * len(links)
        self.stations: list[Said | None] = [None] * len(links)
        self._where = [Broker("127.0.0.1", one.port, top=top) for one in links]

    def begin(self, n: int) -> None:
        self.links[n].mend()
        self.runs[n] += 1
        self.stations[n] = Said(self._where[n], f"bench {n}", f"{n}-{self.runs[n]}").start()

    async def turn(self, said: str) -> None:
        n = self.chance.randrange(len(self.links))
        station, link = self.stations[n], self.links[n]
        what = self.chance.choice(("say", "say", "say", "cut", "kill", "stop", "begin"))
        if what == "cut":
            link.cut()
        elif station is None:
            self.begin(n) if what == "begin" else link.mend()
        elif what == "say":
            station.say(said)
        elif what in ("kill", "stop"):
            # Without a link it cannot say that it stops: then the last will does.
            link.cut() if what == "kill" else link.mend()
            await (station.end() if what == "kill" else station.stop())
            self.stations[n] = None
        await asyncio.sleep(self.chance.random() * 0.02)
        if self.chance.random() < 0.4:
            link.mend()

    def wrong(self, seen: Floor) -> list[str]:
        """What a watcher has that is not so."""
        out, cards = [], seen.cards()
        for n, station in enumerate(self.stations):
            card = cards.get(f"bench {n}")
            if card is None:
                # One that was ended before it ever came through is known to nobody.
                out += [f"{n} is not there"] if station is not None else []
            elif (card["standing"] == "here") != (station is not None):
                out.append(f"{n} is {card['standing']}")
            elif station is not None and card["batch"] != station.batch:
                out.append(f"{n} weighs something else")
        return out


async def test_sixteen_stations_killed_and_cut_at_random(broker: Broker) -> None:
    """In the end a watcher that saw all of it, and one that saw nothing, know what is true."""
    seed = int(os.environ.get("WEIGHD_FLOOR_SEED", random.randrange(2**32)))
    print(f"to repeat: WEIGHD_FLOOR_SEED={seed}")
    async with contextlib.AsyncExitStack() as stack:
        links = [await stack.enter_async_context(Cuttable(broker.port)) for _ in range(17)]
        own = links.pop()
        near = Broker("127.0.0.1", own.port, top=broker.top)
        floor = await stack.enter_async_context(watching(near))
        world = Lottery(random.Random(seed), links, broker.top)
        for n in range(16):
            world.begin(n)
        for turn in range(160):
            await world.turn(f"{turn}.5")
            if turn % 40 == 20:
                own.cut()
            elif turn % 40 == 25:
                own.mend()
        for link in (own, *links):
            link.mend()
        await until(lambda: not world.wrong(floor), lambda: world.wrong(floor))
        async with watching(broker) as late:
            await until(lambda: not world.wrong(late), lambda: world.wrong(late))
            assert not late.ignored
        assert not floor.ignored
        assert sum(world.runs) > 20
        for station in world.stations:
            if station is not None:
                await station.end()
