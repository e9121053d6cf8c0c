"""A TCP link that a test can cut, hold up and mend: between stations and their broker."""

from __future__ import annotations

import asyncio
import contextlib


class Cuttable:
    """Listens on a port of loopback and passes on to another, while it is whole.

    ``holds``  whether bytes are kept back, as by a network that hangs.
    """

    def __init__(self, to: int) -> None:
        self._to = to
        self._whole = True
        self._server: asyncio.Server | None = None
        self._open: set[asyncio.StreamWriter] = set()
        self._flows = asyncio.Event()
        self._flows.set()
        self._tasks: set[asyncio.Task[None]] = set()
        self.port = 0

    async def __aenter__(self) -> Cuttable:
        self._server = await asyncio.start_server(self._join, "127.0.0.1", 0)
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    async def __aexit__(self, *_: object) -> None:
        assert self._server is not None
        self.cut()
        self._server.close()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    def cut(self) -> None:
        """Cut every connection, with no word to either end, and let none through."""
        self._whole = False
        for one in list(self._open):
            one.transport.abort()
        self._open.clear()

    def mend(self) -> None:
        """Let connections through again."""
        self._whole = True

    def hold(self, held: bool) -> None:
        """Keep back what is sent, or let it go on."""
        if held:
            self._flows.clear()
        else:
            self._flows.set()

    async def _join(self, near: asyncio.StreamReader, back: asyncio.StreamWriter) -> None:
        if not self._whole:
            back.transport.abort()
            return
        try:
            far, there = await asyncio.open_connection("127.0.0.1", self._to)
        except OSError:
            back.transport.abort()
            return
        self._open |= {back, there}
        for reader, writer in ((near, there), (far, back)):
            task = asyncio.create_task(self._pass_on(reader, writer))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)

    async def _pass_on(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError):
            while data := await reader.read(65536):
                await self._flows.wait()
                writer.write(data)
                await writer.drain()
        self._open.discard(writer)
        writer.transport.abort()
