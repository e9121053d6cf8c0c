"""The first load: from navigation to a painted weight, and what goes over the wire; cold caches."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from typing import Any

from playwright.async_api import Browser

from benchmarks.page_browser import Trace, metrics, open_page
from benchmarks.page_sides import NUMBER, Side


@dataclass
class Load:
    """What came of some first loads in one language."""

    #: from navigation to the first weight on the screen, in ms
    times: list[float] = field(default_factory=list)
    #: bytes over the wire, with their headers, and what they unpack to
    wire: int = 0
    plain: int = 0
    requests: int = 0


async def first_load(browser: Browser, side: Side, locale: str, load: Load) -> None:
    """Load once, as a browser that was never there; what is kept for later does not count.

    Packed by gzip alone: a station in a kitchen has no TLS as a rule, and browsers take brotli only
    with it (or from this very machine, which is why it is ruled out here).
    """
    context, page = await open_page(
        browser,
        locale=locale,
        service_workers="allow",
        extra_http_headers={"Accept-Encoding": "gzip"},
    )
    try:
        session = await context.new_cdp_session(page)
        for what in ("Performance.enable", "Network.enable"):
            await session.send(what)
        sent: dict[str, float] = {}
        plain: dict[str, int] = {}

        def came(it: dict[str, Any]) -> None:
            plain[it["requestId"]] = plain.get(it["requestId"], 0) + it["dataLength"]

        session.on("Network.dataReceived", came)
        session.on(
            "Network.loadingFinished",
            lambda it: sent.__setitem__(it["requestId"], it["encodedDataLength"]),
        )
        trace = await Trace.begin(browser)
        await page.goto(side.url)
        await page.wait_for_selector(NUMBER, state="attached")
        await asyncio.sleep(0.7)
        told = await trace.end()
        began = (await metrics(session))["NavigationStart"]
        shown = [
            at
            for one in told.values()
            for at, text in one.painted()
            if side.shown(text) is not None and at > began
        ]
        if not shown:
            raise RuntimeError(f"{side.name} painted no weight")
        load.times.append(1000 * (min(shown) - began))
        load.wire, load.plain = int(sum(sent.values())), sum(plain.values())
        load.requests = len(sent)
    finally:
        await context.close()
