"""Clients of the live link by the hundred, in few processes: what `load.py` has listen.

A websocket client in so many words, since one of a library's for each would take more of the
processors than what is measured. One in each process (the probe) keeps whole frames; the others
keep when which number came, which says the same: all who stand at a number were shown the same.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import selectors
import socket
import struct
import time
from dataclasses import dataclass, field
from multiprocessing.connection import Connection

#: A page and a program read at once, the page says ``seen``; a slow page says so later; a deaf one
#: reads nothing after the handshake.
KINDS = ("page", "program", "slow", "deaf")
SLOW_S = 0.5
SEEN = b'{"kind":"seen"}'
TEXT, PING, PONG = 0x1, 0x9, 0xA


@dataclass
class Told:
    """What one client was told: when which number; and whether it was cut."""

    kind: str
    times: list[float] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    size: int = 0
    cut: bool = False


def frame(opcode: int, payload: bytes) -> bytes:
    """A frame as clients send it: masked, here by nought (RFC 6455, 5.2 and 5.3, from memory)."""
    return struct.pack("!BB4x", 0x80 | opcode, 0x80 | len(payload)) + payload


class Client:
    """One end of a websocket."""

    def __init__(self, host: str, port: int, path: str, kind: str, *, whole: bool) -> None:
        self.told = Told(kind)
        self.frames: list[tuple[float, bytes]] | None = [] if whole else None
        self._seen_at = float("inf")
        self._buffer = bytearray()
        query = "?seen=1" if kind in ("page", "slow") else ""
        self.socket = socket.create_connection((host, port), timeout=60)
        key = base64.b64encode(os.urandom(16)).decode()
        self.socket.sendall(
            f"GET {path}{query} HTTP/1.1\r\nHost: {host}:{port}\r\nUpgrade: websocket\r\n"
            f"Connection: Upgrade\r\nSec-WebSocket-Key: {key}\r\n"
            "Sec-WebSocket-Version: 13\r\n\r\n".encode()
        )
        while b"\r\n\r\n" not in self._buffer:
            more = self.socket.recv(1024)
            if not more:
                raise ConnectionError("no websocket was opened")
            self._buffer += more
        head, _, rest = bytes(self._buffer).partition(b"\r\n\r\n")
        if b" 101 " not in head.split(b"\r\n", 1)[0]:
            raise ConnectionError(head.decode("ascii", "replace"))
        self._buffer = bytearray(rest)
        self.socket.settimeout(0)

    def read(self) -> bool:
        """Take what came; whether it may go on."""
        try:
            more = self.socket.recv(1 << 20)
        except BlockingIOError:
            return True
        except OSError:
            more = b""
        now = time.monotonic()
        if not more:
            self.told.cut = True
            return False
        self._buffer += more
        at = 0
        while (took := self._one(at, now)) > 0:
            at += took
        del self._buffer[:at]
        return True

    def _one(self, at: int, now: float) -> int:
        """Bytes that the frame at ``at`` took; 0 while it is not whole."""
        buffer = self._buffer
        if len(buffer) - at < 2:
            return 0
        length, head = buffer[at + 1] & 0x7F, 2
        if length >= 126:
            head = 4 if length == 126 else 10
            if len(buffer) - at < head:
                return 0
            length = int.from_bytes(buffer[at + 2 : at + head], "big")
        if len(buffer) - at < head + length:
            return 0
        opcode, first = buffer[at] & 0x0F, at + head
        if opcode == PING:
            self._send(frame(PONG, bytes(buffer[first : first + length])))
        elif opcode == TEXT:
            told = self.told
            told.times.append(now)
            told.numbers.append(number_of(bytes(buffer[first : first + 64])))
            told.size += length
            if self.frames is not None:
                self.frames.append((now, bytes(buffer[first : first + length])))
            if told.kind == "page":
                self._send(frame(TEXT, SEEN))
            elif told.kind == "slow":
                self._seen_at = now + SLOW_S
        return head + length

    def later(self, now: float) -> None:
        """What a slow one does when its time has come."""
        if now >= self._seen_at:
            self._seen_at = float("inf")
            self._send(frame(TEXT, SEEN))

    def gone(self) -> None:
        """For one that never read: see whether it was cut meanwhile."""
        self.socket.settimeout(2)
        try:
            while self.socket.recv(1 << 20):
                pass
        except TimeoutError:
            return
        except OSError:
            pass
        self.told.cut = True

    def _send(self, data: bytes) -> None:
        with contextlib.suppress(OSError):
            self.socket.send(data)


def number_of(start: bytes) -> int:
    """The number of a frame: of ours, or of the floor's, which begins with it; 0 for none."""
    digits = start.partition(b'"seq":')[2] if start.startswith(b"{") else start
    n = 0
    while n < len(digits) and 48 <= digits[n] <= 57:
        n += 1
    return int(digits[:n] or b"0")


Shown = dict[str, list[tuple[int, int, str]]]


def shown_by(frames: list[tuple[float, bytes]]) -> Shown:
    """Of each scale, in which frame (its number) how many of its readings had been shown, and the
    weight of the newest."""
    out, counted = Shown(), dict[str, int]()
    for _, payload in frames:
        number = number_of(payload[:64])
        if not payload.startswith(b"{"):
            for line in payload.decode().splitlines()[1:]:
                name, _, weight = line.partition(",")
                name = name[:3]
                counted[name] = counted.get(name, 0) + 1
                out.setdefault(name, []).append((number, counted[name], weight.strip("+ g")))
            continue
        told = json.loads(payload)
        scales = told.get("scales") or told.get("state", {}).get("scales", {})
        for name, scale in scales.items():
            if scale["reading"]:
                row = (number, scale["readings"], scale["reading"]["grams"])
                out.setdefault(name, []).append(row)
    return out


def listen(host: str, port: int, path: str, kinds: list[str], back: Connection) -> None:
    """A process of clients: connect, say so, listen until told to stop, and tell."""
    probe = kinds.index("program") if "program" in kinds else None
    clients = [Client(host, port, path, kind, whole=n == probe) for n, kind in enumerate(kinds)]
    waiting = selectors.DefaultSelector()
    for one in clients:
        if one.told.kind != "deaf":
            waiting.register(one.socket, selectors.EVENT_READ, one)
    slow = [one for one in clients if one.told.kind == "slow"]
    waiting.register(back, selectors.EVENT_READ, None)
    back.send("ready")
    going = True
    while going:
        for key, _ in waiting.select(0.02 if slow else 1.0):
            if key.data is None:
                going = False
            elif not key.data.read():
                waiting.unregister(key.data.socket)
        now = time.monotonic()
        for one in slow:
            one.later(now)
    back.recv()
    for one in clients:
        if one.told.kind == "deaf":
            one.gone()
    frames = next((one.frames for one in clients if one.frames is not None), [])
    back.send(([one.told for one in clients], shown_by(frames)))
