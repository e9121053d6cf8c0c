"""One connection to a broker: how it is made, and how its end is told in words."""

from __future__ import annotations

import asyncio
import logging
import random
import ssl
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd.station.floor_broker import Broker

if TYPE_CHECKING:
    from aiomqtt import Client, Will

#: Seconds between signs of life; a broker misses us after half as much again.
KEEPALIVE_S = 10
#: Seconds for a broker to take a connection, and to answer what is sent.
CONNECT_S, ANSWER_S = 4.0, 8.0
#: First wait before knocking again, and the longest.
FIRST_S, MOST_S = 0.5, 30.0
#: Seconds until what was told to end and did not is told again.
AGAIN_S = 0.1
#: Bytes of one message that a broker may send us at all.
LARGEST_PACKET = 1024 * 1024
#: Reason codes of MQTT 5 (2.4) that somebody can do something about.
_REFUSED = {
    132: "the broker does not speak MQTT 5",
    134: "the broker does not take that user and password",
    135: "the broker does not let this user in",
    133: "the broker does not take this name for a client",
    138: "the broker has banned this client",
    136: "the broker says that it is not available",
    137: "the broker is busy",
    151: "the broker says that its quota is used up",
    159: "the broker says that there are too many connections",
    142: "another client of this name has connected",
    149: "the broker takes no message of that size",
}

_CUT = "the connection was cut"

#: What ends a connection is told once, in our words.
_wire = logging.getLogger("weighd.mqtt.wire")
_wire.setLevel(logging.CRITICAL)


class LinkError(Exception):
    """The connection could not be made, or has ended; in words, without any secret."""


@asynccontextmanager
async def connect(
    broker: Broker, identifier: str, will: Will | None = None, *, patience_s: float = ANSWER_S
) -> AsyncIterator[Client]:
    """A connection, for as long as it is needed. Raises :class:`LinkError` whatever ends it."""
    import aiomqtt
    from paho.mqtt.packettypes import PacketTypes
    from paho.mqtt.properties import Properties

    limits = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    limits.MaximumPacketSize = LARGEST_PACKET
    ends: list[asyncio.Future[None]] = []
    try:
        client = aiomqtt.Client(
            broker.host,
            broker.port,
            username=broker.user or None,
            password=_password(broker),
            identifier=identifier,
            protocol=aiomqtt.ProtocolVersion.V5,
            will=will,
            keepalive=KEEPALIVE_S,
            timeout=patience_s,
            clean_start=True,
            properties=limits,
            tls_context=_trust(broker) if broker.tls else None,
            max_queued_incoming_messages=5000,
            logger=_wire,
        )
        client._client.connect_timeout = CONNECT_S
        _write_only_to_what_is_open(client)
        ends.append(client._disconnected)
        async with client:
            _end_if_cancelled()
            ends.append(client._disconnected)
            _end_if_cut(broker, *ends)
            yield client
    except aiomqtt.MqttError as error:
        _end_if_cancelled(error)
        raise _told(broker, error) from error
    except ssl.SSLError as error:
        _end_if_cancelled(error)
        reason = getattr(error, "verify_message", "") or error.reason or "no TLS"
        raise LinkError(f"{broker}: TLS failed ({reason})") from error
    except (OSError, ValueError) as error:
        _end_if_cancelled(error)
        raise LinkError(f"{broker}: {error}") from error
    finally:
        for end in ends:
            _looked_at(end)


def _looked_at(end: asyncio.Future[None]) -> None:
    """What ended a connection is told above; what nobody looks at is complained of in the log."""
    if not end.done():  # told to end just as the broker took it in: whatever comes now comes late
        end.set_result(None)
    elif not end.cancelled():
        end.exception()


def _end_if_cancelled(error: Exception | None = None) -> None:
    """Whoever is told to end must not go on, nor knock again.

    A cancellation is lost when it comes together with what was waited for (``asyncio.wait_for`` of
    Python 3.11, which aiomqtt uses), or when the goodbye after it goes wrong: that error stands in
    its place, and would be taken for a link that was cut.
    """
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError from error


def _end_if_cut(broker: Broker, before: object, now: object) -> None:
    """aiomqtt (2.5) forgets what was cut in the turn of the loop in which it was made."""
    if now is not before:
        raise LinkError(f"{broker}: {_CUT}")


def _write_only_to_what_is_open(client: Client) -> None:
    """Look at a socket once more before it is waited for.

    aiomqtt (2.5) asks the loop a turn later to wait until it can be written to; one that was cut in
    between is an error then, or by its number another socket, on which the loop would spin.
    """
    raw, loop = client._client, asyncio.get_running_loop()

    def write() -> None:
        try:
            raw.loop_write()
        except Exception as error:  # noqa: BLE001 - as aiomqtt does: whatever it is, it is over
            if not client._disconnected.done():
                client._disconnected.set_exception(error)

    def wait(sock: Any) -> None:
        number: int = sock.fileno()
        if number >= 0 and raw.socket() is sock:
            loop.add_writer(number, write)

    def asked(_: object, __: object, sock: Any) -> None:
        loop.call_soon_threadsafe(wait, sock)

    raw.on_socket_register_write = asked


def _password(broker: Broker) -> str | None:
    if not broker.password:
        return None
    try:
        return Path(broker.password).read_text("utf-8").split("\n")[0].rstrip("\r")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not text in UTF-8"
        raise LinkError(f"The password file {broker.password} cannot be read: {reason}") from None


def _trust(broker: Broker) -> ssl.SSLContext:
    try:
        return ssl.create_default_context(cafile=broker.ca or None)
    except OSError as error:
        raise LinkError(
            f"The certificates in {broker.ca} cannot be read: {error.strerror or 'no certificates'}"
        ) from None


def _told(broker: Broker, error: Exception) -> LinkError:
    """What ended it. A reason of the broker's stands in the error or in its cause."""
    for one in (error, error.__cause__):
        reason = getattr(one, "rc", None)
        code = getattr(reason, "value", reason)
        if code in _REFUSED:
            return LinkError(f"{broker}: {_REFUSED[code]}")
    text = str(error).partition("] ")[2] or str(error)
    if text.startswith(("Disconnected", "Unexpected", "The client is not", "Unspecified")):
        text = _CUT
    elif text == "Operation timed out":
        text = "no answer in time"
    elif "_ssl.c" in text:
        text = f"TLS failed ({text.partition(' (_ssl.c')[0]})"
    return LinkError(f"{broker}: {text}")


class Patience:
    """How long to wait before the next try: longer each time, and never in step with others."""

    def __init__(
        self,
        first_s: float = FIRST_S,
        most_s: float = MOST_S,
        chance: Callable[[], float] = random.random,
    ) -> None:
        self._first, self._most, self._chance = first_s, most_s, chance
        self._next = first_s

    def met(self) -> None:
        """A connection was made and held."""
        self._next = self._first

    def wait_s(self) -> float:
        """The next wait, in seconds: between half and one and a half times what it is about."""
        wait = self._next * (0.5 + self._chance())
        self._next = min(self._next * 2, self._most)
        return wait


async def either(*running: asyncio.Task[None]) -> None:
    """Until one of the tasks ends; all are ended then. Raises what it raised."""
    try:
        done, _ = await asyncio.wait(running, return_when=asyncio.FIRST_COMPLETED)
    finally:
        left = set(running)
        while left:  # told again, since a cancellation can be lost: see _end_if_cancelled
            for task in left:
                task.cancel()
            _, left = await asyncio.wait(left, timeout=AGAIN_S)
        await asyncio.gather(*running, return_exceptions=True)
    for task in done:
        task.result()
