"""Steps of a formula while somebody writes them: what there is to choose, and what they come to."""

from __future__ import annotations

from typing import Any

from anyio import to_thread
from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import FormulaError
from weighd.domain.formula_text import steps_of
from weighd.http.drafts import Steps, pantry_of
from weighd.http.ports import Here
from weighd.station.step_drafting import draw_choices, draw_read, step_rows

router = APIRouter(tags=["formulas"])


@router.get("/api/steps")
async def choices(room: Here) -> Response:
    """The kinds of steps and what each takes, the published heat treatments, what brings cautions
    of its own, and steps to begin with (common practice, no source)."""
    tables = pantry_of(room).heat_tables
    return JSONResponse(await to_thread.run_sync(lambda: draw_choices(tables())))


@router.post("/api/steps")
async def read(room: Here, asked: Steps) -> Response:
    """What steps come to, each by itself: its limits in both units and all its cautions, or
    ``null`` and what is wrong in ``faults``. Nothing is kept."""
    pantry = pantry_of(room)

    def drawn() -> dict[str, Any]:
        rows, _ = step_rows([], asked.model_dump(by_alias=True)["steps"])
        try:
            return draw_read(steps_of({"steps": rows}, "draft", pantry.heat_tables()))
        except FormulaError as error:  # too many of them
            told = draw_read([error])
            return {**told, "steps": [None] * len(rows)}

    return JSONResponse(await to_thread.run_sync(drawn))
