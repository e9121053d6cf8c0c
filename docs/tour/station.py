"""The demonstration as a process of its own, on an invented day, with a clock that can be turned.

``python -m docs.tour.station FOLDER PORT DAY [two]``; lines on standard input turn the clock.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import select
import socket
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx

from tests.browser.real_daemon import RealDaemon
from weighd.clock import SystemClock

#: No day that anybody worked on.
BEGAN = datetime(2031, 3, 4, 6, 30, tzinfo=UTC)
#: Two formulas that are there in two revisions want the same hand each time.
SEED = 7


class TurnedClock(SystemClock):
    """Runs as fast as it is told to, or not at all, and began on the invented day."""

    def __init__(self, began: datetime = BEGAN) -> None:
        super().__init__(1.0)
        self._began = began
        self._turn = threading.Lock()
        self._since, self._passed, self._rate = time.monotonic(), 0.0, 1.0

    def now(self) -> float:
        with self._turn:
            return round(self._passed + (time.monotonic() - self._since) * self._rate, 6)

    def skip(self, seconds: float) -> None:
        with self._turn:
            self._passed += seconds

    def turn(self, rate: float) -> None:
        """Let so many seconds pass in each; 0 stops it, and with it all that is on the bench."""
        with self._turn:
            at = time.monotonic()
            self._passed += (at - self._since) * self._rate
            self._since, self._rate = at, rate

    def utc(self) -> str:
        wall = self._began + timedelta(seconds=self.now())
        return wall.isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Demo(RealDaemon):
    """The demonstration, and the hand at its clock."""

    def __init__(self, folder: Path, *, two: bool = False, day: int = 0) -> None:
        super().__init__(folder)
        self._folder = folder
        self._more = [str(day), *(["two"] if two else [])]
        self._child: subprocess.Popen[str] | None = None

    def start(self) -> None:
        """Run it; returns when it listens."""
        port = self.url.rstrip("/").rpartition(":")[2]
        asked = [sys.executable, "-m", "docs.tour.station", str(self._folder), port]
        self._child = subprocess.Popen(
            [*asked, *self._more],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self._child.stdout is not None
        ready, _, _ = select.select([self._child.stdout], [], [], 60)
        if not ready or "ready" not in self._child.stdout.readline():
            raise RuntimeError("the demonstration did not start")

    def post(self, path: str, **body: Any) -> Any:
        """As always; what is refused is said in its own words."""
        try:
            return super().post(path, **body)
        except httpx.HTTPStatusError as error:
            error.add_note(error.response.text)
            raise

    def changed(self, formula: str, first: dict[str, str]) -> str:
        """Change the first addition of a formula; the revision that it was in before."""
        before = str(self.get(f"api/formulas/{formula}")["revision"])
        source = self.get(f"api/formulas/{formula}/source")
        draft = {key: source[key] for key in ("name", "note", "kind", "cautions", "additions")}
        draft["additions"][0] |= first
        tag = {"If-Match": f'"{source["tag"]}"'}
        self._http.put(f"api/formulas/{formula}", json=draft, headers=tag).raise_for_status()
        return before

    def turn(self, rate: float) -> str:
        """Turn its clock: so many seconds pass in each. What it shows."""
        assert self._child is not None
        assert self._child.stdin is not None
        assert self._child.stdout is not None
        print(rate, file=self._child.stdin, flush=True)
        return self._child.stdout.readline().strip()

    def stop(self) -> None:
        if self._child is None:
            return
        with contextlib.suppress(httpx.HTTPError):
            self._http.close()
        self._child.terminate()
        try:
            self._child.wait(10)
        except subprocess.TimeoutExpired:
            self._child.kill()
            self._child.wait(10)
        self._child = None


def _run(folder: Path, port: int, day: int, *, two: bool) -> None:
    from weighd.main import logs
    from weighd.main.simulation import demo_daemon

    logs.set_up("error")
    clock = TurnedClock(BEGAN + timedelta(days=day))
    sock = socket.create_server(("127.0.0.1", port))
    daemon, kitchen = demo_daemon(folder / "data", port, 1.0, SEED, clock, two=two)

    def turned() -> None:
        for line in sys.stdin:
            clock.turn(float(line))
            print(clock.utc(), flush=True)

    def ready() -> None:
        kitchen.begin()
        kitchen.shift.working = False
        threading.Thread(target=turned, daemon=True).start()
        print("ready", flush=True)

    try:
        asyncio.run(daemon.serve(sock, kitchen, ready))
    finally:
        kitchen.shift.stop()
        sock.close()
        os._exit(0)


if __name__ == "__main__":
    _run(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), two="two" in sys.argv[4:])
