"""Nothing that matters is covered, cut off or out of sight, whatever the window and contents."""

from __future__ import annotations

import copy

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon, Picture, picture

SIZES = [(390, 844), (1024, 768), (1920, 1080)]

#: What is really on top at the middle of a part: itself, or what covers it.
ON_TOP = """it => {
  const box = it.getBoundingClientRect();
  const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  return it.contains(top) || (top && top.contains(it)) ? '' : top ? top.className : 'outside';
}"""


def show(page: Page, daemon: FakeDaemon, name: str) -> None:
    """Show a recorded picture, and wait until the board does."""
    daemon.show(name)
    phase = picture(name)["live"]["phase"]
    expect(page.locator(".stage")).to_have_attribute("data-phase", phase)


def open_drawer(page: Page) -> None:
    toggle = page.get_by_role("button", name="Open the simulation controls")
    if toggle.is_visible():
        toggle.click()
    expect(page.get_by_role("button", name="Unplug scale")).to_be_visible()


def many(count: int, current: int) -> Picture:
    """A batch of so many additions, all before ``current`` accepted."""
    state = picture("pouring-far")
    additions = state["batch"]["additions"]
    done, now, waiting = additions[0], additions[1], additions[2]
    made = []
    for n in range(1, count + 1):
        source = done if n < current else now if n == current else waiting
        made.append({**copy.deepcopy(source), "n": n, "name": f"Ingredient {n}"})
    state["batch"].update(additions=made, current=current)
    state["live"]["addition"] = current
    return state


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_open_drawer_covers_neither_number_nor_button(
    page: Page, daemon: FakeDaemon, width: int, height: int
) -> None:
    page.set_viewport_size({"width": width, "height": height})
    open_drawer(page)
    for name in ("pouring-near", "over-held", "taking-out"):
        show(page, daemon, name)
        for part in ("phase", "number-main", "primary", "pour"):
            assert page.get_by_test_id(part).evaluate(ON_TOP) == "", (name, part)
        for deed in ("Set vessel down", "Take out 5", "Unplug scale"):
            assert page.get_by_role("button", name=deed).evaluate(ON_TOP) == "", deed
    if width >= 1024:
        drawer = page.get_by_test_id("simulation").bounding_box()
        board = page.locator(".stage").bounding_box()
        assert drawer is not None
        assert board is not None
        assert board["x"] + board["width"] <= drawer["x"]
        assert board["y"] + board["height"] <= height


@pytest.mark.parametrize(("width", "height"), SIZES[1:])
def test_list_and_scale_stay_in_sight_beside_a_held_addition(
    page: Page, daemon: FakeDaemon, width: int, height: int
) -> None:
    page.set_viewport_size({"width": width, "height": height})
    daemon.show("over-held")
    expect(page.get_by_test_id("held")).to_be_visible()
    for it in (page.get_by_test_id("scale-state"), page.locator(".addition.is-current")):
        assert it.evaluate(ON_TOP) == ""
    box = page.get_by_test_id("scale-state").bounding_box()
    pour = page.get_by_test_id("simulation").bounding_box()
    assert box is not None
    assert pour is not None
    assert box["y"] + box["height"] <= (pour["y"] if pour["x"] < box["x"] else height)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_long_list_shows_the_current_addition_and_leaves_the_board_alone(
    page: Page, daemon: FakeDaemon, width: int, height: int
) -> None:
    page.set_viewport_size({"width": width, "height": height})
    daemon.show(many(20, 3))
    expect(page.get_by_test_id("ingredient")).to_have_text("Ingredient 3")
    daemon.show(many(20, 18))
    expect(page.get_by_test_id("ingredient")).to_have_text("Ingredient 18")
    assert page.get_by_test_id("number-main").evaluate(ON_TOP) == ""
    if width >= 800:
        assert page.locator(".addition.is-current").evaluate(ON_TOP) == ""


def test_at_four_hundred_percent_everything_can_be_reached_by_scrolling_one_way(
    page: Page, daemon: FakeDaemon
) -> None:
    """WCAG 2.2, 1.4.10 (from memory): 1280 by 1024 at 400 % is 320 by 256 CSS pixels."""
    page.set_viewport_size({"width": 320, "height": 256})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    for name in ("pouring-near", "over-held", "scale-at-zero"):
        show(page, daemon, name)
        assert page.evaluate("document.documentElement.scrollWidth") <= 320, name
        for part in ("number-main", "primary", "pour"):
            page.get_by_test_id(part).scroll_into_view_if_needed()
            assert page.get_by_test_id(part).evaluate(ON_TOP) == "", (name, part)


def test_the_title_of_the_first_screen_stands_on_one_line(page: Page) -> None:
    for width, height in SIZES[1:]:
        page.set_viewport_size({"width": width, "height": height})
        for hash_ in ("#/", "#/start/lemon-sorbet"):
            page.evaluate("it => { location.hash = it }", hash_)
            title = page.get_by_role("heading", level=1)
            lines = title.evaluate(
                """it => it.getBoundingClientRect().height
                  / parseFloat(getComputedStyle(it).lineHeight)"""
            )
            assert lines < 1.5, (width, hash_)


def test_wherever_tab_leads_it_can_be_seen(page: Page, daemon: FakeDaemon) -> None:
    """Every stop has an outline of its own colour, and is not under anything (WCAG 2.2, 2.4.11)."""
    page.set_viewport_size({"width": 1024, "height": 768})
    open_drawer(page)
    daemon.show("over-held")
    expect(page.get_by_test_id("held")).to_be_visible()
    page.locator(".bar-name").focus()
    stops = []
    for _ in range(40):
        page.keyboard.press("Tab")
        stop = page.evaluate(
            """() => {
              const it = document.activeElement;
              if (!it || it === document.body) return null;
              const drawn = it.closest('label.choice') ?? it;
              const style = getComputedStyle(drawn);
              const box = drawn.getBoundingClientRect();
              const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
              return [it.textContent || it.name || it.type, style.outlineStyle,
                parseFloat(style.outlineWidth), drawn.contains(top) || top.contains(drawn)];
            }"""
        )
        if stop is None:
            break
        stops.append(stop)
    assert len(stops) > 15
    assert [it for it in stops if it[1] != "solid" or it[2] < 3 or not it[3]] == []
    names = " ".join(str(it[0]) for it in stops)
    for name in ("Take some out", "Keep it as it is", "Hold to pour", "Unplug scale"):
        assert name in names


def test_forced_colours_leave_every_word_readable(daemon: FakeDaemon, open_page: OpenPage) -> None:
    page = open_page(daemon.url, forced_colors="active")
    page.wait_for_selector(".formulas")
    for name in ("pouring-near", "over-held", "on-target"):
        show(page, daemon, name)
        pairs = page.evaluate(
            """() => ['.plate strong', '.number-main', '#primary span'].map(which => {
              const it = document.querySelector(which);
              const ground = of => getComputedStyle(of).backgroundColor;
              let under = it;
              while (ground(under) === 'rgba(0, 0, 0, 0)') under = under.parentElement;
              return [which, getComputedStyle(it).color, ground(under)];
            })"""
        )
        for which, ink, ground in pairs:
            assert ink != ground, (name, which)
        fill = page.locator(".tape-level").evaluate("it => getComputedStyle(it).fill")
        track = page.locator(".tape-track").evaluate("it => getComputedStyle(it).fill")
        assert fill != track
