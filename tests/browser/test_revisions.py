"""Revisions of a formula on the page: listed, side by side, and one taken up again."""

from __future__ import annotations

import json
from typing import Any

import httpx
from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.fake_daemon import FakeDaemon
from tests.browser.test_axe import violations

SORBET = "lemon-sorbet"


def changed(url: str) -> tuple[str, str]:
    """Change the sorbet of the demo as another hand would; its revision before and after."""
    with httpx.Client(base_url=url) as http:

        def revision() -> str:
            return str(http.get(f"api/formulas/{SORBET}").json()["revision"])

        first = revision()
        source = http.get(f"api/formulas/{SORBET}/source").json()
        keys = ("name", "note", "kind", "cautions", "additions")
        draft: dict[str, Any] = {key: source[key] for key in keys}
        draft["additions"][0]["target"] = "300 g"
        del draft["additions"][1]
        tag = {"If-Match": f'"{source["tag"]}"'}
        assert http.put(f"api/formulas/{SORBET}", json=draft, headers=tag).status_code == 200
        return first, revision()


def wide(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth > innerWidth + 1"))


def test_from_a_batch_to_what_changed_and_back_to_the_earlier_one(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open")
    with httpx.Client(base_url=station.url, headers={"Idempotency-Key": "begun"}) as http:
        asked = {"formula": SORBET, "operator": "Ada"}
        batch = http.post("api/batches", json=asked).json()["batch"]
    first, second = changed(station.url)
    page = open_page(f"{station.url}#/records/{batch}", viewport={"width": 1024, "height": 768})
    since = page.get_by_test_id("since")
    expect(since).to_contain_text("The formula has changed since this batch.")
    since.get_by_role("link", name="Revisions").click()
    rows = page.locator(".revision")
    expect(rows).to_have_count(2)
    expect(rows.nth(0)).to_contain_text("saved on the page")
    expect(rows.nth(1)).to_contain_text("1 batch")
    page.get_by_test_id("compare").click()
    what, comes = page.get_by_test_id("what"), page.get_by_test_id("comes")
    expect(what.locator('[data-told="removed"]')).to_contain_text("removed")
    assert page.url.endswith(f"#/revisions/{SORBET}/{first}/{second}")
    for told in ("less", "removed", "same"):
        expect(what.locator(f'tr[data-told="{told}"] .told').first).not_to_be_empty()
    expect(comes.locator("svg .line")).to_have_count(2)
    expect(comes.locator('tr[data-told="more"]').first).to_contain_text("\u25b2")
    assert violations(page) == []
    for size in ((390, 844), (1920, 1080)):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert not wide(page)
    page.get_by_test_id("side-then").get_by_role("link", name="Take this one up again").click()
    expect(page.get_by_test_id("taken-up")).to_contain_text(first[:6])
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_url(f"**/#/formula/{SORBET}")
    with httpx.Client(base_url=station.url) as http:
        assert http.get(f"api/formulas/{SORBET}").json()["revision"] == first
        assert len(http.get(f"api/formulas/{SORBET}/revisions").json()["revisions"]) == 2


ONLY = {
    "revision": "0123456789ab", "name": "Ice", "now": True, "since": "2026-11-26T09:00:00.000Z",
    "batch_g": "400", "additions": 2,
    "met": [{"where": "file", "at": "2026-11-26T09:00:00.000Z", "by": "", "station": ""}],
    "batches": {"count": 0, "first": None, "last": None, "newest": []},
}  # fmt: skip


def test_one_alone_none_and_no_answer_are_told(daemon: FakeDaemon, open_page: OpenPage) -> None:
    page = open_page(daemon.url)
    told: dict[str, Any] = {
        "formula": "ice", "name": "Ice", "now": None, "revisions": [], "away": 2,
        "problems": [{"where": ".revisions/ice/x.json", "message": "It is too large."}],
    }  # fmt: skip
    answers: list[Any] = [None, (404, "unknown-formula"), told, {**told, "revisions": [ONLY]}]

    def answer(route: Route) -> None:
        one = answers.pop(0)
        if one is None:
            route.abort()
        elif isinstance(one, tuple):
            body = {"status": one[0], "code": one[1], "detail": "No formula is called so."}
            kind = "application/problem+json"
            route.fulfill(status=one[0], body=json.dumps(body), content_type=kind)
        else:
            route.fulfill(json=one)

    page.route("**/api/formulas/ice/revisions", answer)
    page.goto(f"{daemon.url}#/revisions/ice")
    expect(page.get_by_role("alert").first).to_be_visible()
    page.get_by_role("button", name="Try again").click()
    expect(page.get_by_role("alert").first).to_contain_text("formula")
    page.get_by_role("button", name="Try again").click()
    here = page.get_by_test_id("revisions")
    expect(here).to_contain_text("There is no file of this formula here.")
    expect(here).to_contain_text("2 batches were put away")
    expect(here).to_contain_text("Left out: .revisions/ice/x.json. It is too large.")
    page.goto(f"{daemon.url}#/records")
    page.goto(f"{daemon.url}#/revisions/ice")
    expect(here).to_contain_text("Only this one is known so far.")
    expect(page.get_by_test_id("compare")).to_have_count(0)
