"""The first start: which scale there is, who weighs, a first formula.

Only at the station's own computer, where nobody is listed; where people are, with the rights that
``rights`` names.
"""

from __future__ import annotations

from typing import Annotated, Literal

from anyio import to_thread
from fastapi import APIRouter
from pydantic import Field, StringConstraints
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import OperatorError
from weighd.http import shapes
from weighd.http.ports import FirstFormulas, FirstStart, Here, Room

router = APIRouter(tags=["first start"])

_NAME = r"^([A-Za-z0-9]+(-[A-Za-z0-9]+)*)?$"
Key = Annotated[str, StringConstraints(min_length=1, max_length=300)]


class Look(shapes.Asked):
    """Looking at what is plugged in."""

    again: bool = Field(
        default=False, description="Look anew, instead of going on with what was found."
    )


class Learn(shapes.Asked):
    """A port that is to be tried out."""

    place: Key = Field(description="The id of a place, as looking told it.")


class NewScale(shapes.Asked):
    """A scale to be set up."""

    place: Key = Field(description='The id of a place, or "simulated".')
    name: Annotated[str, StringConstraints(max_length=40, pattern=_NAME)] = Field(
        "", description="What it is called here: letters, digits, hyphens; bench."
    )
    max_g: shapes.Amount | None = Field(None, description="Its capacity in grams, where known.")
    interval_g: shapes.Amount | None = Field(None, description="Its interval, where known.")
    more: bool = Field(default=False, description="One more, beside those that are set up.")


class Name(shapes.Asked):
    """Whoever weighs."""

    name: shapes.Line = Field(min_length=1)


class PastedList(shapes.Asked):
    """A list that somebody has."""

    text: Annotated[str, StringConstraints(max_length=20_000)]


class NewFormula(shapes.Asked):
    """A first formula."""

    of: Literal["example", "list"]
    id: Annotated[str, StringConstraints(max_length=80)] = Field("", description="Of an example.")
    name: shapes.Line = Field("", description="For a list: what it makes.")
    text: Annotated[str, StringConstraints(max_length=20_000)] = Field("", description="The list.")


@router.post("/api/first/look")
async def look(room: Here, asked: Look) -> Response:
    """What is plugged in, and what it says by now; it is listened to while this is asked."""
    first = _first(room)
    again = asked.again
    told = await to_thread.run_sync(lambda: first.picture(again=again), limiter=room.first_turn)
    return JSONResponse(told)


@router.post("/api/first/learn")
async def learn(room: Here, asked: Learn) -> Response:
    """Try the rates and requests that are usual; only ever a weight is asked for."""
    first = _first(room)
    return JSONResponse(await to_thread.run_sync(first.learn, asked.place, limiter=room.first_turn))


@router.post("/api/first/scale")
async def add(room: Here, asked: NewScale) -> Response:
    """Write a scale into the configuration; the station begins anew with it."""
    first = _first(room)
    batch = room.runner.station.batch
    if batch is not None and batch.current is not None:
        raise OperatorError(
            "batch-open",
            f"Batch {batch.id} is still being weighed.",
            remedy="Finish it or abandon it first.",
        )
    given = {"place": asked.place, "name": asked.name}
    for name in ("max_g", "interval_g"):
        value = getattr(asked, name)
        given[name] = "" if value in (None, "") else shapes.amount(name, value)
    more = asked.more
    told = await to_thread.run_sync(lambda: first.add(given, more=more), limiter=room.first_turn)
    return JSONResponse(told)


@router.post("/api/first/name")
async def name(room: Here, asked: Name) -> dict[str, str]:
    """Offer a name to whoever weighs, from now on."""
    first = _first(room)
    await to_thread.run_sync(first.name, asked.name, limiter=room.first_turn)
    if asked.name not in room.named:
        room.named.append(asked.name)
    return {"name": asked.name}


@router.get("/api/first/formulas")
async def examples(room: Here) -> Response:
    """The invented examples that ship, those that are weighed soonest first."""
    made = _formulas(room)
    told = await to_thread.run_sync(made.examples, limiter=room.shelf_turn)
    return JSONResponse({"examples": told})


@router.post("/api/first/list")
async def read_list(room: Here, asked: PastedList) -> Response:
    """What a pasted list is taken for; nothing is written."""
    made = _formulas(room)
    return JSONResponse(
        await to_thread.run_sync(made.read_list, asked.text, limiter=room.shelf_turn)
    )


@router.post("/api/first/formula")
async def formula(room: Here, asked: NewFormula) -> dict[str, str]:
    """Put a first formula into the kitchen: an example, or what a list holds."""
    _first(room)
    made = _formulas(room)

    def done() -> str:
        if asked.of == "example":
            return made.take(shapes.formula_id(asked.id))
        return made.take_list(asked.name, asked.text)

    if asked.of == "list" and not asked.name:
        raise OperatorError("no-name", "It has no name.", where="name", remedy="Give it one.")
    return {"formula": await to_thread.run_sync(done, limiter=room.shelf_turn)}


def _first(room: Room) -> FirstStart:
    """Who sets up, for somebody who may. Raises :class:`OperatorError`."""
    if room.first is None:
        raise OperatorError(
            "no-first-start",
            "This station is not set up by its page.",
            remedy="Change weighd.toml instead.",
        )
    room.at_the_station("A scale is set up only at the station's own computer.")
    return room.first


def _formulas(room: Room) -> FirstFormulas:
    if room.first_formulas is None:
        raise OperatorError(
            "no-first-start",
            "This station is not set up by its page.",
            remedy="Write formula files instead.",
        )
    return room.first_formulas
