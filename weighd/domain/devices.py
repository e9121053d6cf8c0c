"""Devices that may come in from elsewhere: each was paired with a code that the station showed.

1. A code is shown at the station, to whoever stands there, and typed at the device once.
2. What a device may and what a person may both count: a tablet that only looks stays one, whoever
   signs in at it.
3. A device that was forgotten is out at once, and paired anew like any other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from weighd.domain.errors import OperatorError

LONGEST_NAME = 60
MOST_DEVICES = 100
#: Digits of a code, how long it is good, and how many wrong ones end it.
DIGITS, CODE_S, MOST_WRONG = 8, 300, 20


class May(StrEnum):
    """What a device may, whoever is at it."""

    #: Look at everything, and change nothing: for a screen on a wall.
    LOOK = "look"
    #: Weigh, and whatever else the rights of people allow.
    WORK = "work"
    #: The same, and what else only the station's own computer may: for the one screen of a station
    #: that has none of its own.
    ALL = "all"


@dataclass(frozen=True, slots=True)
class Device:
    """A device that was paired. ``mark`` is the hash of its token; ``since`` and ``seen``: UTC."""

    id: str
    name: str
    may: May
    mark: str
    since: str
    seen: str


def checked_name(name: str) -> str:
    """A name for a device. Raises :class:`OperatorError`, ``bad-name``."""
    name = " ".join(name.split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise OperatorError(
            "bad-name",
            f"A name has 1 to {LONGEST_NAME} characters that can be shown.",
            where="name",
            remedy="Call it by where it is, like tablet at the bench.",
        )
    return name


def find(devices: Iterable[Device], called: str) -> Device:
    """A device by its id or its name. Raises :class:`OperatorError`, ``unknown-device``."""
    name = " ".join(called.split()).casefold()
    for one in devices:
        if name in (one.id, one.name.casefold()):
            return one
    raise OperatorError(
        "unknown-device",
        f'No device is called "{called[:80]}".',
        remedy="It may have been forgotten already: look at the list.",
    )


def may_of(word: str) -> May:
    """What a device may, by its word. Raises :class:`OperatorError`, ``bad-value``."""
    try:
        return May(word)
    except ValueError:
        raise OperatorError(
            "bad-value",
            f'"{word[:40]}" is nothing that a device may.',
            where="may",
            remedy="It may look, work or all.",
        ) from None
