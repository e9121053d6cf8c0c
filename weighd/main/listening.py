"""One configured scale listened to by itself, without a station."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from weighd.clock import SystemClock
from weighd.config import Config, load
from weighd.domain.errors import OperatorError
from weighd.domain.reading import Reading
from weighd.main.plugging import Plugged, plug
from weighd.station.ports import Bytes, Found, Lost, Signal, Source
from weighd.station.scale import LinkState, ScaleState


def listen(
    scale: str, config: Path | None, seconds: float, take: Callable[[Reading, Decimal], None]
) -> None:
    """Hand every reading of a scale with its interval to ``take``, until Ctrl-C or for so long.

    Raises :class:`OperatorError` where no such scale is configured.
    """
    one = plugged_scale(load(config), scale)
    state = ScaleState(one.setup)

    def deliver(sent: Signal) -> None:
        match sent:
            case Bytes(t, data):
                for reading in state.feed(t, data):
                    state.take(reading)
                    if state.interval_g is not None:
                        take(reading, state.interval_g)
            case Lost(_, why):
                print(why, file=sys.stderr)  # noqa: T201 -- a command that listens says so
                state.gone(LinkState.LOST, why)
            case Found(_, what, facts):
                print(what, file=sys.stderr)  # noqa: T201
                state.found(what, facts)

    run_source(one.source, deliver, SystemClock().now, seconds)


def plugged_scale(settings: Config, scale: str) -> Plugged:
    """A configured scale. Raises :class:`OperatorError` where there is none of this name."""
    plugged = {one.setup.name: one for one in plug(settings)}
    if scale not in plugged:
        raise OperatorError(
            "unknown-scale",
            f'No scale is called "{scale}".',
            remedy="Configured are: " + (", ".join(plugged) or "none") + ".",
        )
    return plugged[scale]


def run_source(
    source: Source,
    deliver: Callable[[Signal], None],
    now: Callable[[], float],
    seconds: float,
    stop: threading.Event | None = None,
) -> None:
    """Run a source until Ctrl-C, until ``stop``, or for so many seconds; zero for without end."""
    stop = stop or threading.Event()
    signal.signal(signal.SIGINT, lambda *_: stop.set())
    signal.signal(signal.SIGTERM, lambda *_: stop.set())
    if seconds:
        timer = threading.Timer(seconds, stop.set)
        timer.daemon = True
        timer.start()
    source.run(deliver, stop, now)
