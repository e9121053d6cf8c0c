"""Two doors: the station's own computer comes in by one, everybody else by the other.

1. The first listens on loopback and is for the station's own computer: whoever comes in there
   stands at the station. The second is open only where it was configured, and lets in nobody but
   devices that were paired. Which one it was the socket tells that took the request, no header.
2. At the second door nothing is given to strangers but what they need to pair: the files of the
   page, a health without content, and the two addresses in :data:`FOR_STRANGERS`. All else is shut
   until somebody opens it here; a test walks every route.
3. Behind a proxy on this computer everybody seems to be at home. So what was passed on is sent away
   from the first door, and the second one believes only the proxy that was named, and only of whose
   address it speaks and whether that came by TLS.
"""

from __future__ import annotations

import asyncio
import hmac
import ipaddress
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import Protocol

from starlette.requests import cookie_parser
from starlette.types import ASGIApp, Receive, Scope, Send

from weighd.domain.devices import Device, May
from weighd.http.access import LOOPBACK, SAFE, Access, Headers, Refusal, values
from weighd.http.buckets import Buckets
from weighd.station.devices import Devices

#: What anybody may ask at the second door, by method and path, beside the files of the page.
FOR_STRANGERS = frozenset(
    {("GET", "/api/health"), ("GET", "/api/device"), ("POST", "/api/device/pair")}
)
#: Statuses of what is refused because of a device.
STATUS = {
    "wrong-door": 421,
    "not-paired": 401,
    "wrong-code": 401,
    "looks-only": 403,
    "no-devices": 404,
    "unknown-device": 404,
    "too-many-devices": 409,
    "too-many-requests": 429,
    "wait-for-code": 429,
}
#: What also a device that only looks may send.
FOR_LOOKING = frozenset({"/api/device/leave", "/api/device/pair"})
METRICS = "/metrics"
#: Websockets of one device, and of all together: the station's own page keeps room.
MOST_SOCKETS, MOST_SOCKETS_TOGETHER = 20, 300
#: Requests of strangers, at once and then each second: of one address, and of all together. A page
#: that is opened for the first time asks for some thirty files.
BURST, RATE = 120, 4.0
BURST_TOGETHER, RATE_TOGETHER = 600, 40.0

_KEY = "weighd.asker"
_ENDED = "weighd.ended"
#: What only a proxy says.
_FORWARDED = (b"forwarded", b"via", b"x-real-ip")
_FORWARDED_X = b"x-forwarded-"

_WRONG_DOOR = Refusal(
    "wrong-door",
    "This came through a proxy, or from another computer, to the door for the station's own one.",
    remedy="Lead it to the door for other devices: the section elsewhere of weighd.toml.",
)
_NOT_BY_PROXY = Refusal(
    "wrong-door",
    "Other devices reach this station through its proxy only.",
    remedy="Open the proxy's address.",
)
_NOT_PAIRED = Refusal(
    "not-paired",
    "This device has not been let in.",
    remedy="Open the station's page on it and type the code that the station shows.",
)
_LOOKS_ONLY = Refusal(
    "looks-only",
    "This device only looks: nothing can be done at it.",
    remedy="Do it at the station, or pair this device anew as one that works.",
)
_TOO_MANY = Refusal(
    "too-many-requests",
    "Too many requests came at once.",
    remedy="Wait a moment, then try again.",
    wait_s=5,
)


