"""A station that is made to work through its days at speed, and what is done to it meanwhile.

The daemon is the real one in a process of its own, its scale a pty, its cook a loop over REST that
does what the station offers. Its clock runs at many times real time, and so does the scale.
"""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import resource
import socket
import subprocess
import sys
import threading
import time
import tty
import uuid
from pathlib import Path
from typing import Any

from benchmarks.load_clients import Client
from benchmarks.page_processes import handles, resident_mb, threads

#: Runs ``weighd`` with a clock that is hurried and can be stepped (seconds in a file). What is kept
#: up to a bound (the newest batches, answers, pages of the database, entries that a start has still
#: to read) is kept up to a small one, so that it is full soon. ``leak`` has it keep 300 kB, and a
#: handle and a thread of each third batch.
LAUNCH = """
import os, sys, threading, time
from datetime import UTC, datetime, timedelta
from pathlib import Path
import weighd.main.daemon as daemon
from weighd.clock import SystemClock
speed, since, steps, leak = float(sys.argv[1]), float(sys.argv[2]), Path(sys.argv[3]), sys.argv[4]
class Clock(SystemClock):
    def __init__(self):
        super().__init__(speed)
        self._wall = datetime.fromtimestamp(since + (time.time() - since) * speed, UTC)
    def utc(self):
        at = datetime.fromisoformat(super().utc()) + timedelta(seconds=float(steps.read_text()))
        return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
daemon.SystemClock = Clock
import weighd.station.answers as answers, weighd.station.off_bench as off_bench
import weighd.http.keys as keys, weighd.storage.sqlite as sqlite
from weighd.main.start_kept import StartKept
answers.KEYS_KEPT = keys.KEYS_KEPT = 32
StartKept.keep_up.__defaults__ = (50,)
off_bench.MOST_OVER, connect = 4, sqlite._connect
def small(*asked):
    it = connect(*asked)
    it.execute("PRAGMA cache_size = 32")
    return it
sqlite._connect = small
if leak == "leak":
    kept, command = [], daemon.Runner.command
    async def keeping(self, asked):
        if asked.do == "start":
            kept.append(bytearray(os.urandom(300_000)))
            if len(kept) % 3 == 0:
                kept.append(open(os.devnull))
                threading.Thread(target=threading.Event().wait, daemon=True).start()
        return await command(self, asked)
    daemon.Runner.command = keeping
sys.argv = ["weighd", *sys.argv[5:]]
from weighd.cli.app import main
main()
"""
FORMULA = """
name = "Soak mix"
scenario = "Invented, for the benchmark."
[ingredients]
water = { name = "Water" }
sugar = { name = "Sugar" }
[[additions]]
ingredient = "water"
target = "500 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "100 g"
tolerance = "1 %"
"""
HZ, VESSEL_G = 10.0, 300.0
#: A batch that takes longer than this, in real seconds, is given up.
LONGEST_S = 30.0


class Scale:
    """A pty that prints what stands on it, and can be unplugged."""

    def __init__(self, link: Path, speed: float) -> None:
        self.link, self.grams = link, 0.0
        self._every = 1 / (HZ * speed)
        self._turn = threading.Lock()
        self._ends: tuple[int, int] | None = None
        self._over = threading.Event()
        self.plug()
        threading.Thread(target=self._run, daemon=True).start()

    def plug(self) -> None:
        """A new tty under the same name."""
        with self._turn:
            master, slave = os.openpty()
            tty.setraw(slave)
            os.set_blocking(master, False)
            self.link.unlink(missing_ok=True)
            self.link.symlink_to(os.ttyname(slave))
            self._ends = master, slave

    def unplug(self) -> None:
        """What a reader sees of a pulled cable."""
        with self._turn:
            for fd in self._ends or ():
                os.close(fd)
            self._ends = None

    def end(self) -> None:
        """No more of it."""
        self._over.set()
        self.unplug()

    def _run(self) -> None:
        due = time.monotonic()
        while not self._over.is_set():
            due = max(due + self._every, time.monotonic() - 1)
            time.sleep(max(0.0, due - time.monotonic()))
            with self._turn, contextlib.suppress(OSError):
                if self._ends is not None:
                    os.write(self._ends[0], b"ST,+%9.1f g\r\n" % self.grams)


