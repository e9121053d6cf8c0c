"""Every address answers in the agreed shape."""

from __future__ import annotations

import json

import pytest

from tests.http.kitchen import Kitchen, NotedSimulation
from tests.station.scripted import formula
from weighd.domain.errors import FormulaError, JournalError
from weighd.domain.formula_text import read_formula
from weighd.domain.record import Entry
from weighd.domain.verify import read_export
from weighd.http.ports import HttpSettings

pytestmark = pytest.mark.anyio


async def test_health_says_whether_the_station_can_weigh(kitchen: Kitchen) -> None:
    answer = await kitchen.get("/api/health")
    assert answer.json() == {
        "status": "ok",
        "version": "0.1.0",
        "station": "kitchen",
        "scales": {"bench": "live"},
        "store": "ok",
        "sharing": None,
    }
    await kitchen.lose()
    answer = await kitchen.get("/api/health")
    assert answer.status_code == 200
    assert (answer.json()["status"], answer.json()["scales"]) == ("degraded", {"bench": "lost"})


async def test_health_tells_of_a_store_that_cannot_write(kitchen: Kitchen) -> None:
    kitchen.journal.fail = JournalError("store-full", "The disk is full.")
    refused = await kitchen.start()
    assert (refused.status_code, refused.json()["code"]) == (503, "store-full")
    health = (await kitchen.get("/api/health")).json()
    assert (health["status"], health["store"]) == ("degraded", "The disk is full.")


async def test_the_state_is_the_picture_and_its_number(kitchen: Kitchen) -> None:
    body = (await kitchen.get("/api/state")).json()
    assert body["seq"] == kitchen.picture.seq
    state = body["state"]
    assert set(state) == {"station", "scales", "batch", "live", "process", "sharing"}
    assert (state["batch"], state["live"]) == (None, None)
    assert state["station"]["boot"] == "first-boot"
    assert state["scales"]["bench"]["reading"]["grams"] == "0"
    assert (await kitchen.get("/api/scales")).json() == {"scales": state["scales"]}
    wire = (await kitchen.get("/api/scales/bench/wire")).json()
    assert wire["reports"][-1]["shown"] == "0.0"
    assert (await kitchen.get("/api/scales/none/wire")).json()["code"] == "unknown-scale"


async def test_formulas_and_the_files_that_are_none(kitchen: Kitchen) -> None:
    kitchen.shelf.bad = [
        FormulaError(
            "bad-field",
            "The target is missing.",
            where="tart.toml, line 6, additions[1].target",
            remedy="Give one.",
        ),
        FormulaError("not-text", "The file is not text.", where="blob.toml, line 1"),
        FormulaError("empty-formula", "The file is empty.", where="empty.toml"),
    ]
    body = (await kitchen.get("/api/formulas")).json()
    assert body["problems"] == [
        {
            "file": "tart.toml",
            "line": 6,
            "field": "additions[1].target",
            "message": "The target is missing. Give one.",
        },
        {"file": "blob.toml", "line": 1, "field": "", "message": "The file is not text."},
        {"file": "empty.toml", "line": None, "field": "", "message": "The file is empty."},
    ]
    one = body["formulas"][0]
    assert (one["id"], one["name"], one["batch_g"]) == ("test-ice", "Test ice", "622")
    assert one["allergens"] == ["milk"]
    assert one["revision"] == formula().revision
    assert one["additions"][0] == {
        "n": 1,
        "ingredient": "milk",
        "name": "Milk",
        "target_g": "500",
        "low_g": "495",
        "high_g": "505",
        "tolerance": "1 %",
        "allergens": ["milk"],
        "caution": "",
    }


async def test_a_formula_scaled_to_a_batch(kitchen: Kitchen) -> None:
    body = (await kitchen.get("/api/formulas/test-ice?batch_g=1244&scale=bench")).json()
    assert body["batch_g"] == "1244"
    assert [one["target_g"] for one in body["additions"]] == ["1000.00", "240.00", "4.00"]
    assert (body["scale"], body["scale_known"]) == ("bench", True)
    assert [one["judgeable"] for one in body["additions"]] == [True, True, True]
    assert body["warnings"] == []


