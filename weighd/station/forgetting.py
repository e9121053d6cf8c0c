"""Forgetting what was learned of a scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weighd.domain.errors import OperatorError
from weighd.station.inputs import Answer

if TYPE_CHECKING:
    from weighd.station.station import Station


def forget(station: Station, name: str) -> Answer:
    """Begin with a scale as if it had never been seen. Raises :class:`OperatorError`."""
    scale = station.scales.get(name)
    if scale is None:
        raise OperatorError("unknown-scale", f'No scale is called "{name}".')
    if station.current_on(name) or station.checking.holds(name):
        raise OperatorError(
            "scale-in-use",
            f"The scale {name} is being weighed on, or checked.",
            remedy="Finish that first.",
        )
    scale.forget()
    station.mark(f"scale:{name}")
    return Answer("", None)
