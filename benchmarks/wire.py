"""Decoding beside a bare regular expression, and from bytes on a tty to a reading.

    python benchmarks/wire.py [--reports 20000] [--scales 64] [--hz 20] [--seconds 10]

1. Reports a second on one core, for shapes of several kinds, in chunks of one report (as a scale
   sends them), of 64 bytes and of 4096.
   The baseline is a loop that does the least that gives weights: ``re.finditer`` with a pattern
   written by hand for that one print, and a ``Decimal`` of the digits with its sign. It checks
   nothing, resynchronises nothing and keeps no evidence; a second one also makes the same
   ``Reading`` of each. Two loads: a pour, where no report is
   like the one before, and a kitchen, where a scale mostly rests.
2. Time from writing a report to a pseudo-terminal until its reading is there, with so many scales
   at so many reports a second, read by the serial driver as the daemon does it (a thread a scale,
   decoding in the event loop); and the processor time of that process.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import select
import statistics
import subprocess
import sys
import time
import tty
from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import partial
from pathlib import Path

if __name__ == "__main__":  # run from a checkout, without being installed
    _ROOT = Path(__file__).resolve().parent.parent
    sys.path[:0] = [str(_ROOT), str(_ROOT / "drivers")]

from tests.drivers.wire_world import PRINTS, Load, scenario
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd_drivers.finder import find
from weighd_drivers.lines import LineDecoder
from weighd_drivers.shape_text import named
from weighd_drivers.shapes import WireShape

PATTERNS = {
    "word, plus": rb"(?:ST|US|OL|UL),([+-]) *([0-9.]+) g\r\n",
    "plain": rb" *(-?)([0-9.]+) g\r\n",
    "unit when stable": rb" *(-?)([0-9.]+)(?: g)?\r\n",
    "frame, line end": rb"\x02[SMOU]([+-]) *([0-9.]+) g\x03\r\n",
    "xor": rb"\x02[SMOU]([+-]) *([0-9.]+) g\x03.",
    "line with a sum": rb"(?:ST|US|OL|UL),() *([0-9.-]+) g[0-9A-F]{2}\r\n",
}
SHIPPED = {"word, plus": "status-digits-unit", "plain": "digits-unit"}


def bare(pattern: re.Pattern[bytes], data: bytes) -> int:
    """The baseline: weights out of bytes, and nothing else."""
    out = []
    for found in pattern.finditer(data):
        value = Decimal(found[2].decode("ascii"))
        out.append(-value if found[1] == b"-" else value)
    return len(out)


def bare_readings(pattern: re.Pattern[bytes], data: bytes) -> int:
    """The baseline with a :class:`Reading` made of each: what the station takes."""
    out = []
    for found in pattern.finditer(data):
        value = Decimal(found[2].decode("ascii"))
        value = -value if found[1] == b"-" else value
        out.append(Reading(0.0, value, Unit.G, shown=value, raw=found[0]))
    return len(out)


def decode(shape: WireShape, data: bytes, size: int) -> int:
    """The decoder, fed in chunks."""
    decoder = LineDecoder(shape)
    return sum(len(decoder.feed(0.0, data[at : at + size])) for at in range(0, len(data), size))


def rates(works: Sequence[Callable[[], int]], rounds: int = 7) -> list[float]:
    """Reports a second of each, the best of some rounds, in processor time; by turns, so that a
    machine that grows slow is slow for all."""
    out = [0.0] * len(works)
    for _ in range(rounds):
        for n, work in enumerate(works):
            began = time.process_time()
            count = work()
            out[n] = max(out[n], count / (time.process_time() - began))
    return out


def decoding(reports: int) -> None:
    """A table of rates."""
    print(
        f"{'print':18}{'shape':20}{'load':6}{'bare/s':>9}{'+Reading':>9}{'each':>9}{'64 B':>9}"
        f"{'4 KiB':>9}  bare ÷ each, 64 B, 4 KiB; +Reading ÷ 4 KiB"
    )
    for one in PRINTS:
        if one.name not in PATTERNS:
            continue
        pattern = re.compile(PATTERNS[one.name], re.DOTALL)
        learned = find(b"".join(one.report(load) for load in scenario(one))).shape
        assert learned is not None
        shapes = {"worked out": learned}
        if one.name in SHIPPED:
            shapes[SHIPPED[one.name]] = named(SHIPPED[one.name])
        loads = {
            "pour": [Load(Decimal(n % 30_000) / 10, stable=False) for n in range(reports)],
            "rest": [Load(Decimal(n // 200 % 300), stable=True) for n in range(reports)],
        }
        for what, line in loads.items():
            data = b"".join(one.report(load) for load in line)
            for name, shape in shapes.items():
                # A report at a time, as a scale sends them; then more.
                sizes = (len(data) // reports, 64, 4096)
                works = [partial(bare, pattern, data), partial(bare_readings, pattern, data)]
                works += [partial(decode, shape, data, size) for size in sizes]
                floor, made, each, small, large = rates(works)
                print(
                    f"{one.name:18}{name:20}{what:6}{floor:9.0f}{made:9.0f}{each:9.0f}{small:9.0f}"
                    f"{large:9.0f}{floor / each:9.2f}{floor / small:6.2f}{floor / large:6.2f}"
                    f"{made / large:6.2f}"
                )


READER = """
import asyncio, json, resource, sys, threading, time
from weighd.station.ports import Bytes
from weighd_drivers.serial_port import DRIVER
paths, seconds = sys.argv[2:], float(sys.argv[1])
seen = []
async def main():
    loop, stop = asyncio.get_running_loop(), threading.Event()
    def take(n, decoder, t, data):
        for reading in decoder.feed(t, data):
            seen.append((n, int(reading.grams), time.perf_counter()))
    for n, path in enumerate(paths):
        settings = DRIVER.check({"port": path, "shape": "status-digits-unit"})
        source, decoder = DRIVER.source(settings), DRIVER.decoder(settings)
        def deliver(signal, n=n, decoder=decoder):
            if isinstance(signal, Bytes):
                loop.call_soon_threadsafe(take, n, decoder, signal.t, signal.data)
        run = (deliver, stop, time.perf_counter)
        threading.Thread(target=source.run, args=run, daemon=True).start()
    await asyncio.sleep(1.5)
    before = resource.getrusage(resource.RUSAGE_SELF)
    print("ready", flush=True)
    await asyncio.sleep(seconds + 0.5)
    after = resource.getrusage(resource.RUSAGE_SELF)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    stop.set()
    print(json.dumps({"seen": seen, "cpu": used / (seconds + 0.5)}), flush=True)
