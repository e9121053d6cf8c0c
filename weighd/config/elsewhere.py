"""``[elsewhere]``: the door for devices other than the station's own computer."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Iterator
from typing import Annotated

from pydantic import BeforeValidator, Field, StringConstraints

from weighd.config.values import File, Section, as_tuple

HostName = Annotated[
    str, StringConstraints(pattern=r"^(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(:\d{1,5})?$")
]


class ElsewhereSection(Section):
    host: Annotated[str, StringConstraints(max_length=253)] = Field(
        default="",
        description="Address to listen on for other devices, like 0.0.0.0 for all of this "
        "computer's; each has to be paired. Without one, none can come in.",
    )
    port: int = Field(
        default=8452, ge=0, le=65535, description="Port for other devices; 0 takes a free one."
    )
    names: Annotated[tuple[HostName, ...], BeforeValidator(as_tuple)] = Field(
        default=(),
        description="Host names and addresses under which other devices open the page.",
    )
    certificate: File | None = Field(
        default=None,
        description="File with the certificate for TLS, and its chain behind it (PEM).",
    )
    key: File | None = Field(
        default=None,
        description="File with its private key (PEM, no password), readable by weighd alone.",
    )
    allow_plain: bool = Field(
        default=False,
        description="Whether other devices may come in without TLS: whoever is on that network can "
        "then read all of it, PINs too, and take over a device.",
    )
    proxy: Annotated[str, StringConstraints(max_length=60)] = Field(
        default="",
        description="Address of a reverse proxy before this door, like 127.0.0.1: only it is "
        "listened to, and it is believed who asks and whether that came by TLS.",
    )
    metrics_token_file: File | None = Field(
        default=None,
        description="File whose first line is the token (20 characters or more) with which a "
        "program may read /metrics here.",
    )

    @property
    def open(self) -> bool:
        """Whether there is such a door."""
        return bool(self.host)

    @property
    def plain(self) -> bool:
        """Whether devices come in without TLS, as far as is known here."""
        return self.certificate is None and not self.proxy

    def addresses(self, port: int) -> tuple[str, ...]:
        """What devices open, with the port that is listened on."""
        scheme = "http" if self.plain else "https"
        usual = {"http": 80, "https": 443}[scheme]
        own = "" if port == usual or self.proxy else f":{port}"
        return tuple(
            f"{scheme}://{name}{'' if re.search(r':[0-9]+$', name) else own}/"
            for name in self.names
        )


#: Keys that there were once, by their dotted names, and what stands for them now.
GONE = {
    "http.allow_remote": "the section elsewhere opens a door of its own for other devices, each of "
    "which is let in with a code: give it host, names, and a certificate",
    "http.allowed_hosts": "the names under which other devices open the page go into "
    "elsewhere.names",
}


def gone(key: str) -> str:
    """What to say of a dotted key that was one once; empty for any other."""
    instead = GONE.get(key)
    return f'"{key.rpartition(".")[2]}" is gone, take it out; {instead}' if instead else ""


def not_at_home(host: str) -> str:
    """Why the station's own door opens on no other address."""
    return (
        f'"{host}" is reachable from other computers, and whoever comes in here stands at the '
        "station; leave it at 127.0.0.1, and give other devices a door where each is paired, with "
        "the section elsewhere"
    )


def quarrels(it: ElsewhereSection) -> Iterator[tuple[str, str, str]]:
    """Keys that do not go together: the one to blame, why, and a code."""
    if not it.open:
        return
    if not it.names:
        why = (
            "is needed where other devices come in; name the hosts and addresses under which "
            'they open the page, like ["bench.example", "192.0.2.7"]'
        )
        yield "names", why, "bad-value"
    if (it.certificate is None) != (it.key is None):
        missing = "certificate" if it.certificate is None else "key"
        yield missing, "is missing: certificate and key belong together", "bad-value"
    if it.proxy:
        try:
            ipaddress.ip_address(it.proxy)
        except ValueError:
            yield "proxy", "must be an address in figures, like 127.0.0.1", "bad-value"
    if it.plain and not it.allow_plain:
        why = (
            "other devices would come in without TLS, and whoever is on that network could read "
            "their PINs; give certificate and key, or a proxy that has them, or set "
            "allow_plain = true where the network itself is trusted"
        )
        yield "host", why, "plain-refused"
