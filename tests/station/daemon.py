"""The real daemon as a process, a real tty as its scale, and a cook who works over REST.

    with PtyScale(tmp_path / "scale", QUICK) as scale, Served(kitchen(tmp_path)) as daemon:
        cook = Cook(daemon, scale)
        cook.start()
        cook.weigh_all()

Nothing here waits without a bound, and every process is ended by its own pid.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import queue
import re
import subprocess
import threading
import time
import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from types import TracebackType
from typing import Any

import httpx
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from tests.forked import WEIGHD, Forked, start
from tests.pty_scale import PtyScale
from weighd_drivers.sim_parameters import BenchParameters

#: A bench without surprises, so that tests wait for the station and not for physics.
QUICK = BenchParameters(
    rate_hz=40.0,
    noise_g=0.0,
    wander_g=0.0,
    filter_s=0.1,
    delay_s=0.0,
    damping=0.7,
    creep=0.0,
    drops=0.0,
    gurgle=0.0,
    handling_s=0.05,
    spoon_s=0.05,
)
#: What the time of a station and of its scale can run at, where nothing else keeps time with them.
FAST = 3.0
VESSEL_G = 312.4
#: Targets in grams; every band is far wider than the scale's interval.
TARGETS = (Decimal(500), Decimal(120), Decimal(20))
FORMULA = """
name = "Test ice"
scenario = "Invented, for the tests."
[ingredients]
milk = { name = "Milk", allergens = ["milk"] }
sugar = { name = "Sugar" }
salt = { name = "Salt" }
[[additions]]
ingredient = "milk"
target = "500 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "120 g"
tolerance = "+1 / -2 g"
[[additions]]
ingredient = "salt"
target = "20 g"
tolerance = "0.5 g"
"""


def kitchen(folder: Path, scale: str = "", *, name: str = "kitchen", data: str = "data") -> Path:
    """A configuration with one serial scale and one formula in ``folder``; its file.

    ``scale`` is more TOML for the scale's table.
    """
    formulas = folder / "formulas"
    formulas.mkdir(exist_ok=True)
    (formulas / "test-ice.toml").write_text(FORMULA)
    file = folder / f"{name}.toml"
    file.write_text(
        f'[station]\nname = "{name}"\ndata = "{data}"\nformulas = "formulas"\n'
        f'operators = ["Tester"]\n'
        f'[scales.bench]\ndriver = "serial"\nport = "{folder / "scale"}"\n'
        f'interval_g = "0.1"\n{scale or chr(109) + "ax_g = 6000"}\n'
    )
    return file


def until(
    what: Callable[[], Any], seconds: float = 6.0, told: Callable[[], object] = lambda: ""
) -> Any:
    """Ask until the answer is true, and give it; fails after ``seconds``, saying ``told()``."""
    end = time.monotonic() + seconds
    while True:
        answer = what()
        if answer:
            return answer
        assert time.monotonic() < end, f"not within {seconds} s: {told()}"
        time.sleep(0.01)


class Served:
    """``weighd serve`` as a process. Its first line of output is its address.

    ``under``  a command to run it under (``strace ...``), before its own.
    ``speed``  runs its time faster, where it is forked; give its scale the same.
    """

    def __init__(
        self, config: Path, *args: object, under: Sequence[str] = (), speed: float = 1
    ) -> None:
        self.config = config
        self.folder = config.parent
        self.took_s = 0.0
        self._under = under
        self._clock = {"WEIGHD_TESTS_CLOCK": f"{time.time()} {speed}"} if speed != 1 else {}
        self._command = ["serve", "--config", str(config), "--port", "0", *map(str, args)]
        self._process: Forked | subprocess.Popen[str] | None = None
        self._http = httpx.Client()
        self.address = ""

    def __enter__(self) -> Served:
        self.begin()
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _error: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        self.kill()
        self._http.close()

    # --- the process --------------------------------------------------------------------------

    def begin(self, seconds: float = 30.0) -> None:
        """Start it and wait until it says where it is."""
        began = time.monotonic()
        log = (self.folder / "log").open("a")
        process: Forked | subprocess.Popen[str]
        with log:
            if self._under:
                command = [*self._under, str(WEIGHD), *self._command]
                process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=log, text=True)
            else:
                env, err = {**os.environ, **self._clock}, log.fileno()
                process = start(self._command, stdout=subprocess.PIPE, stderr=err, env=env)
        self._process = process
        lines: queue.Queue[str] = queue.Queue()
        assert process.stdout is not None
        reading = process.stdout
        threading.Thread(target=lambda: lines.put(reading.readline()), daemon=True).start()
        try:
            first = lines.get(timeout=seconds)
        except queue.Empty:
            self.kill()
            raise AssertionError(f"nothing said within {seconds} s: {self.log()}") from None
        found = re.search(r"http://\S+", first)
        assert found, f"it said {first!r}: {self.log()}"
        self.address = found[0].rstrip("/")
        self.took_s = time.monotonic() - began
        self._http.close()
        self._http = httpx.Client(base_url=self.address, timeout=12)

    @property
    def pid(self) -> int:
        assert self._process is not None
        return self._process.pid

    @property
    def ended(self) -> bool:
        """Whether it has ended, by itself or not."""
        return self._process is None or self._process.poll() is not None

    def stop(self, seconds: float = 10.0) -> int:
        """Ask it to end (SIGTERM); its exit code."""
        assert self._process is not None
        self._process.terminate()
        return self._process.wait(seconds)

    def kill(self) -> None:
        """End it without asking (SIGKILL), if it still runs."""
        if self._process is not None:
            if self._process.poll() is None:
                self._process.kill()
            self._process.wait(5)
            assert self._process.stdout is not None
            self._process.stdout.close()
            self._process = None

    def log(self) -> str:
        """What it said on standard error, in all its lives."""
        return (self.folder / "log").read_text()

    @property
    def database(self) -> Path:
        return self.folder / "data" / "weighd.db"

    # --- REST ---------------------------------------------------------------------------------

    def get(self, path: str, **query: Any) -> Any:
        """A document; any other status than 200 fails."""
        answer = self._send("GET", path, params=query)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def ask(self, method: str, path: str, body: Any = None, key: str = "") -> httpx.Response:
        """A request of any outcome, with a fresh key where none is given."""
        headers = {"Idempotency-Key": key or str(uuid.uuid4())}
        return self._send(method, path, json=body, headers=headers)

    def _send(self, method: str, path: str, **more: Any) -> httpx.Response:
        try:
            return self._http.request(method, path, **more)
        except httpx.TransportError as error:
            process = self._process
            error.add_note(f"exit code {process and process.poll()}; its log:\n{self.log()}")
            raise

    def state(self) -> dict[str, Any]:
        """The picture as it is now."""
        state: dict[str, Any] = self.get("/api/state")["state"]
        return state

    def wait(self, what: Callable[[Any], Any], seconds: float = 6.0) -> dict[str, Any]:
        """Ask for the picture until it is so, and give that picture."""
        seen: dict[str, Any] = {}

        def so() -> bool:
            nonlocal seen
            seen = self.state()
            return bool(what(seen))

        until(so, seconds, lambda: json.dumps(seen, indent=1) + self.log())
        return seen


def vessel_stands(live: Mapping[str, Any]) -> bool:
    """Whether the vessel can be tared: an empty scale at rest could be too, if one insisted."""
    return "tare" in live["can"] and live["gross_g"] == str(VESSEL_G)


class Cook:
    """Works a batch of ``test-ice``: hands on the scale, presses over REST.

    Knows what should be in the vessel by now, so it can go on after whatever happened.
    """

    def __init__(self, daemon: Served, scale: PtyScale) -> None:
        self.daemon = daemon
        self.scale = scale
        self.bench = scale.bench
        self.batch = ""

    def start(self, **more: Any) -> str:
        """Wait for the scale and start a batch; its name."""
        self.daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
        answer = self.daemon.ask(
            "POST", "/api/batches", {"formula": "test-ice", "operator": "Tester", **more}
        )
        assert answer.status_code == 201, answer.text
        self.batch = answer.json()["batch"]
        return self.batch

    def press(self, do: str, key: str = "", **more: Any) -> httpx.Response:
        """A command, whatever comes of it."""
        path = f"/api/batches/{self.batch}/commands"
        return self.daemon.ask("POST", path, {"do": do, **more}, key)

    def do(self, do: str, **more: Any) -> int | None:
        """A command that must be met; the number of its entry.

        Pressed again, as a cook would, where the scale moved between the look and the press.
        """
        end = time.monotonic() + 5
        answer = self.press(do, **more)
        while answer.status_code == 409 and answer.json()["code"] == "not-settled":
            assert time.monotonic() < end, answer.text
            time.sleep(0.05)
            answer = self.press(do, **more)
        assert answer.status_code == 200, answer.text
        entry: int | None = answer.json()["entry"]
        return entry

    def refused(self, do: str, **more: Any) -> str:
        """A command that must be refused; the code of the refusal."""
        answer = self.press(do, **more)
        assert answer.status_code >= 400, answer.text
        assert answer.headers["content-type"] == "application/problem+json"
        return str(answer.json()["code"])

    def vessel(self) -> None:
        """Set the vessel down and tare it."""
        self.bench.vessel(VESSEL_G)
        self.daemon.wait(lambda s: vessel_stands(s["live"]))
        self.do("tare", addition=1)

    def fill(self, n: int, short_g: str = "0") -> None:
        """Tap what is missing of the first ``n`` additions, at once, less ``short_g``."""
        seen = self.bench.picture()
        have = Decimal(str(seen["contents_g"])) + Decimal(str(seen["in_air_g"]))
        missing = sum(TARGETS[:n], Decimal(0)) - have - Decimal(short_g)
        if missing > Decimal("0.05"):
            self.bench.tap(float(missing))

    def can(self, do: str, seconds: float = 6.0) -> dict[str, Any]:
        """Wait until the station would take a command; the picture."""
        return self.daemon.wait(lambda s: s["live"] and do in s["live"]["can"], seconds)

    def judged(self, verdict: str = "on target") -> dict[str, Any]:
        """Wait until the current addition is judged so; the picture."""
        return self.daemon.wait(lambda s: s["live"] and s["live"]["verdict"] == verdict)

    def weigh(self, n: int) -> int:
        """One addition from pour to record; the number of its entry."""
        self.fill(n)
        self.judged()
        entry = self.do("accept", addition=n)
        assert entry is not None
        return entry

    def weigh_all(self) -> list[int]:
        """The whole batch, its vessel first; the numbers of the entries."""
        self.vessel()
        return [self.weigh(n) for n in range(1, len(TARGETS) + 1)]

    def record(self) -> dict[str, Any]:
        """The batch's export."""
        document: dict[str, Any] = self.daemon.get(f"/api/batches/{self.batch}/record")
        return document


