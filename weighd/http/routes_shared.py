"""Formulas that stations share: publish one, look at what came down, take it or leave it."""

from __future__ import annotations

from typing import Annotated, Literal

from anyio import to_thread
from fastapi import APIRouter, Path
from pydantic import Field
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import OperatorError
from weighd.domain.formula_shared import Chosen, Published
from weighd.http import shapes
from weighd.http.errors import Problem
from weighd.http.ports import Here, Others, Room
from weighd.http.routes_formulas import find

router = APIRouter(
    tags=["formulas"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}}
)

Revision = Annotated[
    str, Path(description="A formula with its revision, like plum-ice@0123456789ab.")
]


class Publish(shapes.Asked):
    """A formula is to be known at every station."""

    by: shapes.Line = Field(description="Who publishes it.")


class Choose(shapes.Asked):
    """What is done with a formula that came down."""

    do: Literal["take", "leave"]
    by: shapes.Line = Field(description="Who does it.")


@router.get("/api/shared/formulas")
async def shared(room: Here) -> Response:
    """The formulas that other stations published, newest first, and what was made of them here.

    ``own``: whether the kitchen has a formula of that id: none, same or differs.
    """
    if room.shared is None:
        return JSONResponse({"sharing": False, "formulas": []})
    found = await to_thread.run_sync(room.shared.formulas, limiter=room.shelf_turn)
    return JSONResponse({"sharing": True, "formulas": found})


@router.post("/api/shared/formulas/{formula}")
async def choose(room: Here, formula: Revision, asked: Choose) -> Response:
    """Take a formula that came down, so that it can be made here, or leave it.

    No file of the kitchen is changed by either.
    """
    chosen = Chosen.TAKEN if asked.do == "take" else Chosen.LEFT
    one = await to_thread.run_sync(
        others_of(room).choose, shapes.formula_id(formula), chosen, limiter=room.shelf_turn
    )
    return JSONResponse({**_told(one), "chosen": str(chosen)})


@router.post("/api/formulas/{formula}/publish")
async def publish(room: Here, formula: shapes.FormulaId, asked: Publish) -> Response:
    """Publish a formula as it is to every station. The newest revision is not published twice."""
    others = others_of(room)
    chosen = await find(room, formula)
    one, new = await to_thread.run_sync(others.publish, chosen, room.caller.by or asked.by)
    return JSONResponse({**_told(one), "new": new}, 201 if new else 200)


def others_of(room: Room) -> Others:
    """The other stations. Raises :class:`OperatorError` where there is no shared store."""
    if room.shared is None:
        raise OperatorError(
            "no-shared-store",
            "This station shares with no other one.",
            remedy="Name a shared store under [shared] in its configuration.",
        )
    return room.shared


def _told(one: Published) -> dict[str, object]:
    return {"id": one.id, "name": one.name, "number": one.number, "revision": one.revision}
