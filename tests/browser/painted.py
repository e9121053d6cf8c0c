"""What a page painted, held against what the station knew: no old weight is shown as live."""

from __future__ import annotations

import contextlib
import json
import threading
import time
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from decimal import Decimal
from types import TracebackType
from typing import Any

from playwright.sync_api import Page
from websockets.exceptions import WebSocketException
from websockets.sync.client import connect

#: The page says that it is lost when what it shows is older than this, in seconds (`link.ts`).
STALE_S = 2.5
#: A busy machine draws, and is looked at, later than it might.
LATE_S = 0.5

#: Notes the masses that stand on the page, about as often as a screen is drawn.
_LOOK = """() => {
  window.painted = [];
  const text = (query) => document.querySelector(query)?.textContent ?? '';
  setInterval(() => {
    const number = text('[data-testid=number-main]');
    if (number) window.painted.push([Date.now() / 1000, number, text('.in-vessel b')]);
  }, 40);
}"""


class Truth:
    """Every mass that the station showed whoever is near, with its time, while its ``with`` lasts.

    ``url``  of the station itself, past any bad link. It may be killed and started meanwhile.
    """

    def __init__(self, url: str) -> None:
        self._where = url.replace("http", "ws", 1) + "api/live"
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="truth", daemon=True)
        self._times: list[float] = []
        self._masses: list[dict[str, Decimal]] = []
        self._socket: Any = None

    def __enter__(self) -> Truth:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._over.set()
        if self._socket is not None:
            self._socket.close()
        self._thread.join(10)

    def _run(self) -> None:
        while not self._over.wait(0.02):
            with (
                contextlib.suppress(OSError, WebSocketException, TimeoutError),
                connect(self._where, open_timeout=5, max_size=None) as self._socket,
            ):
                self._hear(self._socket)

    def _hear(self, socket: Iterable[str | bytes]) -> None:
        for text in socket:
            frame = json.loads(text)
            state = frame.get("state", frame)
            if "live" in state:
                self._times.append(time.time())
                self._masses.append(_masses(state["live"]))

    def within(self, begin: float, end: float) -> list[tuple[Decimal, Decimal]]:
        """Between what and what each mass was in that time; what was before held until the first
        change. Of a scale that moves nobody is told every reading, hence what lies between."""
        first = max(0, bisect_left(self._times, begin) - 1)
        last = bisect_right(self._times, end)
        seen: dict[str, list[Decimal]] = {}
        for masses in self._masses[first:last]:
            for name, mass in masses.items():
                seen.setdefault(name, []).append(mass)
        return [(min(each), max(each)) for each in seen.values()]


def _masses(live: dict[str, Any] | None) -> dict[str, Decimal]:
    """The masses of a picture that a page may print."""
    named = ("gross_g", "net_g", "to_go_g", "sum_g")
    it = live or {}
    return {name: Decimal(it[name]) for name in named if it.get(name) is not None}


def watch(page: Page) -> None:
    """Begin to note what stands on this page; to be asked for again after each load of it."""
    page.evaluate(_LOOK)


def stale(page: Page, truth: Truth, interval_g: str = "0.1") -> list[str]:
    """Each time that the page showed a mass that had not been true for longer than it may; and
    that it showed any."""
    wrong, numbers = [], 0
    half = Decimal(interval_g) / 2
    for at, *texts in page.evaluate("window.painted"):
        known = truth.within(at - STALE_S - LATE_S, at + LATE_S)
        for text in texts:
            mass = _read(text)
            if mass is None:
                continue
            numbers += 1
            # A page prints what is too much without its sign.
            if not any(
                low - half <= it <= high + half for low, high in known for it in (mass, -mass)
            ):
                between = ", ".join(f"{low} to {high}" for low, high in known)
                wrong.append(f"{at:.2f}: {text} g, where it was {between}")
    assert numbers, "no number was ever shown"
    return wrong


def _read(text: str) -> Decimal | None:
    digits = text.replace("\u202f", "").replace("−", "").strip()
    return Decimal(digits) if digits and digits[0].isdigit() else None
