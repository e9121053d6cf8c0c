"""Who may talk to the station from a browser: host names and origins.

1. A station listens on the loopback address, but a browser on this computer reaches that for any
   page it shows. So a request must name a host that we are known by (a page that rebinds its own
   name to 127.0.0.1 does not), and a page must come from the very host it talks to.
2. ``Origin`` is what browsers say of the page (RFC 6454); programs other than browsers do not
   send it, and are let in.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

_AUTHORITY = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(?::([0-9]{1,5}))?")
_LOOPBACK = frozenset({"localhost", "127.0.0.1", "[::1]"})
_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
_PORTS = {"http": "80", "https": "443"}

Headers = Sequence[tuple[bytes, bytes]]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a request is not let in."""

    code: str
    message: str
    remedy: str


_HOST = Refusal(
    "unknown-host",
    "The station is not known by the name it was asked under.",
    "Use localhost, or add the name to allowed_hosts under [http].",
)
_ORIGIN = Refusal(
    "foreign-origin",
    "A page from elsewhere may not talk to the station.",
    "Open the station's own page.",
)


class Access:
    """The rules, for localhost and the ``allowed`` host names (each with or without a port)."""

    def __init__(self, allowed: Iterable[str] = ()) -> None:
        self._names = set(_LOOPBACK)
        self._allowed: set[str] = set()
        for one in allowed:
            host, port = _split(one) or ("", "")
            if not host:
                raise ValueError(f"{one!r} is not a host name")
            named = f"{host}:{port}" if port else host
            self._names.add(named)
            self._allowed.add(named)

    def refusal(self, method: str | None, headers: Headers) -> Refusal | None:
        """Why a request is not let in, or ``None``. ``method`` is ``None`` for a websocket."""
        hosts, origins = _values(headers, b"host"), _values(headers, b"origin")
        at = _split(hosts[0]) if len(hosts) == 1 else None
        if at is None or not self._known(self._names, at):
            return _HOST
        if len(origins) > 1 or (origins and not self._own(origins[0], at)):
            return _ORIGIN
        if method is not None and method not in _SAFE:
            site = _values(headers, b"sec-fetch-site")
            if any(one not in ("same-origin", "none") for one in site):
                return _ORIGIN
        return None

    def _own(self, origin: str, at: tuple[str, str]) -> bool:
        """A page of the host it talks to, or of a host that was named as ours."""
        try:
            parts = urlsplit(origin)
        except ValueError:
            return False
        page = _split(parts.netloc.lower())
        usual = _PORTS.get(parts.scheme)
        if page is None or usual is None or parts.path or parts.query or parts.fragment:
            return False
        if page[0] == at[0] and (page[1] or usual) == (at[1] or usual):
            return True
        return self._known(self._allowed, page)

    @staticmethod
    def _known(names: set[str], at: tuple[str, str]) -> bool:
        host, port = at
        return host in names or f"{host}:{port}" in names


def _values(headers: Headers, name: bytes) -> list[str]:
    return [value.decode("latin-1").strip() for key, value in headers if key.lower() == name]


def _split(authority: str) -> tuple[str, str] | None:
    """Host (lower case, without a final dot) and port (``""`` for none)."""
    found = _AUTHORITY.fullmatch(authority)
    if found is None:
        return None
    return found[1].lower().removesuffix("."), found[2] or ""
