"""A websocket that takes no more than is on its way: whoever reads slowly is behind by a little.

The live link makes no backlog, but the layers below it would: 64 kB in the process and up to some
megabytes in the kernel, which are minutes of old readings on a poor line. Here a send waits until
the process holds nothing, and the kernel next to nothing, of the frames before; meanwhile newer
changes replace older ones, as :class:`weighd.http.live.Live` has it. What is on its way is left: a
client that says ``seen`` does without that too.
"""

from __future__ import annotations

import contextlib
import socket
from asyncio import BaseTransport, Transport
from typing import cast

from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

#: Bytes that the kernel may hold and has not sent yet.
UNSENT = 4096


class NewestSocket(WebSocketsSansIOProtocol):
    """The server's end of a websocket."""

    def connection_made(self, transport: BaseTransport) -> None:
        """Called when it has become one."""
        super().connection_made(transport)
        cast(Transport, transport).set_write_buffer_limits(high=0)
        line = transport.get_extra_info("socket")
        if line is not None and hasattr(socket, "TCP_NOTSENT_LOWAT"):
            with contextlib.suppress(OSError):  # not every kernel knows it
                line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NOTSENT_LOWAT, UNSENT)
