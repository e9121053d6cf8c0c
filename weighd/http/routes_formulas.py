"""Formulas: what can be made, and what it comes to at a batch size on a scale."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query
from starlette.responses import JSONResponse, Response

from weighd.domain import mass
from weighd.domain.batch import Scale
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import Formula
from weighd.http import shapes
from weighd.http.ports import Here, Room
from weighd.station import opening

router = APIRouter(tags=["formulas"])

#: A scale that cannot be judged by yet is no reason not to show a formula.
_NOT_YET = ("no-scale", "scale-not-heard")


@router.get("/api/formulas")
async def formulas(room: Here) -> Response:
    """Every formula at its own size, and the files that cannot be used, with line and field."""
    good, bad = await to_thread.run_sync(room.shelf.all, limiter=room.shelf_turn)
    return JSONResponse(
        {
            "formulas": [draw_formula(one) for one in good],
            "problems": [draw_problem(one) for one in bad],
        }
    )


@router.get("/api/formulas/{formula}")
async def formula(
    room: Here,
    formula: shapes.FormulaId,
    batch_g: Annotated[str, Query(description="Batch size in grams; the formula's own.")] = "",
    scale: Annotated[str, Query(description="The scale to use; the first configured.")] = "",
) -> Response:
    """One formula scaled to a batch, with what the scale can judge and what it cannot."""
    chosen = await find(room, formula)
    size = opening.batch_size(shapes.batch_size(batch_g), chosen)
    scaled = chosen.scaled(size)
    # The size asked for: the targets, each rounded, may add up to a hundredth of a gram beside it.
    drawn = {**draw_formula(scaled), "batch_g": mass.text(size)}
    known = _scale(room, scale)
    if known is None:
        additions = [{**one, "judgeable": True} for one in drawn["additions"]]
        return JSONResponse(
            {**drawn, "additions": additions, "scale_known": False, "scale": None, "warnings": []}
        )
    rule = room.runner.station.rule
    # An amount above capacity is a warning here; starting such a batch is refused.
    planned = opening.plan(scaled, replace(known, max_g=None))
    additions = [
        {**one, "judgeable": opening.judged_by(plan, known, rule)}
        for one, plan in zip(drawn["additions"], planned, strict=True)
    ]
    return JSONResponse(
        {
            **drawn,
            "additions": additions,
            "scale_known": True,
            "scale": known.name,
            "warnings": opening.warnings(planned, known, rule),
        }
    )


async def find(room: Room, identity: str) -> Formula:
    """A formula of the shelf. Raises :class:`FormulaError`."""
    return await to_thread.run_sync(
        room.shelf.get, shapes.formula_id(identity), limiter=room.shelf_turn
    )


def _scale(room: Room, name: str) -> Scale | None:
    try:
        return opening.choose_scale(name, room.runner.station.scales)
    except OperatorError as error:
        if error.code in _NOT_YET:
            return None
        raise


def draw_formula(formula: Formula) -> dict[str, Any]:
    """A formula as JSON values, masses as decimal strings in grams."""
    return {
        "id": formula.id,
        "name": formula.name,
        "note": formula.note,
        "revision": formula.revision,
        "batch_g": mass.text(formula.batch_g),
        "scenario": formula.scenario,
        "cautions": list(formula.cautions),
        "allergens": list(formula.allergens),
        "additions": [
            {
                "n": n,
                "ingredient": one.ingredient.id,
                "name": one.ingredient.name,
                "target_g": mass.text(one.target_g),
                "low_g": mass.text(one.band[0]),
                "high_g": mass.text(one.band[1]),
                "tolerance": one.tolerance.text,
                "allergens": list(one.ingredient.allergens),
                "caution": one.ingredient.caution,
            }
            for n, one in enumerate(formula.additions, start=1)
        ],
    }


def draw_problem(error: FormulaError) -> dict[str, Any]:
    """What is wrong with a file: the place taken apart into file, line and field."""
    found = re.fullmatch(r"(.*?)(?:, line (\d+))?(?:, ([^,]*))?", error.where)
    file, line, field = found.groups() if found else (error.where, None, None)
    return {
        "file": file,
        "line": int(line) if line else None,
        "field": field or "",
        "message": f"{error.message} {error.remedy}".strip(),
    }
