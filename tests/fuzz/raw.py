"""Raw connections: HTTP and websocket frames written by hand, right and wrong; answers read."""

from __future__ import annotations

import base64
import contextlib
import os
import random
import socket
import struct
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

#: What a peer is waited for at most, seconds.
PATIENCE_S = 5.0


def opened(port: int, seconds: float = PATIENCE_S) -> socket.socket:
    """A connection to the station."""
    line = socket.create_connection(("127.0.0.1", port), timeout=seconds)
    line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return line


def sent(line: socket.socket, *pieces: bytes) -> bool:
    """Send; whether the other side still took it."""
    try:
        for one in pieces:
            line.sendall(one)
    except OSError:
        return False
    return True


def answered(line: socket.socket, seconds: float = PATIENCE_S, most: int = 1 << 20) -> bytes:
    """All that comes until the other side closes, or for so long."""
    out, end = bytearray(), time.monotonic() + seconds
    with contextlib.suppress(OSError):
        while len(out) < most and (left := end - time.monotonic()) > 0:
            line.settimeout(left)
            piece = line.recv(65536)
            if not piece:
                break
            out += piece
    return bytes(out)


def cut(line: socket.socket) -> None:
    """End a connection without a goodbye (RST)."""
    with contextlib.suppress(OSError):
        line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    line.close()


# --- websockets (RFC 6455) ------------------------------------------------------------------------


def handshake(port: int, path: str = "/api/live", *more: str, **instead: str) -> bytes:
    """An opening handshake. ``instead`` overrides headers by name (``_`` for ``-``)."""
    headers = {
        "Host": f"127.0.0.1:{port}",
        "Upgrade": "websocket",
        "Connection": "Upgrade",
        "Sec-WebSocket-Key": base64.b64encode(os.urandom(16)).decode(),
        "Sec-WebSocket-Version": "13",
    }
    headers |= {name.replace("_", "-"): value for name, value in instead.items()}
    lines = [f"GET {path} HTTP/1.1", *(f"{k}: {v}" for k, v in headers.items() if v), *more]
    return ("\r\n".join(lines) + "\r\n\r\n").encode("utf-8", "surrogateescape")


def frame(
    payload: bytes = b"",
    opcode: int = 1,
    *,
    fin: bool = True,
    rsv: int = 0,
    masked: bool = True,
    length: int | None = None,
    wide: int = 0,
) -> bytes:
    """A frame. ``length`` is what it claims to be long, ``wide`` in how many bytes (2, 8)."""
    size = len(payload) if length is None else length
    head = bytes([(0x80 if fin else 0) | rsv << 4 | opcode])
    mask = 0x80 if masked else 0
    if size < 126 and not wide:
        head += bytes([mask | size])
    elif (size < 1 << 16 and wide != 8) or wide == 2:
        head += bytes([mask | 126]) + struct.pack("!H", size & 0xFFFF)
    else:
        head += bytes([mask | 127]) + struct.pack("!Q", size)
    if not masked:
        return head + payload
    key = os.urandom(4)
    return head + key + bytes(one ^ key[n % 4] for n, one in enumerate(payload))


def listening(port: int, path: str = "/api/live") -> socket.socket:
    """A websocket that was let in; raises ``ConnectionError`` where it was not."""
    line = opened(port)
    if not sent(line, handshake(port, path)):
        raise ConnectionError("refused")
    head = bytearray()
    while not head.endswith(b"\r\n\r\n"):  # not a byte more: frames may come at once
        try:
            piece = line.recv(1)
        except OSError as error:
            raise ConnectionError(str(error)) from error
        if not piece:
            raise ConnectionError("refused")
        head += piece
    if not head.startswith(b"HTTP/1.1 101"):
        line.close()
        raise ConnectionError(head[:40].decode("latin-1"))
    return line


# --- an honest page, which must not notice any of it ----------------------------------------------


@dataclass
class Page:
    """Somebody who just watches; ``gap_s`` is the longest time in which no frame came."""

    port: int
    gap_s: float = 0.0
    frames: int = 0
    lost: int = 0
    _over: threading.Event = field(default_factory=threading.Event)

    def __enter__(self) -> Page:
        self._thread = threading.Thread(target=self._watch, daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join(10)

    def _watch(self) -> None:
        while not self._over.is_set():
            try:
                with connect(f"ws://127.0.0.1:{self.port}/api/live", open_timeout=10) as line:
                    last = time.monotonic()
                    while not self._over.is_set():
                        with contextlib.suppress(TimeoutError):
                            line.recv(timeout=0.5)
                            self.frames += 1
                            self.gap_s = max(self.gap_s, time.monotonic() - last)
                            last = time.monotonic()
                        self.gap_s = max(self.gap_s, time.monotonic() - last)
            except (ConnectionClosed, OSError, TimeoutError):
                if not self._over.is_set():
                    self.lost += 1
                    time.sleep(0.05)


Attack = Callable[[int, random.Random], None]


def attacked(
    port: int, attacks: Iterable[Attack], seconds: float, seed: int, at_once: int = 3
) -> dict[str, int]:
    """Each attack once, and then such as are drawn, for so long; how often each was made.

    What an attack raises but ``OSError`` is an error of the attack, and is raised here.
    """
    told: dict[str, int] = {}
    every, end, failed = list(attacks), time.monotonic() + seconds, []
    first, turn = random.Random(seed).sample(every, len(every)), threading.Lock()

    def work(dice: random.Random) -> None:
        while (first or time.monotonic() < end) and not failed:
            with turn:
                one = first.pop() if first else dice.choice(every)
                told[one.__name__] = told.get(one.__name__, 0) + 1
            try:
                one(port, dice)
            except OSError:
                pass
            except BaseException as error:  # noqa: BLE001 - told to whoever waits
                failed.append(error)

    workers = [
        threading.Thread(target=work, args=(random.Random(seed * 100 + n),), daemon=True)
        for n in range(at_once)
    ]
    for one in workers:
        one.start()
    for one in workers:
        one.join(seconds + 120)
    if failed:
        raise failed[0]
    return told
