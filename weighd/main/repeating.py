"""Repeatability out of a recorded session."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from weighd.domain.errors import OperatorError, SessionError
from weighd.domain.repeatability import Repeatability, Repeats
from weighd.main.drivers import session_decoder
from weighd.station.inputs import Heard, LinkFound, LinkLost
from weighd.station.replay import setup
from weighd.station.scale import LinkState, ScaleState
from weighd.station.session import read
from weighd.storage.session_file import session_lines


def measured(path: Path, scale: str | None) -> tuple[str, Decimal, Repeatability]:
    """The scale of a session, its interval in grams, and what its weighings show.

    Raises :class:`SessionError` for what is no session or has too few weighings, and
    :class:`OperatorError` for a scale that is not in it.
    """
    header, inputs = read(session_lines(path), str(path))
    name = scale or next(iter(header.scales), "")
    if name not in header.scales:
        raise OperatorError(
            "unknown-scale",
            f'The session has no scale "{name}".',
            remedy="It has: " + (", ".join(header.scales) or "none") + ".",
        )
    state = ScaleState(setup(name, header.scales[name], session_decoder))
    repeats: Repeats | None = None
    for event in inputs:
        match event:
            case Heard(t, heard, data) if heard == name:
                for reading in state.feed(t, data):
                    finding = state.take(reading)
                    if repeats is None and state.interval_g is not None:
                        repeats = Repeats(state.interval_g)
                    if repeats is not None:
                        repeats.take(finding)
            case LinkFound(_, heard, what, facts) if heard == name:
                state.found(what, facts)
            case LinkLost(_, heard, why) if heard == name:
                state.gone(LinkState.LOST, why)
    found = repeats.finish() if repeats else Repeatability(())
    if state.interval_g is None or len(found.nets) < 2:
        raise SessionError(
            "too-few-weighings",
            f"{len(found.nets)} weighings of one weight were seen on the scale {name}.",
            where=str(path),
            remedy="Put one weight on and take it off ten times, and wait each time until the "
            "display stands.",
        )
    return name, state.interval_g, found
