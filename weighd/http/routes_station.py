"""The station as it stands: health, the picture, scales, notices, metrics."""

from __future__ import annotations

import re
from typing import Any

from anyio import to_thread
from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import JournalError, OperatorError
from weighd.http import shapes
from weighd.http.metrics import CONTENT_TYPE
from weighd.http.ports import Here
from weighd.station.outgoing import Going
from weighd.station.scale import LinkState
from weighd.station.wire import draw_wire

router = APIRouter()


@router.get("/api/health", tags=["station"])
async def health(room: Here) -> dict[str, Any]:
    """Whether the station can weigh: ``degraded`` when a scale or the store cannot be relied on.

    Also when nothing goes to the shared store until somebody does something about it; being behind
    is no such thing. A device that was not let in is told the status alone.
    """
    station = room.runner.station
    links = {name: str(scale.link) for name, scale in station.scales.items()}
    error = station.store_error
    outgoing = room.runner.picture.sharing()
    well = error is None and all(link == LinkState.LIVE for link in links.values())
    well = well and (outgoing is None or outgoing.state is not Going.STOPPED)
    if not room.caller.known:
        return {"status": "ok" if well else "degraded"}
    return {
        "status": "ok" if well else "degraded",
        "version": station.version,
        "station": station.name,
        "scales": links,
        "store": "ok" if error is None else str(error),
        "sharing": None if outgoing is None else outgoing.as_json(),
    }


@router.get("/api/state", tags=["station"])
async def state(room: Here) -> Response:
    """The whole picture and its number: what the live link sends as a snapshot."""
    picture = room.runner.picture
    return JSONResponse({"seq": picture.seq, "state": picture.state()})


@router.get("/api/scales", tags=["station"])
async def scales(room: Here) -> Response:
    """Every scale: its link, its newest reading, what of it could not be read."""
    return JSONResponse({"scales": room.runner.picture.state()["scales"]})


@router.get("/api/scales/{name}/wire", tags=["station"])
async def wire(room: Here, name: shapes.ScaleName) -> Response:
    """What a scale sends: its newest reports byte by byte, with what stands where in them."""
    scale = room.runner.station.scales.get(name)
    if scale is None:
        raise OperatorError("unknown-scale", f'No scale is called "{name}".')
    return JSONResponse(draw_wire(scale))


@router.post("/api/scales/{name}/forget", tags=["station"])
async def forget(room: Here, name: shapes.ScaleName) -> dict[str, int]:
    """Forget what was learned of a scale: another one stands there, or it was moved or mended."""
    await room.runner.forget(name)
    return {"seq": room.runner.picture.seq}


@router.get("/api/operators", tags=["station"])
async def operators(room: Here) -> dict[str, list[str]]:
    """Names that are offered to whoever weighs."""
    return {"operators": list(dict.fromkeys([*room.settings.operators, *room.named]))}


@router.post("/api/notices/{notice}/dismiss", tags=["station"])
async def dismiss(room: Here, notice: str) -> dict[str, int]:
    """Take a notice down from every page; one that is down already stays down."""
    if not re.fullmatch(r"n\d{1,12}", notice, re.ASCII):
        raise OperatorError("unknown-notice", "There is no such notice.")
    await room.runner.dismiss(notice)
    return {"seq": room.runner.picture.seq}


@router.get("/metrics", tags=["station"])
async def metrics(room: Here) -> Response:
    """Counts and states in the text format of Prometheus."""
    try:
        await to_thread.run_sync(room.metrics.catch_up)
    except JournalError:
        room.metrics.store_errors += 1  # what is known without the record is still told
    return Response(room.metrics.text(), media_type=CONTENT_TYPE)
