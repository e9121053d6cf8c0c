"""A batch's record as a sheet to sign and as a table, and the schema of records."""

from __future__ import annotations

from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Query
from starlette.responses import JSONResponse, Response

from weighd.http import shapes
from weighd.http.errors import Problem
from weighd.http.ports import Here
from weighd.http.routes_batches import document_of, saved_as

router = APIRouter(
    tags=["batches"], responses={"4XX": {"model": Problem}, "5XX": {"model": Problem}}
)

Download = Annotated[bool, Query(description="To be saved as a file.")]


@router.get(
    "/api/batches/{batch}/sheet.pdf",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}}},
)
async def sheet(room: Here, batch: shapes.BatchId, download: Download = False) -> Response:
    """The record sheet, to be printed and signed by hand (PDF/A). It is verified as it is made:
    where the record does not hold, the sheet says so in large letters."""
    document = await document_of(room, batch)
    made = await to_thread.run_sync(room.outputs.sheet, document, limiter=room.output_turn)
    headers = saved_as(f"{batch}.pdf") if download else {}
    return Response(made, media_type="application/pdf", headers=headers)


@router.get(
    "/api/batches/{batch}/weighings.csv",
    response_class=Response,
    responses={200: {"content": {"text/csv": {}}}},
)
async def weighings(room: Here, batch: shapes.BatchId) -> Response:
    """Its weighings as CSV, a row for each; cells are safe for spreadsheets."""
    document = await document_of(room, batch)
    made = await to_thread.run_sync(room.outputs.table, document, limiter=room.output_turn)
    return Response(
        made.encode("utf-8"),
        media_type="text/csv; charset=utf-8; header=present",
        headers=saved_as(f"{batch}.csv"),
    )


@router.get("/api/head")
async def head(room: Here) -> Response:
    """The newest head that the station wrote by itself (``[heads]``), with its short form: what to
    copy out today. ``configured`` is false where it writes none."""
    if room.heads is None:
        return JSONResponse({"configured": False})
    told = await to_thread.run_sync(room.heads.drawn)
    return JSONResponse({"configured": True, **told})


@router.get(
    "/api/schema/record.json",
    response_class=Response,
    responses={200: {"content": {"application/schema+json": {}}}},
)
async def schema(room: Here) -> Response:
    """The JSON Schema (draft 2020-12) of what /api/batches/ID/record answers."""
    text = await to_thread.run_sync(room.outputs.schema)
    return Response(text.encode("utf-8"), media_type="application/schema+json")
