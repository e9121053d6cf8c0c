"""A whole station in one event loop: runner, journal in memory, application, a display by hand."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx
from fastapi import FastAPI

from tests.station.scripted import LineDecoder, formula
from weighd.domain.against_plan import Prices
from weighd.domain.check_routine import Routine
from weighd.domain.errors import FormulaError, JournalError, OperatorError
from weighd.domain.formula import Formula
from weighd.domain.limits import ProductClass, read_limits
from weighd.domain.record import Entry
from weighd.http.app import create_app
from weighd.http.door import AtSecondDoor
from weighd.http.live import Live
from weighd.http.ports import HttpSettings
from weighd.main.outputs import RecordOutputs
from weighd.main.shipped import read_shipped_table
from weighd.solver.highs import Highs
from weighd.station.devices import Devices
from weighd.station.people import People
from weighd.station.picture import Picture
from weighd.station.ports import Bytes, Found, Lost
from weighd.station.runner import Runner
from weighd.station.scale import Setup
from weighd.station.station import Station
from weighd.storage.kept_revisions import KeptRevisions
from weighd.storage.memory import MemoryJournal
from weighd.storage.pantry import FilePantry
from weighd.storage.shelf import FormulaShelf

HOST = "127.0.0.1:8451"
LIMITS = """
[classes.kitchen]
name = "Ices of a test"
[[classes.kitchen.limits]]
of = "total_solids"
min = 20
source = "ours"
"""


async def until(so: Callable[[], bool]) -> None:
    """Let the loop run until it is so; a test that waits in vain fails."""
    for _ in range(20_000):
        if so():
            return
        await asyncio.sleep(0.0005)
    raise AssertionError("it did not come to be")


def _nothing(_formulas: Iterable[Formula]) -> None:
    """Formulas that were read anew are kept nowhere."""


class HandClock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.t = 0.0

    def now(self) -> float:
        return self.t

    def utc(self) -> str:
        ms = round(self.t * 1000)
        minutes, ms = divmod(ms, 60_000)
        return f"2026-11-25T09:{minutes:02}:{ms // 1000:02}.{ms % 1000:03}Z"


class Journal(MemoryJournal):
    """A journal that can be told to fail, and whose entries can be tampered with."""

    def __init__(self, station: str) -> None:
        super().__init__(station)
        self.fail: JournalError | None = None
        self.instead: Sequence[Entry] | None = None

    def append(self, entries: Sequence[Entry]) -> None:
        if self.fail is not None:
            raise self.fail
        super().append(entries)

    def batch(self, batch: str) -> Sequence[Entry]:
        return super().batch(batch) if self.instead is None else self.instead


class ListShelf:
    """Formulas in a list, one at a time: two threads at once would be found out."""

    def __init__(self) -> None:
        self.formulas = {"test-ice": formula()}
        self.bad: list[FormulaError] = []
        self.today = Prices()
        self._busy = False

    def all(self) -> tuple[Sequence[Formula], Sequence[FormulaError]]:
        assert not self._busy
        self._busy = True
        out = list(self.formulas.values()), list(self.bad)
        self._busy = False
        return out

    def kinds(self) -> Mapping[str, ProductClass]:
        return read_limits(LIMITS, "limits.toml")

    def prices(self, identity: str, /) -> Prices:
        return self.today

    def get(self, identity: str, /) -> Formula:
        if identity not in self.formulas:
            raise FormulaError("unknown-formula", f'No formula is called "{identity}".')
        return self.formulas[identity]


class NotedSimulation:
    """Writes down what it is asked to do."""

    def __init__(self) -> None:
        self.asked: list[dict[str, Any]] = []

    def picture(self) -> Mapping[str, Any]:
        return {"load": {}, "cook": {"working": True, "speed": 1.0}, "speed": 1.0, "pour_g_s": 0}

    def do(self, what: Mapping[str, Any], /) -> None:
        if what["do"] == "juggle":
            raise OperatorError("unknown-command", "A simulated scale does not juggle.")
        self.asked.append(dict(what))


class Kitchen:
    """One station with one scale, reached over HTTP without a network."""

    def __init__(
        self,
        *,
        settings: HttpSettings | None = None,
        simulation: NotedSimulation | None = None,
        dist: Path | None = None,
        interval_g: str | None = "0.1",
        beat_s: float = 1.0,
        patience_s: float = 10.0,
        check: Routine | None = None,
        files: Path | None = None,
        people: People | None = None,
        devices: Devices | None = None,
        keep: bool = False,
    ) -> None:
        self.clock = HandClock()
        self.journal = Journal("kitchen")
        self.shelf = ListShelf()
        interval = None if interval_g is None else Decimal(interval_g)
        setup = Setup("bench", "test", LineDecoder(), interval, Decimal(6000), check=check)
        self.station = Station("kitchen", [setup], version="0.1.0")
        self.picture = Picture(self.station, boot="first-boot")
        self.live = Live(self.picture, beat_s=beat_s, patience_s=patience_s)
        self.runner = Runner(self.station, self.journal, self.clock, self.picture, self.live)
        kept = KeptRevisions(files, self.clock.utc) if keep and files else None
        self.app: FastAPI = create_app(
            self.runner,
            self.journal,
            self.shelf if files is None else FormulaShelf(files, kept.met if kept else _nothing),
            settings or HttpSettings(operators=("Ada", "Bo")),
            simulation=simulation,
            dist=dist,
            audience=self.live,
            solver=Highs(),
            outputs=RecordOutputs(),
            pantry=None if files is None else FilePantry(files),
            revisions=kept,
            shipped=read_shipped_table,
            people=people,
            devices=devices,
            now=self.clock.now,
        )
        transport = httpx.ASGITransport(self.app, raise_app_exceptions=False)
        self.client = httpx.AsyncClient(transport=transport, base_url=f"http://{HOST}")
        self.second = AtSecondDoor(self.app)
        #: What each answer is shown to.
        self.hooks: Mapping[str, list[Callable[..., Any]]] = {}
        self._others: list[httpx.AsyncClient] = []
        self._keys = 0

    def device(
        self, host: str = "bench.example", address: str = "192.0.2.9", scheme: str = "http"
    ) -> httpx.AsyncClient:
        """Another device, at the second door: it keeps its own cookies."""
        line = httpx.ASGITransport(self.second, raise_app_exceptions=False, client=(address, 5))
        it = httpx.AsyncClient(transport=line, base_url=f"{scheme}://{host}")
        for what, hooks in self.hooks.items():
            it.event_hooks[what].extend(hooks)
        self._others.append(it)
        return it

    async def __aenter__(self) -> Kitchen:
        self._running = asyncio.create_task(self.runner.run())
        await until(lambda: self.station.at() > "2026")
        self.runner.deliver("bench", Found(0.0, "a test"))
        await self.show("0", 0.2)
        return self

    async def __aexit__(self, *_: object) -> None:
        self._running.cancel()
        await asyncio.gather(self._running, return_exceptions=True)
        for one in (self.client, *self._others):
            await one.aclose()

    # --- the scale ---------------------------------------------------------------------------

    async def show(self, grams: str | float, seconds: float = 2.0) -> None:
        """Let the display stand at ``grams``, ten readings a second."""
        await self.raw(b"%s\n" % str(grams).encode(), round(seconds * 10))

    async def raw(self, data: bytes, times: int = 1) -> None:
        """Bytes from the scale, a tenth of a second apart; returns when they were taken."""
        t = self.clock.t
        for _ in range(times):
            t = round(t + 0.1, 6)
            self.runner.deliver("bench", Bytes(t, data))
        # The clock waits: a tick that read it now would be ahead of bytes that are under way.
        await until(lambda: self.station.t >= t)
        self.clock.t = t
        await asyncio.sleep(0.001)

    async def pour(self, start: str, end: str) -> None:
        """Let the display climb to ``end`` and stand there."""
        low, high = Decimal(start), Decimal(end)
        for step in range(1, 11):
            await self.show(str((low + (high - low) * step / 10).quantize(Decimal("0.1"))), 0.1)
        await self.show(end)

    async def lose(self) -> None:
        """Unplug the scale."""
        self.clock.t += 0.1
        self.runner.deliver("bench", Lost(self.clock.t, "unplugged"))
        await until(lambda: self.station.t >= self.clock.t)

    # --- people ------------------------------------------------------------------------------

    def key(self) -> str:
        self._keys += 1
        return f"key-{self._keys}"

    async def get(self, path: str, **headers: str) -> httpx.Response:
        return await self.client.get(path, headers=headers)

    async def post(
        self, path: str, body: Any = None, *, key: str | None = None, **headers: str
    ) -> httpx.Response:
        sent = {"Idempotency-Key": self.key() if key is None else key, **headers}
        return await self.client.post(path, json=body, headers=sent)

    async def start(self, key: str | None = None, **given: Any) -> httpx.Response:
        body = {"formula": "test-ice", "operator": "Ada", **given}
        return await self.post("/api/batches", body, key=key)

    async def do(self, do: str, key: str | None = None, **given: Any) -> httpx.Response:
        path = f"/api/batches/{given.pop('batch', 'kitchen-0001')}/commands"
        return await self.post(path, {"do": do, **given}, key=key)

    async def ready(self) -> None:
        """A batch started and its vessel of 250 g tared."""
        assert (await self.start()).status_code == 201
        await self.show("250")
        if "tare" in self.station.can():
            assert (await self.do("tare", addition=1)).status_code == 200

    async def judged(self) -> None:
        """500 g of milk poured into the tared vessel and settled."""
        await self.ready()
        await self.pour("250", "750")
        assert "accept" in self.station.can()

    def kinds(self) -> list[str]:
        return [entry.kind for entry in self.journal.entries()]


class Socket:
    """A websocket client at the ASGI door, whose network a test can stop and start."""

    def __init__(self, app: Any, path: str = "/api/live", **headers: str) -> None:
        given = {"host": HOST, **headers}
        path, _, query = path.partition("?")
        self._scope = {
            "type": "websocket",
            "asgi": {"version": "3.0", "spec_version": "2.4"},
            "http_version": "1.1",
            "scheme": "ws",
            "path": path,
            "raw_path": path.encode(),
            "root_path": "",
            "query_string": query.encode(),
            "headers": [(k.encode(), v.encode()) for k, v in given.items()],
            "subprotocols": [],
            "state": {},
        }
        self._app = app
        self._to_app: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        self._frames: asyncio.Queue[Any] = asyncio.Queue()
        self.flows = asyncio.Event()
        self.flows.set()
        self.accepted = False
        self.closed: int | None = None
        self.texts: list[str] = []

    async def __aenter__(self) -> Socket:
        self._to_app.put_nowait({"type": "websocket.connect"})
        self.task = asyncio.create_task(self._app(self._scope, self._to_app.get, self._send))
        await until(lambda: self.accepted or self.closed is not None)
        return self

    async def __aexit__(self, *_: object) -> None:
        self._to_app.put_nowait({"type": "websocket.disconnect", "code": 1001})
        await asyncio.wait_for(self.task, 5)

    async def _send(self, message: Mapping[str, Any]) -> None:
        match message["type"]:
            case "websocket.accept":
                self.accepted = True
            case "websocket.close":
                self.closed = message.get("code", 1000)
            case "websocket.send":
                await self.flows.wait()
                self.texts.append(message["text"])
                self._frames.put_nowait(json.loads(message["text"]))

    def say(self, text: str | bytes | Mapping[str, Any]) -> None:
        if isinstance(text, bytes):
            self._to_app.put_nowait({"type": "websocket.receive", "bytes": text})
            return
        said = text if isinstance(text, str) else json.dumps(text)
        self._to_app.put_nowait({"type": "websocket.receive", "text": said})

    async def frame(self) -> Any:
        """The next frame; what does not come within 5 s does not come."""
        return await asyncio.wait_for(self._frames.get(), 5)

    def waiting(self) -> int:
        return self._frames.qsize()

    async def gone(self) -> int | None:
        """Wait for the server to close; the code it closed with."""
        await asyncio.wait_for(asyncio.shield(self.task), 5)
        return self.closed
