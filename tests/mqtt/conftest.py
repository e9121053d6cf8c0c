"""One broker for the tests of a file; topics of its own for each test."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.servers import Mosquitto
from weighd.station.floor_broker import Broker


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture(scope="module")
def mosquitto() -> Iterator[Mosquitto]:
    with Mosquitto() as one:
        yield one


@pytest.fixture
def broker(mosquitto: Mosquitto, request: pytest.FixtureRequest) -> Broker:
    """The broker, with topics that no other test uses."""
    return Broker("127.0.0.1", mosquitto.port, top=f"t{abs(hash(request.node.name)):x}")
