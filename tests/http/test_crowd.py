"""More connections than there is room for: those that say nothing go first; others are served."""

from __future__ import annotations

import asyncio
import contextlib
import resource
from collections.abc import AsyncIterator
from typing import Any

import pytest
import uvicorn

from weighd.main import crowd
from weighd.main.crowd import BACKLOG, OWN, CrowdedProtocol, make_room

pytestmark = pytest.mark.anyio
ASKED = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


async def hello(_scope: Any, _receive: Any, send: Any) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"hello"})


class _Five(CrowdedProtocol):
    most = 5


@contextlib.asynccontextmanager
async def served() -> AsyncIterator[int]:
    config = uvicorn.Config(hello, port=0, http=_Five, lifespan="off", log_config=None)
    server = uvicorn.Server(config)
    server.install_signal_handlers = lambda: None  # type: ignore[attr-defined]
    task = asyncio.create_task(server._serve())
    while not server.started:  # noqa: ASYNC110 - no event for it
        await asyncio.sleep(0.005)
    yield server.servers[0].sockets[0].getsockname()[1]
    server.should_exit = server.force_exit = True
    await task


async def test_the_quietest_give_way_and_whoever_asks_is_answered() -> None:
    async with served() as port:
        lines = []
        for _ in range(12):
            lines.append(await asyncio.open_connection("127.0.0.1", port))
            await asyncio.sleep(0.005)
            reader, writer = lines[0]
            writer.write(ASKED)  # it speaks all the while
            assert (await reader.readline()).startswith(b"HTTP/1.1 200")
            await reader.readuntil(b"0\r\n\r\n")
        ended = [await _ended(reader) for reader, _ in lines]
        assert ended == [False, *[True] * 7, *[False] * 4]
        for _, writer in lines:
            writer.close()


async def _ended(reader: asyncio.StreamReader) -> bool:
    try:
        async with asyncio.timeout(0.05):
            return await reader.read(1) == b""
    except TimeoutError:
        return False
    except ConnectionResetError:
        return True


@pytest.mark.parametrize(
    ("soft", "hard", "raised", "room"),
    [
        (1024, 524_288, 8192, 2000),
        (1024, 1024, None, 1024 - OWN - BACKLOG),
        (20_000, 20_000, None, 2000),
        (64, 64, None, 16),
        (resource.RLIM_INFINITY, resource.RLIM_INFINITY, None, 2000),
        (1024, resource.RLIM_INFINITY, 8192, 2000),
    ],
)
async def test_room_is_what_the_system_lets_less_what_the_station_needs(
    monkeypatch: pytest.MonkeyPatch, soft: int, hard: int, raised: int | None, room: int
) -> None:
    set_to: list[tuple[int, int]] = []
    monkeypatch.setattr(crowd.resource, "getrlimit", lambda _: (soft, hard))
    monkeypatch.setattr(crowd.resource, "setrlimit", lambda _, pair: set_to.append(pair))
    assert make_room() == room
    assert set_to == ([] if raised is None else [(raised, hard)])
