"""Problem details (RFC 9457): the shape of every refusal over HTTP."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any

from pydantic import BaseModel
from starlette.responses import JSONResponse

#: Status phrases that RFC 9110 changed and older Pythons do not know yet.
_PHRASES = {413: "Content Too Large", 422: "Unprocessable Content"}


class Problem(BaseModel):
    """Why a request was not met (RFC 9457)."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    code: str
    remedy: str = ""
    where: str = ""


def problem(
    status: int,
    code: str,
    detail: str,
    *,
    remedy: str = "",
    where: str = "",
    errors: Sequence[Mapping[str, str]] = (),
    headers: Mapping[str, str] | None = None,
    more: Mapping[str, Any] | None = None,
) -> JSONResponse:
    """A problem as a response.

    ``errors``  names every wrong field where there are several;
    ``more``    holds members of its own (RFC 9457, 3.2).
    """
    body: dict[str, Any] = {
        "type": "about:blank",
        "title": _PHRASES.get(status) or HTTPStatus(status).phrase,
        "status": status,
        "detail": sayable(detail),
        "code": code,
        "remedy": sayable(remedy),
        "where": sayable(where),
        **(more or {}),
    }
    if errors:
        body["errors"] = list(errors)
    return JSONResponse(body, status, headers, "application/problem+json")


def sayable(text: str) -> str:
    """Text that JSON in UTF-8 can carry, of a length that a page can show."""
    return text[:2000].encode("utf-8", "replace").decode("utf-8")
