"""Pages that look on: fast ones, slow ones, and ones that drop out and come again."""

from __future__ import annotations

import json
from typing import Any

from tests.simulation.broken import hold
from weighd.http import live
from weighd.station.picture import Picture


class Page:
    """One client of the live link, as far as frames go; it keeps the picture as pages do.

    ``pace``   the share of chances that it takes to read.
    """

    def __init__(self, name: str, pace: float) -> None:
        self.name, self.pace = name, pace
        self.state: dict[str, Any] | None = None
        self.seq, self.boot = -1, ""
        self.frames = 0
        self._link: live.Live | None = None
        self._client = live._Client()

    def connect(self, link: live.Live, picture: Picture, *, resume: bool) -> None:
        """Come (again): going on from what it has, or with nothing."""
        self._link, self._client = link, live._Client()
        if resume and self.state is not None:
            asked = live._resume(json.dumps({"kind": "resume", "seq": self.seq, "boot": self.boot}))
            hold(asked == (self.seq, self.boot), "a page can go on", asked)
            known = self.boot == picture.boot and self.seq <= picture.seq
            self._client.seen, self._client.asked = (self.seq if known else -1), True
        else:
            self.state, self.seq = None, -1

    def read(self) -> bool:
        """Take the next frame, if there is one; whether there was."""
        assert self._link is not None
        text = self._link._next(self._client)
        if text is None:
            return False
        frame = json.loads(text)
        kind, seq = frame.pop("kind"), frame.pop("seq")
        hold(self.state is None or kind == "snapshot" or seq >= self.seq, "pictures go on", seq)
        if kind == "snapshot":
            self.state = frame["state"]
        elif kind == "change":
            hold(self.state is not None, "a page gets a snapshot first")
            assert self.state is not None
            scales = frame.pop("scales", {})
            self.state = {**self.state, **frame, "scales": {**self.state["scales"], **scales}}
        assert self.state is not None
        self.seq, self.boot = seq, self.state["station"]["boot"]
        self.frames += 1
        return True
