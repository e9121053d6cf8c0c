"""Devices at the second door, as tests let them in."""

from __future__ import annotations

import httpx

from tests.http.kitchen import HandClock, Kitchen
from weighd.domain.devices import Device
from weighd.http.door import Elsewhere
from weighd.http.ports import HttpSettings
from weighd.station.devices import Devices

NAMES = ("bench.example", "tight.example:8452")
TOKEN = "read-the-metrics-0123456789"
ELSEWHERE = HttpSettings(
    elsewhere=Elsewhere(NAMES, metrics=TOKEN), addresses=("http://bench.example/",)
)


class ListDevices:
    """Keeps devices in a list, and how often it was written."""

    def __init__(self) -> None:
        self.kept: dict[str, Device] = {}
        self.writes = 0

    def all(self) -> tuple[Device, ...]:
        return tuple(self.kept.values())

    def put(self, device: Device, /) -> None:
        self.kept[device.id] = device
        self.writes += 1

    def drop(self, identity: str, /) -> None:
        self.kept.pop(identity, None)


def some_devices(clock: HandClock | None = None, store: ListDevices | None = None) -> Devices:
    """No device yet."""
    clock = clock or HandClock()
    return Devices(store or ListDevices(), clock.utc, clock.now)


async def code_for(kitchen: Kitchen, may: str, name: str = "") -> str:
    """A code, as the station's own page shows it."""
    asked = {"name": name or f"tablet that may {may}", "may": may}
    answer = await kitchen.post("/api/devices", asked)
    assert answer.status_code == 201, answer.text
    return str(answer.json()["code"])


async def paired(kitchen: Kitchen, device: httpx.AsyncClient, may: str, name: str = "") -> str:
    """Let a device in; its id."""
    code = await code_for(kitchen, may, name)
    answer = await device.post("/api/device/pair", json={"code": code})
    assert answer.status_code == 201, answer.text
    return str(answer.json()["device"]["id"])
