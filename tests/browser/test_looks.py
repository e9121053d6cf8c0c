"""How every screen looks, in three windows and five themes, held to what was looked at and kept.

The suite takes each window in light, and dark and forced colours on a tablet; ``make test-long``
the rest.

After a change that was meant: ``python -m tests.browser.looked --to FOLDER NAME`` to look at it,
then ``python -m tests.browser.looked NAME`` (``make looks`` for all) to keep it.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Browser

from docs.tour.views import GROUPS, VIEWS, Group
from tests.browser.cells import difference
from tests.browser.fake_daemon import ROOT, FakeDaemon
from tests.browser.looked import KEPT, SIZES, TAKEN, Looker, compared, sprite, told

#: All kept pictures together, in bytes: a tree is cloned by everybody.
MOST = 2_000_000
PAGE = ROOT / "web" / "src"


@pytest.fixture(scope="module")
def looker(browser: Browser, one_for_all: FakeDaemon) -> Looker:
    """One page for all views."""
    if not one_for_all.running:
        one_for_all.start()
    return Looker(browser, one_for_all)


@pytest.mark.parametrize("group", GROUPS, ids=lambda it: it.title)
def test_it_looks_as_it_was_kept(looker: Looker, group: Group, tmp_path: Path) -> None:
    found = [line for view in group.views for line in compared(looker, view, tmp_path)]
    assert not found, "\n".join(found)


PANEL = """
it.style.position = 'relative';
const panel = document.createElement('i');
Object.assign(panel.style, {position: 'absolute', inset: 0, background: '#ffffff'});
it.append(panel);
"""
#: What is done to a board that is on target, and what must come of it.
DAMAGES = {
    "a button moved by 12 px": ("#primary", "it.style.transform = 'translateY(12px)'"),
    "another colour of a verdict": (".plate", "it.style.background = '#b02a10'"),
    "a line of text gone": (".stage-target", "it.style.visibility = 'hidden'"),
    "a word paler than can be read": (
        "[data-testid=ingredient]",
        "it.style.color = '#b8c0cc'",
    ),
    "a panel over the number": (
        "[data-testid=number]",
        PANEL,
    ),
    "a sign gone": (".plate svg", "it.remove()"),
}


def test_damage_is_seen_and_smoothing_is_not(looker: Looker) -> None:
    view = VIEWS["board-on-target"]
    for n, (what, (where, deed)) in enumerate(DAMAGES.items()):
        size = SIZES[n % len(SIZES)]
        looker.go(view)
        kept = looker.still(size, "light")
        assert difference(kept, looker.shown(size, "light")).cells == 0
        # Letters drawn a third of a pixel aside are smoothed otherwise, everywhere.
        looker.page.evaluate("document.body.style.transform = 'translate(0.34px, 0.34px)'")
        assert not difference(kept, looker.still(size, "light")), size
        looker.page.evaluate("document.body.style.transform = ''")
        looker.page.locator(where).first.evaluate("it => { " + deed + " }")
        assert difference(kept, looker.still(size, "light")), (what, size)


def test_a_difference_is_told_by_screen_size_and_theme_and_shown(
    looker: Looker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = sprite(VIEWS["board-over"])
    monkeypatch.setattr("tests.browser.looked.sprite", lambda view: other)
    found = compared(looker, VIEWS["board-on-target"], tmp_path)
    assert len(found) == len(TAKEN)
    name = "board-on-target-1024x768-dark"
    assert any(re.match(rf"{name}: \d+ cells differ within x ", line) for line in found)
    kinds = {one.name.removeprefix(f"{name}-") for one in tmp_path.glob(f"{name}-*")}
    assert kinds == {"expected.png", "actual.png", "difference.png", "page.png"}


def test_every_screen_has_a_view_and_every_view_is_kept() -> None:
    """A screen that is added to the page is added to ``docs/tour/views.py``."""
    routes = (PAGE / "core" / "routes.ts").read_text("utf-8")
    screens = set(re.findall(r'\| \{ screen: "([a-z-]+)"', routes))
    assert len(screens) > 20
    assert {one.screen for one in VIEWS.values()} == screens
    places = (PAGE / "app" / "places.ts").read_text("utf-8")
    named = set(re.findall(r'\{ id: "([a-z-]+)"', places))
    assert len(named) > 10
    assert named <= screens
    assert set(told()) == set(VIEWS)
    files = list(KEPT.glob("*.webp"))
    assert {one.stem for one in files} == set(VIEWS)
    assert sum(one.stat().st_size for one in files) < MOST
