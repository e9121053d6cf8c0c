"""Checks of scales with weights: making one, and those that were made."""

from __future__ import annotations

from typing import Annotated, Literal

from anyio import to_thread
from fastapi import APIRouter, Path, Query
from pydantic import Field
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import OperatorError
from weighd.domain.record import Entry
from weighd.http import shapes
from weighd.http.errors import Problem
from weighd.http.keys import one_key
from weighd.http.ports import Here, Room
from weighd.http.routes_batches import Key, act, entries_of
from weighd.station import check_history, checking
from weighd.station.inputs import Command

router = APIRouter(
    tags=["checks"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}}
)

_DO = {"start": checking.START, "it is right": checking.RIGHT, "stop": checking.STOP}


class Check(shapes.Asked):
    """Something to do about the check of a scale."""

    do: Literal["start", "it is right", "stop"] = Field(
        description="start a check; say that an odd load is the right one; or stop the check."
    )
    by: shapes.Line | None = Field(None, description="Who is checking; needed for start.")
    key: str | None = Field(None, description="Idempotency key, if not in the header.")


@router.post("/api/scales/{name}/check", response_model=shapes.Done)
async def check(
    room: Here, name: shapes.ScaleName, asked: Check, idempotency_key: Key = None
) -> Response:
    """Check a scale. What is to be done next stands in the picture of the scale."""
    key = one_key(idempotency_key, asked.key)
    command = Command(0.0, _DO[asked.do], key=key, by=asked.by or "", scale=name)
    answer = await act(room, command, {"scale": name, **asked.model_dump(exclude={"key"})})
    return JSONResponse({"seq": room.runner.picture.seq, "entry": answer.entry})


@router.get("/api/scales/{name}/checks")
async def checks(
    room: Here,
    name: shapes.ScaleName,
    limit: shapes.Limit = 50,
    before: Annotated[
        int | None, Query(ge=1, le=shapes.LARGEST_SEQ, description="Go on from this entry.")
    ] = None,
) -> Response:
    """The checks of a scale, newest first, with what they found but without the readings."""
    _known(room, name)
    found = await to_thread.run_sync(
        lambda: check_history.history(room.journal, name, before=before, limit=limit)
    )
    return JSONResponse({"checks": found})


@router.get("/api/checks/{seq}")
async def one_check(
    room: Here,
    seq: Annotated[int, Path(ge=1, le=shapes.LARGEST_SEQ, description="The number of its entry.")],
) -> Response:
    """One check as the record has it, with its readings."""

    def find() -> Entry | None:
        return next((one for one in room.journal.checks(before=seq + 1) if one.seq == seq), None)

    found = await to_thread.run_sync(find)
    if found is None:
        raise OperatorError("unknown-check", "There is no such check.", remedy="See the list.")
    return JSONResponse(found.as_json())


@router.get("/api/batches/{batch}/checks")
async def of_batch(room: Here, batch: shapes.BatchId) -> Response:
    """Additions weighed on a scale that did not stand well by its check, or failed the next one."""
    entries = await entries_of(room, batch)
    known = await to_thread.run_sync(check_history.of_batch, room.journal, entries)
    return JSONResponse({"flags": check_history.said_of(entries, known)})


def _known(room: Room, name: str) -> None:
    if name not in room.runner.station.scales:
        raise OperatorError("unknown-scale", "There is no such scale.")
