"""A scale on a pseudo-terminal: real bytes on a real tty, which can be unplugged and replugged.

In a test::

    with PtyScale(tmp_path / "scale") as scale:
        scale.bench.vessel(500)
        ...                       # open str(tmp_path / "scale") as a serial port
        scale.unplug()            # the reader sees what it sees of a pulled cable
        scale.plug()              # a new tty under the same name

By hand: ``python tests/pty_scale.py /tmp/scale`` and then commands on standard input: ``vessel
300``, ``pour 40``, ``stop``, ``tap 2``, ``take 5``, ``lift``, ``put back``, ``bump``, ``hand``,
``zero``, ``unplug``, ``plug``, ``silent``, ``speak``, ``garbage``, ``half``, ``send TEXT``,
``look``, ``quit``. A pseudo-terminal drops parity and seven-bit framing: it proves neither.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import select
import sys
import threading
import time
import tty
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

if __name__ == "__main__":  # run from a checkout, without being installed
    _ROOT = Path(__file__).resolve().parent.parent
    sys.path[:0] = [str(_ROOT), str(_ROOT / "drivers")]

from weighd.station.ports import Bytes
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_parameters import BenchParameters, Print


class PtyScale:
    """Writes what a simulated bench prints to a tty whose name is ``link``, in real time.

    ``bench``  hands on the scale (:class:`SimulatedBench`). ``speed`` runs its time faster.
    ``sent``   every byte that reached the tty; ``received`` what the reader wrote to it.
    """

    def __init__(
        self,
        link: Path | str,
        parameters: BenchParameters | None = None,
        *,
        seed: int = 1,
        speed: float = 1.0,
        plugged: bool = True,
    ) -> None:
        self.link = Path(link)
        self.bench = SimulatedBench(parameters, seed=seed)
        self.sent = bytearray()
        self.received = bytearray()
        self._chance = random.Random(seed + 2)
        self._lock = threading.Lock()
        self._master: int | None = None
        self._cut: int | None = None
        self._stop = threading.Event()
        began = time.monotonic()
        self._now: Callable[[], float] = lambda: (time.monotonic() - began) * speed
        self._thread = threading.Thread(target=self._run, name="pty scale", daemon=True)
        if plugged:
            self.plug()

    def __enter__(self) -> PtyScale:
        self.start()
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _error: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        self.close()

    def start(self) -> None:
        """Begin to send."""
        self._thread.start()

    def close(self) -> None:
        """Stop sending and take the tty away."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(2.0)
        self.unplug()

    # --- the cable ----------------------------------------------------------------------------

    @property
    def plugged(self) -> bool:
        """Whether the tty is there."""
        with self._lock:
            return self._master is not None

    def plug(self) -> None:
        """Make a tty and give it the name ``link``."""
        with self._lock:
            if self._master is not None:
                return
            master, slave = os.openpty()
            tty.setraw(master)
            os.set_blocking(master, False)
            name = os.ttyname(slave)
            os.close(slave)  # else the reader would not notice the master going away
            fresh = self.link.with_name(self.link.name + ".new")
            fresh.unlink(missing_ok=True)
            fresh.symlink_to(name)
            fresh.replace(self.link)
            self._master = master

    def unplug(self) -> None:
        """Take the tty away: whoever reads it gets an error or an end."""
        with self._lock:
            if self._master is None:
                return
            self.link.unlink(missing_ok=True)
            os.close(self._master)
            self._master = None

    # --- mischief -----------------------------------------------------------------------------

    def send(self, data: bytes) -> None:
        """Put these bytes between two reports (or behind half a one, if one was cut)."""
        with self._lock:
            self._write(data)

    def garbage(self, count: int = 24) -> bytes:
        """Noise on the line: random bytes, which are returned."""
        noise = self._chance.randbytes(count)
        self.send(noise)
        return noise

    def half(self, keep: int | None = None) -> None:
        """Lose the end of the next report: only its first ``keep`` bytes come (random)."""
        with self._lock:
            self._cut = self._chance.randrange(1, 16) if keep is None else keep

    def silent(self, *, quiet: bool = True) -> None:
        """Say nothing from now on; ``quiet=False`` speaks again."""
        self.bench.hush(quiet=quiet)

    # --- the thread ---------------------------------------------------------------------------

    def _run(self) -> None:
        self.bench.begin(self._now)
        between = True
        while not self._stop.wait(0.002):
            for signal in self.bench.collect():
                if isinstance(signal, Bytes):
                    with self._lock:
                        data = signal.data
                        whole = between and data.endswith(b"\n")
                        between = data.endswith(b"\n")
                        if self._cut is not None and whole:
                            data, self._cut = data[: self._cut], None
                        self._write(data)
            with self._lock:
                self._listen()
        self.bench.end()

    def _write(self, data: bytes) -> None:
        """Write what fits; a tty that nobody reads is full, and drops the rest as a cable does."""
        if self._master is None:
            return
        with contextlib.suppress(BlockingIOError):
            written = os.write(self._master, data)
            self.sent += data[:written]

    def _listen(self) -> None:
        if self._master is None or not select.select([self._master], [], [], 0)[0]:
            return
        # With no reader the master reports EIO: that is no error here.
        with contextlib.suppress(OSError):
            self.received += os.read(self._master, 4096)


def _commands(scale: PtyScale) -> dict[str, Callable[[str], object]]:
    bench = scale.bench
    return {
        "vessel": lambda given: bench.vessel(float(given or 300)),
        "pour": lambda given: bench.pour(float(given or 40)),
        "stop": lambda _: bench.stop(),
        "tap": lambda given: bench.tap(float(given or 2)),
        "take": lambda given: bench.take(float(given or 5)),
        "lift": lambda _: bench.lift(),
        "put back": lambda _: bench.put_back(),
        "bump": lambda _: bench.bump(),
        "hand": lambda _: bench.rest_hand(),
        "zero": lambda _: bench.zero(),
        "unplug": lambda _: scale.unplug(),
        "plug": lambda _: scale.plug(),
        "silent": lambda _: scale.silent(),
        "speak": lambda _: scale.silent(quiet=False),
        "garbage": lambda _: scale.garbage(),
        "half": lambda _: scale.half(),
        "send": lambda given: scale.send(given.encode() + b"\r\n"),
        "look": lambda _: print(bench.picture(), flush=True),
    }


def main() -> None:
    """Run a scale on a tty and take commands from standard input."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("link", help="the name to give the tty, like /tmp/scale")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rate-hz", type=float, default=10.0)
    parser.add_argument("--bare", action="store_true", help="print digits and unit only")
    parser.add_argument("--comma", action="store_true", help="print a decimal comma")
    parser.add_argument("--kg", action="store_true", help="print kilograms")
    given = parser.parse_args()
    layout = Print(not given.bare, "," if given.comma else ".", "kg" if given.kg else "g")
    parameters = BenchParameters(rate_hz=given.rate_hz, printing=layout)
    with PtyScale(given.link, parameters, seed=given.seed) as scale:
        print(f"sending to {given.link}", flush=True)
        commands = _commands(scale)
        for line in sys.stdin:
            text = line.strip()
            if text == "quit":
                break
            name = next((one for one in commands if text == one or text.startswith(one + " ")), "")
            if not name:
                print(f"{text!r} is none of: {', '.join(commands)}, quit", flush=True)
                continue
            try:
                commands[name](text[len(name) :].strip())
            except ValueError as error:
                print(error, flush=True)


if __name__ == "__main__":
    main()
