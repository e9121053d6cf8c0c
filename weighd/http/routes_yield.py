"""The yield of a batch: what was recorded of it, and one more draw."""

from __future__ import annotations

from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter
from pydantic import Field
from starlette.responses import JSONResponse, Response

from weighd.http import shapes
from weighd.http.errors import Problem
from weighd.http.keys import one_key, reused
from weighd.http.ports import Here
from weighd.http.routes_batches import Key, act, entries_of, folded_of
from weighd.station.inputs import Command
from weighd.station.yield_picture import draw_yield

router = APIRouter(
    tags=["batches"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}}
)
_MASS = "With its unit, like 1250 g or 1.25 kg."
_VOLUME = "With its unit, like 1.4 L or 350 mL."
Count = Annotated[int, Field(ge=1, le=100_000)]


class RecordYield(shapes.Asked):
    """One draw of a batch, as somebody typed or weighed it."""

    weight: shapes.Line | None = Field(None, description=f"Of all of it, net. {_MASS}")
    volume: shapes.Line | None = Field(None, description=f"Of all of it. {_VOLUME}")
    containers: Count | None = Field(None, description="How many containers were filled.")
    fill: shapes.Line | None = Field(None, description=f"What each container holds. {_VOLUME}")
    pieces: shapes.Line | None = Field(
        None, description=f"Pieces put in after freezing, of that weight. {_MASS}"
    )
    pieces_density: shapes.Line | None = Field(None, description="Of the pieces, in g/mL.")
    left: shapes.Line | None = Field(None, description=f"Mix that was not drawn. {_MASS}")
    portions: Count | None = Field(None, description="Portions made of this draw.")
    cup_mix: shapes.Line | None = Field(None, description=f"A cup of mix, net. {_MASS}")
    cup_product: shapes.Line | None = Field(
        None, description=f"The same cup of product, net. {_MASS}"
    )
    sample_weight: shapes.Line | None = Field(
        None, description=f"Some of the mix without air, for its density. {_MASS}"
    )
    sample_volume: shapes.Line | None = Field(None, description=f"What it fills. {_VOLUME}")
    scale: shapes.Line | None = Field(
        None, description="A scale on which the draw stands at rest, in place of weight."
    )
    vessel: shapes.Line | None = Field(None, description="The known vessel it stands in there.")
    tare: shapes.Line | None = Field(
        None, description=f"What its container weighs, where it is not a known vessel. {_MASS}"
    )
    corrects: Annotated[int, Field(ge=1, le=100_000)] | None = Field(
        None, description="The draw in whose place this one stands; alone, it takes it back."
    )
    reason: shapes.Sentence | None = Field(None, description="Why, for a correction.")
    by: shapes.Line | None = Field(None, description="Who says so; the batch's operator.")
    key: str | None = Field(None, description="Idempotency key, if not in the header.")


#: What is of the command, and not of the draw.
_COMMAND = {"scale", "vessel", "corrects", "reason", "by", "key"}


@router.get("/api/batches/{batch}/yield")
async def yield_of(room: Here, batch: shapes.BatchId) -> Response:
    """What came of a batch: its draws, overrun, loss, and what a portion and a litre cost."""
    entries = await entries_of(room, batch)

    def made() -> dict[str, Any]:
        folded = folded_of(entries)
        prices = room.shelf.prices(str(folded.formula.get("id", "")))
        return draw_yield(folded, room.shelf.kinds(), prices)

    return JSONResponse(await to_thread.run_sync(made, limiter=room.shelf_turn))


@router.post("/api/batches/{batch}/yield", status_code=201, response_model=shapes.Done)
async def record_yield(
    room: Here, batch: shapes.BatchId, asked: RecordYield, idempotency_key: Key = None
) -> Response:
    """Record one draw of a batch that was all weighed, or put one right."""
    key = one_key(idempotency_key, asked.key)
    given = asked.model_dump(exclude_none=True)
    order = Command(
        0.0,
        "record yield",
        key=key,
        by=asked.by or "",
        batch=shapes.batch_id(batch),
        reason=asked.reason or "",
        scale=asked.scale or "",
        vessel=asked.vessel or "",
        draw={name: one for name, one in given.items() if name not in _COMMAND},
        corrects=asked.corrects,
    )
    answer = await act(room, order, {"batch": batch, **asked.model_dump(exclude={"key"})})
    if answer.again and answer.batch != batch:
        raise reused(key)
    body = {"seq": room.runner.picture.seq, "entry": answer.entry}
    return JSONResponse(body, 200 if answer.again else 201)
