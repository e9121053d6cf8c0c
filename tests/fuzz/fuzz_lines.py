"""A fuzzer of HTTP below the application: lines, heads and bodies that are none.

    python -m tests.fuzz.fuzz_lines --seconds 120 [--seed 7]

What must hold: a request that is not understood is refused or its connection ended, never answered
with a 5xx; what follows on the same connection is not taken for a request where it was a body; the
page beside gets its frames, and afterwards nothing is left open and nothing in the log.
"""

from __future__ import annotations

import contextlib
import random
import socket
import sys
import time
from collections.abc import Sequence

from tests.fuzz.fuzz_socket import by_command
from tests.fuzz.raw import Attack, answered, cut, opened, sent

_OK = b"GET /api/health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


#: After its answer the connection is closed: whoever waits knows that all has come.
_LAST = b"GET /api/health HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"


def asked(port: int, *pieces: bytes, seconds: float = 1.0, pause: float = 0) -> bytes:
    """Send pieces, and all that comes back."""
    line = opened(port)
    try:
        for one in pieces:
            if not sent(line, one):
                break
            time.sleep(pause)
        told = answered(line, seconds)
        for status in statuses(told):
            assert status < 500, (pieces[0][:100], told[:300])
        return told
    finally:
        cut(line)


def statuses(told: bytes) -> list[int]:
    """The statuses of the answers in what came back."""
    return [int(one[:3]) for one in told.split(b"HTTP/1.1 ")[1:] if one[:3].isdigit()]


def _post(path: str, *headers: str, body: bytes = b"", host: str = "127.0.0.1") -> bytes:
    head = (f"POST {path} HTTP/1.1", f"Host: {host}", *headers)
    return ("\r\n".join(head) + "\r\n\r\n").encode("latin-1") + body


def broken_line(port: int, dice: random.Random) -> None:
    line = dice.choice(
        (
            b"GET\r\n\r\n",
            b"GET  /api/health  HTTP/1.1\r\n\r\n",
            b"G\x00T /api/health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            b"GET /api/health HTTP/9.9\r\nHost: 127.0.0.1\r\n\r\n",
            b"GET /api/health HTTP/1.1\nHost: 127.0.0.1\n\n",
            b"GET /api/\xff\xfe HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            b"GET http://127.0.0.1/api/health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            b"GET //elsewhere.invalid/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            b"GET /%2e%2e/%2e%2e/etc/passwd HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            b"GET /api/batches/%00%ff%2f HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            b"GET /api/health%0d%0aX: y HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            b"CONNECT 127.0.0.1:80 HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            b"OPTIONS * HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
            b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + dice.randbytes(200),
            b"TRACE /api/health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
            dice.randbytes(300),
            b"GET /api/health?" + b"&".join([b"a=b"] * 3000) + b" HTTP/1.1\r\nHost: a\r\n\r\n",
        )
    )
    asked(port, line, seconds=0.3)


def broken_head(port: int, dice: random.Random) -> None:
    head = dice.choice(
        (
            b"Host: a\r\nHost: b\r\n",
            b"Host:\r\n",
            b"",
            b"Host : 127.0.0.1\r\n",
            b" Host: 127.0.0.1\r\n",
            b"Host: 127.0.0.1\r\n folded: yes\r\n",
            b"Host: 127.0.0.1\r\nX\x00: y\r\n",
            b"Host: 127.0.0.1\r\nX: \x00\r\n",
            b"Host: 127.0.0.1\r\n: nameless\r\n",
            b"Host: 127.0.0.1\r\nno colon\r\n",
            b"Host: 127.0.0.1:99999999\r\n",
            b"Host: [::1\r\n",
            b"Host: 127.0.0.1\r\nOrigin: http://[\r\n",
            b"Host: 127.0.0.1\r\nOrigin: null\r\nOrigin: null\r\n",
            b"Host: 127.0.0.1\r\nExpect: 100-continue\r\n",
            b"Host: 127.0.0.1\r\nUpgrade: h2c\r\nConnection: Upgrade, HTTP2-Settings\r\n",
            b"Host: 127.0.0.1\r\nAccept-Encoding: " + b"gzip;q=" * 400 + b"\r\n",
            b"Host: 127.0.0.1\r\nCookie: " + b"weighd-test=\xff; " * 300 + b"\r\n",
            b"Host: 127.0.0.1\r\nRange: bytes=0-18446744073709551616,-1,a-b\r\n",
            b"Host: 127.0.0.1\r\nIf-None-Match: " + b'"x",' * 900 + b"\r\n",
        )
    )
    path = dice.choice((b"/api/health", b"/", b"/api/formulas/lemon-sorbet/source"))
    asked(port, b"GET " + path + b" HTTP/1.1\r\n" + head + b"\r\n", seconds=0.3)


def bomb(port: int, dice: random.Random) -> None:
    """Heads without end: of one long header, or of very many."""
    line = opened(port)
    try:
        piece = dice.choice((b"X: " + b"a" * 60_000 + b"\r\n", b"X: a\r\n" * 10_000, b"a" * 65_536))
        sent(line, b"GET /api/health HTTP/1.1\r\nHost: 127.0.0.1\r\n")
        taken = 0
        line.settimeout(2)
        while taken < 300 and sent(line, piece):  # the kernel takes some megabytes by itself
            taken += 1
        assert taken < 300, "a head of twenty megabytes was taken"
    finally:
        cut(line)


def slow_head(port: int, dice: random.Random) -> None:
    """A head that comes byte by byte: whoever does that waits alone."""
    lines = [opened(port) for _ in range(dice.choice((1, 20)))]
    for one in _OK[: dice.choice((5, 30))]:
        for line in lines:
            sent(line, bytes([one]))
        time.sleep(0.03)
    told = asked(port, _LAST, seconds=20)
    assert statuses(told) == [200], told[:200]
    for line in lines:
        cut(line)


