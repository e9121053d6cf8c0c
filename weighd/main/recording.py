"""A recording that may go on for as long as its station does, in files that together stay bounded.

A recording replays because it begins with how the station stood. So a file is never cut in the
middle: where one is half of what all may come to, and nobody weighs, the station begins anew, as
after a restart, and with it the next file: ``FILE``, ``FILE-2``, ``FILE-3``. The oldest goes for
the newest. Each replays by itself.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import structlog

from weighd.domain.batch import Status
from weighd.station.session import Header
from weighd.station.station import Station
from weighd.storage.session_file import SessionFile

if TYPE_CHECKING:
    from weighd.main.daemon import Daemon

log = structlog.get_logger("weighd")
#: MB that a recording comes to at most, all of its files together, unless told otherwise.
MOST_MB = 500.0
#: Seconds for which nobody has asked for anything before a station may begin anew.
QUIET_S = 30.0
LOOK_S = 1.0


class Recording:
    """The files of one recording. ``most_mb`` is what all of them may come to, in 10^6 bytes."""

    def __init__(self, first: Path, most_mb: float = MOST_MB) -> None:
        self._first = first
        self._most = int(most_mb * 1_000_000)
        self._files: list[Path] = []
        self._number = 1
        #: Whether the station ended so that the next file begins.
        self.turned = False

    def begin(self, header: Header) -> SessionFile:
        """Begin the next file. Raises :class:`SessionError` where it cannot be written."""
        path = self._first if not self._files else self._following()
        while path.exists():
            path = self._following()
        older = [one for one in self._files if one.exists()]
        made = SessionFile(path, header, self._most, older, _ended)
        self._files = [*older, path]
        self.turned = False
        return made

    def _following(self) -> Path:
        self._number += 1
        return self._first.with_stem(f"{self._first.stem}-{self._number}")

    async def follow(self, daemon: Daemon, anew: Callable[[], None]) -> None:
        """Have the station begin ``anew`` once its file is long enough and nobody weighs."""
        file = daemon.recording
        while file is not None:
            await asyncio.sleep(LOOK_S)
            if file.due and quiet(daemon.station, file.asked_s):
                log.info("the recording goes on in another file", after=str(file.path))
                self.turned = True
                anew()
                return


def quiet(station: Station, asked_s: float) -> bool:
    """Whether nobody would miss a station for a second.

    ``asked_s``  when somebody asked for something last, by the station's clock.
    """
    batch = station.batch
    return (
        (batch is None or batch.status is not Status.OPEN)
        and not any(station.checking.holds(one) for one in station.scales)
        and station.t - asked_s >= QUIET_S
    )


def _ended(path: Path, why: str) -> None:
    log.warning("the recording ended", file=str(path), why=why)
