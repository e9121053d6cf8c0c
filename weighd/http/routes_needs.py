"""Before a batch: what it takes out of stock, and when each formula was last made."""

from __future__ import annotations

from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query
from starlette.responses import JSONResponse, Response

from weighd.http import shapes
from weighd.http.ports import Here
from weighd.http.routes_formulas import AtSteps, Sizing, at_size, find
from weighd.station import planning
from weighd.station.needed import draw_needs

router = APIRouter(tags=["formulas"])


@router.get("/api/formulas/{formula}/stock")
async def stock(
    room: Here,
    formula: shapes.FormulaId,
    batch_g: Annotated[str, Query(description="Batch size in grams; the formula's own.")] = "",
    size: Sizing = "",
    rounded: AtSteps = False,
    scale: Annotated[str, Query(description="All on this scale; as the plan says.")] = "",
) -> Response:
    """The lots that a batch would take, first expired first out, and what is missing of each.

    ``stock`` of a need is ``there``, ``short`` or ``not booked``; ``aside`` are lots that are not
    to be used, or only with a reason; ``most`` is the largest batch that the lots allow.
    """
    chosen = await find(room, formula)
    vessels = planning.read_vessels(**shapes.vessels({}, room.settings.vessels))
    station = room.runner.station
    book, day = station.stock.as_known(station.at())

    def made() -> dict[str, Any]:
        one = at_size(room, chosen, (batch_g, size), vessels if rounded else None, scale)
        return draw_needs(one.formula, one.exact, book, day)

    return JSONResponse(await to_thread.run_sync(made))


@router.get("/api/made")
async def made(room: Here) -> Response:
    """The newest batch of each formula that was weighed to its end, by the formula's id."""
    rows = await to_thread.run_sync(room.journal.newest_of_formulas)
    return JSONResponse(
        {
            "made": {
                formula: {
                    "batch": row.id,
                    "opened": row.opened,
                    "operator": row.operator,
                    "batch_g": row.batch_g,
                }
                for formula, row in rows.items()
            }
        }
    )
