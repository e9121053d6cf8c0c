"""Lots: received, looked at, blocked, counted; what a scanned code is; where a lot went."""

from __future__ import annotations

import time
from functools import partial
from typing import Annotated, Any, Literal

from anyio import to_thread
from fastapi import APIRouter, Path, Query
from pydantic import Field, StringConstraints
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import FormulaError, OperatorError, WeighdError
from weighd.domain.formula import Ingredient
from weighd.domain.lots import Lot, LotBook
from weighd.domain.record import Entry
from weighd.http import shapes
from weighd.http.errors import Problem
from weighd.http.keys import one_key, reused
from weighd.http.ports import Here, Room
from weighd.http.routes_batches import Key, act, entries_of, folded_of, saved_as
from weighd.http.routes_shared import others_of
from weighd.station.everywhere import known_stations, trace_lot
from weighd.station.inputs import Command
from weighd.station.lot_history import told_of
from weighd.station.lots_drawn import draw_lot, draw_lots
from weighd.station.made import as_goods
from weighd.station.recalling import draw_recall
from weighd.station.scanning import draw_scan, identify, wrong_ingredient
from weighd.station.stock import RECEIVE, unknown_lot

router = APIRouter(tags=["lots"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}})

LotCode = Annotated[str, Path(description="A lot's code.", max_length=80)]
_DO = {
    "open": "open lot",
    "block": "block lot",
    "release": "release lot",
    "adjust": "adjust lot",
    "use up": "use up lot",
}
#: Fields of goods that are taken as they were given.
_TEXTS = (
    "supplier",
    "supplier_lot",
    "gtin",
    "use_by",
    "best_before",
    "temperature_c",
    "document",
    "note",
)


class Receive(shapes.Asked):
    """A lot that came in, or that a batch made."""

    ingredient: shapes.Line = Field(description="The id of an ingredient.")
    quantity_g: shapes.Amount | None = Field(
        None, description='Grams, or like "25 kg"; of a batch what was weighed into it.'
    )
    lot: shapes.Line | None = Field(None, description="Our code for it; one is made.")
    supplier: shapes.Line | None = None
    supplier_lot: shapes.Line | None = Field(None, description="The lot's code on the pack.")
    gtin: shapes.Line | None = Field(None, description="Trade number, 14 digits.")
    use_by: shapes.Line | None = Field(None, description="A day, like 2026-11-30.")
    best_before: shapes.Line | None = None
    temperature_c: shapes.Amount | None = Field(None, description="As read at receipt, in °C.")
    document: shapes.Line | None = Field(None, description="Delivery note or invoice.")
    note: shapes.Sentence | None = None
    made_in: shapes.Line | None = Field(None, description="The batch of ours that it is.")
    by: shapes.Line = Field(description="Who receives it.")
    corrects: shapes.Line | None = Field(
        None, description="The lot whose receipt this one stands in the place of."
    )
    reason: shapes.Sentence | None = Field(None, description="Why, for a correction.")
    key: str | None = Field(None, description="Idempotency key, if not in the header.")


class Act(shapes.Asked):
    """Something done to a lot."""

    do: Literal["open", "block", "release", "adjust", "use up"]
    by: shapes.Line = Field(description="Who does it.")
    reason: shapes.Sentence | None = Field(None, description="Why; for all but open and use up.")
    keeps_days: int | None = Field(
        None, description="For open: days it keeps then; what its ingredient says."
    )
    count_g: shapes.Amount | None = Field(None, description="For adjust: what is there.")
    waste_g: shapes.Amount | None = Field(None, description="For adjust: what was thrown away.")
    corrects: shapes.Line | None = Field(
        None, description="For adjust: the hash of the adjustment that this one replaces."
    )
    key: str | None = Field(None, description="Idempotency key, if not in the header.")


class Scanned(shapes.Asked):
    """What a scanner typed."""

    text: Annotated[str, StringConstraints(min_length=1, max_length=500)] = Field(
        description="As it was typed; fields parted by ASCII 29, or by <GS> where it cannot be."
    )


