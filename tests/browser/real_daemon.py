"""The real daemon as a process of its own, and the hands that a test lends it."""

from __future__ import annotations

import os
import re
import select
import signal
import socket
import subprocess
import time
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx

from tests.forked import Forked, start

State = dict[str, Any]

#: A daemon that has not said its address in so many seconds never will.
START_S = 30.0
#: Nothing a test waits for at the station takes longer, in seconds.
WAIT_S = 15.0


class RealDaemon:
    """``weighd ARGUMENTS`` on a port and with a record of its own, which outlive a restart.

    ``hurry`` runs the time of a station on real scales faster (of the demonstration: ``--speed``).
    """

    def __init__(self, folder: Path, *arguments: str, hurry: float = 1) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port: int = probe.getsockname()[1]
        self.port = port
        self.url = f"http://127.0.0.1:{port}/"
        self._errors = folder / "errors.txt"
        self._clock = {"WEIGHD_TESTS_CLOCK": f"{time.time()} {hurry}"} if hurry != 1 else {}
        self._command = [
            *arguments,
            *("--port", str(port), "--data", str(folder / "data")),
        ]
        self._process: Forked | subprocess.Popen[str] | None = None
        self._http = httpx.Client(base_url=self.url, timeout=WAIT_S)

    # --- the process --------------------------------------------------------------------------

    def start(self) -> None:
        """Run it; returns when it has said where it listens."""
        with self._errors.open("a") as errors:
            self._process = start(
                self._command,
                stdout=subprocess.PIPE,
                stderr=errors.fileno(),
                env={**os.environ, "PYTHONUNBUFFERED": "1", **self._clock},
            )
        assert self._process.stdout is not None
        ready, _, _ = select.select([self._process.stdout], [], [], START_S)
        first = self._process.stdout.readline() if ready else ""
        found = re.search(r"http://\S+", first)
        assert found, f"it said {first!r} and {self._errors.read_text()!r}"
        assert found[0] == self.url

    def kill(self) -> None:
        """End it without a word, as a lost power supply does."""
        assert self._process is not None
        self._process.send_signal(signal.SIGKILL)
        self._process.wait(10)

    def stop(self) -> None:
        """End it properly, however the test went."""
        self._http.close()
        if self._process is None or self._process.poll() is not None:
            return
        self._process.terminate()
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(10)

    # --- its addresses ------------------------------------------------------------------------

    def get(self, path: str) -> Any:
        return self._http.get(path).raise_for_status().json()

    def post(self, path: str, **body: Any) -> Any:
        key = {"Idempotency-Key": str(uuid.uuid4())}
        return self._http.post(path, json=body, headers=key).raise_for_status().json()

    def state(self) -> State:
        state: State = self.get("api/state")["state"]
        return state

    def begin(self, formula: str, size: str | None = None, operator: str = "Ada") -> str:
        """Start a batch; its number."""
        asked = {"formula": formula, "batch_g": size, "operator": operator, "scale": None}
        return str(self.post("api/batches", **asked)["batch"])

    def do(self, what: str, **more: Any) -> None:
        """A press at no page."""
        self.post(f"api/batches/{self.state()['batch']['id']}/commands", do=what, by="Ada", **more)

    def simulate(self, what: str, **more: Any) -> Any:
        """Pretend hands at the demonstration's bench."""
        return self.post("api/simulation", do=what, **more)

    def record(self, batch: str) -> Any:
        return self.get(f"api/batches/{batch}/record")

    def until(self, right: Callable[[State], bool], what: str) -> State:
        """The first state that is right."""
        deadline = time.monotonic() + WAIT_S
        while True:
            state = self.state()
            if right(state):
                return state
            assert time.monotonic() < deadline, f"never {what}: {state['live']}"
            time.sleep(0.02)

    def until_simulation(self, right: Callable[[Any], bool], what: str) -> None:
        """Wait until the demonstration's bench and cook are right."""
        deadline = time.monotonic() + WAIT_S
        while not right(seen := self.get("api/simulation")):
            assert time.monotonic() < deadline, f"never {what}: {seen}"
            time.sleep(0.02)

    def phase(self, *names: str) -> State:
        """The first state in which the addition stands so."""
        return self.until(lambda it: it["live"]["phase"] in names, " or ".join(names))

    def settled(self) -> Any:
        """What the addition is once the scale has come to rest on an amount: judged, or held."""
        return self.phase("judged", "held")["live"]

    def is_past(self, n: int) -> bool:
        """Whether addition ``n`` was accepted."""
        live = self.state()["live"]
        return live is None or live["addition"] > n

    def accepted(self, n: int) -> None:
        """Wait until addition ``n`` was accepted."""
        self.until(lambda it: it["live"] is None or it["live"]["addition"] > n, f"accepted {n}")

    def wait(self, seconds: float) -> None:
        """Let so much time pass; for what has no end that could be waited for."""
        time.sleep(seconds)

    def tare(self, vessel: Callable[[], object]) -> None:
        """Set a vessel down and tare it."""
        vessel()
        settled = "on the scale and settled"
        self.until(
            lambda it: "tare" in it["live"]["can"] and float(it["live"]["gross_g"] or 0) > 100,
            settled,
        )
        self.do("tare")
        self.phase("ready")
