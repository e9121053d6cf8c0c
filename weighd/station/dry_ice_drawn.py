"""A reckoning of dry ice as JSON values.

Numbers are decimal strings: kJ to 0.1, grams and litres to 0.1 and 0.01, ppm to 1; a value with
``at_most`` is *at least* what it says. A figure of the air that is below a limit is told as that
and nothing more: no room is called safe.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from decimal import ROUND_CEILING, Decimal
from typing import Any

from weighd.domain import mass, refrigerant
from weighd.domain.cautions import DRY_ICE, OF_MEANS
from weighd.domain.dry_ice import HUNDREDTH, SIXTY, TENTH, Asked, Reckoned, missing_for
from weighd.domain.formula import Formula
from weighd.domain.refrigerant import Constant
from weighd.domain.room_air import LIMITS, TWA, Room

WHOLE = Decimal(1)
LEFT_OUT = (
    "fat that crystallises (up to about 80 kJ per kg of fat, from memory)",
    "stirring, heat that leaks in, and air beaten in",
)


def draw_about(usual: Mapping[str, str]) -> dict[str, Any]:
    """What is known before anything is asked: the cautions, what is usual, materials of vessels."""
    return {
        "cautions": [each.content() for each in OF_MEANS[DRY_ICE]],
        "usual": {key: value for key, value in usual.items() if value},
        "materials": list(refrigerant.MATERIALS),
    }


def draw_dry_ice(formula: Formula, one: Reckoned) -> dict[str, Any]:
    """Everything about it, as JSON values."""
    asked = one.asked
    return {
        "formula": formula.id,
        "name": formula.name,
        "revision": formula.revision,
        "batch_g": mass.text(one.mix.mass_g),
        "cautions": [each.content() for each in OF_MEANS[DRY_ICE]],
        "asked": _asked(asked),
        "heat": _heat(one),
        "charge": _charge(one),
        "portions": _portions(one),
        "elsewhere": _elsewhere(one),
        "room": draw_room(one.room, ventilation_known=asked.ventilation_known),
        "constants": [_constant(each) for each in refrigerant.CONSTANTS],
        "missing": missing_for(one.mix),
        "assumptions": _assumptions(one),
    }


def _asked(asked: Asked) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for field in fields(asked):
        value = getattr(asked, field.name)
        out[field.name] = mass.text(value) if isinstance(value, Decimal) else value
    return out


def _span(low: Decimal, high: Decimal, step: Decimal) -> dict[str, Any]:
    low, high = min(low, high), max(low, high)
    out = {"value": mass.text(mass.rounded(low, step))}
    most = mass.text(mass.rounded(high, step))
    return out if most == out["value"] else {**out, "at_most": most}


def _heat(one: Reckoned) -> dict[str, Any]:
    least, most, vessel = one.least, one.most, one.vessel_kj
    ends = [
        each.solution.depression() for each in (one.parts.least, one.parts.most) if each.solution
    ]
    begins = sorted(-end for end in ends if end is not None)
    water = one.mix.of("water")
    return {
        "cooling_kj": _span(least.cooling_kj, most.cooling_kj, TENTH),
        "freezing_kj": _span(least.freezing_kj, most.freezing_kj, TENTH),
        "below_kj": _span(least.below_kj, most.below_kj, TENTH),
        "vessel_kj": mass.text(mass.rounded(vessel, TENTH)),
        "total_kj": _span(least.total_kj + vessel, most.total_kj + vessel, TENTH),
        "begins_c": _span(begins[0], begins[-1], HUNDREDTH) if begins else None,
        "ice_g": _span(least.ice_g, most.ice_g, TENTH),
        "frozen_percent": _span(least.ice_g / water.low * 100, most.ice_g / water.high * 100, TENTH)
        if water.low
        else None,
        "left_out": list(LEFT_OUT),
    }


def _charge(one: Reckoned) -> dict[str, Any]:
    found, asked = one.charge, one.asked
    share = asked.efficiency_percent / 100
    volume = one.mix.of("volume_ml")
    mix_l = volume.high / 1000
    same_volume_g = mix_l * asked.powder_kg_l * 1000
    return {
        "least_g": mass.text(mass.rounded(found.least_g, TENTH)),
        "most_g": mass.text(mass.rounded(found.most_g, TENTH)),
        "counted_g": mass.text(one.counted_g),
        "counted": "as asked" if asked.charge_g else "the most",
        "ideal_g": {
            "gas_leaves_at_mix": mass.text(mass.rounded(found.least_g * share, TENTH)),
            "gas_leaves_cold": mass.text(mass.rounded(found.most_g * share, TENTH)),
        },
        "efficiency_percent": mass.text(asked.efficiency_percent),
        "efficiency_status": "not verified by a source; keep it with the batch and compare",
        "powder": {
            "kg_l": mass.text(asked.powder_kg_l),
            "litres": mass.text(mass.rounded(one.counted_g / 1000 / asked.powder_kg_l, HUNDREDTH)),
            "status": refrigerant.POWDER.status
            if asked.powder_kg_l == refrigerant.POWDER.value
            else "as given",
        },
        "rule_of_thumb": {
            "says": "about the same volume of powder as of mix",
            "status": refrigerant.PRACTICE,
            "mix_litres": mass.text(mass.rounded(mix_l, HUNDREDTH)),
            "powder_g": mass.text(mass.rounded(same_volume_g, WHOLE)),
            "times_the_charge": mass.text(mass.rounded(same_volume_g / one.counted_g, HUNDREDTH)),
        },
    }


def draw_figures(
    told: Mapping[str, Any] | None, share: Decimal | None = None
) -> dict[str, Any] | None:
    """What a step with dry ice was reckoned with, as its record has it, and its portions; and what
    share of the cold ended in the mix, where that can be told afterwards."""
    if told is None:
        return None
    asked = told["asked"]
    every, over = int(mass.parse(asked["every_s"])), int(mass.parse(asked["over_min"]) * SIXTY)
    found = None if share is None else mass.text(share)
    out = {
        **told,
        "share_percent": found,
        "portions": portions_of(mass.parse(told["counted_g"]), every, over),
    }
    if "weighed" in told:
        out["weighed"] = {k: one for k, one in told["weighed"].items() if k != "evidence"}
    return out


def portions_of(charge_g: Decimal, every_s: int, over_s: int) -> list[dict[str, Any]]:
    """A charge in portions, as JSON values."""
    return [
        {"n": each.n, "at_s": each.at_s, "grams": mass.text(each.grams)}
        for each in refrigerant.portions(charge_g, every_s, over_s)
    ]


def _portions(one: Reckoned) -> dict[str, Any]:
    asked = one.asked
    every, over = int(asked.every_s), int(asked.over_min * SIXTY)
    return {
        "status": refrigerant.PRACTICE,
        "every_s": every,
        "over_s": over,
        "size": "crushed to no larger than a pea",
        "then": "5 to 10 minutes in the freezer, lid open, so that what is left sublimes",
        "rest_s": list(refrigerant.REST_S),
        "stop": "Stop when the mix is as stiff as you want it: the charge is a guide.",
        "list": portions_of(one.counted_g, every, over),
    }


def _elsewhere(one: Reckoned) -> dict[str, Any]:
    low = refrigerant.elsewhere(one.least.total_kj + one.vessel_kj)
    high = refrigerant.elsewhere(one.most.total_kj + one.vessel_kj)
    return {
        "freezer_kwh": _span(low.freezer_kwh, high.freezer_kwh, Decimal("0.001")),
        "melted_ice_kg": _span(low.melted_ice_kg, high.melted_ice_kg, HUNDREDTH),
        "note": "Cold, not electricity. Ice needs salt: alone it gets no colder than 0 °C, with "
        "salt -21 °C at most (from memory).",
    }


def draw_room(room: Room, *, ventilation_known: bool) -> dict[str, Any]:
    """The air of a room as JSON values, held against the published limits."""
    hours = room.hours_until_below(TWA.ppm)
    return {
        "volume_m3": mass.text(room.volume_m3),
        "air_changes": mass.text(room.changes_h),
        "ventilation_known": ventilation_known,
        "gas_m3": mass.text(mass.rounded(room.gas_m3, Decimal("0.001"))),
        "release_min": mass.text(mass.rounded(room.release_h * SIXTY, TENTH)),
        "background_ppm": mass.text(room.background_ppm),
        "peak_ppm": _ppm(room.peak_ppm),
        "quarter_ppm": _ppm(room.quarter_ppm),
        "shift_ppm": _ppm(room.shift_ppm),
        "below_5000_after_h": None if hours is None else _up(hours, HUNDREDTH),
        "limits": [
            {
                "id": one.id,
                "ppm": mass.text(one.ppm),
                "over": str(one.over),
                "by": one.by,
                "source": one.source,
                "seen": one.seen,
                "reckoned_ppm": _ppm(room.over(one.over)),
                "exceeded": room.over(one.over) >= one.ppm,
                "air_changes_needed": None if needed is None else _up(needed, TENTH),
            }
            for one in LIMITS
            for needed in [room.changes_for(one)]
        ],
        "warning": ROOM_WARNING,
    }


ROOM_WARNING = (
    "Reckoned as if the air were well mixed. It is not: the gas is heavier and gathers low, where "
    "it can be many times as much. These figures can show that a room is too small; they cannot "
    "show that it is safe."
)


def _ppm(value: Decimal) -> str:
    return mass.text(mass.rounded(value, WHOLE))


def _up(value: Decimal, step: Decimal) -> str:
    """Rounded up: to promise less."""
    return mass.text(((value / step).to_integral_value(ROUND_CEILING) * step).quantize(step))


def _constant(one: Constant) -> dict[str, str]:
    return {
        "name": one.name,
        "value": mass.text(one.value),
        "unit": one.unit,
        "source": one.source,
        "status": one.status,
    }


def _assumptions(one: Reckoned) -> list[str]:
    asked = one.asked
    out = [
        "The efficiency is not verified by any source: what you log with your batches is better.",
        (
            "All of the charge is counted as gas in the room. What is lost while it waits comes on "
            "top: give what you weigh out as the charge."
        ),
    ]
    if not asked.ventilation_known:
        out.append("Air changes were not given: they are taken as none.")
    if not asked.release_min:
        out.append("The gas is taken to come at once.")
    if asked.vessel_g:
        out.append(
            f"Vessel: {asked.vessel_of}, {asked.vessel_cp} kJ/(kg K) (from memory, unless given), "
            f"at {asked.vessel_from_c} °C before."
        )
    else:
        out.append("No vessel was given: its own heat is left out.")
    if one.parts.recalled:
        out.append(
            "Where protein and ash of milk solids are not stated they are 38 and 8 % of them, for "
            "heat capacity only."
        )
    return out
