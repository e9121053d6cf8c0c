"""Lots over the network: received, named, scanned, traced; and what is refused."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from pypdf import PdfReader

from tests.http.kitchen import Kitchen

pytestmark = pytest.mark.anyio
RAW = "]C1010950110153000310ABC123\x1d172712313103001250"


async def receive(kitchen: Kitchen, **given: Any) -> str:
    body = {"ingredient": "milk", "quantity_g": "2 kg", "by": "Ada", **given}
    answer = await kitchen.post("/api/lots", body)
    assert answer.status_code == 201, answer.text
    return str(answer.json()["lot"])


async def scan(kitchen: Kitchen, text: str) -> dict[str, Any]:
    answer = await kitchen.post("/api/scan", {"text": text})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


async def weigh_milk(kitchen: Kitchen, lot: str) -> None:
    await kitchen.start()
    await kitchen.show("300")
    assert (await kitchen.do("tare")).status_code == 200
    assert (await kitchen.do("name lot", lot=lot)).status_code == 200
    await kitchen.show("800")
    assert (await kitchen.do("accept")).status_code == 200


async def test_a_lot_from_the_door_to_the_batch(kitchen: Kitchen) -> None:
    lot = await receive(kitchen, supplier="Invented Dairy", use_by="2026-11-30", temperature_c="4")
    assert lot == "R-0001"
    await weigh_milk(kitchen, lot)
    one = (await kitchen.get(f"/api/lots/{lot}")).json()
    assert (one["left_g"], one["used_g"], one["fit"], one["days_left"]) == (
        "1500",
        "500",
        "good",
        5,
    )
    assert [it["kind"] for it in one["history"]] == ["lot received"]
    for word, count in (("dairy", 1), ("r-0001", 1), ("MILK", 1), ("sugar", 0)):
        assert len((await kitchen.get(f"/api/lots?q={word}")).json()["lots"]) == count
    for do, more in (
        ("open", {}),
        ("block", {"reason": "a stone"}),
        ("release", {"reason": "a nut"}),
        ("adjust", {"count_g": "1400", "reason": "counted"}),
        ("adjust", {"waste_g": 100, "reason": "spilt"}),
        ("use up", {}),
    ):
        done = await kitchen.post(f"/api/lots/{lot}/commands", {"do": do, "by": "Ada", **more})
        assert done.status_code == 200, done.text
    assert (await kitchen.get("/api/lots")).json()["lots"] == []
    assert len((await kitchen.get("/api/lots?gone=true")).json()["lots"]) == 1


async def test_the_lot_to_take_first_is_shown_and_a_wrong_one_refused(kitchen: Kitchen) -> None:
    late = await receive(kitchen, use_by="2026-12-30")
    soon = await receive(kitchen, use_by="2026-11-30")
    sugar = await receive(kitchen, ingredient="sugar")
    await kitchen.start()
    shown = (await kitchen.get("/api/state")).json()["state"]["batch"]["first_out"]
    assert (shown["lot"], shown["enough"]) == (soon, True)
    await kitchen.show("300")
    await kitchen.do("tare")
    wrong = await kitchen.do("name lot", lot=sugar)
    assert (wrong.status_code, wrong.json()["code"]) == (409, "other-ingredient")
    assert wrong.json()["detail"] == "That is Sugar; Milk is being weighed."
    block = {"do": "block", "by": "Ada", "reason": "called back"}
    await kitchen.post(f"/api/lots/{soon}/commands", block)
    shown = (await kitchen.get("/api/state")).json()["state"]["batch"]["first_out"]
    assert shown["lot"] == late
    assert (await kitchen.do("name lot", lot=soon)).json()["code"] == "lot-blocked"


async def test_a_scan_says_what_it_is_and_whether_it_is_wanted_now(kitchen: Kitchen) -> None:
    found = await scan(kitchen, RAW)
    assert (found["is"], found["supplier_lot"], found["net_g"]) == ("unknown", "ABC123", "1250.000")
    assert found["use_by"] == "2027-12-31"
    assert found["current"] is None
    lot = await receive(
        kitchen, ingredient="sugar", supplier_lot="ABC123", gtin=found["gtin"], quantity_g="1250"
    )
    found = await scan(kitchen, RAW)
    assert (found["is"], found["lot"], found["name"]) == ("lot", lot, "Sugar")
    assert (await scan(kitchen, lot))["is"] == "lot"
    # The same goods of another lot: the trade number is known by now.
    assert (await scan(kitchen, "010950110153000310OTHER"))["is"] == "ingredient"
    assert (await scan(kitchen, "9501101530003"))["ingredient"] == "sugar"
    assert (await scan(kitchen, "010950110153000410X"))["is"] == "misread"
    assert (await scan(kitchen, "never seen"))["is"] == "unknown"
    await kitchen.start()
    for text in (RAW, "9501101530003"):
        told = (await scan(kitchen, text))["current"]
        assert told["fits"] is False
        assert told["refusal"]["detail"] == "That is Sugar; Milk is being weighed."
    milk = await receive(kitchen)
    assert (await scan(kitchen, milk))["current"] == {"addition": 1, "fits": True, "refusal": None}


async def test_a_lot_that_runs_out_is_split(kitchen: Kitchen) -> None:
    first, second = await receive(kitchen), await receive(kitchen)
    await kitchen.start()
    await kitchen.show("300")
    await kitchen.do("tare")
    await kitchen.do("name lot", lot=first)
    await kitchen.show("500")
    assert (await kitchen.do("next lot", lot=second)).status_code == 200
    await kitchen.show("800")
    assert (await kitchen.do("accept")).status_code == 200
    record = (await kitchen.get("/api/batches/kitchen-0001/record")).json()
    body = next(one["body"] for one in record["entries"] if one["kind"] == "addition accepted")
    assert body["lots"] == [{"lot": first, "g": "200"}, {"lot": second, "g": "300"}]
    told = (await kitchen.get(f"/api/trace/{first}")).json()
    assert [(one["batch"], one["g"]) for one in told["forward"]] == [("kitchen-0001", "200")]


async def test_a_trace_and_its_sheet(kitchen: Kitchen) -> None:
    lot = await receive(kitchen, note="=1+1", supplier="=cmd()")
    await weigh_milk(kitchen, lot)
    told = (await kitchen.get(f"/api/trace/{lot}?drill=true")).json()
    assert told["forward"][0]["percent"] == "100"
    assert told["balance"]["difference_g"] is None
    count = {"do": "adjust", "count_g": "1490", "reason": "counted", "by": "Ada"}
    await kitchen.post(f"/api/lots/{lot}/commands", count)
    told = (await kitchen.get(f"/api/trace/{lot}?drill=true")).json()["balance"]
    assert (told["difference_g"], told["adds_up"]) == ("10", False)
    sheet = await kitchen.get(f"/api/trace/{lot}?format=csv")
    rows = list(csv.reader(io.StringIO(sheet.text)))
    assert rows[2][:6] == ["in", "1", "kitchen-0001", "Test ice", "", "500"]
    assert rows[1][rows[0].index("supplier")] == "'=cmd()"
    assert not any(cell.startswith(("=", "+", "-", "@")) for row in rows for cell in row)
    made = await kitchen.get(f"/api/trace/{lot}?format=pdf&drill=true")
    assert made.headers["content-type"] == "application/pdf"
    text = PdfReader(io.BytesIO(made.content)).pages[0].extract_text()
    assert "A drill: nothing is called back." in text
    assert "kitchen-0001" in text
    back = (await kitchen.get("/api/trace/kitchen-0001")).json()
    assert [(one["lot"], one["g"]) for one in back["back"]] == [(lot, "500")]
    gone = await kitchen.get("/api/trace/nothing/like/it")
    assert (gone.status_code, gone.json()["code"]) == (404, "unknown-lot")


async def test_what_a_batch_made_is_a_lot_that_can_be_weighed_in(kitchen: Kitchen) -> None:
    lot = await receive(kitchen)
    await weigh_milk(kitchen, lot)
    body = {"ingredient": "sugar", "made_in": "kitchen-0001", "by": "Ada"}
    early = await kitchen.post("/api/lots", body)
    assert (early.status_code, early.json()["code"]) == (409, "not-made")
    for amount in ("920", "922"):
        await kitchen.show(amount)
        assert (await kitchen.do("accept")).status_code == 200
    made = await kitchen.post("/api/lots", body)
    assert (made.status_code, made.json()["lot"]) == (201, "kitchen-0001")
    one = (await kitchen.get("/api/lots/kitchen-0001")).json()
    assert (one["quantity_g"], one["made_in"]) == ("622", "kitchen-0001")


async def test_the_same_key_acts_once(kitchen: Kitchen) -> None:
    body = {"ingredient": "milk", "quantity_g": "5", "by": "Ada"}
    answers = [await kitchen.post("/api/lots", body, key="one") for _ in range(3)]
    assert [one.status_code for one in answers] == [201, 200, 200]
    assert {one.json()["lot"] for one in answers} == {"R-0001"}
    other = await kitchen.post("/api/lots", {**body, "quantity_g": "6"}, key="one")
    assert (other.status_code, other.json()["code"]) == (422, "key-reused")
    assert len((await kitchen.get("/api/lots")).json()["lots"]) == 1


@pytest.mark.parametrize(
    ("path", "body", "status", "code"),
    [
        (
            "/api/lots",
            {"ingredient": "gold", "quantity_g": "5", "by": "A"},
            422,
            "unknown-ingredient",
        ),
        ("/api/lots", {"ingredient": "milk", "by": "A"}, 422, "bad-lot"),
        ("/api/lots", {"ingredient": "milk", "quantity_g": "5", "by": ""}, 422, "no-operator"),
        ("/api/lots", {"ingredient": "milk", "quantity_g": "5"}, 422, "invalid-request"),
        ("/api/lots", {"ingredient": "milk", "quantity_g": "x", "by": "A"}, 422, "bad-lot"),
        (
            "/api/lots",
            {"ingredient": "milk", "quantity_g": "5", "by": "A", "use_by": "32"},
            422,
            "bad-lot",
        ),
        (
            "/api/lots",
            {"ingredient": "milk", "quantity_g": "5", "by": "A", "made_in": "kitchen-0009"},
            404,
            "unknown-batch",
        ),
        (
            "/api/lots",
            {"ingredient": "milk", "quantity_g": "5", "by": "A", "corrects": "R-9", "reason": "x"},
            404,
            "unknown-lot",
        ),
        ("/api/lots/R-9/commands", {"do": "open", "by": "A"}, 404, "unknown-lot"),
        ("/api/lots/R-9/commands", {"do": "eat", "by": "A"}, 422, "invalid-request"),
        ("/api/scan", {"text": ""}, 422, "invalid-request"),
        ("/api/scan", {"text": "x" * 501}, 422, "invalid-request"),
    ],
)
async def test_what_cannot_be_met_is_told(
    kitchen: Kitchen, path: str, body: dict[str, Any], status: int, code: str
) -> None:
    answer = await kitchen.post(path, body)
    assert (answer.status_code, answer.json()["code"]) == (status, code), answer.text
    assert (await kitchen.get("/api/lots?gone=true")).json()["lots"] == []


async def test_an_act_without_its_reason_is_refused(kitchen: Kitchen) -> None:
    lot = await receive(kitchen)
    for body in ({"do": "block"}, {"do": "adjust", "count_g": "1"}):
        answer = await kitchen.post(f"/api/lots/{lot}/commands", {**body, "by": "Ada"})
        assert (answer.status_code, answer.json()["code"]) == (409, "needs-reason")
    with_both = {"do": "adjust", "count_g": "1", "waste_g": "1", "reason": "x", "by": "Ada"}
    answer = await kitchen.post(f"/api/lots/{lot}/commands", with_both)
    assert answer.json()["code"] == "bad-lot"
    stray = await kitchen.do("receive lot")
    assert stray.json()["code"] == "unknown-command"
