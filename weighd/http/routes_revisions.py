"""Earlier revisions of a formula: which there are, two side by side, and one to begin anew with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Path, Query
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import FormulaError
from weighd.domain.formula import Formula, plain_id
from weighd.domain.formula_kept import Kept
from weighd.domain.formula_text import ingredients_of
from weighd.http import shapes
from weighd.http.drafts import pantry_of, tagged
from weighd.http.errors import Problem
from weighd.http.ports import Here, Room
from weighd.station.drafting import NO_FILE
from weighd.station.revision_changes import compared, draw_compared
from weighd.station.revision_draft import draw_again
from weighd.station.revisions import NOW, History, draw_history, history

router = APIRouter(
    tags=["formulas"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}}
)

_ONE = "A revision by its digits (the first four may do), or now: the file as it is."
Named = Annotated[str, Path(description=_ONE, max_length=40)]
AskedFor = Annotated[str, Query(description=_ONE, max_length=40)]


@router.get("/api/formulas/{formula}/revisions")
async def revisions(room: Here, formula: shapes.FormulaId) -> Response:
    """Every revision of a formula that is known here, the present one first, then the newest.

    They were saved on the page or met in its file, came down from the shared store, or batches were
    opened with them; ``met`` says where, when and by whom, ``batches`` what was made by each.
    """

    return JSONResponse(draw_history(await _history(room, formula)))


@router.get("/api/formulas/{formula}/changes")
async def changed(
    room: Here,
    formula: shapes.FormulaId,
    then: AskedFor,
    now: AskedFor = NOW,
    kind: Annotated[str, Query(description="Whose limits; the formula's own kind.")] = "",
) -> Response:
    """What differs between two revisions, each at its own size, and what each comes to."""

    every = await _history(room, formula)

    def drawn() -> dict[str, Any]:
        before, after = every.find(then), every.find(now)
        prices, kinds = room.shelf.prices(every.formula), room.shelf.kinds()
        return draw_compared(compared(before, after, kinds, kind=kind, prices=prices))

    return JSONResponse(await to_thread.run_sync(drawn, limiter=room.shelf_turn))


@router.get("/api/formulas/{formula}/revisions/{revision}/source")
async def source(room: Here, formula: shapes.FormulaId, revision: Named) -> Response:
    """An earlier revision as a draft over the present file, under whose tag it would be saved.

    ``otherwise`` names ingredients that are others by now, ``stays`` what stays as the file has it.
    """
    pantry, every = pantry_of(room), await _history(room, formula)

    def drawn() -> tuple[dict[str, Any], str]:
        one = every.find(revision)
        known = dict(pantry.ingredients()[0])
        present: Mapping[str, Any] = {}
        try:
            present, tag = pantry.source(every.formula)
        except FormulaError as error:
            if error.code != "unknown-formula":
                raise
            tag = NO_FILE
        own = {"ingredients": present.get("ingredients", {})}
        known |= ingredients_of(own, every.formula, known)
        told = draw_again(one, present, every.now, known)
        return {**told, "fixed": pantry.fixed, "there": tag != NO_FILE}, tag

    return tagged(*await to_thread.run_sync(drawn, limiter=room.shelf_turn))


async def _history(room: Room, formula: str) -> History:
    """All that is known of a formula. Raises :class:`FormulaError`, ``unknown-formula``."""
    identity = plain_id(shapes.formula_id(formula))

    def here() -> tuple[Formula | None, Sequence[Kept], list[FormulaError]]:
        wrong: list[FormulaError] = []
        now: Formula | None = None
        try:
            now = room.shelf.get(identity)
        except FormulaError as error:
            if error.code != "unknown-formula":
                wrong.append(error)
        kept, bad = room.revisions.of(identity) if room.revisions else ((), ())
        return now, kept, [*wrong, *bad]

    now, kept, wrong = await to_thread.run_sync(here, limiter=room.shelf_turn)
    published = room.shared.revisions(identity) if room.shared else ()
    # Many batches take a while: whoever asks for formulas does not wait for that.
    return await to_thread.run_sync(history, identity, now, kept, published, room.journal, wrong)
