"""A headless Chromium, the pretend station, and pages that must end without errors of their own."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest

from tests.browser.fake_daemon import DIST, FakeDaemon
from tests.browser.real_daemon import RealDaemon

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Browser, Error, Page, expect, sync_playwright

#: What has not come to a page by then never will, in ms: others may keep the processors busy.
HANGS_MS = 15_000
expect.set_options(timeout=HANGS_MS)

#: Where Debian puts Chromium; the one without a window draws the same with a third less work.
CHROMIUMS = (Path("/usr/bin/chromium-headless-shell"), Path("/usr/bin/chromium"))

#: Without a sandbox, since root may run tests; letters are smoothed in one way on every machine.
ARGUMENTS = [
    *("--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"),
    *("--font-render-hinting=slight", "--disable-lcd-text", "--force-color-profile=srgb"),
]

#: For ``open_page``: what moves on a page does, as it does for most people.
MOVING = {"reduced_motion": "no-preference"}

#: What the page's policy refused is told as an error of the page.
POLICED = """
document.addEventListener('securitypolicyviolation', (it) =>
  console.error(`policy: ${it.violatedDirective} ${it.blockedURI} at ${it.sourceFile}`));
"""

#: What a page may say on its console: answers that the test asked for, and a station that is gone.
EXPECTED = ("Failed to load resource", "WebSocket connection to")

OpenPage = Callable[..., Page]
RunDaemon = Callable[..., RealDaemon]


def system_chromium() -> str | None:
    """Debian's Chromium; ``None`` for the one that playwright brought, if it did."""
    return next((str(one) for one in CHROMIUMS if one.exists()), None)


def without(reason: str) -> NoReturn:
    """Skip, or fail where a browser is required (``WEIGHD_REQUIRE_BROWSER=1``)."""
    if os.environ.get("WEIGHD_REQUIRE_BROWSER") == "1":
        pytest.fail(f"a browser is required here: {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Headless Chromium, once for these tests: its event loop ends before others have theirs."""
    if not (DIST / "index.html").exists():
        without("the page is not built; run: python web/hatch_build.py")
    with sync_playwright() as play:
        try:
            it = play.chromium.launch(executable_path=system_chromium(), args=ARGUMENTS)
        except Error as error:
            without(f"no Chromium can be started: {str(error).splitlines()[0]}")
        yield it
        it.close()


@pytest.fixture
def open_page(browser: Browser) -> Iterator[OpenPage]:
    """``open_page(url, **context)``: a page of its own that must end without errors of its own."""
    contexts: list[Any] = []
    trouble: list[str] = []

    def heard(kind: str, text: str) -> None:
        if kind == "error" and not text.startswith(EXPECTED):
            trouble.append(text)

    def open_it(url: str, **context: Any) -> Page:
        usual = {
            "viewport": {"width": 1280, "height": 800},
            "locale": "en-GB",
            "timezone_id": "UTC",
            # It would keep the whole page anew for every test; where that is looked at, it is let.
            "service_workers": "block",
            # What moves is drawn anew all the while, at half the work of a page; where that is
            # looked at, and in a whole batch, it may (MOVING).
            "reduced_motion": "reduce",
        }
        it = browser.new_context(**{**usual, **context})
        contexts.append(it)
        it.add_init_script(POLICED)
        page = it.new_page()
        page.set_default_timeout(HANGS_MS)
        page.on("console", lambda message: heard(message.type, message.text))
        page.on("pageerror", lambda error: trouble.append(str(error)))
        page.goto(url)
        return page

    yield open_it
    for context in contexts:
        context.close()
    assert trouble == []


@pytest.fixture(scope="session")
def one_for_all() -> Iterator[FakeDaemon]:
    """The pretend station of every test: starting one takes longer than most tests."""
    it = FakeDaemon()
    yield it
    if it.running:
        it.stop()


@pytest.fixture
def daemon(one_for_all: FakeDaemon) -> FakeDaemon:
    """A pretend station that listens, as if it were new."""
    one_for_all.forget()
    if not one_for_all.running:
        one_for_all.start()
    return one_for_all


@pytest.fixture
def page(daemon: FakeDaemon, open_page: OpenPage) -> Page:
    """The page on the pretend station, at rest."""
    it = open_page(daemon.url)
    it.wait_for_selector(".formulas")
    return it


@pytest.fixture
def run_daemon(tmp_path: Path) -> Iterator[RunDaemon]:
    """``run_daemon(*arguments)``: the real daemon, running; ended with the test. ``prepare`` is
    called with the folder of its record before it starts."""
    running: list[RealDaemon] = []

    def run(*arguments: str, prepare: Callable[[Path], None] | None = None) -> RealDaemon:
        folder = tmp_path / f"station-{len(running)}"
        folder.mkdir()
        if prepare is not None:
            (folder / "data").mkdir()
            prepare(folder / "data")
        it = RealDaemon(folder, *arguments)
        running.append(it)
        it.start()
        return it

    yield run
    for it in running:
        it.stop()
