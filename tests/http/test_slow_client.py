"""A client on a poor line that does not say ``seen``, on a real socket: it is fed no backlog."""

from __future__ import annotations

import asyncio
import json
import socket
from typing import Any

import pytest
import uvicorn
from starlette.applications import Starlette
from starlette.routing import WebSocketRoute
from websockets.asyncio.client import connect

from weighd.http.live import Live
from weighd.main.newest import NewestSocket

pytestmark = pytest.mark.anyio

CHANGES = 3000


class Counted:
    """A picture of one number, in frames of a kilobyte."""

    boot, seq = "boot", 1

    def snapshot(self) -> dict[str, Any]:
        return {"kind": "snapshot", "seq": self.seq, "state": {}}

    def since(self, seq: int, /) -> dict[str, Any]:
        return {"kind": "change", "seq": self.seq, "more": "x" * 1000}


async def test_who_reads_late_is_given_little_that_is_old() -> None:
    picture = Counted()
    live = Live(picture)
    live.pace_s = 0
    line = socket.create_server(("127.0.0.1", 0))
    app = Starlette(routes=[WebSocketRoute("/", live.listen)])
    server = uvicorn.Server(
        uvicorn.Config(
            app, ws=NewestSocket, ws_per_message_deflate=False, lifespan="off", log_config=None
        )
    )
    serving = asyncio.create_task(server.serve(sockets=[line]))
    slow = socket.socket()
    slow.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    slow.connect(line.getsockname())
    slow.setblocking(False)
    # The client takes a frame out of its buffer only when it is asked for one.
    async with connect("ws://127.0.0.1/", sock=slow, max_queue=1, compression=None) as client:
        assert json.loads(await client.recv())["kind"] == "snapshot"
        for _ in range(CHANGES):
            picture.seq += 1
            live.changed()
            await asyncio.sleep(0)
        old = -1
        while json.loads(await asyncio.wait_for(client.recv(), 5))["seq"] < picture.seq:
            old += 1
        assert old < 100
    server.should_exit = True
    await serving
