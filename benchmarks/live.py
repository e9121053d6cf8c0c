"""From bytes on a tty to a websocket frame: the station beside a loop that only passes on.

    python benchmarks/live.py [--clients 20] [--hz 20] [--seconds 10]

Both sides are a process of their own reading a real pty; this process writes a weight that
changes with every line and takes the time until each of its websocket clients has seen it. The
floor reads the pty in an event loop and sends the line to everybody: no decoding, no judging, no
journal. Times are of this machine and this run; the ratio is what means something.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
import tty
from pathlib import Path

import websockets

FLOOR = """
import asyncio, os, sys, tty, websockets
clients = set()
async def main():
    fd = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK); tty.setraw(fd)
    async def take(socket):
        clients.add(socket)
        try: await socket.wait_closed()
        finally: clients.discard(socket)
    async with websockets.serve(take, "127.0.0.1", 0) as server:
        print(f"at http://127.0.0.1:{server.sockets[0].getsockname()[1]}/", flush=True)
        def ready():
            try: data = os.read(fd, 4096)
            except BlockingIOError: return
            websockets.broadcast(clients, data.decode())
        asyncio.get_running_loop().add_reader(fd, ready)
        await asyncio.Future()
asyncio.run(main())
"""


async def watch(url: str, seen: dict[str, list[float]], ready: asyncio.Event) -> None:
    """One client: note when each weight arrives."""
    async with websockets.connect(url) as socket:
        ready.set()
        async for frame in socket:
            now = time.perf_counter()
            text = str(frame)
            if text.startswith("{"):
                scales = json.loads(text).get("scales") or {}
                reading = (scales.get("bench") or {}).get("reading")
                text = reading["grams"] if reading else ""
            else:
                text = text[3:].strip("+ g\r\n")
            if text in seen:
                seen[text].append(now)


def line(path: str) -> tuple[int, int]:
    """A pty whose far end is found under ``path``."""
    master, slave = os.openpty()
    tty.setraw(slave)
    Path(path).unlink(missing_ok=True)
    Path(path).symlink_to(os.ttyname(slave))
    return master, slave


async def measure(command: list[str], path: str, arguments: argparse.Namespace) -> list[float]:
    """Milliseconds from each write to each client, for one side."""
    master, slave = line(path)
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)  # noqa: ASYNC220
    assert process.stdout is not None
    url = process.stdout.readline().split()[-1].replace("http", "ws")
    url += "api/live" if "weighd" in command[0] else ""
    seen: dict[str, list[float]] = {}
    written: dict[str, float] = {}
    readies = [asyncio.Event() for _ in range(arguments.clients)]
    tasks = [asyncio.create_task(watch(url, seen, ready)) for ready in readies]
    await asyncio.gather(*(ready.wait() for ready in readies))
    await asyncio.sleep(0.5)
    try:
        for n in range(int(arguments.seconds * arguments.hz)):
            weight = f"{100 + n / 10:.1f}"
            seen[weight] = []
            written[weight] = time.perf_counter()
            os.write(master, f"MV,+{weight:>9} g\r\n".encode())
            await asyncio.sleep(1 / arguments.hz)
        await asyncio.sleep(0.5)
    finally:
        for task in tasks:
            task.cancel()
        process.terminate()
        process.wait()
        os.close(master)
        os.close(slave)
    missing = sum(len(times) < arguments.clients for times in seen.values())
    if missing:
        print(f"  {missing} weights did not reach every client")
    return [1000 * (t - written[weight]) for weight, times in seen.items() for t in times]


def show(name: str, times: list[float]) -> tuple[float, float]:
    """Print a row; the median and the 99th percentile in milliseconds."""
    ordered = sorted(times)
    middle, late = statistics.median(ordered), ordered[int(0.99 * (len(ordered) - 1))]
    print(f"  {name:<8} median {middle:7.2f} ms   p99 {late:7.2f} ms   max {ordered[-1]:7.2f} ms")
    return middle, late


def main() -> None:
    """Measure both sides and print the ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=1)
    parser.add_argument("--hz", type=float, default=20)
    parser.add_argument("--seconds", type=float, default=10)
    arguments = parser.parse_args()
    print(f"{arguments.clients} clients, {arguments.hz:g} readings a second")
    with tempfile.TemporaryDirectory() as place:
        config = Path(place) / "weighd.toml"
        config.write_text(
            f'[http]\nport = 0\n[station]\ndata = "{place}/data"\nformulas = "{place}"\n'
            f'[scales.bench]\nport = "{place}/scale"\nshape = "status-sign-digits-unit"\n'
            'interval_g = "0.1"\n[log]\nlevel = "error"\n'
        )
        weighd = str(Path(sys.executable).with_name("weighd"))
        path = f"{place}/scale"
        floor = show(
            "floor", asyncio.run(measure([sys.executable, "-c", FLOOR, path], path, arguments))
        )
        ours = show(
            "weighd",
            asyncio.run(measure([weighd, "serve", "--config", str(config)], path, arguments)),
        )
    print(f"  ratio    median {ours[0] / floor[0]:7.2f}      p99 {ours[1] / floor[1]:7.2f}")


if __name__ == "__main__":
    main()