async def test_a_formula_that_the_scale_is_too_coarse_for() -> None:
    async with Kitchen(interval_g="1") as kitchen:
        body = (await kitchen.get("/api/formulas/test-ice")).json()
        # 2 u of a net are 0.82 g at d = 1 g (rounding of two readings, GUM F.2.2.1), kept from
        # both limits: of 3 g (sugar) 1.4 g are left, a step; of 0.6 g (salt) nothing.
        assert [one["judgeable"] for one in body["additions"]] == [True, True, False]
        # ... so 0.3 g can be judged at no amount, and 2 u and half a step are 1.32 g.
        salt = body["additions"][2]
        assert (salt["least_g"], salt["finest_g"]) == (None, "1.32")
        [warning] = body["warnings"]
        assert (warning["addition"], warning["code"]) == (3, "too-fine")
        assert warning["text"] == (
            "Salt, 2 g within 0.3 g: the scale bench cannot judge such a tolerance at any amount. "
            "Use a finer scale or a tolerance of 1.32 g or wider."
        )
        [of_all] = (await kitchen.get("/api/formulas")).json()["formulas"]
        [bench] = of_all["scales"]
        assert (bench["scale"], bench["interval_g"]) == ("bench", "1")
        assert bench["warnings"] == body["warnings"]
        assert [one["judgeable"] for one in bench["additions"]] == [True, True, False]


async def test_a_batch_too_heavy_for_the_scale_is_a_warning_and_cannot_be_started(
    kitchen: Kitchen,
) -> None:
    answer = await kitchen.get("/api/formulas/test-ice?batch_g=12440")
    assert answer.status_code == 200
    assert [one["code"] for one in answer.json()["warnings"]] == ["over-capacity"]
    refused = await kitchen.start(batch_g="12440")
    assert (refused.status_code, refused.json()["code"]) == (409, "over-capacity")


async def test_the_plan_of_a_formula_and_a_batch_started_by_it() -> None:
    usual = HttpSettings(vessels={"bowl_g": "812", "dish_g": "", "dish_holds_g": ""})
    async with Kitchen(settings=usual, interval_g="1") as kitchen:
        plan = (await kitchen.get("/api/formulas/test-ice/plan?dish_holds_g=200")).json()
        assert plan["vessels"] == {"bowl_g": "812", "dish_g": "0", "dish_holds_g": "200"}
        assert (plan["moves"], plan["plain"], plan["unfit"]) == (1, True, 1)
        assert [one["do"] for one in plan["acts"]] == ["set down", "weigh", "weigh", "weigh"]
        [short] = plan["shortfalls"]
        assert (short["addition"], short["interval_g"]) == (3, "0.2")
        large = (await kitchen.get("/api/formulas/test-ice/plan?batch_g=12440")).json()
        assert [one["role"] for one in large["weighings"]].count("part") >= 2
        # Without the plan such a batch is refused; by it, it is weighed in parts.
        started = await kitchen.start(batch_g="12440", plan=True)
        assert started.status_code == 201
        state = (await kitchen.get("/api/state")).json()["state"]
        assert state["batch"]["additions"][0]["step"]["role"] == "part"
        assert state["batch"]["acts"][0]["do"] == "set down"


@pytest.mark.parametrize("where", ["bowl_g", "dish_g", "dish_holds_g"])
async def test_a_vessel_that_is_no_mass_is_refused(kitchen: Kitchen, where: str) -> None:
    asked = await kitchen.get(f"/api/formulas/test-ice/plan?{where}=heavy")
    started = await kitchen.start(plan=True, **{where: "1e9"})
    for refused in (asked, started):
        assert (refused.status_code, refused.json()["code"]) == (422, "bad-vessel")
        assert refused.json()["where"] == where


async def test_a_plan_before_any_scale_was_heard() -> None:
    async with Kitchen(interval_g=None) as kitchen:
        kitchen.station.scales["bench"].interval_g = None
        refused = await kitchen.get("/api/formulas/test-ice/plan")
        assert (refused.status_code, refused.json()["code"]) == (409, "no-scale")


async def test_a_formula_while_the_scale_has_not_spoken() -> None:
    async with Kitchen(interval_g=None) as kitchen:
        kitchen.station.scales["bench"].interval_g = None
        body = (await kitchen.get("/api/formulas/test-ice")).json()
        assert (body["scale_known"], body["scale"]) == (False, None)
        assert [one["code"] for one in body["warnings"]] == ["interval-unknown"]
        assert "bench" in body["warnings"][0]["text"]
        assert all(one["judgeable"] is None for one in body["additions"])
        [of_all] = (await kitchen.get("/api/formulas")).json()["formulas"]
        [bench] = of_all["scales"]
        assert (bench["scale"], bench["interval_g"], bench["additions"]) == ("bench", None, [])
        assert bench["warnings"] == body["warnings"]


