"""What a station tells the floor of itself: a projection of its picture, never of its secrets.

Drawn from the same sections that pages see (``picture.py``), so that the floor can show nothing
that the station's own page does not. Nothing here is part of a record, and nothing is read back.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from weighd.domain.batch import Status
from weighd.station.floor_schema import (
    MOST_ALLERGENS,
    MOST_BATCHES,
    MOST_NOTICES,
    MOST_SCALES,
    NAME,
    SENTENCE,
    WORD,
)

#: Notices told with their particulars: these name no person and no path.
_TOLD_WHOLE = frozenset(
    {
        "restarted",
        "unit-changed",
        "check-broken-off",
        "check-left",
        "check-due",
        "lot-below-nothing",
    }
)


def told(state: Mapping[str, Any], *, names: bool = False) -> dict[str, dict[str, Any]]:
    """The bodies of all sections but presence, from the whole picture of the station.

    ``names``  whether the operator's name is said.
    """
    batch, live = state["batch"], state["live"]
    weighed = batch is not None and batch["status"] == Status.OPEN
    return {
        "batch": {
            "batch": _batch(batch, live, names=names) if weighed else None,
            "last": None if batch is None or weighed else _last(batch),
        },
        "steps": _steps(state["process"]),
        "scales": _scales(state["scales"]),
        "notices": _notices(state["station"]),
        **_sharing(state.get("sharing")),
    }


def cut(text: str, longest: int) -> str:
    """A text no longer than that; what cannot be sent is replaced."""
    text = text.encode("utf-8", "replace").decode()
    return text if len(text) <= longest else text[: longest - 1] + "…"


def _batch(
    batch: Mapping[str, Any], live: Mapping[str, Any] | None, *, names: bool
) -> dict[str, Any]:
    out: dict[str, Any] = {
        "id": cut(batch["id"], WORD),
        "formula": cut(batch["formula"]["name"], NAME),
        "batch_g": batch["batch_g"],
        "opened": batch["opened"],
        "of": len(batch["additions"]),
        "accepted": sum(one["status"] == "accepted" for one in batch["additions"]),
        "allergens": [cut(one, WORD) for one in batch["allergens"][:MOST_ALLERGENS]],
        "addition": None if live is None else _addition(batch, live),
    }
    if names:
        out["operator"] = cut(batch["operator"], NAME)
    return out


def _addition(batch: Mapping[str, Any], live: Mapping[str, Any]) -> dict[str, Any] | None:
    planned = next((one for one in batch["additions"] if one["n"] == live["addition"]), None)
    if planned is None:
        return None
    held = live["held"]
    return {
        "n": planned["n"],
        "name": cut(planned["name"], NAME),
        "scale": cut(live["scale"], WORD),
        "target_g": planned["target_g"],
        "low_g": planned["low_g"],
        "high_g": planned["high_g"],
        "net_g": live["net_g"],
        "phase": str(live["phase"]),
        "why": cut(live["why"], WORD),
        "verdict": None if live["verdict"] is None else str(live["verdict"]),
        "cue": None if live["cue"] is None else str(live["cue"]["cue"]),
        "held": None if held is None else {"cause": str(held["cause"]), "since": held["since"]},
        "lifted": live["lifted"],
    }


def _last(batch: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "id": cut(batch["id"], WORD),
        "formula": cut(batch["formula"]["name"], NAME),
        "status": str(batch["status"]),
        "at": batch.get("weighed") or batch["closed"],
    }


def _steps(process: Mapping[str, Any]) -> dict[str, Any]:
    them = process["batches"]
    return {
        "batches": [_in_process(one, process["at"]) for one in them[:MOST_BATCHES]],
        "more": max(0, len(them) - MOST_BATCHES),
    }


def _in_process(it: Mapping[str, Any], at: str) -> dict[str, Any]:
    step = next((one for one in it["steps"] if one["n"] == it["step"]), None)
    now, cooling = it["now"], it["cooling"]
    begun = ready = late = None
    if now is not None:
        elapsed = Decimal(now["elapsed_s"])
        begun = after(at, -elapsed)
        if now["hold"] is not None and now["hold"]["since_s"] is not None:
            ready = after(at, Decimal(now["hold"]["time_s"]) - Decimal(now["hold"]["since_s"]))
        elif now["least_s"] is not None:
            ready = after(at, Decimal(now["least_s"]) - elapsed)
        if now["most_s"] is not None and not now["met"]:
            late = after(at, Decimal(now["most_s"]) - elapsed)
    left = None if cooling is None else cooling["left_s"]
    return {
        "id": cut(it["id"], WORD),
        "name": cut(it["name"], NAME),
        "state": it["state"],
        "step": it["step"],
        "of": len(it["steps"]),
        "what": "" if step is None else cut(step["name"], NAME),
        "begun": begun,
        "ready_at": ready,
        "late_at": late,
        "awaited": [] if now is None else list(now["awaited"]),
        "out": [] if now is None else list(now["out"]),
        "held": None if it["held"] is None else [str(one) for one in it["held"]["faults"]],
        "cool_by": None if left is None else after(at, Decimal(left)),
    }


def after(at: str, seconds: Decimal) -> str:
    """A moment so many seconds after another, RFC 3339."""
    moment = datetime.fromisoformat(at) + timedelta(milliseconds=int(seconds * 1000))
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _scales(scales: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    them = [_scale(one) for one in scales.values()]
    return {"scales": them[:MOST_SCALES], "more": max(0, len(them) - MOST_SCALES)}


def _scale(it: Mapping[str, Any]) -> dict[str, Any]:
    check = it["check"]
    return {
        "name": cut(it["name"], WORD),
        "link": str(it["link"]),
        "why": cut(it["why"], SENTENCE),
        "check": None
        if check is None
        else {
            "standing": check["standing"],
            "barred": bool(check["barred"]),
            "due": check["due"] or check["overdue_since"],
        },
    }


def _sharing(outgoing: Mapping[str, Any] | None) -> dict[str, dict[str, Any]]:
    """How far the shared store is behind; nothing where there is none."""
    if outgoing is None:
        return {}
    said = {key: outgoing[key] for key in ("behind", "since")}
    return {
        "sharing": {"state": str(outgoing["state"]), "code": cut(outgoing["code"], WORD), **said}
    }


def _notices(station: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "store": {"ok": station["store"]["ok"], "code": cut(station["store"]["code"], WORD)},
        "notices": [
            {
                "level": one["level"],
                "code": cut(one["code"], WORD),
                "text": cut(one["text"], SENTENCE) if one["code"] in _TOLD_WHOLE else "",
                "at": one["at"],
            }
            for one in station["notices"][-MOST_NOTICES:]
        ],
    }
