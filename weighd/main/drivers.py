"""Drivers, ours and others', found through the entry-point group ``weighd.drivers``."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.metadata import EntryPoint, entry_points
from typing import Any

from weighd.domain.errors import ScaleError, SessionError
from weighd.station.ports import Decoder, Driver

DRIVERS = "weighd.drivers"


def driver_points() -> dict[str, EntryPoint]:
    """Every driver installed, ours and others', by name."""
    return {point.name: point for point in entry_points(group=DRIVERS)}


def load_driver(name: str) -> Driver:
    """A driver by name. Raises :class:`ScaleError` when there is none, or it does not load."""
    points = driver_points()
    if name not in points:
        raise ScaleError(
            "unknown-driver",
            f'No driver is called "{name}".',
            remedy="Installed are: " + ", ".join(sorted(points)) + ".",
        )
    try:
        driver = points[name].load()
    except (ImportError, AttributeError) as error:
        raise ScaleError(
            "driver-broken", f"The driver {name} cannot be loaded: {error}."
        ) from error
    if not isinstance(driver, Driver):
        raise ScaleError("driver-broken", f"The driver {name} is not what a driver should be.")
    return driver


def reread(spec: Mapping[str, Any]) -> Decoder:
    """The decoder that a record's evidence names. Raises ``KeyError`` where none is installed."""
    try:
        driver = load_driver(str(spec["driver"]))
    except ScaleError as error:
        raise KeyError(spec["driver"]) from error
    return driver.redecoder({key: value for key, value in spec.items() if key != "driver"})


def session_decoder(settings: Mapping[str, Any]) -> Decoder:
    """The decoder for a scale of a recorded session, from its header."""
    driver = load_driver(str(settings["driver"]))
    shape = {"shape": settings.get("shape", "auto")}
    try:
        return driver.redecoder(shape)
    except KeyError as error:
        raise SessionError(
            "bad-session-header",
            f"The driver {settings['driver']} does not know the shape {shape['shape']}.",
            where="line 1",
        ) from error
