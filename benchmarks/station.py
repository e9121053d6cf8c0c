"""Many scales on one daemon: what a reading costs on its way to the page, and how late it is there.

    python benchmarks/station.py [--scales 64] [--hz 20] [--clients 4] [--seconds 10]

Each scale is a real pty on which every line shows another weight; most pour and rest by turns, so
that the detector works. A batch is open on the first, so that an addition is judged and guided too.
The clock runs from the write of a line until a websocket client has been shown that weight or a
newer one of that scale: a page is given the newest of what changed, not every number. No reading
may be lost: the station's own count is held against the lines written.

The floor reads the same ptys in one event loop and passes each line on to every client as it is:
no decoding, no detector, no picture. Clients and writer are processes of their own. Times are of
this machine and this run; the ratio is what means something.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import multiprocessing as mp
import os
import subprocess
import sys
import tempfile
import time
import tty
import urllib.error
import urllib.request
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import websockets

FLOOR = """
import asyncio, os, sys, websockets
clients = set()
async def main():
    loop = asyncio.get_running_loop()
    async def take(socket):
        clients.add(socket)
        try: await socket.wait_closed()
        finally: clients.discard(socket)
    async with websockets.serve(take, "127.0.0.1", 0) as server:
        for name in os.listdir(sys.argv[1]):
            fd = os.open(os.path.join(sys.argv[1], name), os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
            def ready(fd=fd, name=name):
                for line in os.read(fd, 4096).decode().splitlines():
                    websockets.broadcast(clients, name + line)
            loop.add_reader(fd, ready)
        print(f"at http://127.0.0.1:{server.sockets[0].getsockname()[1]}/", flush=True)
        await asyncio.Future()
asyncio.run(main())
"""
FORMULA = """
name = "Bench mix"
scenario = "Invented, for the benchmark."
[ingredients]
water = { name = "Water" }
[[additions]]
ingredient = "water"
target = "2000 g"
tolerance = "1 %"
"""
#: Tenths of a gram a line, while it pours; so many lines it pours, and then as many it rests.
POUR, TURN = 7, 40
VESSEL = 3124


def shown(n: int) -> int:
    """The n-th weight of a scale in tenths of a gram; at rest the last digit tells lines apart."""
    turns, rest = divmod(n, 2 * TURN)
    return VESSEL + turns * TURN * POUR + (rest * POUR if rest < TURN else TURN * POUR + rest % 2)


def write(fds: list[tuple[str, int]], hz: float, lines: int, go: Connection) -> None:
    """The scales: ``lines`` lines each, evenly spread; what was written when goes back."""
    go.recv()
    begin, times = time.monotonic() + 0.1, {name: list[float]() for name, _ in fds}
    for n in range(lines):
        weight = shown(n)
        line = f"{'MV' if n % (2 * TURN) < TURN else 'ST'},+{weight / 10:>9.1f} g\r\n".encode()
        for k, (name, fd) in enumerate(fds):
            due = begin + (n + k / len(fds)) / hz
            if (wait := due - time.monotonic()) > 0:
                time.sleep(wait)
            times[name].append(time.monotonic())
            os.write(fd, line)
    go.send(times)


def watch(url: str, seconds: float, names: list[str], back: Connection) -> None:
    """One client: when which weight of which scale was there. Parsed when all is over."""

    async def listen() -> list[tuple[float, str | bytes]]:
        got = []
        async with websockets.connect(url, compression=None, max_size=None) as socket:
            back.send("ready")
            end = time.monotonic() + seconds
            while (left := end - time.monotonic()) > 0:
                try:
                    got.append((0.0, await asyncio.wait_for(socket.recv(), left)))
                except TimeoutError:
                    break
                got[-1] = (time.monotonic(), got[-1][1])
        return got

    got = asyncio.run(listen())
    seen: dict[str, list[tuple[float, str]]] = {name: [] for name in names}
    for t, frame in got:
        text = str(frame)
        if not text.startswith("{"):
            seen[text[:3]].append((t, text.partition(",")[2].strip("+ g")))
            continue
        told = json.loads(text)
        for name, scale in (told.get("scales") or told.get("state", {}).get("scales", {})).items():
            if scale["reading"]:
                seen[name].append((t, scale["reading"]["grams"]))
    back.send((len(got), sum(len(str(frame)) for _, frame in got), seen))


def late(times: list[float], seen: list[tuple[float, str]]) -> list[float]:
    """Milliseconds from each write to the moment a client had that weight or a newer one."""
    out, at = list[float](), 0
    for t, grams in seen:
        n = next((k for k in range(at, len(times)) if f"{shown(k) / 10:.1f}" == grams), None)
        if n is None or times[n] > t:
            continue
        out += [1000 * (t - times[k]) for k in range(at, n + 1)]
        at = n + 1
    return out


def cpu(pid: int) -> float:
    """Seconds of processor time a process has had."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def call(url: str, body: dict[str, Any] | None = None) -> Any:
    """An answer of the daemon."""
    data = None if body is None else json.dumps(body).encode()
    headers = {"Content-Type": "application/json", "Idempotency-Key": str(time.monotonic())}
    with urllib.request.urlopen(urllib.request.Request(url, data, headers)) as answer:
        return json.load(answer)


class Side:
    """One process under test, its scales and its clients."""

    def __init__(self, given: argparse.Namespace, place: Path, command: list[str]) -> None:
        self.given, self.ours = given, "serve" in command
        self.names = [f"s{n:02d}" for n in range(given.scales)]
        (place / "ends").mkdir(exist_ok=True)
        self.held, self.masters = [], []
        for name in self.names:
            master, slave = os.openpty()
            tty.setraw(slave)
            self.held += [master, slave]
            (place / "ends" / name).unlink(missing_ok=True)
            (place / "ends" / name).symlink_to(os.ttyname(slave))
            self.masters.append((name, master))
        began = time.monotonic()
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.url = self.process.stdout.readline().split()[-1]
        self.start_s = time.monotonic() - began

    def measure(self) -> dict[str, float]:
        """Write, watch, reckon."""
        given, lines = self.given, int(self.given.seconds * self.given.hz)
        context, ends = mp.get_context("fork"), []
        go, theirs = context.Pipe()
        context.Process(target=write, args=(self.masters, given.hz, lines, theirs)).start()
        where = self.url.replace("http", "ws") + ("api/live" if self.ours else "")
        for _ in range(given.clients):
            mine, back = context.Pipe()
            args = (where, given.seconds + 2, self.names, back)
            context.Process(target=watch, args=args).start()
            ends.append(mine)
        for one in ends:
            one.recv()
        before = cpu(self.process.pid)
        go.send("go")
        if self.ours:
            time.sleep(2.5)  # the first rest
            self._begin()
        times = go.recv()
        used = (cpu(self.process.pid) - before) / (
            times[self.names[0]][-1] - times[self.names[0]][0]
        )
        told = [one.recv() for one in ends]
        out = [
            ms for _, _, seen in told for name in self.names for ms in late(times[name], seen[name])
        ]
        out.sort()
        written = lines * len(self.names)
        lost = 0
        if self.ours:
            scales = call(self.url + "api/scales")["scales"]
            lost = written - sum(one["readings"] for one in scales.values())
        return {
            "p50": out[len(out) // 2],
            "p99": out[int(0.99 * (len(out) - 1))],
            "max": out[-1],
            "cpu": 100 * used,
            "lost": lost,
            "unseen": written * given.clients - len(out),
            "frames": sum(one[0] for one in told) / given.clients / given.seconds,
            "kB": sum(one[1] for one in told) / given.clients / given.seconds / 1000,
        }

    def _begin(self) -> None:
        """A batch on the first scale, tared as it stands."""
        given = {"formula": "mix", "operator": "Bench", "scale": self.names[0]}
        opened, said = call(self.url + "api/batches", given), ""
        for _ in range(40):
            try:
                url = self.url + f"api/batches/{opened['batch']}/commands"
                call(url, {"do": "tare", "confirm": True})
            except urllib.error.HTTPError as error:
                said = error.read().decode()
                time.sleep(0.1)
            else:
                return
        print(f"  the batch could not be tared, so its addition is not guided: {said}")

    def end(self) -> None:
        """Stop it."""
        self.process.terminate()
        self.process.wait()
        for fd in self.held:
            os.close(fd)


def main() -> None:
    """Measure both sides and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scales", type=int, default=64)
    parser.add_argument("--hz", type=float, default=20)
    parser.add_argument("--clients", type=int, default=4)
    parser.add_argument("--seconds", type=float, default=10)
    given = parser.parse_args()
    print(f"{given.scales} scales, {given.hz:g} readings a second each, {given.clients} clients")
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "formulas").mkdir()
        (place / "formulas/mix.toml").write_text(FORMULA)
        config = place / "weighd.toml"
        config.write_text(
            '[http]\nport = 0\n[station]\ndata = "data"\nformulas = "formulas"\n'
            '[log]\nlevel = "error"\n'
            + "".join(
                f'[scales.s{n:02d}]\nport = "{place}/ends/s{n:02d}"\n'
                'shape = "status-sign-digits-unit"\ninterval_g = "0.1"\nmax_g = 60000\n'
                for n in range(given.scales)
            )
        )
        weighd = str(Path(sys.executable).with_name("weighd"))
        for name, command in (
            ("floor", [sys.executable, "-c", FLOOR, str(place / "ends")]),
            ("weighd", [weighd, "serve", "--config", str(config)]),
        ):
            side = Side(given, place, command)
            try:
                found[name] = row = side.measure()
            finally:
                side.end()
            print(
                f"  {name:<7} p50 {row['p50']:6.2f} ms  p99 {row['p99']:6.2f} ms  max"
                f" {row['max']:6.1f} ms  {row['cpu']:5.1f} % of a core  lost {row['lost']:.0f} "
                f" unseen {row['unseen']:.0f}\n          a client: {row['frames']:.0f} frames/s,"
                f" {row['kB']:.0f} kB/s; up in {side.start_s:.1f} s"
            )
    ratio = {key: found["weighd"][key] / found["floor"][key] for key in ("p50", "p99", "cpu")}
    print("  ratio   " + "  ".join(f"{key} {value:.1f}" for key, value in ratio.items()))


if __name__ == "__main__":
    main()
