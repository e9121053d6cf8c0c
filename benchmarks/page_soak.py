"""Whether a page and its station stay as small as they are, over a day of work at speed.

    python -m benchmarks.page_soak [--hours 16] [--speed 25]

The demonstration's kitchen runs at many times real time: a simulated cook weighs a batch every
twelve minutes of its day on a simulated scale of ten readings a second, while a real page in
Chromium shows the board, and then the other screens. What is left of the twelve minutes, in which
nothing changes, is let pass at once. At the same screen each time, after a forced collection,
Chromium is asked for the page's heap in use, its nodes and its listeners, and the system for the
daemon's memory, handles and threads.

A line is laid by least squares through the samples of the second half: what is kept up to a bound
(the newest batches, pages of the database, code that was needed for the first time) has filled by
then, and what has no bound goes on. What rises by more than is allowed there, and by more than
twice the standard error of the slope, counts as a leak. That the same
check finds one is shown by a second page beside it, which shows the formulas all day and keeps a
node, a listener and 4 kB four times a second of real time. Exit code 1: something leaks, or the
seeded leak was not found.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import subprocess
import sys
import tempfile
import time
import urllib.request
import uuid
from typing import Any

from playwright.async_api import Browser, CDPSession, Page

from benchmarks.page_browser import CONTEXT, chromium, metrics
from benchmarks.page_processes import handles, resident_mb, threads
from benchmarks.rising import slope

#: A batch every so many seconds of the kitchen's day.
TURN_S = 720.0
#: What a batch may take in real time.
LONGEST_S = 180.0
#: Weighed by turns; neither has steps after weighing, so that a batch is over when it is weighed.
FORMULAS = ("lemon-sorbet", "flatbread-dough")
SCREENS = ("records", "scales", "formulas", "trends", "lots", "find")
LEAK = """
globalThis.kept = [];
setInterval(() => {
  const node = document.createElement("p");
  node.addEventListener("click", () => {});
  kept.push(node, new Array(500).fill(kept.length));
}, 250)
"""
#: What is sampled, in which unit, and how much of it an hour may bring before it is asked about.
#: Of the heap some 40 kB are Chromium's own: records of requests for whoever looks on from outside,
#: and code that it compiles once more, as snapshots of it show.
LIMITS = {
    "heap, kB": 60.0,
    "nodes": 2.0,
    "listeners": 1.0,
    "daemon, MB": 0.5,
    "handles": 0.1,
    "threads": 0.1,
}
OF_DAEMON = ("daemon, MB", "handles", "threads")


class Kitchen:
    """The demonstration, with its cook at work."""

    def __init__(self, folder: str, speed: float) -> None:
        command = [sys.executable, "-m", "weighd", "demo", "--no-open", "--port", "0"]
        self.process = subprocess.Popen(
            [*command, "--speed", str(speed), "--data", folder],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        assert self.process.stdout is not None
        words = self.process.stdout.readline().split()
        self.url = next(it for it in words if it.startswith("http"))
        self.batches = 0

    def ask(self, path: str, body: dict[str, Any] | None = None) -> Any:
        """An answer of the daemon."""
        headers = {"Content-Type": "application/json", "Idempotency-Key": str(uuid.uuid4())}
        data = None if body is None else json.dumps(body).encode()
        with urllib.request.urlopen(
            urllib.request.Request(self.url + path, data, headers)
        ) as answer:
            return json.load(answer)

    def begin(self) -> str:
        """Start the next batch; its number."""
        formula = FORMULAS[self.batches % len(FORMULAS)]
        self.batches += 1
        asked = {"formula": formula, "batch_g": "800", "operator": "Bench"}
        return str(self.ask("api/batches", asked)["batch"])

    def weighing(self) -> bool:
        """Whether a batch is open."""
        batch = self.ask("api/state")["state"]["batch"]
        return batch is not None and batch["status"] == "open"


async def open_page(browser: Browser, url: str, script: str = "") -> tuple[Page, CDPSession]:
    """A page on the kitchen that may be asked what it holds."""
    context = await browser.new_context(**CONTEXT, service_workers="block")
    page = await context.new_page()
    if script:
        await page.add_init_script(script)
    await page.goto(url)
    session = await context.new_cdp_session(page)
    for what in ("Performance.enable", "HeapProfiler.enable"):
        await session.send(what)
    return page, session


async def holds(session: CDPSession) -> dict[str, float]:
    """What a page holds once what nobody needs is thrown away."""
    for _ in range(2):  # what the first sweep lets go, the second one takes
        await session.send("HeapProfiler.collectGarbage")
    told = await metrics(session)
    return {
        "heap, kB": told["JSHeapUsedSize"] / 1000,
        "nodes": told["Nodes"],
        "listeners": told["JSEventListeners"],
    }


async def turn(kitchen: Kitchen, page: Page, speed: float) -> float:
    """One batch at the board, then the other screens, ending at the list of formulas; how many
    seconds of the kitchen's day that took with what was let pass."""
    begun = time.monotonic()
    batch = await asyncio.to_thread(kitchen.begin)
    await go([page], "")
    while await asyncio.to_thread(kitchen.weighing):
        if time.monotonic() - begun > LONGEST_S:
            raise RuntimeError(f"{batch} does not come to its end: is this machine too busy?")
        await asyncio.sleep(0.1)
    for screen in (*SCREENS, f"records/{batch}", "start"):
        await go([page], screen)
        await asyncio.sleep(0.15)
    # no handle is kept of it: what a test holds is never let go
    await page.locator(".formulas").first.wait_for()
    passed = (time.monotonic() - begun) * speed
    if passed < TURN_S - 1:
        rest = {"do": "wait", "minutes": f"{(TURN_S - passed) / 60:.3f}"}
        await asyncio.to_thread(kitchen.ask, "api/simulation", rest)
    return max(TURN_S, passed)


