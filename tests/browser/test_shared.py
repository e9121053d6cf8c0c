"""Lots, traces and formulas of other stations on the page, as the station tells of them."""

from __future__ import annotations

import json
from typing import Any

from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon

LOT = {
    "lot": "cold-R0001",
    "ingredient": "milk",
    "name": "Milk",
    "supplier": "Invented Dairy",
    "supplier_lot": "",
    "gtin": "",
    "made_in": "",
    "document": "",
    "note": "",
    "temperature_c": "",
    "quantity_g": "1000",
    "left_g": "-100",
    "used_g": "400",
    "station": "cold",
    "elsewhere": [{"station": "cold", "g": "700"}],
    "over_g": "100",
    "u_used_g": "0.1",
    "wasted_g": "0",
    "counted_g": "0",
    "uses": 1,
    "use_by": "",
    "use_by_closed": "",
    "best_before": "",
    "days_left": None,
    "opened": "",
    "keeps_days": None,
    "blocked": "",
    "used_up": "",
    "received": "2026-11-25T09:00:00.000Z",
    "by": "Ada",
    "fit": "good",
}
PLUM = {
    "id": "plum-ice@0123456789ab",
    "number": 3,
    "formula": "plum-ice",
    "revision": "0123456789ab",
    "name": "Plum ice",
    "station": "cold",
    "by": "Ada",
    "at": "2026-11-26T10:00:00.000Z",
    "chosen": "new",
    "own": "differs",
    "newest": True,
}
SAID = "The shared store cannot be reached, so this is what station hot recorded."


def answer(page: Page, path: str, document: Any, sent: list[Any] | None = None) -> None:
    """Have the station answer so."""

    def give(route: Route) -> None:
        if sent is not None and route.request.method == "POST":
            sent.append(json.loads(route.request.post_data or "{}"))
        route.fulfill(json=document() if callable(document) else document)

    page.route(path, give)


def test_an_overdraw_and_old_knowledge_are_told_with_the_lots(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    page = open_page(daemon.url)
    heard = {"heard_at": "2026-11-24T10:00:00.000Z", "cut_off": "It does not answer."}
    answer(page, "**/api/lots?**", {"day": "2026-11-26", "lots": [LOT], "shared": heard})
    answer(page, "**/api/lots/*", {**LOT, "history": []})
    page.goto(f"{daemon.url}#/lots")
    expect(page.get_by_test_id("cut-off")).to_contain_text("Cut off from the other stations")
    row = page.locator('[data-lot="cold-R0001"]')
    expect(row).to_contain_text("received at cold")
    expect(row.get_by_test_id("overdrawn")).to_contain_text("more drawn than there was")
    row.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("cold 700")
    expect(page.get_by_test_id("lot-facts")).to_contain_text("Drawn elsewhere")


def test_a_trace_says_what_it_does_not_show(daemon: FakeDaemon, open_page: OpenPage) -> None:
    page = open_page(daemon.url)
    trace = {
        "lot": "cold-R0001",
        "known": LOT,
        "forward": [],
        "back": [],
        "circles": [],
        "balance": None,
        "everywhere": False,
        "stations": ["hot"],
        "said": SAID,
        "name": "Milk",
        "sums": {"in_stock_g": "0", "wasted_g": "0", "out_g": "0"},
        "tell": [],
        "day": "2026-11-26",
        "took_ms": 1.0,
        "drill": True,
    }
    answer(page, "**/api/trace/**", trace)
    page.goto(f"{daemon.url}#/trace/cold-R0001")
    expect(page.get_by_test_id("looked")).to_contain_text(SAID)


def test_a_formula_of_another_station_is_taken_by_keyboard(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    page, sent = open_page(daemon.url), list[Any]()
    chosen = {"now": "new"}
    answer(
        page,
        "**/api/shared/formulas",
        lambda: {"sharing": True, "formulas": [{**PLUM, "chosen": chosen["now"]}]},
    )

    def take(route: Route) -> None:
        sent.append(json.loads(route.request.post_data or "{}"))
        chosen["now"] = "taken"
        route.fulfill(json={"id": PLUM["id"], "chosen": "taken"})

    page.route("**/api/shared/formulas/*", take)
    page.goto(f"{daemon.url}#/formulas")
    others = page.get_by_test_id("from-others")
    expect(others).to_contain_text("Ada at cold")
    expect(others).to_contain_text("The kitchen's own is another one.")
    others.get_by_role("button", name="Take it").press("Enter")
    expect(others.get_by_role("alert")).to_contain_text("who")  # nobody is named yet
    others.locator('[name="by"]').fill("Bo")
    others.get_by_role("button", name="Take it").press("Enter")
    expect(others).to_contain_text("Can be weighed here")
    assert sent == [{"do": "take", "by": "Bo"}]
