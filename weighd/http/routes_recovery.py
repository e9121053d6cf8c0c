"""What can be done about a pour that went wrong, in the batch that is being weighed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query
from starlette.responses import JSONResponse, Response

from weighd.domain.against_plan import Prices
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Ingredient
from weighd.domain.limits import ProductClass
from weighd.http import shapes
from weighd.http.errors import Problem
from weighd.http.ports import Here
from weighd.http.routes_lots import ingredients_of
from weighd.station import recovering

router = APIRouter(
    tags=["batches"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}}
)


@router.get("/api/batches/{batch}/recovery")
async def recovery(
    room: Here,
    batch: shapes.BatchId,
    cause: Annotated[str, Query(description="over, ran out or wrong ingredient.")] = "",
    was: Annotated[str, Query(description="The id of a wrong ingredient.")] = "",
    dry: Annotated[str, Query(description="yes or no: whether it can be taken out.")] = "",
    bowl_holds_g: Annotated[str, Query(description="The most that the bowl takes.")] = "",
    on_hand: Annotated[str, Query(description="What is left: sucrose:120,cream:300.")] = "",
    add: Annotated[str, Query(description="Ids of what may be put in besides.")] = "",
    at: Annotated[str, Query(description="The temperature it is eaten at, like -12.")] = "",
    kind: Annotated[str, Query(description="Whose limits; the formula's own kind.")] = "",
) -> Response:
    """Every way to put right what went wrong, the best first, each with what comes of it."""
    name, station = shapes.batch_id(batch), room.runner.station
    weighed, solver = station.batch, room.solver
    if weighed is None or weighed.current is None or weighed.id != name:
        raise OperatorError("no-open-batch", f"Batch {name} is not being weighed.")
    if solver is None:
        raise OperatorError("not-found", "This station does not work out ways to put it right.")
    # Taken here, in the loop that the station lives in; what is worked out of it is in a thread.
    there = recovering.standing(weighed, station.now, station.stock.as_known(station.at()))
    query = recovering.Query(
        cause=cause,
        was=was,
        dry=dry,
        holds_g=bowl_holds_g,
        on_hand=on_hand,
        add=add,
        at=at,
        kind=kind,
    )

    def known() -> tuple[Mapping[str, Ingredient], Mapping[str, ProductClass], Prices]:
        prices = room.shelf.prices(str(weighed.formula.get("id", "")))
        return room.ingredients(), room.shelf.kinds(), prices

    pool, kinds, prices = await to_thread.run_sync(known, limiter=room.shelf_turn)

    def made() -> dict[str, Any]:
        return recovering.recovered(weighed, there, query, pool, kinds, prices.per_kg, solver)

    return JSONResponse(await to_thread.run_sync(made))


@router.get("/api/batches/{batch}/ingredients")
async def ingredients(room: Here, batch: shapes.BatchId) -> Response:
    """What a wrong ingredient may have been: those of the formula first, then the kitchen's."""
    weighed = room.runner.station.batch
    if weighed is None or weighed.id != shapes.batch_id(batch):
        raise shapes.unknown_batch()
    own = {one.ingredient: one for one in weighed.additions}
    pool = await ingredients_of(room)
    rows = [
        {"ingredient": one.ingredient, "name": one.name, "allergens": list(one.allergens)}
        for one in own.values()
    ]
    rows += [
        {"ingredient": one.id, "name": one.name, "allergens": list(one.allergens)}
        for one in sorted(pool.values(), key=lambda it: it.name)
        if one.id not in own
    ]
    return JSONResponse({"ingredients": rows})
