"""Search by typing: whatever the station knows by name or code."""

from __future__ import annotations

from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query
from starlette.responses import JSONResponse, Response

from weighd.domain.lots import LotBook
from weighd.http.ports import Here
from weighd.station.finding import MOST, find, words_of

router = APIRouter(tags=["station"])


@router.get("/api/find")
async def found(
    room: Here, q: Annotated[str, Query(description="What was typed.", max_length=120)] = ""
) -> Response:
    """Formulas, ingredients, lots and batches that have every word of it; a few of each."""
    words = words_of(q)
    lots = LotBook(room.runner.station.stock.book)

    def looked() -> list[dict[str, Any]]:
        if not words:
            return []
        formulas, _ = room.shelf.all()
        known = room.ingredients(formulas).values()
        batches = room.journal.find_batches(words, MOST)
        return [one.as_json() for one in find(words, formulas, known, lots, batches)]

    hits = await to_thread.run_sync(looked, limiter=room.shelf_turn)
    return JSONResponse({"found": hits})