@dataclass(frozen=True, slots=True)
class Asker:
    """Who sends a request, as far as the door can tell.

    ``home``     from the station's own computer.
    ``device``   the device that was paired; ``None`` at home and for strangers.
    ``address``  where from; of who is behind the proxy, where there is one.
    ``secure``   it came by TLS, at least as far as the proxy.
    ``token``    a program that may read the metrics.
    """

    home: bool
    device: Device | None = None
    address: str = ""
    secure: bool = False
    token: bool = False

    @property
    def here(self) -> bool:
        """As good as at the station: its own computer, or a device that stands in for it."""
        return self.home or (self.device is not None and self.device.may is May.ALL)

    @property
    def known(self) -> bool:
        """No stranger."""
        return self.home or self.device is not None or self.token


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """How the second door is set up.

    ``names``    host names it is known by.
    ``proxy``    address of the proxy before it; empty for none.
    ``metrics``  the token of programs that read the metrics; empty for none.
    """

    names: tuple[str, ...] = ()
    proxy: str = ""
    metrics: str = field(default="", repr=False)


class Known(Protocol):
    """What the doors are known by: names of the second, and the address of the first."""

    @property
    def host(self) -> str: ...

    @property
    def elsewhere(self) -> Elsewhere: ...


class Door:
    """Decides who comes in. Used in the event loop.

    ``public``  whether a path is one of the page's own files.
    """

    def __init__(
        self,
        devices: Devices | None,
        cookie: str,
        settings: Known,
        public: Callable[[str], bool],
        now: Callable[[], float],
    ) -> None:
        self.devices, self._cookie, self._public = devices, cookie, public
        self._elsewhere = elsewhere = settings.elsewhere
        host = f"[{settings.host}]" if ":" in settings.host else settings.host
        self._home = Access((*LOOPBACK, host))
        self._there = Access(
            elsewhere.names, "Use a name of the section elsewhere in weighd.toml (names)."
        )
        self._buckets = Buckets(BURST, RATE, BURST_TOGETHER, RATE_TOGETHER, now)
        self._sockets: Counter[str] = Counter()
        self._ends: dict[str, set[asyncio.Event]] = {}
        self._loop: asyncio.AbstractEventLoop | None = None

    def refusal(self, scope: Scope) -> Refusal | None:
        """Why a request is not let in; else who sends it is written into its scope."""
        asker = Asker(home=False)
        scope[_KEY] = asker
        refused, asker = self._elsewhere_of(scope) if elsewhere_in(scope) else self._home_of(scope)
        scope[_KEY] = asker
        return refused

    def _home_of(self, scope: Scope) -> tuple[Refusal | None, Asker]:
        headers: Headers = scope["headers"]
        client = scope.get("client")
        told = [key.lower() for key, _ in headers]
        passed = any(key in _FORWARDED or key.startswith(_FORWARDED_X) for key in told)
        # Programs of today speak 1.1; what passes requests on without saying so often does not.
        if passed or scope.get("http_version") == "1.0" or (client and not is_loopback(client[0])):
            return _WRONG_DOOR, Asker(home=False)
        return self._home.refusal(scope.get("method"), headers), Asker(home=True)

    def _elsewhere_of(self, scope: Scope) -> tuple[Refusal | None, Asker]:
        headers: Headers = scope["headers"]
        method, path = scope.get("method"), scope["path"]
        address, secure = (scope.get("client") or ("",))[0], scope["scheme"] in ("https", "wss")
        asker = Asker(home=False, address=address, secure=secure)
        if self._elsewhere.proxy:
            if not same_address(address, self._elsewhere.proxy):
                return _NOT_BY_PROXY, asker
            address = last_of(headers, b"x-forwarded-for") or address
            secure = last_of(headers, b"x-forwarded-proto").lower() == "https"
            asker = Asker(home=False, address=address, secure=secure)
        refused = self._there.refusal(method, headers)
        if refused is not None:
            return refused, asker
        token = self._token(headers, self.cookie(secure=secure))
        device = self.devices.of_token(token) if self.devices is not None else None
        if device is not None:
            asker = Asker(home=False, device=device, address=address, secure=secure)
            sends = method is not None and method not in SAFE and path not in FOR_LOOKING
            return (_LOOKS_ONLY if sends and device.may is May.LOOK else None), asker
        if path == METRICS and method == "GET" and self._reads_metrics(headers):
            return None, Asker(home=False, address=address, secure=secure, token=True)
        if not self._buckets.take(address_key(address)):
            return _TOO_MANY, asker
        open_to_all = (method, path) in FOR_STRANGERS or (
            method in ("GET", "HEAD") and self._public(path)
        )
        return (None if open_to_all else _NOT_PAIRED), asker

    def cookie(self, *, secure: bool) -> str:
        """What a device carries its token in. By TLS its name keeps it from any other host."""
        return f"__Host-{self._cookie}" if secure else self._cookie

    @staticmethod
    def _token(headers: Headers, name: str) -> str:
        found = (cookie_parser(line).get(name, "") for line in values(headers, b"cookie"))
        return next(filter(None, found), "")

    def _reads_metrics(self, headers: Headers) -> bool:
        told = values(headers, b"authorization")
        if not self._elsewhere.metrics or len(told) != 1:
            return False
        kind, _, token = told[0].partition(" ")
        good = hmac.compare_digest(token.strip().encode(), self._elsewhere.metrics.encode())
        return kind.lower() == "bearer" and good

    # --- websockets --------------------------------------------------------------------------

    @contextmanager
    def listening(self, scope: Scope) -> Iterator[bool]:
        """While a device listens; whether it may. ``ended_in`` of its scope is set with it."""
        device = asker_of(scope).device
        if device is None:
            yield asker_of(scope).home
            return
        together = sum(self._sockets.values())
        if self._sockets[device.id] >= MOST_SOCKETS or together >= MOST_SOCKETS_TOGETHER:
            yield False
            return
        self._loop = asyncio.get_running_loop()
        ended = scope[_ENDED] = asyncio.Event()
        self._sockets[device.id] += 1
        self._ends.setdefault(device.id, set()).add(ended)
        try:
            yield True
        finally:
            self._sockets[device.id] -= 1
            self._ends[device.id].discard(ended)
            if not self._sockets[device.id]:
                del self._sockets[device.id], self._ends[device.id]

    def end(self, device: str) -> None:
        """End every websocket of a device; called from whatever thread."""
        if self._loop is not None:
            with suppress(RuntimeError):  # the station is ending, and they with it
                self._loop.call_soon_threadsafe(self._end, device)

    def _end(self, device: str) -> None:
        for ended in self._ends.get(device, ()):
            ended.set()


