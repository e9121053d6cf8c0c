"""Whether the station goes on, for a service manager that starts it anew where it does not.

Three things have to go on: the loop takes inputs in turn (it ticks four times a second even where
nothing happens), the thread that writes the journal comes to its next job, and the thread of every
scale comes round to asking whether it is to stop. Where one of them has not for ``LATE`` of the
watchdog's time, the watchdog is told no more, and the service manager ends the process and starts
it again; nothing that was accepted is lost by that. A blocked loop cannot tell it anyway.

Not looked at: what weighing does not wait for (shared store, broker, daily heads, sheets, solving).
A network or a printer that stalls is no reason to end a batch.
"""

from __future__ import annotations

import asyncio
import contextlib
import math
import threading
import time
from collections.abc import Callable, Iterator, Mapping

import structlog

from weighd.domain.batch import Status
from weighd.main.supervisor import Supervisor
from weighd.station.runner import Runner
from weighd.station.station import Station

log = structlog.get_logger("weighd")

#: The share of the watchdog's time after which a part is late; the rest is for the one who looks.
LATE = 2 / 3
#: How often it is looked, seconds; a short watchdog is looked after more often.
LOOK_S = 1.0


class Rounds(threading.Event):
    """What tells a scale's thread to stop, which also notes when it was asked last.

    A driver asks it, or waits for it, once a round; one that waits for good is at rest.
    """

    def __init__(self) -> None:
        super().__init__()
        self.seen_s = time.monotonic()
        #: Its driver came to an end by itself, which is told elsewhere.
        self.over = False

    def is_set(self) -> bool:
        """Whether to stop."""
        self.seen_s = time.monotonic()
        return super().is_set()

    def wait(self, timeout: float | None = None) -> bool:
        """Wait until it is to stop, at most ``timeout`` seconds."""
        self.seen_s = math.inf if timeout is None else time.monotonic() + timeout
        try:
            return super().wait(timeout)
        finally:
            self.seen_s = time.monotonic()


class Watch:
    """Looks whether a station goes on, and tells the service manager."""

    def __init__(self, supervisor: Supervisor) -> None:
        self._supervisor = supervisor
        self._limit_s = (supervisor.watchdog_s or math.inf) * LATE
        self._told: set[str] = set()

    async def run(
        self,
        runner: Runner,
        scales: Mapping[str, Rounds],
        until: asyncio.Event,
        anew: Callable[[], bool],
    ) -> None:
        """Look until the station ends.

        ``scales``  the thread of each, by name. ``anew``  whether another one begins at once.
        """
        if not self._supervisor.there:
            return
        parts = _Parts(runner, scales)
        while not until.is_set():
            late = {
                name: since
                for name, since in parts.since(time.monotonic())
                if since > self._limit_s
            }
            self._log(late)
            if late:
                self._supervisor.status(f"Does not go on: {', '.join(late)}.")
            else:
                self._supervisor.alive()
                self._supervisor.status(standing(runner.station))
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(until.wait(), min(LOOK_S, self._limit_s / 4))
        if not anew():
            self._supervisor.stopping()

    def _log(self, late: Mapping[str, float]) -> None:
        for name in late.keys() - self._told:
            log.error("a part of the station does not go on", part=name, for_s=round(late[name], 1))
        for name in self._told - late.keys():
            log.warning("a part of the station goes on again", part=name)
        self._told = set(late)


class _Parts:
    """When each part was last seen to go on."""

    def __init__(self, runner: Runner, scales: Mapping[str, Rounds]) -> None:
        self._runner, self._scales = runner, scales
        self._turns, self._turned_s = -1, time.monotonic()
        self._writing: asyncio.Future[None] | None = None
        self._wrote_s = time.monotonic()

    def since(self, now: float) -> Iterator[tuple[str, float]]:
        """Each part, and for how many seconds it has not been seen."""
        if self._runner.turns != self._turns:
            self._turns, self._turned_s = self._runner.turns, now
        yield "taking inputs", now - self._turned_s
        if self._writing is None or self._writing.done():
            self._wrote_s = now
            self._writing = self._runner.writer_turn()
        yield "writing the record", now - self._wrote_s
        for name, rounds in self._scales.items():
            if not rounds.over:
                yield f"reading scale {name}", now - rounds.seen_s


def standing(station: Station) -> str:
    """How a station stands, in a line without anybody's name."""
    parts = []
    if station.store_error is not None:
        parts.append(f"NOTHING CAN BE RECORDED: {station.store_error.message}")
    batch = station.batch
    if batch is not None and batch.status is Status.OPEN:
        done = f"{len(batch.accepted)} of {len(batch.additions)}"
        parts.append(f"{batch.id} is being weighed, {done} accepted.")
    else:
        parts.append("No batch is being weighed.")
    if aside := len(station.off_bench.in_process()):
        parts.append(f"{aside} in process.")
    links = (f"{name} {scale.link}" for name, scale in station.scales.items())
    parts.append(f"Scales: {', '.join(links) or 'none is set up'}.")
    return " ".join(parts)
