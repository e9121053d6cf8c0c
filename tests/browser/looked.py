"""Every view in every window and theme, on a pretend station that tells what a real one told.

``python -m tests.browser.looked [NAME...]`` keeps how they look now; look at them first, with
``--to FOLDER``, which puts whole screenshots there instead and keeps nothing.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, WebSocketRoute, sync_playwright

from docs.tour.camera import FLOOR, deeds, kept
from docs.tour.views import VIEWS, View, Window
from tests.browser.cells import Cells, Difference, Sprite, difference, picture, shoot
from tests.browser.conftest import ARGUMENTS, system_chromium
from tests.browser.fake_daemon import FRAMES, FakeDaemon
from tests.dose import LONG

KEPT = Path(__file__).parent / "looks"
TOLD = FRAMES.parent / "screens.json"
SIZES = [one.value for one in (Window.WALL, Window.TABLET, Window.PHONE)]
#: As ``emulate_media`` takes it.
THEMES: dict[str, dict[str, Any]] = {
    "light": {"color_scheme": "light", "contrast": "no-preference", "forced_colors": "none"},
    "dark": {"color_scheme": "dark", "contrast": "no-preference", "forced_colors": "none"},
    "contrast": {"color_scheme": "light", "contrast": "more", "forced_colors": "none"},
    "contrast-dark": {"color_scheme": "dark", "contrast": "more", "forced_colors": "none"},
    "forced": {"color_scheme": "dark", "contrast": "more", "forced_colors": "active"},
}
#: In every window; the others in one of them, since only colours differ.
EVERYWHERE = ("light", "dark", "contrast")
#: Forced colours come last: after them Chromium paints the ground of other themes in theirs.
LOOKS = [
    *((size, theme) for size in SIZES for theme in EVERYWHERE),
    *((Window.TABLET.value, theme) for theme in THEMES if theme not in EVERYWHERE),
]
#: Those that are compared: every window in light, and what differs most from that in one (dark, and
#: colours that the system gives); the rest in the long run.
TAKEN = [
    (size, theme)
    for size, theme in LOOKS
    if LONG or theme == "light" or (size == SIZES[1] and theme in ("dark", "forced"))
]
FACES = """
@font-face { font-family: Looked; src: url("/looked/DejaVuSans.ttf"); font-weight: 400; }
@font-face { font-family: Looked; src: url("/looked/DejaVuSans-Bold.ttf"); font-weight: 600 900; }
:root { --font: Looked !important; }
* { caret-color: transparent !important; }
"""
#: What a page is before anything of it runs: as on its first day, and counted while it asks.
FIRST = """
localStorage.clear();
// What counts on by itself stands still, but where the silence of the station is to be noticed.
if (!location.search.includes('moving')) performance.now = () => 0;
window.asking = 0;
const ask = window.fetch;
window.fetch = (...them) => {
  window.asking += 1;
  return ask(...them).finally(() => { window.asking -= 1; });
};
addEventListener('DOMContentLoaded', () => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(FACES);
  document.adoptedStyleSheets.push(sheet);
  document.fonts.load('1em Looked'); document.fonts.load('bold 1em Looked');
});
"""
#: Whether everything that was asked for is there.
AT_REST = "window.asking === 0 && document.fonts.status === 'loaded'"
#: A view that never stands still is waited for so long, in seconds.
PATIENCE_S = 8.0


@cache
def told() -> dict[str, Any]:
    """What the demonstration told for each view."""
    return kept(TOLD)


class Looker:
    """One page, and the pretend station that it looks at."""

    def __init__(self, browser: Browser, daemon: FakeDaemon) -> None:
        self.daemon = daemon
        context = browser.new_context(
            reduced_motion="reduce", locale="en-GB", timezone_id="UTC", service_workers="block"
        )
        self.page: Page = context.new_page()
        self.page.set_default_timeout(10_000)
        self.page.clock.install(time=0)
        self.page.add_init_script(FIRST.replace("FACES", json.dumps(FACES)))
        self.page.route_web_socket(FLOOR, self._floor)
        self._session = context.new_cdp_session(self.page)
        self._floor_frame: Any = None

    def _floor(self, socket: WebSocketRoute) -> None:
        socket.send(json.dumps(self._floor_frame))

    def go(self, view: View) -> None:
        """Open the view; returns when it stands still."""
        here = told()[view.name]
        self.daemon.forget()
        self.daemon.told = here["answers"]
        self.daemon.state = here["state"]
        self._floor_frame = here.get("floor")
        page = self.page
        page.emulate_media(reduced_motion="reduce", **THEMES["light"])
        width, height = view.window.value
        page.set_viewport_size({"width": width, "height": height})
        page.goto("about:blank")
        page.clock.set_fixed_time(here["now"])
        page.goto(f"{self.daemon.url}/{'?moving' if view.lost else ''}{here['at']}")
        page.wait_for_selector(view.ready, state="attached")
        self._rest()
        deeds(page, view, self._rest)
        self._rest()
        if view.lost:
            self.daemon.beating = False
            page.clock.run_for(15_000)
            page.wait_for_selector("[data-testid=banner-lost]")

    def _rest(self) -> None:
        deadline = time.monotonic() + PATIENCE_S
        quiet = 0
        while quiet < 2:
            self.page.clock.run_for(400)
            quiet = quiet + 1 if self.page.evaluate(AT_REST) else 0
            if time.monotonic() > deadline:
                raise RuntimeError("it asks and asks")

    def shown(self, size: tuple[int, int], theme: str) -> Cells:
        """What the view looks like so."""
        if self.page.viewport_size != {"width": size[0], "height": size[1]}:
            self.page.set_viewport_size({"width": size[0], "height": size[1]})
            self.page.clock.run_for(100)
        self.page.emulate_media(reduced_motion="reduce", **THEMES[theme])
        return shoot(self._session, *size)

    def still(self, size: tuple[int, int], theme: str) -> Cells:
        """The same, twice alike."""
        deadline = time.monotonic() + PATIENCE_S
        before = self.shown(size, theme)
        while True:
            self.page.wait_for_timeout(80)
            now = self.shown(size, theme)
            if not difference(before, now).cells:
                return now
            if time.monotonic() > deadline:
                raise RuntimeError("it never stands still")
            before = now


def sprite(view: View) -> Sprite:
    """Where its pictures are kept."""
    return Sprite(KEPT / f"{view.name}.webp", LOOKS)


def compared(looker: Looker, view: View, to: Path) -> list[str]:
    """What of a view looks otherwise than it was kept, a line each; pictures go into ``to``."""
    before = sprite(view)
    looker.go(view)
    found = []
    for size, theme in TAKEN:
        was = before.get(size, theme)
        now = looker.shown(size, theme)
        if was is not None and difference(was, now):  # perhaps it was not ready yet
            now = looker.still(size, theme)
        name = f"{view.name}-{size[0]}x{size[1]}-{theme}"
        if was is None:
            found.append(f"{name}: not kept yet; run python -m tests.browser.looked")
        elif it := difference(was, now):
            put_down(looker.page, to / name, was, now, it)
            left, top, right, low = it.box
            found.append(
                f"{name}: {it.cells} cells differ within x {left} to {right}, y {top} to {low}"
                f"; see {to / name}-*.png"
            )
    return found


def put_down(page: Page, name: Path, was: Cells, now: Cells, found: Difference) -> None:
    """Expected, actual and what differs, and the whole screenshot."""
    name.parent.mkdir(parents=True, exist_ok=True)
    picture(was, 4).save(f"{name}-expected.png")
    picture(now, 4).save(f"{name}-actual.png")
    marked = now // 3 + 150
    marked[found.where] = (220, 0, 0)
    picture(marked, 4).save(f"{name}-difference.png")
    page.screenshot(path=f"{name}-page.png")


@contextmanager
def looking() -> Iterator[Looker]:
    """A looker of one's own."""
    daemon = FakeDaemon()
    daemon.start()
    try:
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=system_chromium(), args=ARGUMENTS)
            yield Looker(browser, daemon)
            browser.close()
    finally:
        daemon.stop()


def main(arguments: list[str]) -> None:
    """Keep how the views look, or put screenshots of them into a folder."""
    to: Path | None = None
    if arguments[:1] == ["--to"]:
        to, arguments = Path(arguments[1]), arguments[2:]
        to.mkdir(parents=True, exist_ok=True)
    names = arguments or list(VIEWS)
    with looking() as looker:
        for name in names:
            view = VIEWS[name]
            looker.go(view)
            sheet = sprite(view)
            for size, theme in LOOKS:
                sheet.put(size, theme, looker.still(size, theme))
                if to is not None:
                    looker.page.screenshot(path=to / f"{name}-{size[0]}-{theme}.png")
            if to is None:
                sheet.save()
            print(name, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