async def go(pages: list[Page], screen: str) -> None:
    """Show a screen."""
    await asyncio.gather(*(it.evaluate(f"location.hash = '#/{screen}'") for it in pages))


async def soak(given: argparse.Namespace) -> tuple[list[float], list[list[dict[str, float]]]]:
    """Let the day pass; when was sampled, in hours of it, and the samples of both pages."""
    hours, samples = list[float](), [list[dict[str, float]](), list[dict[str, float]]()]
    with tempfile.TemporaryDirectory() as folder:
        kitchen = Kitchen(folder, given.speed)
        try:
            async with chromium() as browser:
                both = [await open_page(browser, kitchen.url, it) for it in ("", LEAK)]
                pages = [page for page, _ in both]
                await go(pages, "start")
                print("| hour | batches | " + " | ".join(LIMITS) + " | leaking page |")
                print("|---" * (len(LIMITS) + 3) + "|")
                told = -1
                while not hours or hours[-1] < given.hours:
                    passed = await turn(kitchen, pages[0], given.speed)
                    hours.append((hours[-1] if hours else 0.0) + passed / 3600)
                    pid = kitchen.process.pid
                    daemon = dict(
                        zip(OF_DAEMON, (resident_mb(pid), handles(pid), threads(pid)), strict=True)
                    )
                    for (_, session), kept in zip(both, samples, strict=True):
                        kept.append({**await holds(session), **daemon})
                    if int(hours[-1]) > told:
                        told = int(hours[-1])
                        row(hours[-1], kitchen.batches, samples[0][-1], samples[1][-1])
        finally:
            kitchen.process.terminate()
            kitchen.process.wait()
    return hours, samples


def row(hour: float, batches: int, page: dict[str, float], leaking: dict[str, float]) -> None:
    """One line of the table."""
    values = " | ".join(f"{page[name]:.1f}".removesuffix(".0") for name in LIMITS)
    other = f"{leaking['heap, kB']:.0f} kB, {leaking['nodes']:.0f}, {leaking['listeners']:.0f}"
    print(f"| {hour:.1f} | {batches} | {values} | {other} |", flush=True)


def judge(hours: list[float], samples: list[list[dict[str, float]]]) -> bool:
    """Print what rises; whether the page is still and the seeded leak was found."""
    print("\n| an hour | rises by | ± | allowed | |\n|---|---|---|---|---|")
    good = True
    first = next(k for k, hour in enumerate(hours) if hour >= hours[-1] / 2)
    for which, kept in zip(("", "leaking page: "), samples, strict=True):
        for name, allowed in LIMITS.items():
            if which and name in OF_DAEMON:
                continue
            values = (one[name] for one in kept[first:])
            it = slope([list(zip(hours[first:], values, strict=True))])
            leaks = it.rises(allowed)
            good &= leaks == bool(which)
            word = "leaks" if leaks else "still"
            print(f"| {which}{name} | {it.each:.2f} | {it.error:.2f} | {allowed:g} | {word} |")
    return good


def main() -> None:
    """Let a day pass and say what it left behind."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--hours", type=float, default=16, help="of the kitchen's day")
    parser.add_argument(
        "--speed", type=float, default=25, help="times real time while weighing, up to 100"
    )
    given = parser.parse_args()
    began = time.monotonic()
    hours, samples = asyncio.run(soak(given))
    good = judge(hours, samples)
    print(f"\n{len(hours)} batches, load {os.getloadavg()[0]:.1f}", end="; ")
    print(f"took {time.monotonic() - began:.0f} s")
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
