"""Wall time as a station has it: what was told of it, carried on by the station's own clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from weighd.station.inputs import ClockSet


class WallClock:
    """Wall time at a moment of the station's clock; 1970 until it was told."""

    def __init__(self) -> None:
        self._since, self._moment = 0.0, datetime(1970, 1, 1, tzinfo=UTC)

    def at(self, t: float) -> str:
        """Wall time at ``t`` seconds, RFC 3339 with ``Z``."""
        wall = self._moment + timedelta(seconds=t - self._since)
        return wall.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def drift(self, told: ClockSet) -> float:
        """How far what is told is from what is thought here, in seconds."""
        return (_moment(told.utc) - self._moment).total_seconds() - (told.t - self._since)

    def set(self, told: ClockSet) -> float:
        """Take what is told; how far it moved, in seconds."""
        moved = self.drift(told)
        self._since, self._moment = told.t, _moment(told.utc)
        return moved


def _moment(utc: str) -> datetime:
    return datetime.fromisoformat(utc).astimezone(UTC)
