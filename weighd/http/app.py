"""The application: routes, the live link and the page, behind one gate."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from functools import partial
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from starlette.responses import HTMLResponse, Response

from weighd.domain.formula import Ingredient
from weighd.domain.problem import Solver
from weighd.http import (
    docs,
    routes_batches,
    routes_checks,
    routes_devices,
    routes_drafts,
    routes_dry_ice,
    routes_find,
    routes_first,
    routes_floor,
    routes_formulas,
    routes_ingredients,
    routes_labels,
    routes_lots,
    routes_needs,
    routes_outputs,
    routes_people,
    routes_recovery,
    routes_revisions,
    routes_shared,
    routes_simulation,
    routes_solve,
    routes_station,
    routes_steps,
    routes_swap,
    routes_trends,
    routes_vessels,
    routes_yield,
)
from weighd.http.caller import Desk
from weighd.http.door import Door
from weighd.http.errors import answer_errors
from weighd.http.gate import Gate
from weighd.http.keys import KeyBook
from weighd.http.live import Live
from weighd.http.metrics import Metrics
from weighd.http.page import Page
from weighd.http.ports import (
    FirstFormulas,
    FirstStart,
    Heads,
    HttpSettings,
    Others,
    Outputs,
    Pantry,
    Revisions,
    Room,
    Shelf,
    Simulation,
)
from weighd.http.signed_in import SignedIn
from weighd.station.devices import Devices
from weighd.station.people import People
from weighd.station.ports import Journal
from weighd.station.runner import Runner

_ABOUT = (
    "A weighing station. Masses are decimal strings in grams. Errors are problem details "
    "(RFC 9457): match on their code. Every command carries an Idempotency-Key."
)

#: Where the routes are declared, in the order in which they are told of.
PARTS = (
    routes_station,
    routes_checks,
    routes_trends,
    routes_vessels,
    routes_formulas,
    routes_needs,
    routes_drafts,
    routes_revisions,
    routes_steps,
    routes_find,
    routes_shared,
    routes_solve,
    routes_swap,
    routes_ingredients,
    routes_recovery,
    routes_dry_ice,
    routes_batches,
    routes_lots,
    routes_yield,
    routes_labels,
    routes_outputs,
    routes_people,
    routes_devices,
    routes_simulation,
    routes_floor,
    routes_first,
)


def create_app(
    runner: Runner,
    journal: Journal,
    shelf: Shelf,
    settings: HttpSettings,
    *,
    simulation: Simulation | None,
    dist: Path | Traversable | None,
    audience: Live,
    outputs: Outputs,
    pantry: Pantry | None = None,
    shipped: Callable[[], Mapping[str, Ingredient]] = dict,
    solver: Solver | None = None,
    heads: Heads | None = None,
    shared: Others | None = None,
    revisions: Revisions | None = None,
    people: People | None = None,
    devices: Devices | None = None,
    now: Callable[[], float] = time.monotonic,
    floor: Live | None = None,
    first: FirstStart | None = None,
    first_formulas: FirstFormulas | None = None,
) -> FastAPI:
    """The application for one station.

    ``runner``    runs the station; started and stopped by whoever calls this.
    ``journal``   read here, in threads of its own; written by the runner alone.
    ``audience``  the :class:`Live` that the runner was given.
    ``outputs``   sets record sheets and tables.
    ``pantry``    the kitchen's files, where they can be looked into and changed.
    ``shipped``   the compositions that ship.
    ``solver``    finds amounts for targets, and the smallest additions that put a pour right.
    ``heads``     the heads of each day, where they are written.
    ``shared``    the other stations, where it shares a store with some.
    ``revisions`` earlier revisions of the kitchen's formulas, where they are kept.
    ``people``    who works here, with PINs; without, everybody may do everything.
    ``devices``   those that may come in from elsewhere (:class:`weighd.http.door.AtSecondDoor`).
    ``now``       a clock in seconds, by which somebody stays signed in.
    ``floor``     what all stations do, where this one watches.
    ``first``     sets up scales, and ``first_formulas`` the first formula, by the page.
    ``dist``      the built page; a page that says how to build it where there is none.
    Raises ``ValueError`` for a name of the second door that is no host name.
    """
    shown, name = Page(dist), runner.station.name
    door = Door(devices, f"weighd-device-{name}", settings, shown.public, now)
    app = FastAPI(
        title="weighd",
        version=runner.station.version or "0",
        description=_ABOUT,
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
    )
    metrics = Metrics(runner, journal, audience)
    audience.also.append(metrics.note)
    app.state.room = Room(
        runner,
        journal,
        shelf,
        settings,
        simulation,
        KeyBook(),
        metrics,
        outputs,
        pantry,
        shipped=shipped,
        solver=solver,
        heads=heads,
        revisions=revisions,
        shared=shared,
        desk=None
        if people is None
        else Desk(people, SignedIn(now, settings.stay_s), f"weighd-{name}", now),
        door=door,
        devices=devices,
        floor=floor,
        first=first,
        first_formulas=first_formulas,
    )
    for part in PARTS:
        # As they are: of included ones FastAPI builds each anew, for every app and while the first
        # request waits.
        app.router.routes.extend(part.router.routes)
    app.add_api_websocket_route("/api/live", audience.listen)
    if floor is not None:
        app.add_api_websocket_route("/api/floor/live", floor.listen)

    @app.get("/api/docs", include_in_schema=False)
    async def documentation() -> Response:
        return HTMLResponse(docs.draw(app.openapi()))

    @app.get("/api/docs.css", include_in_schema=False)
    async def style() -> Response:
        return Response(docs.STYLE, media_type="text/css")

    app.openapi = partial(_described, app)  # type: ignore[method-assign]
    app.router.routes.extend(shown.routes())
    answer_errors(app)
    if devices is not None:
        devices.on_forgotten.append(door.end)
    app.add_middleware(Gate, door=door, largest_body=settings.largest_body)
    return app


def _described(app: FastAPI) -> dict[str, Any]:
    """Its description; what answers look like is loaded when somebody asks, and not at a start."""
    from weighd.http.described import described  # noqa: PLC0415

    return described(app)
