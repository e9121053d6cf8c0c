"""A websocket fuzzer: pages that send anything but what they should, beside one that just watches.

    python -m tests.fuzz.fuzz_socket --seconds 300 [--seed 7]

Checked: the page beside gets its frames in time, every broken frame ends its own connection and no
other, with the close code of RFC 6455 where there is one, nothing is in the log, and the station is
as large afterwards as before, without a connection left.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import socket
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from wsproto.connection import Connection, ConnectionType
from wsproto.events import BytesMessage, CloseConnection, Ping, Pong, TextMessage

from tests.fuzz.raw import (
    Attack,
    Page,
    answered,
    attacked,
    cut,
    frame,
    handshake,
    listening,
    opened,
    sent,
)
from tests.fuzz.world import World

#: A page gets a beat in every second; on a busy machine it takes as much longer.
LONGEST_GAP_S = 3.0
TEXT, BINARY, CLOSE, PING, PONG = 1, 2, 8, 9, 10
RESUME = {"kind": "resume", "seq": 3, "boot": "x"}


def closed_with(line: socket.socket, seconds: float = 5.0) -> int | None:
    """The close code that the station says, read by the reference library; ``None`` for none."""
    reader = Connection(ConnectionType.CLIENT)
    end = time.monotonic() + seconds
    with contextlib.suppress(OSError):
        while (left := end - time.monotonic()) > 0:
            line.settimeout(left)
            piece = line.recv(65536)
            reader.receive_data(piece or None)
            for event in reader.events():
                assert isinstance(
                    event, CloseConnection | TextMessage | Ping | Pong | BytesMessage
                ), event
                if isinstance(event, CloseConnection):
                    return int(event.code)
            if not piece:
                return None
    return None


def ends(port: int, *frames: bytes, code: int | None = None, path: str = "/api/live") -> None:
    """Frames after which the station has to end the connection, with this code where it can."""
    line = listening(port, path)
    try:
        sent(line, *frames)
        found = closed_with(line)
        assert found in (code, None, 1006) if code else True, (found, code, frames[0][:20])
    finally:
        cut(line)


def garbage(port: int, dice: random.Random) -> None:
    line = listening(port)
    sent(line, dice.randbytes(dice.choice((1, 3, 40, 4000))))
    answered(line, 0.2)
    cut(line)


def half_a_handshake(port: int, dice: random.Random) -> None:
    line = opened(port)
    text = handshake(port)
    sent(line, text[: dice.randrange(1, len(text))])
    time.sleep(dice.choice((0, 0.1, 0.5)))
    cut(line)


def odd_handshake(port: int, dice: random.Random) -> None:
    odd = dice.choice(
        (
            {"Sec_WebSocket_Version": "12"},
            {"Sec_WebSocket_Version": ""},
            {"Sec_WebSocket_Key": ""},
            {"Sec_WebSocket_Key": "not base64!"},
            {"Sec_WebSocket_Key": "YQ=="},
            {"Upgrade": "h2c"},
            {"Upgrade": "websocket, h2c"},
            {"Connection": "close"},
            {"Connection": "keep-alive, Upgrade"},
            {"Sec_WebSocket_Protocol": "chat, superchat"},
            {"Sec_WebSocket_Protocol": ",,\x80;;"},
            {"Sec_WebSocket_Extensions": "permessage-deflate; server_max_window_bits=99"},
            {"Sec_WebSocket_Extensions": "x" * 3000},
            {"Host": "elsewhere.invalid"},
            {"Origin": "http://elsewhere.invalid"},
            {"Cookie": "weighd-test=" + "a" * 3000},
        )
    )
    path = dice.choice(
        ("/api/live", "/api/live?seen", "/api/live?" + "seen&" * 500, "/api/live?seen=%00%ff")
    )
    line = opened(port)
    sent(line, handshake(port, path, **odd))
    head = answered(line, 0.3)
    assert not head.startswith(b"HTTP/1.1 5"), head[:200]
    cut(line)


def no_resume(port: int, dice: random.Random) -> None:
    told = dice.choice(
        (
            "",
            "null",
            "[]",
            "{}",
            "1" * 500,
            "[" * 500,
            '{"kind":"resume"}',
            '{"kind":"resume","seq":-1}',
            '{"kind":"resume","seq":1e999}',
            '{"kind":"resume","seq":true,"boot":1}',
            '{"kind":"resume","seq":NaN}',
            json.dumps({**RESUME, "seq": "3"}),
            '{"kind":"seen"}x',
        )
    )
    ends(port, frame(told.encode()), code=1008, path=dice.choice(("/api/live", "/api/live?seen")))


def resumes(port: int, dice: random.Random) -> None:
    line = listening(port)
    for seq in (0, 1, 10**15, 2**70):
        sent(line, frame(json.dumps({**RESUME, "seq": seq, "boot": "\u202e" * 40}).encode()))
    answered(line, 0.2)
    cut(line)


def too_many_words(port: int, dice: random.Random) -> None:
    ends(port, frame(json.dumps(RESUME).encode()) * 200, code=1008)


def too_many_seen(port: int, dice: random.Random) -> None:
    ends(port, frame(b'{"kind":"seen"}') * 2000, code=1008, path="/api/live?seen")


def long_word(port: int, dice: random.Random) -> None:
    ends(port, frame(b" " * 600), code=1009)


def binary(port: int, dice: random.Random) -> None:
    ends(port, frame(dice.randbytes(dice.choice((0, 1, 300))), BINARY), code=1003)


def no_utf8(port: int, dice: random.Random) -> None:
    bad = dice.choice((b"\xff", b"\xc3\x28", b"\xed\xa0\x80", b"\xf4\x90\x80\x80", b"abc\xe2\x82"))
    ends(port, frame(bad), code=1007)


def unmasked(port: int, dice: random.Random) -> None:
    ends(port, frame(b"{}", masked=False), code=1002)


def reserved(port: int, dice: random.Random) -> None:
    if dice.random() < 0.5:
        ends(port, frame(b"{}", dice.choice((3, 4, 7, 11, 15))), code=1002)
    else:
        ends(port, frame(b"{}", rsv=dice.randrange(1, 8)), code=1002)


def huge_claim(port: int, dice: random.Random) -> None:
    size = dice.choice((65537, 1 << 20, (1 << 31) + 1, (1 << 63) - 1))
    ends(port, frame(b"{" * 100, length=size, wide=8), code=1009)


def most_claim(port: int, dice: random.Random) -> None:
    ends(port, frame(b"{}", length=(1 << 64) - 1, wide=8))


def longer_than_needed(port: int, dice: random.Random) -> None:
    line = listening(port)
    sent(line, frame(json.dumps(RESUME).encode(), wide=dice.choice((2, 8))))
    answered(line, 0.1)
    cut(line)


def really_huge(port: int, dice: random.Random) -> None:
    line = listening(port)
    sent(line, frame(b" " * 200_000))
    answered(line, 0.3)
    cut(line)


def in_pieces(port: int, dice: random.Random) -> None:
    """A message in as many pieces as it has bytes, with pings between them."""
    line = listening(port)
    text = json.dumps(RESUME).encode()
    for n, one in enumerate(text):
        last = n == len(text) - 1
        sent(line, frame(bytes([one]), TEXT if n == 0 else 0, fin=last))
        if dice.random() < 0.2:
            sent(line, frame(b"x", PING))
    answered(line, 0.2)
    cut(line)


def never_ending(port: int, dice: random.Random) -> None:
    """A message in ever more pieces, which are empty."""
    ends(port, frame(b"", TEXT, fin=False), frame(b"", 0, fin=False) * 5000, code=1009)


def pieces_of_nothing(port: int, dice: random.Random) -> None:
    ends(port, frame(b"{}", 0), code=1002)


def message_in_message(port: int, dice: random.Random) -> None:
    ends(port, frame(b"{", fin=False), frame(b"{}"), code=1002)


def broken_control(port: int, dice: random.Random) -> None:
    opcode = dice.choice((CLOSE, PING, PONG))
    if dice.random() < 0.5:
        ends(port, frame(b"x" * 126, opcode), code=1002)
    else:
        ends(port, frame(b"", opcode, fin=False), code=1002)


def odd_close(port: int, dice: random.Random) -> None:
    bodies = (b"", b"\x03", b"\x03\xe8", b"\x03\xed", b"\x00\x00", b"\x13\x88", b"\xff\xff")
    body = dice.choice((*bodies, b"\x03\xe8" + b"x" * 123, b"\x03\xe8\xff\xff"))
    ends(port, frame(body, CLOSE), frame(b"{}"), frame(b"", PING))


def ping_flood(port: int, dice: random.Random) -> None:
    """Pings without end, and nothing is read: answers must not pile up in the station."""
    line = listening(port)
    line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    line.settimeout(1.0)
    burst = frame(b"x" * 125, PING) * 400
    end = time.monotonic() + 2
    while time.monotonic() < end and sent(line, burst):
        pass
    cut(line)


def pong_flood(port: int, dice: random.Random) -> None:
    line = listening(port)
    line.settimeout(1.0)
    for _ in range(20):
        if not sent(line, frame(dice.randbytes(20), PONG) * 200):
            break
    cut(line)


def slow_reader(port: int, dice: random.Random) -> None:
    line = listening(port)
    line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
    end = time.monotonic() + dice.choice((0.5, 3))
    while time.monotonic() < end:
        with contextlib.suppress(OSError):
            line.recv(7)
        time.sleep(0.05)
    cut(line)


def deaf(port: int, dice: random.Random) -> None:
    lines = [listening(port) for _ in range(10)]
    time.sleep(0.5)
    for one in lines:
        cut(one)


def crowd(port: int, dice: random.Random) -> None:
    """Many come at once and go at once: one too many is told to come later (1013)."""
    lines = []
    with contextlib.suppress(OSError):
        for _ in range(dice.choice((40, 150))):
            line = opened(port, 2)
            sent(line, handshake(port, dice.choice(("/api/live", "/api/live?seen"))))
            lines.append(line)
    time.sleep(0.1)
    for one in lines:
        cut(one)


def half_closed(port: int, dice: random.Random) -> None:
    line = listening(port)
    with contextlib.suppress(OSError):
        line.shutdown(socket.SHUT_WR)
    answered(line, 1.0)
    cut(line)


ATTACKS: tuple[Attack, ...] = (
    garbage,
    half_a_handshake,
    odd_handshake,
    no_resume,
    resumes,
    too_many_words,
    too_many_seen,
    long_word,
    binary,
    no_utf8,
    unmasked,
    reserved,
    huge_claim,
    most_claim,
    longer_than_needed,
    really_huge,
    in_pieces,
    never_ending,
    pieces_of_nothing,
    message_in_message,
    broken_control,
    odd_close,
    ping_flood,
    pong_flood,
    slow_reader,
    deaf,
    crowd,
    half_closed,
)


def fuzzed(
    world: World, seconds: float, seed: int, attacks: Sequence[Attack] = ATTACKS
) -> list[str]:
    """Attack a station for so long; what is wrong, in words."""
    port = int(world.address.rpartition(":")[2])
    attacked(port, attacks[:3], 1, seed)
    world.settle()
    with Page(port) as page:
        told = attacked(port, attacks, seconds, seed)
    print(json.dumps(told), f"page: {page.frames} frames, longest gap {page.gap_s:.2f} s")
    wrong = []
    busy = max(1.0, os.getloadavg()[0] / (os.cpu_count() or 1))
    if page.gap_s > LONGEST_GAP_S * busy or page.lost:
        wrong.append(f"a page that just watched waited {page.gap_s:.1f} s, lost {page.lost} times")
    end = time.monotonic() + 15
    while world.grown()["handles"] > 2 and time.monotonic() < end:
        time.sleep(0.2)
    if world.grown()["handles"] > 2:
        wrong.append(f"{world.grown()['handles']:.0f} connections were left open")
    return wrong + world.sound()


def by_command(attacks: Sequence[Attack], seconds: float, given: Sequence[str] | None) -> int:
    """Fuzz as the command line says; 0 where nothing was found."""
    said = argparse.ArgumentParser()
    said.add_argument("--seconds", type=float, default=seconds)
    said.add_argument("--seed", type=int, default=1)
    said.add_argument("--only", default="")
    asked = said.parse_args(given)
    wanted = [one for one in attacks if not asked.only or one.__name__ in asked.only.split(",")]
    with tempfile.TemporaryDirectory() as name, World(Path(name)) as world:
        wrong = fuzzed(world, asked.seconds, asked.seed, wanted)
        print("grown by", world.grown(), "record:", world.proved())
    for one in wrong:
        print("WRONG:", one)
    return 1 if wrong else 0


def main(given: Sequence[str] | None = None) -> int:
    """Fuzz for so many seconds; 0 where nothing was found."""
    return by_command(ATTACKS, 300, given)


if __name__ == "__main__":
    sys.exit(main())
