"""The simulated scale: what is on it, and changing that. Not there on a station that weighs."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import OperatorError
from weighd.http import shapes
from weighd.http.ports import Here, Room, Simulation

router = APIRouter(tags=["simulation"])

_AMOUNTS = ("g_per_s", "mass_g", "contents_g", "g", "speed")


@router.get("/api/simulation")
async def simulation(room: Here) -> Response:
    """What is on the simulated scale, and what the simulated cook does."""
    return JSONResponse(dict(_simulation(room).picture()))


@router.post("/api/simulation")
async def simulate(room: Here, asked: shapes.Simulate) -> Response:
    """Pour, lift, bump, unplug; answered with what is on the scale then."""
    simulated = _simulation(room)
    what: dict[str, Any] = asked.model_dump(exclude_none=True)
    for name in _AMOUNTS:
        if name in what:
            what[name] = shapes.amount(name, what[name])
    simulated.do(what)
    return JSONResponse(dict(simulated.picture()))


def _simulation(room: Room) -> Simulation:
    if room.simulation is None:
        raise OperatorError("no-simulation", "This station weighs with a real scale.")
    return room.simulation
