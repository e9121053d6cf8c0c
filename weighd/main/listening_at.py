"""Where a station listens."""

from __future__ import annotations

import socket

from weighd.domain.errors import ConfigError


def listen(host: str, port: int) -> socket.socket:
    """A bound socket. Raises :class:`ConfigError`, ``address-in-use`` when the port is taken."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # By its protocol asyncio knows it for one that is to send at once (TCP_NODELAY): else the
    # second piece of each answer would wait for word of the first, 40 ms.
    sock = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        sock.bind((host, port))
        sock.listen(128)
    except OSError as error:
        sock.close()
        if error.errno in (98, 48, 10048):
            raise ConfigError(
                "address-in-use",
                f"Port {port} on {host} is taken; another weighd may be running.",
                remedy="Stop it, or choose another with --port.",
            ) from error
        raise ConfigError(
            "bad-address", f"Cannot listen on {host}, port {port}: {error.strerror or error}."
        ) from error
    return sock
