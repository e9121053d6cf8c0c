"""Pages that look at the demonstration, and all that they are told."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Browser, Page, Response, WebSocketRoute
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from docs.tour import floor
from docs.tour.views import VIEWS, View, Window
from tests.browser.fake_daemon import frame

#: The two live links, whatever is asked of them besides.
LIVE, FLOOR = re.compile(r"/api/live\b"), re.compile(r"/api/floor/live\b")

Json = Any


def deeds(page: Page, view: View, rest: Callable[[], None] = lambda: None) -> None:
    """Do what the view asks for once its screen stands; ``rest`` waits for what comes of it, before
    it is scrolled to."""
    for deed in view.do:
        match deed:
            case ("press", where):
                page.locator(where).first.click()
            case ("fill", where, text):
                page.locator(where).first.fill(text)
            case ("choose", where, value):
                page.locator(where).first.select_option(value)
            case ("key", key):
                page.keyboard.press(key)
            case ("show", where):
                rest()
                page.locator(where).first.scroll_into_view_if_needed()
            case _:
                raise ValueError(f"{view.name} asks for {deed}")


@dataclass
class Camera:
    """One page a window and theme, and all answers that the station gave to them."""

    browser: Browser
    told: dict[str, Json] = field(default_factory=dict)
    now: str = ""
    swaps: tuple[tuple[str, str], ...] = ()
    frame: Json = None
    _pages: dict[tuple[Window, bool, str], Page] = field(default_factory=dict)
    _answers: list[Response] = field(default_factory=list)

    def page(self, view: View, url: str) -> Page:
        key = (view.window, view.dark, url)
        if key not in self._pages:
            width, height = view.window.value
            context = self.browser.new_context(
                viewport={"width": width, "height": height},
                color_scheme="dark" if view.dark else "light",
                reduced_motion="reduce",
                locale="en-GB",
                timezone_id="UTC",
                service_workers="block",
            )
            page = context.new_page()
            page.set_default_timeout(8000)
            page.on("response", self._hear)
            page.route_web_socket(FLOOR, self._floor)
            page.route_web_socket(LIVE, self._live)
            self._pages[key] = page
        return self._pages[key]

    def _hear(self, response: Response) -> None:
        self._answers.append(response)

    def _floor(self, socket: WebSocketRoute) -> None:
        socket.send(json.dumps(floor.told(self.now)))

    def _live(self, socket: WebSocketRoute) -> None:
        """The station's own link; what it simulates is not told, but where that is looked at."""
        if self.frame:
            socket.send(json.dumps(self.frame))
            return
        server = socket.connect_to_server()
        swaps = self.swaps

        def told(frame: str | bytes) -> None:
            text = frame if isinstance(frame, str) else frame.decode()
            for was, it in swaps:
                text = text.replace(was, it)
            socket.send(text)

        server.on_message(told)

    def _quiet(self, page: Page) -> None:
        """Until nothing more is asked; who asks again and again has been told all by then."""
        with suppress(PlaywrightTimeout):
            page.wait_for_load_state("networkidle", timeout=3000)

    def _heard(self) -> dict[str, Json]:
        """What was answered since the page was opened, by method and address."""
        found: dict[str, Json] = {}
        for response in self._answers:
            parts = urlsplit(response.url)
            kind = response.headers.get("content-type") or ""
            if not parts.path.startswith("/api/") or "json" not in kind:
                continue
            asked = f"{response.request.method} {parts.path}"
            if parts.query:
                asked += f"?{parts.query}"
            found[asked] = [response.status, response.json()]
        return found

    def see(self, name: str, url: str, state: Json, now: str, met: dict[str, str]) -> None:
        """Go there, and keep what the page is told."""
        view = VIEWS[name]
        page = self.page(view, url)
        at = view.at.format(**met)
        self.now, self.swaps = now, ()
        self.frame = frame(view.frame) if view.frame else None
        state = self.frame["state"] if self.frame else state
        # A kitchen has no pretend hands, and one that has neighbours watches them.
        hands, watched = (json.dumps(name == one) for one in ("simulation", "floor"))
        self.swaps = (
            ('"floor":false', f'"floor":{watched}'),
            ('"simulation":true', f'"simulation":{hands},"floor":{watched}'),
        )
        state["station"] |= {"simulation": name == "simulation", "floor": name == "floor"}
        page.goto("about:blank")  # or another place on the same page would not be loaded
        self._answers.clear()
        page.clock.set_system_time(now)
        page.goto(f"{url.rstrip('/')}/{at}")
        page.wait_for_selector(view.ready)
        self._quiet(page)
        deeds(page, view)
        self._quiet(page)
        page.wait_for_timeout(300)
        self.told[name] = {"at": at, "now": now, "state": state, "answers": self._heard()}
        if view.screen == "floor":
            self.told[name]["floor"] = floor.told(now)


def kept(file: Path) -> dict[str, Json]:
    """What was told for each view, as :func:`keep` wrote it."""
    written = json.loads(file.read_text(encoding="utf-8"))
    table = written["told"]
    return {
        name: {
            **one,
            "state": {key: table[at] for key, at in one["state"].items()},
            "answers": {key: table[at] for key, at in one["answers"].items()},
        }
        for name, one in written["views"].items()
    }


def keep(told: dict[str, Json], file: Path) -> None:
    """Write what was told, each answer once."""
    answers: list[str] = []
    places: dict[str, int] = {}

    def placed(value: Json) -> int:
        text = json.dumps(value, ensure_ascii=False, sort_keys=True)
        if text not in places:
            places[text] = len(answers)
            answers.append(text)
        return places[text]

    lines = []
    for name, one in sorted(told.items()):
        short = {
            **one,
            "state": {key: placed(value) for key, value in one["state"].items()},
            "answers": {asked: placed(value) for asked, value in sorted(one["answers"].items())},
        }
        lines.append(f"{json.dumps(name)}: {json.dumps(short)}")
    views = ",\n".join(lines)
    table = ",\n".join(answers)
    file.write_text(f'{{"views": {{\n{views}\n}},\n"told": [\n{table}\n]}}\n', encoding="utf-8")
