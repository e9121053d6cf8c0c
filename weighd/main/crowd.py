"""How many connections a station takes, so that its own files never want for a handle.

A process may have so many files and connections open (``RLIMIT_NOFILE``). Where others took them
all, the record could not be written any more; and asyncio of Python 3.11 then tries to accept as
often as the backlog is long, tells each failure, and has each of them tried anew, over and over,
until nothing else goes on. So the limit is raised as far as the system lets, the backlog is short,
and where more connections come than are left room for, the quietest one is ended.
"""

from __future__ import annotations

import asyncio
import contextlib
import resource

from uvicorn.protocols.http.h11_impl import H11Protocol

#: Handles that are asked for where the system has no reason against it.
WANTED = 8192
#: Handles that are kept for the record, formulas, scales and whatever else is opened.
OWN = 128
#: Connections, whatever the limit: a page has up to seven, and 500 pages may listen.
MOST = 2000
#: Connections that wait to be accepted; the kernel has those beyond try again.
BACKLOG = 64


def make_room() -> int:
    """Raise the limit as far as may be; how many connections there may be at once."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    most = WANTED if hard == resource.RLIM_INFINITY else min(hard, WANTED)
    if soft != resource.RLIM_INFINITY and soft < most:
        with contextlib.suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))
            soft = most
    if soft == resource.RLIM_INFINITY:
        return MOST
    return max(16, min(MOST, soft - OWN - BACKLOG))


class CrowdedProtocol(H11Protocol):
    """The server's end of a connection; where there are too many the quietest gives way."""

    most = MOST
    #: When it was last heard, by the clock of the loop.
    heard = 0.0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Called when it was made."""
        super().connection_made(transport)
        self.heard = self.loop.time()
        if len(self.connections) > self.most:
            self._quietest().transport.abort()

    def data_received(self, data: bytes) -> None:
        """Called with what came."""
        self.heard = self.loop.time()
        if not self.transport.is_closing():
            super().data_received(data)

    def _quietest(self) -> CrowdedProtocol:
        """The connection on which nothing is asked now, and was not for longest: whoever opens many
        and says nothing loses them first, and a browser opens another one when it needs it."""
        idle = [
            one
            for one in self.connections
            if isinstance(one, CrowdedProtocol)
            and not one.transport.is_closing()
            and getattr(one.cycle, "response_complete", True)
        ]
        return min(idle, key=lambda one: one.heard, default=self)
