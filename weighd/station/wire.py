"""What a scale sends, to be looked at: its newest reports byte by byte, and what stands where."""

from __future__ import annotations

from typing import Any

from weighd.domain.reading import Reading
from weighd.station.picture import draw_reading
from weighd.station.ports import Marking
from weighd.station.scale import LinkState, ScaleState

#: A longer report is shown up to here.
MOST_BYTES = 64
#: Control characters by their names (ISO 646, from memory).
_NAMES = (
    "NUL", "SOH", "STX", "ETX", "EOT", "ENQ", "ACK", "BEL", "BS", "HT", "LF", "VT", "FF", "CR",
    "SO", "SI", "DLE", "DC1", "DC2", "DC3", "DC4", "NAK", "SYN", "ETB", "CAN", "EM", "SUB", "ESC",
    "FS", "GS", "RS", "US",
)  # fmt: skip


def draw_wire(scale: ScaleState) -> dict[str, Any]:
    """``shape``    what makes its decoder again: the name of a wire shape, or all of one; ``auto``
                   while it is being worked out. Of a USB scale, where things stand in a report.
    ``reports``     the newest readings, oldest first, none where it is not live: ``bytes`` (each
                    as a sign, see :func:`signs`), ``marks`` (what stands from which of them to
                    which), and the reading as :func:`~weighd.station.picture.draw_reading` has it.
    ``rejected``    how many were not understood; ``last_rejected`` the bytes of the newest.
    """
    decoder = scale.setup.decoder
    live = scale.link is LinkState.LIVE
    return {
        "name": scale.name,
        "driver": scale.setup.driver,
        "shape": dict(decoder.spec),
        "reports": [_report(scale, one) for one in scale.newest] if live else [],
        "rejected": decoder.rejected,
        "last_rejected": signs(decoder.last_rejected),
    }


def _report(scale: ScaleState, one: Reading) -> dict[str, Any]:
    decoder = scale.setup.decoder
    found = decoder.marks(one.raw) if isinstance(decoder, Marking) else ()
    return {
        **draw_reading(one),
        "bytes": signs(one.raw),
        "marks": [[what, begin, end] for what, begin, end in found if end <= MOST_BYTES],
    }


def signs(data: bytes) -> list[str]:
    """A sign for each byte: printable ASCII as it is, a blank as an open box (U+2423), a control
    character by its name, any other in two hexadecimal digits."""
    return [_sign(code) for code in data[:MOST_BYTES]]


def _sign(code: int) -> str:
    if code == 0x20:
        return "\u2423"
    if code < 0x20:
        return _NAMES[code]
    return chr(code) if code < 0x7F else f"{code:02X}"
