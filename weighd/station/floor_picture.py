"""The numbered picture of the floor: frames for the pages that watch it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from weighd.station.floor import Floor


class FloorPicture:
    """As :class:`~weighd.station.picture.Picture` is of a station, and numbered likewise.

    The floor itself is fed in another thread; ``guard`` is held by whoever touches it.
    ``boot``  tells one run of the daemon from the next; ``utc`` wall time now.
    """

    def __init__(
        self, floor: Floor, guard: threading.Lock, *, boot: str, utc: Callable[[], str]
    ) -> None:
        self._floor = floor
        self._guard = guard
        self._utc = utc
        self.boot = boot

    @property
    def seq(self) -> int:
        return self._floor.changed + 1

    def state(self) -> dict[str, Any]:
        """The whole picture: ``floor``, and each station by its name."""
        with self._guard:
            link, cards = self._floor.of_link(), self._floor.cards()
        return {"floor": self._head(link), "stations": cards}

    def snapshot(self) -> dict[str, Any]:
        """The whole picture as a websocket frame."""
        with self._guard:
            seq, link, cards = self.seq, self._floor.of_link(), self._floor.cards()
        return {
            "kind": "snapshot",
            "seq": seq,
            "now": self._utc(),
            "state": {"floor": self._head(link), "stations": cards},
        }

    def since(self, seq: int) -> dict[str, Any] | None:
        """What is newer than ``seq``, as a websocket frame; ``None`` when nothing is."""
        with self._guard:
            newest, link = self.seq, self._floor.of_link(seq - 1)
            cards = self._floor.cards(seq - 1)
        if link is None and not cards:
            return None
        frame: dict[str, Any] = {"kind": "change", "seq": newest, "now": self._utc()}
        if link is not None:
            frame["floor"] = self._head(link)
        if cards:
            frame["stations"] = cards
        return frame

    def _head(self, link: dict[str, Any] | None) -> dict[str, Any]:
        return {"boot": self.boot, "now": self._utc(), **(link or {})}
