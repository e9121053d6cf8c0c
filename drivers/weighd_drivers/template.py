"""A driver to copy: replace what is marked, keep what is not.

To add a driver:

1. Copy this file into a package of your own and change what is marked CHANGE.
2. Name it once, in your ``pyproject.toml``; nothing in weighd itself is touched::

       [project.entry-points."weighd.drivers"]
       template = "your_package.your_module:DRIVER"

3. Run the contract suite over it (``tests/drivers/test_contract.py``).

If your scale sends lines over a serial port you need no driver, only a wire shape: copy one of
the files in ``wire/``. This template talks to a scale that sends lines over TCP.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterable, Mapping

from pydantic import BaseModel, ConfigDict, Field

from weighd.station.ports import Bytes, Decoder, Deliver, Discovered, Driver, Found, Lost, Now
from weighd_drivers.auto import decoder_for, redecoder_for

LOOK_AGAIN_S = 0.5
WAIT_S = 0.2


class TemplateSettings(BaseModel):
    """CHANGE: what a user writes under ``[scales.NAME]``, less the keys that every scale has.

    Strict and closed: a misspelt key is told to the user and never ignored.
    """

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    host: str = Field(min_length=1)
    port: int = Field(ge=1, le=65535)
    shape: str = "auto"


class TemplateSource:
    """Timed bytes. It runs in a thread of its own, so it may block, but for half a second only."""

    def __init__(self, settings: TemplateSettings) -> None:
        self._settings = settings

    def run(self, deliver: Deliver, stop: threading.Event, now: Now) -> None:
        """Deliver until ``stop``. A scale that goes away is looked for again, never an error."""
        told = ""
        while not stop.is_set():
            try:
                with self._open() as link:
                    deliver(Found(now(), f"scale at {self._at}"))
                    told = ""
                    why = self._read(link, deliver, stop, now)
            except OSError as error:
                why = f"The scale at {self._at} cannot be reached ({error}): is it switched on?"
            # The same cause is told once, not twice a second.
            if why and why != told:
                deliver(Lost(now(), why))
                told = why
            stop.wait(LOOK_AGAIN_S)

    @property
    def _at(self) -> str:
        return f"{self._settings.host}:{self._settings.port}"

    def _open(self) -> socket.socket:
        """CHANGE: open the device; an ``OSError`` says that it is not there."""
        return socket.create_connection((self._settings.host, self._settings.port), WAIT_S)

    def _read(self, link: socket.socket, deliver: Deliver, stop: threading.Event, now: Now) -> str:
        """CHANGE: deliver what the scale sends until ``stop``, or say why it ended.

        Take the time right after the read: a weigher's hand is judged by it.
        """
        while not stop.is_set():
            try:
                data = link.recv(4096)
            except TimeoutError:
                continue
            t = now()
            if not data:
                return f"The scale at {self._at} closed the connection."
            deliver(Bytes(t, data))
        return ""


class TemplateDriver:
    """What weighd asks of a driver; see ``weighd.station.ports.Driver``."""

    name = "template"  # CHANGE

    def check(self, settings: Mapping[str, object]) -> Mapping[str, object]:
        """Settings with defaults filled in; raises ``ValueError`` naming the key."""
        return TemplateSettings.model_validate(dict(settings)).model_dump()

    def source(self, settings: Mapping[str, object]) -> TemplateSource:
        """Where the bytes come from. Nothing is opened before ``run``."""
        return TemplateSource(TemplateSettings.model_validate(dict(settings)))

    def decoder(self, settings: Mapping[str, object]) -> Decoder:
        """CHANGE if your scale does not send lines: bytes in, readings out, no I/O.

        Never guess: what does not fit wholly is counted in ``rejected``.
        """
        return decoder_for(TemplateSettings.model_validate(dict(settings)).shape)

    def redecoder(self, spec: Mapping[str, object]) -> Decoder:
        """The decoder that ``Decoder.spec`` describes; records are verified with it years later."""
        return redecoder_for(spec)

    def discover(self) -> Iterable[Discovered]:
        """CHANGE: what is plugged in; empty where that cannot be known."""
        return ()


DRIVER = TemplateDriver()
_satisfies: Driver = DRIVER
