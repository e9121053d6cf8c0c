"""A headless Chromium, the pretend station, and pages that must end without errors of their own."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest

from tests.browser.fake_daemon import DIST, FakeDaemon

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Browser, Error, Page, sync_playwright

#: Where Debian puts Chromium; else the one that playwright brought, if it did.
SYSTEM_CHROMIUM = Path("/usr/bin/chromium")

#: What a page may say on its console: answers that the test asked for, and a station that is gone.
EXPECTED = ("Failed to load resource", "WebSocket connection to")

OpenPage = Callable[..., Page]


def without(reason: str) -> NoReturn:
    """Skip, or fail where a browser is required (``WEIGHD_REQUIRE_BROWSER=1``)."""
    if os.environ.get("WEIGHD_REQUIRE_BROWSER") == "1":
        pytest.fail(f"a browser is required here: {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium, once for all tests."""
    if not (DIST / "index.html").exists():
        without("the page is not built; run: python web/hatch_build.py")
    with sync_playwright() as play:
        own = str(SYSTEM_CHROMIUM) if SYSTEM_CHROMIUM.exists() else None
        try:
            it = play.chromium.launch(
                executable_path=own,
                args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"],
            )
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
        it = browser.new_context(**{"viewport": {"width": 1280, "height": 800}, **context})
        contexts.append(it)
        page = it.new_page()
        page.set_default_timeout(5000)
        page.on("console", lambda message: heard(message.type, message.text))
        page.on("pageerror", lambda error: trouble.append(str(error)))
        page.goto(url)
        return page

    yield open_it
    for context in contexts:
        context.close()
    assert trouble == []


@pytest.fixture
def daemon() -> Iterator[FakeDaemon]:
    """A pretend station that listens."""
    it = FakeDaemon()
    it.start()
    yield it
    it.stop()


@pytest.fixture
def page(daemon: FakeDaemon, open_page: OpenPage) -> Page:
    """The page on the pretend station, at rest."""
    it = open_page(daemon.url)
    it.wait_for_selector(".formulas")
    return it
