"""Whether the configured scales can be reached, and what they say."""

from __future__ import annotations

import time
from collections.abc import Iterator

from weighd.config import Config
from weighd.domain import mass
from weighd.domain.errors import WeighdError
from weighd.main.doctor_finding import Finding, Level, of_error
from weighd.main.looking import Heard, Listener
from weighd.main.plugging import plug


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
    listeners = [Listener(one.source, one.setup.decoder) for one in plugged]
    for one in listeners:
        one.start()
    time.sleep(listen_s)
    for one in listeners:
        one.stop()
    for scale, listener in zip(plugged, listeners, strict=True):
        yield _said(f"scale {scale.setup.name}", listener.heard(), listen_s)


def _said(about: str, heard: Heard, listen_s: float) -> Finding:
    last, what = heard.last, heard.opened
    if last is not None:
        shown = f"{mass.text(last.shown)} {last.unit}" if last.shown is not None else last.fault
        if heard.rejected > heard.readings:
            return Finding(
                about,
                Level.WARN,
                f"{heard.rejected} of its reports were not understood, {heard.readings} were.",
                "weighd scales --learn works its wire shape out.",
                what,
            )
        text = f"{heard.readings} readings in {listen_s:g} s; the last: {shown or 'over capacity'}."
        return Finding(about, Level.OK, text, where=what)
    if heard.whys:
        return Finding(about, Level.BAD, heard.whys[-1], "weighd scales lists what is plugged in.")
    if heard.count:
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
