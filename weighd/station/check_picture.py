"""What pages are shown of checks: how each scale stands, and the check that goes on."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from weighd.domain import mass
from weighd.domain.check import Found, Part, Placement, Terms, doubts
from weighd.domain.check_record import Read, found, reads_of
from weighd.domain.check_standing import Standing, barred
from weighd.domain.check_steps import Going
from weighd.domain.record import Entry
from weighd.station.checking import Running
from weighd.station.station import Station

#: They are drawn anew with each reading, and change with a step at the most.
_doubts, _found_of = lru_cache(64)(doubts), lru_cache(512)(found)


def draw_check(station: Station, name: str) -> dict[str, Any] | None:
    """The check of a scale; ``None`` where it need not be checked."""
    checking, scale = station.checking, station.scales[name]
    routine, stands = scale.setup.check, checking.standing(station, name)
    if routine is None or stands is None:
        return None
    facts, run = scale.as_scale(), checking.running.get(name)
    terms = facts and Terms(facts, routine.plan.rule or station.rule, routine.plan.limit_g)
    past = checking.past.get(name)
    return {
        **routine.duty.as_json(),
        "standing": str(stands),
        "barred": barred(name, stands, routine.duty) is not None,
        "last": past.last.as_json() if past and past.last else None,
        "due": checking.due(station, name) if stands is Standing.GOOD else None,
        "overdue_since": checking.due(station, name) if stands is Standing.OVERDUE else None,
        "doubts": _doubts(routine.plan, terms) if terms else [],
        "weights": [one.as_json() for one in routine.plan.weights],
        "placements": len(routine.plan.placements),
        "clearing": checking.clearing(name),
        "running": _running(run) if run else None,
    }


def _running(run: Running) -> dict[str, Any]:
    """The check as it stands: what is asked for, what stands there, what was found so far."""
    going = run.going
    current, base = going.current, going.base
    net = now = None
    if going.loaded is not None and base is not None and current is not None:
        read = Read(current, base.level, going.loaded.level)
        net, now = read.net_g, _found_of(read, going.terms)
    odd = None
    if going.odd is not None:
        odd = going.odd.level.grams - (base.level.grams if base else 0)
    reads = reads_of(going)
    return {
        "by": run.by,
        "began": run.began,
        "of": len(going.plan.placements),
        "wanted": str(going.wanted),
        "note": str(going.note),
        "odd_g": None if odd is None else mass.text(odd),
        "current": _asked(current, going) if current else None,
        "net_g": None if net is None else mass.text(net),
        "found": None if now is None else _found(now),
        "left_out": list(run.left_out),
        "steps": [
            {
                **_asked(one.placement, going),
                "net_g": mass.text(one.net_g),
                **_found(_found_of(one, going.terms)),
            }
            for one in reads
        ],
    }


def _asked(placed: Placement, going: Going) -> dict[str, Any]:
    """What is asked for; of those put on again and again, the how manieth."""
    before = [one for one in going.plan.placements[: placed.n] if one.part is placed.part]
    return {
        "n": placed.n,
        "part": str(placed.part),
        "place": str(placed.place),
        "nth": len(before) if placed.part is Part.REPEAT else 1,
        "of": going.plan.repeat_n if placed.part is Part.REPEAT else 1,
        "weight": None if placed.weight is None else placed.weight.name,
        "nominal_g": None if placed.weight is None else mass.text(placed.weight.nominal_g),
    }


def _found(one: Found) -> dict[str, Any]:
    return {key: value for key, value in one.as_json("error_g").items() if key != "budget"}


def digest(entry: Entry) -> dict[str, Any]:
    """A check in the history: everything that was found, without the readings."""
    body = entry.body
    kept = {key: value for key, value in body.items() if key not in ("steps", "stated", "key")}
    steps = [
        {key: value for key, value in step.items() if key not in ("empty", "loaded", "budget")}
        for step in body["steps"]
    ]
    return {
        "seq": entry.seq,
        "at": entry.at,
        "hash": entry.hash,
        **kept,
        "interval_g": body["stated"]["interval_g"],
        "steps": steps,
    }
