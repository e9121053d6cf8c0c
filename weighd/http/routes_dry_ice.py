"""Freezing a formula with dry ice: heat, charge, portions, and the air of the room."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Depends, Query
from starlette.responses import JSONResponse, Response

from weighd.domain.as_weighed import planned_formula
from weighd.domain.dry_ice import amounts_of, read_asked, reckon
from weighd.domain.dry_ice_record import amounts_in
from weighd.domain.errors import OperatorError
from weighd.http import shapes
from weighd.http.ports import Here
from weighd.http.routes_formulas import find
from weighd.station import opening
from weighd.station.dry_ice_drawn import draw_about, draw_dry_ice
from weighd.station.loss import draw_loss, read_for_later

router = APIRouter(tags=["formulas"])


@router.get("/api/dry-ice")
async def about(room: Here) -> Response:
    """What to read before dry ice is used, the usual room, and the materials of vessels."""
    return JSONResponse(draw_about(room.settings.dry_ice))


def _fields(
    from_c: Annotated[str, Query(description="Temperature of the mix; 5.")] = "",
    to_c: Annotated[str, Query(description="Draw temperature; -6.")] = "",
    efficiency_percent: Annotated[
        str, Query(description="Share of the cold that ends in the mix; 60, a guess.")
    ] = "",
    room_m3: Annotated[
        str, Query(description="Volume of the room; needed, here or configured.")
    ] = "",
    air_changes: Annotated[str, Query(description="Air changes an hour; none.")] = "",
    release_min: Annotated[str, Query(description="Minutes over which the gas comes; 0.")] = "",
    background_ppm: Annotated[str, Query(description="CO2 beforehand; 420.")] = "",
    charge_g: Annotated[str, Query(description="Reckon with this much dry ice.")] = "",
    powder_kg_l: Annotated[str, Query(description="Bulk density of the powder; 0.8.")] = "",
    every_s: Annotated[str, Query(description="Seconds from portion to portion; 30.")] = "",
    over_min: Annotated[str, Query(description="Minutes over which it is added; 5.")] = "",
    vessel_g: Annotated[str, Query(description="Mass of the bowl; left out.")] = "",
    vessel_of: Annotated[str, Query(description="Its material; steel.")] = "",
    vessel_cp: Annotated[str, Query(description="Its heat capacity in kJ/(kg K).")] = "",
    vessel_from_c: Annotated[str, Query(description="Its temperature; 20.")] = "",
) -> Mapping[str, str]:
    """What is asked of dry ice, by the names of :data:`~weighd.domain.dry_ice.FIELDS`."""
    return dict(locals())


Fields = Annotated[Mapping[str, str], Depends(_fields)]


@router.get("/api/formulas/{formula}/dry-ice")
async def dry_ice(
    room: Here,
    formula: shapes.FormulaId,
    given: Fields,
    batch_g: Annotated[str, Query(description="Batch size in grams; the formula's own.")] = "",
) -> Response:
    """What it takes to freeze a batch with dry ice, and what that does to the air of the room.

    No figure here says that a room is safe. Without the volume of the room nothing is told.
    """
    asked = read_asked(given, room.settings.dry_ice)
    chosen = await find(room, formula)
    scaled = chosen.scaled(opening.batch_size(shapes.batch_size(batch_g), chosen))

    def made() -> dict[str, Any]:
        return draw_dry_ice(scaled, reckon(amounts_of(scaled), asked))

    return JSONResponse(await to_thread.run_sync(made))


@router.get("/api/batches/{batch}/dry-ice", tags=["batches"])
async def of_batch(room: Here, batch: shapes.BatchId, given: Fields) -> Response:
    """The same for a batch in process, of what is in it as weighed."""
    found = room.runner.station.off_bench.get(shapes.batch_id(batch))
    if found is None:
        raise OperatorError("unknown-batch", f"No batch {batch[:80]} is in process.")
    asked = read_asked(given, room.settings.dry_ice)
    formula = planned_formula(found)

    def made() -> dict[str, Any]:
        return draw_dry_ice(formula, reckon(amounts_in(found), asked))

    return JSONResponse(await to_thread.run_sync(made))


@router.get("/api/scales/{name}/loss", tags=["station"])
async def loss(
    room: Here,
    name: shapes.ScaleName,
    want_g: Annotated[str, Query(description="Grams wanted at the moment of use.")] = "",
    wait_s: Annotated[str, Query(description="Seconds until it is used; 0.")] = "",
    tare_g: Annotated[str, Query(description="The empty vessel, if it was not tared; 0.")] = "",
) -> Response:
    """How fast what stands on a scale wastes away, and what to weigh out for a later moment."""
    asked = read_for_later(want_g, wait_s, tare_g)
    scales = room.runner.station.scales
    if name not in scales:
        raise OperatorError(
            "unknown-scale",
            f'No scale is called "{name[:80]}".',
            remedy=f"There are: {', '.join(scales) or 'none'}.",
        )
    state = scales[name]
    if state.losses is None or state.interval_g is None:
        raise OperatorError(
            "scale-not-heard", f"The scale {name} has not been heard yet.", where=name
        )
    shown = state.reading.grams if state.reading else None
    drawn = draw_loss(state.losses.waste(), state.interval_g, asked, shown)
    return JSONResponse({"scale": name, **drawn})
