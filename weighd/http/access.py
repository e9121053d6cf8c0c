"""Who may talk to the station from a browser: host names and origins.

1. A browser reaches the station for any page that it shows. So a request must name a host that we
   are known by (a page that rebinds its own name to our address does not), and a page must come
   from the very host it talks to.
2. ``Origin`` is what browsers say of the page (RFC 6454); programs other than browsers do not
   send it, and are let in.
3. A picture, a script or a frame of another page sends no ``Origin``, but says where it is from
   (``Sec-Fetch-Site``, Fetch Metadata) wherever the address is one that browsers trust. Only
   following a link may come from elsewhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

_AUTHORITY = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(?::([0-9]{1,5}))?")
#: What the station is called on its own computer.
LOOPBACK = ("localhost", "127.0.0.1", "[::1]")
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
_PORTS = {"http": "80", "https": "443"}

Headers = Sequence[tuple[bytes, bytes]]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a request is not let in. ``wait_s``: seconds after which it may be tried again."""

    code: str
    message: str
    remedy: str
    wait_s: int = 0


_ORIGIN = Refusal(
    "foreign-origin",
    "A page from elsewhere may not talk to the station.",
    "Open the station's own page.",
)


class Access:
    """The rules for the names that a door is known by, each with or without a port.

    ``remedy``  what to do about a name that is not among them.
    """

    def __init__(self, names: Iterable[str] = LOOPBACK, remedy: str = "Use localhost.") -> None:
        self._names: set[str] = set()
        for one in names:
            host, port = split(one) or ("", "")
            if not host:
                raise ValueError(f"{one!r} is not a host name")
            self._names.add(f"{host}:{port}" if port else host)
        self._unknown = Refusal(
            "unknown-host", "The station is not known by the name it was asked under.", remedy
        )

    def refusal(self, method: str | None, headers: Headers) -> Refusal | None:
        """Why a request is not let in, or ``None``. ``method`` is ``None`` for a websocket."""
        hosts, origins = values(headers, b"host"), values(headers, b"origin")
        at = split(hosts[0]) if len(hosts) == 1 else None
        if at is None or not self._known(at):
            return self._unknown
        if len(origins) > 1 or (origins and not _own(origins[0], at)):
            return _ORIGIN
        foreign = any(
            one not in ("same-origin", "none") for one in values(headers, b"sec-fetch-site")
        )
        if method is not None and foreign:
            followed = values(headers, b"sec-fetch-mode") == ["navigate"]
            shown = values(headers, b"sec-fetch-dest") in ([], ["document"])
            if method not in SAFE or not (followed and shown):
                return _ORIGIN
        return None

    def _known(self, at: tuple[str, str]) -> bool:
        host, port = at
        return host in self._names or f"{host}:{port}" in self._names


def _own(origin: str, at: tuple[str, str]) -> bool:
    """A page of the host it talks to."""
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    page = split(parts.netloc.lower())
    usual = _PORTS.get(parts.scheme)
    if page is None or usual is None or parts.path or parts.query or parts.fragment:
        return False
    return page[0] == at[0] and (page[1] or usual) == (at[1] or usual)


def values(headers: Headers, name: bytes) -> list[str]:
    """All that a request says under a name, in order."""
    return [value.decode("latin-1").strip() for key, value in headers if key.lower() == name]


def split(authority: str) -> tuple[str, str] | None:
    """Host (lower case, without a final dot) and port (``""`` for none)."""
    found = _AUTHORITY.fullmatch(authority)
    if found is None:
        return None
    return found[1].lower().removesuffix("."), found[2] or ""
