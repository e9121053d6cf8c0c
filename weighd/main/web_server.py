"""The web server, as both doors have it."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

import uvicorn
from starlette.types import ASGIApp

from weighd.main.crowd import BACKLOG
from weighd.main.newest import NewestSocket
from weighd.main.patient import patient


class _Server(uvicorn.Server):
    """A web server whose process decides itself what a signal means."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


def web_server(app: ASGIApp, *, most: int, counted: bool = False, **more: Any) -> uvicorn.Server:
    """A server that is not started yet, for so many connections; where they are ``counted``, an
    address may have only some of them.

    What a header says of another address is left to the door (``proxy_headers``).
    """
    return _Server(
        uvicorn.Config(
            app,
            http=patient(most, counted=counted),
            backlog=BACKLOG,
            log_config=None,
            access_log=False,
            ws=NewestSocket,
            ws_per_message_deflate=False,
            ws_max_size=64 * 1024,
            ws_ping_interval=20,
            timeout_graceful_shutdown=2,
            server_header=False,
            proxy_headers=False,
            lifespan="off",
            **more,
        )
    )