def slow_body(port: int, dice: random.Random) -> None:
    line = opened(port)
    sent(line, _post("/api/scan", "Content-Type: application/json", "Content-Length: 4000"))
    for _ in range(20):
        sent(line, b"{")
        time.sleep(0.05)
    cut(line)


def lengths(port: int, dice: random.Random) -> None:
    length = dice.choice(
        (
            *("-1", "+5", "0x10", "1e3", " ", "99999999999999999999", "5, 5"),
            *("5\r\nContent-Length: 6", "\u00b2"),
        )
    )
    asked(port, _post("/api/scan", f"Content-Length: {length}", body=b"hello"), seconds=0.3)


def huge_body(port: int, dice: random.Random) -> None:
    line = opened(port)
    try:
        if dice.random() < 0.5:
            sent(line, _post("/api/scan", "Content-Length: 900000000"))
        else:
            sent(line, _post("/api/scan", "Transfer-Encoding: chunked"))
        line.settimeout(2)
        piece = b"10000\r\n" + b" " * 65536 + b"\r\n"
        taken = 0
        while taken < 300 and sent(line, piece):
            taken += 1
        assert taken < 300, "twenty megabytes were taken"
    finally:
        cut(line)


def chunks(port: int, dice: random.Random) -> None:
    body = dice.choice(
        (
            b"zz\r\nhello\r\n0\r\n\r\n",
            b"-5\r\nhello\r\n0\r\n\r\n",
            b"5;ext=" + b"x" * 5000 + b"\r\nhello\r\n0\r\n\r\n",
            b"5\r\nhelloworld\r\n0\r\n\r\n",
            b"ffffffffffffffff\r\nhello",
            b"5\nhello\n0\n\n",
            b"0\r\nTrailer: x\r\n" * 50 + b"\r\n",
            b"1\r\nx\r\n" * 3000 + b"0\r\n\r\n",
        )
    )
    asked(port, _post("/api/scan", "Transfer-Encoding: chunked", body=body), seconds=0.5)


def smuggled(port: int, dice: random.Random) -> None:
    """Shapes in which two readers see two requests: here there must be one answer, or none."""
    inner = b"GET /api/first/formulas HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    shape = dice.choice(
        (
            _post(
                "/api/scan",
                "Content-Length: 4",
                "Transfer-Encoding: chunked",
                body=b"0\r\n\r\n" + inner,
            ),
            _post("/api/scan", "Transfer-Encoding: chunked, identity", body=b"0\r\n\r\n" + inner),
            _post("/api/scan", "Transfer-Encoding: xchunked", body=inner),
            _post("/api/scan", "Transfer-Encoding : chunked", body=b"0\r\n\r\n" + inner),
            _post("/api/scan", "Content-Length: 0", "Content-Length: 44", body=inner),
            _post(
                "/api/scan",
                "Transfer-Encoding: chunked",
                "Transfer-encoding: identity",
                body=b"0\r\n\r\n" + inner,
            ),
        )
    )
    told = asked(port, shape, seconds=0.5)
    first = statuses(told)[:1]
    assert first in ([], [400], [411], [413], [501]) or len(statuses(told)) <= 2, told[:400]


def pipelined(port: int, dice: random.Random) -> None:
    """Many requests at once are answered in their order."""
    count = dice.choice((2, 30))
    last = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"
    told = asked(port, _OK * count + last, seconds=20)
    assert statuses(told)[:count] == [200] * count, statuses(told)


def gone(port: int, dice: random.Random) -> None:
    """Asks for something that takes long, and goes."""
    path = dice.choice(("/api/batches/test-0001/sheet.pdf", "/api/state", "/api/formulas"))
    line = opened(port)
    sent(line, f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
    time.sleep(dice.choice((0, 0.02)))
    cut(line)


def deaf(port: int, dice: random.Random) -> None:
    """Asks for much and takes nothing of it."""
    line = opened(port)
    line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
    line.settimeout(1)
    sent(line, b"GET /api/openapi.json HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 20)
    time.sleep(0.3)
    cut(line)


def crowd(port: int, dice: random.Random) -> None:
    """Connections that say nothing."""
    lines = []
    with contextlib.suppress(OSError):
        for _ in range(dice.choice((50, 200))):
            lines.append(opened(port, 2))
    told = asked(port, _LAST, seconds=20)
    assert statuses(told) == [200], told[:200]
    for one in lines:
        cut(one)


def upgraded_wrong(port: int, dice: random.Random) -> None:
    """A websocket where none is, and a request with a body that wants to be one."""
    asked(
        port,
        f"GET {dice.choice(('/api/state', '/', '/api/batches'))} HTTP/1.1\r\nHost: 127.0.0.1\r\n"
        "Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
        "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n".encode(),
        seconds=0.3,
    )
    asked(
        port,
        _post(
            "/api/live",
            "Upgrade: websocket",
            "Connection: Upgrade",
            "Content-Length: 5",
            body=b"hello",
        ),
        seconds=0.3,
    )


ATTACKS: tuple[Attack, ...] = (
    broken_line,
    broken_head,
    bomb,
    slow_head,
    slow_body,
    lengths,
    huge_body,
    chunks,
    smuggled,
    pipelined,
    gone,
    deaf,
    crowd,
    upgraded_wrong,
)


def main(given: Sequence[str] | None = None) -> int:
    """Fuzz for so many seconds; 0 where nothing was found."""
    return by_command(ATTACKS, 120, given)


if __name__ == "__main__":
    sys.exit(main())
