"""Labels of what a batch made, and of goods received: what stands on them, and as PDF."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from anyio import to_thread
from fastapi import APIRouter, Query
from starlette.responses import JSONResponse, Response

from weighd.http import shapes
from weighd.http.errors import Problem
from weighd.http.ports import Here, Room
from weighd.http.routes_batches import entries_of, folded_of, saved_as
from weighd.http.routes_lots import LotCode, found_in, ingredients_of, today_of
from weighd.station.labels import (
    MOST,
    Label,
    chosen_size,
    labels_of_batch,
    labels_of_lot,
    proposed,
)
from weighd.station.lots_drawn import draw_lot

router = APIRouter(tags=["lots"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}})

Form = Annotated[Literal["json", "pdf"], Query(alias="format", description="pdf for the labels.")]
Size = Annotated[str, Query(max_length=60, description="In mm, like 62x40; the usual one.")]
Copies = Annotated[int, Query(ge=1, le=MOST, description="How many.")]
_PDF: dict[int | str, dict[str, Any]] = {
    200: {"content": {"application/json": {}, "application/pdf": {}}}
}


@router.get("/api/batches/{batch}/labels", responses=_PDF)
async def of_batch(
    room: Here,
    batch: shapes.BatchId,
    form: Form = "json",
    size: Size = "",
    of: Annotated[
        Literal["batch", "draws"], Query(description="draws: one for each container drawn.")
    ] = "batch",
    copies: Copies = 1,
    each: Annotated[str, Query(max_length=40, description="Net of each, like 250 g.")] = "",
) -> Response:
    """Labels of what a batch made. ``usual`` is what a form for them begins with."""
    look = room.settings.labels
    made = folded_of(await entries_of(room, batch))
    labels = labels_of_batch(
        made, look.kitchen, of=of, copies=copies, each=each, language=look.language
    )
    return await _answer(room, labels, size, form, {"usual": proposed(made)})


@router.get("/api/lots/{lot}/labels", responses=_PDF)
async def of_lot(
    room: Here,
    lot: LotCode,
    form: Form = "json",
    size: Size = "",
    copies: Copies = 1,
) -> Response:
    """Labels of a lot that was received."""
    found = found_in(room, lot)
    one = (await ingredients_of(room)).get(found.goods.ingredient)
    drawn = draw_lot(found, today_of(room))
    allergens = one.allergens if one else ()
    look = room.settings.labels
    labels = labels_of_lot(drawn, allergens, look.kitchen, copies, look.language)
    return await _answer(room, labels, size, form, {})


async def _answer(
    room: Room, labels: list[Label], size: str, form: str, more: dict[str, object]
) -> Response:
    look = room.settings.labels
    wanted = size or look.sizes[0]
    chosen = chosen_size(wanted)
    if form == "pdf":
        made = await to_thread.run_sync(
            room.outputs.labels, labels, chosen, look.code, limiter=room.output_turn
        )
        name = "".join(one if one.isascii() and one.isalnum() else "-" for one in labels[0].code)
        return Response(made, media_type="application/pdf", headers=saved_as(f"labels-{name}.pdf"))
    told = await to_thread.run_sync(room.outputs.labels_told, labels, look.code)
    mm = {"wide": str(chosen.wide), "high": str(chosen.high)}
    page = {"wide": str(chosen.page_wide), "high": str(chosen.page_high)}
    sheet = {"page": page, "across": chosen.across, "down": chosen.down}
    gap = {"across": str(chosen.gap_across), "down": str(chosen.gap_down)}
    shown = {"size": wanted, "sizes": look.sizes, "mm": mm, "sheet": {**sheet, "gap": gap}}
    return JSONResponse({**shown, **more, **told})
