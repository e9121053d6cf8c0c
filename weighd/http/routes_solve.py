"""Amounts from targets: a formula, a draft or a list of ingredients is brought to what is asked."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from anyio import to_thread
from fastapi import APIRouter
from pydantic import Field
from starlette.responses import JSONResponse, Response

from weighd.domain import mass
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import LARGEST_G, Formula, Ingredient
from weighd.domain.problem import Solver
from weighd.domain.targets import MOST_TARGETS, read_target
from weighd.http import shapes
from weighd.http.drafts import FormulaDraft, Key, Text, pantry_of
from weighd.http.ports import Here, Room
from weighd.http.routes_drafts import Faulty, drafted, faulty
from weighd.station import composing, sizing, solving, solving_words

router = APIRouter(tags=["formulas"])


class Solve(shapes.Asked):
    """What a mix shall be, and of what."""

    of: Key = Field("", description="The id of a saved formula; empty for none.")
    formula: FormulaDraft | None = Field(
        None, description="A draft, of that formula or of a new one; it is not kept."
    )
    use: list[Key] = Field(
        default_factory=list, max_length=200, description="More ingredients, by their ids."
    )
    targets: dict[Key, Text] = Field(
        default_factory=dict,
        max_length=MOST_TARGETS,
        description='Of quantities and of ingredients: {"fat": "5", "total_solids": "34..36", '
        '"freezing_point": "-2.4±0.1", "cream": "<=200 g"}.',
    )
    kind: Key = Field("", description="A class of product whose limits are targets too.")
    aim: Key = Field("", description="nearest, cheapest or middle.")
    size: Text = Field("", description='Like "2400", "5 L at 30 %"; the formula\'s own.')
    overrun: Text = Field("", description="Air in percent of the mix's volume.")


@router.post("/api/solve")
async def solve(room: Here, asked: Solve) -> Response:
    """Find amounts for targets. ``met`` tells whether all are kept; where not, ``conflict`` says
    which cannot be together, and the amounts miss them by the least. Nothing is saved."""
    solver = solver_of(room)
    air = composing.read_overrun(asked.overrun)

    def read() -> solving.Ask:
        formula = formula_of(room, asked.of, asked.formula)
        pool = pool_of(room, formula, asked.use)
        return solving.asked(
            formula,
            pool,
            [read_target(name, text, pool) for name, text in asked.targets.items()],
            batch_g=size_of(asked.size, formula),
            aim=asked.aim,
            kinds=room.shelf.kinds(),
            kind=asked.kind,
            overrun_percent=air,
        )

    def made(ask: solving.Ask) -> dict[str, Any]:
        out = solving.solve(ask, solver)
        kinds = room.shelf.kinds()
        kind = asked.kind or out.formula.kind
        mix = composing.composed(out.formula, kinds, kind=kind, overrun_percent=air)
        return {**solving_words.draw_solved(out), "composition": composing.draw_composition(mix)}

    try:
        ask = await to_thread.run_sync(read, limiter=room.shelf_turn)
    except Faulty as error:
        return faulty(error)
    return JSONResponse(await to_thread.run_sync(made, ask, limiter=room.solver_turn))


def solver_of(room: Room) -> Solver:
    """The solver. Raises :class:`OperatorError` where there is none."""
    if room.solver is None:
        raise OperatorError("no-solver", "This station was started without a solver.")
    return room.solver


def formula_of(room: Room, identity: str, draft: FormulaDraft | None) -> Formula | None:
    """The formula asked about, or the draft of it; ``None`` for neither.

    Raises :class:`Faulty` or :class:`FormulaError`.
    """
    if draft is not None:
        return drafted(pantry_of(room), draft, identity)
    return room.shelf.get(shapes.formula_id(identity)) if identity else None


def pool_of(room: Room, formula: Formula | None, use: list[str]) -> dict[str, Ingredient]:
    """The formula's ingredients and more by their ids: of the kitchen, or of the table that ships.

    Raises :class:`FormulaError`, ``unknown-ingredient``.
    """
    own = {one.ingredient.id: one.ingredient for one in formula.additions} if formula else {}
    known = room.pantry.ingredients()[0] if room.pantry else {}
    shipped = room.shipped() if any(one not in own and one not in known for one in use) else {}
    for name in use:
        found = own.get(name) or known.get(name) or shipped.get(name)
        if found is None:
            raise FormulaError(
                "unknown-ingredient",
                f'No ingredient is called "{name}".',
                where="use",
                remedy="Add it to the kitchen's ingredients.",
            )
        own[name] = found
    return own


def size_of(text: str, formula: Formula | None) -> Decimal | None:
    """A size in grams, ``None`` for the formula's own. Raises :class:`OperatorError`."""
    if not text.strip():
        return None
    if formula is None:
        plain = shapes.plain(text)
        if plain is None:
            raise OperatorError(
                "bad-size",
                f'"{text[:40]}" is no mass in grams.',
                where="size",
                remedy=f"Give one up to {LARGEST_G}; other sizes need a formula.",
            )
        return mass.parse(plain)
    return sizing.chosen_size("", text, formula)[0]
