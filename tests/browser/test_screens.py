"""The other screens: start, done, records, scales, simulation, notices."""

from __future__ import annotations

import json

from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon, frame, picture

BAD = "<script>window.bad = 1</script><img src=x onerror='window.bad = 1'>"


def test_a_batch_is_started_with_size_person_and_formula(page: Page, daemon: FakeDaemon) -> None:
    daemon.on_command = lambda body: daemon.show("awaiting-vessel")
    expect(page.get_by_test_id("problems")).to_contain_text("plum-sorbet.toml, line 14")
    page.get_by_role("link", name="Lemon sorbet").click()
    sheet = page.get_by_test_id("formula")
    expect(sheet).to_contain_text("can judge this tolerance from 13.2\u00a0g up. Use a finer scale")
    expect(sheet).to_contain_text("or a batch from 4760\u00a0g up.")
    expect(sheet).to_contain_text("the scale bench can weigh 6000 g")
    expect(sheet.get_by_label("Batch size")).to_have_value("1800")
    sheet.get_by_label("Batch size").fill("lots")
    sheet.get_by_role("button", name="Start").click()
    expect(sheet.get_by_role("alert")).to_contain_text("a number of grams above zero")
    sheet.get_by_label("Batch size").fill("900,5")
    sheet.get_by_role("button", name="Start").click()
    expect(sheet.get_by_role("alert")).to_contain_text("Say who is weighing")
    sheet.get_by_role("button", name="Bo").click()
    expect(sheet.get_by_label("Who is weighing")).to_have_value("Bo")
    sheet.get_by_role("button", name="Start").click()
    expect(page.get_by_test_id("phase")).to_have_text("No vessel yet")
    assert daemon.asked[0]["body"] == {
        "formula": "lemon-sorbet",
        "batch_g": "900.5",
        "operator": "Bo",
        "scale": "bench",
    }
    assert daemon.asked[0]["key"]
    daemon.show("no-batch")
    page.reload()
    page.get_by_role("link", name="Hazelnut base").click()
    expect(page.get_by_label("Who is weighing")).to_have_value("Bo")  # remembered


