"""How soon a station answers over a connection that is kept, beside a bare loop.

    python -m benchmarks.answers [--times 200]

A new station without a scale is asked over one connection, again and again. The floor is an event
loop that reads a request and sends a head, and a body as long as that of the first answer, in two
pieces as the station does. It stands there twice: on a socket as the station makes it, and on one
that keeps the second piece back until the first is acknowledged. Milliseconds of this machine; the
ratio is what means something.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import http.client
import os
import socket
import statistics
import subprocess
import tempfile
import threading
import time
from pathlib import Path

from benchmarks.start import station
from weighd.main.listening_at import listen

#: What a page asks for; the first is looked up after all others.
PATHS = ("/", "/api/health", "/api/formulas", "/metrics")


class Line:
    """One connection to a server, which is kept."""

    def __init__(self, port: int) -> None:
        self._line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)

    def ask(self, path: str) -> tuple[float, int]:
        """Milliseconds until the whole answer is there, and its bytes."""
        began = time.perf_counter()
        self._line.request("GET", path)
        answer = self._line.getresponse()
        body = answer.read()
        assert answer.status == 200, (path, answer.status)
        return (time.perf_counter() - began) * 1000, len(body)

    def again(self, path: str, times: int) -> list[float]:
        """As often as that, in order of size."""
        return sorted(self.ask(path)[0] for _ in range(times))


def floor(sock: socket.socket, size: int) -> int:
    """A loop that answers anything with so many bytes, until this process ends; its port."""

    async def answer(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(asyncio.IncompleteReadError):  # whoever asked has gone
            while await reader.readuntil(b"\r\n\r\n"):
                writer.write(b"HTTP/1.1 200 OK\r\ncontent-length: %d\r\n\r\n" % size)
                writer.write(b"x" * size)
        writer.close()

    async def serve() -> None:
        async with await asyncio.start_server(answer, sock=sock) as server:
            await server.serve_forever()

    threading.Thread(target=asyncio.run, args=(serve(),), daemon=True).start()
    port: int = sock.getsockname()[1]
    return port


def held_back() -> socket.socket:
    """A socket that does not say by which protocol it speaks: asyncio lets it hold pieces back."""
    sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    sock.bind(("127.0.0.1", 0))
    sock.listen()
    return sock


def row(what: str, size: int, found: list[float], floor_ms: float) -> None:
    """One line of the table."""
    middle, late = statistics.median(found), found[len(found) * 99 // 100]
    print(f"| {what} | {size} | {middle:.2f} | {late:.2f} | {middle / floor_ms:.1f} |", flush=True)


def main() -> None:
    """Ask, and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--times", type=int, default=200)
    given = parser.parse_args()
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        process = subprocess.Popen(
            station(Path(folder)), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        try:
            assert process.stdout is not None
            line = Line(int(process.stdout.readline().rsplit(":", 1)[1].strip("/\n")))
            first, size = line.ask(PATHS[0])
            rows = [(path, line.ask(path)[1], line.again(path, given.times)) for path in PATHS]
        finally:
            process.terminate()
            process.wait()
    print("| | bytes | median, ms | p99, ms | ratio |\n|---|---|---|---|---|")
    bare = Line(floor(listen("127.0.0.1", 0), size)).again("/", given.times)
    least = statistics.median(bare)
    row("floor", size, bare, least)
    row("floor, held back", size, Line(floor(held_back(), size)).again("/", given.times), least)
    print(f"| {PATHS[0]}, the first | {size} | {first:.2f} | | {first / least:.1f} |")
    for what in rows:
        row(*what, least)


if __name__ == "__main__":
    main()
