"""The page as an app of its own: it opens without its station, says so, and keeps no weight."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon

KEPT = """async () => {
  await navigator.serviceWorker.ready;
  for (const name of await caches.keys())
    if ((await (await caches.open(name)).keys()).length > 5) return true;
  return false;
}"""


def until(page: Page, so: str) -> None:
    """Ask until it is so. The page's own rules forbid to make code of texts within it."""
    for _ in range(300):
        if page.evaluate(so):
            return
        page.wait_for_timeout(50)
    raise AssertionError(so)


def kept(page: Page) -> list[str]:
    """The addresses of all that the browser keeps of the page."""
    found: list[str] = page.evaluate(
        """async () => {
          const all = [];
          for (const name of await caches.keys())
            for (const one of await (await caches.open(name)).keys()) all.push(one.url);
          return all;
        }"""
    )
    return found


def test_without_its_station_the_page_opens_and_says_so(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open")
    page = open_page(station.url, service_workers="allow")
    page.wait_for_selector(".formulas")
    until(page, f"({KEPT})()")
    assert all("/api/" not in one for one in kept(page))
    manifest = page.evaluate(
        "fetch(document.querySelector('link[rel=manifest]').href).then(it => it.json())"
    )
    assert (manifest["display"], manifest["start_url"]) == ("standalone", "./")
    station.kill()
    page.reload()
    lost = page.get_by_role("alert").filter(has_text="No connection to the station")
    expect(lost).to_be_visible()
    expect(page.get_by_role("button", name="Try now")).to_be_visible()
    expect(page.locator(".formulas")).to_have_count(0)
    station.start()
    expect(page.locator(".formulas")).to_be_visible(timeout=15_000)
    expect(lost).to_have_count(0)


def test_the_screen_is_kept_awake_only_while_there_is_something_to_look_at(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open")
    page = open_page("about:blank")
    page.add_init_script(
        """window.held = 0;
        const lock = { request: async () => {
          window.held += 1;
          const one = new EventTarget();
          one.release = async () => { window.held -= 1; one.dispatchEvent(new Event("release")); };
          return one;
        }};
        Object.defineProperty(Navigator.prototype, "wakeLock", { get: () => lock });"""
    )
    page.goto(station.url)
    page.wait_for_selector(".formulas")
    assert page.evaluate("held") == 0
    station.begin("lemon-sorbet")
    until(page, "held === 1")
    station.kill()
    until(page, "held === 0")
    station.start()
    until(page, "held === 1")
    # On a wall it is, whatever becomes of the station.
    page.goto(f"{station.url}#/wall/on")
    expect(page.get_by_test_id("wall")).to_be_visible()
    station.kill()
    expect(page.get_by_test_id("wall-away")).to_be_visible()
    until(page, "held === 1")
