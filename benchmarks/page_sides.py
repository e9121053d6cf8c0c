"""The two sides that `page.py` compares, each a process on a pty: weighd, and the floor."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import threading
import time
import tty
import urllib.error
import urllib.request
import uuid
from pathlib import Path
from typing import Any

FORMULA = """
name = "Bench mix"
scenario = "Invented, for the benchmark."
[ingredients]
water = { name = "Water" }
milk = { name = "Milk" }
[[additions]]
ingredient = "water"
target = "2000 g"
tolerance = "1 %"
[[additions]]
ingredient = "milk"
target = "3000 g"
tolerance = "1 %"
"""
#: The bowl and the first addition's target, in tenths of a gram.
VESSEL, TARGET = 3124, 20_000
#: What a second of pouring adds, in tenths of a gram: 14 g/s.
FLOW = 140
#: The element that has the number, on either page.
NUMBER = "#number, [data-testid=number-main]"
#: Readings a second while nothing is poured: a scale that falls silent would be told of.
REST_HZ = 10


class PtyWriter:
    """A scale by hand: a pty that says one weight all the time, or pours."""

    def __init__(self, link: Path) -> None:
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        link.symlink_to(os.ttyname(self._slave))
        self.weight = 0
        self._chance = random.Random(1)
        self._resting, self._ended = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._rest, daemon=True)
        self._thread.start()

    def rest(self, *, on: bool) -> None:
        """Whether the weight is said while nothing is poured."""
        (self._resting.set if on else self._resting.clear)()

    def say(self, *, moving: bool) -> float:
        """One line; when it was written, in seconds."""
        flag = "MV" if moving else "ST"
        line = f"{flag},+{self.weight / 10:>9.1f} g\r\n".encode()
        now = time.monotonic()
        os.write(self._master, line)
        return now

    def pour(self, seconds: float, hz: float) -> list[tuple[int, float]]:
        """Pour, another weight in every line: (tenths of a gram, when it was written, in seconds).

        Lines come a quarter early or late, so that they keep no step with the frames of a screen.
        """
        self.rest(on=False)
        written, due = [], time.monotonic()
        end = due + seconds
        while due < end:
            due += self._chance.uniform(0.75, 1.25) / hz
            time.sleep(max(0.0, due - time.monotonic()))
            self.weight += max(1, round(FLOW / hz))
            written.append((self.weight, self.say(moving=True)))
        return written

    def close(self) -> None:
        """Take the tty away."""
        self._ended.set()
        self._thread.join()
        os.close(self._master)
        os.close(self._slave)

    def _rest(self) -> None:
        while not self._ended.wait(1 / REST_HZ):
            if self._resting.is_set():
                self.say(moving=False)


class Side:
    """One process under test and its scale. ``shown`` reads a weight off what its page shows."""

    name = "floor"

    def __init__(self, place: Path) -> None:
        self.place = place
        self.scale = PtyWriter(place / f"{self.name}-scale")
        self.process = subprocess.Popen(self.command(), stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.url = self.process.stdout.readline().split()[-1]

    def command(self) -> list[str]:
        """How to start it."""
        return [sys.executable, "-m", "benchmarks.page_floor", str(self.place / "floor-scale")]

    @property
    def live(self) -> str:
        """Where its websocket is."""
        return self.url.replace("http", "ws") + "live"

    def shown(self, text: str) -> int | None:
        """The weight on the scale in tenths of a gram while the page shows ``text``."""
        return round(10 * float(text.partition(",")[2].strip("+ g"))) if "," in text else None

    def begin(self) -> None:
        """Make it ready to pour."""
        self.scale.rest(on=True)

    def end(self) -> None:
        """Stop it."""
        self.process.terminate()
        self.process.wait()
        self.scale.close()


class Station(Side):
    """weighd, with a batch open and its bowl tared."""

    name = "weighd"

    def command(self) -> list[str]:
        """How to start it."""
        config = self.place / "weighd.toml"
        (self.place / "formulas").mkdir()
        (self.place / "formulas/mix.toml").write_text(FORMULA)
        config.write_text(
            '[http]\nport = 0\n[station]\ndata = "data"\nformulas = "formulas"\n'
            f'[scales.bench]\nport = "{self.place}/weighd-scale"\n'
            'shape = "status-sign-digits-unit"\ninterval_g = "0.1"\nmax_g = 60000\n'
            '[log]\nlevel = "error"\n'
        )
        return [sys.executable, "-m", "weighd", "serve", "--config", str(config)]

    @property
    def live(self) -> str:
        return self.url.replace("http", "ws") + "api/live"

    def shown(self, text: str) -> int | None:
        """The page of a pour shows what is to go."""
        digits = text.translate(
            {ord("\N{NARROW NO-BREAK SPACE}"): "", ord("\N{MINUS SIGN}"): "-", ord(","): "."}
        )
        try:
            return VESSEL + TARGET - round(10 * float(digits))
        except ValueError:
            return None

    def begin(self) -> None:
        """Open a batch, set the bowl down, tare it."""
        self.scale.weight = VESSEL
        self.scale.rest(on=True)
        self.batch = self.ask(
            "api/batches", {"formula": "mix", "operator": "Bench", "scale": "bench"}
        )["batch"]
        self.command_until("tare")

    def command_until(self, what: str, **more: Any) -> None:
        """Give a command as soon as it is taken."""
        for _ in range(100):
            try:
                self.ask(f"api/batches/{self.batch}/commands", {"do": what, "by": "Bench", **more})
            except urllib.error.HTTPError as error:
                said = error.read().decode()
                time.sleep(0.1)
            else:
                return
        raise RuntimeError(f"{what}: {said}")

    def ask(self, path: str, body: dict[str, Any] | None = None) -> Any:
        """An answer of the daemon."""
        data = None if body is None else json.dumps(body).encode()
        headers = {"Content-Type": "application/json", "Idempotency-Key": str(uuid.uuid4())}
        with urllib.request.urlopen(
            urllib.request.Request(self.url + path, data, headers)
        ) as answer:
            return json.load(answer)
