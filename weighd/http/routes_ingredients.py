"""The kitchen's ingredients: read, changed, taken from a table."""

from __future__ import annotations

import dataclasses
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Path
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.facts import OF_WHICH, PARTS
from weighd.domain.formula import Ingredient
from weighd.domain.formula_kept import Found
from weighd.domain.formula_text import ingredients_of
from weighd.domain.ingredient_csv import look
from weighd.domain.sugars import KINDS
from weighd.http.drafts import (
    IfMatch,
    IngredientDraft,
    Table,
    keeping,
    pantry_of,
    tag_given,
    tagged,
)
from weighd.http.ports import Here, Pantry
from weighd.station.drafting import draw_gaps, draw_ingredient, ingredient_table

router = APIRouter(tags=["ingredients"])

IngredientId = Annotated[str, Path(description="An ingredient's id.", max_length=120)]
_FILE = "table.csv"


@router.get("/api/ingredients")
async def ingredients(room: Here) -> Response:
    """Every ingredient of the kitchen as a draft, with what is missing and what weighs it in."""
    pantry = pantry_of(room)

    def drawn() -> tuple[dict[str, Any], str]:
        known, tag = pantry.ingredients()
        users = pantry.users()
        return {
            "fixed": pantry.fixed,
            "ingredients": [
                {**draw_ingredient(one), "formulas": list(users.get(one.id, ()))}
                for one in sorted(known.values(), key=lambda one: one.name.casefold())
            ],
            "parts": list(PARTS),
            "of_which": list(OF_WHICH),
            "sugars": {kind: one.name for kind, one in KINDS.items()},
        }, tag

    return tagged(*await to_thread.run_sync(drawn, limiter=room.shelf_turn))


@router.get("/api/ingredients/{ingredient}")
async def ingredient(room: Here, ingredient: IngredientId) -> Response:
    """One ingredient as a draft; its tag is that of the whole list."""
    pantry = pantry_of(room)

    def drawn() -> tuple[dict[str, Any], str]:
        known, tag = pantry.ingredients()
        if ingredient not in known:
            raise FormulaError("no-ingredient", "There is no such ingredient.", where="id")
        users = pantry.users().get(ingredient, ())
        return {**draw_ingredient(known[ingredient]), "formulas": list(users)}, tag

    return tagged(*await to_thread.run_sync(drawn, limiter=room.shelf_turn))


@router.put("/api/ingredients/{ingredient}")
async def put_ingredient(
    room: Here, ingredient: IngredientId, draft: IngredientDraft, if_match: IfMatch = None
) -> Response:
    """Add an ingredient, or change it. Sent twice acts once."""
    pantry, tag = pantry_of(room), tag_given(if_match)
    table = ingredient_table(draft.model_dump())

    def written() -> tuple[dict[str, Any], str]:
        with keeping(room, Found.INGREDIENTS):
            new = pantry.put_ingredients({ingredient: table}, tag)
        known, _ = pantry.ingredients()
        return draw_ingredient(known[ingredient]), new

    return tagged(*await to_thread.run_sync(written, limiter=room.shelf_turn))


@router.delete("/api/ingredients/{ingredient}")
async def remove_ingredient(
    room: Here, ingredient: IngredientId, if_match: IfMatch = None
) -> Response:
    """Take an ingredient out of the list; refused where a formula or a rule needs it."""
    pantry, tag = pantry_of(room), tag_given(if_match)
    new = await to_thread.run_sync(
        pantry.remove_ingredient, ingredient, tag, limiter=room.shelf_turn
    )
    return tagged({"removed": ingredient}, new)


@router.post("/api/ingredients/{ingredient}/check")
async def check_ingredient(
    room: Here, ingredient: IngredientId, draft: IngredientDraft
) -> Response:
    """What a draft comes to, by the reader of files; nothing is written."""
    pantry = pantry_of(room)
    table = ingredient_table(draft.model_dump())

    def drawn() -> dict[str, Any]:
        known, _ = pantry.ingredients()
        read = ingredients_of({"ingredients": {ingredient: table}}, "draft", known)
        return draw_gaps(read[ingredient])

    return JSONResponse(await to_thread.run_sync(drawn, limiter=room.shelf_turn))


@router.get("/api/ingredient-table")
async def shipped(room: Here) -> Response:
    """The compositions that ship, each with its source."""
    rows = [draw_ingredient(one) for one in room.shipped().values()]
    return JSONResponse({"ingredients": rows})


@router.post("/api/ingredient-import/look")
async def look_at_table(room: Here, table: Table) -> Response:
    """What is understood of a table in CSV, row by row; nothing is written."""
    pantry = pantry_of(room)

    def drawn() -> tuple[dict[str, Any], str]:
        known, tag = pantry.ingredients()
        seen = look(table.csv, _FILE)
        return {
            "columns": list(seen.columns),
            "strange": list(seen.strange),
            "rows": [
                {
                    "line": row.line,
                    "cells": list(row.cells),
                    "ingredient": None
                    if row.ingredient is None
                    else draw_ingredient(row.ingredient),
                    "there": row.ingredient is not None and row.ingredient.id in known,
                    "error": None if row.error is None else _said(row.error),
                }
                for row in seen.rows
            ],
        }, tag

    return tagged(*await to_thread.run_sync(drawn, limiter=room.shelf_turn))


@router.post("/api/ingredient-import")
async def take_table(room: Here, table: Table, if_match: IfMatch = None) -> Response:
    """Take what is understood of a table into the list: all of it or nothing."""
    pantry, tag = pantry_of(room), tag_given(if_match)

    def written() -> tuple[dict[str, Any], str]:
        found = look(table.csv, _FILE).understood
        if not found:
            raise FormulaError("bad-ingredients", "Nothing in this table is understood.")
        with keeping(room, Found.INGREDIENTS):
            return _take(pantry, found, tag, replace=table.replace)

    return tagged(*await to_thread.run_sync(written, limiter=room.shelf_turn))


def _take(
    pantry: Pantry, found: dict[str, Ingredient], tag: str, *, replace: bool
) -> tuple[dict[str, Any], str]:
    known, now = pantry.ingredients()
    there = sorted(one for one in found if one in known)
    if all(one in known and _same(each, known[one]) for one, each in found.items()):
        return {"taken": sorted(found), "left": []}, now  # said twice
    if not replace:
        found = {one: each for one, each in found.items() if one not in known}
    if not found:
        raise OperatorError(
            "exists-already",
            "Everything in this table is in the list already. Nothing was written.",
            remedy="Say that it should be written over, if it should.",
        )
    # What a table has no column for is not lost: rules stay those of the list.
    tables = {}
    for identity, one in found.items():
        drawn = draw_ingredient(one)
        if identity in known:
            drawn["instead"] = draw_ingredient(known[identity])["instead"]
        tables[identity] = ingredient_table(drawn)
    new = pantry.put_ingredients(tables, tag)
    return {"taken": sorted(found), "left": [] if replace else there}, new


def _same(one: Ingredient, other: Ingredient) -> bool:
    return dataclasses.replace(one, instead=()) == dataclasses.replace(other, instead=())


def _said(error: FormulaError) -> dict[str, str]:
    return {"where": error.where, "message": error.message}
