"""A thread of its own for all that talks to a broker, so that no broker delays a weighing."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Awaitable, Callable

from weighd.mqtt.publisher import Publisher
from weighd.mqtt.watcher import Watcher

#: A station that stops has so long to say so.
FAREWELL_S = 1.5
#: After a defect it is tried again.
AGAIN_S = 30.0

log = logging.getLogger("weighd.mqtt")


class Running:
    """Publisher and watcher, running until :meth:`stop`."""

    def __init__(self, publisher: Publisher | None, watcher: Watcher | None) -> None:
        self._publisher, self._watcher = publisher, watcher
        self._thread = threading.Thread(target=self._run, name="floor", daemon=True)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stop = asyncio.Event()
        self._ending = False
        self._stopped = threading.Event()

    def start(self) -> None:
        """Begin. Returns at once, whether or not a broker answers."""
        self._thread.start()

    def stop(self) -> None:
        """End, as soon as it was said; never later than a moment from now."""
        self._ending = True
        if self._publisher is not None:
            self._publisher.finish()
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._stop.set)
            self._stopped.wait(FAREWELL_S + 0.5)

    def _run(self) -> None:
        try:
            asyncio.run(self._main())
        finally:
            self._stopped.set()

    async def _main(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._loop.set_exception_handler(_quietly)
        said = watched = None
        if self._publisher is not None:
            said = asyncio.create_task(_kept(self._publisher.run))
        if self._watcher is not None:
            watched = asyncio.create_task(_kept(self._watcher.run))
        if not self._ending:
            await self._stop.wait()
        if said is not None:
            await asyncio.wait({said}, timeout=FAREWELL_S)
        tasks = [one for one in (said, watched) if one is not None]
        for one in tasks:
            one.cancel()
        await asyncio.wait(tasks, timeout=0.2) if tasks else None
        self._stopped.set()


async def _kept(run: Callable[[], Awaitable[None]]) -> None:
    """Run it, and again after a defect."""
    while True:
        try:
            await run()
        except Exception:
            log.exception("the link to the broker failed")
        else:
            return
        await asyncio.sleep(AGAIN_S)


def _quietly(loop: asyncio.AbstractEventLoop, context: dict[str, object]) -> None:
    """A socket that was cut while it was still being set up is told as a connection that failed."""
    if not isinstance(context.get("exception"), OSError):
        loop.default_exception_handler(context)