async def test_a_batch_from_the_first_command_to_its_record(kitchen: Kitchen) -> None:
    started = await kitchen.start()
    assert started.status_code == 201
    assert started.json()["batch"] == "kitchen-0001"
    assert started.json()["seq"] == kitchen.picture.seq
    await kitchen.show("250")
    if "tare" in kitchen.station.can():
        await kitchen.do("tare", addition=1)
    named = await kitchen.do("name lot", addition=1, lot="L-17", by="Bo")
    assert (named.status_code, named.json()["seq"]) == (200, kitchen.picture.seq)
    await kitchen.pour("250", "750")
    accepted = await kitchen.do("accept", addition=1)
    assert accepted.status_code == 200
    entries = list(kitchen.journal.entries())
    assert accepted.json()["entry"] == entries[-1].seq

    shown = (await kitchen.get("/api/batches/kitchen-0001")).json()["batch"]
    assert shown == (await kitchen.get("/api/state")).json()["state"]["batch"]
    assert (shown["additions"][0]["net_g"], shown["additions"][0]["lot"]) == ("500", "L-17")

    record = await kitchen.get("/api/batches/kitchen-0001/record")
    assert "content-disposition" not in record.headers
    body = record.json()
    assert (body["weighd_record"], body["station"], body["batch"]) == (1, "kitchen", "kitchen-0001")
    assert read_export(body) == entries
    saved = await kitchen.get("/api/batches/kitchen-0001/record?download=1")
    assert saved.headers["content-disposition"] == 'attachment; filename="kitchen-0001.json"'

    listed = (await kitchen.get("/api/batches")).json()["batches"]
    assert listed == [
        {
            "id": "kitchen-0001",
            "formula": "test-ice",
            "name": "Test ice",
            "batch_g": "622",
            "operator": "Ada",
            "opened": entries[0].at,
            "closed": None,
            "status": "open",
            "additions": 3,
            "accepted": 1,
        }
    ]


async def test_the_list_of_batches_goes_on_from_one(kitchen: Kitchen) -> None:
    for n in range(1, 4):
        await kitchen.start()
        await kitchen.do("abandon", batch=f"kitchen-{n:04}", reason="made up")
    listed = (await kitchen.get("/api/batches?limit=2")).json()["batches"]
    assert [one["id"] for one in listed] == ["kitchen-0003", "kitchen-0002"]
    rest = (await kitchen.get("/api/batches?before=kitchen-0002")).json()["batches"]
    assert [one["id"] for one in rest] == ["kitchen-0001"]
    for bad in ("limit=0", "limit=1000", "limit=x"):
        assert (await kitchen.get(f"/api/batches?{bad}")).status_code == 422
    assert (await kitchen.get("/api/batches?before=../x")).status_code == 404


@pytest.mark.parametrize("name", ["kitchen-0009", "..%2f..", "%00", "x" * 300, "a'b", "ü"])
async def test_a_batch_that_is_not_there(kitchen: Kitchen, name: str) -> None:
    for path in (f"/api/batches/{name}", f"/api/batches/{name}/record"):
        answer = await kitchen.get(path)
        assert answer.status_code == 404
        assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize(
    "damage",
    [
        {"additions": "none"},
        {"formula": "a word"},
        {"formula": {"id": "x"}},
        {"rule": {"name": "guarded", "k": "NaN"}},
        {"batch_g": "heavy"},
        {"scales": {"bench": {}}},
        {"scales": 7},
    ],
)
async def test_a_record_that_was_tampered_with_is_told_and_hurts_nobody(
    kitchen: Kitchen, damage: dict[str, object]
) -> None:
    await kitchen.start()
    first = next(iter(kitchen.journal.entries()))
    body = {**first.body, **damage}
    kitchen.journal.instead = [
        Entry(first.seq, first.station, first.kind, first.at, body, first.prev, first.hash)
    ]
    answer = await kitchen.get("/api/batches/kitchen-0001")
    assert (answer.status_code, answer.json()["code"]) == (500, "unreadable-entry")
    assert answer.headers["content-type"] == "application/problem+json"
    record = await kitchen.get("/api/batches/kitchen-0001/record")
    assert record.json()["entries"][0]["body"] == json.loads(json.dumps(body))
    assert (await kitchen.get("/api/health")).json()["status"] == "ok"


