"""Formulas and limits, changed: a draft is composed as a saved formula is, and saved on request."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from anyio import to_thread
from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from weighd.domain import mass
from weighd.domain.errors import FormulaError
from weighd.domain.formula import MOST_ADDITIONS, Formula
from weighd.domain.formula_kept import Found
from weighd.domain.formula_text import ingredients_of, is_id
from weighd.domain.limits import EVERY, QUANTITIES
from weighd.http import shapes
from weighd.http.drafts import (
    ClassDraft,
    Compose,
    FormulaDraft,
    IfMatch,
    IfNoneMatch,
    List,
    keeping,
    pantry_of,
    tag_given,
    tagged,
)
from weighd.http.errors import problem, status_of
from weighd.http.ports import Here, Pantry
from weighd.station import composing, opening
from weighd.station.drafting import (
    NO_FILE,
    draw_class,
    draw_source,
    formula_document,
    limits_table,
)
from weighd.station.pasting import draw_pasted, pasted
from weighd.station.step_drafting import place_of

router = APIRouter(tags=["formulas"])
#: Of a draft that has no name yet: it can be composed, not saved.
_NAMELESS = "a draft"


class Faulty(Exception):  # noqa: N818 -- it carries errors, and is none by itself
    """A draft with what is wrong with it, each told at its place."""

    def __init__(self, errors: list[FormulaError]) -> None:
        super().__init__(len(errors))
        self.errors = errors


@router.get("/api/formulas/{formula}/source")
async def source(room: Here, formula: shapes.FormulaId) -> Response:
    """A formula's file as a draft, also where it cannot be used as it is."""
    pantry = pantry_of(room)

    def drawn() -> tuple[dict[str, Any], str]:
        document, tag = pantry.source(shapes.formula_id(formula))
        return {**draw_source(formula, document), "fixed": pantry.fixed}, tag

    return tagged(*await to_thread.run_sync(drawn, limiter=room.shelf_turn))


@router.put("/api/formulas/{formula}")
async def put_formula(
    room: Here,
    formula: shapes.FormulaId,
    draft: FormulaDraft,
    if_match: IfMatch = None,
    if_none_match: IfNoneMatch = None,
) -> Response:
    """Save a formula: over what was read (If-Match), or as a new one (If-None-Match: *).

    A batch that is being weighed is not disturbed: it has the formula as it was.
    """
    pantry, tag = pantry_of(room), tag_given(if_match, if_none_match)
    if not is_id(formula):
        raise FormulaError(
            "bad-id",
            "A formula's file is named by lower-case letters, digits and hyphens.",
            where="id",
        )

    def written() -> tuple[dict[str, Any], str]:
        of = draft.like if tag == NO_FILE else formula
        before = pantry.source(shapes.formula_id(of))[0] if of else {}
        document, origins = formula_document(before, draft.model_dump(by_alias=True))
        few = len(origins["additions"]) <= MOST_ADDITIONS
        if few and (wrong := pantry.faults(formula, document)):
            raise Faulty(wrong)
        with keeping(room, Found.PAGE):
            new = pantry.put_formula(formula, document, origins, tag, draft.like)
        return {"id": formula, "name": document["name"]}, new

    try:
        return tagged(*await to_thread.run_sync(written, limiter=room.shelf_turn))
    except Faulty as error:
        return faulty(error)


@router.delete("/api/formulas/{formula}")
async def remove_formula(
    room: Here, formula: shapes.FormulaId, if_match: IfMatch = None
) -> Response:
    """Put a formula's file away, into the folder .removed beside the others."""
    pantry, tag = pantry_of(room), tag_given(if_match)
    away = await to_thread.run_sync(
        pantry.remove_formula, shapes.formula_id(formula), tag, limiter=room.shelf_turn
    )
    return JSONResponse({"removed": formula, "file": away})


@router.post("/api/compose")
async def compose(room: Here, asked: Compose) -> Response:
    """What a draft would be and how it would freeze, by the code that tells it of saved ones."""
    pantry = pantry_of(room)
    air = composing.read_overrun(asked.overrun)

    def made() -> dict[str, Any]:
        formula = drafted(pantry, asked.formula, asked.of)
        size = opening.batch_size(shapes.batch_size(asked.batch_g), formula)
        one = composing.composed(
            formula.scaled(size), room.shelf.kinds(), kind=asked.kind, overrun_percent=air
        )
        return {**composing.draw_composition(one), "batch_g": mass.text(formula.batch_g)}

    try:
        return JSONResponse(await to_thread.run_sync(made, limiter=room.shelf_turn))
    except Faulty as error:
        return faulty(error)


@router.post("/api/paste")
async def paste(room: Here, asked: List) -> Response:
    """Take a list apart as people write it, a line for each ingredient; nothing is kept.

    Each line is ``taken``, ``left out`` or ``not understood``, with the reason. Names are those of
    the kitchen's ingredients, and of the formula's own.
    """
    pantry = pantry_of(room)

    def read() -> dict[str, Any]:
        known = dict(pantry.ingredients()[0])
        if asked.of:
            document = pantry.source(shapes.formula_id(asked.of))[0]
            own = {"ingredients": document.get("ingredients", {})}
            known |= ingredients_of(own, asked.of, known)
        return draw_pasted(pasted(asked.text, known, asked.said), known)

    return JSONResponse(await to_thread.run_sync(read, limiter=room.shelf_turn))


def drafted(pantry: Pantry, draft: FormulaDraft, of: str) -> Formula:
    """The formula that a draft would be; ``of`` is the one it is a change of, empty for none.

    Raises :class:`Faulty` with every fault of its additions and steps.
    """
    before = pantry.source(shapes.formula_id(of))[0] if of else {}
    document, _ = formula_document(before, draft.model_dump(by_alias=True))
    document["name"] = document["name"] or _NAMELESS
    if wrong := pantry.faults("draft", document):
        raise Faulty(wrong)
    return pantry.draft("draft", document)


def faulty(error: Faulty) -> JSONResponse:
    """A draft's faults as a problem: the first, and a list of all with their places."""
    first = error.errors[0]
    return problem(
        status_of(first),
        first.code,
        first.message,
        where=place_of(first),
        remedy=first.remedy,
        errors=[{"where": place_of(one), "message": one.message} for one in error.errors[:200]],
    )


@router.get("/api/limits")
async def limits(room: Here) -> Response:
    """The classes of product with every limit and its source."""
    pantry = pantry_of(room)

    def drawn() -> tuple[dict[str, Any], str]:
        kinds, tag, own = pantry.limits()
        return {
            "own": own,
            "fixed": pantry.fixed,
            "every": EVERY,
            "classes": [draw_class(one) for one in kinds.values()],
            "quantities": dict(QUANTITIES),
        }, tag

    return tagged(*await to_thread.run_sync(drawn, limiter=room.shelf_turn))


@router.put("/api/limits/{kind}")
async def put_limits(
    room: Here, kind: shapes.FormulaId, draft: ClassDraft, if_match: IfMatch = None
) -> Response:
    """Change a class of product, or add one; the first change copies the limits that ship."""
    pantry, tag = pantry_of(room), tag_given(if_match)
    given: Mapping[str, Any] = draft.model_dump()
    table = limits_table(given["name"], given["limits"])

    def written() -> tuple[dict[str, Any], str]:
        new = pantry.put_limits(kind, table, tag)
        return draw_class(pantry.limits()[0][kind]), new

    return tagged(*await to_thread.run_sync(written, limiter=room.shelf_turn))
