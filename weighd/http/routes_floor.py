"""What all stations do, as this one hears it on the broker."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import OperatorError
from weighd.http.ports import Here

router = APIRouter()


@router.get("/api/floor", tags=["floor"])
async def floor(room: Here) -> Response:
    """Every station heard on the broker: a view, never a record. Live at /api/floor/live."""
    if room.floor is None:
        raise OperatorError(
            "no-floor",
            "This station watches no floor.",
            remedy="Name a broker in weighd.toml, under [floor].",
        )
    return JSONResponse(room.floor.snapshot())