async def test_notices_are_taken_down(kitchen: Kitchen) -> None:
    kitchen.journal.fail = JournalError("store-full", "The disk is full.")
    await kitchen.start()
    notices = (await kitchen.get("/api/state")).json()["state"]["station"]["notices"]
    assert [one["code"] for one in notices] == ["store-full"]
    answer = await kitchen.post(f"/api/notices/{notices[0]['id']}/dismiss")
    assert (answer.status_code, answer.json()) == (200, {"seq": kitchen.picture.seq})
    assert (await kitchen.get("/api/state")).json()["state"]["station"]["notices"] == []
    refused = await kitchen.post("/api/notices/all/dismiss")
    assert (refused.status_code, refused.json()["code"]) == (404, "unknown-notice")


async def test_the_operators_that_are_offered(kitchen: Kitchen) -> None:
    assert (await kitchen.get("/api/operators")).json() == {"operators": ["Ada", "Bo"]}


async def test_a_real_station_has_no_simulation(kitchen: Kitchen) -> None:
    for answer in (
        await kitchen.get("/api/simulation"),
        await kitchen.post("/api/simulation", {"do": "lift"}),
    ):
        assert (answer.status_code, answer.json()["code"]) == (404, "no-simulation")


async def test_the_simulation_is_told_what_to_do(
    simulated: tuple[Kitchen, NotedSimulation],
) -> None:
    kitchen, simulation = simulated
    shown = await kitchen.get("/api/simulation")
    assert shown.json() == dict(simulation.picture())
    for asked, told in (
        ({"do": "pour", "g_per_s": "40"}, {"do": "pour", "g_per_s": "40"}),
        ({"do": "pour", "g_per_s": 2.5}, {"do": "pour", "g_per_s": "2.5"}),
        ({"do": "vessel", "mass_g": "312,4"}, {"do": "vessel", "mass_g": "312.4"}),
        ({"do": "take", "g": 5}, {"do": "take", "g": "5"}),
        ({"do": "cook", "working": False}, {"do": "cook", "working": False}),
    ):
        answer = await kitchen.post("/api/simulation", asked)
        assert (answer.status_code, answer.json()) == (200, shown.json())
        assert simulation.asked[-1] == told
    before = list(simulation.asked)
    for nonsense, status in (
        ({"do": "juggle"}, 422),
        ({"do": "take", "g": "-5"}, 422),
        ({"do": "pour", "g_per_s": "NaN"}, 422),
        ({"do": "pour", "g_per_s": True}, 422),
        ({"do": "pour", "speed_of_light": 1}, 422),
        ({}, 422),
    ):
        assert (await kitchen.post("/api/simulation", nonsense)).status_code == status
    assert simulation.asked == before


async def test_the_documentation_is_a_page_of_our_own(kitchen: Kitchen) -> None:
    page = await kitchen.get("/api/docs")
    assert page.headers["content-type"].startswith("text/html")
    described = (await kitchen.get("/api/openapi.json")).json()
    assert "/api/batches/{batch}/commands" in described["paths"]
    for path in described["paths"]:
        assert path in page.text
    for elsewhere in ("http://", "https://", "<script", "style=", "onclick"):
        assert elsewhere not in page.text
    assert (await kitchen.get("/api/docs.css")).headers["content-type"].startswith("text/css")


async def test_names_that_look_like_markup_stay_text(kitchen: Kitchen) -> None:
    nasty = "<script>alert(1)</script>"
    text = f'name = "{nasty}"\n[ingredients]\na = {{ name = "{nasty}" }}\n'
    text += '[[additions]]\ningredient = "a"\ntarget = "100 g"\ntolerance = "2 g"\n'
    kitchen.shelf.formulas["nasty"] = read_formula(text, "nasty.toml")
    started = await kitchen.start(formula="nasty", operator=nasty)
    assert started.status_code == 201
    for path in ("/api/state", "/api/formulas", "/api/batches", "/api/batches/kitchen-0001/record"):
        answer = await kitchen.get(path)
        assert answer.headers["content-type"] == "application/json"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert nasty in answer.text
        json.loads(answer.text)
