"""Every screen, and the board in every state, against axe's rules for WCAG 2.2 A and AA.

What axe cannot see (order of focus, what is announced and when, reduced motion, magnification,
forced colours) is asked in ``test_layout``, ``test_weigh`` and ``test_cue``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import axe_playwright_python
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.fake_daemon import FRAMES, FakeDaemon, frame

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
BOARDS = sorted(
    path.stem for path in FRAMES.glob("*.json") if frame(path.stem).get("kind") == "snapshot"
)
SCREENS = (
    "start", "start/lemon-sorbet", "formulas", "formula/hazelnut-gelato", "new-formula",
    "revisions/lemon-sorbet",
    "ingredients", "ingredient/cream", "limits", "lots", "receive", "records", "people", "devices",
    "settings", "floor", "wall", "wall/on", "find", "trace", "trends/ingredient", "scales",
    "scales/bench/check", "first/you", "first/formula",
)  # fmt: skip


def violations(page: Page) -> list[str]:
    """What axe finds on the page as it is, a line each."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    found: list[Any] = page.evaluate(
        "rules => axe.run(document, {runOnly: {type: 'tag', values: rules}})"
        ".then(it => it.violations)",
        RULES,
    )
    return [f"{one['id']}: {node['html'][:160]}" for one in found for node in one["nodes"]]


def in_both(page: Page) -> list[str]:
    """The same on light and on dark ground."""
    found = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        found += [f"{scheme}: {one}" for one in violations(page)]
    return found


def test_no_screen_breaks_a_rule(run_daemon: RunDaemon, open_page: OpenPage) -> None:
    station = run_daemon("demo", "--no-open")
    # High enough that nothing lies beneath the button that stays in sight.
    tall = {"width": 1280, "height": 3200}
    page = open_page(station.url, viewport=tall, reduced_motion="reduce")
    found = {}
    for screen in SCREENS:
        page.goto(f"{station.url}#/{screen}")
        expect(page.locator("main h1, main h2, form h1").first).to_be_visible()
        page.wait_for_load_state("networkidle")
        if wrong := in_both(page):
            found[screen] = wrong
    assert found == {}


def test_no_state_of_the_board_breaks_a_rule(daemon: FakeDaemon, open_page: OpenPage) -> None:
    page = open_page(daemon.url, reduced_motion="reduce")
    page.wait_for_selector(".formulas")
    found = {}
    for name in BOARDS:
        daemon.show(name)
        page.wait_for_timeout(60)  # painted
        if wrong := in_both(page):
            found[name] = wrong
    assert found == {}


def test_axe_does_find_what_is_wrong(page: Page) -> None:
    page.evaluate("document.querySelector('main').append(document.createElement('button'))")
    assert any(one.startswith("button-name") for one in violations(page))
