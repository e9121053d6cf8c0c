"""Tests of the network edge run in the event loop of asyncio, by the plugin that anyio brings."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from tests.http.devices import ELSEWHERE, ListDevices, some_devices
from tests.http.kitchen import Kitchen, NotedSimulation
from tests.told_by_the_description import hold
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


@pytest.fixture(autouse=True)
def held_to_the_description(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever a test is answered is as the description of the API has it."""
    made = Kitchen.__init__

    def held(self: Kitchen, *given: Any, **named: Any) -> None:
        made(self, *given, **named)
        self.hooks = hold(self.app)
        for what, hooks in self.hooks.items():
            self.client.event_hooks[what].extend(hooks)

    monkeypatch.setattr(Kitchen, "__init__", held)


@pytest.fixture
def store() -> ListDevices:
    return ListDevices()


@pytest.fixture
async def open_house(store: ListDevices) -> AsyncIterator[Kitchen]:
    """A kitchen with a second door, and nobody listed."""
    devices = some_devices(store=store)
    async with Kitchen(devices=devices, settings=ELSEWHERE) as one:
        devices._now, devices._utc = one.clock.now, one.clock.utc
        yield one
