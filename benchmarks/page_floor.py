"""The floor of `page.py`: an empty page that shows what a bare loop passes on from a tty.

    python benchmarks/page_floor.py TTY

The loop reads the tty and sends what came to every websocket: no decoding, no judging, no journal.
The page writes the text of a message into its one element, which is as large as the number of a
board, and does nothing else.
"""

from __future__ import annotations

import asyncio
import os
import sys
import tty

import websockets
from websockets.asyncio.server import ServerConnection
from websockets.datastructures import Headers
from websockets.http11 import Request, Response

PAGE = b"""<!doctype html>
<html lang="en">
<meta charset="utf-8">
<title>Floor</title>
<p id="number" style="font-size: 160px; font-variant-numeric: tabular-nums">-</p>
<script>
const text = document.getElementById("number").firstChild;
const live = new WebSocket(location.href.replace("http", "ws") + "live");
live.onmessage = (it) => { text.data = it.data; };
</script>
"""


def _page(_: ServerConnection, request: Request) -> Response | None:
    if request.path == "/live":
        return None
    found = request.path == "/"
    headers = Headers({"Content-Type": "text/html", "Content-Length": str(len(PAGE) * found)})
    return Response(200 if found else 404, "OK" if found else "Not Found", headers, PAGE * found)


async def serve(path: str) -> None:
    """Pass on what comes from the tty until the process is ended."""
    clients: set[ServerConnection] = set()
    fd = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    tty.setraw(fd)

    async def take(socket: ServerConnection) -> None:
        clients.add(socket)
        try:
            await socket.wait_closed()
        finally:
            clients.discard(socket)

    def ready() -> None:
        try:
            data = os.read(fd, 4096)
        except BlockingIOError:
            return
        for line in data.decode().splitlines():
            websockets.broadcast(clients, line)

    async with websockets.serve(take, "127.0.0.1", 0, process_request=_page) as server:
        asyncio.get_running_loop().add_reader(fd, ready)
        port = next(iter(server.sockets)).getsockname()[1]
        print(f"at http://127.0.0.1:{port}/", flush=True)
        await asyncio.Future()


if __name__ == "__main__":
    asyncio.run(serve(sys.argv[1]))
