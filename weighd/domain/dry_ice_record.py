"""What a record keeps of a step with dry ice: what was asked, what followed, what was weighed out.

1. A step with dry ice begins only with a room: its figures stand in its ``step begun`` entry, made
   of what is in the batch by then, and are made again when the record is verified.
2. Dry ice that stands on a scale until it is used is recorded at that moment: a line through what
   the display showed, with its rate, and the readings that it goes through.
3. Where too little is known of the mix for its heat, the charge must be given or weighed; the room
   is reckoned all the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.as_weighed import parts_of
from weighd.domain.batch import Batch
from weighd.domain.cautions import DRY_ICE
from weighd.domain.dry_ice import TENTH, Amounts, Asked, read_asked, reckon, room_for
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.following import does_not_follow, not_recordable
from weighd.domain.kinds import Kind
from weighd.domain.process import ProcessStep
from weighd.domain.process_run import Run
from weighd.domain.record import Entry
from weighd.domain.room_air import LIMITS, Room
from weighd.domain.sublimation import FEWEST, Waste, waste

_WHOLE = Decimal(1)
#: Figures of a scale are kept to a tenth of its interval.
_TENTHS = 10
#: Reads the display again from evidence: the readings' grams, once their bytes say so.
Displayed = Callable[[Mapping[str, Any], int, Decimal], Sequence[Decimal]]


def begun(batch: Batch, step: ProcessStep, given: Mapping[str, Any] | None) -> dict[str, Any]:
    """What the entry of a step that begins says of dry ice; nothing where it is done without.

    ``given``  ``asked``: fields of :data:`~weighd.domain.dry_ice.FIELDS` as text; ``weighed``, as
               :func:`weighed_out` made it.
    Raises :class:`OperatorError` as :func:`~weighd.domain.dry_ice.read_asked` and ``reckon`` do.
    """
    if step.means != DRY_ICE:
        return {}
    asked, weighed = dict((given or {}).get("asked", {})), (given or {}).get("weighed")
    if weighed is not None and not asked.get("charge_g"):
        asked["charge_g"] = mass.text(mass.rounded(mass.parse(weighed["net_g"]), TENTH))
    return {DRY_ICE.replace(" ", "_"): figures(batch, read_asked(asked), weighed)}


def figures(batch: Batch, asked: Asked, weighed: Mapping[str, Any] | None) -> dict[str, Any]:
    """The figures of a step, for what is in the batch. Raises :class:`OperatorError`."""
    amounts = amounts_in(batch)
    out: dict[str, Any] = {"asked": as_text(asked)}
    try:
        one = reckon(amounts, asked)
    except OperatorError as error:
        if asked.charge_g is None:
            raise OperatorError(
                error.code,
                error.message,
                where=error.where,
                remedy=f"{error.remedy} Or weigh the dry ice out, or give its mass (charge_g).",
            ) from error
        charge = mass.rounded(asked.charge_g, TENTH)
        out |= {"heat_unknown": error.code, "counted_g": mass.text(charge)}
        room = room_for(asked, charge)
    else:
        ends = (one.least.total_kj + one.vessel_kj, one.most.total_kj + one.vessel_kj)
        out |= {
            "heat_kj": [_text(min(ends), TENTH), _text(max(ends), TENTH)],
            "charge_g": [_text(one.charge.least_g, TENTH), _text(one.charge.most_g, TENTH)],
            "counted_g": mass.text(one.counted_g),
        }
        room = one.room
    out["room"] = _air(room)
    return out if weighed is None else {**out, "weighed": dict(weighed)}


def amounts_in(batch: Batch) -> Amounts:
    """What is in a batch, in grams, as weighed."""
    return [(one.ingredient, one.mass_g) for one in parts_of(batch) if one.mass_g > 0]


def share_of_cold(batch: Batch, run: Run) -> Decimal | None:
    """What share of the cold ended in the mix, in percent, if all of the dry ice that was counted
    was used: by the last temperature measured in the step, and with the gas leaving cold, as the
    efficiency is asked for. ``None`` while it cannot be told; the next batch can be asked with it.
    """
    told = run.dry_ice
    if told is None or run.outcome is None or not run.counted or "heat_kj" not in told:
        return None
    drawn = (run.counted[-1].temperature.ninths / 9).quantize(TENTH)
    ideal = {**told["asked"], "to_c": mass.text(drawn), "efficiency_percent": "100"}
    try:
        one = reckon(amounts_in(batch), read_asked(ideal))
    except OperatorError:
        return None
    share = one.charge.most_g / mass.parse(told["counted_g"]) * 100
    return mass.rounded(share, _WHOLE)


def _air(room: Room) -> dict[str, Any]:
    return {
        "peak_ppm": _text(room.peak_ppm, _WHOLE),
        "quarter_ppm": _text(room.quarter_ppm, _WHOLE),
        "shift_ppm": _text(room.shift_ppm, _WHOLE),
        "above": [one.id for one in LIMITS if room.over(one.over) >= one.ppm],
    }


def as_text(asked: Asked) -> dict[str, str]:
    """What was asked, so that :func:`~weighd.domain.dry_ice.read_asked` reads it again."""
    out = {}
    for field in fields(asked):
        value = getattr(asked, field.name)
        if isinstance(value, Decimal):
            out[field.name] = mass.text(value)
    if not asked.ventilation_known:
        del out["air_changes"]
    return {**out, "vessel_of": asked.vessel_of}


# --- weighed out ----------------------------------------------------------------------------------


def weighed_out(
    scale: str,
    interval_g: Decimal,
    points: Sequence[tuple[float, Decimal]],
    tare_g: Decimal,
    evidence: Mapping[str, Any],
) -> dict[str, Any]:
    """Dry ice as it stands on a scale now, from the readings kept as ``evidence``: the mass at the
    last of them by the line through all, and its rate.

    Raises :class:`OperatorError`, ``not-settled`` or ``nothing-poured``.
    """
    seen = waste(points, interval_g)
    if seen is None:
        raise OperatorError(
            "not-settled",
            f"What stands on the scale {scale} has not been untouched for long enough.",
            where=scale,
            remedy="Leave it alone for some ten seconds, then begin.",
        )
    drawn = _line(seen, interval_g, tare_g)
    if mass.parse(drawn["net_g"]) <= 0:
        raise OperatorError("nothing-poured", f"Nothing stands on the scale {scale}.", where=scale)
    out = {"scale": scale, "interval_g": mass.text(interval_g), "tare_g": mass.text(tare_g)}
    return {**out, **drawn, "evidence": dict(evidence)}


def _line(seen: Waste, interval_g: Decimal, tare_g: Decimal) -> dict[str, str]:
    step = interval_g / _TENTHS
    net = Decimal(str(seen.grams)) - tare_g
    told = {"u_g": seen.u_grams, "rate_g_min": seen.rate_g_min, "u_rate_g_min": seen.u_rate_g_min}
    return {
        "net_g": _text(net, step),
        **{key: _text(Decimal(str(value)), step) for key, value in told.items()},
        "watched_s": _text(Decimal(str(seen.seconds)), TENTH),
    }


# --- verified -------------------------------------------------------------------------------------


def check_dry_ice(batch: Batch, entry: Entry, step: ProcessStep | None, read: Displayed) -> None:
    """Whether what an entry says of dry ice follows from what was asked, and from its readings.

    Raises :class:`RecordError`; ``KeyError`` or ``ValueError`` for nonsense.
    """
    if entry.kind != Kind.STEP_BEGUN or step is None:
        return
    key = DRY_ICE.replace(" ", "_")
    told = entry.body.get(key)
    if (step.means == DRY_ICE) is not (told is not None):
        raise _differs(entry, "a step with dry ice has its figures, and no other")
    if told is None:
        return
    weighed = told.get("weighed")
    try:
        made = figures(batch, read_asked(told["asked"]), weighed)
    except OperatorError as error:
        raise not_recordable(entry, error) from error
    if dict(told) != made:
        raise _differs(entry, "the figures of dry ice are not what was asked gives")
    if weighed is not None:
        _weighed_again(entry, weighed, read)


def _weighed_again(entry: Entry, weighed: Mapping[str, Any], read: Displayed) -> None:
    interval, evidence = mass.parse(weighed["interval_g"]), weighed["evidence"]
    shown = read(evidence, FEWEST, interval)
    times = [float(one["t"]) for one in evidence["readings"]]
    seen = waste(list(zip(times, shown, strict=True)), interval)
    if seen is None:
        raise _differs(entry, "its readings are too few to tell a loss")
    step = interval / _TENTHS
    for key, value in _line(seen, interval, mass.parse(weighed["tare_g"])).items():
        # Lines are reckoned in floats: the last digit may differ from machine to machine.
        slack = TENTH if key == "watched_s" else step
        if abs(mass.parse(weighed[key]) - mass.parse(value)) > slack:
            raise _differs(entry, f"the {key} is {weighed[key]}, where its readings give {value}")


def _differs(entry: Entry, message: str) -> RecordError:
    return does_not_follow(entry, f"{message[0].upper()}{message[1:]}.")


def _text(value: Decimal, step: Decimal) -> str:
    return mass.text(mass.rounded(value, step))
