"""A websocket that takes no more than is on its way: whoever reads slowly is behind by a little.

The live link makes no backlog, but the layers below it would: 64 kB in the process and up to some
megabytes in the kernel, which are minutes of old readings on a poor line. Here a send waits until
the process holds nothing, and the kernel next to nothing, of the frames before; meanwhile newer
changes replace older ones, as :class:`weighd.http.live.Live` has it. What is on its way is left: a
client that says ``seen`` does without that too.

Nor does what comes in pile up here: answers to pings of a client that reads none of them, and a
message in pieces without end, which may all be empty, would.
"""

from __future__ import annotations

import codecs
import contextlib
import socket
from asyncio import BaseTransport, TimerHandle, Transport
from typing import cast

from uvicorn._types import ASGISendEvent
from uvicorn.protocols.utils import ClientDisconnected
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.frames import CloseCode, Frame

#: Bytes that the kernel may hold and has not sent yet.
UNSENT = 4096
#: Bytes of answers to pings that may wait for a client that does not read.
MOST_PONGS = 16 * 1024
#: Pings, pongs and pieces of messages that a client may send in a second; a browser answers one
#: ping in 20 s, and cuts nothing that is as short as what is asked here.
MOST_CONTROL = 100
#: Pieces that one message may come in.
MOST_PIECES = 64
#: Seconds that a client has for taking the last of what it is sent.
LAST_S = 5.0


class NewestSocket(WebSocketsSansIOProtocol):
    """The server's end of a websocket."""

    _second, _controls = 0.0, 0
    _last: TimerHandle | None = None

    def connection_made(self, transport: BaseTransport) -> None:
        """Called when it has become one."""
        super().connection_made(transport)
        # TLS of asyncio holds writing at as much as this, a plain line at more than it.
        high = 0 if transport.get_extra_info("sslcontext") is None else 1
        cast(Transport, transport).set_write_buffer_limits(high=high)
        line = transport.get_extra_info("socket")
        if line is not None and hasattr(socket, "TCP_NOTSENT_LOWAT"):
            with contextlib.suppress(OSError):  # not every kernel knows it
                line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NOTSENT_LOWAT, UNSENT)

    def connection_lost(self, exc: Exception | None) -> None:
        """Called when it is gone."""
        if self._last is not None:
            self._last.cancel()
        super().connection_lost(exc)

    async def send(self, message: ASGISendEvent) -> None:
        """Called with what the application says: to one that broke the protocol nothing more, which
        is no defect of the application, that could not know it yet."""
        await self.writable.wait()
        if self.close_sent and self.handshake_complete and self.initial_response is None:
            raise ClientDisconnected
        await super().send(message)

    def handle_events(self) -> None:
        """Called with what came: of a connection that is being closed nothing is heard."""
        if not self.transport.is_closing():
            super().handle_events()

    def handle_ping(self) -> None:
        """Called for a ping; its answer is on the way out."""
        if self.transport.get_write_buffer_size() > MOST_PONGS:
            self.transport.abort()
        elif not self._too_many():
            super().handle_ping()

    def handle_pong(self, event: Frame) -> None:
        """Called for a pong, asked for or not."""
        if not self._too_many():
            super().handle_pong(event)

    def handle_cont(self, event: Frame) -> None:
        """Called for a piece of a message that is not its first."""
        if len(self.frames) >= MOST_PIECES:
            self._end(CloseCode.MESSAGE_TOO_BIG)
        elif not self._too_many():
            super().handle_cont(event)

    def send_receive_event_to_app(self) -> None:
        """Called for a message that is whole; one that is no text is not worth a line to log."""
        if self.curr_msg_data_type == "text" and not self.close_sent:
            try:
                codecs.decode(b"".join(self.frames), "utf-8")
            except UnicodeDecodeError:
                self.frames = []
                self._end(CloseCode.INVALID_DATA)
                return
        super().send_receive_event_to_app()

    def handle_parser_exception(self) -> None:
        """Called when the connection has to end: who takes nothing cannot hold it open."""
        super().handle_parser_exception()
        if self._last is None:
            self._last = self.loop.call_later(LAST_S, self.transport.abort)

    def _too_many(self) -> bool:
        """Count one more; whether that was too many, and the connection is at its end."""
        now = self.loop.time()
        if now - self._second >= 1:
            self._second, self._controls = now, 0
        self._controls += 1
        if self._controls > MOST_CONTROL:
            self._end(CloseCode.POLICY_VIOLATION)
            return True
        return False

    def _end(self, code: CloseCode) -> None:
        if self.transport.is_closing() or self.close_sent:
            return
        self.conn.send_close(code)
        self.handle_parser_exception()