def test_the_list_says_which_formulas_the_scale_is_too_coarse_for(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    """And the sheet says it at once, before it has asked for the size."""
    lemon = next(it for it in daemon.formulas["formulas"] if it["id"] == "lemon-sorbet")
    warnings = frame("formula-lemon-sorbet")["warnings"]
    lemon["scales"][0]["warnings"] = warnings
    page = open_page(daemon.url)
    choice = page.get_by_role("link", name="Lemon sorbet")
    expect(choice).to_contain_text("1 addition is too fine for the scale bench")
    expect(page.get_by_text("too fine for the scale")).to_have_count(1)
    page.route("**/api/formulas/lemon-sorbet?*", lambda route: route.abort())
    choice.click()
    expect(page.get_by_test_id("formula")).to_contain_text("can judge this tolerance from 13.2")


def test_names_made_of_markup_are_shown_as_text(daemon: FakeDaemon, open_page: OpenPage) -> None:
    for formula in daemon.formulas["formulas"]:
        formula["name"] = formula["note"] = BAD
    page = open_page(daemon.url)
    expect(page.locator(".formula-choice b").first).to_have_text(BAD)
    state = picture("over-held")
    state["batch"]["formula"]["name"] = state["batch"]["operator"] = BAD
    for addition in state["batch"]["additions"]:
        addition["name"] = addition["lot"] = BAD
    state["station"]["name"] = BAD
    state["station"]["notices"] = [
        {"id": "n1", "level": "warn", "code": "other", "text": BAD, "at": "2026-03-02T09:00:00Z"}
    ]
    daemon.show(state)
    expect(page.get_by_test_id("ingredient")).to_have_text(BAD)
    expect(page.get_by_test_id("notice-n1")).to_contain_text(BAD)
    daemon.record["entries"][0]["body"]["formula"]["name"] = BAD
    page.goto(f"{daemon.url}/#/records/kitchen-0007")
    expect(page.locator("h1")).to_contain_text(BAD)
    assert page.evaluate("window.bad") is None


def test_the_policy_of_the_page_is_in_force(browser: Browser, daemon: FakeDaemon) -> None:
    """The other tests prove nothing about inline code if the policy were not there."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(daemon.url)
    inlined = page.evaluate(
        """() => {
          const it = document.createElement('script');
          it.textContent = 'window.inlined = 1';
          document.body.append(it);
          return window.inlined ?? null;
        }"""
    )
    context.close()
    assert inlined is None


def test_done_leads_to_the_record_and_on(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("done")
    done = page.get_by_test_id("done")
    expect(done).to_contain_text("1 addition was kept off target.")
    expect(done.locator(".went-in tbody tr")).to_have_count(5)
    expect(done.locator(".went-in tbody tr").nth(2)).to_contain_text("96\u00a0g")  # as planned
    expect(done.get_by_role("link", name="Sheet (PDF)")).to_be_visible()
    done.get_by_role("link", name="Open the record").click()
    record = page.get_by_test_id("record")
    expect(record.locator(".record-addition")).to_have_count(5)
    third = record.locator(".record-addition").nth(2)
    for text in (
        "Over",
        "97.9",
        "+1.9",
        "95.04 to 96.96",
        "G-07",
        "bench",
        "Ada",
        "0.043\u00a0g (standard)",
    ):
        expect(third).to_contain_text(text)
    expect(third).to_contain_text("rounding 0.041\u00a0g, spread of the readings 0.013\u00a0g")
    expect(third).to_contain_text("guarded, k = 2: guard band 0.086\u00a0g")
    expect(third).to_contain_text(
        "95.2 to 96.8\u00a0g"
    )  # inside 95.126 to 96.874 g, in steps of 0.1 g
    expect(third).to_contain_text("Makes no difference to this batch")
    expect(third.locator("table")).not_to_be_visible()
    third.get_by_text("Evidence: 16 readings").click()
    expect(third.locator("tbody tr")).to_have_count(16)
    expect(record).to_contain_text("Held: over (addition 3)")
    expect(record).to_contain_text("Decided: take some out")
    record.get_by_text("Other forms").click()
    with page.expect_download() as got:
        record.get_by_role("link", name="Download JSON").click()
    assert json.loads(got.value.path().read_text()) == frame("record")
    for name, ending in (("Table (CSV)", "csv"), ("Sheet (PDF)", "pdf")):
        with page.expect_download() as got:
            record.get_by_role("link", name=name).click()
        assert got.value.suggested_filename == f"kitchen-0007.{ending}"
    page.emulate_media(media="print")
    expect(page.locator(".bar")).not_to_be_visible()
    expect(page.locator(".print-only")).to_be_visible()


def test_records_are_listed_and_a_missing_one_is_said(page: Page, daemon: FakeDaemon) -> None:
    page.get_by_role("link", name="Records").click()
    rows = page.locator(".record-row")
    expect(rows).to_have_count(3)
    expect(rows.nth(1)).to_contain_text("Abandoned")
    page.goto(f"{daemon.url}/#/records/kitchen-9999")
    expect(page.get_by_role("alert")).to_have_text("There is no such batch.")


def test_a_scale_tells_what_it_could_not_read(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("notices")
    page.get_by_role("link", name="Scales").click()
    card = page.get_by_test_id("scale-bench")
    for text in ("1430.9 g", "6000 g", "0.1 g", "3f 3f 2b 31 0d"):
        expect(card).to_contain_text(text)


def test_notices_are_put_away(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("notices")
    notice = page.get_by_test_id("notice-n1")
    expect(notice).to_contain_text("The station restarted")
    notice.get_by_role("button").click()
    expect(notice).to_have_count(0)
    page.wait_for_timeout(100)
    assert daemon.dismissed == ["n1"]
    station = daemon.state["station"]
    daemon.change(station={**station, "store": {"ok": False, "code": "x", "text": "disk full"}})
    expect(page.get_by_role("alert")).to_contain_text("Nothing is accepted")


def test_holding_pours_and_any_way_of_letting_go_stops(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("ready")
    pour = page.get_by_test_id("pour")
    box = pour.bounding_box()
    assert box is not None
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)

    def held(let_go: str) -> None:
        page.mouse.move(*middle)
        page.mouse.down()
        expect(pour).to_have_text("Pouring…")
        if let_go == "leave":
            page.mouse.move(5, 5)
        elif let_go == "blur":
            page.evaluate("window.dispatchEvent(new Event('blur'))")
        page.mouse.up()
        expect(pour).to_have_text("Hold to pour")

    for let_go in ("up", "leave", "blur"):
        held(let_go)
    pour.focus()
    page.keyboard.down(" ")
    page.keyboard.down(" ")
    page.keyboard.up(" ")
    page.wait_for_timeout(200)
    done = [it["do"] for it in daemon.simulated]
    assert done == ["pour", "stop"] * 4
    assert daemon.simulated[0] == {"do": "pour", "g_per_s": "20"}
    assert daemon.asked == []  # Space on this button is not the big button's


def test_pretend_hands_are_there_only_in_simulation(page: Page, daemon: FakeDaemon) -> None:
    panel = page.get_by_test_id("simulation")
    panel.get_by_role("button", name="Open the simulation controls").click()
    for name in ("Set vessel down", "Lift vessel", "Put vessel back", "Bump the scale"):
        panel.get_by_role("button", name=name).click()
    panel.get_by_role("button", name="Unplug scale").click()
    panel.get_by_label("Let the cook work").uncheck()
    page.wait_for_timeout(300)
    assert [it["do"] for it in daemon.simulated] == [
        "vessel",
        "lift",
        "put back",
        "bump",
        "unplug",
        "cook",
    ]
    daemon.change(station={**daemon.state["station"], "simulation": False})
    expect(panel).to_have_count(0)


def test_the_page_fetches_nothing_from_elsewhere(daemon: FakeDaemon, open_page: OpenPage) -> None:
    page = open_page("about:blank")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(daemon.url)
    page.wait_for_selector(".formulas")
    assert asked
    assert all(url.startswith(daemon.url) for url in asked), asked
    notice = page.request.get(f"{daemon.url}/THIRD-PARTY.txt").text()
    assert "preact" in notice
    assert "MIT" in notice


def test_sixty_four_scales_are_seen_at_a_glance_and_told_more_when_asked(
    page: Page, daemon: FakeDaemon
) -> None:
    state = picture("no-batch")
    one = state["scales"]["bench"]
    names = ["bench", *(f"s{n:02d}" for n in range(1, 64))]
    state["scales"] = {name: one | {"name": name} for name in names}
    state["scales"]["s17"] |= {"link": "lost", "reading": None, "why": "Another weighd has it."}
    daemon.show(state)
    page.evaluate("location.hash = '#/scales'")
    expect(page.locator(".scale-card")).to_have_count(64)
    expect(page.get_by_test_id("scales-away")).to_have_text("Not heard just now: s17.")
    lost = page.get_by_test_id("scale-s17")
    expect(lost).to_contain_text("Another weighd has it.")
    expect(lost.locator(".facts").first).to_be_hidden()
    lost.locator("summary").first.focus()
    page.keyboard.press("Enter")
    expect(lost.locator(".facts").first).to_be_visible()
    # What is open stays open while the others go on.
    state["scales"]["s63"] |= {"reading": one["reading"] | {"shown": "77.7", "grams": "77.7"}}
    daemon.show(state)
    expect(page.get_by_test_id("scale-s63")).to_contain_text("77.7")
    expect(lost.locator(".facts").first).to_be_visible()