@router.get("/api/lots")
async def lots(
    room: Here,
    q: Annotated[str, Query(max_length=80, description="Part of a code, a name, ...")] = "",
    gone: Annotated[bool, Query(description="Also those that were used up.")] = False,
) -> Response:
    """The lots there are, soonest to expire first.

    Where stations share them, ``shared`` says when the others were heard of last, and why not since
    then.
    """
    day, book = today_of(room), LotBook(_book(room))
    rows = await to_thread.run_sync(lambda: draw_lots(book, day, q, gone=gone))
    told: dict[str, Any] = {"day": day, "lots": rows}
    if room.shared is not None:
        stock, why = room.runner.station.stock, room.shared.cut_off
        told["shared"] = {"heard_at": stock.heard_at, "cut_off": why}
    return JSONResponse(told)


@router.get("/api/lots/{lot}")
async def lot(room: Here, lot: LotCode) -> Response:
    """One lot, with everything that was recorded of it."""
    found = found_in(room, lot)
    history = await to_thread.run_sync(told_of, room.journal, found.code)
    return JSONResponse({**draw_lot(found, today_of(room)), "history": history})


@router.post("/api/lots", status_code=201)
async def receive(room: Here, asked: Receive, idempotency_key: Key = None) -> Response:
    """Receive a lot, or put a receipt right. The same key again gives the same answer."""
    key = one_key(idempotency_key, asked.key)
    known = await ingredients_of(room)
    if asked.ingredient not in known:
        raise FormulaError(
            "unknown-ingredient",
            f'No ingredient is called "{asked.ingredient}".',
            where="ingredient",
            remedy="Choose one of the kitchen's, or add it there first.",
        )
    goods: dict[str, Any] = {
        "ingredient": asked.ingredient,
        "name": known[asked.ingredient].name,
        "quantity_g": "" if asked.quantity_g is None else str(asked.quantity_g),
        "made_in": asked.made_in or "",
        "corrects": asked.corrects or "",
    }
    for field in _TEXTS:
        value = getattr(asked, field)
        goods[field] = "" if value is None else str(value)
    if asked.made_in:
        goods = as_goods(folded_of(await entries_of(room, asked.made_in)), goods)
    command = Command(
        0.0,
        RECEIVE,
        key=key,
        by=asked.by,
        lot=asked.lot or "",
        reason=asked.reason or "",
        goods=goods,
    )
    answer = await act(room, command, asked.model_dump(mode="json", exclude={"key"}))
    made = await to_thread.run_sync(room.journal.entry_for_key, key)
    assert made is not None
    return _received(room, made, key, again=answer.again)


def _received(room: Room, entry: Entry, key: str, *, again: bool) -> Response:
    if entry.kind != "lot received":
        raise reused(key)
    told = {"lot": entry.body["lot"], "entry": entry.seq, "seq": room.runner.picture.seq}
    return JSONResponse(told, 200 if again else 201)


@router.post("/api/lots/{lot}/commands", response_model=shapes.Done)
async def do(room: Here, lot: LotCode, asked: Act, idempotency_key: Key = None) -> Response:
    """Open, block, release or count a lot, or say that it is used up."""
    key = one_key(idempotency_key, asked.key)
    goods: dict[str, Any] = {
        field: str(value)
        for field in ("count_g", "waste_g", "corrects")
        if (value := getattr(asked, field)) is not None
    }
    if asked.do == "open":
        days = asked.keeps_days
        if days is None and (found := _book(room).find(lot)) is not None:
            one = (await ingredients_of(room)).get(found.goods.ingredient)
            days = one.facts.shelf_life_opened_days if one and one.facts else None
        if days is not None:
            goods["keeps_days"] = days
    command = Command(
        0.0,
        _DO[asked.do],
        key=key,
        by=asked.by,
        lot=lot,
        reason=asked.reason or "",
        goods=goods,
    )
    what = {"lot": lot, **asked.model_dump(mode="json", exclude={"key"})}
    answer = await act(room, command, what)
    return JSONResponse({"seq": room.runner.picture.seq, "entry": answer.entry})


