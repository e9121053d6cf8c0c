"""From bytes on a pty to painted pixels, and frames a second: what `page.py` measures of a pour."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import socket
import subprocess
import sys
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field

from playwright.async_api import Browser, Page

from benchmarks.page_browser import Frames, Trace, open_page
from benchmarks.page_processes import cpu, cpu_of_pages
from benchmarks.page_sides import NUMBER, Side

#: Seconds before a block that are not counted: pages that were just opened do other things first.
SETTLE_S = 1.0
#: A frame that came later than this after the one before it left one out, at 60 a second, in ms.
MISSED_MS = 25.0


@dataclass(frozen=True)
class Pour:
    """How to pour, and who watches.

    ``deaf`` of the ``clients`` without a page never read. ``hz`` are readings a second.
    """

    name: str
    pages: int
    hz: float
    seconds: float
    clients: int = 0
    deaf: int = 0


@dataclass
class Row:
    """What came of the blocks of one side; times in milliseconds."""

    times: list[float] = field(default_factory=list)
    #: weights that a page was never seen to paint, nor a newer one
    unseen: int = 0
    #: between the beginnings of two frames
    intervals: list[float] = field(default_factory=list)
    presented: int = 0
    readings: int = 0
    #: seconds times pages
    watched: float = 0
    server_s: float = 0
    pages_s: float = 0

    def at(self, share: float) -> float:
        """A quantile of the times to paint, in ms."""
        return quantile(self.times, share)


def quantile(values: list[float], share: float) -> float:
    """A quantile; 0 of nothing."""
    ordered = sorted(values)
    return ordered[int(share * (len(ordered) - 1))] if ordered else 0.0


def late(side: Side, written: list[tuple[int, float]], page: Frames) -> list[float]:
    """Milliseconds from each write until a page had painted that weight or a newer one; shorter
    than what was written where it never did."""
    shown = [(at, side.shown(text)) for at, text in page.painted()]
    out, k = list[float](), 0
    for weight, when in written:
        while k < len(shown) and ((shown[k][1] or -1) < weight or shown[k][0] < when):
            k += 1
        if k == len(shown):
            break
        out.append(1000 * (shown[k][0] - when))
    return out


@asynccontextmanager
async def pages(browser: Browser, count: int) -> AsyncIterator[list[Page]]:
    """So many pages, each with a context of its own, which is a renderer process of its own."""
    async with AsyncExitStack() as stack:
        opened = []
        for _ in range(count):
            context, page = await open_page(browser)
            stack.push_async_callback(context.close)
            opened.append(page)
        yield opened


async def show(page: Page, side: Side) -> None:
    """Let a page show the pour."""
    await page.goto(side.url)
    await page.wait_for_selector(NUMBER, state="attached")


async def measure(browser: Browser, shown: list[Page], side: Side, how: Pour, row: Row) -> None:
    """One block of a pour on one side; what came of it is added to its row."""
    async with watchers(side, how):
        await asyncio.gather(*(show(page, side) for page in shown))
        await asyncio.to_thread(side.scale.pour, SETTLE_S, how.hz)
        await asyncio.gather(*(page.evaluate("countFrames()") for page in shown))
        trace = await Trace.begin(browser)
        before = cpu(side.process.pid), cpu_of_pages()
        written = await asyncio.to_thread(side.scale.pour, how.seconds, how.hz)
        row.server_s += cpu(side.process.pid) - before[0]
        row.pages_s += cpu_of_pages() - before[1]
        side.scale.rest(on=True)
        await asyncio.sleep(0.3)
        told = await trace.end()
        for beats in await asyncio.gather(*(page.evaluate("countedFrames()") for page in shown)):
            row.intervals += [b - a for a, b in itertools.pairwise(beats)]
        await asyncio.gather(*(page.goto("about:blank") for page in shown))
    if len(told) != len(shown):
        raise RuntimeError(f"{len(told)} of {len(shown)} pages painted anything")
    for one in told.values():
        times = late(side, written, one)
        row.times += times
        row.unseen += len(written) - len(times)
        row.presented += sum(written[0][1] <= at <= written[-1][1] for _, at in one.presented)
    row.readings += len(written)
    row.watched += how.seconds * how.pages


READERS = """
import asyncio, sys, websockets
async def listen(ready):
    async with websockets.connect(sys.argv[1], max_size=None) as socket:
        ready.release()
        async for _ in socket: pass
async def main():
    ready = asyncio.Semaphore(0)
    tasks = [asyncio.create_task(listen(ready)) for _ in range(int(sys.argv[2]))]
    for _ in tasks: await ready.acquire()
    print("ready", flush=True)
    await asyncio.gather(*tasks)
asyncio.run(main())
"""


@asynccontextmanager
async def watchers(side: Side, how: Pour) -> AsyncIterator[None]:
    """The websocket clients without a page: all but the deaf in a process of their own."""
    readers = how.clients - how.deaf
    async with AsyncExitStack() as stack:
        for _ in range(how.deaf):
            stack.enter_context(contextlib.closing(_deaf(side.live)))
        if readers:
            command = [sys.executable, "-c", READERS, side.live, str(readers)]
            process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)  # noqa: ASYNC220
            stack.callback(process.wait)
            stack.callback(process.terminate)
            assert process.stdout is not None
            process.stdout.readline()
        yield


def _deaf(url: str) -> socket.socket:
    """A client that says who it is and never reads; its buffer is the smallest there is."""
    host, _, path = url.removeprefix("ws://").partition("/")
    name, _, port = host.partition(":")
    out = socket.socket()
    out.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    out.connect((name, int(port)))
    out.sendall(
        f"GET /{path} HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\nSec-WebSocket-Version: 13\r\n\r\n".encode()
    )
    return out
