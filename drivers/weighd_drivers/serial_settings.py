"""What may be said of a scale on a serial line."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from weighd.domain.errors import ScaleError
from weighd.domain.mass import Unit
from weighd_drivers.shape_text import as_json, from_json, named, shape_names

_ESCAPES = {"r": "\r", "n": "\n", "t": "\t", "0": "\0", "\\": "\\"}


def _checked_port(text: str) -> str:
    if not text or "\0" in text:
        raise ValueError('give a path such as "/dev/ttyUSB0", "serial:NUMBER" or "VVVV:PPPP"')
    return text


def _checked_shape(value: object) -> object:
    """A name or a table; the path of a file is replaced by what the file says, so that settings
    written into a recorded session stand alone."""
    if value == "auto" or value in shape_names():
        return value
    try:
        if isinstance(value, str):
            return as_json(named(value))
        if isinstance(value, Mapping):
            return as_json(from_json(value))
    except ScaleError as error:
        raise ValueError(str(error)) from error
    raise ValueError('give the name of a shape, the path of a shape file, or "auto"')


def _known_unit(value: object) -> object:
    if value is not None and value not in set(Unit):
        raise ValueError(f"give one of {', '.join(Unit)}")
    return value


def _one_of_stops(value: float) -> float:
    if value not in {1, 1.5, 2}:
        raise ValueError("give 1, 1.5 or 2")
    return value


def request_bytes(text: str) -> bytes:
    """A request as bytes: ``\\r``, ``\\n``, ``\\t``, ``\\0``, ``\\\\`` and ``\\xHH`` are read.

    Raises ``ValueError`` for any other escape and for what is not a byte.
    """

    def one(found: re.Match[str]) -> str:
        given = found[1]
        if given in _ESCAPES:
            return _ESCAPES[given]
        if re.fullmatch(r"x[0-9A-Fa-f]{2}", given):
            return chr(int(given[1:], 16))
        raise ValueError(f"{found[0]!r} is no escape: write \\r, \\n, \\t, \\0, \\\\ or \\x1B")

    try:
        return re.sub(r"\\(x..|.?)", one, text, flags=re.DOTALL).encode("latin-1")
    except UnicodeEncodeError as error:
        raise ValueError("a request is made of bytes: write others as \\xHH") from error


def _checked_request(text: str) -> str:
    request_bytes(text)
    return text


class SerialSettings(BaseModel):
    """``[scales.NAME]`` with ``driver = "serial"``."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    port: Annotated[str, AfterValidator(_checked_port)] = Field(
        description="Where it is plugged in: a path like /dev/ttyUSB0, or what finds a USB adapter "
        "again whatever path it gets: serial:NUMBER (its serial number) or VVVV:PPPP (vendor and "
        "product)."
    )
    baud: int = Field(
        default=9600, ge=50, le=4_000_000, description="Speed of the line, in bits a second."
    )
    data_bits: Literal[5, 6, 7, 8] = Field(default=8, description="Bits of data in a character.")
    parity: Literal["none", "even", "odd", "mark", "space"] = Field(
        default="none", description="The bit that guards a character, if there is one."
    )
    stop_bits: Annotated[float, AfterValidator(_one_of_stops)] = Field(
        default=1, description="Bits that end a character: 1, 1.5 or 2."
    )
    flow: Literal["none", "rts-cts", "xon-xoff", "dsr-dtr"] = Field(
        default="none", description="How one side tells the other to wait."
    )
    request: Annotated[str, AfterValidator(_checked_request)] = Field(
        default="",
        max_length=64,
        description=r"What is sent to ask for a report, with escapes, like W\r\n; empty "
        "for a scale that sends of itself.",
    )
    request_every_s: float = Field(
        default=0.2,
        ge=0.02,
        le=60,
        description="How often it is asked at most, in seconds; again only after an answer.",
    )
    shape: Annotated[str | dict[str, Any], BeforeValidator(_checked_shape)] = Field(
        default="auto",
        description="How it writes a weight: the name of a wire shape that ships, the path of a "
        "shape file, a shape as a table, or auto, which works it out from what comes.",
    )
    unit: Annotated[str | None, BeforeValidator(_known_unit)] = Field(
        default=None, description="The unit that is meant, for shapes whose lines print none."
    )
