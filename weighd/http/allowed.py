"""Which methods an address takes."""

from __future__ import annotations

from fastapi import Request
from fastapi.routing import APIRoute
from starlette.routing import Route


def allowed(request: Request) -> list[str]:
    """The methods that an address takes, of all routes that it has (RFC 9110, 15.5.6): the
    framework tells those of the first."""
    found: set[str] = set()
    for part in request.app.routes:
        # routers that were taken in stand as they are; older frameworks put their routes beside
        for route in getattr(getattr(part, "original_router", None), "routes", (part,)):
            if isinstance(route, Route | APIRoute) and route.path_regex.match(request.url.path):
                found |= route.methods or set()
    return sorted(found)
