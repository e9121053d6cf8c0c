"""Real pages in a real Chromium, and when they were painted.

*Painted* is taken from Chromium's own trace: of each frame of a page it says when the main thread
handed it over (the end of ``SendBeginMainFrameToCommit``) and when it was on the screen (the end of
``PipelineReporter`` of a frame that was presented). The page marks the moment a number's text
changed; the first presented frame that was handed over after it has the new number in its pixels.
Trace, ``performance.mark`` and Python's ``time.monotonic`` all read CLOCK_MONOTONIC of this
machine; :func:`clock_error` holds them to each other.

Headless Chromium draws in software and has no display behind it; a screen adds its own delay. Each
page is a tab with a browser context and a renderer process of its own; all share one browser
process and one compositor, as no twenty tablets do.
"""

from __future__ import annotations

import asyncio
import bisect
import json
import time
from collections import defaultdict
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.async_api import Browser, BrowserContext, CDPSession, Page, async_playwright

from benchmarks.page_sides import NUMBER

#: Where Debian puts Chromium; else the one that playwright brought.
OWN = "/usr/bin/chromium" if Path("/usr/bin/chromium").exists() else None
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
CONTEXT: dict[str, Any] = {
    "viewport": {"width": 1280, "height": 800},
    "locale": "en-GB",
    "timezone_id": "UTC",
}
CATEGORIES = ["blink.user_timing", "disabled-by-default-devtools.timeline.frame"]
MARK = "shown:"
#: Run in every page before anything of its own: marks each new text of the number.
WATCH = """
(() => {
  const mark = (node) => {
    const text = node?.parentElement?.matches(SELECTOR) ? node.data : "";
    if (text) performance.mark(MARK + text);
  };
  new MutationObserver((changes) => {
    for (const it of changes) {
      if (it.type === "characterData") mark(it.target);
      else for (const each of it.addedNodes) {
        if (each.nodeType === 3) mark(each);
        else if (each.nodeType === 1) mark(each.querySelector(SELECTOR)?.firstChild);
      }
    }
  }).observe(document, { subtree: true, characterData: true, childList: true });
  // Marks would pile up in the page; the trace has them.
  setInterval(() => performance.clearMarks(), 1000);
  // When frames began, while somebody counts them.
  let beats = null;
  const beat = (at) => {
    if (beats === null) return;
    beats.push(at);
    requestAnimationFrame(beat);
  };
  globalThis.countFrames = () => {
    beats = [];
    requestAnimationFrame(beat);
  };
  globalThis.countedFrames = () => {
    const it = beats;
    beats = null;
    return it;
  };
})()
"""


@asynccontextmanager
async def chromium() -> AsyncIterator[Browser]:
    """Headless Chromium, ended at the end."""
    async with async_playwright() as play:
        browser = await play.chromium.launch(executable_path=OWN, args=ARGUMENTS)
        yield browser
        await browser.close()


async def open_page(browser: Browser, **more: Any) -> tuple[BrowserContext, Page]:
    """A blank page that will watch the number; the context is to be closed with it."""
    context = await browser.new_context(**{**CONTEXT, "service_workers": "block", **more})
    page = await context.new_page()
    page.set_default_timeout(120_000)
    words = {"SELECTOR": json.dumps(NUMBER), "MARK": json.dumps(MARK)}
    script = WATCH
    for word, text in words.items():
        script = script.replace(word, text)
    await page.add_init_script(script)
    return context, page


async def metrics(session: CDPSession) -> dict[str, float]:
    """What Chromium counts of a page."""
    told = await session.send("Performance.getMetrics")
    return {one["name"]: one["value"] for one in told["metrics"]}


async def clock_error(page: Page) -> float:
    """By how many ms at most the page's clock and Python's can differ: half of what a question
    and its answer took, where the page's time lies between them. Raises ``AssertionError``."""
    session = await page.context.new_cdp_session(page)
    await session.send("Performance.enable")
    errors = []
    for _ in range(5):
        before = time.monotonic()
        told = (await metrics(session))["Timestamp"]
        after = time.monotonic()
        assert before <= told <= after, (before, told, after)
        errors.append(1000 * (after - before) / 2)
    await session.detach()
    return min(errors)


@dataclass
class Frames:
    """What a trace says of one page (one renderer process); seconds of CLOCK_MONOTONIC."""

    #: (when the text changed, the text)
    marks: list[tuple[float, str]] = field(default_factory=list)
    #: (when the main thread handed it over, when it was on the screen)
    presented: list[tuple[float, float]] = field(default_factory=list)
    #: frames that were to be drawn and were not, or not in time
    dropped: int = 0

    def painted(self) -> list[tuple[float, str]]:
        """When which text was first on the screen; not those that a later one replaced before."""
        handed = [at for at, _ in self.presented]
        out: dict[int, tuple[float, str]] = {}
        for at, text in self.marks:
            frame = bisect.bisect_left(handed, at)
            if frame < len(handed):
                out[frame] = (self.presented[frame][1], text)
        return [out[frame] for frame in sorted(out)]


class Trace:
    """A trace of the whole browser between two moments."""

    def __init__(self, session: CDPSession) -> None:
        self._session = session

    @classmethod
    async def begin(cls, browser: Browser) -> Trace:
        """Begin it."""
        session = await browser.new_browser_cdp_session()
        config = {"includedCategories": CATEGORIES, "excludedCategories": ["*"]}
        await session.send(
            "Tracing.start", {"traceConfig": config, "transferMode": "ReturnAsStream"}
        )
        return cls(session)

    async def end(self) -> dict[int, Frames]:
        """End it; what it says of each renderer process that marked something."""
        done: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        self._session.on("Tracing.tracingComplete", lambda it: done.set_result(it["stream"]))
        await self._session.send("Tracing.end")
        stream, parts = await done, []
        while True:
            part = await self._session.send("IO.read", {"handle": stream, "size": 1 << 22})
            parts.append(part["data"])
            if part["eof"]:
                break
        await self._session.send("IO.close", {"handle": stream})
        await self._session.detach()
        return read(json.loads("".join(parts))["traceEvents"])


def read(events: list[dict[str, Any]]) -> dict[int, Frames]:
    """The frames of each process out of the events of a trace."""
    out: defaultdict[int, Frames] = defaultdict(Frames)
    open_: dict[tuple[int, str], dict[str, Any]] = {}
    for event in sorted(events, key=lambda it: it.get("ts", 0)):
        at, pid = event.get("ts", 0) / 1e6, event["pid"]
        if event["name"].startswith(MARK) and "user_timing" in event["cat"]:
            out[pid].marks.append((at, event["name"][len(MARK) :]))
            continue
        if event.get("ph") not in ("b", "e") or "timeline.frame" not in event["cat"]:
            continue
        key = (pid, str(event.get("id2") or event.get("id")))
        if event["name"] == "PipelineReporter":
            if event["ph"] == "b":
                open_[key] = event["args"].get("frame_reporter", {})
            elif (frame := open_.pop(key, None)) is not None:
                _close(out[pid], frame, at)
        elif key in open_ and (event["name"], event["ph"]) == ("SendBeginMainFrameToCommit", "e"):
            open_[key]["handed"] = at
    for one in out.values():
        one.presented.sort()
    return {pid: one for pid, one in out.items() if one.marks}


def _close(page: Frames, frame: dict[str, Any], at: float) -> None:
    state = frame.get("state", "")
    if state.startswith("STATE_PRESENTED") and "handed" in frame:
        page.presented.append((frame["handed"], at))
    elif state == "STATE_DROPPED":
        page.dropped += 1
