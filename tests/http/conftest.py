"""Tests of the network edge run in the event loop of asyncio, by the plugin that anyio brings."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from tests.http.kitchen import Kitchen, NotedSimulation
from weighd.main.shipped import copy_of_the_kitchen


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture
async def kitchen() -> AsyncIterator[Kitchen]:
    async with Kitchen() as one:
        yield one


@pytest.fixture
async def simulated() -> AsyncIterator[tuple[Kitchen, NotedSimulation]]:
    simulation = NotedSimulation()
    async with Kitchen(simulation=simulation) as one:
        yield one, simulation


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return copy_of_the_kitchen(tmp_path / "formulas")


@pytest.fixture
async def larder(folder: Path) -> AsyncIterator[Kitchen]:
    async with Kitchen(files=folder) as one:
        yield one
