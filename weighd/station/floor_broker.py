"""The address of a broker, as people write it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import urlsplit

from weighd.station.floor_topics import TOP

PLAIN_PORT, TLS_PORT = 1883, 8883
_EXAMPLE = 'write it like "mqtt://broker.example:1883", or "mqtts://" for TLS'


@dataclass(frozen=True, slots=True)
class Broker:
    """Where a broker is, and how one is let in.

    ``top``       what stands at the top of every topic.
    ``password``  the file whose first line it is: read at each connection, and kept nowhere.
    ``ca``        a file with the certificates to trust, instead of the system's.
    """

    host: str
    port: int
    tls: bool = False
    top: str = TOP
    user: str = ""
    password: str = ""
    ca: str = ""

    def __str__(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'mqtts' if self.tls else 'mqtt'}://{host}:{self.port}"


def read_address(text: str) -> tuple[str, int, bool]:
    """Host, port, and whether TLS is spoken.

    Raises ``ValueError`` saying what is wrong; it never repeats the text: that may hold a password.
    """
    if not text.isprintable() or len(text) > 300 or " " in text:
        raise ValueError(f"is no address of a broker; {_EXAMPLE}")
    try:
        parts = urlsplit(text)
        port = parts.port
    except ValueError:
        raise ValueError(f"has a port or a host that cannot be; {_EXAMPLE}") from None
    if parts.scheme not in ("mqtt", "mqtts"):
        raise ValueError(f"must begin with mqtt:// or mqtts://; {_EXAMPLE}")
    if "@" in parts.netloc:
        raise ValueError(
            "must not hold a user or a password, which others could read in a list of processes; "
            "name them in [floor], as user and password_file"
        )
    if parts.path not in ("", "/") or parts.query or parts.fragment:
        raise ValueError(
            f"names no topic: only host and port; the top of the topics is floor.topic; {_EXAMPLE}"
        )
    host = parts.hostname or ""
    if not re.fullmatch(r"[A-Za-z0-9._-]{1,253}|[0-9A-Fa-f:.]{2,45}", host, re.ASCII):
        raise ValueError(f"names no host; {_EXAMPLE}")
    if port == 0:
        raise ValueError(f"needs a port above zero; {_EXAMPLE}")
    tls = parts.scheme == "mqtts"
    return host, port or (TLS_PORT if tls else PLAIN_PORT), tls
