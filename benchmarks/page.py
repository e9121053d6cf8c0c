"""How quick the page is, beside an empty page: time to paint, frames a second, first load.

    python -m benchmarks.page [--pages 20] [--rounds 2] [--seconds 4] [--only WORD]
    python -m benchmarks.page_soak

Two processes read a pty each: weighd, with a batch open and its bowl tared, and a floor that
passes every line on as it is to a page with one element (`page_floor.py`). By turns, in one
Chromium, pages of either are opened and the scale pours. The clock runs from just before a line is
written to the pty until the pixels that show its weight, or a newer one, are on the screen, by
Chromium's own trace; `page_browser.py` says how and what that leaves out.

Every page is a tab with a renderer process of its own; all of them, both servers and whatever else
runs share this machine. Times are of this machine and this run: the ratio is what means something,
and the milliseconds of the processor beside it hang less on what else was running.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import tempfile
import time
from pathlib import Path

from playwright.async_api import Browser

from benchmarks.page_browser import chromium, clock_error
from benchmarks.page_load import Load, first_load
from benchmarks.page_pour import MISSED_MS, Pour, Row, measure, pages, quantile, show
from benchmarks.page_sides import Side, Station

#: Readings a second of an ordinary bench scale, and of the quickest.
USUAL_HZ, QUICK_HZ = 10, 80


def pours(given: argparse.Namespace) -> list[Pour]:
    """What is measured of pouring."""
    seconds = given.seconds
    return [
        Pour("1 page", 1, USUAL_HZ, 2 * seconds),
        Pour("1 page, 19 clients more, 5 of them deaf", 1, USUAL_HZ, 2 * seconds, 19, 5),
        Pour(f"{given.pages} pages", given.pages, USUAL_HZ, seconds),
        Pour("1 page, 80 readings a second", 1, QUICK_HZ, seconds),
    ]


def load_average() -> str:
    """How busy the machine is: processes that ran or waited, over the last minute."""
    return f"{os.getloadavg()[0]:.1f}"


async def pour(browser: Browser, sides: list[Side], given: argparse.Namespace) -> None:
    """The rows of pouring."""
    asked = [how for how in pours(given) if given.only in how.name]
    if not asked:
        return
    print(
        "\n| readings to pixels | side | p50 ms | p90 ms | p99 ms | most ms | not painted |"
        " page, ms of the processor a reading | server | load |"
    )
    print("|---" * 10 + "|")
    frames = []
    for how in asked:
        rows = {side.name: Row() for side in sides}
        async with pages(browser, how.pages) as shown:
            for _ in range(given.rounds):
                for side in sides:
                    await measure(browser, shown, side, how, rows[side.name])
        for name, row in rows.items():
            print(
                f"| {how.name} | {name} | "
                + " | ".join(f"{row.at(share):.1f}" for share in (0.5, 0.9, 0.99, 1))
                + f" | {row.unseen} of {len(row.times) + row.unseen}"
                f" | {1000 * row.pages_s / row.readings / how.pages:.1f}"
                f" | {1000 * row.server_s / row.readings:.2f} | {load_average()} |",
                flush=True,
            )
        floor, ours = (rows[side.name] for side in sides)
        ratios = [ours.at(share) / floor.at(share) for share in (0.5, 0.9, 0.99, 1)]
        print(
            f"| {how.name} | ratio | "
            + " | ".join(f"{ratio:.1f}" for ratio in ratios)
            + f" | | {ours.pages_s / floor.pages_s:.1f} | {ours.server_s / floor.server_s:.1f} | |"
        )
        if how.hz == QUICK_HZ:
            frames = [*rows.items()]
    if frames:
        print("\n| while pouring at 80 Hz | frames/s | longest frame, ms | frames left out, % |")
        print("|---" * 4 + "|")
    for name, row in frames:
        missed = 100 * sum(it > MISSED_MS for it in row.intervals) / len(row.intervals)
        rate = 1000 * len(row.intervals) / sum(row.intervals)
        print(
            f"| {name} | {rate:.1f} (painted {row.presented / row.watched:.1f}) "
            f"| {quantile(row.intervals, 1):.0f} | {missed:.1f} |"
        )


async def load(browser: Browser, sides: list[Side], given: argparse.Namespace) -> None:
    """The rows of the first load."""
    asked = [(sides[0], "en-GB"), (sides[1], "en-GB"), (sides[1], "de-DE")]
    rows = [Load() for _ in asked]
    for _ in range(2 * given.rounds):
        for (side, locale), row in zip(asked, rows, strict=True):
            await first_load(browser, side, locale, row)
    print("\n| first load | median ms | most ms | kB over the wire | unpacked | requests | load |")
    print("|---" * 7 + "|")
    for (side, locale), row in zip(asked, rows, strict=True):
        print(
            f"| {side.name}, {locale[:2]} | {quantile(row.times, 0.5):.0f} | {max(row.times):.0f}"
            f" | {row.wire / 1000:.0f} | {row.plain / 1000:.0f} | {row.requests}"
            f" | {load_average()} |"
        )


async def run(given: argparse.Namespace) -> None:
    """Measure everything that was asked for."""
    with tempfile.TemporaryDirectory() as folder:
        sides = [Side(Path(folder)), Station(Path(folder))]
        try:
            for side in sides:
                side.begin()
            async with chromium() as browser:
                async with pages(browser, 1) as (page,):
                    await show(page, sides[0])
                    error = await clock_error(page)
                print(
                    f"Chromium {browser.version}, {os.cpu_count()} processors; the clocks of page"
                    f" and scale agree within {error:.1f} ms"
                )
                if given.only in "first load":
                    await load(browser, sides, given)
                await pour(browser, sides, given)
        finally:
            for side in sides:
                side.end()


def main() -> None:
    """Measure, and print the rows."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--pages", type=int, default=20, help="real pages at a time")
    parser.add_argument("--rounds", type=int, default=2, help="blocks of each side")
    parser.add_argument("--seconds", type=float, default=4, help="of pouring a block")
    parser.add_argument("--only", default="", help="only the rows that say this")
    given = parser.parse_args()
    began = time.monotonic()
    asyncio.run(run(given))
    print(f"\ntook {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
