"""The door for other devices: its socket, its certificate, what is configured of it."""

from __future__ import annotations

import asyncio
import socket
from pathlib import Path
from typing import Any

import structlog

from weighd.clock import SystemClock
from weighd.config import Config
from weighd.domain.errors import ConfigError, WeighdError
from weighd.http.door import Elsewhere
from weighd.main.listening_at import listen
from weighd.main.supervisor import ELSEWHERE, Supervisor
from weighd.main.tls import Certificate

#: A token that is shorter can be guessed.
SHORTEST_TOKEN = 20
#: Connections at this door, of all devices together.
MOST = 500
#: So often it is looked whether certificate and key were renewed, in seconds.
LOOK_S = 60.0

log = structlog.get_logger("weighd")


class SecondDoor:
    """What is needed to listen for other devices. ``close`` lets go of it.

    ``supervisor``  keeps its socket while the station is started again.
    Raises :class:`ConfigError` for what cannot be used.
    """

    def __init__(self, config: Config, supervisor: Supervisor) -> None:
        it = config.elsewhere
        self.settings = settings_of(config)
        self.certificate = certificate_of(config)
        at = (it.host, it.port)
        self.sock: socket.socket = supervisor.handed(ELSEWHERE, *at) or listen(*at)
        supervisor.keep(ELSEWHERE, self.sock, *at)
        self.addresses = it.addresses(self.sock.getsockname()[1])
        self.plain = it.plain
        if self.certificate is not None:
            for doubt in self.certificate.doubts(SystemClock().utc()):
                log.warning("elsewhere", why=doubt)
        if it.plain:
            log.warning("elsewhere", why="other devices come in without TLS")

    def server_settings(self) -> dict[str, Any]:
        """What the web server is told. All that comes by a proxy comes from one address."""
        told: dict[str, Any] = {"counted": not self.settings.proxy}
        if self.certificate is not None:
            context = self.certificate.context
            told["ssl_context_factory"] = lambda *_: context
        return told

    async def keep_certificate(self) -> None:
        """Take a renewed certificate for whoever comes from then on; runs until it is cancelled."""
        while self.certificate is not None:
            await asyncio.sleep(LOOK_S)
            if await asyncio.to_thread(self.certificate.changed):
                try:
                    await asyncio.to_thread(self.certificate.renew)
                except WeighdError as error:
                    log.warning("the new certificate is not used", why=error.message)
                else:
                    log.info("a new certificate is used")

    def close(self) -> None:
        """Listen no more."""
        self.sock.close()


def theirs(room: int) -> int:
    """How many of the connections that there is room for may be at this door: the smaller part, so
    that whatever comes here leaves the station's own computer most of them."""
    return max(8, min(MOST, room // 3))


def second_door(config: Config, supervisor: Supervisor) -> SecondDoor | None:
    """The door that is configured; ``None`` for none. Raises :class:`ConfigError`; then, and where
    there is none, the service manager has no socket of it any more."""
    try:
        if config.elsewhere.open:
            return SecondDoor(config, supervisor)
    except WeighdError:
        supervisor.let_go(ELSEWHERE)
        raise
    supervisor.let_go(ELSEWHERE)
    return None


def certificate_of(config: Config) -> Certificate | None:
    """Its certificate; ``None`` for none. Raises :class:`ConfigError`."""
    it = config.elsewhere
    if it.certificate is None or it.key is None:
        return None
    return Certificate(config.place(it.certificate), config.place(it.key))


def settings_of(config: Config) -> Elsewhere:
    """What is known of it at the edge. Raises :class:`ConfigError` for a token that is none."""
    it = config.elsewhere
    token = "" if it.metrics_token_file is None else _token(config.place(it.metrics_token_file))
    return Elsewhere(it.names, it.proxy, token)


def _token(file: Path) -> str:
    try:
        text = file.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(
            "no-token",
            "The token for /metrics cannot be read.",
            where=str(file),
            remedy="Make one with: openssl rand -hex 32, and let weighd read it.",
        ) from error
    token = text.partition("\n")[0].strip()
    if len(token) < SHORTEST_TOKEN or not token.isascii() or not token.isprintable():
        raise ConfigError(
            "bad-token",
            f"The token for /metrics has less than {SHORTEST_TOKEN} plain characters.",
            where=str(file),
            remedy="Make one with: openssl rand -hex 32",
        )
    return token
