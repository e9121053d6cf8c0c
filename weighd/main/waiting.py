"""Whoever comes while a long record is read for the first time is told so, and comes again.

A start takes well below a second, however long the record, but for the first one with it: after an
upgrade that changed its tables, or where what is kept for a start was lost. Then this answers.
"""

from __future__ import annotations

import contextlib
import selectors
import socket
import threading
from types import TracebackType

import structlog

log = structlog.get_logger("weighd")
#: A start that takes no longer than this is waited for.
AFTER_S = 1.5
#: Seconds for whoever comes to say what is wanted, and bytes to say it in.
SAID_S, SAID_BYTES = 0.5, 4096
_PAGE = """<!doctype html><html lang="en"><meta charset="utf-8">
<meta http-equiv="refresh" content="2">
<title>weighd starts</title><p>The station reads its record. This takes a while once, and then this
page is there.</p></html>
"""
_ANSWER = (
    "HTTP/1.1 503 Service Unavailable\r\nContent-Type: text/html; charset=utf-8\r\n"
    f"Content-Length: {len(_PAGE)}\r\nRetry-After: 2\r\nCache-Control: no-store\r\n"
    f"Connection: close\r\n\r\n{_PAGE}"
).encode()


class Waiting:
    """Answers on a socket that listens, from ``after_s`` on, until it is left."""

    def __init__(self, sock: socket.socket, after_s: float = AFTER_S) -> None:
        self._sock, self._after_s = sock, after_s
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="waiting", daemon=True)

    def __enter__(self) -> Waiting:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        where: TracebackType | None,
    ) -> None:
        self._over.set()
        self._thread.join()

    def _run(self) -> None:
        if self._over.wait(self._after_s):
            return
        log.info("the record is read; this takes a while the first time")
        with self._sock.dup() as sock, selectors.DefaultSelector() as waiting:
            sock.setblocking(False)  # noqa: FBT003 - as it is called
            waiting.register(sock, selectors.EVENT_READ)
            while not self._over.is_set():
                if waiting.select(0.1):
                    with contextlib.suppress(OSError):
                        self._answer(sock.accept()[0])

    def _answer(self, client: socket.socket) -> None:
        with client:
            client.settimeout(SAID_S)
            said = b""
            while b"\r\n\r\n" not in said and len(said) < SAID_BYTES:
                more = client.recv(SAID_BYTES)
                if not more:
                    return
                said += more
            client.sendall(_ANSWER)
