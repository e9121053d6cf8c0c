"""The inputs of a station: bytes from scales, commands from people, and time passing.

``t`` is seconds of the station's clock, never falling. A session file is a list of these, and
nothing else reaches the fold: that is why a recorded session replays exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Heard:
    """Bytes of a scale, as they came."""

    t: float
    scale: str
    data: bytes


@dataclass(frozen=True, slots=True)
class LinkLost:
    """The link to a scale went away; ``why`` in a cook's words."""

    t: float
    scale: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class LinkFound:
    """A scale answers (again); ``facts`` may hold ``max_g`` and ``interval_g``."""

    t: float
    scale: str
    what: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ClockSet:
    """The wall clock says ``utc`` (RFC 3339, ``Z``) at ``t``: at the start, and when stepped."""

    t: float
    utc: str


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passed and nothing else happened."""

    t: float


@dataclass(frozen=True, slots=True)
class Command:
    """What a person asked for.

    ``do``        ``"start"`` or one of :class:`~weighd.domain.addition.Do`.
    ``key``       idempotency key: the same key acts once.
    ``addition``  the addition it is meant for; a press that comes too late is refused.
    ``formula``   for ``start``: the formula's content, so that a session stands on its own.
    """

    t: float
    do: str
    key: str = ""
    by: str = ""
    batch: str = ""
    addition: int | None = None
    reason: str = ""
    lot: str = ""
    confirm: bool = False
    formula: Mapping[str, Any] | None = None
    batch_g: str = ""
    scale: str = ""


Input = Heard | LinkLost | LinkFound | ClockSet | Tick | Command


@dataclass(frozen=True, slots=True)
class Answer:
    """What a command did: the batch it was about and the number of the entry it made."""

    batch: str
    entry: int | None
    again: bool = False
