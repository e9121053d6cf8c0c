"""Fingers on glass and a scanner that types, as a browser hears of them: by its own events."""

from __future__ import annotations

import time
from typing import Any

from playwright.sync_api import Locator, Page, expect

#: What a usual scanner leaves between two characters, in ms; common practice, no source.
USUAL_MS = 8.0
_VIRTUAL = {"Enter": 13, "Tab": 9, "Shift": 16}


#: Moves the page only where it has to be, as a hand does.
_INTO_VIEW = """it => {
  const box = it.getBoundingClientRect();
  if (box.top < 60 || box.bottom > innerHeight - 120) it.scrollIntoView({block: 'center'});
}"""


class Scanner:
    """A scanner that types: key events with times of their own, however busy the machine is."""

    def __init__(self, page: Page) -> None:
        self._cdp = page.context.new_cdp_session(page)

    def scan(self, code: str, *, gap_ms: float = USUAL_MS, end: str = "Enter") -> None:
        """Type a code and what ends it; ``end=""`` for one that was cut off."""
        at = time.time()
        for key in (*code, *([end] if end else ())):
            at += gap_ms / 1000
            self._press(key, at)
        time.sleep(max(0.0, at - time.time()))

    def _press(self, key: str, at: float) -> None:
        text = {"Enter": "\r", "Tab": ""}.get(key, key)
        told: dict[str, Any] = {"key": key, "timestamp": at}
        if key in _VIRTUAL:
            told["windowsVirtualKeyCode"] = _VIRTUAL[key]
        down = "keyDown" if text else "rawKeyDown"
        self._cdp.send("Input.dispatchKeyEvent", {"type": down, "text": text, **told})
        self._cdp.send("Input.dispatchKeyEvent", {"type": "keyUp", **told})


class Finger:
    """A finger on the glass of a page that has touch."""

    def __init__(self, page: Page) -> None:
        self._page = page
        self._cdp = page.context.new_cdp_session(page)

    def tap(self, it: Locator, across: float = 0.5, down: float = 0.5, times: int = 1) -> None:
        """Tap at this share of its width and height; what lies over it there is tapped instead."""
        x, y = self._at(it, across, down)
        for _ in range(times):
            self._page.touchscreen.tap(x, y)

    def press(self, it: Locator, seconds: float) -> None:
        """Hold a finger on it for so long."""
        x, y = self._at(it, 0.5, 0.5)
        self._touch("touchStart", (x, y))
        self._page.wait_for_timeout(seconds * 1000)
        self._touch("touchEnd")

    def two(self, it: Locator) -> None:
        """Two fingers on it at once, spread a little and lifted."""
        x, y = self._at(it, 0.5, 0.5)
        for apart in (20, 24, 30, 38):
            kind = "touchStart" if apart == 20 else "touchMove"
            self._touch(kind, (x - apart, y), (x + apart, y))
        self._touch("touchEnd")

    def swipe(self, it: Locator, up: float) -> None:
        """Drag from its middle by so many pixels upwards, in steps as a hand does."""
        x, y = self._at(it, 0.5, 0.5)
        self._touch("touchStart", (x, y))
        for n in range(1, 9):
            self._touch("touchMove", (x, y - up * n / 8))
        self._touch("touchEnd")

    def write(self, it: Locator, text: str) -> None:
        """Tap a field and have the keyboard on the glass write: all that was in it goes."""
        self.tap(it)
        expect(it).to_be_focused()
        it.select_text()
        self._page.keyboard.insert_text(text)
        expect(it).to_have_value(text)

    def _at(self, it: Locator, across: float, down: float) -> tuple[float, float]:
        expect(it).to_be_visible()
        # Not to the edge of the window, where the bar of the pretend bench lies over it.
        it.evaluate(_INTO_VIEW)
        box = it.bounding_box()
        assert box is not None
        return box["x"] + across * box["width"], box["y"] + down * box["height"]

    def _touch(self, kind: str, *points: tuple[float, float]) -> None:
        told = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(points)]
        self._cdp.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": told})
