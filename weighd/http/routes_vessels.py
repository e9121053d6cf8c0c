"""The vessels whose empty mass is known: the list, weighing one, and forgetting one."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path
from starlette.responses import JSONResponse, Response

from weighd.http import shapes
from weighd.http.ports import Here
from weighd.station.inputs import Command

router = APIRouter(tags=["vessels"])
Name = Annotated[str, Path(description="A vessel's name.", max_length=80)]


@router.get("/api/vessels")
async def vessels(room: Here) -> Response:
    """Every vessel with its mass, what that is known to, and where it comes from."""
    return JSONResponse({"vessels": [one.as_json() for one in room.runner.station.shelf.all()]})


@router.post("/api/vessels", status_code=201)
async def keep(room: Here, asked: shapes.KeepVessel) -> Response:
    """Know a vessel by its mass: as the scale shows it standing there empty, or as given.

    One of the same name is replaced. Repeated, it does the same again.
    """
    scales = room.runner.station.scales
    command = Command(
        0.0,
        "keep vessel",
        by=asked.by or "",
        scale=asked.scale or next(iter(scales), ""),
        vessel=asked.name,
        mass_g=shapes.grams(asked.mass_g, "mass_g"),
        u_g=shapes.grams(asked.u_g, "u_g"),
        allow_g=shapes.grams(asked.allow_g, "allow_g"),
    )
    kept = await room.runner.keep_vessel(room.caller.of(command))
    return JSONResponse({**kept.as_json(), "seq": room.runner.picture.seq}, 201)


@router.post("/api/vessels/{name}/forget")
async def forget(room: Here, name: Name) -> dict[str, int]:
    """Forget a vessel; records that name it keep its mass."""
    await room.runner.forget_vessel(name)
    return {"seq": room.runner.picture.seq}
