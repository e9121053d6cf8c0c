"""A connection that has only so long to say what it wants, and an address only so many of them.

The web server gives a body its time and a connection between two requests; a head that comes a
byte a minute it would wait for without end.
"""

from __future__ import annotations

import asyncio
from collections import Counter

import h11

from weighd.http.door import address_key
from weighd.main.crowd import CrowdedProtocol

#: Seconds that a request's head may take.
HEAD_S = 10.0
#: Connections of one address at the second door; a browser makes six, and a websocket a page.
MOST_EACH = 64


class PatientProtocol(CrowdedProtocol):
    """The server's end of a connection. ``open_by`` counts those of each address where given."""

    open_by: Counter[str] | None = None
    _counted = ""
    _waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Called when it was made."""
        super().connection_made(transport)
        if self.open_by is not None:
            self._counted = address_key(self.client[0] if self.client else "")
            self.open_by[self._counted] += 1
            if self.open_by[self._counted] > MOST_EACH:
                transport.abort()
                return
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Called when it is gone."""
        self._done()
        self.let_go()
        super().connection_lost(exc)

    def let_go(self) -> None:
        """It counts no more."""
        if self.open_by is not None and self._counted:
            self.open_by[self._counted] -= 1
            if self.open_by[self._counted] <= 0:
                del self.open_by[self._counted]
            self._counted = ""

    def data_received(self, data: bytes) -> None:
        """Called with what came."""
        if self.transport.is_closing():
            return
        if self._waiting is None and getattr(self.cycle, "response_complete", True):
            self._wait()
        before = self.scope
        super().data_received(data)
        if self.scope is not before:
            self._done()

    def handle_websocket_upgrade(self, event: h11.Request) -> None:
        """Called when it becomes a websocket: those are counted by device, at the door."""
        self._done()
        self.let_go()
        super().handle_websocket_upgrade(event)

    def _wait(self) -> None:
        self._waiting = self.loop.call_later(HEAD_S, self._too_long)

    def _done(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _too_long(self) -> None:
        self._waiting = None
        if not self.transport.is_closing():
            self.transport.abort()


def patient(most: int, *, counted: bool) -> type[PatientProtocol]:
    """Such connections, so many at a time; ``counted`` for a door that strangers come to."""
    more: dict[str, object] = {"most": most, "open_by": Counter() if counted else None}
    return type("Patient", (PatientProtocol,), more)
