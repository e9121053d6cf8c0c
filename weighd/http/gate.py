"""What every request passes: access, a bounded body, headers of defence, and the last net.

The outermost layer of the application, so that a refusal and a defect are answered with the same
headers as anything else. A defect is logged with its trace and answered without it.
"""

from __future__ import annotations

import asyncio
import logging

from anyio import to_thread
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from weighd.domain.errors import JournalError
from weighd.http.access import Refusal
from weighd.http.door import Door, asker_of
from weighd.http.errors import OF_CODE, problem

#: Nothing inline, nothing from anywhere else; ``'self'`` covers the websocket (CSP Level 3).
CONTENT_POLICY = (
    "default-src 'self'; object-src 'none'; frame-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)
_HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
#: Where a whole table is sent, a body may be larger: so many bytes.
LARGER = {"/api/ingredient-import": 512 * 1024, "/api/ingredient-import/look": 512 * 1024}
#: Close code for a websocket that is not let in (RFC 6455, 7.4.1: policy violation).
_POLICY_VIOLATION = 1008
#: And of its registry, for one too many.
_TRY_LATER = 1013
#: Seconds within which a body must have come.
BODY_S = 10.0

_log = logging.getLogger("weighd.http")


class Gate:
    """ASGI middleware around the whole application."""

    def __init__(self, app: ASGIApp, door: Door, largest_body: int) -> None:
        self._app = app
        self._door = door
        self._noting: set[asyncio.Task[None]] = set()
        self._largest = largest_body

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await self._websocket(scope, receive, send)
        elif scope["type"] == "http":
            await self._http(scope, receive, send)
        else:
            await self._app(scope, receive, send)

    async def _websocket(self, scope: Scope, receive: Receive, send: Send) -> None:
        code = _POLICY_VIOLATION
        if self._door.refusal(scope) is None:
            self._note(scope)
            with self._door.listening(scope) as may:
                if may:
                    await self._app(scope, receive, send)
                    return
            code = _TRY_LATER
        await receive()
        await send({"type": "websocket.close", "code": code})

    def _note(self, scope: Scope) -> None:
        """Have it written down that a device was seen, when it is time to; nobody waits for it."""
        device, devices = asker_of(scope).device, self._door.devices
        if device is None or devices is None or self._noting or not devices.is_new(device):
            return

        async def note() -> None:
            try:
                await to_thread.run_sync(devices.note, device)
            except JournalError as error:
                _log.warning("when a device was seen is not kept: %s", error.code)

        task = asyncio.create_task(note())
        self._noting.add(task)
        task.add_done_callback(self._noting.discard)

    async def _http(self, scope: Scope, receive: Receive, send: Send) -> None:
        begun = False
        private = scope["path"].startswith("/api") or scope["path"] == "/metrics"

        async def guarded(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers[name] = value
                if private:
                    headers["Cache-Control"] = "no-store"
            await send(message)

        refused = self._door.refusal(scope)
        if refused is not None:
            await _refuse(refused, scope, receive, guarded)
            return
        self._note(scope)
        try:
            if scope["method"] not in ("GET", "HEAD"):
                body = await self._body(scope, receive)
                if body is None:
                    return  # gone before it was said
                if isinstance(body, Refusal):
                    await _refuse(body, scope, receive, guarded)
                    return
                receive = _replay(body, receive)
            await self._app(scope, receive, guarded)
        except Exception:
            # The last net: what arrives here is a defect, and one request must not end the rest.
            # The address may name somebody: the route is told without what stands in its place.
            route = getattr(scope.get("route"), "path", "an address without a route")
            _log.exception("%s %s failed", scope["method"], route)
            if begun:
                raise
            answer = problem(
                OF_CODE["internal"],
                "internal",
                "The station met a defect in itself; nothing more is known here.",
                remedy="Look into its log, and report it.",
            )
            await answer(scope, receive, guarded)

    async def _body(self, scope: Scope, receive: Receive) -> bytes | Refusal | None:
        """The whole body, why it is not taken, or ``None`` when whoever sent it has gone."""
        headers = dict(scope["headers"])
        length = headers.get(b"content-length", b"0")
        largest = max(self._largest, LARGER.get(scope["path"], 0))
        if not length.isdigit() or len(length) > 12 or int(length) > largest:
            return self._too_large(largest)
        body = bytearray()
        try:
            async with asyncio.timeout(BODY_S):
                more = True
                while more:
                    message = await receive()
                    if message["type"] == "http.disconnect":
                        return None
                    body += message.get("body", b"")
                    more = message.get("more_body", False)
                    if len(body) > largest:
                        return self._too_large(largest)
        except TimeoutError:
            return Refusal("slow-body", "The request did not come to its end.", "Send it again.")
        kind = headers.get(b"content-type", b"").partition(b";")[0].strip().lower()
        if body and kind != b"application/json":
            # A form of another page can be sent without being asked for; JSON cannot.
            return Refusal(
                "not-json", "The body is not marked as JSON.", "Send it as application/json."
            )
        return bytes(body)

    def _too_large(self, largest: int) -> Refusal:
        return Refusal(
            "body-too-large",
            f"The body is larger than {largest} bytes.",
            "Send less.",
        )


async def _refuse(refusal: Refusal, scope: Scope, receive: Receive, send: Send) -> None:
    answer = problem(OF_CODE[refusal.code], refusal.code, refusal.message, remedy=refusal.remedy)
    if refusal.code in ("body-too-large", "slow-body", "too-many-requests"):
        answer.headers["Connection"] = "close"
    if refusal.code == "not-paired":  # RFC 9110, 15.5.2: it has to say how one is let in
        answer.headers["WWW-Authenticate"] = 'Bearer realm="weighd"'
    if refusal.wait_s:
        answer.headers["Retry-After"] = str(refusal.wait_s)
    await answer(scope, receive, send)


def _replay(body: bytes, receive: Receive) -> Receive:
    """A ``receive`` that gives the body at once, and after it whatever else comes."""
    given = False

    async def again() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return again
