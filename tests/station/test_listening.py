"""Where a station listens: what it accepts there sends at once."""

from __future__ import annotations

import asyncio
import socket

import pytest

from weighd.domain.errors import ConfigError
from weighd.main.listening_at import listen

pytestmark = pytest.mark.anyio


def loopback(host: str) -> bool:
    try:
        listen(host, 0).close()
    except ConfigError:
        return False
    return True


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
async def test_what_is_accepted_waits_for_no_word_of_what_it_sent(host: str) -> None:
    """RFC 896 (from memory): else a small piece is kept back until the one before is acknowledged,
    and that takes its time."""
    if not loopback(host):
        pytest.skip(f"no {host} here")
    accepted: asyncio.Future[int] = asyncio.get_running_loop().create_future()

    async def met(_: asyncio.StreamReader, back: asyncio.StreamWriter) -> None:
        sock = back.get_extra_info("socket")
        accepted.set_result(sock.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
        back.close()

    bound = listen(host, 0)
    async with await asyncio.start_server(met, sock=bound.dup()):
        _, writer = await asyncio.open_connection(*bound.getsockname()[:2])
        assert await asyncio.wait_for(accepted, 30) != 0
        writer.close()
    bound.close()


def test_a_port_that_is_taken_is_said_to_be() -> None:
    first = listen("127.0.0.1", 0)
    with pytest.raises(ConfigError, match="another weighd may be running") as caught:
        listen("127.0.0.1", first.getsockname()[1])
    assert caught.value.code == "address-in-use"
    first.close()


def test_an_address_of_somebody_else_is_none() -> None:
    with pytest.raises(ConfigError) as caught:
        listen("192.0.2.1", 0)  # RFC 5737 (from memory): of nobody
    assert caught.value.code == "bad-address"
