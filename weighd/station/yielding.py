"""Recording what came of a batch: a draw typed, or weighed on a scale of the station."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from weighd.domain import mass
from weighd.domain.addition import Draft
from weighd.domain.batch import Batch, Kind
from weighd.domain.draws import MOST_DRAWS, bad
from weighd.domain.errors import OperatorError
from weighd.domain.metrology import level
from weighd.domain.reading import steps_of
from weighd.domain.settling import FEWEST
from weighd.domain.yield_record import Stands, Tub, tub_known, tub_typed, yield_body
from weighd.station.inputs import Command

if TYPE_CHECKING:
    from weighd.station.station import Station


def yield_drafts(station: Station, batch: Batch, command: Command) -> tuple[Draft, ...]:
    """The entry that ``record yield`` makes. Raises :class:`OperatorError`."""
    if command.draw is not None and not isinstance(command.draw, Mapping):
        raise bad("draw", "A draw is a table of what was entered.")  # of a recording
    given = dict(command.draw or {})
    tare = given.pop("tare", None)
    if batch.draws.made >= MOST_DRAWS and command.corrects is None:
        raise OperatorError(
            "too-many-draws",
            f"{MOST_DRAWS} draws of batch {batch.id} are recorded already.",
            remedy="Put one of them right instead.",
        )
    stands = None
    if command.scale:
        stands = _stands(station, command, tare)
    elif tare is not None or command.vessel:
        raise OperatorError(
            "bad-draw",
            "A container is only taken off a weight that a scale shows.",
            where="tare",
            remedy="Name the scale, or type the net weight.",
        )
    body = yield_body(
        batch,
        given,
        command.by.strip() or batch.operator,
        stands=stands,
        corrects=command.corrects,
        reason=command.reason.strip(),
    )
    return (Draft(Kind.YIELD, body),)


def _stands(station: Station, command: Command, tare: object) -> Stands:
    """What stands on a scale now. Raises :class:`OperatorError` where that cannot be told."""
    state = station.scales.get(command.scale)
    if state is None:
        raise OperatorError(
            "unknown-scale",
            f'No scale is called "{command.scale}".',
            where="scale",
            remedy="There is: " + ", ".join(station.scales) + ".",
        )
    if station.current_on(state.name) or station.checking.holds(state.name):
        raise OperatorError(
            "scale-in-use",
            f"The scale {state.name} is being used for something else.",
            where="scale",
            remedy="Finish that first, or type the weight.",
        )
    scale, finding = state.as_scale(), state.finding
    if scale is None or finding is None:
        raise OperatorError(
            "scale-not-heard",
            f"The scale {state.name} cannot be heard.",
            where="scale",
            remedy="Switch it on, or type the weight.",
        )
    evidence = state.evidence()
    if finding.level is None or not finding.firm or len(evidence.readings) < FEWEST:
        raise OperatorError(
            "not-settled", "The scale has not come to rest yet.", where="scale", remedy="Wait."
        )
    shown = [mass.parse(one["grams"]) for one in evidence.readings]
    return Stands(
        scale,
        level(shown, steps_of(scale.interval_g, evidence.readings)),
        _tub(station, command.vessel, tare),
        {"decoder": dict(evidence.decoder), "readings": list(evidence.readings)},
    )


def _tub(station: Station, vessel: str, tare: object) -> Tub:
    if vessel and tare is not None:
        raise OperatorError(
            "bad-draw",
            "The container is given twice.",
            where="tare",
            remedy="Give its mass, or name the vessel.",
        )
    known = station.shelf.get(vessel)
    if known is not None:
        return tub_known(known)
    return Tub() if tare is None else tub_typed(tare)
