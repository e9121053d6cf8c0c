"""Drivers, ours and others', found through the entry-point group ``weighd.drivers``."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.metadata import EntryPoint, entry_points
from typing import Any

from weighd.config.sections import ScaleSection
from weighd.domain.errors import ScaleError, SessionError
from weighd.station.ports import Decoder, Driver

DRIVERS = "weighd.drivers"
#: Keys of a recorded scale that its driver knows nothing of.
_COMMON = frozenset({"driver", *ScaleSection.model_fields})


@cache
def driver_points() -> Mapping[str, EntryPoint]:
    """Every driver installed, ours and others', by name: looked for once, since that takes some
    milliseconds and a verification asks for each level."""
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


#: Each driver loaded once: a verification asks for each reading. What fails is tried again.
_loaded = cache(load_driver)


def udev_rule() -> str:
    """The shipped udev rule for USB scales."""
    from weighd_drivers.usb_hidraw import udev_rule

    return udev_rule()


def reread(spec: Mapping[str, Any]) -> Decoder:
    """The decoder that a record's evidence names. Raises ``KeyError`` where none is installed."""
    try:
        driver = _loaded(str(spec["driver"]))
    except ScaleError as error:
        raise KeyError(spec["driver"]) from error
    return driver.redecoder({key: value for key, value in spec.items() if key != "driver"})


def session_decoder(settings: Mapping[str, Any]) -> Decoder:
    """The decoder for a scale of a recorded session, from its header.

    It is made as the station made its own; a header written by hand may leave out where the scale
    was, and then names the wire shape and the implied unit, if anything.
    """
    name = str(settings["driver"])
    driver = load_driver(name)
    own = {key: value for key, value in settings.items() if key not in _COMMON}
    try:
        return driver.decoder(driver.check(own))
    except ValueError:
        spec = {"shape": own.get("shape") or "auto"}
        if own.get("unit"):
            spec["unit"] = own["unit"]
    try:
        return driver.redecoder(spec)
    except (KeyError, ValueError) as error:
        raise SessionError(
            "bad-session-header",
            f"What the scale sent cannot be read: {name} has no decoder for {spec}.",
            where="line 1",
        ) from error
