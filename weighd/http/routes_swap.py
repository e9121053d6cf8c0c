"""One ingredient for another, over REST."""

from __future__ import annotations

from typing import Any

from anyio import to_thread
from fastapi import APIRouter
from pydantic import Field
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import FormulaError
from weighd.domain.formula import Formula, Ingredient
from weighd.http import shapes
from weighd.http.drafts import FormulaDraft, Key, Text
from weighd.http.ports import Here
from weighd.http.routes_drafts import Faulty, faulty
from weighd.http.routes_solve import formula_of, pool_of, solver_of
from weighd.station import composing, swapping, swapping_words

router = APIRouter(tags=["formulas"])


class Exchange(shapes.Asked):
    """Which ingredient goes, and which comes instead."""

    of: Key = Field("", description="The id of a saved formula; empty for none.")
    formula: FormulaDraft | None = Field(
        None, description="A draft, of that formula or of a new one; it is not kept."
    )
    old: Key = Field(description="The ingredient to be replaced, by its id.")
    new: Key = Field(description="The ingredient to take instead, by its id.")
    ratio: Text = Field(
        "", description="Grams of the new for a gram of the old; as a rule says, else 1."
    )
    rebalance: bool = Field(
        default=True, description="Whether the rest is brought back to the same composition."
    )


@router.post("/api/swap")
async def swap(room: Here, asked: Exchange) -> Response:
    """Swap an ingredient and rebalance the rest. ``same`` is exactly, nearly or no; allergens that
    are new stand in ``allergens.new``. Nothing is saved."""
    solver, ratio = solver_of(room), swapping.read_ratio(asked.ratio)

    def read() -> tuple[Formula, Ingredient]:
        formula = formula_of(room, asked.of, asked.formula)
        if formula is None:
            raise FormulaError("no-formula", "No formula is named.", where="of")
        return formula, pool_of(room, formula, [asked.new])[asked.new]

    def made(formula: Formula, new: Ingredient) -> dict[str, Any]:
        out = swapping.swap(formula, asked.old, new, solver, ratio=ratio, rebalance=asked.rebalance)
        mix = composing.composed(out.formula, room.shelf.kinds())
        return {**swapping_words.draw_swap(out), "composition": composing.draw_composition(mix)}

    try:
        formula, new = await to_thread.run_sync(read, limiter=room.shelf_turn)
    except Faulty as error:
        return faulty(error)
    return JSONResponse(await to_thread.run_sync(made, formula, new, limiter=room.solver_turn))
