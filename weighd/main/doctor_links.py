"""What a station speaks with: its own port, a shared store, a broker. Each is only asked whether it
is there."""

from __future__ import annotations

import json
import socket
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass

from weighd import __version__
from weighd.config import Config
from weighd.domain.errors import WeighdError
from weighd.main.doctor_finding import Finding, Level, of_error
from weighd.main.floor import broker_of
from weighd.main.listening_at import listen
from weighd.main.sending import address_of

#: Whoever has not answered in so many seconds is not there.
WAIT_S = 3.0


@dataclass(frozen=True, slots=True)
class Running:
    """Whether a station of ours answers at the configured address; ``told`` is its health."""

    ours: bool
    findings: tuple[Finding, ...]


def running(config: Config) -> Running:
    """Look who is at the address that the station listens on."""
    host, port = config.http.host, config.http.port
    shown = f"{host}:{port}"
    if port == 0:
        return Running(ours=False, findings=(Finding("address", Level.NOTE, "Any free port."),))
    health = _health({"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host), port)  # noqa: S104
    if health is not None:
        return Running(ours=True, findings=tuple(_told(health, shown)))
    try:
        listen(host, port).close()
    except WeighdError as error:
        return Running(ours=False, findings=(of_error("address", error),))
    free = Finding("address", Level.OK, "No station runs here; the port is free.", where=shown)
    return Running(ours=False, findings=(free,))


def _health(host: str, port: int) -> dict[str, object] | None:
    at = f"[{host}]" if ":" in host else host
    try:
        with urllib.request.urlopen(f"http://{at}:{port}/api/health", timeout=WAIT_S) as answer:
            told = json.loads(answer.read(100_000))
    except (OSError, ValueError):
        return None
    return told if isinstance(told, dict) and {"status", "version"} <= told.keys() else None


def _told(health: dict[str, object], shown: str) -> Iterator[Finding]:
    version = str(health["version"])
    yield Finding("station", Level.OK, f"It runs: weighd {version}.", where=shown)
    if version != __version__:
        yield Finding(
            "station",
            Level.WARN,
            f"It is weighd {version}, and this is {__version__}.",
            "Start the station anew, so that what is installed runs.",
        )
    links = health.get("scales")
    for name, link in links.items() if isinstance(links, dict) else ():
        if link == "live":
            yield Finding(f"scale {name}", Level.OK, "The station hears it.")
        else:
            yield Finding(
                f"scale {name}",
                Level.BAD,
                f"The station does not hear it: {link}.",
                "Look under Scales on the page: it says why.",
            )
    store = health.get("store")
    if store not in ("ok", None):
        yield Finding("record", Level.BAD, str(store))


def shared_store(config: Config) -> Iterator[Finding]:
    """Whether the shared store is there and is one."""
    if not config.shared.store:
        return
    try:
        address = address_of(config)
        assert address is not None
        from weighd.storage.postgres import PostgresStore

        PostgresStore(address, make=False, deadline_s=WAIT_S).close()
    except WeighdError as error:
        # Weighing goes on without it; an empty one is filled by the station itself.
        level = Level.NOTE if error.code in ("store-empty", "store-older") else Level.WARN
        yield of_error("shared store", error, level)
    except ImportError:
        yield Finding(
            "shared store",
            Level.BAD,
            "What speaks with it is not installed.",
            "Install it: pip install 'weighd[floor]'.",
        )
    else:
        yield Finding("shared store", Level.OK, "It answers.", where=config.shared.store)


def broker(config: Config) -> Iterator[Finding]:
    """Whether something listens where the broker is."""
    if not config.floor.broker:
        return
    try:
        at = broker_of(config)
    except WeighdError as error:
        yield of_error("broker", error)
        return
    assert at is not None
    where = f"{at.host}:{at.port}"
    try:
        socket.create_connection((at.host, at.port), WAIT_S).close()
    except OSError as error:
        yield Finding(
            "broker",
            Level.WARN,
            f"It cannot be reached ({error.strerror or error}). Weighing goes on without it.",
            "See that it runs, and that its name and port are right.",
            where,
        )
    else:
        yield Finding("broker", Level.OK, "Something answers there.", where=where)
