"""A station that is served until a signal comes, and begins anew where its scales were set up."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable
from typing import TYPE_CHECKING

from weighd.clock import SystemClock
from weighd.config import Config
from weighd.domain.errors import ConfigError
from weighd.main.daemon import Daemon, log
from weighd.main.first_config import SIMULATED
from weighd.main.first_formulas import FirstFormulas
from weighd.main.first_start import FirstStart
from weighd.main.plugging import Plugged, plug
from weighd.main.recording import Recording
from weighd.main.supervisor import Supervisor
from weighd.main.waiting import Waiting
from weighd.main.watch import Watch
from weighd.storage.kept_revisions import KeptRevisions
from weighd.storage.pantry import FilePantry
from weighd.storage.shelf import FormulaShelf

if TYPE_CHECKING:
    from weighd.main.second_door import SecondDoor
    from weighd.main.simulation import Kitchen


def serve(
    sock: socket.socket,
    configured: Callable[[], Config],
    record: Recording | None = None,
    ready: Callable[[Config], None] = lambda _config: None,
    supervisor: Supervisor | None = None,
    second: SecondDoor | None = None,
) -> None:
    """Serve the station on a bound socket, and through a ``second`` door.

    ``configured``  reads the configuration: at the start, and again after a scale was set up.
    ``record``      where the session is recorded; a new beginning records into its next file.
    ``ready``       called once, when the page can be opened.
    ``supervisor``  is told whether the station goes on.
    Raises what opening a station raises.
    """
    config = configured()
    watch = None if supervisor is None else Watch(supervisor)
    while _serve_once(sock, config, record, ready, watch, second):
        ready = _nothing
        if record is not None and record.turned:
            continue  # nothing else changes by that
        try:
            config = configured()
        except ConfigError as error:  # changed by another hand in this very second
            log.warning(
                "the configuration cannot be used; going on with the old one", why=str(error)
            )


def _serve_once(
    sock: socket.socket,
    config: Config,
    record: Recording | None,
    ready: Callable[[Config], None],
    watch: Watch | None,
    second: SecondDoor | None,
) -> bool:
    """Serve until the station ends; whether it is to begin anew."""
    formulas = config.place(config.station.formulas)
    plugged = plug(config)
    simulated = any(one.driver == SIMULATED for one in config.scales.values())
    revisions = KeptRevisions(formulas, SystemClock().utc)
    with Waiting(sock):
        daemon = Daemon(
            config,
            plugged,
            FormulaShelf(formulas, revisions.met),
            simulation=simulated,
            record=record,
            pantry=FilePantry(formulas),
            revisions=revisions,
        )
    kitchen = _kitchen(daemon, plugged) if simulated else None
    first = FirstStart(config)
    first.begin_anew = daemon.begin_anew

    def begun() -> None:
        if kitchen is not None:
            kitchen.begin()
        ready(config)
        if record is not None:
            following.append(asyncio.create_task(record.follow(daemon, daemon.begin_anew)))

    following: list[asyncio.Task[None]] = []  # it ends with its loop
    try:
        them = (first, FirstFormulas(formulas))
        asyncio.run(daemon.serve(sock, kitchen, begun, *them, watch, second))
    finally:
        first.close()
        if kitchen is not None:
            kitchen.shift.stop()
    return daemon.anew


def _kitchen(daemon: Daemon, plugged: list[Plugged]) -> Kitchen:
    """The pretend hands at simulated scales; they rest, since a person stands here."""
    from weighd.main.simulation import Kitchen, pans_of

    made = Kitchen(daemon, pans_of(plugged), 1.0, 1)
    made.shift.working = False
    return made


def _nothing(_config: Config) -> None:
    """It was said already where the station is."""
