"""Freezing with dry ice, told to people: lines of text from what ``dry_ice`` drew."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def tell(drawn: Mapping[str, Any]) -> list[str]:
    """The whole of it, a line each; the cautions first."""
    out = [f"{drawn['name']} ({drawn['formula']}), {drawn['batch_g']} g, frozen with dry ice", ""]
    out.append("Before you begin:")
    out += [f"  - {one['name']}: {one['text']}" for one in drawn["cautions"]]
    out += ["", *tell_room(drawn["room"]), "", *_heat(drawn), "", *_charge(drawn["charge"])]
    out += ["", *_portions(drawn["portions"])]
    other = drawn["elsewhere"]
    out += [
        "",
        (
            f"The same without dry ice: {_value(other['freezer_kwh'])} kWh of cold from a freezer, "
            f"or {_value(other['melted_ice_kg'])} kg of ice melted. {other['note']}"
        ),
        "",
        "Reckoned with:",
    ]
    out += [
        f"  {one['name']}: {one['value']} {one['unit']} [{one['source']}; {one['status']}]"
        for one in drawn["constants"]
    ]
    if drawn["missing"]:
        out += ["", "Missing, so that there is a range:"]
        out += [f"  {who}: {', '.join(what)}" for who, what in drawn["missing"].items()]
    return [*out, "", *drawn["assumptions"]]


def _value(one: Mapping[str, str]) -> str:
    return f"{one['value']} to {one['at_most']}" if "at_most" in one else one["value"]


def _heat(drawn: Mapping[str, Any]) -> list[str]:
    heat, asked = drawn["heat"], drawn["asked"]
    begins = heat["begins_c"]
    frozen = heat["frozen_percent"]
    out = [f"Heat to take out, {asked['from_c']} to {asked['to_c']} °C:"]
    rows = [
        ("cooling" + (f" to {_value(begins)} °C, where it begins" if begins else ""), "cooling_kj"),
        (
            f"freezing {_value(heat['ice_g'])} g of ice"
            + (f", {_value(frozen)} % of the water" if frozen else ""),
            "freezing_kj",
        ),
        ("cooling what is frozen and what is not", "below_kj"),
    ]
    out += [f"  {_value(heat[key]):>16} kJ  {name}" for name, key in rows]
    if float(heat["vessel_kj"]):
        out.append(f"  {heat['vessel_kj']:>16} kJ  the vessel")
    out.append(f"  {_value(heat['total_kj']):>16} kJ  in all")
    out.append(f"  Left out: {'; '.join(heat['left_out'])}.")
    return out


def _charge(charge: Mapping[str, Any]) -> list[str]:
    ideal, powder, rule = charge["ideal_g"], charge["powder"], charge["rule_of_thumb"]
    return [
        (
            f"Dry ice: {charge['least_g']} to {charge['most_g']} g at "
            f"{charge['efficiency_percent']} % efficiency ({charge['efficiency_status']})."
        ),
        (
            f"  If nothing were lost: {ideal['gas_leaves_at_mix']} g with the gas leaving at the "
            f"temperature of the mix, {ideal['gas_leaves_cold']} g with the gas leaving cold."
        ),
        (
            f"  Counted here: {charge['counted_g']} g ({charge['counted']}), some "
            f"{powder['litres']} L of powder at {powder['kg_l']} kg/L ({powder['status']})."
        ),
        (
            f"  The trade says {rule['says']} ({rule['status']}): {rule['mix_litres']} L of mix, "
            f"so {rule['powder_g']} g, {rule['times_the_charge']} times the charge."
        ),
    ]


def _portions(portions: Mapping[str, Any]) -> list[str]:
    rows = portions["list"]
    out = [
        (
            f"{len(rows)} portions, {portions['size']}, one every {portions['every_s']} s "
            f"({portions['status']}):"
        )
    ]
    out += [f"  {_clock(one['at_s'])}  {one['grams']:>8} g" for one in rows]
    out.append(f"Then {portions['then']}. {portions['stop']}")
    return out


def _clock(seconds: int) -> str:
    return f"{seconds // 60:>3}:{seconds % 60:02}"


def tell_room(room: Mapping[str, Any]) -> list[str]:
    """The air of a room, a line each."""
    known = "" if room["ventilation_known"] else " (not given: taken as none)"
    release = float(room["release_min"])
    coming = f"over {room['release_min']} min" if release else "at once"
    out = [
        (
            f"Air of the room: {room['volume_m3']} m³, {room['air_changes']} air changes an hour"
            f"{known}; {room['gas_m3']} m³ of gas {coming}"
        ),
    ]
    for one in room["limits"]:
        word = "ABOVE" if one["exceeded"] else "below"
        out.append(
            f"  {one['over']:<22} {one['reckoned_ppm']:>7} ppm, {word} {one['ppm']} ({one['by']})"
            f"{_needed(one)}"
        )
    after = room["below_5000_after_h"]
    out.append(
        "  It stays above 5000 ppm until somebody airs the room."
        if after is None
        else f"  Below 5000 ppm {after} h after the first gas."
        if float(after)
        else "  It does not reach 5000 ppm by this reckoning."
    )
    return [*out, f"  {room['warning']}"]


def _needed(limit: Mapping[str, Any]) -> str:
    if not limit["exceeded"]:
        return ""
    needed = limit["air_changes_needed"]
    if needed is None:
        return "; no ventilation of a room is enough: less dry ice, or outdoors"
    return f"; {needed} air changes an hour would keep it below"


def tell_figures(told: Mapping[str, Any]) -> list[str]:
    """What a step with dry ice was reckoned with, out of its record, a line each."""
    asked, room, weighed = told["asked"], told["room"], told.get("weighed")
    out = [
        (
            f"dry ice: {told['counted_g']} g counted, {asked['from_c']} to {asked['to_c']} °C, "
            f"{asked['efficiency_percent']} % efficiency (not verified)"
        )
    ]
    if weighed:
        out.append(
            f"weighed on {weighed['scale']} as it was used: {weighed['net_g']} g, losing "
            f"{weighed['rate_g_min']} g a minute"
        )
    changes = asked.get("air_changes", "not known: no")
    above = f"; above {', '.join(room['above'])}" if room["above"] else ""
    out.append(
        f"room of {asked['room_m3']} m³, {changes} air changes an hour: up to {room['peak_ppm']} "
        f"ppm, {room['shift_ppm']} over 8 hours{above}"
    )
    if told["share_percent"] is not None:
        out.append(
            f"if all of it was used, {told['share_percent']} % of the cold ended in the mix: the "
            "efficiency to reckon with next time"
        )
    return out
