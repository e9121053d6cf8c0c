"""Driver ``usb``: a scale of USB's own scale class, read through hidraw or through libusb.

Where Linux shows the scale as hidraw it is read there: nothing is taken from the kernel, and no
library is needed. Elsewhere, or when told to, through libusb. What comes is the same, report by
report, and so is the decoder.

One thread reads, stamps and delivers. Any error but a timeout means that the scale is gone
(pulling the plug shows itself in several); it is looked for again twice a second.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Protocol

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from weighd.station.ports import Bytes, Decoder, Deliver, Discovered, Driver, Found, Lost, Now
from weighd_drivers.hid import DESCRIPTOR, REPORT, HidDecoder, framed, redecoder_for
from weighd_drivers.usb_find import SYSFS, AbsentError, Wanted, fresh_backend, scales
from weighd_drivers.usb_hidraw import Hidraw, nodes, open_node

#: How long between two looks for a scale that is not there, seconds.
LOOK_AGAIN_S = 0.5
#: How long a read waits: libusb cannot be called off, so that so long a stop may take.
READ_MS = 250
#: Just after plugging in, the permission may still be being set: so often, and so long between.
DENIED_TRIES, DENIED_S = 10, 0.1

NO_LIBUSB = (
    "USB scales need the library libusb, which is not here: install the package libusb-1.0-0"
    " (or the extra weighd[usb]) and start weighd anew."
)


Via = Literal["auto", "hidraw", "libusb"]


class UsbSettings(BaseModel):
    """``[scales.NAME]`` with ``driver = "usb"``; without either key, the first scale there is."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    id: Annotated[str, StringConstraints(pattern=r"^([0-9A-Fa-f]{4}:[0-9A-Fa-f]{4})?$")] = Field(
        default="",
        description="Vendor and product as vvvv:pppp in hexadecimal, to choose among several "
        "scales; the first there is where neither this nor serial is given.",
    )
    serial: Annotated[str, StringConstraints(max_length=126)] = Field(
        default="",
        description="The scale's serial number, as weighd scales shows it, to choose among several "
        "of one kind.",
    )
    via: Via = Field(
        default="auto",
        description="How it is reached: hidraw (the kernel's), libusb, or auto, which is hidraw "
        "where the scale is to be seen there.",
    )


class OpenScale(Protocol):
    """A scale that is held, however."""

    what: str
    facts: Mapping[str, str]
    descriptor: bytes

    def read(self, timeout_ms: int) -> bytes:
        """The next report, empty when none came in time; ``OSError`` when it is gone."""

    def close(self) -> None:
        """Let go; never raises."""


