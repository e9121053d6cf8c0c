"""How far behind the shared store is: nothing when all is sent, a line, a banner where one acts."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon, picture

BEHIND: dict[str, Any] = {
    "state": "behind",
    "store": "postgresql://bench@floor.example/weighd",
    "behind": 1240,
    "since": "2026-11-25T08:00:00.000Z",
    "contact": None,
    "code": "store-away",
    "why": "The shared store does not answer.",
}


def test_it_is_calm_while_it_waits_and_loud_where_somebody_has_to_act(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    daemon.show({**picture("pouring-near"), "sharing": BEHIND})
    page = open_page(daemon.url)
    line = page.get_by_test_id("outgoing")
    expect(line).to_contain_text("1240 entries wait for the shared store, the oldest from")
    expect(line).to_contain_text("does not answer")
    stopped = page.get_by_test_id("outgoing-stopped")
    expect(stopped).to_have_count(0)
    daemon.change(sharing={**BEHIND, "state": "stopped", "code": "shared-forked"})
    expect(stopped).to_contain_text("Nothing goes to the shared store")
    expect(line).to_have_count(0)
    todo = stopped.get_by_text("Rename one")
    expect(todo).not_to_be_visible()
    stopped.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(todo).to_be_visible()
    daemon.change(sharing={**BEHIND, "state": "current", "behind": 0, "since": None, "code": ""})
    expect(stopped).to_have_count(0)
    expect(line).to_have_count(0)