class AtSecondDoor:
    """An application as the second door shows it."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await self._app({**scope, "weighd.elsewhere": True}, receive, send)


def elsewhere_in(scope: Scope) -> bool:
    """Whether it came in by the second door."""
    return scope.get("weighd.elsewhere") is True


def asker_of(scope: Scope) -> Asker:
    """Who sends a request; a stranger where nobody looked."""
    found = scope.get(_KEY)
    return found if isinstance(found, Asker) else Asker(home=False)


def ended_in(scope: Scope) -> asyncio.Event | None:
    """Set when whoever listens is not let in any more."""
    found = scope.get(_ENDED)
    return found if isinstance(found, asyncio.Event) else None


def last_of(headers: Headers, name: bytes) -> str:
    """The last of a list in headers: what the proxy itself put there."""
    told = ",".join(values(headers, name))
    return told.rpartition(",")[2].strip()


def is_loopback(address: str) -> bool:
    """Whether an address is this computer's own."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def same_address(one: str, other: str) -> bool:
    """Whether two addresses are the same, however they are written."""
    try:
        return ipaddress.ip_address(one) == ipaddress.ip_address(other)
    except ValueError:
        return False


def address_key(address: str) -> str:
    """Whom an address counts for: of IPv6 a whole network is one household's."""
    try:
        it = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return "?"
    if isinstance(it, ipaddress.IPv6Address):
        if it.ipv4_mapped is not None:
            return str(it.ipv4_mapped)
        return str(ipaddress.ip_network((it, 64), strict=False))
    return str(it)