class UsbSource:
    """The reports of a USB scale, framed as ``hid`` says, and whether it is there.

    ``backends`` makes a libusb backend for each search, or gives ``None`` without libusb.
    """

    def __init__(
        self,
        wanted: Wanted,
        backends: Callable[[], Any] = fresh_backend,
        sysfs: Path = SYSFS,
        via: Via = "auto",
        hidraw: Hidraw | None = None,
    ) -> None:
        self._wanted = wanted
        self._backends = backends
        self._sysfs = sysfs
        self._via = via
        self._hidraw = hidraw or Hidraw()

    def run(self, deliver: Deliver, stop: threading.Event, now: Now) -> None:
        """Deliver until ``stop``; returns within half a second of it."""
        told, denied = "", 0
        while not stop.is_set():
            try:
                scale = self._open(hurried=denied < DENIED_TRIES - 1)
            except AbsentError as absent:
                denied = denied + 1 if absent.denied else 0
                why = str(absent)
                if 0 < denied < DENIED_TRIES:
                    stop.wait(DENIED_S)
                    continue
            else:
                why, denied = self._read(scale, deliver, stop, now), 0
                told = ""
                # What refers to the old context goes before it does.
                del scale
            if why and why != told:
                deliver(Lost(now(), why))
                told = why
            stop.wait(LOOK_AGAIN_S)

    def _open(self, *, hurried: bool) -> OpenScale:
        """The scale, by the way that is wanted. ``hurried``: a permission may yet come."""
        refused: AbsentError | None = None
        if self._via != "libusb":
            for node in nodes(self._hidraw, self._wanted):
                try:
                    return open_node(self._hidraw, node)
                except AbsentError as absent:
                    refused = refused or absent
        if refused is not None and (self._via == "hidraw" or (refused.denied and hurried)):
            raise refused
        if self._via == "hidraw":
            raise self._none()
        try:
            return self._through_libusb()
        except AbsentError as absent:
            # Of two refusals the one is told whose remedy is the shipped rule.
            raise refused or absent from absent

    def _through_libusb(self) -> OpenScale:
        backend = self._backends()
        if backend is None:
            raise AbsentError(NO_LIBUSB)
        for scale in scales(backend, self._wanted, self._sysfs):
            return scale
        raise self._none()

    def _none(self) -> AbsentError:
        wanted = " ".join(one for one in (self._wanted.id, self._wanted.serial) if one)
        return AbsentError(f"No USB scale {wanted} is plugged in.".replace("  ", " "))

    def _read(self, scale: OpenScale, deliver: Deliver, stop: threading.Event, now: Now) -> str:
        """Deliver reports until ``stop`` or until the scale is gone: then says why."""
        try:
            deliver(Found(now(), scale.what, scale.facts))
            deliver(Bytes(now(), framed(DESCRIPTOR, scale.descriptor)))
            while not stop.is_set():
                data = scale.read(READ_MS)
                if data:  # some devices end each report with an empty transfer
                    deliver(Bytes(now(), framed(REPORT, data)))
        except OSError as error:  # pyusb's is one
            return f"The USB scale was unplugged or switched off ({error})."
        finally:
            scale.close()
        return ""


class UsbDriver:
    """How to reach a USB scale."""

    name = "usb"

    def check(self, settings: Mapping[str, object]) -> Mapping[str, object]:
        """Settings with defaults filled in; raises ``ValueError`` naming the key."""
        return UsbSettings.model_validate(dict(settings)).model_dump()

    def source(self, settings: Mapping[str, object]) -> UsbSource:
        """The reports of the scale."""
        checked = UsbSettings.model_validate(dict(settings))
        return UsbSource(Wanted(checked.id, checked.serial), via=checked.via)

    def decoder(self, settings: Mapping[str, object]) -> Decoder:  # noqa: ARG002 - none matters
        """A decoder that learns the layout from the stream."""
        return HidDecoder()

    def redecoder(self, spec: Mapping[str, object]) -> Decoder:
        """The decoder that ``spec`` describes; ``KeyError`` where it is not of this driver."""
        return redecoder_for(spec)

    def discover(self) -> Iterable[Discovered]:
        """The scales that are plugged in; those that only libusb shows are opened for a moment."""
        return discovered(fresh_backend())


def discovered(backend: Any, sysfs: Path = SYSFS, hidraw: Hidraw | None = None) -> list[Discovered]:
    """The scales that hidraw shows, whether they may be opened or not, and those that only a
    backend shows, of which those that refuse to be opened are left out."""
    out: list[Discovered] = []
    seen: set[str] = set()
    for node in nodes(hidraw or Hidraw(), Wanted()):
        seen.add(node.device)
        out.append(Discovered(UsbDriver.name, str(node.path), node.what, dict(node.settings)))
    if backend is None:
        return out
    try:
        for scale in scales(backend, Wanted(), sysfs, seen):
            where = f"bus {scale.device.bus} address {scale.device.address}"
            scale.close()
            out.append(Discovered(UsbDriver.name, where, scale.what, dict(scale.settings)))
    except AbsentError:
        pass
    return out


DRIVER = UsbDriver()
_satisfies: Driver = DRIVER
