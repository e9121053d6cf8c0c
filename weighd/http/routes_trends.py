"""How well things are weighed, across batches."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Path, Query
from starlette.responses import JSONResponse, Response

from weighd.http.errors import Problem
from weighd.http.ports import Here, Room
from weighd.station.trends import MOST, USUAL, Point, detail, points, summaries

router = APIRouter(
    tags=["trends"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}}
)

By = Annotated[str, Query(max_length=20, description="ingredient, scale or operator.")]
Day = Annotated[str, Query(max_length=19, description="A day or time (UTC), like 2026-11-01.")]
Last = Annotated[int, Query(ge=2, le=MOST, description="The newest so many weighings at most.")]


@router.get("/api/trends")
async def trends(
    room: Here, by: By = "ingredient", since: Day = "", until: Day = "", last: Last = USUAL
) -> Response:
    """Bias, scatter, room and what stands out of every group; what is not steady comes first."""
    found = await _found(room, since, until, last)
    prices = await _prices(room)
    return JSONResponse({"by": by, "groups": summaries(found, by, prices)})


@router.get("/api/trends/{by}/{key}")
async def trend(
    room: Here,
    by: Annotated[str, Path(max_length=20)],
    key: Annotated[str, Path(max_length=120)],
    since: Day = "",
    until: Day = "",
    last: Last = USUAL,
) -> Response:
    """One group with every weighing and the limits of its chart."""
    found = await _found(room, since, until, last)
    return JSONResponse(detail(found, by, key, await _prices(room)))


async def _found(room: Room, since: str, until: str, last: int) -> list[Point]:
    return await to_thread.run_sync(
        lambda: points(room.journal, since=since, until=until, last=last)
    )


async def _prices(room: Room) -> Mapping[str, Decimal]:
    return await to_thread.run_sync(lambda: room.shelf.prices("").per_kg, limiter=room.shelf_turn)