@router.post("/api/scan")
async def scan(room: Here, asked: Scanned) -> Response:
    """What a scanned code is here, and whether it is for the addition being weighed.

    ``current``: ``fits`` says whether the lot (or ingredient) is the one wanted now; ``refusal``
    why not. ``null`` where nothing is weighed or the code says nothing of either.
    """
    # Here and not at the start: what reads codes takes 16 MB, and most kitchens have no scanner.
    from weighd.domain.scan import read_scan  # noqa: PLC0415

    day, station = today_of(room), room.runner.station
    found = read_scan(asked.text, int(day[:4]))
    known = await ingredients_of(room)
    book = LotBook(station.stock.book)
    lot, ingredient = await to_thread.run_sync(identify, found, book, known)
    told = draw_scan(found, lot, ingredient)
    return JSONResponse({**told, "current": _current(room, lot, ingredient, day)})


def _current(
    room: Room, lot: Lot | None, ingredient: Ingredient | None, day: str
) -> dict[str, Any] | None:
    batch = room.runner.station.batch
    current = batch.current if batch else None
    if current is None or (lot is None and ingredient is None):
        return None
    refused: WeighdError | None = None
    if lot is not None:
        try:
            _book(room).name(lot.code, current.ingredient, current.name, day, "")
        except OperatorError as error:
            refused = error
    elif ingredient is not None:
        refused = wrong_ingredient(ingredient, current.ingredient, current.name)
    told = None
    if refused is not None:
        told = {"code": refused.code, "detail": refused.message, "remedy": refused.remedy}
    return {"addition": current.n, "fits": refused is None, "refusal": told}


@router.get("/api/trace/{lot:path}")
async def traced(
    room: Here,
    lot: LotCode,
    form: Annotated[
        Literal["json", "csv", "pdf"],
        Query(alias="format", description="csv, pdf: a recall sheet."),
    ] = "json",
    drill: Annotated[bool, Query(description="A mock recall: the sheet says so.")] = False,
    everywhere: Annotated[
        bool | None,
        Query(
            description="At every station: where not given, if the shared store can be reached; "
            "true is refused where it cannot; false looks at this station only."
        ),
    ] = None,
) -> Response:
    """Where a lot went, through any depth, where that is now, whom it came from, who made what of
    it, and what it was made of; with its mass balance where it was received.

    Where stations share a store, ``everywhere`` says whether all were looked at; if not, ``said``
    tells in a line what is not shown.
    """
    station, shared = room.runner.station, others_of(room) if everywhere else room.shared
    known, begun = _book(room).find(lot), time.perf_counter()
    look = partial(
        trace_lot,
        room.journal,
        station.name,
        lot,
        known,
        None if shared is None or everywhere is False else shared.trace,
        cut_off="" if shared is None else shared.cut_off,
        must=bool(everywhere),
        unseen=known_stations(_book(room), station.name),
        heard_at=station.stock.heard_at,
    )
    found, rows, beside = await to_thread.run_sync(look)
    took_ms = round((time.perf_counter() - begun) * 1000, 1)
    if known is None and not found.uses and not found.back:
        raise unknown_lot(lot)
    told = draw_recall(
        found, known, _book(room), rows, day=today_of(room), took_ms=took_ms, drill=drill
    )
    told |= beside
    if form == "json":
        return JSONResponse(told)
    if form == "csv":
        text = await to_thread.run_sync(room.outputs.recall_csv, told)
        return Response(
            text.encode("utf-8"),
            media_type="text/csv; charset=utf-8",
            headers=saved_as("recall.csv"),
        )
    made = await to_thread.run_sync(room.outputs.recall_pdf, told, limiter=room.output_turn)
    return Response(made, media_type="application/pdf", headers=saved_as("recall.pdf"))


def today_of(room: Room) -> str:
    """The day that dates of lots are held against."""
    station = room.runner.station
    return station.stock.today(station.at())


def _book(room: Room) -> LotBook:
    return room.runner.station.stock.book


def found_in(room: Room, lot: str) -> Lot:
    """A lot by its code. Raises :class:`OperatorError`, ``unknown-lot``."""
    found = _book(room).find(lot)
    if found is None:
        raise unknown_lot(lot)
    return found


async def ingredients_of(room: Room) -> dict[str, Ingredient]:
    """Every ingredient that is known, by id."""
    return await to_thread.run_sync(room.ingredients, limiter=room.shelf_turn)
