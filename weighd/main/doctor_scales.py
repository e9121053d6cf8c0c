"""Whether the configured scales can be reached, and what they say."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

from weighd.config import Config
from weighd.domain import mass
from weighd.domain.errors import WeighdError
from weighd.main.doctor_finding import Finding, Level, of_error
from weighd.main.plugging import Plugged, plug
from weighd.station.ports import Bytes, Found, Lost, Signal

#: A reader thread is given so long to let go of its device, in seconds.
JOIN_S = 2.0


def scales(config: Config, listen_s: float, *, held: bool) -> Iterator[Finding]:
    """Every configured scale, listened to for ``listen_s`` seconds, all at once.

    ``held``  the station runs and has them: they are left to it.
    """
    try:
        plugged = plug(config)
    except WeighdError as error:
        yield of_error("scales", error)
        return
    if not plugged:
        yield Finding(
            "scales",
            Level.NOTE,
            "None is configured.",
            "weighd scales shows what is plugged in.",
        )
    if held or not listen_s:
        return
    heard: dict[str, list[Signal]] = {one.setup.name: [] for one in plugged}
    stop, start = threading.Event(), time.monotonic()
    threads = [
        threading.Thread(
            target=_run,
            args=(one, heard[one.setup.name], stop, start),
            daemon=True,
        )
        for one in plugged
    ]
    for thread in threads:
        thread.start()
    stop.wait(listen_s)
    stop.set()
    for thread in threads:
        thread.join(JOIN_S)
    for one in plugged:
        yield _said(one, heard[one.setup.name], listen_s)


def _run(one: Plugged, heard: list[Signal], stop: threading.Event, start: float) -> None:
    try:
        one.source.run(heard.append, stop, lambda: time.monotonic() - start)
    except WeighdError as error:
        heard.append(Lost(0.0, str(error)))


def _said(one: Plugged, heard: list[Signal], listen_s: float) -> Finding:
    about, setup = f"scale {one.setup.name}", one.setup
    readings = [
        reading
        for signal in heard
        if isinstance(signal, Bytes)
        for reading in setup.decoder.feed(signal.t, signal.data)
    ]
    what = next((one.what for one in heard if isinstance(one, Found)), "")
    lost = [signal.why for signal in heard if isinstance(signal, Lost)]
    if readings:
        last = readings[-1]
        shown = f"{mass.text(last.shown)} {last.unit}" if last.shown is not None else last.fault
        more = setup.decoder.rejected
        if more > len(readings):
            return Finding(
                about,
                Level.WARN,
                f"{more} of its reports were not understood, {len(readings)} were.",
                "weighd scales --learn works its wire shape out.",
                what,
            )
        text = f"{len(readings)} readings in {listen_s:g} s; the last: {shown or 'over capacity'}."
        return Finding(about, Level.OK, text, where=what)
    if lost:
        return Finding(about, Level.BAD, lost[-1], "weighd scales lists what is plugged in.")
    if any(isinstance(signal, Bytes) for signal in heard):
        return Finding(
            about,
            Level.BAD,
            "It sends, but nothing that is understood as a weight.",
            "weighd scales --learn works out baud rate, parity and wire shape.",
            what,
        )
    return Finding(
        about,
        Level.WARN,
        f"It said nothing in {listen_s:g} s.",
        "Switch it on and wake it. One that answers only when asked needs a request "
        "(weighd scales --learn).",
        what,
    )
