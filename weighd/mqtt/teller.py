"""From the picture of a station to its publisher, in the station's own event loop.

Drawn a few times a second at the most, and only when something changed; the newest is handed over,
and nobody waits for a broker here. A defect here is logged, and weighing goes on.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Mapping
from typing import Any, Protocol

from weighd.mqtt.publisher import Publisher
from weighd.station.floor_told import told

#: No section is said more often than this.
PACE_S = 0.5

log = logging.getLogger("weighd.mqtt")


class Shown(Protocol):
    """What is told of."""

    def state(self) -> dict[str, Any]:
        """The whole picture."""


class Teller:
    """Tells the floor of one station.

    ``names``  whether operators' names are said.
    """

    def __init__(
        self,
        picture: Shown,
        publisher: Publisher,
        *,
        names: bool = False,
        pace_s: float = PACE_S,
    ) -> None:
        self.publisher = publisher
        self._picture = picture
        self._names = names
        self._pace_s = pace_s
        self._said: dict[str, Mapping[str, Any]] = {}
        self._last = float("-inf")
        self._waiting: asyncio.TimerHandle | None = None
        self._failed = False

    def changed(self) -> None:
        """Something changed; called in the event loop, as often as it likes."""
        if self._waiting is not None:
            return
        loop = asyncio.get_running_loop()
        wait = max(0.0, self._last + self._pace_s - loop.time())
        self._waiting = loop.call_later(wait, self._tell)

    async def run(self) -> None:
        """Say that the station is here, in time, until cancelled."""
        self._tell()  # first: nobody is to see a presence beside what an earlier run did
        while True:
            self.publisher.presence("here")
            await asyncio.sleep(self.publisher.beat_s)

    def stopped(self) -> None:
        """Say that it was stopped, as the last thing."""
        if self._waiting is not None:
            self._waiting.cancel()
        self.publisher.presence("stopped")

    def _tell(self) -> None:
        self._waiting, self._last = None, asyncio.get_running_loop().time()
        try:
            for section, body in told(self._picture.state(), names=self._names).items():
                if self._said.get(section) != body:
                    self._said[section] = body
                    self.publisher.offer(section, body)
        except Exception:
            if not self._failed:
                self._failed = True
                log.exception("the floor cannot be told of this station")