class Watcher:
    """A page: listens to the live link and folds what it hears into a picture.

    ``frames``  every frame with the moment it came; ``picture`` the newest of each section.
    ``also``    called with each frame, in the listening thread, before it is kept.
    """

    def __init__(
        self, address: str, also: Callable[[Mapping[str, Any]], None] = lambda _: None
    ) -> None:
        self.frames: list[dict[str, Any]] = []
        self.picture: dict[str, Any] = {}
        self.failed: list[BaseException] = []
        self._also = also
        self._where = address.replace("http", "ws", 1) + "/api/live"
        self._open = contextlib.ExitStack()
        self._thread: threading.Thread | None = None

    def __enter__(self) -> Watcher:
        socket = self._open.enter_context(connect(self._where, open_timeout=5))
        self._thread = threading.Thread(target=self._listen, args=(socket,), daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()
        assert self._thread is not None
        self._thread.join(5)
        assert not self.failed, self.failed

    def _listen(self, socket: Iterable[str | bytes]) -> None:
        with contextlib.suppress(ConnectionClosed):
            for text in socket:
                frame = json.loads(text)
                try:
                    self._also(frame)
                except BaseException as error:  # noqa: BLE001 - told when the page closes
                    self.failed.append(error)
                self._fold(frame)
                self.frames.append(frame)

    def _fold(self, frame: Mapping[str, Any]) -> None:
        if frame["kind"] == "snapshot":
            self.picture = dict(frame["state"])
        elif frame["kind"] == "change":
            for section in ("station", "batch", "live"):
                if section in frame:
                    self.picture[section] = frame[section]
            self.picture["scales"] = {**self.picture["scales"], **frame.get("scales", {})}

    def phases(self) -> list[str]:
        """The phases of the current addition as the page saw them, without repeats."""
        seen = []
        for frame in self.frames:
            live = frame.get("state", frame).get("live")
            if live:
                seen.append(f"{live['addition']} {live['phase']}")
        return [one for one, _ in itertools.groupby(seen)]
