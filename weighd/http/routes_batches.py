"""Batches: the list, one batch and its record, starting one, and commands while it is weighed."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, replace
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Header, Query
from starlette.responses import JSONResponse, Response

from weighd.domain.against_plan import SERVED_C
from weighd.domain.batch import Batch, Kind
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.domain.people import Right
from weighd.domain.record import Entry
from weighd.domain.verify import export
from weighd.http import shapes
from weighd.http.errors import Problem
from weighd.http.keys import one_key, reused
from weighd.http.ports import Here, Room
from weighd.http.routes_formulas import find
from weighd.station import checking, stock
from weighd.station.check_history import of_batch
from weighd.station.comparing import draw_weighed, weighed
from weighd.station.composing import read_overrun, read_temperature
from weighd.station.corrected import draw_written
from weighd.station.countersigned import draw_countersigned
from weighd.station.inputs import Answer, Command
from weighd.station.picture import draw_batch
from weighd.station.vessel_shelf import VESSEL_COMMANDS

router = APIRouter(
    tags=["batches"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}}
)

#: Seconds until a command counts as not answered; sent again with its key, it acts once.
ANSWER_S = 10.0

Key = Annotated[str | None, Header(description="A new random value for every new command.")]


@router.get("/api/batches")
async def batches(
    room: Here,
    limit: shapes.Limit = 50,
    before: Annotated[str | None, Query(description="Go on from this batch.")] = None,
) -> Response:
    """Batches, the newest first."""
    start = None if before is None else shapes.batch_id(before)
    rows = await to_thread.run_sync(lambda: room.journal.batches(limit=limit, before=start))
    return JSONResponse({"batches": [asdict(row) for row in rows]})


@router.get("/api/batches/{batch}")
async def batch(room: Here, batch: shapes.BatchId) -> Response:
    """One batch as its entries tell it: what the live link shows while it is weighed."""
    entries = await entries_of(room, batch)
    return JSONResponse({"batch": await to_thread.run_sync(_drawn, entries)})


@router.get("/api/batches/{batch}/record")
async def record(
    room: Here,
    batch: shapes.BatchId,
    download: Annotated[bool, Query(description="To be saved as a file.")] = False,
) -> Response:
    """The as-weighed record of a batch, complete on its own: it can be verified elsewhere."""
    document = await document_of(room, batch)
    return JSONResponse(document, headers=saved_as(f"{batch}.json") if download else {})


@router.get("/api/batches/{batch}/corrections")
async def corrections(room: Here, batch: shapes.BatchId) -> Response:
    """What people wrote in the entries of a batch, as it stands, and what was put right of it."""
    entries = await entries_of(room, batch)
    return JSONResponse(await to_thread.run_sync(lambda: draw_written(folded_of(entries))))


@router.get("/api/batches/{batch}/countersigned")
async def countersigned(room: Here, batch: shapes.BatchId) -> Response:
    """Who countersigned a batch, and what came later; ``entries`` is what one looks at to sign."""
    entries = await entries_of(room, batch)
    return JSONResponse(await to_thread.run_sync(lambda: draw_countersigned(folded_of(entries))))


@router.get("/api/batches/{batch}/composition")
async def composition(
    room: Here,
    batch: shapes.BatchId,
    at: Annotated[str, Query(description="Serving temperature in °C, like -12.")] = "",
    overrun: Annotated[str, Query(description="Air in percent of the mix's volume.")] = "",
    kind: Annotated[str, Query(description="Whose limits; the formula's own kind.")] = "",
) -> Response:
    """What the batch is as weighed, beside what was planned, with the doubt weighing leaves."""
    served = (read_temperature(at),) if at else SERVED_C
    air = read_overrun(overrun)
    entries = await entries_of(room, batch)

    def made() -> dict[str, Any]:
        folded = folded_of(entries)
        prices = room.shelf.prices(str(folded.formula.get("id", "")))
        one = weighed(
            folded, room.shelf.kinds(), kind=kind, at_c=served, overrun_percent=air, prices=prices
        )
        return draw_weighed(one)

    return JSONResponse(await to_thread.run_sync(made, limiter=room.shelf_turn))


@router.post(
    "/api/batches",
    status_code=201,
    response_model=shapes.Started,
    responses={200: {"model": shapes.Started, "description": "It was started before."}},
)
async def start(room: Here, asked: shapes.Start, idempotency_key: Key = None) -> Response:
    """Start a batch of a formula. The same key again gives the same answer."""
    key = one_key(idempotency_key, asked.key)
    earlier = await to_thread.run_sync(room.journal.entry_for_key, key)
    if earlier is not None:  # known even when the formula is gone or changed by now
        if earlier.kind != Kind.OPENED:
            raise reused(key)
        return _started(room, Answer(earlier.body["batch"], earlier.seq, again=True))
    size = shapes.batch_size(asked.batch_g)
    formula = await find(room, asked.formula)
    command = Command(
        0.0,
        "start",
        key=key,
        by=asked.operator,
        formula=formula.content(),
        batch_g=size,
        size=asked.size or "",
        rounded=bool(asked.rounded),
        scale=asked.scale or "",
        method=asked.method or "",
        vessel=asked.vessel or "",
    )
    if asked.plan:
        given = shapes.vessels(asked.model_dump(), room.settings.vessels)
        command = replace(
            command,
            plan=True,
            bowl_g=given["bowl_g"],
            dish_g=given["dish_g"],
            dish_holds_g=given["dish_holds_g"],
        )
    what = {
        "formula": formula.id,
        "size": size,
        "by": asked.operator,
        "scale": command.scale,
        "method": command.method,
        "vessel": command.vessel,
        "sized": [command.size, command.rounded],
        "plan": [command.plan, command.bowl_g, command.dish_g, command.dish_holds_g],
    }
    return _started(room, await act(room, command, what))


@router.post("/api/batches/{batch}/commands", response_model=shapes.Done)
async def command(
    room: Here, batch: shapes.BatchId, asked: shapes.Order, idempotency_key: Key = None
) -> Response:
    """Ask for something while a batch is weighed: what ``live.can`` lists is taken."""
    key = one_key(idempotency_key, asked.key)
    order = Command(
        0.0,
        asked.do,
        key=key,
        by=asked.by or "",
        batch=shapes.batch_id(batch),
        addition=asked.addition,
        reason=asked.reason or "",
        scale=asked.scale or "",
        lot=asked.lot or "",
        confirm=bool(asked.confirm),
        vessel=asked.vessel or "",
        step=asked.step,
        temperature=_said(asked.temperature),
        held=_said(asked.held),
        ago=_said(asked.ago),
        value=asked.value,
        confirmed=tuple(asked.confirmed or ()),
        pair=asked.pair or "",
        from_step=asked.from_step,
        note=asked.note or "",
        change=asked.change,
        dry_ice=_dry_ice(room, asked),
        entry=asked.entry,
        field=asked.field or "",
        old=asked.old,
        new=asked.new or "",
    )
    if asked.do in ("start", "forget scale", *VESSEL_COMMANDS, *checking.COMMANDS, *stock.COMMANDS):
        raise OperatorError(
            "unknown-command",
            f'"{asked.do}" is not a command for a batch.',
            remedy="Start a batch with POST /api/batches.",
        )
    what = {"batch": batch, **asked.model_dump(exclude={"key"})}
    answer = await act(room, order, what)
    if answer.again and answer.batch != batch:
        raise reused(key)
    return JSONResponse({"seq": room.runner.picture.seq, "entry": answer.entry})


async def act(room: Room, command: Command, what: Mapping[str, Any]) -> Answer:
    """Have the station take a command; ``what`` is what its key stands for."""
    with room.keys.entry(command.key, what):
        try:
            async with asyncio.timeout(ANSWER_S):
                return await room.runner.command(room.caller.of(command))
        except TimeoutError:
            pass
        except OperatorError as error:
            if error.code == "needs-right" and room.desk is not None:
                raise room.desk.refusal(Right.ACCEPT, room.caller.signed_in) from error
            raise
    raise OperatorError(
        "no-answer",
        f"The station did not answer within {ANSWER_S:.0f} s; it may still act.",
        remedy="Send the same command again with the same key.",
    )


def _dry_ice(room: Room, asked: shapes.Order) -> Mapping[str, str] | None:
    """What is said of dry ice; the usual room where it says nothing of one."""
    if asked.do != "begin step":
        return None
    usual = {key: value for key, value in room.settings.dry_ice.items() if value}
    return {**usual, **{key: _said(one) for key, one in (asked.dry_ice or {}).items()}} or None


def _said(amount: shapes.Amount | None) -> str:
    """A number as a person would write it; cut where nobody would write on."""
    return "" if amount is None else str(amount)[:80]


def _started(room: Room, answer: Answer) -> Response:
    body = {"batch": answer.batch, "seq": room.runner.picture.seq}
    return JSONResponse(body, 200 if answer.again else 201)


async def entries_of(room: Room, batch: str) -> Sequence[Entry]:
    """The entries of a batch. Raises :class:`OperatorError`, ``unknown-batch``."""
    entries = await to_thread.run_sync(room.journal.batch, shapes.batch_id(batch))
    if not entries:
        raise shapes.unknown_batch()
    return entries


async def document_of(room: Room, batch: str) -> dict[str, Any]:
    """A batch as exports carry it. Raises :class:`OperatorError`, ``unknown-batch``."""
    entries = await entries_of(room, batch)
    checks = await to_thread.run_sync(of_batch, room.journal, entries)
    signed = await to_thread.run_sync(lambda: [one for _, one in room.journal.signatures(batch)])
    return export(entries[0].station, batch, entries, checks, signed)


def saved_as(name: str) -> dict[str, str]:
    """The header that has a browser save an answer as a file."""
    return {"Content-Disposition": f'attachment; filename="{name}"'}


def _drawn(entries: Sequence[Entry]) -> dict[str, Any]:
    """The batch as its page shows it."""
    with _readable(entries):
        return draw_batch(folded_of(entries))


def folded_of(entries: Sequence[Entry]) -> Batch:
    """The batch that entries tell. Raises :class:`RecordError`."""
    with _readable(entries):
        folded = fold(entries)
        assert folded is not None
        return folded


@contextmanager
def _readable(entries: Sequence[Entry]) -> Iterator[None]:
    """An entry that was tampered with may be of any shape."""
    try:
        yield
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise RecordError(
            "unreadable-entry",
            f"The entries of the batch are not what they should be: {error!r}.",
            where=f"batch {entries[0].body.get('batch', '')}",
            remedy="Verify the record; what it holds can still be downloaded.",
        ) from error
