"""What the command line does with vessels, while no station runs."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from pathlib import Path

from weighd.domain.errors import OperatorError, ScaleError
from weighd.station.inputs import Command, check_text
from weighd.station.ports import Bytes, Found, Lost, Signal
from weighd.station.scale import LinkState, ScaleState
from weighd.station.vessel_shelf import Kept, VesselShelf

#: How long to wait for each thing that somebody has to do, seconds.
WAIT_S = 120.0

Tell = Callable[[str], None]


def vessels_of(config: Path | None) -> tuple[Kept, ...]:
    """The vessels that the configured station knows, by name."""
    from weighd.config import load
    from weighd.main.files import database_of
    from weighd.storage.journal import open_read_only

    settings, database = load(config), database_of(config)
    stored: tuple[Kept, ...] = ()
    if database.exists():
        journal = open_read_only(database, settings.station.name)
        try:
            stored = journal.vessels().all()
        finally:
            journal.close()
    configured = [Kept(one, configured=True) for one in settings.known_vessels()]
    return VesselShelf([*stored, *configured]).all()


def keep_vessel(config: Path | None, command: Command, tell: Tell) -> Kept:
    """Take a vessel into the list; weighed on a scale where the command gives no mass.

    Raises :class:`OperatorError`, :class:`ScaleError`, and :class:`JournalError` while a station
    runs.
    """
    from weighd.clock import SystemClock
    from weighd.config import load
    from weighd.main.files import database_of
    from weighd.storage.journal import open_journal

    check_text(command)
    settings, database, clock = load(config), database_of(config), SystemClock()
    journal = open_journal(database, settings.station.name)
    try:
        book = journal.vessels()
        configured = [Kept(one, configured=True) for one in settings.known_vessels()]
        shelf = VesselShelf([*book.all(), *configured])
        scale = None
        if not command.mass_g:
            scale = _weigh(settings, command.scale, command.vessel, tell)
        kept = shelf.keep(command, scale, clock.utc())
        book.keep(kept)
        return kept
    finally:
        journal.close()


def forget_vessel(config: Path | None, name: str) -> None:
    """Take a vessel out of the list; raises as :func:`keep_vessel` does."""
    from weighd.config import load
    from weighd.main.files import database_of
    from weighd.storage.journal import open_journal

    settings, database = load(config), database_of(config)
    shelf = VesselShelf(vessels_of(config))
    shelf.forget(name)
    journal = open_journal(database, settings.station.name)
    try:
        journal.vessels().forget(name)
    finally:
        journal.close()


def _weigh(settings: object, name: str, vessel: str, tell: Tell) -> ScaleState:
    """A scale on which an empty vessel has come to rest, after it was seen empty."""
    from weighd.clock import SystemClock
    from weighd.config import Config
    from weighd.main.plugging import plug

    assert isinstance(settings, Config)
    plugged = {one.setup.name: one for one in plug(settings)}
    one = plugged.get(name) if name else next(iter(plugged.values()), None)
    if one is None:
        raise OperatorError(
            "unknown-scale" if name else "no-scale",
            f'No scale is called "{name}".' if name else "No scale is configured.",
            remedy="Name one with --scale." if plugged else "Add one to weighd.toml first.",
        )
    clock, stop, sent = SystemClock(), threading.Event(), queue.Queue[Signal]()
    reader = threading.Thread(
        target=one.source.run, args=(sent.put, stop, clock.now), name="scale", daemon=True
    )
    reader.start()
    try:
        scale = ScaleState(one.setup)
        tell(f"Take everything off the scale {one.setup.name}.")
        _until(scale, sent, clock.now, lambda: scale.empty is not None)
        tell(f"Set {vessel} on it, empty and dry.")
        _until(scale, sent, clock.now, lambda: _stands(scale))
        return scale
    finally:
        stop.set()
        reader.join(2.0)


def _stands(scale: ScaleState) -> bool:
    found = scale.finding
    if found is None or found.level is None or not found.firm:
        return False
    return found.level.grams > scale.nothing_g


def _until(
    scale: ScaleState, sent: queue.Queue[Signal], now: Callable[[], float], done: Callable[[], bool]
) -> None:
    """Feed the scale until ``done``. Raises :class:`ScaleError` where it never is."""
    until = now() + WAIT_S
    while not done():
        left = until - now()
        try:
            signal = sent.get(timeout=max(left, 0.0))
        except queue.Empty:
            signal = None
        if signal is None or left <= 0:
            raise ScaleError(
                "nothing-came",
                f"The scale {scale.name} did not come to rest within {WAIT_S:.0f} s.",
                remedy=scale.why or "See what it shows, and try again.",
            )
        match signal:
            case Bytes(t, data):
                for reading in scale.feed(t, data):
                    scale.take(reading)
            case Found(_, what, facts):
                scale.found(what, facts)
            case Lost(_, why):
                scale.gone(LinkState.LOST, why)