asyncio.run(main())
"""


def latency(scales: int, hz: float, seconds: float) -> None:
    """One line: quantiles of the time from a write to its reading, and the reader's processor."""
    pairs = [os.openpty() for _ in range(scales)]
    for master, slave in pairs:
        tty.setraw(master)
        tty.setraw(slave)
    paths = [os.ttyname(slave) for _, slave in pairs]
    command = [sys.executable, "-c", READER, str(seconds), *paths]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, env=environment) as reader:
        assert reader.stdout is not None
        assert reader.stdout.readline() == b"ready\n"
        sent: dict[tuple[int, int], float] = {}
        start = time.perf_counter()
        for n in range(int(seconds * hz * scales)):
            # Each scale at a moment of its own, as they are not in step.
            wait = start + n / (hz * scales) - time.perf_counter()
            if wait > 0:
                select.select([], [], [], wait)
            scale, count = n % scales, n // scales
            sent[scale, count] = time.perf_counter()
            os.write(pairs[scale][0], b"ST,GS,+%7d.0 g\r\n" % count)
        told = json.loads(reader.stdout.readline())
    took = [1000 * (t - sent[scale, count]) for scale, count, t in told["seen"]]
    cuts = statistics.quantiles(took, n=1000)
    print(
        f"{scales} scales x {hz:g} Hz: {len(took)} of {len(sent)} readings; ms p50 {cuts[499]:.2f}"
        f", p99 {cuts[989]:.2f}, p99.9 {cuts[998]:.2f}; CPU {100 * told['cpu']:.1f} % of a core"
    )


def main() -> None:
    """Both parts."""
    options = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    options.add_argument("--reports", type=int, default=20_000)
    options.add_argument("--scales", type=int, default=64)
    options.add_argument("--hz", type=float, default=20)
    options.add_argument("--seconds", type=float, default=10)
    given = options.parse_args()
    if given.reports:
        decoding(given.reports)
    if given.scales:
        latency(given.scales, given.hz, given.seconds)


if __name__ == "__main__":
    main()
