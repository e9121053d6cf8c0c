"""One thing that was looked at of a station, and how it stands."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import StrEnum

from weighd.domain.errors import WeighdError


class Level(StrEnum):
    """How a finding stands: ``bad`` keeps the station from weighing, ``warn`` soon may."""

    OK = "ok"
    NOTE = "note"
    WARN = "warn"
    BAD = "bad"


@dataclass(frozen=True, slots=True)
class Finding:
    """``what`` is a sentence, ``remedy`` what to do, ``where`` a file or address; both may be
    empty."""

    about: str
    level: Level
    what: str
    remedy: str = ""
    where: str = ""

    def as_json(self) -> dict[str, str]:
        """As JSON values."""
        return {key: str(value) for key, value in asdict(self).items()}


def of_error(about: str, error: WeighdError, level: Level = Level.BAD) -> Finding:
    """What an error says, as a finding."""
    remedy = error.remedy or "Change what stands there, then look again."
    return Finding(about, level, error.message, remedy, error.where)