class Kitchen:
    """The station, its scale and its cook."""

    def __init__(self, place: Path, speed: float, *, leak: bool = False) -> None:
        self.place, self.speed, self.leak = place, speed, leak
        self.data = place / "data"
        (place / "formulas").mkdir(parents=True)
        (place / "formulas/mix.toml").write_text(FORMULA)
        self.steps, self.since = place / "steps", time.time()
        self.steps.write_text("0")
        self.scale = Scale(place / "scale", speed)
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.broker = free.getsockname()[1]
        self.config = place / "weighd.toml"
        self.config.write_text(
            '[http]\nport = 0\n[station]\nname = "soak"\ndata = "data"\nformulas = "formulas"\n'
            '[log]\nlevel = "error"\n[scales.bench]\n'
            f'port = "{place}/scale"\nshape = "status-sign-digits-unit"\ninterval_g = "0.1"\n'
            f'[floor]\nbroker = "mqtt://127.0.0.1:{self.broker}"\n'
        )
        self.starts, self.given_up, self.refused = list[float](), 0, 0
        self.clients = list[Client]()
        self.start()

    def start(self) -> None:
        """Start the daemon; how long that took is kept."""
        began = time.monotonic()
        more = [str(self.speed), str(self.since), str(self.steps), "leak" if self.leak else "whole"]
        command = [sys.executable, "-c", LAUNCH, *more, "serve", "--config", str(self.config)]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self.process.stdout is not None
        self.port = int(self.process.stdout.readline().rsplit(":", 1)[1].strip("/\n"))
        self.starts.append(time.monotonic() - began)
        self._line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)

    def ask(self, path: str, body: dict[str, Any] | None = None) -> tuple[int, Any]:
        """An answer of the daemon; 0 where there is none."""
        headers = {"Content-Type": "application/json", "Idempotency-Key": str(uuid.uuid4())}
        data = None if body is None else json.dumps(body)
        try:
            self._line.request("GET" if body is None else "POST", path, data, headers)
            answer = self._line.getresponse()
            return answer.status, json.loads(answer.read())
        except (OSError, http.client.HTTPException, ValueError):
            self._line.close()
            return 0, {}

    # --- the cook ---------------------------------------------------------------------------------

    def batch(self, mishap: Any = None) -> bool:
        """Weigh one batch, with a mishap in the middle of it; whether it came to its end."""
        ends = time.monotonic() + LONGEST_S
        self.scale.grams = 0.0
        wanted = {"formula": "mix", "operator": "Bench", "scale": "bench"}
        opened = ""
        while not opened and time.monotonic() < ends:
            opened = self.ask("/api/batches", wanted)[1].get("batch", "")
            time.sleep(0 if opened else 0.05)
        commands = f"/api/batches/{opened}/commands"
        while time.monotonic() < ends:
            state = self.ask("/api/state")[1].get("state")
            if state is None:
                time.sleep(0.05)
                continue
            batch = state["batch"]
            if batch is None or batch["id"] != opened or batch["status"] != "open":
                return True
            if mishap is not None and batch["current"] == 2:
                mishap()
                mishap, ends = None, time.monotonic() + LONGEST_S
                continue
            self._act(state["live"], batch, commands)
            time.sleep(0.4 / (HZ * self.speed) + 0.004)
        self.given_up += 1
        self.ask(commands, {"do": "abandon", "reason": "it does not come to its end"})
        return False

    def _act(self, live: Any, batch: Any, commands: str) -> None:
        """What a cook does who sees this."""
        can = live["can"]
        if live["phase"] == "judged" and live["verdict"] == "on target":
            self._do(commands, {"do": "accept"})
        elif "resume" in can:
            self._do(commands, {"do": "resume"})
        elif live["tare_g"] is None:
            self.scale.grams = max(self.scale.grams, VESSEL_G)
            stands = live["gross_g"] is not None and float(live["gross_g"]) == self.scale.grams
            if "tare" in can and live["settled"] and stands:
                self._do(commands, {"do": "tare", "confirm": True})
        elif live["phase"] in ("ready", "awaiting vessel", "pouring", "judged"):
            target = float(batch["additions"][batch["current"] - 1]["target_g"])
            self.scale.grams = float(live["tare_g"]) + target

    def _do(self, commands: str, asked: dict[str, Any]) -> None:
        self.refused += self.ask(commands, asked)[0] not in (0, 200, 201)

    # --- what is done to it -----------------------------------------------------------------------

    def pull(self) -> None:
        """The cable is pulled, and put back."""
        self.scale.unplug()
        time.sleep(3 / self.speed)
        self.scale.plug()

    def kill(self) -> None:
        """The power goes, as far as a process can tell."""
        self.process.kill()
        self.process.wait()
        self.start()

    def full(self) -> None:
        """No file may grow for a while; what is pressed meanwhile is refused."""
        pid, none = self.process.pid, resource.RLIM_INFINITY
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (4096, none))
        for _ in range(5):
            state = self.ask("/api/state")[1].get("state")
            if state and state["batch"]:
                name = f"/api/batches/{state['batch']['id']}/commands"
                self._act(state["live"], state["batch"], name)
            time.sleep(0.05)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (none, none))

    def step(self, seconds: float) -> None:
        """The wall clock is set."""
        self.steps.write_text(str(float(self.steps.read_text()) + seconds))

    def come_and_go(self, kinds: tuple[str, ...]) -> None:
        """Pages that were here go, others come; one of them is deaf."""
        for one in self.clients:
            with contextlib.suppress(OSError):
                one.read()
            one.socket.close()
        self.clients = []
        for kind in kinds:
            with contextlib.suppress(OSError):
                self.clients.append(Client("127.0.0.1", self.port, "/api/live", kind, whole=False))

    def broker_for(self, seconds: float) -> None:
        """Somebody listens where the broker should be, and hangs up."""

        def hang_up() -> None:
            with (
                contextlib.suppress(OSError),
                socket.create_server(("127.0.0.1", self.broker)) as it,
            ):
                it.settimeout(seconds)
                it.accept()[0].close()

        threading.Thread(target=hang_up, daemon=True).start()

    # --- what is looked at ------------------------------------------------------------------------

    def sample(self) -> dict[str, float]:
        """What the daemon holds, and what lies in its folder."""
        pid, files = self.process.pid, [one for one in self.data.rglob("*") if one.is_file()]
        return {
            "memory, MB": resident_mb(pid),
            "handles": handles(pid),
            "threads": threads(pid),
            "files": len(files),
            "log, MB": self._size("weighd.db-wal"),
            "record, MB": self._size("weighd.db"),
        }

    def _size(self, name: str) -> float:
        path = self.data / name
        return path.stat().st_size / 1e6 if path.exists() else 0.0

    def end(self) -> None:
        """Stop all of it."""
        self.come_and_go(())
        self.process.terminate()
        self.process.wait()
        self.scale.end()
